"""Several runs reduced to what their comparison says, as plain frozen data. No wording."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.search.front import Merits, hypervolume, merits, nondominated
from engine.study.study import Study
from reports.compare.differences import Difference, differences
from reports.run.facts import aims_of
from reports.run.search_facts import Aim, Table, Values, row_of

EVEN = 0.01
"""Two runs are even where their best first aims differ by less than this share."""
LEVELS = 6
"""About how many levels of the second aim the table shows."""


@dataclass(frozen=True)
class RunOfMany:
    """One of the runs to compare."""

    name: str
    """Name of its folder."""
    study: Study
    state: str
    designs: int
    budget: int
    model_version: int
    study_hash: str
    front: Table
    """Empty where nothing is feasible."""


@dataclass(frozen=True)
class RunSide:
    """A run in a comparison, with what it reached there."""

    run: RunOfMany
    reached: Table
    """Designs of its front that no other one beats in the two aims compared, best first."""
    best: Values | None
    """Design with the best first aim at the required level; None where none reaches it."""
    volume: float
    """Its hypervolume, as a share of that of all fronts together."""


@dataclass(frozen=True)
class Reach:
    """Best first aim of each run at one level of the second."""

    level: float
    required: bool
    """Whether a study requires this level."""
    values: tuple[float, ...]
    """One for each run; NaN where it has nothing at this level."""


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
class Comparison:
    """Everything the page of a comparison says."""

    sides: tuple[RunSide, ...]
    aims: tuple[Aim, Aim]
    """First two aims of the first run, each with the hardest level that any study requires."""
    judged: Mapping[str, str]
    """Aims used for hypervolume and coverage."""
    reference: Mapping[str, float]
    """Worst value of each of those on any front."""
    reaches: tuple[Reach, ...]
    leads: tuple[Lead, ...]
    coverage: NDArray[np.float64]
    """(run, run): share of the column's designs that the row's run equals or beats."""
    differences: tuple[Difference, ...]

    @property
    def same_aims(self) -> bool:
        """Whether every run has the same aims."""
        return len({tuple(side.run.study.aims.items()) for side in self.sides}) == 1


def compared(runs: Sequence[RunOfMany]) -> Comparison:
    """Compare runs by the first two aims of the first of them."""
    aims = _aims(runs)
    ways = {aim.key: "maximise" if aim.maximise else "minimise" for aim in aims}
    same = len({tuple(run.study.aims.items()) for run in runs}) == 1
    judged = dict(runs[0].study.aims) if same else ways
    merit = [_merits(run.front, judged) for run in runs]
    reference, volumes = _volumes(merit)
    pairs = [_merits(run.front, ways) for run in runs]
    required = _required_merit(aims)
    return Comparison(
        sides=tuple(
            RunSide(run, _reached(run.front, ways), _best(run.front, pair, required), volume)
            for run, pair, volume in zip(runs, pairs, volumes, strict=True)
        ),
        aims=aims,
        judged=judged,
        reference={
            key: float(value) if way == "maximise" else -float(value)
            for (key, way), value in zip(judged.items(), reference, strict=True)
        },
        reaches=_reaches(pairs, aims, _asked(runs, aims[1])),
        leads=_leads(pairs, aims, required[1]),
        coverage=np.array([[_covered(one, other) for other in merit] for one in merit]),
        differences=differences([run.study for run in runs]),
    )


def _aims(runs: Sequence[RunOfMany]) -> tuple[Aim, Aim]:
    """First two aims of the first run, each with the hardest level that any study requires."""
    first, second = (_hardest(aim, runs) for aim in aims_of(runs[0].study)[:2])
    return first, second


def _hardest(aim: Aim, runs: Sequence[RunOfMany]) -> Aim:
    asked = _asked(runs, aim)
    if not asked:
        return aim
    return Aim(aim.key, aim.maximise, max(asked) if aim.maximise else min(asked))


def _asked(runs: Sequence[RunOfMany], aim: Aim) -> tuple[float, ...]:
    """Levels of an aim that the studies require, of those runs that have a front."""
    found = []
    for run in [run for run in runs if run.front] or runs:
        found += [
            own.required
            for own in aims_of(run.study)
            if own.key == aim.key and own.required is not None
        ]
    return tuple(dict.fromkeys(found))


def _merits(front: Table, aims: Mapping[str, str]) -> Merits:
    if not front:
        return np.empty((0, len(aims)))
    return merits(front, aims)


def _reached(front: Table, ways: Mapping[str, str]) -> Table:
    merit = _merits(front, ways)
    rows = np.flatnonzero(nondominated(merit)) if len(merit) else np.empty(0, dtype=int)
    rows = rows[np.lexsort((-merit[rows, 1], -merit[rows, 0]))]
    return {key: np.asarray(values)[rows] for key, values in front.items()}


def _required_merit(aims: tuple[Aim, Aim]) -> NDArray[np.float64]:
    return np.array(
        [-np.inf if aim.required is None else _signed(aim, aim.required) for aim in aims]
    )


def _signed(aim: Aim, value: float) -> float:
    return value if aim.maximise else -value


def _best(front: Table, merit: Merits, required: NDArray[np.float64]) -> Values | None:
    rows = np.flatnonzero((merit >= required).all(axis=1))
    if not rows.size:
        return None
    order = np.lexsort((-merit[rows, 1], -merit[rows, 0]))
    return row_of(front, int(rows[order[0]]))


def _volumes(merit: Sequence[Merits]) -> tuple[NDArray[np.float64], list[float]]:
    """Worst merits of all fronts, and the hypervolume of each as a share of that of all."""
    every = np.concatenate(merit)
    every = every[np.isfinite(every).all(axis=1)]
    if not len(every):
        return np.full(merit[0].shape[1], np.nan), [math.nan for _ in merit]
    reference = every.min(axis=0)
    whole = hypervolume(every, reference)
    each = [
        hypervolume(one[np.isfinite(one).all(axis=1)], reference) / whole if whole else math.nan
        for one in merit
    ]
    return reference, each


def _covered(one: Merits, other: Merits) -> float:
    """Share of the other's designs that a design of the one equals or beats in every aim."""
    if not len(one) or not len(other):
        return math.nan if not len(other) else 0.0
    beats = np.ones((len(one), len(other)), dtype=np.bool_)
    for aim in range(one.shape[1]):
        beats &= one[:, aim, None] >= other[None, :, aim]
    return float(beats.any(axis=0).mean())


