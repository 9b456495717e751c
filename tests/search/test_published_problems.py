"""Our search against a well-known evolutionary library, pymoo, at equal evaluations."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.core.callback import Callback
from pymoo.optimize import minimize
from pymoo.problems import get_problem

from engine.search.front import hypervolume
from engine.search.space import Axis, Space
from engine.search.staged import StagedSearch

Matrix = NDArray[np.float64]

SOURCES = {
    "osy": "Osyczka and Kundu 1995, Structural Optimization 10, 94-99",
    "tnk": "Tanaka, Watanabe, Furukawa and Tanino 1995, IEEE SMC, 1556-1561",
    "mw3": "Ma and Wang 2019, IEEE Trans. Evol. Comput. 23, 972-986",
}
REFERENCES = {"osy": [0.0, 386.0], "tnk": [1.2, 1.2], "mw3": [1.1, 1.1]}
"""Costs worse than the front, from which hypervolume is measured."""


@dataclass(frozen=True)
class Problem:
    name: str

    @property
    def stated(self) -> Any:
        return get_problem(self.name)

    def hypervolume(self, costs: Matrix) -> float:
        return hypervolume(-costs, -np.array(REFERENCES[self.name]))

    def true(self) -> float:
        """Hypervolume of the true front."""
        along = np.linspace(0.0, 1.0, 4001)
        one, zero = np.ones_like(along), np.zeros_like(along)
        if self.name == "osy":
            # Five straight pieces (Deb 2001, Multi-objective optimization using evolutionary
            # algorithms, 8.3.4, from memory).
            pieces = [
                [5 * one, one, 1 + 4 * along, zero, 5 * one, zero],
                [5 * one, one, 1 + 4 * along, zero, one, zero],
                [4.056 + 0.944 * along, (2.056 + 0.944 * along) / 3, one, zero, one, zero],
                [zero, 2 * one, 1 + 2.732 * along, zero, one, zero],
                [along, 2 - along, one, zero, one, zero],
            ]
            x = np.concatenate([np.stack(piece, axis=1) for piece in pieces])
            costs, past = self.evaluate(x)
            return self.hypervolume(costs[(past <= 1e-9).all(axis=1)])
        if self.name == "tnk":
            # On the first constraint, a curve in polar form; the filter does the rest.
            angle = np.linspace(0, np.pi / 2, 200_001)
            radius = np.sqrt(1 + 0.1 * np.cos(16 * angle))
            curve = np.stack([radius * np.sin(angle), radius * np.cos(angle)], axis=1)
            return self.hypervolume(curve[((curve - 0.5) ** 2).sum(axis=1) <= 0.5])
        return self.hypervolume(self.stated.pareto_front())

    def evaluate(self, x: Matrix) -> tuple[Matrix, Matrix]:
        """Costs, and constraints that must not be positive."""
        costs, past = self.stated.evaluate(x, return_values_of=["F", "G"])
        return costs, past

    def ours(self, *, designs: int, generation: int, seed: int) -> float:
        """Hypervolume of every feasible design that our search evaluates."""
        problem = self.stated
        ends = zip(problem.xl.tolist(), problem.xu.tolist(), strict=True)
        axes = (Axis(f"x{i}", low=low, high=high) for i, (low, high) in enumerate(ends))
        space = Space(tuple(axes), {})
        search = StagedSearch(
            space, aims=2, designs=designs, generation=generation, seed=seed, patience=designs
        )
        found = []
        while len(index := search.ask()):
            costs, past = self.evaluate(np.stack(list(space.builds(index).values()), axis=1))
            violation = np.maximum(past, 0.0).sum(axis=1)
            found.append(costs[violation == 0.0])
            search.tell(index, -costs, violation)
        assert search.told == designs
        return self.hypervolume(np.concatenate(found))

    def theirs(self, *, designs: int, generation: int, seed: int) -> float:
        """Hypervolume of every feasible design that pymoo's NSGA-II evaluates."""
        keeper = _Keeper()
        algorithm = NSGA2(pop_size=generation)
        minimize(self.stated, algorithm, ("n_eval", designs), seed=seed, callback=keeper)
        assert keeper.evaluated == designs
        return self.hypervolume(np.concatenate(keeper.found))


class _Keeper(Callback):  # type: ignore[misc]
    """Keeps the feasible children of every generation, as an archive of the library would."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Matrix] = []
        self.evaluated = 0

    def notify(self, algorithm: Any) -> None:
        born = algorithm.pop if algorithm.off is None else algorithm.off
        self.evaluated += len(born)
        self.found.append(born.get("F")[born.get("feas").ravel()])


def medians(name: str, *, designs: int, seeds: range) -> tuple[float, float]:
    """Hypervolume of our search and of the library, as shares of that of the true front."""
    problem = Problem(name)
    true = problem.true()
    ours, theirs = (
        float(np.median([search(designs=designs, generation=100, seed=seed) for seed in seeds]))
        for search in (problem.ours, problem.theirs)
    )
    return ours / true, theirs / true


@pytest.mark.parametrize("name", SOURCES)
def test_no_less_of_the_front_is_found_than_by_the_library(name: str) -> None:
    ours, theirs = medians(name, designs=5000, seeds=range(1, 6))
    assert theirs <= ours < 1.0


@pytest.mark.speed
@pytest.mark.parametrize("designs", [5000, 20_000])
def test_share_of_the_front_found(designs: int) -> None:
    for name in SOURCES:
        ours, theirs = medians(name, designs=designs, seeds=range(1, 12))
        print(f"{name} {designs} designs: ours {ours:.4f}, pymoo {theirs:.4f}")  # noqa: T201
