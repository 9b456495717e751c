"""The machine to scale: a section through its axis and a view on its exhaust end.

A sketch for the eye. What turns, and what it runs in, is where `engine.model.shaft_layout` puts it,
as on the drawings of the build sheet; only the casing's wall is drawn as thick as looks right.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from engine.catalogue import bearings
from engine.columns import COLUMNS
from engine.model.shaft_layout import (
    CARRIER_PLATE,
    CLAMP_THICKNESS,
    END_PLATE,
    SLEEVE_FLANGE,
    ShaftLayout,
    shaft_layout,
    wide_clamps,
)
from engine.physics.machine.clamp import FACE_RATIO
from engine.stage_columns import OF_LATER_STAGES, of_stage
from engine.study.machine import Machine
from reports.kit.quantities import bare, count, quantity
from reports.kit.svg import Drawing, Point
from reports.run.charts.arrows import arrowhead, turned
from reports.run.charts.pack import HUB, bolts_circle, rows_of
from reports.run.charts.stacks import Stack, between_stages, stacks_of
from reports.run.facts import Candidate
from reports.run.search_facts import Values

WIDTH, HEIGHT = 350.0, 410.0
TALL = 292.0
"""Height that the outside of the casing takes."""
MIDDLE = 196.0
WALL = 0.13
"""Of the casing around the discs, over their radius, as drawn."""


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
    """From the lower face of the first stack to the upper face of the last."""
    sheet: float
    gap: float
    side: float
    seal: float
    """Radial clearance of a collar."""
    wide: float
    """Thickness of end clamps as wide as the discs, 0 where they are not."""
    stacks: tuple[Stack, ...]
    layout: ShaftLayout
    inner: float
    outer: float
    width: float
    """Of a bearing."""
    plate: float = 1e3 * END_PLATE

    def laid(self, name: str) -> float:
        """One length of the layout."""
        return 1e3 * float(getattr(self.layout, name)[0])

    @property
    def discs(self) -> str:
        """Number of discs of each stage."""
        return " + ".join(count(stack.discs) for stack in self.stacks)

    @property
    def ends(self) -> Point:
        """Ends of what is drawn along the shaft."""
        face = self.laid("bearing_distance") - self.width / 2
        edges = 1e3 * self.layout.edges[0]
        return min(float(edges[0]), -face - self.laid("free_carrier")), float(edges[-1])

    @property
    def scale(self) -> float:
        """Drawn lengths over true ones."""
        low, high = self.ends
        return min(TALL / (2 * self.outside), (WIDTH - 24) / (high - low))

    def along(self, z: float) -> float:
        """Place along the shaft on the drawing."""
        low, high = self.ends
        return WIDTH / 2 + self.scale * (z - (low + high) / 2)


def section_and_view(candidate: Candidate, gas: str) -> tuple[Drawing, Drawing]:
    """Draw both."""
    build = _build_of(candidate.values)
    return _section(candidate, build, gas), _view(candidate, build)


def _build_of(values: Values) -> _Build:
    usual = {key: value for key, value in Machine().model_dump().items() if value is not None}
    stated = {
        key: value
        for key, value in values.items()
        if isinstance(value, str) or math.isfinite(value)
    }
    known = usual | {"disc_count": 2, "disc_diameter": 0.1, "exhaust_bore": 0.05, "gap": 5e-4}
    known |= {key: stated[key] for key in known if key in stated}

    def mm(key: str) -> float:
        return float(COLUMNS[key].to_drawing(float(known[key])))

    rim = mm("disc_diameter") / 2
    sheet, gap = mm("disc_thickness"), mm("gap")
    known |= {key: values[key] for key in OF_LATER_STAGES if key in values}
    lane = {key: np.array([value]) for key, value in known.items()}
    stacks = stacks_of(lane)
    stack = stacks[-1].end
    casing = rim + mm("rim_clearance")
    bearing = bearings()[str(known["bearing"])]
    layout = shaft_layout(lane, height=np.array([1e-3 * stack]))
    return _Build(
        rim=rim,
        bore=min(mm("exhaust_bore") / 2, 0.95 * rim),
        shaft=min(mm("shaft_diameter") / 2, 0.4 * rim),
        casing=casing,
        outside=casing + WALL * rim,
        stack=stack,
        sheet=sheet,
        gap=gap,
        side=mm("side_gap"),
        wide=1e3 * float(wide_clamps(lane)[0]),
        seal=mm("seal_clearance"),
        stacks=stacks,
        layout=layout,
        inner=1e3 * bearing.bore,
        outer=1e3 * bearing.outside_diameter,
        width=1e3 * bearing.width,
    )


def _section(candidate: Candidate, b: _Build, gas: str) -> Drawing:
    values, s = candidate.values, b.scale
    stack = f"{b.discs} discs, {bare('stack_height', b.stack * 1e-3)} mm thick together"
    drawing = Drawing(
        WIDTH, HEIGHT, says=f"Section through the axis, to scale: {stack}.", size=12.5
    )
    axis, left = MIDDLE, b.along(0.0)
    ends = int(float(values.get("exhaust_ends", 2)))
    pitch, of_pack = (b.sheet + b.gap) * s, (b.shaft, b.bore, b.rim)
    rows = list(rows_of(values, radii=of_pack, sheet=b.sheet, gap=b.gap, scale=s))
    for side in (-1, 1):  # above and below the axis

        def box(span: Point, ends: Point, look: str, *, side: int = side) -> None:
            low, high = ends
            top = axis - high * s if side < 0 else axis + low * s
            start = b.along(span[0])
            drawing.box((start, top), (b.along(span[1]) - start, (high - low) * s), look)

        beside = b.side + b.wide
        box((-beside, b.stack + beside), (b.casing, b.outside), "casing")
        for end, start in enumerate((-beside - b.plate, b.stack + beside)):
            opening = b.laid("collar_diameter") / 2 + b.seal if end < ends else b.shaft * 1.15
            box((start, start + b.plate), (opening, b.outside), "casing")
            if end < ends:
                long = b.wide + b.laid("collar_length")
                span = (-long, -b.wide) if end == 0 else (b.stack + b.wide, b.stack + long)
                box(span, (b.bore, b.laid("collar_diameter") / 2), "metal")
            clamp = 1e3 * CLAMP_THICKNESS
            span = (-clamp, 0.0) if end == 0 else (b.stack, b.stack + clamp)
            box(span, (b.shaft, b.rim if b.wide else b.bore), "metal-pale")
        collar = b.bore, b.laid("collar_diameter") / 2
        for before, after in pairwise(b.stacks):
            for part in between_stages(before.end, after.start, side=beside, both=ends > 1):
                radii = {
                    "clamp": (b.shaft, b.rim if b.wide else b.bore),
                    "collar": collar,
                    "plate": (collar[1] + b.seal, b.outside),
                    "partition": (FACE_RATIO * b.shaft + b.seal, b.outside),
                    "tube": (b.shaft, FACE_RATIO * b.shaft),
                }[part.name]
                box((part.start, part.end), radii, part.look)
        # Many alike: each look is one path.
        for stack_of in b.stacks:
            n, begins = stack_of.discs, b.along(stack_of.start)
            for row in rows:
                low, high = row.radii
                top = axis - high * s if side < 0 else axis + low * s
                many = range(n - row.fewer)
                places = [(begins + row.first + disc * pitch, top) for disc in many]
                drawing.boxes([(place, (row.wide, (high - low) * s)) for place in places], row.look)
        for name in ("free", "drive"):
            for span, radii in _carrier(b, name):
                box(span, radii, "casing")
    _shaft(drawing, values, b)
    _air_of_section(drawing, values, b, gas, ends)
    low, high = b.along(b.ends[0]) - 12, b.along(b.ends[1]) + 12
    drawing.line((low, axis), (high, axis), "axis")
    floor, right = axis + b.outside * s + 22, b.along(b.stack)
    for x in (left, right):
        drawing.line((x, axis + b.outside * s + 5), (x, floor + 5), "thin")
    drawing.line((left - 18, floor), (right + 18, floor), "thin")
    arrowhead(drawing, (left, floor), 0, "ink")
    arrowhead(drawing, (right, floor), 180, "ink")
    drawing.text((right + 22, floor + 4), f"{bare('stack_height', b.stack * 1e-3)}")
    gaps = " + ".join(count(stack.discs - 1) for stack in b.stacks)
    told = f"{b.discs} discs {_mm(b.sheet)}, {gaps} gaps {_mm(b.gap)}"
    drawing.text((b.along(b.stack / 2), floor + 22), told, "soft", anchor="middle")
    return drawing


def _carrier(b: _Build, end: str) -> Iterable[tuple[Point, Point]]:
    """Spigot and flange of a bearing's carrier: along the shaft, and off it."""
    face, plate = b.laid("bearing_distance") - b.width / 2, 1e3 * CARRIER_PLATE
    long = b.laid(f"{end}_carrier")
    spigot, flange = b.laid("carrier_spigot") / 2, b.laid("carrier_diameter") / 2
    for low, high, radii in ((0.0, long, (b.outer / 2, spigot)), (plate, long, (spigot, flange))):
        if end == "free":
            yield (-face - high, -face - low), radii
        else:
            yield (b.stack + face + low, b.stack + face + high), radii


