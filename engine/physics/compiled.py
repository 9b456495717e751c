"""Functions compiled to machine code; the only home of Numba.

The code is kept on disk in a folder named after the content of every module that has a share in
it: Numba itself looks at no more than the file of a function, not at those that it calls.
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
    """Load Numba's array functions, which ask for SciPy's linear algebra by loading it.

    No kernel multiplies matrices, and the answer would take a short command a tenth of its time.
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

_IMPORTED = re.compile(
    r"^\s*from engine\.physics\.([\w.]+) import (\([^)]*\)|[^\n(]+)", re.MULTILINE
)
FEWEST = 64
"""Lanes worth a thread."""
SETTINGS: dict[str, Any] = {"error_model": "numpy", "nogil": True}
"""Division by zero gives infinity. No rule of arithmetic is loosened, not even that a product is
rounded before it is added: what gets compiled into what depends on what was on disk already, and
numbers are not to depend on that.
"""


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function of numbers and arrays, when first called, and keep the code."""
    ready: Callable[P, R] = _kept(numba.njit, **SETTINGS)(function)
    return ready


def inlined(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function into those that call it: what is done to each lane of a pack."""
    ready: Callable[P, R] = _kept(numba.njit, forceinline=True, **SETTINGS)(function)
    return ready


def on_every_core(work: Callable[[int, int], None], *, n_lanes: int, fewest: int = FEWEST) -> None:
    """Do compiled work on lanes from one number up to another, some on each core.

    Threads last no longer than the call, so that a process may be forked at any time; a lane's
    answer does not depend on how lanes are shared out, no fewer than `fewest` together.
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
    ours = getattr(os, "sched_getaffinity", None)
    return len(ours(0)) if ours else os.cpu_count() or 1


def _kept(compiler: Any, **settings: Any) -> Any:
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
    """Texts, by dotted name, of the modules with compiled functions and of all they import here."""
    texts = {
        ".".join(module.relative_to(here).with_suffix("").parts): module.read_text("utf-8")
        for module in sorted(here.rglob("*.py"))
    }
    found = {name for name, text in texts.items() if "engine.physics.compiled import" in text}
    while more := {n for name in found for n in _imports(texts[name])} & {*texts} - found:
        found |= more
    return {name: texts[name] for name in sorted({*found, "compiled"})}


def _imports(text: str) -> set[str]:
    """Dotted names that a module imports below this folder: modules, and names in them."""
    found = set()
    for module, names in _IMPORTED.findall(text):
        found |= {module, *(f"{module}.{name}" for name in re.findall(r"\w+", names))}
    return found


@cache
def _folder() -> Path | None:
    """Where code is kept: beside the modules, or where this system keeps what may go."""
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
            continue  # not ours to write
    return None


def _in_frame(shape: tuple[Any, ...]) -> tuple[Any, Any]:
    """Type of an array in the frame of the calling function, and what makes it."""
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
    """Numbers in a row."""
    return _in_frame((length,))


@intrinsic(prefer_literal=True)  # type: ignore[untyped-decorator]
def _table(_typing: Any, rows: Any, columns: Any) -> Any:
    """Numbers in rows and columns."""
    return _in_frame((rows, columns))


@intrinsic  # type: ignore[untyped-decorator]
def _root(_typing: Any, _number: Any) -> Any:
    """Square root as one instruction; Numba's own is a call, which keeps lanes apart."""

    def generate(_context: Any, builder: Any, _signature: Any, given: Any) -> Any:
        kind = given[0].type
        name = builder.module.declare_intrinsic("llvm.sqrt", [kind])
        return builder.call(name, given)

    return types.float64(types.float64), generate


root: Callable[[float], float] = _root
"""Square root, NaN below 0."""
line: Callable[[int], Any] = _line
"""Room for so many numbers, unset, in the frame of the calling function, which they must not
outlive; the length is a constant."""
table: Callable[[int, int], Any] = _table
"""The same in rows and columns."""


PACK = 8


@compiled
def take(given: Lanes, start: int, last: int, pack: Lanes) -> None:
    """Fill a pack with the lanes from `start` on; where `last` ends them it repeats the last."""
    for row in range(pack.shape[0]):
        for i in range(PACK):
            pack[row, i] = given[row, min(start + i, last - 1)]


@compiled
def put(pack: Lanes, start: int, last: int, found: Lanes) -> None:
    """Write a pack to the lanes from `start` on, as many as there are before `last`."""
    for row in range(pack.shape[0]):
        for i in range(min(PACK, last - start)):
            found[row, start + i] = pack[row, i]
