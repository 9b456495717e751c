"""Which build of a front to cut: the pick, calmer ones beside it, and the marks of before.

The pick is the best by the study's first aim of the builds whose metal holds as builds turn out:
each limit on safety margin, stress margin and gap hold that the study states is met in nine of ten
samples, and the tenth-percentile safety margin lies above the highest speed after a lost load with
the trip acting. What the air supply allows is no part of this: a throttle cures it, and a burst
disc stays burst. Builds that carry what must run come before others, where any does.

Where no build passes, the pick is the one that comes nearest, of those that are of use: it has the
least sum of what is missing (chance below nine in ten, the poor end of the band past its limit and
the margin below the peak, each as a share).

Beside it stand two calmer builds, for a maker who has the power to spare.

- Calmest: the largest tenth-percentile safety margin that still is of use, of builds whose margin
  as drawn is no smaller than the pick's either. Of use is what carries all that must run; where the
  study lists no loads, or none is carried, what has half the first aim of the pick. Without that
  bound the calmest build hardly turns.
- Calmer: the knee between these two, by first aim and margin, percent against percent. It is looked
  for in the middle half of the way in margin, since near an end it would be the pick, or the
  calmest, with another name. Where that half is empty it is looked for all the way. It gives more
  than the calmest, else that one stands for both.

On a small front these may be one design: a row may have several roles.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import METAL, plain_limits
from engine.columns import Results, band_key, base_key
from engine.model.limits import MATCHED, violations
from engine.model.loads import demand, needed
from engine.physics.arrays import Mask
from engine.search.front import Merits, knee, merits
from engine.search.space import Space
from engine.study.aims import robust_limits
from engine.study.study import Study

HELD = 0.9
"""Share of samples in which each of those limits must hold."""
TOO_NEAR = "peak_ratio"
"""Word for a tenth-percentile safety margin that is not above the peak after a lost load."""
MIDDLE = 0.25
"""The calmer build is looked for from this share of the way in margin to as much before its end."""
LEAST_OF_USE = 0.5
"""Share of the pick's first aim that a calmer build keeps where no loads say what is needed."""
ROLES = ("pick", "calmer", "calmest", "most", "knee", "safest", "carrying")
"""Every role, in the order in which pages and commands name them."""


@dataclass(frozen=True)
class Picks:
    """Rows of a front by role."""

    rows: Mapping[str, int]
    """'pick', 'calmer', 'calmest' and 'most' always; 'knee', and 'safest' or 'carrying', as
    `marked` finds them."""
    holds: bool
    """Whether the pick holds every metal limit in nine of ten, above its peak; False where the
    front has no bands yet."""
    misses: Mapping[str, Sequence[str]]
    """By role: keys of the metal limits that the build does not hold in nine of ten, and
    `TOO_NEAR`. Empty for a build that holds them all."""
    judged: bool = True
    """Whether the front has bands. Without them the results themselves stand in their place."""


def picks_of(study: Study, front: Results) -> Picks | None:
    """Find the pick, the builds beside it and the marks of before; None for an empty front."""
    first = next(iter(study.aims))
    if not len(front.get(first, ())):
        return None
    judged = band_key("safety_margin", "p10") in front
    keys, missed, short = misses(study, front)
    merit = merits(front, study.aims)[:, 0]
    every = np.arange(len(merit))
    passing = every[~missed.any(axis=1)]
    if passing.size:
        passing = _carrying(study, front, passing, otherwise=passing)
        pick = int(passing[_best(merit[passing])])
    else:
        near = _of_use(study, front, every, merit)
        pick = int(near[_best(-short[near], merit[near])])
    rows = {"pick": pick, **_calmer(study, front, passing, merit, pick)}
    before = marked(study, front)
    rows |= {"most": int(_best(merit)), **before}
    return Picks(
        rows={role: rows[role] for role in ROLES if role in rows},
        holds=judged and bool(passing.size),
        misses={
            role: tuple(key for key, miss in zip(keys, missed[row], strict=True) if miss)
            for role, row in rows.items()
        },
        judged=judged,
    )


