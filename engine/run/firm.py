"""The front that tolerances leave: the stage firm, after the search has ended.

A search looks for the best as drawn, and finds builds that sit on a limit, or whose margin goes
with the first tolerance. This stage looks at the poor end of each aim, P10 or P90, of the same
samples for all builds. A build counts if its metal limits hold in nine of ten and its
tenth-percentile safety margin survives the trip; the other limits hold as drawn.

It begins with the best designs that the search has met. Around those that are best at the poor end,
and those that miss by little, builds are tried in rounds: one step on each axis, and moves of the
polish. Each is first evaluated as drawn, which costs a thirtieth of its samples. What the poor end
keeps of an aim is known of designs that fail in the same way, and only builds that may be better
are sampled, with few samples. The best of all get what every design of a front gets, among it bands
of many samples, and are judged by those.

Nothing depends on the clock: the rounds end when the firm front grows no more, or with the budget,
a share of the study's designs. So a run that was killed in this stage makes it again from the
stored designs of the search, and comes to the same front.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from engine.columns import Results, band_key
from engine.model.lanes import rows_of
from engine.model.limits import violations, with_standing
from engine.physics.arrays import Mask
from engine.run.generations import Evaluate
from engine.run.parquet import joined
from engine.run.pick import metal_misses, misses
from engine.run.proof import ROUNDS as LOOKS
from engine.run.proof import Finish, doubtful, resolved_results
from engine.run.summary import ranked
from engine.search.front import Merits, growth, merits, nondominated, ranks
from engine.search.polish import around
from engine.search.population import Population
from engine.search.space import Index, Space, firm_budget
from engine.study.aims import poor_end
from engine.study.study import Study

Weigh: TypeAlias = Callable[[Study, Results], tuple[Results, Mask]]
"""Adds bands of few samples, and says which design survives its trip at the poor end."""
Try: TypeAlias = Callable[[Index, str], Results]
"""Evaluates new builds at a level of gap flow, numbers and judges them."""

ROUNDS = 8
TRIED_RESOLVED = 40
"""Builds tried in a round where the front is that of resolved gap flow."""
FINISHED = 100
"""Most designs that get all columns of a front; of more, the least crowded."""
FINISHED_OF = 80
"""One in so many of the study's designs, at most `FINISHED` and at least `FEWEST_FINISHED`."""
FEWEST_FINISHED = 10
TOP = 5
"""One in so many of these is of those with the best first aim, where the pick is."""
SLACK = 0.01
"""What few samples may be wrong by: a design counts as near with so much missing, as a share."""
TOLERANCE = 1e-4
"""Relative growth of hypervolume below which the firm front counts as not growing."""
LEAST_LACK = 1e-9
"""Least that a design misses whose limits hold in less than nine of ten."""
NEAREST = 30
"""Designs around which is looked where none holds."""
SEED = 5
"""Apart from the numbers of the stages of the search, so that no random numbers come twice."""
NOMINAL, FIRM, BOTH = "nominal", "firm", "both"


@dataclass(frozen=True)
class Round:
    """How far the stage is, after a round."""

    number: int
    of: int
    front: int
    """Designs that are best at the poor end so far, by few samples."""

    def left_after(self, seconds: float) -> float:
        """Time left at most, if every round takes as long as those so far [s]."""
        return seconds / self.number * (self.of - self.number)


