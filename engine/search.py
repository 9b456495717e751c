"""Constrained two- or three-aim evolution by whole generations. The only home of optuna.

Each generation is bred in a fresh in-memory Optuna study that holds the current pool alone, so
the cost of a design does not grow with the run, and a run can go on from its stored designs.
"""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
import optuna
from numpy.typing import NDArray
from optuna.distributions import BaseDistribution, CategoricalDistribution, IntDistribution
from optuna.exceptions import ExperimentalWarning
from optuna.samplers import NSGAIISampler
from optuna.samplers.nsgaii import PolynomialMutation, VSBXCrossover

from engine.front import Merits
from engine.space import Index, Space

ATTEMPTS = 40
"""Rounds of proposals before a generation is taken as it is; the first half look near parents."""

_GENERATION = "NSGAIISampler:generation"  # the mark by which Optuna's sampler knows its pool


@dataclass(frozen=True, eq=False)
class Pool:
    """Evaluated designs from which the next generation is bred."""

    numbers: NDArray[np.int64]
    """Place of each in the run, from 0."""
    index: Index
    merit: Merits
    violation: NDArray[np.float64]
    """All limits together; 0 is feasible."""

    def take(self, rows: NDArray[np.int64]) -> "Pool":
        """Keep these rows alone."""
        return Pool(self.numbers[rows], self.index[rows], self.merit[rows], self.violation[rows])

    def with_children(self, children: "Pool") -> "Pool":
        """Put children behind these designs."""
        return Pool(
            np.concatenate([self.numbers, children.numbers]),
            np.concatenate([self.index, children.index]),
            np.concatenate([self.merit, children.merit]),
            np.concatenate([self.violation, children.violation]),
        )


@dataclass(frozen=True)
class Mark:
    """Where a search stands between two generations; with the designs so far it can go on."""

    generation: int = 0
    parents: tuple[int, ...] = ()
    """Numbers of the designs from which the last generation was bred."""
    children: int = 0
    """Designs of the last generation, which are the last of the run so far."""


