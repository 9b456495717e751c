"""Compiling functions to machine code, and packs of lanes; the only home of Numba.

Most kernels work on a pack: `PACK` lanes side by side in the rows of a small array, so that the
compiler can use vector instructions. `take` fills a pack from arrays of lanes, `put` writes it
back, and `on_every_core` shares the lanes out over threads.

Machine code is kept on disk, in a folder named by a digest of every module that contributes to it.
Numba alone compares only the file of a function, not the files of the functions that it calls: it
would run old code after a change there.
"""

import hashlib
import math
import os
import re
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, ParamSpec, TypeVar

import numba
from numba import types
from numba.core import cgutils, config
from numba.extending import intrinsic
from numba.np import arrayobj

from engine.physics.arrays import Lanes

P = ParamSpec("P")
R = TypeVar("R")


def _load_array_maths() -> None:
    """Load Numba's array functions without SciPy's linear algebra, which they try to import.

    No kernel multiplies matrices, and the import would take a tenth of the time of a short command.
    """
    from numba.np import linalg  # noqa: PLC0415

    def absent() -> None:
        raise ImportError

    asked, linalg.ensure_blas = linalg.ensure_blas, absent
    try:
        import numba.np.arraymath  # noqa: F401, PLC0415
    finally:
        linalg.ensure_blas = asked


_load_array_maths()

PACK = 8
"""Lanes in a pack."""
FEWEST = 64
"""Lanes worth a thread."""
SETTINGS: dict[str, Any] = {"error_model": "numpy", "nogil": True}
"""Division by zero gives infinity. Arithmetic is strict: even a product is rounded before it is
added. Otherwise results would depend on which function is compiled into which, and that depends on
what was on disk already.
"""
_IMPORTED = re.compile(
    r"^\s*from engine\.physics\.([\w.]+) import (\([^)]*\)|[^\n(]+)", re.MULTILINE
)


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function of numbers and arrays when it is first called, and keep the code."""
    ready: Callable[P, R] = _kept(numba.njit, **SETTINGS)(function)
    return ready


def inlined(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function into its callers: for what is done to each lane of a pack."""
    ready: Callable[P, R] = _kept(numba.njit, forceinline=True, **SETTINGS)(function)
    return ready