def _attained(pair: Merits, level: float) -> float:
    """Best first merit of designs that reach a level of the second; NaN where none does."""
    here = pair[pair[:, 1] >= level, 0]
    return float(here.max()) if here.size else math.nan


def _reaches(
    pairs: Sequence[Merits], aims: tuple[Aim, Aim], asked: Sequence[float]
) -> tuple[Reach, ...]:
    """Table of levels: those that the studies require, and round ones up to the hardest."""
    first, second = aims
    every = np.concatenate(pairs)[:, 1]
    if not every.size:
        return ()
    column = COLUMNS[second.key]
    ends = [_signed(second, float(every.min())), _signed(second, float(every.max()))]
    round_ones = column.to_si(np.array(round_levels(*np.sort(column.to_drawing(np.array(ends))))))
    levels = {_signed(second, level): True for level in asked}
    least = min(levels, default=-math.inf)
    levels |= {
        merit: levels.get(merit, False)
        for merit in (_signed(second, float(level)) for level in round_ones)
        if merit > least and not any(math.isclose(merit, other) for other in levels)
    }
    return tuple(
        Reach(
            _signed(second, level),
            levels[level],
            tuple(_signed(first, _attained(pair, level)) for pair in pairs),
        )
        for level in sorted(levels)
    )


def round_levels(low: float, high: float) -> list[float]:
    """List about `LEVELS` round numbers between two numbers.

    Examples
    --------
    >>> round_levels(1.2, 3.1)
    [1.5, 2.0, 2.5, 3.0]
    """
    if not high > low:
        return []
    rough = (high - low) / LEVELS
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * size for size in (1, 2, 5, 10) if power * size >= 0.999 * rough)
    return [
        float(f"{step * count:.9g}")
        for count in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)
    ]


def _leads(pairs: Sequence[Merits], aims: tuple[Aim, Aim], required: float) -> tuple[Lead, ...]:
    """Spans of levels from the required one up, with the run that gives the best over each."""
    every = np.unique(np.concatenate(pairs)[:, 1])
    start = required if math.isfinite(required) else (every.min() if every.size else math.nan)
    stops = every[every > start]
    if every.size and (every >= start).any():
        stops = np.unique([start, *stops])
    found: list[Lead] = []
    before = start
    for level in stops.tolist():
        lead = _lead(np.array([_attained(pair, level) for pair in pairs]), before, level)
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
            _signed(second, each.low),
            _signed(second, each.high),
            each.leader,
            each.gain,
            each.ratio,
            each.alone,
        )
        for each in found
    )


def _lead(best: NDArray[np.float64], low: float, high: float) -> Lead:
    known = np.flatnonzero(np.isfinite(best))
    order = known[np.argsort(-best[known], kind="stable")]
    leader = int(order[0])
    if len(order) == 1:
        return Lead(low, high, leader, 0.0, math.nan, alone=True)
    next_best = float(best[order[1]])
    gain = float(best[leader]) - next_best
    ratio = gain / abs(next_best) if next_best else math.nan
    if gain <= EVEN * abs(next_best):
        return Lead(low, high, None, gain, ratio, alone=False)
    return Lead(low, high, leader, gain, ratio, alone=False)
