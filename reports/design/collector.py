"""The casing of a pump as a sandwich of flat plates, in millimetres. No drawing, no files.

Discs turn counterclockwise, and so does the fluid. The spiral begins at the tongue, to the right of
the discs, and comes round to the throat beside it; from there the cone goes straight up to a round
chamber, whose port leads out at the drive's end.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.model.shaft_layout import END_PLATE, collar_radius
from reports.design.casing import PORTS, WALL, Housing, NoCasingError, bolting
from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point, point_along
from reports.design.shop_sizes import cut, cut_down, cut_up

OPENING = math.radians(10)
"""Angle by which the outer wall of the cone opens: common practice for a loss of 0.15, no
source."""
TONGUE = 1.5
"""Thickness of the tongue's tip, which is round [mm]; common practice, no source."""
NARROWEST = 1.0
"""Throat below which none is cut [mm]."""
FITTING = 3.0
"""Diameter of a port's drill beyond the bore of what is screwed in, at least [mm]."""
MOST_SUCTIONS = 4


@dataclass(frozen=True)
class Spiral:
    """Edges of the passage from the tongue to the port, lengths in mm."""

    bore: float
    """Radius at which it begins, that of the casing bore."""
    throat: float
    """Width of the throat."""
    mouth: float
    """Width where the cone ends in the chamber."""
    length: float
    """Of the cone."""
    chamber: float
    """Radius of the chamber."""

    @property
    def step(self) -> float:
        """Side of the square about whose corners the quarters are drawn."""
        return (self.throat + TONGUE) / 4

    @property
    def radii(self) -> tuple[float, ...]:
        """Radii of the four quarters, from the tongue on."""
        return tuple(self.bore + (0.5 + turn) * self.step for turn in range(4))

    @property
    def centres(self) -> tuple[Point, ...]:
        """Middles of the four quarters."""
        half = self.step / 2
        return ((-half, half), (-half, -half), (half, -half), (half, half))

    @property
    def level(self) -> float:
        """How far the throat lies above the shaft's axis."""
        return self.step / 2

    @property
    def inner(self) -> float:
        """Distance of the cone's straight wall from the axis."""
        return self.bore + TONGUE

    @property
    def outer(self) -> float:
        """Distance of the outer wall from the axis, at the throat."""
        return self.inner + self.throat

    @property
    def chamber_at(self) -> Point:
        """Middle of the chamber."""
        back = math.sqrt(max(self.chamber**2 - (self.mouth / 2) ** 2, 0.0))
        return self.inner + self.mouth / 2, self.level + self.length + back

    def outline(self) -> Outline:
        """Draw the edge of all that is cut out for it, counterclockwise."""
        quarters = [
            Arc(centre, radius, turn * math.pi / 2, math.pi / 2)
            for turn, (centre, radius) in enumerate(zip(self.centres, self.radii, strict=True))
        ]
        end = self.level + self.length
        left, right = (self.inner, end), (self.inner + self.mouth, end)
        x, y = self.chamber_at
        first, last = (math.atan2(point[1] - y, point[0] - x) for point in (right, left))
        tip = Arc((self.bore + TONGUE / 2, self.level), TONGUE / 2, 0.0, -math.pi)
        return Outline(
            (
                *quarters,
                Line((self.outer, self.level), right),
                Arc((x, y), self.chamber, first, (last - first) % math.tau),
                Line(left, (self.inner, self.level)),
                tip,
            )
        )


@dataclass(frozen=True)
class Collector(Housing):
    """Plates of a pump's casing and the sizes that their drawings give, in mm."""

    plate: Flat
    """As thick as the stack, with the passage."""
    port_ring: Flat
    """The side ring at the end of the drive, open at the chamber."""
    spiral: Spiral
    suction: str
    """Thread of the suction."""
    suction_drill: float
    suctions: tuple[Point, ...]
    """Where it is screwed in."""
    chamber: float
    """Inner radius of the closed ring through which an open end takes in."""

    @property
    def outlet(self) -> Circle:
        """Hole of the port, before it is threaded."""
        return Circle(self.port_drill / 2, self.spiral.chamber_at)

    @property
    def suction_holes(self) -> tuple[Circle, ...]:
        """Holes of the suction, before they are threaded."""
        return tuple(Circle(self.suction_drill / 2, at) for at in self.suctions)


def throat_width(*, throat_area: float, height: float) -> float:
    """Width of a throat of this area in a plate of this thickness, as it is cut [mm2], [mm].

    Examples
    --------
    >>> throat_width(throat_area=100.0, height=29.5)
    3.4
    """
    return cut(throat_area / height)


