"""What a run needs of compiled code near its end, compiled by a second process meanwhile.

On a fresh installation a run would compile the averaged level, search, and only then compile the
closer level, on one core. The second process begins at once, with properties of fluids, which the
first needs as soon as it has read its study, and the averaged march, which the first needs later
than what comes before the gaps. Then it goes on to the closer level. What one of them compiles, the
other waits for (`machine_code`). All that comes of it lies in the folder of compiled code: if the
second process fails, the first compiles what is missing.
"""

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from engine.errors import RunFolderError, StorageError
from engine.files import locked
from engine.physics.compiled import n_threads
from engine.physics.machine_code import code_folder

if TYPE_CHECKING:
    from engine.physics.fluids.liquid import Liquid

MARK = "whole"
"""File in the folder of compiled code that says that all was compiled."""
ROOT = str(Path(__file__).parents[2])
"""Folder of the packages."""
COMMAND = (
    f"import sys; sys.path.insert(0, {ROOT!r});"
    " from engine.run.ahead import compile_closer; compile_closer()"
)


@contextmanager
def compiled_ahead(tell: Callable[[], None]) -> Iterator[Callable[[], object]]:
    """Compile the closer level in a process of its own; give what waits until it is ready.

    Nothing is started where all is compiled, where no code can be kept, or where this process was
    told to use one thread. Otherwise `tell` is called. The process ends with the block.
    """
    place = code_folder()
    if place is None or n_threads() == 1 or (place / MARK).exists():
        yield lambda: None
        return
    tell()
    quiet = subprocess.DEVNULL
    other = subprocess.Popen(  # noqa: S603  our own words
        [sys.executable, "-P", "-c", COMMAND],
        stdin=quiet,
        stdout=quiet,
        stderr=quiet,
        start_new_session=True,  # Ctrl-C is for the run; it ends this process too
    )

    try:
        yield other.wait
    finally:
        other.kill()
        other.wait()


def compile_closer() -> None:
    """Compile properties, both marches and the closer match, unless another process does.

    The match comes last: by then the first process has compiled its arrivals and departures.
    """
    # Loaded here, as only the second process needs all of it.
    from engine.physics.flow.match import make_resolved_ready  # noqa: PLC0415
    from engine.physics.gap import averaged, resolved  # noqa: PLC0415

    place = code_folder()
    if place is None:
        return
    with suppress(RunFolderError, StorageError), locked(place):
        none = np.zeros(0)
        _any_fluid().density(pressure=none, enthalpy=none)
        _march_nothing(averaged.march)
        _march_nothing(resolved.march)
        make_resolved_ready(fluid=_any_fluid())
        (place / MARK).touch()


def _any_fluid() -> "Liquid":
    """Give a fluid that needs no table: code is the same for all."""
    from engine.physics.fluids.liquid import Liquid  # noqa: PLC0415

    return Liquid("any", 1e3, 4e3, 300.0, (0.0,), 0.0)


def _march_nothing(march: Callable[..., object]) -> None:
    """Compile or load a march, by one of no lanes."""
    none = np.zeros(0)
    march(
        fluid=_any_fluid(),
        rim_pressure=none,
        rim_enthalpy=none,
        rim_swirl=none,
        mass_flow=none,
        gap=none,
        rim_radius=none,
        bore_radius=none,
        angular_speed=none,
    )