def _shaft(drawing: Drawing, values: Values, b: _Build) -> None:
    """Draw shaft, nut, sleeve, drive and bearings."""
    s, axis = b.scale, MIDDLE

    def turned(low: float, high: float, diameter: float) -> None:
        size = (s * (high - low), s * diameter)
        drawing.box((b.along(low), axis - s * diameter / 2), size, "paper")

    top = b.stack + 1e3 * CLAMP_THICKNESS
    turned(top, top + b.laid("nut_height"), b.laid("nut_diameter"))
    low = b.laid("sleeve_start")
    turned(low, b.laid("sleeve_end"), b.laid("sleeve_diameter"))
    turned(low, low + 1e3 * SLEEVE_FLANGE, b.laid("sleeve_flange"))
    start = b.laid("hub_start")
    turned(start, start + b.laid("hub_length"), b.laid("hub_diameter"))
    edges, diameters = 1e3 * b.layout.edges[0], 1e3 * b.layout.diameters[0]
    for low, high, diameter in zip(edges[:-1], edges[1:], diameters, strict=True):
        turned(float(low), float(high), float(diameter))
    inner, tall = b.inner / 2, (b.outer - b.inner) / 2 * s
    distance = b.laid("bearing_distance")
    for middle in (-distance, b.stack + distance):
        for level in (axis - s * b.outer / 2, axis + s * inner):
            at = b.along(middle - b.width / 2), level
            drawing.box(at, (b.width * s, tall), "paper")
            ball = min(b.width * s, tall) * 0.28
            drawing.circle((b.along(middle), level + tall / 2), ball, "paper")
    if "bearing" in values:
        at = (b.along(-distance), axis + b.laid("carrier_diameter") / 2 * s + 15)
        drawing.text(at, str(values["bearing"]), "soft halo", anchor="middle")