def on_every_core(work: Callable[[int, int], None], *, n_lanes: int, fewest: int = FEWEST) -> None:
    """Call `work(first, last)` for all lanes, in blocks shared out over threads.

    A block has at least `fewest` lanes. The result of a lane does not depend on the blocks. Threads
    end with the call, so a process may be forked at any time. The environment variable
    `SWIRLSTACK_THREADS` sets the number of threads.
    """
    n_threads = int(os.environ.get("SWIRLSTACK_THREADS") or _cores())
    size = max(fewest, -(-n_lanes // (4 * n_threads)))
    starts = range(0, n_lanes, size)
    if n_threads == 1 or len(starts) < 2:
        work(0, n_lanes)
        return
    with ThreadPoolExecutor(n_threads) as threads:
        for done in [threads.submit(work, a, min(a + size, n_lanes)) for a in starts]:
            done.result()


def _cores() -> int:
    """Cores that this process may use."""
    ours = getattr(os, "sched_getaffinity", None)
    return len(ours(0)) if ours else os.cpu_count() or 1


def _kept(compiler: Any, **settings: Any) -> Any:
    """Make a decorator that compiles and keeps the code in `_folder`, if there is one."""
    place, given = _folder(), config.CACHE_DIR
    if place is None:
        return compiler(**settings)

    def decorate(function: Any) -> Any:
        config.CACHE_DIR = str(place)
        try:
            return compiler(cache=True, **settings)(function)
        finally:
            config.CACHE_DIR = given

    return decorate


def _sources(here: Path) -> dict[str, str]:
    """Texts by dotted name: modules with compiled functions, and all they import from physics."""
    texts = {
        ".".join(module.relative_to(here).with_suffix("").parts): module.read_text("utf-8")
        for module in sorted(here.rglob("*.py"))
    }
    found = {name for name, text in texts.items() if "engine.physics.compiled import" in text}
    while more := {n for name in found for n in _imports(texts[name])} & {*texts} - found:
        found |= more
    return {name: texts[name] for name in sorted({*found, "compiled"})}


def _imports(text: str) -> set[str]:
    """Dotted names that a module imports from physics: modules, and names in them."""
    found = set()
    for module, names in _IMPORTED.findall(text):
        found |= {module, *(f"{module}.{name}" for name in re.findall(r"\w+", names))}
    return found


@cache
def _folder() -> Path | None:
    """Folder of the machine code: beside the modules, or else in the cache folder of the user."""
    here = Path(__file__).parent
    digest = hashlib.sha256(f"{numba.__version__} {sys.version}".encode())
    for module, text in _sources(here).items():
        digest.update(f"{module}\n{text}".encode())
    name = f"compiled-{digest.hexdigest()[:16]}"
    home = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")  # noqa: PTH111
    beside = (str(here / "__pycache__"), str(Path(home) / "swirlstack"))
    for folder in (config.CACHE_DIR,) if config.CACHE_DIR else beside:
        place = Path(folder) / name
        try:
            place.mkdir(parents=True, exist_ok=True)
            with TemporaryFile(dir=place):
                return place
        except OSError:
            continue  # we may not write here
    return None


def _in_frame(shape: tuple[Any, ...]) -> tuple[Any, Any]:
    """Type and generator of an array in the stack frame of the calling function."""
    kind = types.Array(types.float64, len(shape), "C")
    lengths = [length.literal_value for length in shape]

    def generate(context: Any, builder: Any, _signature: Any, _given: Any) -> Any:
        number, size = context.get_value_type(types.float64), context.get_constant(types.intp, 8)
        data = cgutils.alloca_once(builder, number, size=math.prod(lengths))
        strides = [8 * math.prod(lengths[k + 1 :]) for k in range(len(lengths))]
        made = arrayobj.make_array(kind)(context, builder)
        arrayobj.populate_array(
            made,
            data=data,
            shape=[context.get_constant(types.intp, length) for length in lengths],
            strides=[context.get_constant(types.intp, stride) for stride in strides],
            itemsize=size,
            meminfo=None,
        )
        return made._getvalue()

    return kind(*shape), generate


@intrinsic(prefer_literal=True)  # type: ignore[untyped-decorator]
def _line(_typing: Any, length: Any) -> Any:
    """One-dimensional array."""
    return _in_frame((length,))


@intrinsic(prefer_literal=True)  # type: ignore[untyped-decorator]
def _table(_typing: Any, rows: Any, columns: Any) -> Any:
    """Two-dimensional array."""
    return _in_frame((rows, columns))


@intrinsic  # type: ignore[untyped-decorator]
def _root(_typing: Any, _number: Any) -> Any:
    """Square root as one instruction; Numba's own is a call, which prevents vector instructions."""

    def generate(_context: Any, builder: Any, _signature: Any, given: Any) -> Any:
        kind = given[0].type
        name = builder.module.declare_intrinsic("llvm.sqrt", [kind])
        return builder.call(name, given)

    return types.float64(types.float64), generate


root: Callable[[float], float] = _root
"""Square root, NaN below 0."""
line: Callable[[int], Any] = _line
"""Array of a given, constant length in the stack frame of the calling function. Its values are not
set. It must not be returned."""
table: Callable[[int, int], Any] = _table
"""The same with rows and columns."""


@compiled
def take(given: Lanes, start: int, last: int, pack: Lanes) -> None:
    """Fill a pack with the lanes from `start` to before `last`; the last lane fills the rest."""
    for row in range(pack.shape[0]):
        for i in range(PACK):
            pack[row, i] = given[row, min(start + i, last - 1)]


@compiled
def put(pack: Lanes, start: int, last: int, found: Lanes) -> None:
    """Write a pack to the lanes from `start` to before `last`."""
    for row in range(pack.shape[0]):
        for i in range(min(PACK, last - start)):
            found[row, start + i] = pack[row, i]
