"""Flat parts as closed outlines of lines and arcs, in millimetres; disc and spacer. No files.

Both have a hub with spokes around the shaft hole. The ring of the disc begins at the exhaust
bore, where its spokes end. Hub, spokes and fillets fill that share of the annulus between shaft and
bore which the study calls blocked. The spacer has the same hub and spokes but no ring, so that the
gaps are open all round and the spokes are clamped along their whole length.

With round holes the disc is whole between them, and the holes touch the circle of the bore from
inside. The spacer is the disc's hub with the holes' edges, and arms between the holes to the bore:
their sides point at the middle and touch the holes. So the gaps are open between the arms.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TypeAlias

from scipy.optimize import brentq

from engine.physics.machine import web as webs
from reports.design.shop_sizes import cut, cut_down, cut_up

Point: TypeAlias = tuple[float, float]

LEAST_WALL = 1e3 * webs.LEAST_WALL
"""Least metal around the shaft hole of a cut part [mm]."""
LEAST_SPOKE = 1e3 * webs.LEAST_SPOKE
"""Narrowest spoke [mm]."""
LEAST_OPENING = 1e3 * webs.LEAST_OPENING
"""Least radial height of an opening [mm]."""
SLACK = 0.02
"""Of a share: the nearest web that can be cut stands for it, as in `engine.physics.machine.web`."""


@dataclass(frozen=True)
class Line:
    """A straight edge."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """How long it is [mm]."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True)
class Arc:
    """A round edge; a positive sweep runs counterclockwise."""

    centre: Point
    radius: float
    start_angle: float
    """[rad]"""
    sweep: float
    """[rad]"""

    @property
    def start(self) -> Point:
        """Where it begins."""
        return _around(self.centre, self.radius, self.start_angle)

    @property
    def end(self) -> Point:
        """Where it ends."""
        return _around(self.centre, self.radius, self.start_angle + self.sweep)

    @property
    def length(self) -> float:
        """How long it is [mm]."""
        return self.radius * abs(self.sweep)

    @property
    def middle(self) -> Point:
        """Halfway along it."""
        return _around(self.centre, self.radius, self.start_angle + self.sweep / 2)


@dataclass(frozen=True)
class Circle:
    """A whole circle, around the middle of the part where no other centre is given."""

    radius: float
    centre: Point = (0.0, 0.0)

    @property
    def edges(self) -> tuple[Arc, Arc]:
        """Its two halves, counterclockwise."""
        first, second = 0.0, math.pi
        return (
            Arc(self.centre, self.radius, first, math.pi),
            Arc(self.centre, self.radius, second, math.pi),
        )

    @property
    def area(self) -> float:
        """Area inside [mm2]."""
        return math.pi * self.radius**2


@dataclass(frozen=True)
class Outline:
    """A closed chain of edges, each beginning where the one before ends."""

    edges: tuple[Line | Arc, ...]

    @property
    def area(self) -> float:
        """Area inside, positive where the chain runs counterclockwise [mm2]."""
        return sum(_swept(edge) for edge in self.edges)


@dataclass(frozen=True)
class Web:
    """What lies between shaft hole and exhaust bore, lengths in mm: hub and spokes, or holes."""

    shaft_radius: float
    hub_radius: float
    """Of holes: of the circle that they touch from outside."""
    bore_radius: float
    spoke_width: float
    """Or that of the wall between two holes, where it is narrowest."""
    fillet: float
    """Or the radius of a hole."""
    spokes: int = 3
    """Or how many holes."""
    holes: bool = False

    @property
    def arm_name(self) -> str:
        """What joins hub and ring."""
        return "wall" if self.holes else "spoke"

    @property
    def clamp_arms(self) -> str:
        """What spacers and end clamps have beyond their hub."""
        return "arms" if self.holes else "spokes"

    @property
    def openings(self) -> str:
        """What must lie in line through the stack."""
        return "holes" if self.holes else "spokes"

    @property
    def pitch_radius(self) -> float:
        """Of the circle on which holes lie."""
        return self.bore_radius - self.fillet

    @property
    def arm(self) -> float:
        """Half the angle of an arm of the spacer between holes [rad]."""
        return math.pi / self.spokes - math.asin(self.fillet / self.pitch_radius)


@dataclass(frozen=True)
class Flat:
    """A flat part: its outside edge and what is cut out of it."""

    name: str
    outside: Circle | Outline
    inside: tuple[Circle | Outline, ...]

    @property
    def width(self) -> float:
        """Diameter of the circle around it [mm]."""
        if isinstance(self.outside, Circle):
            return 2 * self.outside.radius
        return 2 * max(math.hypot(*edge.start) for edge in self.outside.edges)

    @property
    def area(self) -> float:
        """Area of metal [mm2]."""
        return abs(self.outside.area) - sum(abs(cut.area) for cut in self.inside)