@dataclass
class Firm:
    """Designs that were sampled, and what is best among them."""

    study: Study
    weigh: Weigh
    known: Results = field(default_factory=dict)
    """As drawn."""
    poor: Results = field(default_factory=dict)
    """Their aims at the poor end, by key of the aim."""
    lack: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    """What each design misses the metal limits by; 0 where they hold."""

    @property
    def merit(self) -> Merits:
        """Merits of the aims at the poor end."""
        return merits(self.poor, self.study.aims)

    def take_in(self, designs: Results) -> None:
        """Sample some designs."""
        if not len(designs.get("design", ())):
            return
        found, survives = self.weigh(self.study, designs)
        poor = at_poor_end(self.study, found)
        _, missed, short = metal_misses(self.study, found)
        lost = ~survives | ~np.isfinite(merits(poor, self.study.aims)).all(axis=1)
        lack = np.where(missed.any(axis=1), np.maximum(short, LEAST_LACK), 0.0) + lost
        self.known = joined([self.known, designs]) if self.known else designs
        self.poor = joined([self.poor, poor]) if self.poor else poor
        self.lack = np.concatenate([self.lack, lack])

    def best(self, within: float = 0.0, but: Iterable[int] = ()) -> NDArray[np.int64]:
        """Rows of the front of the designs that lack no more than this, but those numbered so."""
        apart = np.isin(self.known["design"], list(but))
        return np.flatnonzero(
            nondominated(np.where(((self.lack <= within) & ~apart)[:, None], self.merit, np.nan))
        )

    @property
    def parents(self) -> NDArray[np.int64]:
        """Rows around which builds are tried: the front, those that nearly hold, or the nearest."""
        found = np.union1d(self.best(), self.best(SLACK))
        return found if found.size else np.argsort(self.lack, kind="stable")[:NEAREST]

    def promising(self, tried: Results, most: int) -> Results:
        """Keep the tried designs whose poor end may beat the front, the likeliest `most`."""
        tried = rows_of(tried, tried["feasible"] == 1)
        if not len(tried["design"]):
            return {}
        likely = merits(self._expected(tried), self.study.aims)
        front = self.merit[self.best()]
        hopeful = likely + SLACK * np.abs(likely)
        beaten = np.any(np.all(front[None] >= hopeful[:, None], axis=2), axis=1)
        left = np.flatnonzero(~beaten & np.isfinite(likely).all(axis=1))
        order = np.argsort(ranks(likely[left]), kind="stable")
        return rows_of(tried, np.sort(left[order[:most]]))

    def _expected(self, tried: Results) -> Results:
        """Aims at the poor end, by what it keeps at best of designs that fail in the same way."""
        mode, known_mode = (
            each.get("governing_mode", np.full(len(each["design"]), ""))
            for each in (tried, self.known)
        )
        expected = {}
        for key, way in self.study.aims.items():
            usual, poor = self.known[key], self.poor[key]
            with np.errstate(divide="ignore", invalid="ignore"):
                share = np.where((usual > 0) & (poor > 0), poor / usual, np.nan)
            expected[key] = tried[key].copy()
            for each in np.unique(mode):
                of = share[(known_mode == each) & np.isfinite(share)]
                if of.size:
                    kept = np.quantile(of, 0.9 if way == "maximise" else 0.1)
                    positive = (mode == each) & (tried[key] > 0)
                    expected[key][positive] *= kept
        return expected


