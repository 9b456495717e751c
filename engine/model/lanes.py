"""Lanes taken apart by their number of stages, and put together again in their order."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.physics.arrays import Lanes, Mask, is_repeated, taken

Rows = NDArray[np.int64]


def by_stages(build: Builds) -> list[tuple[int, Rows]]:
    """Numbers of stages that occur, each with its lanes.

    Examples
    --------
    >>> [(n, rows.tolist()) for n, rows in by_stages({"stage_count": np.array([2, 1, 2])})]
    [(1, [1]), (2, [0, 2])]
    """
    count = build["stage_count"]
    if count.size and is_repeated(count):
        return [(int(count[0]), np.arange(count.size))]
    found = [(int(n), np.flatnonzero(count == n)) for n in np.unique(count)]
    return found or [(1, np.zeros(0, dtype=np.int64))]


def rows_of(columns: Mapping[str, NDArray[Any]], rows: NDArray[Any]) -> Results:
    """Take some rows of every column, by their places or a mask."""
    return {key: taken(values, rows) for key, values in columns.items()}


def some_lanes(build: Builds, rows: Rows) -> Results:
    """Take some lanes; all as they are where there is nothing to leave out."""
    return dict(build) if len(rows) == len(build["speed"]) else rows_of(build, rows)


def added(parts: Sequence[Lanes]) -> Lanes:
    """Sum of parts, one after the other.

    Examples
    --------
    >>> added([np.array([1.0, 2.0]), np.array([3.0, 4.0])]).tolist()
    [4.0, 6.0]
    """
    whole = parts[0]
    for part in parts[1:]:
        whole = whole + part
    return whole


def together(parts: Sequence[tuple[Rows, Any]]) -> Any:
    """Join parts with their lanes: arrays, or what holds arrays by name or in order."""
    if len(parts) == 1:
        return parts[0][1]
    order = np.argsort(np.concatenate([rows for rows, _ in parts]), kind="stable")
    return _joined([part for _, part in parts], order)


def latest(parts: Sequence[tuple[Rows, Any]]) -> Any:
    """Join parts that have lanes in common: of each lane the last."""
    last = np.zeros(1 + max(rows.max(initial=0) for rows, _ in parts), dtype=np.int64)
    for number, (rows, _) in enumerate(parts):
        last[rows] = number
    kept = []
    for number, (rows, part) in enumerate(parts):
        places = np.flatnonzero(last[rows] == number)
        if places.size or number == len(parts) - 1:
            taken = _mapped(lambda arrays, at=places: arrays[0][at], [part])
            kept.append((rows[places], taken))
    return together(kept)


def either(first: Mask, one: Any, other: Any) -> Any:
    """Take each lane from one of two parts that hold the same lanes."""
    return _mapped(lambda arrays: np.where(first, *arrays), [one, other])


def _joined(parts: list[Any], order: Rows) -> Any:
    return _mapped(lambda arrays: np.concatenate(arrays)[order], parts)


def _mapped(change: Any, parts: list[Any]) -> Any:
    """Apply a change to the arrays of the same name in all parts."""
    first = parts[0]
    if is_dataclass(first) and not isinstance(first, type):
        names = [f.name for f in fields(first)]
        return replace(
            first, **{name: _mapped(change, [getattr(p, name) for p in parts]) for name in names}
        )
    if isinstance(first, tuple):
        return tuple(_mapped(change, list(each)) for each in zip(*parts, strict=True))
    if isinstance(first, dict):
        return {key: _mapped(change, [part[key] for part in parts]) for key in first}
    return change([np.asarray(part) for part in parts])