def _air_of_section(drawing: Drawing, values: Values, b: _Build, gas: str, ends: int) -> None:
    """Draw the way in and the way out, with what goes in and how warm it leaves."""
    s, across = b.scale, b.along(b.stacks[0].end / 2)
    top = MIDDLE - b.outside * s
    drawing.curve([(across, top - 30), (across, MIDDLE - b.casing * s - 2)], "air")
    arrowhead(drawing, (across, MIDDLE - b.casing * s + 2), 90, "air")
    flow = quantity("mass_flow", float(values.get("mass_flow", math.nan)))
    drawing.text((across + 9, top - 18), f"{gas} in, {flow}", "air")
    middle = (b.bore + b.shaft * HUB) / 2
    outlet = min(10.0, 0.6 * s * min(b.laid("free_outlet"), b.laid("drive_outlet")))
    across = b.along((b.stacks[-1].start + b.stack) / 2)
    height = (b.stack - b.stacks[-1].start) * s
    away = height / 2 + (b.side + b.plate) * s + outlet
    ways = (-1, 1)[:ends]
    if len(b.stacks) > 1:
        ways = ways[-1:]  # the other outlet lies between the stages
    for side in ways:
        start, end = MIDDLE - (b.bore + 3) * s, MIDDLE - middle * s
        x = across + side * height * 0.2
        points = [
            (
                x + side * (away - height * 0.2) * t**2,
                start + (end - start) * math.sin(t * math.pi / 2),
            )
            for t in np.linspace(0, 1, 12).tolist()
        ]
        drawing.curve(points, "air")
        arrowhead(drawing, (across + side * (away + 3), end), 0 if side > 0 else 180, "air")
    side = 1 if ends == 2 else -1
    out = of_stage("exhaust_temperature", len(b.stacks))
    warm = quantity(out, float(values.get(out, math.nan)))
    # Over the flange of the bearing's carrier, which stands beside the way out.
    level = min(MIDDLE - middle * s - 9, MIDDLE - b.laid("carrier_diameter") / 2 * s - 5)
    at = (across + side * (away - 4), level)
    drawing.text(at, f"out, {warm}", "air halo", anchor="start" if side > 0 else "end")


