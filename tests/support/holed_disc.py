"""Finite elements for a disc with round holes in a closed ring; what differs from `webbed_disc`.

The holes touch the circle of the exhaust bore from inside, and the hub from outside. Spacers hold
the hub, or beside it all metal between the holes as far as radial lines from the middle touch them,
and from there outward arms between those lines, to the bore. Integrals end at the edges of the
holes, within the elements that they cut, so that the space of functions is that of `webbed_disc`.

Reference: Parvizian, Duester and Rank, Finite cell method, Comput. Mech. 41, 2007 (elements that an
edge cuts).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import skfem  # type: ignore[import-untyped]
from numpy.typing import NDArray

from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Fineness, Floats, Plane, graded, joined, polar

RADIAL_POINTS = 9
"""Of integration along the radius, where an edge may cut."""
LEAST_MASS = 1e-15
"""Of a function that counts."""


@dataclass(frozen=True)
class HoledWeb:
    """Shape of a disc with round holes; lengths over the rim radius."""

    bore: float
    spokes: int
    """Number of holes, and of walls between them."""
    spoke_width: float
    """Of the wall between two holes, where it is narrowest."""
    shaft: float = 0.0

    @property
    def hole(self) -> float:
        """Radius of a hole."""
        sine = np.sin(np.pi / self.spokes)
        return float((self.bore * sine - self.spoke_width / 2) / (1 + sine))

    @property
    def pitch(self) -> float:
        """Radius of the circle on which the holes lie."""
        return self.bore - self.hole

    @property
    def hub(self) -> float:
        """Radius of the circle that the holes touch from outside."""
        return self.bore - 2 * self.hole

    @property
    def touched(self) -> float:
        """Radius at which lines from the middle touch the holes."""
        return float(np.sqrt(self.pitch**2 - self.hole**2))

    @property
    def tip(self) -> float:
        """Angle of that line from the middle of the wall."""
        return float(np.pi / self.spokes - np.arcsin(self.hole / self.pitch))

    def edge(self, radius: Floats) -> Floats:
        """Angle from the middle of the wall at which metal ends."""
        r = np.clip(radius, self.hub, self.bore)
        ends = np.abs(r - self.pitch) > self.hole * (1 - 1e-12)  # where rounding would open a crack
        cosine = (r**2 + self.pitch**2 - self.hole**2) / (2 * r * self.pitch)
        half = np.where(ends, 0.0, np.arccos(np.clip(cosine, -1.0, 1.0)))
        return np.asarray(np.pi / self.spokes - half)


def holed_around(web: HoledWeb, fine: Fineness) -> Floats:
    """Angles of the nodes, closer beside the wall."""
    within = graded(-web.tip, web.tip, fine.across, 1.3, both=True)
    beyond = graded(web.tip, np.pi / web.spokes, fine.opening, 1.6)
    return np.concatenate([-beyond[:0:-1], within, beyond[1:]])


def holed_mesh(web: HoledWeb, fine: Fineness, *, arms: bool) -> skfem.MeshTri:
    """Triangles of a sector outside the hub, or outside what spacers with arms hold."""
    angles = holed_around(web, fine)
    blocks = [polar(angles, graded(web.bore, 1.0, fine.ring, 2.0))]
    # So that the edge of a hole is smooth over the rows of nodes.
    s = np.linspace(0, 1, 2 * fine.along + 1)[:, np.newaxis]
    start = web.touched if arms else web.hub
    if arms:
        r = web.bore + (start - web.bore) * (1 - s) ** 2
        beyond = angles[angles > web.tip - 1e-12]
        share = (beyond - web.tip) / (beyond[-1] - web.tip)
        theta = web.tip + share * (web.edge(r) - web.tip)
        right = np.array([r * np.cos(theta), r * np.sin(theta)])
        blocks += [right, right[:, :, ::-1] * np.array([1.0, -1.0])[:, np.newaxis, np.newaxis]]
    else:
        r = start + (web.bore - start) * (1 - np.cos(np.pi * s)) / 2
        theta = angles / angles[-1] * web.edge(r)
        blocks.append(np.array([r * np.cos(theta), r * np.sin(theta)]))
    return joined(blocks)


@dataclass(frozen=True)
class HoledPlane(Plane):
    """Displacement of one sector in its plane."""

    web: HoledWeb  # type: ignore[assignment]

    def _held(self, x: Floats, y: Floats) -> NDArray[np.bool_]:
        radius = np.hypot(x, y)
        if self.hold == "hub":
            return np.asarray(radius < self.web.hub * (1 + 1e-6))
        within = np.abs(np.arctan2(y, x)) < self.web.tip + 1e-6
        return np.asarray(within & (radius < self.web.bore * (1 + 1e-6)))


@dataclass(frozen=True)
class HoledSector(Sector):
    """Stiffness and mass of one sector of a disc with round holes."""

    web: HoledWeb  # type: ignore[assignment]

    @property
    def _twisted(self) -> bool:
        return False

    @cached_property
    def _lines(self) -> tuple[Floats, Floats]:
        web, fine = self.web, self.fine
        start = web.hub if self.hold == "hub" else web.touched
        inside = graded(start, web.bore, fine.along, 1.3, both=True)
        ring = graded(web.bore, 1.0, fine.ring, 2.0)
        return np.concatenate([inside[:-1], ring]), holed_around(web, fine)

    @cached_property
    def _elements(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        radii, angles = self._lines
        i, j = (grid.ravel() for grid in np.mgrid[0 : radii.size - 1, 0 : angles.size - 1])
        near = np.minimum(np.abs(angles[j]), np.abs(angles[j + 1]))
        reached = np.maximum(self.web.edge(radii[i]), self.web.edge(radii[i + 1]))
        kept = (radii[i] > self.web.bore - 1e-12) | (near < reached - 1e-9)
        if self.hold != "hub":
            held = (np.abs(angles[j] + angles[j + 1]) / 2 < self.web.tip) & (
                radii[i] < self.web.bore - 1e-12
            )
            kept &= ~held
        return i[kept], j[kept]

    @cached_property
    def _stations(self) -> tuple[Floats, Floats, Floats]:
        radii, angles = self._lines
        i, j = self._elements
        (s, w), (t, v) = (np.polynomial.legendre.leggauss(n) for n in (RADIAL_POINTS, 5))
        s, t = (1 + s) / 2, (1 + t) / 2
        r = radii[i][:, np.newaxis] + (radii[i + 1] - radii[i])[:, np.newaxis] * s
        edge, start = self.web.edge(r), angles[j][:, np.newaxis]
        wide = (angles[j + 1] - angles[j])[:, np.newaxis]
        low, high = (np.clip((end - start) / wide, 0.0, 1.0) for end in (-edge, edge))
        across = low[..., np.newaxis] + (high - low)[..., np.newaxis] * t
        return s, across, np.outer(w, v) / 4 * (high - low)[..., np.newaxis]

    @property
    def _used(self) -> NDArray[np.bool_]:
        # Some functions reach into a corner of metal only.
        return np.asarray(self.matrices["mass"].diagonal() > LEAST_MASS)

    def _held(
        self,
        row: NDArray[np.int64],
        angle: Floats,
        kind: NDArray[np.int64],  # noqa: ARG002  all kinds alike
    ) -> NDArray[np.bool_]:
        if self.hold == "hub":
            return np.asarray(row == 0)
        radii, _ = self._lines
        off = np.abs(angle) - self.web.tip
        return np.asarray((radii[row] < self.web.bore + 1e-12) & (off < 1e-9))

    def plane(self) -> HoledPlane:
        """The same sector in its plane."""
        fine = self.fine.times(self.fine.flat)
        mesh = holed_mesh(self.web, fine, arms=self.hold != "hub")
        return HoledPlane(self.web, self.hold, mesh)
