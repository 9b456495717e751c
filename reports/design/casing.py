"""The casing as a sandwich of flat plates, in millimetres. No drawing, no files.

The nozzle plate is as thick as the stack. Its passages are cut through it: from a round plenum a
straight inner wall, tangent to the flow, and an outer wall that converges to the throat; then the
land, where both are parallel, and the mouth in the casing bore. A side ring on either side of it is
as thick as the side gap. End plates close the sandwich, and bolts outside of every plenum hold it;
two dowels, rods ground to size, keep its plates true to each other. A ring on an end clamp, the
collar, runs in the hole of an end plate.

The axis of a jet misses the shaft's axis by the radius of the rim times the cosine of the inlet
angle. That offset is the one dimension of a nozzle that cannot be misread: the angle is another one
at the casing bore than at the rim.

The inner wall stays straight: with a taper it would cut into the casing bore.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from engine.model.shaft_layout import collar_radius
from engine.physics.flow.geometry import mouth_depth
from engine.physics.flow.short_duct import DIVERGENCE
from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point
from reports.design.shop_sizes import cut_up

CONVERGING, DIVERGING = math.radians(25), DIVERGENCE
"""Angle of the outer wall before and behind the throat [rad]; common practice, no source."""
WALL = 4.0
"""Least metal between plenum, bolts and outside [mm]."""
BOLTS = ((80.0, 5.5, 5.0), (180.0, 6.6, 6.0), (math.inf, 9.0, 8.0))
"""Bolts up to this casing bore: through hole (ISO 273 medium, from memory), thread [mm]."""
PORTS = (
    *(("G 1/8", 8.8), ("G 1/4", 11.8), ("G 3/8", 15.25), ("G 1/2", 19.0), ("G 3/4", 24.5)),
    *(("G 1", 30.75), ("G 1 1/4", 39.5), ("G 1 1/2", 45.25), ("G 2", 57.0)),
)
"""Pipe threads of ISO 228-1 and the drills for them, from memory [mm]."""
TURNS_PER_INCH = {"G 1/8": 28, "G 1/4": 19, "G 3/8": 19, "G 1/2": 14, "G 3/4": 14}
"""Of those threads, 11 for the larger ones; from memory."""
APART = 45.0
"""Most distance between bolts along their circle [mm]."""
FEWEST_BOLTS = 6
SHORTEST = 1e-3
"""Shortest edge that is drawn [mm]."""


class NoCasingError(ValueError):
    """The nozzles cannot be cut as a plate."""


@dataclass(frozen=True)
class Nozzle:
    """A nozzle in the frame of its jet, lengths in mm.

    The distance from the shaft's axis is measured across the jet, that along it from the point
    nearest to the shaft's axis, positive downstream.
    """

    offset: float
    """Of its axis from the shaft's axis."""
    throat: float
    exit: float
    """Width of throat and of mouth; equal in a convergent nozzle."""
    land: float
    """Length of the throat, where both walls are parallel, over its width."""
    mouth: float
    far: float
    """Where inner and outer wall meet the casing bore, along the jet."""
    inlet: float
    """Width where it leaves the plenum."""
    plenum: float
    """Radius of the plenum."""
    plenum_along: float
    """Place of the plenum's middle along the jet, so far off that a wall is left to the bore."""

    @property
    def inner(self) -> float:
        """Distance of the straight wall from the shaft's axis, across the jet."""
        return self.offset - self.exit / 2

    @property
    def throat_end(self) -> float:
        """Downstream end of the throat, along the jet."""
        return self.mouth - (self.exit - self.throat) / math.tan(DIVERGING)

    @property
    def land_start(self) -> float:
        """Upstream end of the throat, along the jet."""
        return self.throat_end - self.land * self.throat

    @property
    def narrowing(self) -> float:
        """Where the outer wall begins to converge, along the jet."""
        return self.land_start - (self.inlet - self.throat) / math.tan(CONVERGING)

    @property
    def inlet_at(self) -> float:
        """Where it leaves the plenum, along the jet."""
        return self.plenum_along + math.sqrt(self.plenum**2 - (self.inlet / 2) ** 2)

    @property
    def plenum_at(self) -> Point:
        """Middle of the plenum: along the jet, and across it."""
        return self.plenum_along, self.inner + self.inlet / 2

    @property
    def reach(self) -> float:
        """How far its plenum reaches out from the shaft's axis."""
        return math.hypot(*self.plenum_at) + self.plenum

    def taken(self, wall: float) -> tuple[float, float]:
        """Directions between which plenum and mouth lie, with this wall beside the plenum [rad].

        From the shaft's axis, for the first nozzle of discs that turn counterclockwise.
        """
        along, across = self.plenum_at
        beside = math.asin((self.plenum + wall) / math.hypot(along, across))
        outer = self.offset + self.exit / 2
        return math.atan2(along, across) - beside, math.atan2(self.far, outer)


