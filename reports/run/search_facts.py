"""Facts on the limits, ranges and infeasible designs of a run, as plain frozen data."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.limits import MATCHED, violations, with_standing
from engine.study.study import Study
from engine.study.values import Limit

Table: TypeAlias = Mapping[str, NDArray[Any]]
"""Columns by key, SI, all of one length."""
Values: TypeAlias = Mapping[str, float | str]
"""One row of a table."""
Side: TypeAlias = Literal["min", "max"]
FLAGS = ("survives_load_loss", "survives_trip")
"""Results that are yes or no."""
NEAR = 0.03
"""A design is at a limit where its result is within this share of it: discs come by the piece."""
AT_END = 0.01
"""A variable sits at an end of its range within this share of the range."""
CROWDED = 0.1
"""An end of a range is reported where this share of the front sits at it."""
CLOSEST = 5
"""Number of closest designs shown when nothing is feasible."""


@dataclass(frozen=True)
class Aim:
    """One aim of the study; the first two are the axes of the chart."""

    key: str
    maximise: bool
    required: float | None
    """The level that a candidate must reach (SI); None where there is none."""


@dataclass(frozen=True)
class LimitFact:
    """What one side of a limit did to the search."""

    key: str
    side: Side
    bound: float
    failed: int
    """Designs with an operating point that miss it."""
    binding: int
    """Front designs within `NEAR` of it."""
    span: tuple[float, float] | None
    """Lowest and highest first aim of those front designs."""
    reached: tuple[float, ...] = ()
    """First aim of each of them."""


@dataclass(frozen=True)
class RangeEnd:
    """Front designs that sit at an end of a variable's range."""

    key: str
    end: Literal["smallest", "largest"]
    value: float
    share: float
    """Of the front."""
    reached: tuple[float, ...] = ()
    """First aim of the designs that sit there."""


@dataclass(frozen=True)
class CloseDesign:
    """An infeasible design that comes close."""

    values: Values
    missed: tuple[tuple[str, Side, float], ...]
    """Key, side and bound of each limit that it misses."""


def row_of(table: Table, row: int) -> Values:
    """Take one row as plain numbers and words."""
    return {
        key: str(column[row]) if _is_text(key) else float(column[row])
        for key, column in table.items()
    }


def _is_text(key: str) -> bool:
    return key in COLUMNS and COLUMNS[key].is_text


def _sides(study: Study) -> list[tuple[str, Side, float]]:
    found: list[tuple[str, Side, float]] = []
    for key, limit in with_standing(study.all_limits, study.works_as).items():
        if limit.min is not None:
            found.append((key, "min", limit.min))
        if limit.max is not None:
            found.append((key, "max", limit.max))
    return found


def _past(designs: Table, key: str, side: Side, bound: float) -> NDArray[np.float64]:
    limit = Limit[float](min=bound) if side == "min" else Limit[float](max=bound)
    return violations(designs, {key: limit})[:, 0]


def limit_facts(
    study: Study, designs: Table, front: Table, first: Aim, missed: Mapping[str, int]
) -> tuple[LimitFact, ...]:
    """Count how many designs miss each limit and how many are at it, the most missed first.

    Where `designs` is only a sample, `missed` holds how many of all designs miss each limit.
    """
    matched = designs["status"] == MATCHED
    found = []
    sides = _sides(study)
    past = [int((matched & (_past(designs, *side) > 0)).sum()) for side in sides]
    seen: Counter[str] = Counter()
    for (key, _, _), n_past in zip(sides, past, strict=True):
        seen[key] += n_past
    for (key, side, bound), n_past in zip(sides, past, strict=True):
        near = np.abs(np.asarray(front[key], dtype=float) - bound) <= NEAR * abs(bound)
        near &= key not in FLAGS  # every design that survives is as near as any other
        reach = np.asarray(front[first.key], dtype=float)[near]
        found.append(
            LimitFact(
                key,
                side,
                bound,
                failed=round(n_past * missed.get(key, seen[key]) / max(seen[key], 1)),
                binding=reach.size,
                span=(float(reach.min()), float(reach.max())) if reach.size else None,
                reached=tuple(reach.tolist()),
            )
        )
    return tuple(sorted(found, key=lambda fact: (-fact.failed, -fact.binding)))


def spans_of(study: Study) -> dict[str, tuple[float, float]]:
    """Take the ends of the ranges of the variables that vary."""
    return {
        key: (float(values.lowest), float(values.highest))
        for key, values in study.searched().items()
        if not _is_text(key) and not values.is_fixed
    }


def range_ends(
    spans: Mapping[str, tuple[float, float]], front: Table, first: Aim
) -> tuple[RangeEnd, ...]:
    """Find the range ends at which much of the front sits."""
    found = []
    for key, (low, high) in spans.items():
        values = np.asarray(front[key], dtype=float)
        if not values.size:
            continue
        reach = AT_END * (high - low)
        ends: tuple[tuple[Literal["smallest", "largest"], float, NDArray[np.bool_]], ...] = (
            ("smallest", low, values <= low + reach),
            ("largest", high, values >= high - reach),
        )
        found += [
            RangeEnd(key, end, value, float(here.mean()), tuple(front[first.key][here].tolist()))
            for end, value, here in ends
        ]
    return tuple(sorted((f for f in found if f.share >= CROWDED), key=lambda f: -f.share))


def outside(front: Table) -> tuple[tuple[str, int], ...]:
    """Count the front designs outside the published range of each relation."""
    notes: Counter[str] = Counter()
    for text in np.asarray(front.get("validity", ())).astype(str).tolist():
        notes.update({part.strip() for part in text.split(";") if part.strip()})
    return tuple(notes.most_common())


def closest_designs(study: Study, designs: Table) -> tuple[CloseDesign, ...]:
    """Find the designs with an operating point that have the smallest sum of violations."""
    sides = _sides(study)
    each = np.stack([_past(designs, *side) for side in sides], axis=1)
    rows = np.flatnonzero(designs["status"] == MATCHED)
    nearest = rows[np.argsort(each[rows].sum(axis=1), kind="stable")[:CLOSEST]]
    return tuple(
        CloseDesign(
            row_of(designs, int(row)),
            tuple(side for side, past in zip(sides, each[row], strict=True) if past > 0),
        )
        for row in nearest
    )
