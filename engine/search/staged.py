"""The search in stages: screen, evolve, polish, and refine with the gap flow resolved.

The stage firm is no part of it: it needs bands, and follows when the search has ended.

Every stage is a function that proposes builds from the designs known so far. This module decides
which stage is next, keeps the known designs, and proposes no build twice. The random numbers of a
generation depend only on the seed, the stage and the number of the generation, so a search can
continue from its stored designs and a mark.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Mask
from engine.search.evolve import bred_by_kinds, survivors_of_kinds
from engine.search.front import Merits, beaten, growth, ranks
from engine.search.polish import tries_around
from engine.search.population import Population, Seen
from engine.search.space import Index, Proposal, Space

STAGES = ("screen", "evolve", "polish", "refine")
CHEAP = STAGES[:3]
"""Stages in which designs are evaluated with the study's `flow`; they are the default."""
SHARES = {"screen": 0.1, "evolve": 0.6, "polish": 1.0}
"""Largest share of the remaining designs that a stage uses if another stage follows."""
RARE = 0.05
"""Share of feasible designs in a generation below which the screen continues."""
TOLERANCE = 1e-4
"""Relative growth of hypervolume below which a front counts as not growing."""
ATTEMPTS = 40
"""Rounds of proposals to fill a generation; the second half of them propose builds anywhere."""
SPARE = 64
"""Builds made at least in a further attempt."""
FRONT = 4000
"""Largest number of designs kept of the front; a larger front is thinned to half of it."""
REFINED_TOGETHER = 40
"""Designs of a generation with resolved gap flow."""


@dataclass(frozen=True)
class Mark:
    """State of a search between two generations, stored in part files.

    With this and its designs so far a search can continue.
    """

    stage: str = "screen"
    generation: int = 0
    """Generations evaluated."""
    parents: Sequence[int] = ()
    """Numbers of the designs to breed from, best first."""
    began: int = 0
    """Designs evaluated when the stage began."""
    looked: int = 0
    """Generations evaluated when the growth of the front was last checked."""
    front: Sequence[int] = ()
    front_looked: Sequence[int] = ()
    front_opened: Sequence[int] = ()
    """Numbers of the designs on the front: now, at the last check, and when the round began. A
    round is an evolution from scratch and its polish."""
    stalled: bool = False


@dataclass(frozen=True)
class Outlook:
    """Between what builds are that are not evaluated to the end, one row each."""

    best: Merits
    """No merit is more."""
    worst: Merits
    """No merit of a feasible build is less."""
    violation: NDArray[np.float64]
    """Limits are violated by no less."""


