"""The flat plate that holds a bearing's carrier: a ring on the bolts, three arms, two feet."""

import math
from collections.abc import Iterable, Sequence

from engine.model.shaft_layout import CARRIER_PLATE
from reports.design.casing import WALL, Housing
from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point, point_along

ARMS, ARM = 3, 14.0
"""Number of arms, and their width [mm]; common practice, no source."""
FOOT_BELOW, FOOT_SHARE = 12.0, 0.75
"""Metal beneath the ring [mm], and width of the feet over the plate's."""
SCREW, SCREW_HOLE, TAP_DRILL = "M3", 3.4, 2.5
"""Of a carrier in its plate: through hole (ISO 273), drill for its thread [mm]; from memory."""
SCREW_SIZE, SCREW_HEAD = 3.0, (5.5, 3.0)
"""Its thread, and diameter and height of its head (ISO 4762, from memory) [mm]."""
SCREW_LENGTHS = (10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80)
"""In which screws are sold (ISO 4762 and ISO 10642, from memory) [mm]."""
SCREW_TIP = 2.0
"""Least metal beyond the screw's end in the plate [mm]."""
FOOT_SCREWS, FOOT_THREAD, FOOT_DEEP, FOOT_ENGAGED = 2, "M6", 16, 12
"""In each foot: screws from below, their thread, and its depth and what is engaged of it [mm]."""
FOOT_WASHER = "6.4 × 12 × 1.6"
"""Bore, outside and thickness: ISO 7089, from memory."""
FEET = f"{FOOT_SCREWS}× {FOOT_THREAD}, {FOOT_DEEP} deep, in the foot"
"""What is tapped there."""
LEAST_OPENING = 3.0
"""Radial height below which no opening is cut between the arms [mm]."""
TURNS = 24
"""Places tried for the arms, so that the ports of the supply stay free."""


def screw_length(flange: float) -> int:
    """Longest screw through a carrier's flange that ends inside of its plate; both in mm."""
    most = flange + 1e3 * CARRIER_PLATE - SCREW_TIP
    return max(length for length in SCREW_LENGTHS if length <= most + 1e-9)


def carrier_plate(
    name: str,
    casing: Housing,
    *,
    spigot: float,
    flange: float,
    screws: float,
    ports: Sequence[float] = (),
) -> Flat:
    """Draw the plate; diameters in mm of the carrier's spigot, its flange and its circle of screws.

    `ports` are the directions [rad] that the arms should leave free.
    """
    outer = casing.bolt_circle - casing.bolt_hole / 2 - WALL
    turn = _clear_of(ports)
    openings = tuple(
        _opening(flange / 2, outer, turn + math.tau * arm / ARMS) for arm in range(ARMS)
    )
    taps = tuple(
        Circle(TAP_DRILL / 2, point_along(math.tau * place / ARMS, screws / 2))
        for place in range(ARMS)
    )
    return Flat(
        name,
        footed(casing.outside),
        (
            Circle(spigot / 2),
            *casing.holes,
            *(openings if outer - flange / 2 >= LEAST_OPENING else ()),
            *taps,
        ),
    )


def closed_plate(
    name: str, casing: Housing, *, spigot: float, screws: float, holes: Sequence[Circle]
) -> Flat:
    """Draw the plate without openings but `holes`; diameters in mm, as of `carrier_plate`."""
    taps = tuple(
        Circle(TAP_DRILL / 2, point_along(math.tau * place / ARMS, screws / 2))
        for place in range(ARMS)
    )
    inside = (Circle(spigot / 2), *casing.holes, *holes, *taps)
    return Flat(name, footed(casing.outside), inside)


def centre_height(outside: float) -> float:
    """Height of the shaft over the feet, to the next half centimetre; radius and result in mm."""
    return 5 * math.ceil((outside + FOOT_BELOW) / 5)


def footed(outside: float) -> Outline:
    """Draw a round plate of this radius with feet beneath, counterclockwise [mm]."""
    half, base = FOOT_SHARE * outside, -centre_height(outside)
    lean = math.acos(FOOT_SHARE)
    corner = -outside * math.sin(lean)
    right, left = (half, corner), (-half, corner)
    return Outline(
        (
            Arc((0.0, 0.0), outside, -lean, math.pi + 2 * lean),
            Line(left, (-half, base)),
            Line((-half, base), (half, base)),
            Line((half, base), right),
        )
    )


def _opening(inner: float, outer: float, axis: float) -> Outline:
    """Draw the opening from one arm to the next, counterclockwise."""
    following, half = axis + math.tau / ARMS, ARM / 2
    leans = {radius: math.asin(min(half / radius, 1.0)) for radius in (inner, outer)}

    def corner(radius: float, direction: float) -> Point:
        return point_along(direction, radius)

    def edges() -> Iterable[Line | Arc]:
        low, high = leans[outer], leans[inner]
        start, end = axis + low, following - low
        yield Arc((0.0, 0.0), outer, start, end - start)
        yield Line(corner(outer, end), corner(inner, following - high))
        yield Arc((0.0, 0.0), inner, following - high, -(following - axis - 2 * high))
        yield Line(corner(inner, axis + high), corner(outer, start))

    return Outline(tuple(edges()))


def _clear_of(ports: Sequence[float]) -> float:
    """Turn the arms to where the nearest port is farthest off."""

    def room(turn: float) -> float:
        arms = [turn + math.tau * arm / ARMS for arm in range(ARMS)]
        return min(abs(math.remainder(port - arm, math.tau)) for port in ports for arm in arms)

    tried = [math.pi / 2 + math.tau * place / ARMS / TURNS for place in range(TURNS)]
    return max(tried, key=room) if ports else tried[0]
