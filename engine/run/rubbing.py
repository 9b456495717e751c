"""Which build would be best if the casing rubbed half as much, or twice.

Friction of the ring on the casing is the largest loss that nobody has measured, and it picks the
build. So the builds shown are evaluated again with it halved and doubled, beside the best builds
that the search has met: those with the best first aim that keep every limit, and those that nearly
do and may keep it there. They are bred for some generations, because the best build elsewhere may
lie where the search had no reason to look; then one step on each axis is tried from the best until
none is better. All at the averaged level, which differs from the resolved one by far less.
"""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter

from engine.bands.inputs import inputs
from engine.bands.results import plain_limits
from engine.columns import COLUMNS, Results, base_key
from engine.errors import RunFolderError, StorageError
from engine.files import locked, write_whole
from engine.model.evaluation import builds_of, evaluate
from engine.model.lanes import rows_of
from engine.model.limits import MATCHED, violations, with_standing
from engine.model.version import MODEL_VERSION
from engine.physics.compiled import in_turns
from engine.run.folder import RUBBING
from engine.run.parquet import joined
from engine.run.seals import sealed_text, unsealed
from engine.search.evolve import bred, survivors
from engine.search.front import Merits, merits
from engine.search.population import Population, Seen
from engine.search.space import Space
from engine.study.study import Study

FACTORS = (0.5, 2.0)
"""Casing friction, over that of the study."""
KEPT = 1500
"""Stored designs that are evaluated again: of those that keep every limit, and that nearly do."""
NEARLY = 0.3
"""Largest violation of a design that nearly keeps every limit."""
GENERATIONS, CHILDREN = 15, 300
"""Generations bred from them, and builds in each."""
ROUNDS = 40
"""Most steps from the best of all."""


@dataclass(frozen=True)
class Rubbing:
    """A build shown and the best one, where the casing rubs by a factor; SI."""

    design: int
    factor: float
    key: str
    """The study's first aim, and what the values below are of."""
    value: float
    """Of the build shown; NaN without an operating point."""
    missed: dict[str, float]
    """What it has there of the limits that it misses, by key."""
    best: float
    """Of the best build that keeps every limit there and is no worse than the one shown in any
    other aim; NaN where there is none."""
    build: dict[str, float | str]
    """That build, by key of what was searched; empty where there is none."""
    is_same: bool
    """Whether that is the build shown."""

    @property
    def regret(self) -> float:
        """What the build shown loses against the best one, in the unit of the aim."""
        return abs(self.best - self.value)


def rubbing_of_run(
    folder: Path, study: Study, designs: Results, front: Results, marked: Sequence[int]
) -> tuple[Rubbing, ...]:
    """Give the `rubbing` of some rows of a front; kept in the run folder for the next time.

    Where it cannot be kept there, it is found again each time.
    """
    of = {
        "model_version": MODEL_VERSION,
        "designs": len(designs["design"]),
        "marked": [int(front["design"][row]) for row in marked],
    }
    known = _stored(folder, of)
    if known is not None:
        return known
    found = rubbing(study, designs, front, marked)
    kept = {**of, "rubbing": [asdict(each) for each in found]}
    with suppress(StorageError, RunFolderError), locked(folder):
        write_whole(folder / RUBBING, sealed_text(kept).encode())
    return found


def rubbing(
    study: Study, designs: Results, front: Results, marked: Sequence[int]
) -> tuple[Rubbing, ...]:
    """Find what each marked row of a front loses where the casing rubs by each of `FACTORS`.

    `designs` are those that the search has met, with aims, searched keys and `violation`. Nothing
    where the study takes the friction as exact.
    """
    if "casing_factor" not in inputs(study) or not marked:
        return ()
    space = Space.of(study)
    shown = {key: values[list(marked)] for key, values in builds_of(study, front).items()}
    pool = space.builds(np.unique(space.index(_promising(study, designs)), axis=0))

    def compared(factor: float) -> list[Rubbing]:
        there = _There(study, space, factor)
        own = there.judged(shown)
        every = joined([there.bred(there.judged(pool)), own])
        return [
            _compared(
                there,
                int(front["design"][row]),
                rows_of(own, np.arange(len(marked)) == lane),
                every,
            )
            for lane, row in enumerate(marked)
        ]

    return tuple(chain(*in_turns([partial(compared, factor) for factor in FACTORS])))


