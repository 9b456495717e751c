"""Several runs reduced to what their comparison says, as plain frozen data. No wording."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.search.front import Merits, hypervolume, nondominated
from engine.study.study import Study
from reports.compare.differences import Difference, differences
from reports.compare.reached import (
    Lead,
    Pair,
    even_ones,
    leads_of,
    merits_of,
    pair_of,
    signed,
)
from reports.run.facts import aims_of
from reports.run.search_facts import Aim, Table, Values, row_of

LEVELS = 6
"""About how many levels of the second aim the table shows."""
CUT = ("length", "count", "angle", "angular_speed")
"""Dimensions of what is made or set; words, such as a material, are that too."""


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
    even: bool = False
    """Whether `best` is even with the best one of all runs."""


@dataclass(frozen=True)
class Reach:
    """Best first aim of each run at one level of the second."""

    level: float
    required: bool
    """Whether a study requires this level."""
    values: tuple[float, ...]
    """One for each run; NaN where it has nothing at this level."""
    even: tuple[bool, ...]
    """Whether a run is even with the best one of this level."""


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
    builds: tuple[tuple[str, tuple[float | str, ...]], ...] = ()
    """What is made or set otherwise in the best design of some run: key, and value of each run;
    NaN where that run has no best design."""

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
    merit = [merits_of(run.front, judged) for run in runs]
    reference, volumes = _volumes(merit)
    pairs = [pair_of(run.front, aims) for run in runs]
    required = _required_merit(aims)
    rows = [_best(pair.merit, required) for pair in pairs]
    even = even_ones([pair.at(row) for pair, row in zip(pairs, rows, strict=True)])
    sides = tuple(
        RunSide(
            run,
            _reached(run.front, ways),
            None if row is None else row_of(run.front, row),
            volumes[place],
            even[place],
        )
        for place, (run, row) in enumerate(zip(runs, rows, strict=True))
    )
    differ = differences([run.study for run in runs])
    return Comparison(
        sides=sides,
        aims=aims,
        judged=judged,
        reference={
            key: float(value) if way == "maximise" else -float(value)
            for (key, way), value in zip(judged.items(), reference, strict=True)
        },
        reaches=_reaches(pairs, aims, _asked(runs, aims[1])),
        leads=leads_of(pairs, aims, required[1]),
        coverage=np.array([[_covered(one, other) for other in merit] for one in merit]),
        differences=differ,
        builds=_builds(sides, [each.key for each in differ if each.section == "build"]),
    )


def _builds(
    sides: Sequence[RunSide], also: Sequence[str]
) -> tuple[tuple[str, tuple[float | str, ...]], ...]:
    """Find what the best designs differ in, of what is searched and of the keys `also`."""
    keys = [key for side in sides for key in side.run.study.searched()]
    found = []
    for key in dict.fromkeys([*keys, *also]):
        if key not in COLUMNS:
            continue
        if not COLUMNS[key].is_text and COLUMNS[key].unit.dimension not in CUT:
            continue
        values = tuple(_made(side, key) for side in sides)
        known = [value for value in values if isinstance(value, str) or math.isfinite(value)]
        if len(set(map(_rounded, known))) > 1:
            found.append((key, values))
    return tuple(found)


def _made(side: RunSide, key: str) -> float | str:
    """Value of a key in the best design of a run, SI; NaN where there is none."""
    if side.best is None:
        return math.nan
    value = side.best.get(key, side.run.study.fixed().get(key, math.nan))
    return value if isinstance(value, str) else float(value)


def _rounded(value: float | str) -> float | str:
    return value if isinstance(value, str) else float(f"{value:.9g}")


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


def _reached(front: Table, ways: Mapping[str, str]) -> Table:
    merit = merits_of(front, ways)
    rows = np.flatnonzero(nondominated(merit)) if len(merit) else np.empty(0, dtype=int)
    rows = rows[np.lexsort((-merit[rows, 1], -merit[rows, 0]))]
    return {key: np.asarray(values)[rows] for key, values in front.items()}


def _required_merit(aims: tuple[Aim, Aim]) -> NDArray[np.float64]:
    return np.array(
        [-np.inf if aim.required is None else signed(aim, aim.required) for aim in aims]
    )


def _best(merit: Merits, required: NDArray[np.float64]) -> int | None:
    rows = np.flatnonzero((merit >= required).all(axis=1))
    if not rows.size:
        return None
    order = np.lexsort((-merit[rows, 1], -merit[rows, 0]))
    return int(rows[order[0]])


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


def _reaches(
    pairs: Sequence[Pair], aims: tuple[Aim, Aim], asked: Sequence[float]
) -> tuple[Reach, ...]:
    """Table of levels: those that the studies require, and round ones up to the hardest."""
    first, second = aims
    every = np.concatenate([pair.merit for pair in pairs])[:, 1]
    if not every.size:
        return ()
    column = COLUMNS[second.key]
    ends = [signed(second, float(every.min())), signed(second, float(every.max()))]
    round_ones = column.to_si(np.array(round_levels(*np.sort(column.to_drawing(np.array(ends))))))
    levels = {signed(second, level): True for level in asked}
    least = min(levels, default=-math.inf)
    levels |= {
        merit: levels.get(merit, False)
        for merit in (signed(second, float(level)) for level in round_ones)
        if merit > least and not any(math.isclose(merit, other) for other in levels)
    }
    found = []
    for level in sorted(levels):
        best = [pair.at(pair.best_at(level)) for pair in pairs]
        values = tuple(signed(first, each[0]) for each in best)
        found.append(Reach(signed(second, level), levels[level], values, even_ones(best)))
    return tuple(found)


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