class StagedSearch:
    """Search by asking for a generation of builds and telling their merits and violations.

    A space that is no larger than the budget is evaluated from end to end instead.
    """

    looks_back = True
    """Continuing needs the designs told before."""

    def __init__(
        self,
        space: Space,
        *,
        aims: int,
        designs: int,
        generation: int,
        seed: int,
        stages: Sequence[str] = CHEAP,
        patience: int = 20,
        refined: int = 0,
    ) -> None:
        self.space = space
        self.told = 0
        """Designs told so far."""
        self._cheap = int(min(designs, space.size))
        self._refined = refined if "refine" in stages else 0
        self._stages = stages
        self._generation = generation
        self._seed = seed
        self._patience = patience
        self._seen = Seen()
        none = np.zeros((0, len(space.axes)), dtype=np.int64)
        empty = Population.told(0, none, np.zeros((0, aims)), np.zeros(0))
        self._parents = self._front = self._resolved = self._nobody = empty
        self._front_looked = self._front_opened = empty
        self._mark = Mark("list" if self._cheap == space.size else "screen")

    @property
    def budget(self) -> int:
        """Largest number of designs to be told."""
        return self._cheap + self._refined

    @property
    def stage(self) -> str:
        """Stage of the next generation: 'list' or one of `STAGES`; '' at the end."""
        return self._mark.stage

    @property
    def stalled(self) -> bool:
        """Whether the stages before refine ended because the front stopped growing."""
        return self._mark.stalled

    @property
    def mark(self) -> Mark:
        """State of the search after the last generation told."""
        return replace(
            self._mark,
            parents=self._parents.numbers.tolist(),
            front=self._front.numbers.tolist(),
            front_looked=self._front_looked.numbers.tolist(),
            front_opened=self._front_opened.numbers.tolist(),
        )

    def resume(
        self, mark: Mark, index: Index, merit: Merits, violation: NDArray[np.float64]
    ) -> None:
        """Continue from a mark, with all designs told until then in their order."""
        told = Population.told(0, index, merit, violation)
        self._mark, self.told = mark, len(told)
        n_cheap = mark.began if mark.stage == "refine" else len(told)
        self._resolved = told.take(told.numbers >= n_cheap)
        self._seen.add(self.space.hashes(index[:n_cheap]))
        self._parents, self._front, self._front_looked, self._front_opened = (
            told.take(np.array(numbers, dtype=np.int64))
            for numbers in (mark.parents, mark.front, mark.front_looked, mark.front_opened)
        )

    def ask(self) -> Index:
        """Propose the builds of the next generation; none when budget or space is used up."""
        if not self.stage:
            return self._nobody.index
        if self.stage == "refine":
            return self._ask_refined()
        wanted = min(self._generation, self._cheap - self.told)
        if self.stage == "list":
            return self.space.numbered(np.arange(self.told, self.told + wanted))
        generator = np.random.default_rng(self._seeds())
        found, ours, missing = [self._nobody.index], Seen(), wanted
        for attempt in range(ATTEMPTS):
            n_more = wanted if attempt == 0 else 4 * self._generation
            make = self._proposed(n_more, generator, is_last=attempt >= ATTEMPTS // 2)
            made = 0
            while made < n_more:
                # Few are missing after the first attempt, so most others need not be made.
                after = n_more if attempt == 0 else min(made + 3 * missing + SPARE, n_more)
                new = self.unseen(make(slice(made, after)), ours)[:missing]
                ours.add(self.space.hashes(new))
                found.append(new)
                missing -= len(new)
                if not missing:
                    return np.concatenate(found)
                made = after
        return np.concatenate(found)

    def tell(self, index: Index, merit: Merits, violation: NDArray[np.float64]) -> None:
        """Take the results of the generation just proposed; violation is 0 where feasible."""
        new = Population.told(self.told, index, merit, violation)
        self.told += len(new)
        self._mark = replace(self._mark, generation=self._mark.generation + 1)
        if self.stage == "refine":
            self._resolved = self._resolved.with_more(new)
        else:
            self._seen.add(self.space.hashes(index))
            self._front = self._front.with_more(new).front().thinned(FRONT)
        if self.stage in ("screen", "evolve"):
            population = self._parents.with_more(new)
            kinds = self.space.kinds(population.index)
            kept = survivors_of_kinds(population, kinds, self._generation)
            self._parents = population.take(kept)
        self._advance()

    def hopeless(self, index: Index, outlook: Outlook) -> Mask:
        """Find builds that change nothing in the search, whatever they are within an outlook.

        They come neither on the front nor among the parents. While parents are infeasible, the
        farthest of them sets what is too far. Once all are feasible, a build is not bred from that
        any of the last rank beats: as many are before it. Yet if it is feasible and worse than all
        parents in an aim, it counts, as their crowding is measured by the spread of all.
        """
        found = np.zeros(len(index), dtype=np.bool_)
        if self.stage in ("list", "polish") and len(self._front):
            return np.asarray((outlook.violation > 0.0) | beaten(outlook.best, self._front.merit))
        if self.stage not in ("screen", "evolve"):
            return found
        kinds, theirs = self.space.kinds(index), self.space.kinds(self._parents.index)
        present = np.unique(theirs)
        for kind in present:
            parents = self._parents.take(theirs == kind)
            if len(parents) * len(present) < self._generation:
                continue
            farthest = parents.violation.max()
            ours = outlook.violation >= farthest
            if farthest == 0.0:
                rank = ranks(parents.merit)
                inside = (outlook.worst >= parents.merit.min(axis=0)).all(axis=1)
                ours = outlook.violation > 0.0
                ours |= inside & beaten(outlook.best, parents.merit[rank == rank.max()])
            found |= (kinds == kind) & ours
        return found

    def unseen(self, index: Index, ours: Seen | None = None) -> Index:
        """Drop repeats and builds told before, or among `ours`; keep the order."""
        index = self.space.without_idle(index)
        hashes, first = np.unique(self.space.hashes(index), return_index=True)
        known = self._seen.has(hashes)
        if ours is not None:
            known |= ours.has(hashes)
        kept: Index = index[np.sort(first[~known])]
        return kept

    def mark_seen(self, index: Index) -> None:
        """Take note of builds evaluated besides the search."""
        self._seen.add(self.space.hashes(index))

    def _seeds(self) -> list[int]:
        return [self._seed, STAGES.index(self.stage), self._mark.generation]

    def _proposed(
        self, n_builds: int, generator: np.random.Generator, *, is_last: bool
    ) -> Proposal:
        if self.stage == "evolve" and len(self._parents) and not is_last:
            parents = self._parents.index
            kinds = self.space.kinds(parents)
            return bred_by_kinds(parents, kinds, n_builds, self.space, generator)
        if self.stage == "polish" and len(self._front) and not is_last:
            return tries_around(self._front, n_builds, self.space, generator)
        return self.space.sample(n_builds, generator).__getitem__

    def _ask_refined(self) -> Index:
        from engine.search.refine import proposed  # noqa: PLC0415  (optuna takes a second to load)

        wanted = min(REFINED_TOGETHER, self.budget - self.told)
        return proposed(
            self._front,
            self._resolved,
            n_builds=wanted,
            judged=self._refined // 2,
            space=self.space,
            seeds=self._seeds(),
        )

    def _advance(self) -> None:
        """Decide whether the stage continues, and which one follows."""
        stage, used = self.stage, self.told - self._mark.began
        if stage == "refine":
            if used >= self._refined:
                self._enter("")
        elif self.told >= self._cheap:
            self._end()
        elif stage == "screen":
            if not self._screens_on(used):
                self._enter("evolve" if "evolve" in self._stages else "polish")
        elif stage != "list" and (self._stands_still() or used >= self._share(stage)):
            self._follow(stage)

    def _screens_on(self, used: int) -> bool:
        follow = [stage for stage in ("evolve", "polish") if stage in self._stages]
        if not follow or "screen" not in self._stages:
            return not follow
        feasible = (self._parents.violation == 0.0).sum()
        is_done = "evolve" in follow and feasible >= RARE * self._generation
        return not is_done and used < self._share("screen")

    def _share(self, stage: str) -> int:
        follows = stage != "evolve" or "polish" in self._stages
        left = self._cheap - self._mark.began
        return int(SHARES[stage] * left) if follows else left

    def _follow(self, stage: str) -> None:
        """After evolve comes polish, then a new round, unless the last round brought no growth."""
        if stage == "evolve" and "polish" in self._stages and len(self._front):
            self._enter("polish")
        elif "evolve" in self._stages and self._grows_since(self._front_opened):
            self._front_opened = self._front
            self._parents = self._nobody
            self._enter("evolve")
        else:
            self._mark = replace(self._mark, stalled=True)
            self._end()

    def _end(self) -> None:
        self._enter("refine" if self._refined and len(self._front) else "")

    def _enter(self, stage: str) -> None:
        self._mark = replace(self._mark, stage=stage, began=self.told)
        self._note_growth()

    def _note_growth(self) -> None:
        self._mark = replace(self._mark, looked=self._mark.generation)
        self._front_looked = self._front

    def _stands_still(self) -> bool:
        """Check every `patience` generations whether the front has stopped growing."""
        if self._mark.generation - self._mark.looked < self._patience:
            return False
        grows = self._grows_since(self._front_looked)
        self._note_growth()
        return not grows

    def _grows_since(self, before: Population) -> bool:
        # While nothing is feasible the front counts as growing.
        return not len(self._front) or growth(before.merit, self._front.merit) >= TOLERANCE
