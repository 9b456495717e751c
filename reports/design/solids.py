"""Flat and turned parts as solids of a STEP file, straight from their outlines.

A flat part is an extrusion: planes and cylinders, bounded by lines and arcs of circles. A turned
part has planes, cylinders and cones, each round one in two halves. No CAD kernel is needed.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

from reports.design.keyway_solids import keyway_faces
from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point
from reports.design.step_file import AHEAD, DOWN, UP, StepFile, real, text
from reports.design.turned import Turned

Edge = Line | Arc


def extruded(file: StepFile, part: Flat, top: float) -> str:
    """Extrude a part from level 0 to its upper face [mm]; gives the solid."""
    outer, *holes = (_edges(outline) for outline in (part.outside, *part.inside))
    # Metal lies at the left of every edge.
    loops = [_directed(outer, counterclockwise=True)]
    loops += [_directed(hole, counterclockwise=False) for hole in holes]
    faces, lower, upper = list[str](), list[str](), list[str]()
    for edges in loops:
        walls, floor, ceiling = _walls(file, edges, 0.0, top)
        faces += walls
        lower.append(file.loop((edge, False) for edge in reversed(floor)))
        upper.append(file.loop((edge, True) for edge in ceiling))
    for loops_of_face, level, up in ((lower, 0.0, DOWN), (upper, top, UP)):
        faces.append(_flat(file, loops_of_face, level, up))
    return _closed(file, faces, part.name)


def revolved(file: StepFile, part: Turned) -> str:
    """Turn a half outline about the axis; gives the solid. A cone may not end in a point."""
    halves = [_half_circles(file, r, z) if r else None for r, z in part.profile]
    faces = []
    cuts: dict[float, list[str]] = {}
    if (bores := part.bores) is not None:
        for circle in bores.circles:
            edges = _directed(_edges(circle), counterclockwise=False)
            walls, floor, ceiling = _walls(file, edges, bores.low, bores.high)
            faces += walls
            downward = file.loop((edge, False) for edge in reversed(floor))
            cuts.setdefault(bores.low, []).append(downward)
            upward = file.loop((edge, True) for edge in ceiling)
            cuts.setdefault(bores.high, []).append(upward)
    keyed, bore = part.keyway, part.bore / 2
    broached = _broached(file, part, faces) if part.broach is not None else None
    n_points = len(part.profile)
    for here in range(n_points):
        there = (here + 1) % n_points
        (r1, z1), (r2, z2) = part.profile[here], part.profile[there]
        if r1 == r2 == 0:
            continue
        if z1 == z2:
            up = r2 < r1
            outer, inner = (halves[here], halves[there]) if up else (halves[there], halves[here])
            loops = [_circle(file, outer, forward=up)] if outer else []
            if broached is not None and min(r1, r2) == bore:
                loops.append(broached[z1])
            elif inner:
                loops.append(_circle(file, inner, forward=not up))
            if bores is not None and 2 * min(r1, r2) < bores.circle < 2 * max(r1, r2):
                loops += cuts.pop(z1, [])
            faces.append(_flat(file, loops, z1, UP if up else DOWN))
            continue
        one, two = halves[here], halves[there]
        if one is None or two is None:
            msg = f"{part.name}: a cone ends in a point"
            raise ValueError(msg)
        if broached is not None and r1 == r2 == bore:
            continue
        found = []
        if keyed is not None and r1 == r2 and z1 <= keyed.start and keyed.end <= z2:
            walls, opening = keyway_faces(file, keyed, r1)
            faces += walls
            found = [opening]
        faces += _round_wall(file, (part.profile[here], one), (part.profile[there], two), found)
    if cuts:
        msg = f"{part.name}: a hole does not end in a flat face"
        raise ValueError(msg)
    return _closed(file, faces, part.name)


def _broached(file: StepFile, part: Turned, faces: list[str]) -> dict[float, str]:
    """Write the walls of a bore with its keyway; gives its loop in the face at each end."""
    if part.broach is None:
        return {}
    low, high = part.ends
    edges = _directed(_edges(part.broach.outline(part.bore / 2)), counterclockwise=False)
    walls, floor, ceiling = _walls(file, edges, low, high)
    faces += walls
    downward = file.loop((edge, False) for edge in reversed(floor))
    return {low: downward, high: file.loop((edge, True) for edge in ceiling)}


Halves = tuple[tuple[str, str], tuple[str, str]]
"""A circle's points at both ends of a diameter, and its halves from the first and back."""


def _half_circles(file: StepFile, radius: float, level: float) -> Halves:
    ends = file.vertex(radius, 0, level), file.vertex(-radius, 0, level)
    first, second = (
        file.curve(
            start, end, file.add(f"CIRCLE('',{file.axes((0, 0, level), UP, AHEAD)},{real(radius)})")
        )
        for start, end in (ends, ends[::-1])
    )
    return ends, (first, second)


def _circle(file: StepFile, halves: Halves, *, forward: bool) -> str:
    edges = halves[1] if forward else halves[1][::-1]
    return file.loop((edge, forward) for edge in edges)


