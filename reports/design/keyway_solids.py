"""A keyway milled into a shaft, as faces of its solid: round ends, flat floor.

Its ends meet the shaft in curves of the fourth order, which STEP has no name for: they are written
as splines through points of the true curve.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

from reports.design.outlines import Point
from reports.design.step_file import StepFile, real
from reports.design.turned import Keyway

ACROSS, ALONG = (0, 1, 0), (0, 0, 1)
"""Out of the keyway, and along the shaft."""
DEGREE, POINTS = 5, 65
"""Of a spline, and points of an end that it goes through: within 1e-9 of its width."""

Curve = Callable[[Point, Point, float], str]


@dataclass(frozen=True)
class _Rim:
    """A closed chain around the keyway at the shaft's surface or at its floor."""

    corners: list[str]
    edges: list[str]


def keyway_faces(file: StepFile, keyway: Keyway, radius: float) -> tuple[list[str], str]:
    """Write walls and floor of a keyway; gives them, and its loop in the shaft's own face.

    The keyway opens in the direction of y.
    """
    half, floor = keyway.width / 2, radius - keyway.depth
    low, high = keyway.start + half, keyway.end - half
    # Across and along; counterclockwise as seen from outside.
    plan = [(-half, low), (-half, high), (half, high), (half, low)]
    surface = float(np.sqrt(radius**2 - half**2))

    def arc(start: Point, _: Point, way: float) -> str:
        del way
        axes = file.axes((0, floor, start[1]), ACROSS, ALONG)
        return file.add(f"CIRCLE('',{axes},{real(half)})")

    def spline(start: Point, end: Point, way: float) -> str:
        del end
        turn = np.linspace(0, np.pi, POINTS)
        x, z = start[0] * np.cos(turn), start[1] + way * half * np.sin(turn)
        return _spline(file, turn, np.stack([x, np.sqrt(radius**2 - x**2), z], axis=-1))

    upper = _rim(file, plan, surface, spline)
    lower = _rim(file, plan, floor, arc)
    upright = [
        file.curve(below, above, file.line((x, floor, z), ACROSS))
        for below, above, (x, z) in zip(lower.corners, upper.corners, plan, strict=True)
    ]
    faces = []
    for place, (here, there) in enumerate(pairwise([0, 1, 2, 3, 0])):
        loop = file.loop(
            [
                (upright[here], True),
                (upper.edges[place], True),
                (upright[there], False),
                (lower.edges[place], False),
            ]
        )
        x, z = plan[here]
        if place % 2:
            axes = file.axes((0, floor, z), ACROSS, ALONG)
            wall, out = f"CYLINDRICAL_SURFACE('',{axes},{real(half)})", False
        else:
            inward = (-1 if x > 0 else 1, 0, 0)
            wall, out = f"PLANE('',{file.axes((x, floor, z), inward, ALONG)})", True
        faces.append(file.face([loop], file.add(wall), same=out))
    ground = file.add(f"PLANE('',{file.axes((0, floor, low), ACROSS, ALONG)})")
    faces.append(file.face([file.loop((edge, True) for edge in lower.edges)], ground))
    return faces, file.loop((edge, False) for edge in reversed(upper.edges))


def _rim(file: StepFile, plan: list[Point], level: float, end: Curve) -> _Rim:
    corners = [file.vertex(x, level, z) for x, z in plan]
    edges = []
    for place, (here, there) in enumerate(pairwise([0, 1, 2, 3, 0])):
        way = 1.0 if place < 2 else -1.0
        (x, z), ends = plan[here], (plan[here], plan[there])
        curve = end(*ends, way) if place % 2 else file.line((x, level, z), (0, 0, way))
        edges.append(file.curve(corners[here], corners[there], curve))
    return _Rim(corners, edges)


def _spline(file: StepFile, places: NDArray[np.float64], points: NDArray[np.float64]) -> str:
    """Write the spline through points, parametrised by their places."""
    found = make_interp_spline(places, points, k=DEGREE)
    knots, counts = np.unique(found.t, return_counts=True)
    poles = ",".join(file.point(x, y, z) for x, y, z in np.asarray(found.c).tolist())
    return file.add(
        f"B_SPLINE_CURVE_WITH_KNOTS('',{DEGREE},({poles}),.UNSPECIFIED.,.F.,.F.,"
        f"({','.join(map(str, counts.tolist()))}),"
        f"({','.join(real(knot, 15) for knot in knots.tolist())}),.UNSPECIFIED.)"
    )
