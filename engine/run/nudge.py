"""Climbing from one build to a better one beside it, in steps that a maker can follow.

A pattern search on the grid of the study (Hooke and Jeeves 1961, "Direct search solution of
numerical and statistical problems", Journal of the ACM 8, 212-229, from memory): one variable at a
time up and down, in steps that are halved where none is better. Where no single step is, two
variables are moved at once: along a limit such as the flow to be had, nothing else climbs.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import evaluate_judged
from engine.columns import Builds
from engine.errors import Problem, StudyError
from engine.model.limits import violations, with_standing
from engine.search.front import merits
from engine.search.space import Index, Space
from engine.study.study import Study

EVALUATIONS = 400
"""Most builds that one climb evaluates."""
SLOW_EVALUATIONS = 60
"""The same where each build is sampled, or its gap flow resolved."""
FIRST = 8
"""The first steps are this part of an axis."""
CHUNK = 40
"""Pairs of steps tried together."""


@dataclass(frozen=True)
class Step:
    """One step of a climb."""

    changed: tuple[str, ...]
    """Keys that are another than before."""
    values: Mapping[str, float | str]
    """The searched values of the build [SI] after it, by key."""
    aim: float
    """The aim [SI]; NaN where the build has no number."""
    missed: int
    """Limits that it misses."""


@dataclass(frozen=True)
class Climb:
    """A climb from one build."""

    steps: tuple[Step, ...]
    """The start first, on the grid of the study."""
    evaluated: int
    ended: bool
    """Whether nothing beside the last build is better; else there was no more to evaluate."""


def climbed(study: Study, start: Builds, aim: str) -> Climb:
    """Climb from a build, its values [SI] as arrays of one element by key, toward one aim.

    Missed limits are mended first. Every step keeps the limits that are met, and lies within the
    ranges. Raises StudyError where a word of the build is not one of its range.
    """
    space = Space.of(study)
    fixed = {key: value for key, value in start.items() if key not in {a.key for a in space.axes}}
    try:
        here = space.index(start)[0]
    except ValueError as error:
        raise StudyError([Problem(file="command line", found=str(error))]) from error
    limits = with_standing(study.all_limits, study.works_as)
    way = {aim: study.aims[aim]}
    known: set[bytes] = set()

    def judged(rows: Index) -> tuple[NDArray[np.float64], list[Step]]:
        """Rank builds, as (total violation, merit), and give each as a step."""
        known.update(row.tobytes() for row in rows)
        builds = space.builds(rows)
        moved = {axis.key: builds[axis.key] for axis in space.axes}
        builds |= {key: np.repeat(value, len(rows)) for key, value in fixed.items()}
        found = evaluate_judged(study, builds)
        past = violations(found, limits)
        merit = np.nan_to_num(merits(found, way)[:, 0], nan=-np.inf)
        steps = [
            Step(
                (),
                {key: value[row].item() for key, value in moved.items()},
                float(found[aim][row]),
                int((past[row] > 0).sum()),
            )
            for row in range(len(rows))
        ]
        return np.stack([past.sum(axis=1), -merit], axis=1), steps

    rank, steps = judged(here[None])
    best, taken = tuple(rank[0]), [steps[0]]
    is_slow = study.search.robust or study.search.flow == "resolved"
    most = SLOW_EVALUATIONS if is_slow else EVALUATIONS
    reach = np.where(space.are_words, 1, np.maximum(space.counts // FIRST, 1))
    moves: Iterator[Index] | None = _singles(space, here, reach)
    while moves is not None and len(known) < most:
        better = False
        for rows in moves:
            fresh = np.array([row for row in rows if row.tobytes() not in known], dtype=np.int64)
            fresh = fresh[: most - len(known)]
            if not len(fresh):
                continue
            rank, steps = judged(fresh)
            first = int(np.lexsort((rank[:, 1], rank[:, 0]))[0])
            if tuple(rank[first]) < best:
                best, here, better = tuple(rank[first]), fresh[first], True
                before = taken[-1].values
                step = steps[first]
                changed = tuple(key for key, value in step.values.items() if value != before[key])
                taken.append(Step(changed, step.values, step.aim, step.missed))
                break
        if better:
            moves = _singles(space, here, reach)
        elif (reach > 1).any():
            reach = np.maximum(reach // 2, 1)
            moves = _singles(space, here, reach)
        else:
            both = _pairs(space, here, study.search.seed)
            moves = None if all(_all_known(rows, known) for rows in both) else iter(both)
    return Climb(tuple(taken), len(known), moves is None)


def _all_known(rows: Index, known: set[bytes]) -> bool:
    return all(row.tobytes() in known for row in rows)


def _inside(space: Space, rows: Index) -> Index:
    return rows[((rows >= 0) & (rows < space.counts)).all(axis=1)]


def _singles(space: Space, here: Index, reach: NDArray[np.int64]) -> Iterator[Index]:
    """One variable up or down, or to another word."""
    rows = []
    for place, axis in enumerate(space.axes):
        to = range(axis.count) if axis.is_text else here[place] + reach[place] * np.array([-1, 1])
        for value in to:
            row = here.copy()
            row[place] = value
            rows.append(row)
    if rows:
        yield _inside(space, np.array(rows, dtype=np.int64))


def _pairs(space: Space, here: Index, seed: int) -> list[Index]:
    """Two variables one step up or down, in chunks of an order that the seed of the study fixes."""
    rows = []
    for pair in combinations(range(len(space.axes)), 2):
        for ways in product((-1, 1), repeat=2):
            row = here.copy()
            row[list(pair)] += ways
            rows.append(row)
    if not rows:
        return []
    inside = _inside(space, np.array(rows, dtype=np.int64))
    order = np.random.default_rng(seed).permutation(inside)
    return [order[first : first + CHUNK] for first in range(0, len(order), CHUNK)]