@dataclass(frozen=True)
class Part(Flat):
    """A flat part of the rotor, with hub and spokes."""

    web: Web
    drill: float | None = None
    """To which holes for bolts are cut, where they are threaded [mm]."""

    @property
    def corner(self) -> Point:
        """Middle of one of its fillets."""
        chains = [edge for edge in (self.outside, *self.inside) if isinstance(edge, Outline)]
        arcs = [edge for edge in chains[0].edges if isinstance(edge, Arc)]
        return next(arc.middle for arc in arcs if arc.radius == self.web.fillet)


class NoWebError(ValueError):
    """No hub with so many spokes fills the share that the study calls blocked."""

    def __init__(self, least: float, most: float) -> None:
        self.least, self.most = least, most
        """Shares between which a web exists; the least exceeds the most where none does."""
        super().__init__(f"a web blocks from {least:.3f} to {most:.3f} of the annulus")


def web_of(
    *,
    shaft_diameter: float,
    exhaust_bore: float,
    blockage: float,
    spokes: int = 3,
    holes: bool = False,
) -> Web:
    """Find the hub and the spokes, or the round holes, that block this share of the annulus.

    The hub is as large as a spoke is wide, or as the roots of the spokes or the shaft hole need;
    see `engine.physics.machine.web`. Both are rounded as a shop reads them. Lengths in mm. Raises
    NoWebError where they would be too slender or leave too small an opening.

    Examples
    --------
    >>> web = web_of(shaft_diameter=8.0, exhaust_bore=70.0, blockage=0.25)
    >>> web.hub_radius, web.spoke_width, web.fillet
    (9.1, 9.1, 3.0)
    >>> round(blocked_share(web), 3)
    0.249
    """
    shaft, bore = shaft_diameter / 2, exhaust_bore / 2
    if holes:
        return _holed(shaft, bore, blockage, spokes)

    def web(spoke_width: float, fillet: float | None = None) -> Web:
        hub = max(spoke_width * by_width, shaft + LEAST_WALL)
        most = min(webs.FILLET_OF_SPOKE * spoke_width, webs.FILLET_OF_LENGTH * (bore - hub))
        return Web(shaft, hub, bore, spoke_width, most if fillet is None else fillet, spokes)

    by_width = float(webs.hub_of_spoke(spokes=spokes))
    widest = (bore - LEAST_OPENING) / by_width
    if widest <= LEAST_SPOKE or bore - LEAST_OPENING <= shaft + LEAST_WALL:
        raise NoWebError(1.0, 0.0)
    ends = blocked_share(web(LEAST_SPOKE)), blocked_share(web(widest))
    if not (1 - SLACK) * ends[0] <= blockage <= (1 + SLACK) * ends[1]:
        raise NoWebError(*ends)
    near = min(max(blockage, ends[0]), ends[1])
    rough = web(brentq(lambda width: blocked_share(web(width)) - near, LEAST_SPOKE, widest))
    fillet = _convenient(rough.fillet)
    low, high = 0.9 * rough.spoke_width, (rough.spoke_width + bore / by_width) / 2
    width = brentq(lambda width: blocked_share(web(width, fillet)) - blockage, low, high)
    made = web(min(max(cut(width), LEAST_SPOKE), cut_down(widest)), fillet)
    return replace(made, hub_radius=cut_up(2 * made.hub_radius) / 2)


def _holed(shaft: float, bore: float, blockage: float, count: int) -> Web:
    """Holes that leave this share of the annulus, as large as a shop reads them."""

    def web(hole: float) -> Web:
        wall = 2 * ((bore - hole) * sine - hole)
        return Web(shaft, bore - 2 * hole, bore, wall, hole, count, holes=True)

    sine = math.sin(math.pi / count)
    largest = min((bore * sine - LEAST_SPOKE / 2) / (1 + sine), (bore - shaft - LEAST_WALL) / 2)
    if largest <= LEAST_OPENING / 2:
        raise NoWebError(1.0, 0.0)
    ends = blocked_share(web(largest)), blocked_share(web(LEAST_OPENING / 2))
    if not (1 - SLACK) * ends[0] <= blockage <= (1 + SLACK) * ends[1]:
        raise NoWebError(*ends)
    hole = math.sqrt(max(1 - blockage, 0.0) * (bore**2 - shaft**2) / count)
    return web(max(min(cut(2 * hole), cut_down(2 * largest)), LEAST_OPENING) / 2)


def blocked_share(web: Web) -> float:
    """Share of the annulus between shaft and bore that metal fills."""
    annulus = math.pi * (web.bore_radius**2 - web.shaft_radius**2)
    return 1 - web.spokes * _opening(web, 0).area / annulus


def disc(*, diameter: float, web: Web) -> Part:
    """Disc with its openings; lengths in mm."""
    openings = tuple(_opening(web, spoke) for spoke in range(web.spokes))
    return Part("disc", Circle(diameter / 2), (Circle(web.shaft_radius), *openings), web)


def spacer(*, web: Web) -> Part:
    """Spacer: the disc's hub and spokes alone, or its hub with arms between the holes."""
    arm = _arm_between_holes if web.holes else _arm
    edges = [edge for spoke in range(web.spokes) for edge in arm(web, spoke)]
    return Part("spacer", Outline(tuple(edges)), (Circle(web.shaft_radius),), web)


