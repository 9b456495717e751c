"""A map of the whole space: every build, or builds spread evenly, in a fixed order.

A sweep is used like a search, but does not learn from results. It keeps no designs, so the cost of
a design stays the same after millions of them.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from engine.search.front import Merits
from engine.search.space import Index, Space, stored_whole

if TYPE_CHECKING:
    from scipy.stats import qmc

BATCH = 8192
"""Designs proposed together; a power of two, because only then are Sobol points balanced."""
LARGE = 8 * BATCH
"""Designs of a large grid proposed together."""
SAMPLE = 500_000
"""Builds of a grid too large to be stored whole that are stored beside what is near its front."""


@dataclass(frozen=True)
class SweepMark:
    """State of a sweep, stored in part files."""

    told: int = 0


class Sweep:
    """Map the space by asking for a batch of builds and telling that it is evaluated.

    A grid is every build of the space in order, the last axis changing fastest. Otherwise the
    points of one scrambled Sobol sequence are moved to the nearest builds, so a build of a coarse
    space may come twice. A space that is no larger than `designs` is mapped as a grid.
    """

    looks_back = False
    """Continuing does not need the designs told before."""
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
        is_large = method == "grid" and not stored_whole(self.budget)
        self.every = -(-self.budget // SAMPLE) if is_large else 1
        """One in so many designs is stored whatever it gives; 1 where all are."""
        self._batch = LARGE if self.every > 1 else BATCH
        self._seed = seed
        self._sequence = self._from(0)

    @property
    def stage(self) -> str:
        """'sweep'; '' at the end."""
        return "sweep" if self.told < self.budget else ""

    @property
    def mark(self) -> SweepMark:
        """State of the sweep after the last batch told."""
        return SweepMark(self.told)

    def resume(self, mark: SweepMark) -> None:
        """Continue from a mark; the designs told until then are not needed."""
        self.told = mark.told
        self._sequence = self._from(mark.told)

    def ask(self) -> Index:
        """Propose the builds of the next batch; none at the end."""
        end = min(self.told + self._batch, self.budget)
        if self._is_grid:
            return self.space.numbered(np.arange(self.told, end))
        if self._sequence.num_generated != self.told:
            self._sequence = self._from(self.told)
        # A whole batch is drawn each time, even if less of the budget is left.
        points = self._sequence.random(BATCH) if end > self.told else np.zeros((0, 1))
        return self.space.from_unit(points[: end - self.told])

    def tell(self, index: Index, _merit: Merits, _violation: NDArray[np.float64]) -> None:
        """Count the batch just proposed as evaluated."""
        self.told += len(index)

    def _from(self, told: int) -> "qmc.Sobol":
        from scipy.stats import qmc  # noqa: PLC0415  not before it is needed

        n_axes = max(len(self.space.axes), 1)
        sequence = qmc.Sobol(n_axes, scramble=True, rng=np.random.default_rng(self._seed))
        return sequence.fast_forward(told) if told else sequence
