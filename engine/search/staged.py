"""The search in stages: spread, evolve, polish, and refine at the closer level of the model.

Every stage is a function that proposes builds from what is known; this module decides which stage
is on, keeps what is known, and asks no build twice. The random numbers of a generation follow from
the seed, its stage and its number alone, so a search can go on from its stored designs and a mark.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engine.search.evolve import bred, survivors
from engine.search.front import Merits, growth
from engine.search.polish import around
from engine.search.population import Population, Seen
from engine.search.space import Index, Space

STAGES = ("screen", "evolve", "polish", "refine")
CHEAP = STAGES[:3]
"""Stages that are usual, in which every design is evaluated as the study's `flow` says."""
SHARES = {"screen": 0.1, "evolve": 0.6, "polish": 1.0}
"""Largest part of the designs left that a stage uses, where another is to follow."""
RARE = 0.05
"""Feasible share of a generation below which the screen goes on."""
TOLERANCE = 1e-4
"""Growth of hypervolume, as a share of it, that counts as none."""
ATTEMPTS = 40
"""Rounds of proposals before a generation is taken as it is; the second half look anywhere."""
FRONT = 4000
"""Designs of the front kept in mind at most; half of them are dropped when there are more."""
REFINED_TOGETHER = 40
"""Designs of a generation at the closer level."""


@dataclass(frozen=True)
class Mark:
    """Where a search stands between two generations; with the designs so far it can go on."""

    stage: str = "screen"
    generation: int = 0
    """Generations told."""
    parents: Sequence[int] = ()
    """Numbers of the designs from which to breed, best first."""
    began: int = 0
    """Designs told when the stage began."""
    looked: int = 0
    """Generations told when growth was last looked at."""
    front: Sequence[int] = ()
    front_looked: Sequence[int] = ()
    front_opened: Sequence[int] = ()
    """Numbers of the designs on the front now, at that look, and when the round began; a round is
    an evolution from scratch and its polish."""
    stalled: bool = False


class StagedSearch:
    """Ask a generation of builds, evaluate it, tell its merits and violations.

    A space no larger than the budget is listed from end to end instead.
    """

    looks_back = True
    """Going on needs the designs told before."""

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
        self._parents = self._front = self._closer = self._nobody = empty
        self._front_looked = self._front_opened = empty
        self._mark = Mark("list" if self._cheap == space.size else "screen")

    @property
    def budget(self) -> int:
        """Designs to be told at most."""
        return self._cheap + self._refined

    @property
    def stage(self) -> str:
        """Stage of the generation that is asked next: 'list' or one of `STAGES`; '' at the end."""
        return self._mark.stage

    @property
    def stalled(self) -> bool:
        """Whether the evaluations at the study's level ended because the front grew no more."""
        return self._mark.stalled

    @property
    def mark(self) -> Mark:
        """Where the search stands, once the last generation is told."""
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
        """Go on from a mark, given every design told until then in order."""
        told = Population.told(0, index, merit, violation)
        self._mark, self.told = mark, len(told)
        n_cheap = mark.began if mark.stage == "refine" else len(told)
        self._closer = told.take(told.numbers >= n_cheap)
        self._seen.add(self.space.hashes(index[:n_cheap]))
        self._parents, self._front, self._front_looked, self._front_opened = (
            told.take(np.array(numbers, dtype=np.int64))
            for numbers in (mark.parents, mark.front, mark.front_looked, mark.front_opened)
        )

    def ask(self) -> Index:
        """Propose the builds of the next generation; none at the end of budget or space."""
        if not self.stage:
            return self._nobody.index
        if self.stage == "refine":
            return self._ask_closer()
        wanted = min(self._generation, self._cheap - self.told)
        if self.stage == "list":
            return self.space.numbered(np.arange(self.told, self.told + wanted))
        generator = np.random.default_rng(self._seeds())
        found = self._nobody.index
        for attempt in range(ATTEMPTS):
            n_more = wanted if attempt == 0 else 4 * self._generation
            more = self._proposed(n_more, generator, is_last=attempt >= ATTEMPTS // 2)
            found = self._unseen(np.concatenate([found, more]))
            if len(found) >= wanted:
                break
        return found[:wanted]

    def tell(self, index: Index, merit: Merits, violation: NDArray[np.float64]) -> None:
        """Take in the generation just asked: all its builds, with 0 violation where feasible."""
        new = Population.told(self.told, index, merit, violation)
        self.told += len(new)
        self._mark = replace(self._mark, generation=self._mark.generation + 1)
        if self.stage == "refine":
            self._closer = self._closer.with_more(new)
        else:
            self._seen.add(self.space.hashes(index))
            self._front = self._front.with_more(new).front().thinned(FRONT)
        if self.stage in ("screen", "evolve"):
            population = self._parents.with_more(new)
            self._parents = population.take(survivors(population, self._generation))
        self._advance()

    def _seeds(self) -> list[int]:
        return [self._seed, STAGES.index(self.stage), self._mark.generation]

    def _proposed(self, n_builds: int, generator: np.random.Generator, *, is_last: bool) -> Index:
        if self.stage == "evolve" and len(self._parents) and not is_last:
            return bred(self._parents.index, n_builds, self.space, generator)
        if self.stage == "polish" and len(self._front) and not is_last:
            return around(self._front, n_builds, self.space, generator)
        return self.space.sample(n_builds, generator)

    def _unseen(self, index: Index) -> Index:
        """Drop repeats and builds told before, keeping the order."""
        hashes = self.space.hashes(index)
        first = np.sort(np.unique(hashes, return_index=True)[1])
        kept: Index = index[first[~self._seen.has(hashes[first])]]
        return kept

    def _ask_closer(self) -> Index:
        from engine.search.refine import proposed  # noqa: PLC0415  (optuna takes a second to load)

        wanted = min(REFINED_TOGETHER, self.budget - self.told)
        return proposed(
            self._front,
            self._closer,
            n_builds=wanted,
            judged=self._refined // 2,
            space=self.space,
            seeds=self._seeds(),
        )

    def _advance(self) -> None:
        """Decide whether the stage goes on, and which follows."""
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
        """Polish what was evolved; after that a new round, unless the last one brought nothing."""
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
        """Look at the growth once in `patience` generations."""
        if self._mark.generation - self._mark.looked < self._patience:
            return False
        grows = self._grows_since(self._front_looked)
        self._note_growth()
        return not grows

    def _grows_since(self, before: Population) -> bool:
        # Where nothing is feasible yet, there is all to gain.
        return not len(self._front) or growth(before.merit, self._front.merit) >= TOLERANCE
