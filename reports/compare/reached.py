"""What the front of each run reaches at a level of the second aim, and which run leads there."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import band_key
from engine.search.front import Merits, merits
from reports.run.search_facts import Aim, Table

EVEN = 0.01
"""Two runs are even where their best first aims differ by less than this share, or by less than
nine in ten such pairs would keep as they are made."""


@dataclass(frozen=True)
class Lead:
    """A span of levels over which the same run gives the best first aim."""

    low: float
    """Its least demanding level."""
    high: float
    leader: int | None
    """Place of the leading run; None where the best runs are even."""
    gain: float
    """Largest lead over the next run, in the first aim, SI."""
    ratio: float
    """That lead as a share of the next run's value; NaN where that value is 0."""
    alone: bool
    """Whether no other run reaches these levels."""


@dataclass(frozen=True)
class Pair:
    """First two merits of a front, and by how much the first may turn out worse and better."""

    merit: Merits
    worse: NDArray[np.float64]
    """To the end of the band that nine builds in ten reach; 0 where there is no band."""
    better: NDArray[np.float64]

    def at(self, row: int | None) -> tuple[float, float, float]:
        """First merit of a design, and how much worse and better it may be; NaN for none."""
        if row is None:
            return math.nan, 0.0, 0.0
        return float(self.merit[row, 0]), float(self.worse[row]), float(self.better[row])

    def best_at(self, level: float) -> int | None:
        """Row of the best first merit that reaches a level of the second; None where none does."""
        rows = np.flatnonzero(self.merit[:, 1] >= level)
        return int(rows[np.argmax(self.merit[rows, 0])]) if rows.size else None


def pair_of(front: Table, aims: tuple[Aim, Aim]) -> Pair:
    """Take the first two merits of a front with the band of the first."""
    first, second = aims
    ways = {aim.key: "maximise" if aim.maximise else "minimise" for aim in (first, second)}
    merit = merits_of(front, ways)
    ends = [band_key(first.key, part) for part in ("p10", "p90")]
    if not all(key in front for key in ends):
        return Pair(merit, np.zeros(len(merit)), np.zeros(len(merit)))
    low, high = (np.asarray(front[key], dtype=float) for key in ends)
    value = np.asarray(front[first.key], dtype=float)
    sides = [np.nan_to_num(np.maximum(off, 0.0)) for off in (value - low, high - value)]
    worse, better = sides if first.maximise else sides[::-1]
    return Pair(merit, worse, better)


def _is_even(one: tuple[float, float, float], other: tuple[float, float, float]) -> bool:
    """Whether the lead of one design over another is within the bands or within `EVEN`.

    The ends of both bands are taken as independent, so that their squares add up.
    """
    gain = one[0] - other[0]
    return gain <= max(EVEN * abs(other[0]), math.hypot(one[1], other[2]))


def even_ones(designs: Sequence[tuple[float, float, float]]) -> tuple[bool, ...]:
    """Whether each design is even with the best one, and another one is so too."""
    known = [each for each in designs if math.isfinite(each[0])]
    if not known:
        return tuple(False for _ in designs)
    best = max(known, key=lambda each: each[0])
    return tuple(math.isfinite(each[0]) and _is_even(best, each) for each in designs)


def merits_of(front: Table, aims: Mapping[str, str]) -> Merits:
    """Merits of a front, one row for each design; no row where it is empty."""
    if not front:
        return np.empty((0, len(aims)))
    return merits(front, aims)


def signed(aim: Aim, value: float) -> float:
    """Turn a value into its merit, or back."""
    return value if aim.maximise else -value


def leads_of(pairs: Sequence[Pair], aims: tuple[Aim, Aim], required: float) -> tuple[Lead, ...]:
    """Spans of levels from the required one up, with the run that gives the best over each."""
    every = np.unique(np.concatenate([pair.merit for pair in pairs])[:, 1])
    start = required if math.isfinite(required) else (every.min() if every.size else math.nan)
    stops = every[every > start]
    if every.size and (every >= start).any():
        stops = np.unique([start, *stops])
    found: list[Lead] = []
    before = start
    for level in stops.tolist():
        lead = _lead([pair.at(pair.best_at(level)) for pair in pairs], before, level)
        before = level
        last = found[-1] if found else None
        if last and (last.leader, last.alone) == (lead.leader, lead.alone):
            most = max(last, lead, key=lambda each: each.gain)
            found[-1] = Lead(last.low, level, lead.leader, most.gain, most.ratio, lead.alone)
        else:
            found.append(lead)
    second = aims[1]
    return tuple(
        Lead(
            signed(second, each.low),
            signed(second, each.high),
            each.leader,
            each.gain,
            each.ratio,
            each.alone,
        )
        for each in found
    )


def _lead(designs: Sequence[tuple[float, float, float]], low: float, high: float) -> Lead:
    best = np.array([each[0] for each in designs])
    known = np.flatnonzero(np.isfinite(best))
    order = known[np.argsort(-best[known], kind="stable")]
    leader = int(order[0])
    if len(order) == 1:
        return Lead(low, high, leader, 0.0, math.nan, alone=True)
    next_best = float(best[order[1]])
    gain = float(best[leader]) - next_best
    ratio = gain / abs(next_best) if next_best else math.nan
    if _is_even(designs[leader], designs[int(order[1])]):
        return Lead(low, high, None, gain, ratio, alone=False)
    return Lead(low, high, leader, gain, ratio, alone=False)
