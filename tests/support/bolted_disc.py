"""Finite elements for a ring held by bolts with washers; what differs from `webbed_disc`.

The ring has no web: washers on a circle between bore and rim hold it out of its plane, and it is
free to stretch in its plane. Tight washers hold their whole face, which counts as a square that
bends a plate as much as its circle does; loose bolts hold a point each and let it tilt.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from engine.physics.machine.disc import rotating_stress, thermal_stress
from engine.physics.machine.web import WIDEST_WASHER
from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Floats, graded

SQUARE = 0.865
"""Half the side of the square over the radius of the washer: between that of equal area (0.886) and
that of equal logarithmic capacity (0.848)."""
BESIDE, ACROSS = 4, 4
"""Elements along the radius on each side of a washer, and along the angle of a washer."""
STEP = 1e-4
"""Of Poisson's ratio, for slopes."""


@dataclass(frozen=True)
class BoltedWeb:
    """Shape of a ring on bolts; lengths over the rim radius."""

    bore: float
    spokes: int
    """Number of bolts."""
    circle: float
    """Radius of the bolt circle."""
    washer: float
    """Radius of a washer."""
    hole: float = 0.0
    """Radius of the hole for a bolt."""

    @property
    def half(self) -> float:
        """Half the side of the square."""
        return SQUARE * self.washer

    @property
    def tip(self) -> float:
        """Half the angle that a washer holds."""
        return float(min(self.half / self.circle, WIDEST_WASHER * np.pi / self.spokes))


@dataclass(frozen=True)
class RingPlane:
    """Stress of spin and of a hot rim in a ring that stretches freely."""

    web: BoltedWeb

    def stresses(self, points: Floats, poisson: float) -> tuple[Floats, Floats, Floats]:
        """Stress (2, 2, point) at points (2, point): by spin, its slope with nu, by heat."""
        radius = np.clip(np.hypot(*points), self.web.bore, 1.0)
        ring = {"r_inner": self.web.bore, "r_outer": 1.0, "radius": radius}
        along = points / np.hypot(*points)
        across = np.array([-along[1], along[0]])

        def tensor(radial: Floats, hoop: Floats) -> Floats:
            pulls = radial * along[:, None] * along[None], hoop * across[:, None] * across[None]
            return np.asarray(pulls[0] + pulls[1])

        def spun(nu: float) -> Floats:
            found = rotating_stress(density=1.0, speed=1.0, poisson=nu, **ring)
            return tensor(np.asarray(found.radial), np.asarray(found.hoop))

        slope = (spun(poisson + STEP) - spun(poisson - STEP)) / (2 * STEP)
        warm = thermal_stress(youngs_modulus=1.0, expansion=1.0, temperature_difference=1.0, **ring)
        heat = tensor(np.asarray(warm.radial), np.asarray(warm.hoop))
        return spun(poisson), slope, heat


@dataclass(frozen=True)
class BoltedSector(Sector):
    """Stiffness and mass of one sector of a ring on bolts.

    Held `gripped` by tight washers, `hub` by loose bolts, or `free` not at all.
    """

    web: BoltedWeb  # type: ignore[assignment]
    hold: Literal["gripped", "hub", "free"]  # type: ignore[assignment]
    finer: int = 1
    """How many times as many elements along each side."""

    @property
    def _twisted(self) -> bool:
        return False

    @cached_property
    def _lines(self) -> tuple[Floats, Floats]:
        web, k = self.web, self.finer
        ends = web.circle - web.half, web.circle + web.half
        radii = [
            web.bore + ends[0] - graded(web.bore, ends[0], BESIDE * k, 1.6)[::-1],
            np.linspace(*ends, 2 * k + 1),
            graded(ends[1], 1.0, BESIDE * k, 1.6),
        ]
        if ends[1] > 1.0:  # at the rim
            radii = [radii[0], np.linspace(ends[0], web.circle, k + 1)]
        elif ends[0] < web.bore + 1e-9:
            radii = radii[1:]
        within = np.linspace(-web.tip, web.tip, ACROSS * k + 1)
        beyond = graded(web.tip, np.pi / web.spokes, k * self.fine.opening, 1.8)
        angles = np.concatenate([-beyond[:0:-1], within, beyond[1:]])
        return np.unique(np.round(np.concatenate(radii), 12)), angles

    @property
    def circles(self) -> tuple[int, int, int]:
        """Rows of nodes at the bore, at the bolts and at the rim."""
        radii = self._lines[0]
        return 0, int(np.argmin(np.abs(radii - self.web.circle))), radii.size - 1

    def _held(
        self, row: NDArray[np.int64], angle: Floats, kind: NDArray[np.int64]
    ) -> NDArray[np.bool_]:
        radii, _ = self._lines
        off = np.abs(radii[row] - self.web.circle)
        if self.hold == "free":
            return np.zeros(row.shape, dtype=bool)
        if self.hold == "hub":
            return np.asarray((off < 1e-9) & (np.abs(angle) < 1e-9) & (kind == 0))
        return np.asarray((off < self.web.half + 1e-9) & (np.abs(angle) < self.web.tip + 1e-9))

    def plane(self) -> RingPlane:  # type: ignore[override]
        """The ring in its plane."""
        return RingPlane(self.web)