def on_front(front: Mapping[str, NDArray[Any]], kind: Literal["nominal", "firm"]) -> Mask:
    """Rows on the front as drawn, or on the firm one; all rows of a run that has only the other."""
    n_rows = len(next(iter(front.values()), ()))
    kinds = front.get("front_kind", np.full(n_rows, "both"))
    mine = np.isin(kinds, (kind, "both"))
    return mine if mine.any() else np.ones(n_rows, dtype=np.bool_)


def same_parts(study: Study, front: Results) -> NDArray[np.int64]:
    """Give builds of the same parts the same number, (row,): they differ in nothing but speed."""
    space = Space.of(study)
    parts = [place for place, axis in enumerate(space.axes) if axis.key != "speed"]
    index = space.index(front)[:, parts]
    return np.asarray(np.unique(index, axis=0, return_inverse=True)[1].ravel(), dtype=np.int64)


def is_other_speed(study: Study, front: Results, row: int, other: int) -> bool:
    """Whether two builds are one stack at two speeds: same parts, another speed."""
    pair = np.array([row, other])
    stack = same_parts(study, {key: values[pair] for key, values in front.items()})
    return bool(stack[0] == stack[1] and front["speed"][row] != front["speed"][other])


def marked(study: Study, front: Results) -> dict[str, int]:
    """Find the rows of the marks of before: 'most', 'knee', 'safest' or 'carrying'.

    Empty where no design reaches the levels that the limits on the aims require. Useful designs are
    those that carry the loads which the study needs. Where it lists no loads, or no design carries
    them, they are those with at least half the best first aim, or at most twice the least one. The
    knee is that of the useful designs; it is left out where it is one of their ends. It is found on
    logarithms of the aims where all are positive, so that it weighs percent against percent.
    """
    first = next(iter(study.aims))
    if not len(front.get(first, ())):
        return {}
    merit = merits(front, study.aims)
    rows = np.flatnonzero((merit >= _required(study)).all(axis=1))
    if not rows.size:
        return {}
    useful = _of_use(study, front, rows, merit[:, 0])
    carrying = _carrying(study, front, useful, otherwise=rows[:0]).size > 0
    last = "carrying" if carrying else "safest"
    ends = {"most": int(useful[_best(*merit[useful, :2].T)])}
    ends[last] = int(useful[_best(*merit[useful].T[[1, 0]])])
    bend = int(useful[knee(_percent({key: front[key][useful] for key in study.aims}, study.aims))])
    at_end = any((merit[bend] == merit[row]).all() for row in ends.values())
    return ends if at_end and useful.size > 1 else {**ends, "knee": bend}


