"""Compiling functions to machine code, and packs of lanes; Numba is used here and in `parts`.

Most kernels work on a pack: `PACK` lanes side by side in the rows of a small array, so that the
compiler can use vector instructions. `take` fills a pack from arrays of lanes, `put` writes it
back, and `on_every_core` shares the lanes out over threads.

Python calls an `entry`; an entry calls what is `shared`, `compiled` or `inlined`. Only an entry and
what is shared are optimised and made into machine code, once, each with all that it calls but what
is shared. Numba alone would do both for each function, and again for each of its callers, which
takes far longer. How the others are compiled stands in `parts`.

The machine code of entries and of shared functions is kept on disk (`machine_code`).
"""

import math
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, ParamSpec, TypeVar

import numba
from llvmlite import binding, ir
from numba import types
from numba.core import cgutils
from numba.core.errors import NumbaError
from numba.extending import intrinsic
from numba.np import arrayobj

from engine.errors import Problem, StudyError
from engine.physics.arrays import Lanes
from engine.physics.machine_code import keep_code
from engine.physics.parts import EntryCompiler, PartCompiler, SharedCompiler, no_function

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

binding.set_option("", "-force-vector-interleave=2")
"""Both halves of a pack go through a loop side by side: most steps wait for the one before, so one
half fills the other's waits. A march takes a third less. No result changes."""
PACK = 8
"""Lanes in a pack."""
QUAD = 4
"""Numbers that `less` takes at once: its rows are a multiple of it long."""
SPAN = 4 * QUAD
"""The same of `sum_rows`. Each sum waits for the one before it, so four quads take no longer than
one."""
MOST_THREADS = 1024
FEWEST = 64
"""Lanes worth a thread."""
TOGETHER = 2
"""Threads of `in_turns`."""
SETTINGS: dict[str, Any] = {"error_model": "numpy", "nogil": True}
"""Division by zero gives infinity. Arithmetic is strict: even a product is rounded before it is
added. Otherwise results would depend on which function is compiled into which, and that depends on
what was on disk already.
"""