def collector(
    *,
    disc_diameter: float,
    rim_clearance: float,
    eye_diameter: float,
    seal_clearance: float,
    ring_length: float,
    throat_area: float,
    port_diameter: float,
    height: float,
    suction_ends: int,
    carrier: float,
    eye_area: float,
) -> Collector:
    """Draw the plates of a pump's casing; lengths in mm, areas in mm2.

    `carrier` is the diameter of a bearing carrier's flange, `eye_area` what is open of one eye.

    Raises NoCasingError where the throat is too narrow to be cut, the wear ring is longer than its
    plate, or nothing is left for suction or wear ring.
    """
    bore = disc_diameter / 2 + rim_clearance
    width = throat_width(throat_area=throat_area, height=height)
    if width < NARROWEST:
        msg = f"a throat {width:.2f} mm wide, as high as the stack, is too narrow to cut"
        raise NoCasingError(msg)
    if ring_length > 1e3 * END_PLATE:
        msg = f"a wear ring {ring_length:.4g} mm long is longer than its plate is thick"
        raise NoCasingError(msg)
    port, drill = _port(port_diameter)
    spiral = _spiral(bore, width, math.pi * port_diameter**2 / 4 / height, drill)
    off = math.hypot(*spiral.chamber_at)
    held = bolting(bore=bore, outermost=off + spiral.chamber)
    reach = held.bolt_circle - held.bolt_hole / 2 - WALL
    if suction_ends == 2:  # the port goes through the ring at the drive's end
        reach = min(reach, off - drill / 2 - WALL)
    reach = cut_down(reach)
    thread, hole, suctions = _suction(carrier / 2 + WALL / 2, reach, eye_area)
    middle = Circle(1e3 * float(collar_radius(np.asarray(1e-3 * eye_diameter))) + seal_clearance)
    if middle.radius > disc_diameter / 2 - WALL:
        msg = f"the eye, {eye_diameter:.4g} mm, leaves no room for a wear ring on its end disc"
        raise NoCasingError(msg)
    edge, inside = Circle(held.outside), Circle(bore)
    chamber = Circle(spiral.chamber, spiral.chamber_at)
    return Collector(
        side_ring=Flat("side ring", edge, (inside, *held.holes)),
        end_plate=Flat("end plate", edge, (middle, *held.holes)),
        bore=bore,
        port=port,
        port_drill=drill,
        plate=Flat("collector plate", edge, (spiral.outline(), *held.holes)),
        port_ring=Flat("port ring", edge, (inside, *held.holes, chamber)),
        spiral=spiral,
        suction=thread,
        suction_drill=hole,
        suctions=suctions,
        chamber=reach,
        **vars(held),
    )


def _port(diameter: float) -> tuple[str, float]:
    """Thread whose fitting has this bore, and its drill."""
    found = next((each for each in PORTS if each[1] >= diameter + FITTING), None)
    if found is None:
        msg = f"no pipe thread up to {PORTS[-1][0]} takes a port of {diameter:.4g} mm"
        raise NoCasingError(msg)
    return found


def _spiral(bore: float, throat: float, mouth: float, drill: float) -> Spiral:
    """Set out the passage, the chamber far enough off for a wall to the casing bore."""
    wide = max(cut(mouth), throat)
    chamber = cut_up(max(wide / 2, drill / 2))
    length = max((wide - throat) / math.tan(OPENING), 0.0)
    x, y = Spiral(bore, throat, wide, length, chamber).chamber_at
    clear = math.sqrt(max((bore + chamber + WALL) ** 2 - x**2, 0.0))
    # The middle of the chamber lies on a round dimension, and the cone is as long as that makes it.
    return Spiral(bore, throat, wide, length + cut_up(max(clear, y)) - y, chamber)


def _suction(inner: float, outer: float, area: float) -> tuple[str, float, tuple[Point, ...]]:
    """Thread and places of the suction: as few as give the eye's own area, else as wide as fit."""
    found: tuple[str, float, int] | None = None
    for many in range(1, MOST_SUCTIONS + 1):
        fitting = [
            each
            for each in PORTS
            if each[1] <= outer - inner and _clear(each[1], (inner + outer) / 2, many)
        ]
        if not fitting:
            continue
        enough = [each for each in fitting if many * math.pi * each[1] ** 2 / 4 >= area]
        thread, drill = enough[0] if enough else fitting[-1]
        if found is None or enough or many * drill**2 > found[2] * found[1] ** 2:
            found = thread, drill, many
        if enough:
            break
    if found is None:
        msg = "no suction fits between the bearing and the bolts"
        raise NoCasingError(msg)
    thread, drill, many = found
    return thread, drill, tuple(_around(many, cut_down((inner + outer) / 2)))


def _clear(drill: float, radius: float, many: int) -> bool:
    return many == 1 or 2 * radius * math.sin(math.pi / many) >= drill + WALL


def _around(many: int, radius: float) -> Sequence[Point]:
    return [point_along(math.pi / 2 + math.tau * place / many, radius) for place in range(many)]