def looked_for(
    study: Study,
    *,
    near: Results,
    weigh: Weigh,
    try_builds: Try,
    tell: Callable[[Round], None],
    stop: Callable[[], bool],
) -> Firm | None:
    """Look for the firm front around designs that the search has met; None where it was stopped.

    Parameters
    ----------
    study
        The study.
    near
        Feasible designs of one level of gap flow, the best first; see `pool_size`.
    weigh
        Adds bands of few samples.
    try_builds
        Evaluates builds that are new.
    tell, stop
        Called after each round.
    """
    space = Space.of(study)
    level = str(near["gap_flow"][0]) if "gap_flow" in near else ""
    most_tried, most_sampled = firm_budget(study)
    each_round = (most_sampled - pool_size(study)) // ROUNDS
    n_tried = -(-most_tried // ROUNDS)
    firm, stepped = Firm(study, weigh), np.zeros(0)
    firm.take_in(near)
    still = 0
    for number in range(ROUNDS):
        before = firm.merit[firm.best()]
        generator = np.random.default_rng([study.search.seed, SEED, number])
        index = _proposed(firm, space, n_tried, stepped, generator)
        stepped = np.union1d(stepped, firm.known["design"][firm.parents])
        if level == "resolved":
            index = index[generator.permutation(len(index))[:TRIED_RESOLVED]]
        tried = try_builds(index, level)
        if tried:
            firm.take_in(firm.promising(tried, each_round))
        after = firm.merit[firm.best()]
        tell(Round(number + 1, ROUNDS, len(after)))
        if stop():
            return None
        grows = growth(before, after) >= TOLERANCE if len(after) else bool(tried)
        still = 0 if grows else still + 1
        if still == 2:
            break
    return firm


def pool_size(study: Study) -> int:
    """Give the number of designs of the search with which the stage begins."""
    return firm_budget(study)[1] // 3


def near_front(study: Study, parts: Iterable[Results], level: str) -> Results:
    """Feasible designs of a level, those on the front first, then those behind it, and so on."""
    best: Results = {}
    for part in parts:
        is_level = part["gap_flow"] == level if "gap_flow" in part else np.bool_(True)
        feasible = np.flatnonzero((part["feasible"] == 1) & is_level)
        merit, n_known = merits(part, study.aims)[feasible], len(best.get("design", ()))
        if n_known:
            merit = np.concatenate([merits(best, study.aims), merit])
        order = np.argsort(ranks(merit), kind="stable")[: pool_size(study)]
        # Of a part only what is kept is copied.
        is_new = order >= n_known
        more = rows_of(part, feasible[order[is_new] - n_known])
        both = joined([rows_of(best, order[~is_new]), more]) if n_known else more
        best = rows_of(both, np.argsort(np.argsort(is_new, kind="stable")))
    return best


def with_firm(
    study: Study,
    front: Results,
    firm: Firm,
    *,
    evaluate: Evaluate,
    recheck: Finish,
    finish: Finish,
) -> Results:
    """Join the firm front to one that stands, and say in `front_kind` which design is on which.

    A design that the resolved gap flow does not confirm is judged by its resolved results, and what
    it had beaten comes back.
    """
    believed: list[Results] = []
    chosen, apart = np.zeros(0), np.zeros(0)
    for _ in range(LOOKS):
        found = rows_of(firm.known, _finalists(firm, front["design"], apart))
        chosen = found["design"]
        fresh = ~np.isin(chosen, [number for each in believed for number in each["design"]])
        if not fresh.any():
            break
        more = recheck(study, rows_of(found, fresh))
        unsure = doubtful(more)
        believed = [*believed, rows_of(more, ~unsure)]
        if not unsure.any():
            break
        apart = np.concatenate([apart, more["design"][unsure]])
        resolved, lost = resolved_results(study, evaluate, rows_of(more, unsure))
        stands = ~np.isin(resolved["design"], list(lost))
        if stands.any():
            believed = [*believed, recheck(study, rows_of(resolved, stands))]
    every = {key: values for key, values in front.items() if key != "rank"}
    sure = joined(believed)
    kept = np.isin(sure.get("design", []), [*chosen, *apart])
    if kept.any():
        finished = finish(study, rows_of(sure, kept))
        met = (violations(finished, with_standing(study.all_limits, study.works_as)) == 0).all(
            axis=1
        )
        every = joined([every, rows_of(finished, met)])
    holds = ~misses(study, every)[1].any(axis=1)
    poor = merits(at_poor_end(study, every), study.aims)
    is_firm = nondominated(np.where(np.asarray(holds)[:, None], poor, np.nan))
    if holds.any():
        # What is best as drawn of those that hold is the pick, and belongs to the front shown.
        drawn = np.where(holds, merits(every, study.aims)[:, 0], -np.inf)
        is_firm |= np.arange(len(drawn)) == drawn.argmax()
    is_nominal = np.isin(every["design"], front["design"])
    kind = np.where(is_nominal, np.where(is_firm, BOTH, NOMINAL), FIRM)
    both = is_firm | is_nominal
    return ranked(rows_of(every | {"front_kind": kind}, both), study.aims)


def of_kind(study: Study, front: Results) -> Results:
    """Front of one kind only: that of a robust study is firm, any other nominal."""
    kind = FIRM if study.search.robust else NOMINAL
    return front | {"front_kind": np.full(len(front["design"]), kind)} if front else {}


def _finalists(
    firm: Firm, standing: NDArray[np.float64], apart: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Rows of the firm front by few samples, and half as many that nearly are on it.

    Without those that stand already, which have all columns of a front.
    """
    most = int(np.clip(firm.study.search.designs // FINISHED_OF, FEWEST_FINISHED, FINISHED))
    front, nearly = firm.best(but=apart), firm.best(SLACK, but=apart)
    front, nearly = (
        each[~np.isin(firm.known["design"][each], standing)]
        for each in (front, np.setdiff1d(nearly, front))
    )
    return np.union1d(_thinned(firm, front, most), _thinned(firm, nearly, most // 2))


def _thinned(firm: Firm, chosen: NDArray[np.int64], most: int) -> NDArray[np.int64]:
    """Rows spread evenly along the first aim, and those that are best in it."""
    order = chosen[np.argsort(firm.merit[chosen, 0], kind="stable")]
    if len(order) <= most:
        return order
    way = firm.merit[order, 0]
    spread = np.searchsorted(way, np.linspace(way[0], way[-1], most - most // TOP))
    return order[np.union1d(spread, np.arange(len(order) - most // TOP, len(order)))]


def _proposed(
    firm: Firm, space: Space, n_builds: int, stepped: NDArray[np.float64], generator: Generator
) -> Index:
    """Propose steps beside parents that are not `stepped`, and moves of the polish from all."""
    parents = firm.parents
    index, merit = space.index(rows_of(firm.known, parents)), np.nan_to_num(firm.merit[parents])
    beside = space.beside(index[~np.isin(firm.known["design"][parents], stepped)])
    beside = beside[generator.permutation(len(beside))[: n_builds // 2]]
    known = Population(parents, index, merit, firm.lack[parents])
    return np.concatenate([beside, around(known, n_builds - len(beside), space, generator)])


def at_poor_end(study: Study, designs: Results) -> Results:
    """Aims of designs at the poor ends of their bands, by key of the aim."""
    return {
        key: designs[band_key(key, poor_end(way == "maximise"))] for key, way in study.aims.items()
    }