def entry(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function of numbers and arrays when Python first calls it, and keep the code."""
    made = numba.njit(pipeline_class=EntryCompiler, no_cfunc_wrapper=True, **SETTINGS)(function)
    ready: Callable[P, R] = keep_code(made)
    return ready


def shared(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function of numbers and arrays once for all its callers, and keep the code.

    For what several entries need and takes long to compile, or may be compiled meanwhile by another
    process. A call costs some nanoseconds for each array, so it suits packs and marches.
    """
    ready: Callable[P, R] = keep_code(_called(function, SharedCompiler), python_calls=no_function())
    return ready


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function of numbers and arrays for entries, and others that they call."""
    ready: Callable[P, R] = _called(function, PartCompiler)
    return ready


def inlined(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function into its callers: for what is done to each lane of a pack."""
    ready: Callable[P, R] = _called(function, PartCompiler, forceinline=True)
    return ready


def _called(function: Any, stages: type, **settings: bool) -> Any:
    """Compile a function without what Python and C would need to call it."""
    without = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    return numba.njit(pipeline_class=stages, **without, **settings, **SETTINGS)(function)


def on_every_core(work: Callable[[int, int], None], *, n_lanes: int, fewest: int = FEWEST) -> None:
    """Call `work(first, last)` for all lanes, in blocks shared out over threads.

    A block has at least `fewest` lanes. The result of a lane does not depend on the blocks. Threads
    end with the call, so a process may be forked at any time. The environment variable
    `SWIRLSTACK_THREADS` sets the number of threads.
    """
    if _HERE.turn is None:
        _share_out(work, n_threads(), n_lanes, fewest)
    elif n_lanes < 2 * fewest:
        work(0, n_lanes)
    else:
        with turn_left():
            _share_out(work, -(-n_threads() // TOGETHER), n_lanes, fewest)


def _share_out(work: Callable[[int, int], None], count: int, n_lanes: int, fewest: int) -> None:
    size = max(fewest, -(-n_lanes // (4 * count)))
    starts = range(0, n_lanes, size)
    if count == 1 or len(starts) < 2:
        work(0, n_lanes)
        return
    with ThreadPoolExecutor(count) as threads:
        for done in [threads.submit(work, a, min(a + size, n_lanes)) for a in starts]:
            done.result()


class _Here(threading.local):
    """What each thread has for itself."""

    turn: Any = None
    """The lock that it holds while it takes its turn, in `in_turns`."""


_HERE = _Here()


def in_turns(calls: Sequence[Callable[[], R]]) -> list[R]:
    """Make independent calls in two threads; give what they give, in order.

    Only one of them works in Python at a time. Each leaves its turn to the other where compiled
    code goes through its lanes, on half of the cores. Without turns, two threads would wait for
    each other at every small step. The calls are made one after the other where there is but one
    thread or one call, and where this is already such a call.
    """
    if _HERE.turn is not None or len(calls) < 2 or n_threads() == 1:
        return [call() for call in calls]
    lock = threading.Lock()

    def make(call: Callable[[], R]) -> R:
        with lock:
            _HERE.turn = lock
            return call()

    threads = ThreadPoolExecutor(TOGETHER)  # they end here, so each is of one lock alone
    try:
        return [made.result() for made in [threads.submit(make, call) for call in calls]]
    finally:
        threads.shutdown(cancel_futures=True)


@contextmanager
def turn_left() -> Iterator[None]:
    """Let the other call of `in_turns` go on meanwhile; for long work that needs no Python."""
    lock = _HERE.turn
    if lock is None:
        yield
        return
    _HERE.turn = None
    lock.release()
    try:
        yield
    finally:
        lock.acquire()
        _HERE.turn = lock


def n_threads() -> int:
    """Give the number of threads; raises StudyError for one that is none."""
    given = os.environ.get("SWIRLSTACK_THREADS")
    if not given:
        return _cores()
    if given.isdecimal() and 1 <= int(given) <= MOST_THREADS:
        return int(given)
    found = f"{given[:20]!r} is not a number of threads"
    expected = f"a whole number from 1 to {MOST_THREADS}"
    remedy = "correct the variable, or unset it to use every core"
    place = "environment variable SWIRLSTACK_THREADS"
    raise StudyError([Problem(file=place, found=found, expected=expected, remedy=remedy)])


def _cores() -> int:
    """Cores that this process may use."""
    ours = getattr(os, "sched_getaffinity", None)
    return len(ours(0)) if ours else os.cpu_count() or 1


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


_line.in_frame = _table.in_frame = True
root: Callable[[float], float] = _root
"""Square root, NaN below 0."""
line: Callable[[int], Any] = _line
"""Array of a given, constant length in the stack frame of the calling function. Its values are not
set. It must not be returned."""
table: Callable[[int, int], Any] = _table
"""The same with rows and columns."""


def _begin(context: Any, builder: Any, kind: Any, value: Any, row: Any) -> Any:
    """Give the address of the first value of a row; of the array where it has one dimension."""
    if kind.layout != "C":
        message = f"rows of an array in order {kind.layout} do not lie together"
        raise NumbaError(message)
    array = arrayobj.make_array(kind)(context, builder, value)
    if kind.ndim == 1:
        return array.data
    length = cgutils.unpack_tuple(builder, array.strides, kind.ndim)[0]
    return cgutils.pointer_add(builder, array.data, builder.mul(row, length))


def _four(builder: Any, begin: Any, place: Any) -> Any:
    """Give the address of four values from a place on."""
    at = builder.gep(begin, [place])
    return builder.bitcast(at, ir.VectorType(ir.DoubleType(), QUAD).as_pointer())


def _fourfold(builder: Any, number: Any) -> Any:
    """Repeat a number four times."""
    kind, counts = ir.VectorType(ir.DoubleType(), QUAD), ir.VectorType(ir.IntType(32), QUAD)
    nothing = ir.Constant(kind, ir.Undefined)
    one = builder.insert_element(nothing, number, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(one, nothing, ir.Constant(counts, [0] * QUAD))


@intrinsic  # type: ignore[untyped-decorator]
def _less(
    _typing: Any,
    target: Any,
    _i: Any,
    _at: Any,
    source: Any,
    _k: Any,
    _share: Any,
    _a: Any,
    _b: Any,
) -> Any:
    """Take a share of a row from another."""

    def generate(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        kinds = signature.args
        ours = builder.gep(_begin(context, builder, kinds[0], given[0], given[1]), [given[2]])
        theirs = _begin(context, builder, kinds[3], given[3], given[4])
        _take_off(context, builder, ours, [(given[5], theirs)], given[6:])
        return context.get_dummy_value()

    number = types.intp
    given = (target, number, number, source, number, types.float64, number, number)
    return types.void(*given), generate


@intrinsic  # type: ignore[untyped-decorator]
def _less_rows(
    _typing: Any,
    target: Any,
    _i: Any,
    _at: Any,
    source: Any,
    rows: Any,
    shares: Any,
    _a: Any,
    _b: Any,
) -> Any:
    """Take a share of each of a few rows from another."""

    def generate(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        kinds = signature.args
        ours = builder.gep(_begin(context, builder, kinds[0], given[0], given[1]), [given[2]])
        numbers, parts = (cgutils.unpack_tuple(builder, each) for each in given[4:6])
        theirs = [_begin(context, builder, kinds[3], given[3], row) for row in numbers]
        _take_off(context, builder, ours, list(zip(parts, theirs, strict=True)), given[6:])
        return context.get_dummy_value()

    number = types.intp
    return types.void(target, number, number, source, rows, shares, number, number), generate


def _take_off(context: Any, builder: Any, ours: Any, parts: list[Any], between: Any) -> None:
    """Take shares of rows, in their order, from another row, from one place to before another."""
    factors = [(_fourfold(builder, share), theirs) for share, theirs in parts]
    step = context.get_constant(types.intp, QUAD)
    with cgutils.for_range_slice(builder, *between, step) as (place, _):
        here = _four(builder, ours, place)
        left = builder.load(here, align=8)
        for factor, theirs in factors:
            taken = builder.load(_four(builder, theirs, place), align=8)
            left = builder.fsub(left, builder.fmul(factor, taken))
        builder.store(left, here, align=8)


@intrinsic  # type: ignore[untyped-decorator]
def _sum_rows(
    _typing: Any,
    matrix: Any,
    values: Any,
    _j: Any,
    _first: Any,
    _n: Any,
    out: Any,
    _k: Any,
    _last: Any,
) -> Any:
    """Sum of rows, each times a value."""

    def generate(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        kinds = signature.args
        numbers = _begin(context, builder, kinds[1], given[1], given[2])
        target = _begin(context, builder, kinds[5], given[5], given[6])
        vector = ir.VectorType(ir.DoubleType(), QUAD)
        zero, step = (context.get_constant(types.intp, k) for k in (0, SPAN))
        with cgutils.for_range_slice(builder, zero, given[7], step) as (place, _):
            # No sum waits for another.
            at = [
                builder.add(place, context.get_constant(types.intp, k))
                for k in range(0, SPAN, QUAD)
            ]
            totals = [cgutils.alloca_once(builder, vector) for _ in at]
            for total in totals:
                builder.store(ir.Constant(vector, [0.0] * QUAD), total)
            with cgutils.for_range(builder, given[4]) as loop:
                row = _begin(context, builder, kinds[0], given[0], loop.index)
                number = builder.gep(numbers, [builder.add(given[3], loop.index)])
                factor = _fourfold(builder, builder.load(number))
                for total, there in zip(totals, at, strict=True):
                    these = builder.load(_four(builder, row, there), align=8)
                    more = builder.fmul(these, factor)
                    builder.store(builder.fadd(builder.load(total), more), total)
            for total, there in zip(totals, at, strict=True):
                builder.store(builder.load(total), _four(builder, target, there), align=8)
        return context.get_dummy_value()

    number = types.intp
    return types.void(matrix, values, number, number, number, out, number, number), generate


less: Callable[[Lanes, int, int, Lanes, int, float, int, int], None] = _less
"""`less(target, i, at, source, k, share, a, b)` takes `share` times row k of `source`, from place a
to before b, from row i of `target`, where it begins `at` places further on."""
less_rows: Callable[
    [Lanes, int, int, Lanes, tuple[int, ...], tuple[float, ...], int, int], None
] = _less_rows
"""`less_rows(target, i, at, source, rows, shares, a, b)` does the same for a few rows at once, in
their order: the target is read and written once."""
sum_rows: Callable[[Lanes, Lanes, int, int, int, Lanes, int, int], None] = _sum_rows
"""`sum_rows(matrix, values, j, first, n, out, k, last)` writes to row k of `out`, before `last`,
the sum of the first n rows of a matrix, each times its value in row j of `values`, from `first` on.
"""


@compiled
def whole_quads(n: int) -> int:
    """Give the least multiple of `QUAD` that is no less than n."""
    return (n + QUAD - 1) // QUAD * QUAD


@compiled
def whole_spans(n: int) -> int:
    """Give the least multiple of `SPAN` that is no less than n."""
    return (n + SPAN - 1) // SPAN * SPAN


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
