"""Turned parts as half outlines, in millimetres, with holes along their axis. No files.

A half outline is the edge of the metal on one side of the axis: distance from the axis and place
along it, point by point, counterclockwise with the axis upward and the metal to the right of it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reports.design.outlines import Circle, Point, point_along


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
class Turned:
    """A turned part: a half outline turned about the axis, less its holes."""

    name: str
    profile: tuple[Point, ...]
    bores: Bores | None = None

    @property
    def edges(self) -> tuple[tuple[Point, Point], ...]:
        """Edges of the half outline, in their order."""
        return tuple(pairwise((*self.profile, self.profile[0])))

    @property
    def volume(self) -> float:
        """Volume of metal [mm3]: cones of its edges about the axis, less cylinders of its holes."""
        turned = math.fsum(
            math.pi / 3 * (z2 - z1) * (r1 * r1 + r1 * r2 + r2 * r2)
            for (r1, z1), (r2, z2) in self.edges
        )
        if (bores := self.bores) is None:
            return turned
        hole = math.pi / 4 * bores.diameter**2 * (bores.high - bores.low)
        return turned - bores.count * hole

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
