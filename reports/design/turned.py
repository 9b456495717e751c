"""Turned parts as half outlines, in millimetres, with holes along their axis and keyways. No files.

A half outline is the edge of the metal on one side of the axis: distance from the axis and place
along it, point by point, counterclockwise with the axis upward and the metal to the right of it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from scipy.special import ellipe, ellipk

from reports.design.outlines import Arc, Circle, Line, Outline, Point, point_along


@dataclass(frozen=True)
class Bores:
    """Equal holes on a circle around the axis, from one flat face to another."""

    count: int
    diameter: float
    circle: float
    """Diameter of the circle that they are on."""
    low: float
    high: float
    """Faces that they run between, along the axis."""

    @property
    def circles(self) -> tuple[Circle, ...]:
        """Their edges, seen along the axis."""
        turns = (math.tau * place / self.count for place in range(self.count))
        return tuple(Circle(self.diameter / 2, point_along(t, self.circle / 2)) for t in turns)


@dataclass(frozen=True)
class Keyway:
    """A keyway with round ends, milled into a shaft: its ends along the axis."""

    start: float
    end: float
    width: float
    depth: float
    """From the surface of the shaft to its floor."""

    def volume(self, radius: float) -> float:
        """Metal that it takes from a shaft of this radius [mm3].

        Both ends together are half of what two crossing cylinders share (Hubbell 1965, J. Res. Nat.
        Bur. Stand. 69C, 139; from memory), down to the floor.
        """
        half, floor = self.width / 2, radius - self.depth
        share = (half / radius) ** 2
        above, below = radius**2 + half**2, radius**2 - half**2
        ends = 4 / 3 * radius * (above * float(ellipe(share)) - below * float(ellipk(share)))
        straight = _under_arc(radius, half) - self.width * floor
        return ends - math.pi * half**2 * floor + (self.end - self.start - self.width) * straight


@dataclass(frozen=True)
class Broach:
    """A keyway cut through the whole bore of a hub."""

    width: float
    depth: float
    """From the surface of the bore to its floor."""

    def outline(self, radius: float) -> Outline:
        """Edge of the bore with the keyway, counterclockwise; it opens in the direction of y."""
        half, floor = self.width / 2, radius + self.depth
        lean = math.asin(half / radius)
        side = math.sqrt(radius**2 - half**2)
        start = math.pi / 2 + lean
        return Outline(
            (
                Arc((0.0, 0.0), radius, start, math.tau - 2 * lean),
                Line((half, side), (half, floor)),
                Line((half, floor), (-half, floor)),
                Line((-half, floor), (-half, side)),
            )
        )

    def area(self, radius: float) -> float:
        """Metal that it takes from each millimetre of a hub with this bore [mm2]."""
        return self.width * (radius + self.depth) - _under_arc(radius, self.width / 2)


def _under_arc(radius: float, half: float) -> float:
    """Area under the top of a circle around the origin, to this distance on both sides."""
    return half * math.sqrt(radius**2 - half**2) + radius**2 * math.asin(half / radius)


@dataclass(frozen=True)
class Turned:
    """A turned part: a half outline turned about the axis, less its holes and its keyway."""

    name: str
    profile: tuple[Point, ...]
    bores: Bores | None = None
    keyway: Keyway | None = None
    broach: Broach | None = None

    @property
    def edges(self) -> tuple[tuple[Point, Point], ...]:
        """Edges of the half outline, in their order."""
        return tuple(pairwise((*self.profile, self.profile[0])))

    @property
    def volume(self) -> float:
        """Volume of metal [mm3]: cones of its edges about the axis, less holes and keyway."""
        turned = math.fsum(
            math.pi / 3 * (z2 - z1) * (r1 * r1 + r1 * r2 + r2 * r2)
            for (r1, z1), (r2, z2) in self.edges
        )
        if (bores := self.bores) is not None:
            hole = math.pi / 4 * bores.diameter**2 * (bores.high - bores.low)
            turned -= bores.count * hole
        if self.keyway is not None:
            turned -= self.keyway.volume(self.keyed_radius)
        if self.broach is not None:
            turned -= self.broach.area(self.bore / 2) * self.length
        return turned

    @property
    def keyed_radius(self) -> float:
        """Radius of the cylinder that its keyway lies in; raises ValueError where there is none."""
        if (cut := self.keyway) is not None:
            for (r1, z1), (r2, z2) in self.edges:
                if r1 == r2 and z1 <= cut.start and cut.end <= z2:
                    return r1
        msg = f"{self.name}: the keyway lies in no cylinder"
        raise ValueError(msg)

    @property
    def diameter(self) -> float:
        """Largest diameter."""
        return 2 * max(r for r, _ in self.profile)

    @property
    def bore(self) -> float:
        """Smallest diameter inside; 0 where it is solid."""
        return 2 * min(r for r, _ in self.profile)

    @property
    def ends(self) -> Point:
        """Lowest and highest place along the axis."""
        places = [z for _, z in self.profile]
        return min(places), max(places)

    @property
    def length(self) -> float:
        """Length along the axis."""
        low, high = self.ends
        return high - low


def rings(
    sections: Sequence[tuple[float, float, float]], *, bore: float = 0.0
) -> tuple[Point, ...]:
    """Half outline of cylinders along the axis: diameter, start, end of each; one bore in all."""
    outside: list[Point] = []
    for diameter, low, high in sections:
        outside += [(diameter / 2, low), (diameter / 2, high)]
    low, high = sections[0][1], sections[-1][2]
    return clean(((bore / 2, low), *outside, (bore / 2, high)))


def chamfered(profile: Sequence[Point], size: float) -> tuple[Point, ...]:
    """Break the corners of both ends of a half outline, outside, under 45 degrees."""
    low, high = min(z for _, z in profile), max(z for _, z in profile)
    radius = {end: max(r for r, z in profile if z == end) for end in (low, high)}
    found: list[Point] = []
    for r, z in profile:
        if z == low and r == radius[low]:
            found += [(r - size, z), (r, z + size)]
        elif z == high and r == radius[high]:
            found += [(r, z - size), (r - size, z)]
        else:
            found.append((r, z))
    return clean(found)


def clean(points: Sequence[Point]) -> tuple[Point, ...]:
    """Leave out points that repeat the one before, or lie on a straight edge along the axis."""
    found: list[Point] = []
    for point in points:
        if found and math.dist(found[-1], point) < 1e-9:
            continue
        if len(found) > 1 and all(abs(r - point[0]) < 1e-9 for r, _ in found[-2:]):
            found.pop()
        found.append(point)
    return tuple(found)