class Search:
    """Ask a generation of builds, evaluate it, tell its merits and violations.

    The random numbers of a generation depend on the seed and the generation's number alone. No
    build is asked twice. A space no larger than the budget is listed from end to end instead.
    """

    def __init__(
        self, space: Space, *, aims: int, designs: int, generation: int, seed: int
    ) -> None:
        self.space = space
        self.budget = int(min(designs, space.size))
        self.told = 0
        """Designs told so far."""
        self._aims = aims
        self._generation_size = generation
        self._seed = seed
        self._number = 0
        self._seen = np.zeros(0, dtype=np.uint64)
        self._parents = self._pool = self._told_as(
            0, np.zeros((0, len(space.axes)), dtype=np.int64), np.zeros((0, aims)), np.zeros(0)
        )

    @property
    def mark(self) -> Mark:
        """Where the search stands, once the last generation is told."""
        children = len(self._pool.numbers) - len(self._parents.numbers)
        return Mark(self._number, tuple(self._parents.numbers.tolist()), children)

    def resume(
        self, mark: Mark, index: Index, merit: Merits, violation: NDArray[np.float64]
    ) -> None:
        """Go on from a mark, given every design told until then in order."""
        told = self._told_as(0, index, merit, violation)
        self.told, self._number = len(index), mark.generation
        self._seen = np.unique(self.space.hashes(index))
        self._parents = told.take(np.array(mark.parents, dtype=np.int64))
        children = told.take(np.arange(self.told - mark.children, self.told))
        self._pool = self._parents.with_children(children)

    def ask(self) -> Index:
        """Propose the builds of the next generation; none at the end of budget or space."""
        wanted = min(self._generation_size, self.budget - self.told)
        if self.budget == self.space.size:
            return self.space.numbered(np.arange(self.told, self.told + wanted))
        found = self._pool.index[:0]
        generator = np.random.default_rng([self._seed, self._number])
        if wanted and self._number:
            rows, children = self._breed(wanted)
            self._parents = self._pool.take(rows)
            found = self._unseen(children)
        for attempt in range(ATTEMPTS):
            if len(found) >= wanted:
                break
            is_near = self._number and attempt < ATTEMPTS // 2
            propose = self._near_parents if is_near else self.space.sample
            more = propose(4 * self._generation_size, generator)
            found = self._unseen(np.concatenate([found, more]))
        return found[:wanted]

    def tell(self, index: Index, merit: Merits, violation: NDArray[np.float64]) -> None:
        """Take in the generation just asked: all its builds, with 0 violation where feasible."""
        children = self._told_as(self.told, index, merit, violation)
        self._pool = self._parents.with_children(children)
        new = np.unique(self.space.hashes(index))
        # A merge, not a sort: its cost per design stays small after millions.
        self._seen = np.insert(self._seen, np.searchsorted(self._seen, new), new)
        self.told += len(index)
        self._number += 1

    def _told_as(
        self, first: int, index: Index, merit: Merits, violation: NDArray[np.float64]
    ) -> Pool:
        # Optuna takes no NaN; merits of an infeasible design are not looked at.
        return Pool(np.arange(first, first + len(index)), index, np.nan_to_num(merit), violation)

    def _unseen(self, index: Index) -> Index:
        """Drop repeats and builds told before, keeping the order."""
        hashes = self.space.hashes(index)
        first = np.sort(np.unique(hashes, return_index=True)[1])
        found = np.minimum(np.searchsorted(self._seen, hashes[first]), len(self._seen) - 1)
        known = (
            self._seen[found] == hashes[first] if len(self._seen) else np.zeros(len(first), bool)
        )
        kept: Index = index[first[~known]]
        return kept

    def _near_parents(self, n_builds: int, generator: np.random.Generator) -> Index:
        """Take parents a few steps along one or two axes, now and then far."""
        parents = self._parents.index
        start = parents[generator.integers(len(parents), size=n_builds)]
        moved = generator.random(start.shape) < 1.5 / start.shape[1]
        steps = generator.standard_cauchy(start.shape) * np.maximum(1.0, self.space.counts / 100)
        end = start + np.where(moved, np.rint(steps), 0.0)
        return np.clip(end, 0, self.space.counts - 1).astype(np.int64)

    def _breed(self, n_children: int) -> tuple[NDArray[np.int64], Index]:
        """Select parents from the pool (rows) and breed children from them by NSGA-II."""
        seed = np.random.SeedSequence([self._seed, self._number]).generate_state(1)[0]
        distributions = _distributions(self.space)
        with _quiet_optuna():
            sampler = NSGAIISampler(
                population_size=min(self._generation_size, len(self._pool.index)),
                crossover=VSBXCrossover(),
                mutation=PolynomialMutation(),
                seed=int(seed),
            )
            study = optuna.create_study(directions=["maximize"] * self._aims, sampler=sampler)
            study.add_trials(_trials(self._pool, distributions))
            parents = sampler.get_parent_population(study, 1)
            if not parents:
                msg = f"optuna {optuna.__version__} did not take the pool as a generation"
                raise RuntimeError(msg)
            # One open trial stands for every child: asking the study for each doubles the cost.
            child = optuna.trial.create_trial(
                state=optuna.trial.TrialState.RUNNING, system_attrs={_GENERATION: 1}
            )
            children = np.empty((n_children, len(distributions)), dtype=np.int64)
            for row in children:
                bred = sampler.sample_relative(study, child, distributions)
                for i, (name, values) in enumerate(distributions.items()):
                    # A mutated word is left out, to be drawn by itself.
                    row[i] = (
                        bred[name]
                        if name in bred
                        else sampler.sample_independent(study, child, name, values)
                    )
        return np.array([trial.number for trial in parents]), children


def _distributions(space: Space) -> dict[str, BaseDistribution]:
    return {
        axis.key: CategoricalDistribution(tuple(range(axis.count)))
        if axis.is_text
        else IntDistribution(0, axis.count - 1)
        for axis in space.axes
    }


def _trials(
    pool: Pool, distributions: dict[str, BaseDistribution]
) -> list[optuna.trial.FrozenTrial]:
    rows = zip(pool.index.tolist(), pool.merit.tolist(), pool.violation.tolist(), strict=True)
    return [
        optuna.trial.create_trial(
            params=dict(zip(distributions, index, strict=True)),
            distributions=distributions,
            values=merit,
            constraints={"violation": violation},
            system_attrs={_GENERATION: 0},
        )
        for index, merit, violation in rows
    ]


@contextmanager
def _quiet_optuna() -> Iterator[Any]:
    """Silence Optuna's own messages, and leave its verbosity as it was."""
    verbosity = optuna.logging.get_verbosity()
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ExperimentalWarning)
            yield
    finally:
        optuna.logging.set_verbosity(verbosity)