@dataclass(frozen=True)
class Housing:
    """What the casings of turbines and pumps have in common, in mm."""

    side_ring: Flat
    end_plate: Flat
    bore: float
    """Radius of the casing bore."""
    outside: float
    """Outer radius of every plate."""
    port: str
    """Thread of the port behind every plenum or outlet chamber."""
    port_drill: float
    """Diameter of its hole before it is threaded."""
    bolt_circle: float
    """Radius of the circle of bolts."""
    bolt_hole: float
    """Diameter of a bolt's through hole."""
    bolt_size: float
    """Diameter of a bolt's thread, and of a dowel."""
    bolts: int
    holes: tuple[Circle, ...]
    """Of bolts and dowels, through every plate; the dowels' are the last two."""

    @property
    def bolt(self) -> str:
        """Thread of a bolt."""
        return f"M{self.bolt_size:g}"

    @property
    def port_pitch(self) -> float:
        """Pitch of the thread of the supply."""
        return pitch_of(self.port)

    @property
    def seal_bore(self) -> float:
        """Radius of the hole of an end plate, in which a collar runs."""
        hole = self.end_plate.inside[0]
        return hole.radius if isinstance(hole, Circle) else math.nan


@dataclass(frozen=True)
class Casing(Housing):
    """Plates of a turbine's casing and the sizes that their drawings give, in mm."""

    nozzle_plate: Flat
    supply_ring: Flat
    """The side ring on the side of the supply, open at every plenum."""
    supply_plate: Flat
    """The end plate on the side of the supply, with a port at every plenum."""
    nozzle: Nozzle


def casing(
    *,
    disc_diameter: float,
    rim_clearance: float,
    exhaust_bore: float,
    seal_clearance: float,
    inlet_angle: float,
    nozzle_count: int,
    nozzle_width: float,
    nozzle_land: float,
    exit_width: float,
    least_plenum: float = 0.0,
    outermost: float = 0.0,
) -> Casing:
    """Draw the plates of a casing; lengths in mm, the angle at the rim in radians.

    `nozzle_land` is the length of the parallel part of a nozzle over its width. Plenums have at
    least the radius `least_plenum`, and bolts stand outside of the radius `outermost`.

    Raises NoCasingError where a mouth is not closed by the casing bore, or nozzles run into each
    other.
    """
    bore = disc_diameter / 2 + rim_clearance
    nozzle = _nozzle(
        rim=disc_diameter / 2,
        bore=bore,
        angle=inlet_angle,
        throat=nozzle_width,
        land=nozzle_land,
        exit_width=exit_width,
        least_plenum=least_plenum,
    )
    held = bolting(bore=bore, outermost=max(nozzle.reach, outermost))
    holes = held.holes
    turns = [math.tau * place / nozzle_count for place in range(nozzle_count)]
    edge, inner = Circle(held.outside), Circle(bore)
    ports = tuple(Circle(nozzle.plenum, _placed(nozzle.plenum_at, turn)) for turn in turns)
    port, drill = min(PORTS, key=lambda port: abs(port[1] - 2 * nozzle.plenum))
    threaded = tuple(replace(each, radius=drill / 2) for each in ports)
    _refuse_crowding(nozzle, turns)
    passages = Outline(tuple(_passages(nozzle, bore, turns)))
    middle = Circle(1e3 * float(collar_radius(np.asarray(1e-3 * exhaust_bore))) + seal_clearance)
    if middle.radius > disc_diameter / 2 - WALL:
        msg = f"the exhaust, {exhaust_bore:.4g} mm, leaves no room for a collar on its end disc"
        raise NoCasingError(msg)
    return Casing(
        nozzle_plate=Flat("nozzle plate", edge, (passages, *holes)),
        side_ring=Flat("side ring", edge, (inner, *holes)),
        supply_ring=Flat("supply ring", edge, (inner, *holes, *ports)),
        end_plate=Flat("end plate", edge, (middle, *holes)),
        supply_plate=Flat("supply plate", edge, (middle, *holes, *threaded)),
        nozzle=nozzle,
        port=port,
        port_drill=drill,
        bore=bore,
        **vars(held),
    )


@dataclass(frozen=True)
class Bolting:
    """Bolts and dowels outside of all that a casing holds, in mm."""

    bolt_circle: float
    bolt_hole: float
    bolt_size: float
    bolts: int
    outside: float
    holes: tuple[Circle, ...]