def axis_of(web: Web, spoke: int) -> float:
    """Direction of a spoke or wall; the first one stands upright [rad]."""
    return math.pi / 2 + 2 * math.pi * spoke / web.spokes


def point_along(axis: float, along: float, across: float = 0.0) -> Point:
    """Find the point this far along an axis from the middle, and this far to the left of it."""
    return (
        along * math.cos(axis) - across * math.sin(axis),
        along * math.sin(axis) + across * math.cos(axis),
    )


def _opening(web: Web, spoke: int) -> Outline | Circle:
    """Edge of the opening between a spoke and the next one, counterclockwise."""
    first, second = axis_of(web, spoke), axis_of(web, spoke + 1)
    if web.holes:
        return Circle(web.fillet, _around((0.0, 0.0), web.pitch_radius, (first + second) / 2))
    half, fillet, bore = web.spoke_width / 2, web.fillet, web.bore_radius
    reach = math.sqrt((bore - fillet) ** 2 - (half + fillet) ** 2)
    lean = math.atan2(half + fillet, reach)
    inner, root = _root(web)
    here = (point_along(first, reach, half + fillet), point_along(second, reach, -half - fillet))
    return Outline(
        (
            Arc((0.0, 0.0), bore, first + lean, second - first - 2 * lean),
            Arc(here[1], fillet, second - lean, math.pi / 2 + lean),
            Line(point_along(second, reach, -half), point_along(second, inner, -half)),
            _fillet_in(web, second, -1),
            Arc((0.0, 0.0), web.hub_radius, second - root, first - second + 2 * root),
            _fillet_in(web, first, 1),
            Line(point_along(first, inner, half), point_along(first, reach, half)),
            Arc(here[0], fillet, first - math.pi / 2, math.pi / 2 + lean),
        )
    )


def _arm(web: Web, spoke: int) -> Iterable[Line | Arc]:
    """Edge of a spacer from one side of a spoke's tip to that of the next, counterclockwise."""
    first, second = axis_of(web, spoke), axis_of(web, spoke + 1)
    half, bore = web.spoke_width / 2, web.bore_radius
    tip, reach = math.asin(half / bore), math.sqrt(bore**2 - half**2)
    inner, root = _root(web)
    yield Arc((0.0, 0.0), bore, first - tip, 2 * tip)
    yield Line(point_along(first, reach, half), point_along(first, inner, half))
    yield _back(_fillet_in(web, first, 1))
    yield Arc((0.0, 0.0), web.hub_radius, first + root, second - first - 2 * root)
    yield _back(_fillet_in(web, second, -1))
    yield Line(point_along(second, inner, -half), point_along(second, reach, -half))


def _arm_between_holes(web: Web, wall: int) -> Iterable[Line | Arc]:
    """Edge of a spacer from one side of an arm to that of the next, counterclockwise."""
    first, second = axis_of(web, wall), axis_of(web, wall + 1)
    touched = math.sqrt(web.pitch_radius**2 - web.fillet**2)
    middle = _around((0.0, 0.0), web.pitch_radius, (first + second) / 2)
    left, right = first + web.arm, second - web.arm
    yield Arc((0.0, 0.0), web.bore_radius, first - web.arm, 2 * web.arm)
    yield Line(point_along(left, web.bore_radius), point_along(left, touched))
    yield Arc(middle, web.fillet, left - math.pi / 2, right - left - math.pi)
    yield Line(point_along(right, touched), point_along(right, web.bore_radius))


def _root(web: Web) -> tuple[float, float]:
    """Distance of a root fillet's middle along its spoke, and angle of it from the spoke."""
    across = web.spoke_width / 2 + web.fillet
    along = math.sqrt((web.hub_radius + web.fillet) ** 2 - across**2)
    return along, math.atan2(across, along)


def _fillet_in(web: Web, axis: float, side: int) -> Arc:
    """Fillet between hub and spoke, counterclockwise; side 1 is ahead of the spoke."""
    inner, root = _root(web)
    centre = point_along(axis, inner, side * (web.spoke_width / 2 + web.fillet))
    to_hub, sweep = axis + side * root + math.pi, math.pi / 2 - root
    return Arc(centre, web.fillet, to_hub if side == 1 else to_hub - sweep, sweep)


def _back(arc: Arc) -> Arc:
    return Arc(arc.centre, arc.radius, arc.start_angle + arc.sweep, -arc.sweep)


def _around(centre: Point, radius: float, angle: float) -> Point:
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def _swept(edge: Line | Arc) -> float:
    """Area swept by the ray from the middle to a point that runs along an edge."""
    (x1, y1), (x2, y2) = edge.start, edge.end
    if isinstance(edge, Line):
        return (x1 * y2 - x2 * y1) / 2
    (x, y), radius = edge.centre, edge.radius
    return (radius**2 * edge.sweep + x * (y2 - y1) - y * (x2 - x1)) / 2


def _convenient(fillet: float) -> float:
    """Round a radius down to a convenient number."""
    step = 0.5 if fillet >= 1 else 0.1
    return round(math.floor(fillet / step + 1e-9) * step, 1)