def _round_wall(
    file: StepFile,
    one: tuple[Point, Halves],
    two: tuple[Point, Halves],
    openings: Sequence[str] = (),
) -> list[str]:
    """Both halves of the cylinder or cone between two points of a half outline.

    `openings` are loops in the half towards y.
    """
    ((r1, z1), (ends_1, halves_1)), ((r2, z2), (ends_2, halves_2)) = one, two
    length = math.hypot(r2 - r1, z2 - z1)
    lines = [
        file.curve(
            ends_1[side],
            ends_2[side],
            file.line((sign * r1, 0, z1), (sign * (r2 - r1) / length, 0, (z2 - z1) / length)),
        )
        for side, sign in enumerate((1, -1))
    ]
    outward = z2 > z1
    found = []
    for half, (ahead, behind) in enumerate((lines, lines[::-1])):
        # Counterclockwise about the normal that points out of the metal.
        loop = file.loop(
            [
                (halves_1[half], True),
                (behind, True),
                (halves_2[half], False),
                (ahead, False),
            ]
        )
        if r1 == r2:
            surface = f"CYLINDRICAL_SURFACE('',{file.axes((0, 0, z1), UP, AHEAD)},{real(r1)})"
        else:
            opens = (r2 - r1) / (z2 - z1)
            axes = file.axes((0, 0, z1), UP if opens > 0 else DOWN, AHEAD)
            angle = math.atan(abs(opens))
            surface = f"CONICAL_SURFACE('',{axes},{real(r1)},{real(angle, 12)})"
        within = openings if half == 0 else ()
        found.append(file.face([loop, *within], file.add(surface), same=outward))
    return found


def _walls(
    file: StepFile, edges: Sequence[Edge], low: float, high: float
) -> tuple[list[str], list[str], list[str]]:
    """Walls that edges sweep between two levels, and their own edges on both."""
    ends = [(edge.start, *_vertices(file, edge.start, low, high)) for edge in edges]
    upright = [file.curve(below, above, file.line((*at, low), UP)) for at, below, above in ends]
    around = list(pairwise([*range(len(edges)), 0]))
    faces, floor, ceiling = list[str](), list[str](), list[str]()
    for edge, (here, there) in zip(edges, around, strict=True):
        for level, place, found in ((low, 1, floor), (high, 2, ceiling)):
            geometry, same = _geometry(file, edge, level)
            found.append(file.curve(ends[here][place], ends[there][place], geometry, same=same))
        loop = file.loop(
            [
                (floor[-1], True),
                (upright[there], True),
                (ceiling[-1], False),
                (upright[here], False),
            ]
        )
        surface, same = _wall(file, edge)
        faces.append(file.face([loop], surface, same=same))
    return faces, floor, ceiling


def _flat(file: StepFile, loops: Sequence[str], level: float, up: Sequence[float]) -> str:
    plane = file.add(f"PLANE('',{file.axes((0, 0, level), up, AHEAD)})")
    return file.face(loops, plane)


def _closed(file: StepFile, faces: Sequence[str], name: str) -> str:
    shell = file.add(f"CLOSED_SHELL('',({','.join(faces)}))")
    return file.add(f"MANIFOLD_SOLID_BREP({text(name)},{shell})")


def _vertices(file: StepFile, at: Point, low: float, high: float) -> tuple[str, str]:
    return file.vertex(*at, low), file.vertex(*at, high)


def _geometry(file: StepFile, edge: Edge, level: float) -> tuple[str, bool]:
    """Curve of an edge at a level, and whether the edge runs the same way."""
    if isinstance(edge, Line):
        return file.line((*edge.start, level), (*_way(edge), 0)), True
    axes = file.axes((*edge.centre, level), UP, AHEAD)
    return file.add(f"CIRCLE('',{axes},{real(edge.radius)})"), edge.sweep > 0


def _wall(file: StepFile, edge: Edge) -> tuple[str, bool]:
    """Surface that an edge sweeps, and whether it faces out of the metal."""
    if isinstance(edge, Line):
        x, y = _way(edge)
        return file.add(f"PLANE('',{file.axes((*edge.start, 0), (y, -x, 0), (0, 0, 1))})"), True
    axes = file.axes((*edge.centre, 0), UP, AHEAD)
    return file.add(f"CYLINDRICAL_SURFACE('',{axes},{real(edge.radius)})"), edge.sweep > 0


def _way(line: Line) -> Point:
    (x1, y1), (x2, y2) = line.start, line.end
    return (x2 - x1) / line.length, (y2 - y1) / line.length


def _edges(outline: Circle | Outline) -> list[Edge]:
    """Edges of an outline, none of them more than half a turn."""
    found: list[Edge] = []
    for edge in outline.edges:
        pieces = math.ceil(abs(edge.sweep) / math.pi - 1e-9) if isinstance(edge, Arc) else 1
        if isinstance(edge, Line) or pieces == 1:
            found.append(edge)
            continue
        sweep = edge.sweep / pieces
        found += [
            Arc(edge.centre, edge.radius, edge.start_angle + piece * sweep, sweep)
            for piece in range(pieces)
        ]
    return found


def _directed(edges: Sequence[Edge], *, counterclockwise: bool) -> list[Edge]:
    if (Outline(tuple(edges)).area > 0) == counterclockwise:
        return list(edges)
    return [_reversed(edge) for edge in reversed(edges)]


def _reversed(edge: Edge) -> Edge:
    if isinstance(edge, Line):
        return Line(edge.end, edge.start)
    return Arc(edge.centre, edge.radius, edge.start_angle + edge.sweep, -edge.sweep)