def bolting(*, bore: float, outermost: float) -> Bolting:
    """Place bolts around what reaches out to a radius, for a casing bore of this radius."""
    hole, size = next((hole, size) for most, hole, size in BOLTS if 2 * bore <= most)
    # A round diameter, which all that follows is counted from.
    circle = math.ceil(2 * (outermost + WALL + hole / 2)) / 2
    n_bolts = max(FEWEST_BOLTS, math.ceil(math.tau * circle / APART))
    # Two dowels between bolts, the second off the middle: no plate goes on turned over.
    holes = (
        *_around(circle, hole, range(n_bolts), n_bolts),
        *_around(circle, size, (0.5, n_bolts // 2 - 0.65), n_bolts),
    )
    return Bolting(circle, hole, size, n_bolts, math.ceil(circle + hole / 2 + WALL), holes)


def pitch_of(port: str) -> float:
    """Pitch of a pipe thread [mm]."""
    return 25.4 / TURNS_PER_INCH.get(port, 11)


def _around(
    circle: float, diameter: float, places: Iterable[float], count: int
) -> Iterable[Circle]:
    for place in places:
        yield Circle(diameter / 2, _turned((circle, 0.0), math.tau * place / count))


def _nozzle(
    *,
    rim: float,
    bore: float,
    angle: float,
    throat: float,
    land: float,
    exit_width: float,
    least_plenum: float,
) -> Nozzle:
    offset = rim * math.cos(angle)
    inner, outer = offset - exit_width / 2, offset + exit_width / 2
    depth = mouth_depth(
        inlet_angle=angle, rim_radius=rim, rim_clearance=bore - rim, exit_width=exit_width
    )
    if inner <= 0 or depth <= 0:
        msg = f"a jet {exit_width:.2f} mm wide does not open into the casing bore"
        raise NoCasingError(msg)
    # Wide enough for the plenum's middle to lie on a round dimension.
    inlet = 2 * (cut_up(inner + max(2 * throat, 1.5)) - inner)
    plenum = cut_up(max(0.75 * inlet, 4.0, least_plenum))
    mouth = -math.sqrt(bore**2 - inner**2)
    # At least far enough for the outer wall to converge, and for a wall between plenum and bore.
    divergent = (exit_width - throat) / math.tan(DIVERGING)
    length = divergent + land * throat + (inlet - throat) / math.tan(CONVERGING)
    back = math.sqrt(plenum**2 - (inlet / 2) ** 2)
    walled = math.sqrt(max((bore + plenum + WALL) ** 2 - (inner + inlet / 2) ** 2, 0.0))
    return Nozzle(
        offset=offset,
        throat=throat,
        exit=exit_width,
        land=land,
        mouth=mouth,
        far=-math.sqrt(bore**2 - outer**2),
        inlet=inlet,
        plenum=plenum,
        plenum_along=-cut_up(max(walled, length + back - mouth)),
    )


def _refuse_crowding(nozzle: Nozzle, turns: Sequence[float]) -> None:
    """Refuse nozzles so close that a plenum cuts into the passage behind it."""
    start, mouth = nozzle.taken(WALL)
    if len(turns) > 1 and turns[1] < mouth - start:
        msg = f"{len(turns)} nozzles with their plenums do not fit around the casing bore"
        raise NoCasingError(msg)


def _passages(nozzle: Nozzle, bore: float, turns: list[float]) -> Iterable[Line | Arc]:
    """Edge of the casing bore with every passage that opens into it, counterclockwise."""
    inner, outer = nozzle.inner, nozzle.offset + nozzle.exit / 2
    start, wide = (nozzle.inlet_at, inner), (nozzle.inlet_at, inner + nozzle.inlet)
    narrow = inner + nozzle.throat
    outer_wall = [wide, (nozzle.narrowing, wide[1]), (nozzle.land_start, narrow)]
    outer_wall = outer_wall[math.dist(*outer_wall[:2]) < SHORTEST :]
    if nozzle.exit > nozzle.throat:
        outer_wall += [(nozzle.throat_end, narrow), (nozzle.mouth, outer)]
    outer_wall.append((nozzle.far, outer))
    for turn, onward in zip(turns, (*turns[1:], turns[0] + math.tau), strict=True):
        upstream = [_placed(point, turn) for point in ((nozzle.mouth, inner), start)]
        downstream = [_placed(point, turn) for point in outer_wall]
        yield from _chain(upstream)
        yield _round(_placed(nozzle.plenum_at, turn), nozzle.plenum, upstream[-1], downstream[0])
        yield from _chain(downstream)
        arc = _round((0.0, 0.0), bore, downstream[-1], _placed((nozzle.mouth, inner), onward))
        for half in range(2):
            first = arc.start_angle + half * arc.sweep / 2
            yield Arc(arc.centre, bore, first, arc.sweep / 2)


def _chain(points: Sequence[Point]) -> Iterable[Line]:
    return (Line(start, end) for start, end in pairwise(points))


def _round(centre: Point, radius: float, start: Point, end: Point) -> Arc:
    """Arc around a centre from one point to another, counterclockwise."""
    first, last = (math.atan2(y - centre[1], x - centre[0]) for x, y in (start, end))
    return Arc(centre, radius, first, (last - first) % math.tau)


def _placed(jet: Point, turn: float) -> Point:
    """Find a point of a jet's frame in the plate, for discs that turn counterclockwise."""
    along, across = jet
    return _turned((across, along), turn)


def _turned(point: Point, turn: float) -> Point:
    (x, y), cosine, sine = point, math.cos(turn), math.sin(turn)
    return x * cosine - y * sine, x * sine + y * cosine