def carrying_rows(study: Study, front: Results, rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """Keep the rows whose power, the P10 where it is known, runs everything that must run."""
    power = front.get("electric_power_p10", front.get("electric_power"))
    if study.loads is None or power is None:
        return rows[:0]
    return rows[np.nan_to_num(power[rows]) >= demand(needed(study.loads))]


def misses(study: Study, front: Results) -> tuple[tuple[str, ...], Mask, NDArray[np.float64]]:
    """Metal limits and `TOO_NEAR`, which row misses which, and how much it lacks in all, (row,)."""
    keys, missed, short = metal_misses(study, front)
    margin = _margin(front)
    peak = front.get(TOO_NEAR, front.get("trip_factor", np.ones_like(margin)))
    near = ~(margin > peak)  # a margin or a peak that is no number is not known to be enough
    with np.errstate(divide="ignore", invalid="ignore"):
        below = np.where(near, np.nan_to_num(1 - margin / peak, nan=1.0), 0.0)
    return (*keys, TOO_NEAR), np.column_stack([missed, near]), short + below


def metal_misses(study: Study, front: Results) -> tuple[tuple[str, ...], Mask, NDArray[np.float64]]:
    """Metal limits, which row does not hold which in nine of ten, and how much it lacks in all.

    Shapes: (limit,), (row, limit) and (row,).
    """
    stated = plain_limits(study)
    limits = {key: stated[key] for key in METAL if key in stated}
    n_rows = len(_margin(front))
    missed, short = np.zeros((n_rows, len(limits)), dtype=np.bool_), np.zeros(n_rows)
    for place, (key, limit) in enumerate(limits.items()):
        ends = robust_limits({key: limit})
        there = {end: front.get(end, front.get(key, np.full(n_rows, np.nan))) for end in ends}
        past = violations({**there, "status": np.full(n_rows, MATCHED)}, ends).sum(axis=1)
        chance = front.get(band_key(key, "chance"), (past == 0) * 1.0)
        lacking = HELD - np.nan_to_num(chance)
        missed[:, place] = lacking > 0
        short += np.where(lacking > 0, lacking + past, 0.0)
    return tuple(limits), missed, short


def _margin(front: Results) -> NDArray[np.float64]:
    """Tenth-percentile safety margin; the margin itself where there are no bands."""
    some = np.zeros(len(next(iter(front.values()))))
    margin = front.get(band_key("safety_margin", "p10"), front.get("safety_margin", some))
    return np.asarray(margin, dtype=float)


def _calmer(
    study: Study, front: Results, passing: NDArray[np.int64], merit: NDArray[np.float64], pick: int
) -> dict[str, int]:
    """Rows of the calmer and the calmest build; the pick itself where nothing is calmer."""
    pool = passing if passing.size else np.arange(len(merit))
    pool = _of_use(study, front, pool, merit, best=merit[pick])
    margin, drawn = _margin(front), np.asarray(front.get("safety_margin", _margin(front)))
    pool = pool[(margin[pool] > margin[pick]) & (drawn[pool] >= drawn[pick])]
    if not pool.size:
        return {"calmer": pick, "calmest": pick}
    calmest = int(pool[_best(margin[pool], merit[pool])])
    way = np.log(margin[pool] / margin[pick]) / np.log(margin[calmest] / margin[pick])
    for least in (MIDDLE, 0.0):
        between = pool[(way > least) & (way < 1 - least) & (merit[pool] > merit[calmest])]
        if between.size:
            some = np.array([pick, *between, calmest])
            first = next(iter(study.aims))
            aims = {first: study.aims[first], "margin": "maximise"}
            bend = _percent({first: front[first][some], "margin": margin[some]}, aims)
            return {"calmer": int(between[_beyond(bend)[1:-1].argmax()]), "calmest": calmest}
    return {"calmer": calmest, "calmest": calmest}


def _beyond(merit: Merits) -> NDArray[np.float64]:
    """How far each row lies beyond the chord from the first to the last row."""
    low, high = merit[[0, -1]].min(axis=0), merit[[0, -1]].max(axis=0)
    return np.asarray(((merit - low) / np.where(high > low, high - low, 1.0)).sum(axis=1))


def _percent(values: Results, aims: Mapping[str, str]) -> Merits:
    """Merits on logarithms where all values are positive, so that percent weighs as percent."""
    positive = all((column > 0).all() for column in values.values())
    return merits({k: np.log(v) for k, v in values.items()} if positive else values, aims)


def _required(study: Study) -> list[float]:
    """Merit that each aim must reach: by the limit on it, or a safety margin of 1."""
    found = []
    for key, sense in study.aims.items():
        maximise = sense == "maximise"
        limit = study.all_limits.get(key)
        level = None if limit is None else limit.min if maximise else limit.max
        if level is None and maximise and base_key(key) == "safety_margin":
            level = 1.0  # below it the first failure comes before operating speed
        found.append(-np.inf if level is None else level if maximise else -level)
    return found


def _of_use(
    study: Study,
    front: Results,
    rows: NDArray[np.int64],
    merit: NDArray[np.float64],
    best: float | None = None,
) -> NDArray[np.int64]:
    """Rows that carry all that must run; where none does, those with half the best first aim."""
    top = merit[rows].max() if best is None else best
    enough = rows[merit[rows] >= (LEAST_OF_USE * top if top > 0 else top / LEAST_OF_USE)]
    return _carrying(study, front, rows, otherwise=enough)


def _carrying(
    study: Study, front: Results, rows: NDArray[np.int64], *, otherwise: NDArray[np.int64]
) -> NDArray[np.int64]:
    carrying = carrying_rows(study, front, rows)
    return carrying if carrying.size else otherwise


def _best(*keys: NDArray[np.float64]) -> int:
    """Place of the largest first key; of equal ones the largest second key, and so on."""
    return int(np.lexsort([-key for key in reversed(keys)])[0])
