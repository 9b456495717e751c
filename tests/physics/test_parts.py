"""Shortcuts of compiling parts: each applies in this version of Numba, and changes no result."""

import gc
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, NamedTuple, cast

import numpy as np
import pytest
from numba import types
from numba.core import event
from numba.core.compiler import DefaultPassBuilder
from numba.core.runtime import _nrt_python, rtsys
from numba.np import arrayobj
from numpy.testing import assert_array_equal

from engine.physics import compiled, machine_code, parts
from engine.physics.arrays import Lanes
from engine.physics.compiled import line


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Compile anew."""
    monkeypatch.setattr(machine_code, "code_folder", lambda: None)


def test_every_stage_that_is_left_out_is_one_of_numba() -> None:
    # Otherwise another version of Numba names it otherwise, and runs it for nothing.
    flags = SimpleNamespace(
        auto_parallel=SimpleNamespace(enabled=False), no_rewrites=False, enable_ssa=True
    )
    state = SimpleNamespace(func_ir=None, flags=flags)
    whole = DefaultPassBuilder.define_nopython_pipeline(state)
    assert {stage.name() for stage, _ in whole.passes} >= parts.NEEDLESS


def test_types_of_a_call_are_looked_up(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []
    find = types.Function.get_call_type

    def counted(self: Any, context: Any, args: Any, kws: Any) -> Any:
        asked.append((self.typing_key, args))
        return find(self, context, args, kws)

    monkeypatch.setattr(types.Function, "get_call_type", counted)
    monkeypatch.setattr(parts, "LOOKED_UP", {})

    @compiled.compiled
    def product(a: float, b: float) -> float:
        return a * b * a * b

    @compiled.entry
    def twice(a: float, b: float) -> float:
        return product(a, b) * a

    assert twice(2.0, 3.0) == 72.0
    assert types.Function.get_call_type is counted  # as before
    assert len(asked) == len(set(asked)) == 1


def test_calls_of_llvm_are_not_timed(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Any] = []
    monkeypatch.setattr(event, "start_event", lambda *_given, **_named: told.append("start"))
    monkeypatch.setattr(event, "end_event", lambda *_given, **_named: told.append("end"))
    ours, during = event.start_event, []
    finish = parts.Parts.finalize

    def seen(self: Any) -> None:
        before = len(told)
        finish(self)
        during.append(len(told) - before)

    monkeypatch.setattr(parts.Parts, "finalize", seen)

    @compiled.compiled
    def half(a: float) -> float:
        return a / 2

    @compiled.entry
    def quarter(a: float) -> float:
        return half(half(a))

    assert quarter(2.0) == 0.5
    assert during == [0]
    assert event.start_event is ours  # as before
    assert told


@compiled.compiled
def moved(flat: Lanes, table: Lanes, block: Lanes, k: int) -> float:
    flat[k], flat[-1], flat[0] = flat[k] + 1, flat[1], flat[2]
    table[k, 1] = table[1, k]
    table[k - 4, -1], table[0, 2] = table[0, k], True
    block[1, k, -2] = block[k - 2, 2, 1]
    for i in range(flat.size):
        flat[i - 2] += i * block[1, 0, i % 2]
    return float(flat[k] + table[1, 2] + block[0, 1, k])


def arrays_of(n: int) -> tuple[Any, Any, Any]:
    """Arrays of one to three axes, all numbers different."""
    return np.arange(float(n)), np.arange(float(n * n)).reshape(n, n), np.arange(24.0)


@pytest.mark.parametrize("dtype", [np.float64, np.int64, np.float32, np.uint8])
@pytest.mark.parametrize("order", ["C", "F", "other"])
def test_numbers_of_arrays_are_those_that_python_names(dtype: Any, order: str) -> None:
    @compiled.entry
    def called(flat: Lanes, table: Lanes, block: Lanes, k: int) -> float:
        return moved(flat, table, block, k)

    def fresh() -> list[Any]:
        flat, table, block = (each.astype(dtype) for each in arrays_of(6))
        found = flat, table, block.reshape(2, 3, 4)
        if order == "other":
            return [np.repeat(each, 2, axis=-1)[..., ::2] for each in found]
        return [np.asfortranarray(each) if order == "F" else each.copy() for each in found]

    ours, theirs, run = fresh(), fresh(), cast(Any, called)
    assert run(*ours, 2) == moved.py_func(*theirs, 2)  # type: ignore[attr-defined]
    for one, other in zip(ours, theirs, strict=True):
        assert_array_equal(one, other)


def test_one_number_of_an_array_is_read_and_written_without_making_a_view(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[Any] = []
    index = arrayobj.basic_indexing

    def counted(context: Any, builder: Any, kind: Any, *given: Any, **named: Any) -> Any:
        asked.append(kind)
        return index(context, builder, kind, *given, **named)

    monkeypatch.setattr(arrayobj, "basic_indexing", counted)

    @compiled.entry
    def first(rows: Lanes, k: int) -> float:
        rows[0, k] = rows[k, 1]
        return float(rows[0, k])

    @compiled.entry
    def row(rows: Lanes, k: int) -> float:
        return float(rows[k][1])

    table = arrays_of(3)[1]
    assert first(table, 2) == 7.0
    assert asked == []
    assert row(table, 2) == 7.0
    assert len(asked) == 1  # the row


class Pair(NamedTuple):
    """Two arrays."""

    ours: Lanes
    theirs: Lanes


@compiled.compiled
def made(n: int) -> Lanes:
    values = np.zeros(n)
    for k in range(n):
        values[k] = k
    return values


@compiled.compiled
def same(values: Lanes) -> Lanes:
    return values


@compiled.compiled
def total(pair: Pair) -> float:
    found = 0.0
    for k in range(pair.ours.size):
        found += pair.ours[k : k + 1][0] * pair.theirs[k]
    return found


@compiled.compiled
def borrowed(values: Lanes) -> float:
    room = line(4)
    room[0] = total(Pair(values, values[::-1].copy()[::-1]))
    return float(room[0])


@compiled.compiled
def framed(values: Lanes) -> float:
    room = line(4)
    room[0] = total(Pair(values, values))
    return float(room[0])


def test_arrays_are_freed_once() -> None:
    """Also where functions that count and functions that do not call each other."""

    @compiled.entry
    def all_of_it(values: Lanes) -> float:
        kept = same(made(values.size))
        pair = Pair(kept, same(same(values)))
        kept = made(3)
        return float(total(pair) + borrowed(pair.ours) + framed(pair.theirs) + kept[2])

    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    counted = _nrt_python.memsys_stats_enabled()
    _nrt_python.memsys_enable_stats()
    try:
        all_of_it(values)
        before = rtsys.get_allocation_stats()
        for _ in range(100):
            assert all_of_it(values) == 40 + 30 + 55 + 2
        after = rtsys.get_allocation_stats()
    finally:
        if not counted:
            _nrt_python.memsys_disable_stats()
    assert after.alloc - before.alloc == after.free - before.free > 0
    assert after.mi_alloc - before.mi_alloc == after.mi_free - before.mi_free > 0
    assert_array_equal(values, [1.0, 2.0, 3.0, 4.0, 5.0])


@pytest.mark.parametrize(("part", "counts"), [(framed, False), (borrowed, True), (same, True)])
def test_references_are_counted_where_an_array_is_owned(
    part: Callable[[Lanes], Any], counts: bool
) -> None:
    @compiled.entry
    def called(values: Lanes) -> None:
        part(values)

    called(np.ones(3))
    (result,) = part.overloads.values()  # type: ignore[attr-defined]
    assert ("NRT_" in str(result.library._final_module)) is counts


def test_a_part_may_hold_a_function() -> None:
    @compiled.compiled
    def squares(n: int) -> float:
        each = [float(k * k) for k in range(n)]
        return each[n - 1]

    @compiled.entry
    def last(n: int) -> float:
        return squares(n)

    assert last(4) == 9.0


def test_the_collector_runs_again_after_compiling() -> None:
    @compiled.entry
    def one() -> float:
        return 1.0

    assert gc.isenabled()
    assert one() == 1.0
    assert gc.isenabled()