@dataclass(frozen=True)
class _There:
    """The model where the casing rubs by a factor."""

    study: Study
    space: Space
    factor: float

    @property
    def aims(self) -> dict[str, str]:
        """The aims of the study, on the results themselves."""
        return {base_key(key): sense for key, sense in self.study.aims.items()}

    def judged(self, builds: Mapping[str, NDArray[Any]]) -> Results:
        """Aims, limits, build and violation of each lane."""
        usual = np.asarray(builds.get("casing_factor", self.study.machine.casing_factor), float)
        level = np.full(len(builds["speed"]), "averaged")
        lanes = {**builds, "casing_factor": usual * self.factor, "gap_flow": level}
        lanes["casing_factor"] = np.broadcast_to(lanes["casing_factor"], level.shape)
        limits = with_standing(plain_limits(self.study))
        found = evaluate(self.study, lanes)
        kept = {key: found[key] for key in (*self.aims, *limits, "status")}
        missed = violations(found, limits)
        return {
            **{axis.key: builds[axis.key] for axis in self.space.axes},
            **kept,
            "violation": missed.sum(axis=1) + ~np.isfinite(self.merits(found)).all(axis=1),
        }

    def bred(self, table: Results) -> Results:
        """Add the builds of some generations bred from a table."""
        generator = np.random.default_rng([self.study.search.seed, FACTORS.index(self.factor)])
        seen = Seen()
        for _ in range(GENERATIONS):
            index, violation = self.space.index(table), table["violation"]
            known = Population.told(0, index, self.merits(table), violation)
            seen.add(self.space.hashes(index))
            parents = index[survivors(known, CHILDREN)]
            children = np.unique(bred(parents, CHILDREN, self.space, generator), axis=0)
            children = children[~seen.has(self.space.hashes(children))]
            if not len(children):
                break
            table = joined([table, self.judged(self.space.builds(children))])
        return table

    def missed(self, mine: Results) -> dict[str, float]:
        """Limits that one build misses, with what it has of them."""
        limits = with_standing(plain_limits(self.study))
        past = violations(mine, limits)[0] > 0
        return {key: float(mine[key][0]) for key, off in zip(limits, past, strict=True) if off}

    def merits(self, results: Results) -> Merits:
        return merits(results, self.aims)


def _compared(there: _There, design: int, mine: Results, every: Results) -> Rubbing:
    """Set one build shown beside the best one."""
    key = next(iter(there.aims))
    at_least = np.nan_to_num(there.merits(mine)[0, 1:], nan=-np.inf)
    best = _best(there, every, at_least)
    for _ in range(ROUNDS):
        if not best:
            break
        beside = there.space.beside(there.space.index(best))
        better = _best(there, joined([best, there.judged(there.space.builds(beside))]), at_least)
        if there.merits(better)[0, 0] <= there.merits(best)[0, 0]:
            break
        best = better
    axes = [axis.key for axis in there.space.axes]
    build = {each: _plain(each, best[each][0]) for each in axes} if best else {}
    return Rubbing(
        design=design,
        factor=there.factor,
        key=key,
        value=float(mine[key][0]) if mine["status"][0] == MATCHED else float("nan"),
        missed=there.missed(mine),
        best=float(best[key][0]) if best else float("nan"),
        build=build,
        is_same=bool(best) and bool((there.space.index(best) == there.space.index(mine)).all()),
    )


def _best(there: _There, table: Results, at_least: NDArray[np.float64]) -> Results:
    """Take the build with the best first aim that is allowed; {} where none is."""
    merit = there.merits(table)
    allowed = (table["violation"] == 0) & (merit[:, 1:] >= at_least).all(axis=1)
    if not allowed.any():
        return {}
    first = int(np.argmax(np.where(allowed, merit[:, 0], -np.inf)))
    return rows_of(table, np.arange(len(allowed)) == first)


def _promising(study: Study, designs: Results) -> Results:
    """Take the stored designs that may be best elsewhere."""
    first = merits(designs, study.aims)[:, 0]
    violation = np.asarray(designs["violation"], dtype=float)
    taken = []
    for some in (violation == 0, (violation > 0) & (violation <= NEARLY)):
        places = np.flatnonzero(some & np.isfinite(first))
        taken.append(places[np.argsort(-first[places], kind="stable")[:KEPT]])
    return {key: values[np.concatenate(taken)] for key, values in designs.items()}


def _plain(key: str, value: Any) -> float | str:
    return str(value) if COLUMNS[key].is_text else float(value)


def _stored(folder: Path, of: Mapping[str, Any]) -> tuple[Rubbing, ...] | None:
    """Read what `rubbing_of_run` stored; None where it is missing, torn or of something else."""
    try:
        kept = unsealed((folder / RUBBING).read_text(encoding="utf-8"))
        if any(kept[key] != value for key, value in of.items()):
            return None
        return TypeAdapter(tuple[Rubbing, ...]).validate_python(kept["rubbing"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