def _web(drawing: Drawing, values: Values, middle: Point, b: _Build) -> None:
    """Draw what holds the ring of the disc."""
    s = b.scale
    drawing.circle(middle, b.bore * s, "paper")
    spokes = max(1, round(float(values.get("spokes", 3))))
    hub = min(b.shaft * HUB + 1, 0.9 * b.bore)
    share = float(values.get("exhaust_blockage", math.nan))
    share = share if math.isfinite(share) else 0.25
    if values.get("hold") == "holes":
        drawing.circle(middle, b.bore * s, "disc")
        hole = math.sqrt((1 - share) * (b.bore**2 - b.shaft**2) / spokes)
        for place in range(spokes):
            at = turned(middle, 0.0, (b.bore - hole) * s, 2 * math.pi * (place + 0.5) / spokes)
            drawing.circle(at, hole * s, "paper")
        return
    if values.get("hold") == "bolts":
        around = bolts_circle(values, b.bore, b.rim)
        washer = 1e3 * float(values.get("washer_diameter", 0.0)) / 2
        for place in range(spokes):
            at = turned(middle, 0.0, around * s, 2 * math.pi * place / spokes)
            drawing.circle(at, washer * s, "paper")
    half = max(0.6, 0.5 * share * math.pi * (b.bore + hub) / spokes)
    for spoke in range(spokes):
        turn = 2 * math.pi * spoke / spokes
        corners = [(-half, 0.0), (half, 0.0), (half, b.bore + 0.4), (-half, b.bore + 0.4)]
        drawing.area([turned(middle, x * s, y * s, turn) for x, y in corners], "web-flat")
    drawing.circle(middle, hub * s, "disc")


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
    _web(drawing, values, middle, b)
    drawing.circle(middle, b.shaft * s, "paper")
    _path(drawing, candidate, middle, s)
    reach = b.outside * s + 14
    drawing.line((middle[0] - reach, middle[1]), (middle[0] + reach, middle[1]), "axis")
    drawing.line((middle[0], middle[1] - reach), (middle[0], middle[1] + reach), "axis")
    angle = float(values.get("casing_angle", values.get("inlet_angle", 0.2)))
    for nozzle in range(nozzles):
        turn = 2 * math.pi * nozzle / nozzles
        along = (WALL + 0.25) * b.rim * s
        tip = turned(middle, 0, b.casing * s, turn)
        tail = turned(middle, along * math.cos(angle), b.casing * s + along * math.sin(angle), turn)
        drawing.curve([tail, tip], "air")
        way = math.degrees(math.atan2(tip[1] - tail[1], tip[0] - tail[0]))
        arrowhead(drawing, tip, way, "air")
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
    arrowhead(drawing, points[-1], math.degrees(math.atan2(y1 - y0, x1 - x0)), "air")


def _dimensions(drawing: Drawing, b: _Build, middle: Point) -> None:
    s, (x, y) = b.scale, middle
    floor = y + b.outside * s + 22
    for side in (-1, 1):
        drawing.line((x + side * b.rim * s, y), (x + side * b.rim * s, floor + 5), "thin")
        arrowhead(drawing, (x + side * b.rim * s, floor), 0 if side > 0 else 180, "ink")
    drawing.line((x - b.rim * s, floor), (x + b.rim * s, floor), "thin")
    drawing.text((x, floor + 17), f"⌀{_mm(2 * b.rim)}", anchor="middle")
    turn = math.radians(35)
    at = (x + b.bore * s * math.cos(turn), y + b.bore * s * math.sin(turn))
    out = (x + (b.outside * s + 8) * math.cos(turn), y + (b.outside * s + 8) * math.sin(turn))
    drawing.line(out, at, "thin")
    arrowhead(drawing, at, 180 + 35, "ink")
    drawing.text((out[0] + 2, out[1] + 12), f"⌀{_mm(2 * b.bore)}", "halo")


def _mm(length: float) -> str:
    return f"{length:.4g}"


def _degrees(angle: float) -> str:
    return f"{math.degrees(angle):.3g}°"
