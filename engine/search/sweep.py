"""A map of the whole space: every build of it, or builds spread evenly, in a fixed order.

A sweep asks and is told as a search is, but learns nothing, so it keeps no design in mind and its
cost per design stays the same after millions.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from engine.search.front import Merits
from engine.search.space import Index, Space

if TYPE_CHECKING:
    from scipy.stats import qmc

BATCH = 8192
"""Designs asked together; a power of two, for Sobol points are balanced only then."""


@dataclass(frozen=True)
class SweepMark:
    """Where a sweep stands."""

    told: int = 0


class Sweep:
    """Ask a batch of builds, evaluate it, tell that it is done.

    A grid is every build of the space in order, the last axis running fastest. Otherwise the
    points of one scrambled Sobol sequence are snapped to the space, so that a build of a coarse
    space may come twice; a space no larger than `designs` is done as a grid.
    """

    looks_back = False
    """Whether going on needs the designs told before."""
    stalled = False
    """A sweep always ends at its budget."""

    def __init__(
        self, space: Space, *, method: Literal["grid", "sobol"], designs: int, seed: int
    ) -> None:
        self.space = space
        self.told = 0
        """Designs told so far."""
        self._is_grid = method == "grid" or designs >= space.size
        self.budget = int(space.size) if self._is_grid else designs
        """Designs to be told."""
        self._seed = seed
        self._sequence = self._from(0)

    @property
    def stage(self) -> str:
        """'sweep', and '' at the end."""
        return "sweep" if self.told < self.budget else ""

    @property
    def mark(self) -> SweepMark:
        """Where the sweep stands, once the last batch is told."""
        return SweepMark(self.told)

    def resume(self, mark: SweepMark) -> None:
        """Go on from a mark; the designs told until then are not needed."""
        self.told = mark.told
        self._sequence = self._from(mark.told)

    def ask(self) -> Index:
        """Propose the builds of the next batch; none at the end."""
        end = min(self.told + BATCH, self.budget)
        if self._is_grid:
            return self.space.numbered(np.arange(self.told, end))
        if self._sequence.num_generated != self.told:
            self._sequence = self._from(self.told)
        # A whole batch is drawn each time, whatever is left of the budget.
        points = self._sequence.random(BATCH) if end > self.told else np.zeros((0, 1))
        return self.space.from_unit(points[: end - self.told])

    def tell(self, index: Index, _merit: Merits, _violation: NDArray[np.float64]) -> None:
        """Take the batch just asked as done."""
        self.told += len(index)

    def _from(self, told: int) -> "qmc.Sobol":
        from scipy.stats import qmc  # noqa: PLC0415  not before it is needed

        n_axes = max(len(self.space.axes), 1)
        sequence = qmc.Sobol(n_axes, scramble=True, rng=np.random.default_rng(self._seed))
        return sequence.fast_forward(told) if told else sequence
