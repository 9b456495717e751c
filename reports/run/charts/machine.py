"""The machine to scale: a section through its axis and a view on its exhaust end.

A sketch for the eye, from the numbers of the build: casing, plates and the cut-out of the shaft are
drawn as thick as looks right, everything else is true. The build sheet has the drawings to cut by.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.catalogue import bearings
from engine.columns import COLUMNS
from reports.kit.quantities import bare, count, quantity
from reports.kit.svg import Drawing, Point
from reports.run.facts import Candidate
from reports.run.search_facts import Values

WIDTH, HEIGHT = 350.0, 410.0
TALL = 292.0
"""Height that the outside of the casing takes."""
MIDDLE = 196.0
HUB = 1.3
"""Radius of the hub over that of the shaft, as drawn."""


@dataclass(frozen=True)
class _Build:
    """Lengths of a build [mm], and the scale of its drawing."""

    rim: float
    bore: float
    shaft: float
    casing: float
    """Radius of the casing bore."""
    outside: float
    """Radius of the outside of the casing."""
    stack: float
    sheet: float
    gap: float
    side: float
    discs: int
    wall: float
    scale: float
    """Drawn lengths over true ones."""


def section_and_view(candidate: Candidate, gas: str) -> tuple[Drawing, Drawing]:
    """Draw both."""
    build = _build_of(candidate.values)
    return _section(candidate, build, gas), _view(candidate, build)


def _build_of(values: Values) -> _Build:
    def mm(key: str, usual: float) -> float:
        value = float(values.get(key, math.nan))
        return float(COLUMNS[key].to_drawing(value)) if math.isfinite(value) else usual

    rim = mm("disc_diameter", 100.0) / 2
    discs = max(1, round(float(values.get("disc_count", 1))))
    sheet, gap = mm("disc_thickness", 1.0), mm("gap", 0.5)
    stack = discs * sheet + (discs - 1) * gap
    casing = rim + mm("rim_clearance", 0.5)
    wall = 0.13 * rim
    side = mm("side_gap", 1.0)
    outside = casing + wall
    reach = stack / 2 + mm("bearing_allowance", 20.0) + 10
    scale = min(TALL / (2 * outside), (WIDTH - 24) / (2 * reach))
    return _Build(
        rim=rim,
        bore=min(mm("exhaust_bore", rim) / 2, 0.95 * rim),
        shaft=min(mm("shaft_diameter", 8.0) / 2, 0.4 * rim),
        casing=casing,
        outside=outside,
        stack=stack,
        sheet=sheet,
        gap=gap,
        side=side,
        discs=discs,
        wall=wall,
        scale=scale,
    )


def _section(candidate: Candidate, b: _Build, gas: str) -> Drawing:
    values, s = candidate.values, b.scale
    stack = f"{count(b.discs)} discs, {bare('stack_height', b.stack * 1e-3)} mm thick together"
    drawing = Drawing(
        WIDTH, HEIGHT, says=f"Section through the axis, to scale: {stack}.", size=12.5
    )
    across, axis = WIDTH / 2, MIDDLE
    left = across - b.stack * s / 2
    inner, plate = b.side * s, b.wall * s * 0.8
    ends = int(float(values.get("exhaust_ends", 2)))
    for side in (-1, 1):  # above and below the axis

        def box(x: float, wide: float, ends: Point, look: str, *, side: int = side) -> None:
            low, high = ends
            top = axis - high * s if side < 0 else axis + low * s
            drawing.box((x, top), (wide, (high - low) * s), look)

        whole = b.stack * s + 2 * (inner + plate)
        box(left - inner - plate, whole, (b.casing, b.outside), "casing")
        for end, x in enumerate((left - inner - plate, left + b.stack * s + inner)):
            opening = b.bore if end < ends else b.shaft * 1.15
            box(x, plate, (opening, b.casing), "casing")
        # Many alike: each look is one path.
        hub = (b.shaft, min(b.shaft * HUB + 1, b.bore))
        sheet, pitch = max(0.7, b.sheet * s), (b.sheet + b.gap) * s
        for ends_of, wide, first, n, look in (
            ((b.bore, b.rim), sheet, 0.0, b.discs, "metal"),
            (hub, sheet, 0.0, b.discs, "metal"),
            ((b.shaft * HUB, b.bore), max(0.5, b.sheet * s), 0.0, b.discs, "web"),
            (hub, b.gap * s, b.sheet * s, b.discs - 1, "metal-pale"),
        ):
            low, high = ends_of
            top = axis - high * s if side < 0 else axis + low * s
            places = [(left + first + disc * pitch, top) for disc in range(n)]
            drawing.boxes([(place, (wide, (high - low) * s)) for place in places], look)
    reach = _shaft(drawing, values, b, axis=axis, across=across)
    _air_of_section(drawing, values, b, gas, ends)
    drawing.line((across - reach - 12, axis), (across + reach + 12, axis), "axis")
    floor = axis + b.outside * s + 22
    for x in (left, left + b.stack * s):
        drawing.line((x, axis + b.outside * s + 5), (x, floor + 5), "thin")
    drawing.line((left - 18, floor), (left + b.stack * s + 18, floor), "thin")
    _head(drawing, (left, floor), 0, "ink")
    _head(drawing, (left + b.stack * s, floor), 180, "ink")
    words = f"{bare('stack_height', b.stack * 1e-3)}"
    drawing.text((left + b.stack * s + 22, floor + 4), words)
    told = f"{count(b.discs)} discs {_mm(b.sheet)}, {count(b.discs - 1)} gaps {_mm(b.gap)}"
    drawing.text((across, floor + 22), told, "soft", anchor="middle")
    return drawing


def _shaft(drawing: Drawing, values: Values, b: _Build, *, axis: float, across: float) -> float:
    """Draw shaft and bearings; give half the length drawn."""
    s = b.scale
    allowance = float(COLUMNS["bearing_allowance"].to_drawing(
        float(values.get("bearing_allowance", 0.02))
    ))  # fmt: skip
    bearing = bearings().get(str(values.get("bearing", "")))
    wide, outer = (
        (bearing.width * 1e3, bearing.outside_diameter * 5e2) if bearing else (7.0, 2.6 * b.shaft)
    )
    reach = (b.stack / 2 + allowance + wide) * s
    drawing.box((across - reach, axis - b.shaft * s), (2 * reach, 2 * b.shaft * s), "paper")
    for side in (-1, 1):
        middle = across + side * (b.stack / 2 + allowance) * s
        for up in (-1, 1):
            top = axis - outer * s if up < 0 else axis + b.shaft * s
            size = (outer - b.shaft) * s
            drawing.box((middle - wide * s / 2, top), (wide * s, size), "paper")
            drawing.circle((middle, top + size / 2), min(wide * s, size) * 0.28, "paper")
    if bearing:
        at = (across - (b.stack / 2 + allowance) * s, axis + outer * s + 15)
        drawing.text(at, str(values["bearing"]), "soft halo", anchor="middle")
    return reach


def _air_of_section(drawing: Drawing, values: Values, b: _Build, gas: str, ends: int) -> None:
    """Draw the way in and the way out, with what goes in and how warm it leaves."""
    s, across = b.scale, WIDTH / 2
    top = MIDDLE - b.outside * s
    drawing.curve([(across, top - 30), (across, MIDDLE - b.casing * s - 2)], "air")
    _head(drawing, (across, MIDDLE - b.casing * s + 2), 90, "air")
    flow = quantity("mass_flow", float(values.get("mass_flow", math.nan)))
    drawing.text((across + 9, top - 18), f"{gas} in, {flow}", "air")
    middle = (b.bore + b.shaft * HUB) / 2
    away = b.stack * s / 2 + (b.side + b.wall) * s + 12
    for side in (-1, 1)[:ends]:
        start, end = MIDDLE - (b.bore + 3) * s, MIDDLE - middle * s
        x = across + side * b.stack * s * 0.2
        points = [
            (
                x + side * (away - b.stack * s * 0.2) * t**2,
                start + (end - start) * math.sin(t * math.pi / 2),
            )
            for t in np.linspace(0, 1, 12).tolist()
        ]
        drawing.curve(points, "air")
        _head(drawing, (across + side * (away + 3), end), 0 if side > 0 else 180, "air")
    side = 1 if ends == 2 else -1
    warm = quantity("exhaust_temperature", float(values.get("exhaust_temperature", math.nan)))
    at = (across + side * (away - 4), MIDDLE - middle * s - 9)
    drawing.text(at, f"out, {warm}", "air halo", anchor="start" if side > 0 else "end")


def _view(candidate: Candidate, b: _Build) -> Drawing:
    values, s = candidate.values, b.scale
    nozzles = max(1, round(float(values.get("nozzle_count", 1))))
    says = (
        f"View on the exhaust end, to scale: disc {quantity('disc_diameter', 2e-3 * b.rim)}, bore "
        f"{quantity('exhaust_bore', 2e-3 * b.bore)}, jets at "
        f"{quantity('casing_angle', float(values.get('casing_angle', math.nan)))} to the casing."
    )
    drawing = Drawing(WIDTH, HEIGHT, says=says, size=12.5)
    middle = (WIDTH / 2, MIDDLE)
    for radius, look in ((b.outside, "paper"), (b.casing, "paper"), (b.rim, "disc")):
        drawing.circle(middle, radius * s, look)
    drawing.circle(middle, b.bore * s, "paper")
    spokes = max(1, round(float(values.get("spokes", 3))))
    hub = min(b.shaft * HUB + 1, 0.9 * b.bore)
    share = float(values.get("exhaust_blockage", 0.25)) if math.isfinite(
        float(values.get("exhaust_blockage", 0.25))
    ) else 0.25  # fmt: skip
    half = max(0.6, 0.5 * share * math.pi * (b.bore + hub) / spokes)
    for spoke in range(spokes):
        turn = 2 * math.pi * spoke / spokes
        corners = [(-half, 0.0), (half, 0.0), (half, b.bore + 0.4), (-half, b.bore + 0.4)]
        drawing.area([_turned(middle, x * s, y * s, turn) for x, y in corners], "web-flat")
    drawing.circle(middle, hub * s, "disc")
    drawing.circle(middle, b.shaft * s, "paper")
    _path(drawing, candidate, middle, s)
    reach = b.outside * s + 14
    drawing.line((middle[0] - reach, middle[1]), (middle[0] + reach, middle[1]), "axis")
    drawing.line((middle[0], middle[1] - reach), (middle[0], middle[1] + reach), "axis")
    angle = float(values.get("casing_angle", values.get("inlet_angle", 0.2)))
    for nozzle in range(nozzles):
        turn = 2 * math.pi * nozzle / nozzles
        along = (b.wall + 0.25 * b.rim) * s
        tip = _turned(middle, 0, b.casing * s, turn)
        tail = _turned(
            middle, along * math.cos(angle), b.casing * s + along * math.sin(angle), turn
        )
        drawing.curve([tail, tip], "air")
        way = math.degrees(math.atan2(tip[1] - tail[1], tip[0] - tail[0]))
        _head(drawing, tip, way, "air")
    words = f"{count(nozzles)} jet{'s' if nozzles > 1 else ''} at {_degrees(angle)}"
    drawing.text((middle[0] + 12, MIDDLE - b.outside * s - 18), words, "air halo")
    _dimensions(drawing, b, middle)
    return drawing


def _path(drawing: Drawing, candidate: Candidate, middle: Point, s: float) -> None:
    """Draw the way of the fluid through a gap, where it is known."""
    gap = candidate.inside.gap
    if gap is None:
        return
    whole = float(gap.path_angle[-1])
    turns = np.linspace(0.0, whole, max(8, math.ceil(abs(whole) / (math.pi / 36))))
    radii = np.interp(turns, gap.path_angle, gap.radius) * 1e3 * s
    points = [
        (middle[0] - r * math.sin(a), middle[1] - r * math.cos(a))
        for a, r in zip(turns.tolist(), radii.tolist(), strict=True)
    ]
    drawing.curve(points, "air fine")
    (x0, y0), (x1, y1) = points[-2:]
    _head(drawing, points[-1], math.degrees(math.atan2(y1 - y0, x1 - x0)), "air")


def _dimensions(drawing: Drawing, b: _Build, middle: Point) -> None:
    s, (x, y) = b.scale, middle
    floor = y + b.outside * s + 22
    for side in (-1, 1):
        drawing.line((x + side * b.rim * s, y), (x + side * b.rim * s, floor + 5), "thin")
        _head(drawing, (x + side * b.rim * s, floor), 0 if side > 0 else 180, "ink")
    drawing.line((x - b.rim * s, floor), (x + b.rim * s, floor), "thin")
    drawing.text((x, floor + 17), f"⌀{_mm(2 * b.rim)}", anchor="middle")
    turn = math.radians(35)
    at = (x + b.bore * s * math.cos(turn), y + b.bore * s * math.sin(turn))
    out = (x + (b.outside * s + 8) * math.cos(turn), y + (b.outside * s + 8) * math.sin(turn))
    drawing.line(out, at, "thin")
    _head(drawing, at, 180 + 35, "ink")
    drawing.text((out[0] + 2, out[1] + 12), f"⌀{_mm(2 * b.bore)}", "halo")


def _turned(middle: Point, x: float, y: float, turn: float) -> Point:
    """Place `y` outward and `x` to the right of the top, turned counterclockwise."""
    return (
        middle[0] + x * math.cos(turn) - y * math.sin(turn),
        middle[1] - x * math.sin(turn) - y * math.cos(turn),
    )


def _head(drawing: Drawing, tip: Point, way: float, look: str) -> None:
    """Draw an arrowhead that points this way [degrees clockwise from the right]."""
    points = [tip]
    for side in (-1, 1):
        turn = math.radians(way + 180 + side * 17)
        points.append((tip[0] + 9 * math.cos(turn), tip[1] + 9 * math.sin(turn)))
    drawing.area(points, f"full {look}")


def _mm(length: float) -> str:
    return f"{length:.4g}"


def _degrees(angle: float) -> str:
    return f"{math.degrees(angle):.3g}°"
