"""The evaluated designs that a search works with, and a record of the builds it has seen."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Mask
from engine.search.front import Merits, crowding, nondominated
from engine.search.space import Index


@dataclass(frozen=True, eq=False)
class Population:
    """Evaluated designs, one row each."""

    numbers: NDArray[np.int64]
    """Number of each design in the run, from 0."""
    index: Index
    merit: Merits
    """More is better; not used where a design is infeasible."""
    violation: NDArray[np.float64]
    """Sum over all limits; 0 if feasible."""

    @classmethod
    def told(
        cls, first: int, index: Index, merit: Merits, violation: NDArray[np.float64]
    ) -> "Population":
        """Make a population of designs in the order of the run, the first with this number."""
        numbers = np.arange(first, first + len(index))
        return cls(numbers, index, np.nan_to_num(merit), np.asarray(violation, dtype=float))

    def take(self, rows: NDArray[np.int64] | Mask) -> "Population":
        """Keep only these rows."""
        return Population(
            self.numbers[rows], self.index[rows], self.merit[rows], self.violation[rows]
        )

    def with_more(self, more: "Population") -> "Population":
        """Add more designs behind these."""
        return Population(
            np.concatenate([self.numbers, more.numbers]),
            np.concatenate([self.index, more.index]),
            np.concatenate([self.merit, more.merit]),
            np.concatenate([self.violation, more.violation]),
        )

    def front(self) -> "Population":
        """Feasible designs that no other beats, in the order of the run; of equals the first."""
        feasible = self.take(self.violation == 0.0)
        best = feasible.take(nondominated(feasible.merit))
        order = np.lexsort(best.merit.T)
        repeats = (np.diff(best.merit[order], axis=0) == 0.0).all(axis=1)
        return best.take(np.sort(order[np.append(True, ~repeats)[: len(order)]]))

    def thinned(self, most: int) -> "Population":
        """Of a front with more than `most` designs keep the `most` / 2 least crowded."""
        if len(self) <= most:
            return self
        room = crowding(self.merit, np.zeros(len(self), dtype=np.int64))
        return self.take(np.sort(np.argsort(-room, kind="stable")[: most // 2]))

    def __len__(self) -> int:
        """Count the designs."""
        return len(self.numbers)


class Seen:
    """Set of 64-bit numbers that adds and looks up whole arrays.

    It holds sorted blocks, each more than twice as long as the next. So each number is moved only a
    few times, and the cost per number does not grow with the set, as it would in one sorted array.
    """

    def __init__(self) -> None:
        self._blocks: list[NDArray[np.uint64]] = []

    def add(self, numbers: NDArray[np.uint64]) -> None:
        """Add numbers."""
        if not len(numbers):
            return
        block = np.sort(numbers)
        while self._blocks and len(self._blocks[-1]) <= 2 * len(block):
            block = np.concatenate([self._blocks.pop(), block])
            block.sort(kind="stable")  # merges two sorted halves
        self._blocks.append(block)

    def has(self, numbers: NDArray[np.uint64]) -> Mask:
        """Find which numbers are in the set."""
        known = np.zeros(len(numbers), dtype=np.bool_)
        for block in self._blocks:
            places = np.minimum(np.searchsorted(block, numbers), len(block) - 1)
            known |= block[places] == numbers
        return known
