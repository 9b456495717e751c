"""The plate for the flange of generator or motor; lengths in mm. No drawing, no files.

Frames of motors differ too much to draw one. So the plate has feet as the plates of the bearings
have, a pilot hole that is bored to the spigot of the maker's own motor, and slots that reach every
usual circle of screws. It is lower than the shaft by a shim, which sets the height; a belt is
tightened by its feet.
"""

import math

from reports.design.carriers import centre_height
from reports.design.outlines import Arc, Circle, Flat, Line, Outline, point_along

NAMES = ("generator plate", "motor plate")
WIDEST = 60.0
"""Half of its width at most [mm]; common practice, as all sizes here."""
PILOT = 10.0
"""Diameter of the hole that is bored to the motor's spigot."""
SLOTS, SLOT, INNERMOST, EDGE = 4, 5.5, 13.0, 8.0
"""Number and width of the slots, where they begin, and metal beyond them."""
SCREW, WASHER = "M5", "5.3 × 10 × 1"
"""That fit into the slots; washers by ISO 7089, from memory."""
SHIM = 0.5
"""Height left for shims under the feet."""
ROOM = 5.0
"""Between coupling or pulley and the plate."""


def half_width(outside: float) -> float:
    """Half of the plate's width for a casing of this radius."""
    return min(outside, WIDEST)


def height(outside: float) -> float:
    """From the feet to the middle of the motor."""
    return centre_height(outside) - SHIM


def outermost(outside: float) -> float:
    """Where the slots end, off the middle."""
    return half_width(outside) - EDGE


def drive_plate(name: str, outside: float) -> Flat:
    """Draw the plate for a casing of this radius."""
    half, base = half_width(outside), -height(outside)
    edge = Outline(
        (
            Arc((0.0, 0.0), half, 0.0, math.pi),
            Line((-half, 0.0), (-half, base)),
            Line((-half, base), (half, base)),
            Line((half, base), (half, 0.0)),
        )
    )
    turns = [math.pi / 4 + math.tau * place / SLOTS for place in range(SLOTS)]
    slots = [_slot(turn, INNERMOST, outermost(outside)) for turn in turns]
    return Flat(name, edge, (Circle(PILOT / 2), *slots))


def _slot(turn: float, low: float, high: float) -> Outline:
    """Draw a slot along a direction between the middles of its ends, counterclockwise."""
    half = SLOT / 2
    return Outline(
        (
            Line(point_along(turn, low, -half), point_along(turn, high, -half)),
            Arc(point_along(turn, high), half, turn - math.pi / 2, math.pi),
            Line(point_along(turn, high, half), point_along(turn, low, half)),
            Arc(point_along(turn, low), half, turn + math.pi / 2, math.pi),
        )
    )
