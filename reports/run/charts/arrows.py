"""Arrowheads, and points turned around a middle."""

import math

from reports.kit.svg import Drawing, Point


def turned(middle: Point, x: float, y: float, turn: float) -> Point:
    """Place `y` outward and `x` to the right of the top, turned counterclockwise."""
    return (
        middle[0] + x * math.cos(turn) - y * math.sin(turn),
        middle[1] - x * math.sin(turn) - y * math.cos(turn),
    )


def arrowhead(drawing: Drawing, tip: Point, way: float, look: str) -> None:
    """Draw an arrowhead that points this way [degrees clockwise from the right]."""
    points = [tip]
    for side in (-1, 1):
        turn = math.radians(way + 180 + side * 17)
        points.append((tip[0] + 9 * math.cos(turn), tip[1] + 9 * math.sin(turn)))
    drawing.area(points, f"full {look}")
