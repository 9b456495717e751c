"""The machine put together: section through the shaft, and view from the drive.

The upper half of the section goes through a spoke, a bolt, a carrier screw and an arm, the lower
half through an opening, a plenum and the feet, each turned into the plane of the paper. Shaft,
rods, screws and nuts are not cut (ISO 128-3). Discs are too thin to hatch and are black.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from reports.design import bracket
from reports.design.bolted_parts import CLOSED_CLAMP, ROTOR_PLATES
from reports.design.carriers import centre_height
from reports.design.casing import Casing, Housing
from reports.design.collector import Collector
from reports.design.drawings.dimensions import across, spread
from reports.design.drawings.frames import (
    Block,
    balloon,
    finish,
    free,
    scale_for,
    scale_text,
    sheet,
)
from reports.design.drawings.lathe import outer_edge
from reports.design.drawings.paper import (
    AXIS,
    EDGE,
    FINE,
    INK,
    Frame,
    Paper,
    Pen,
)
from reports.design.facts import BuildFacts
from reports.design.fasteners import CARRIER_SCREWS
from reports.design.items import Item
from reports.design.outlines import Arc, Circle, Flat, Outline, Part, Point
from reports.design.plate import Plate
from reports.design.ring_bolts import BOLT, WASHER, RingBolts
from reports.design.shop_sizes import plain
from reports.design.stage_section import stage_pieces
from reports.design.turned_parts import Nut, TurnedPart, bolts_of

MARGIN, TOP, BELOW = 18.0, 6.0, 20.0
"""Room for item numbers on both sides, above the section and below it [mm]."""
BESIDE = 8.6
"""Least distance between item numbers [mm]."""
CROWDED = 40
"""Items beyond which their numbers stand in two columns a side."""
BLACK, UNCUT = "black", "uncut"
OF_PASSAGES = ("supply tube", "passage tube")
"""Tubes that stand around holes in the lower half."""

Polygon = Sequence[Point]


@dataclass(frozen=True)
class Cut:
    """A piece of a part in the plane of the section."""

    item: Item
    polygon: Polygon
    """Along the shaft and off it, upward positive [mm]."""
    look: str
    """'' for hatched."""


def section_sheet(facts: BuildFacts, items: Sequence[Item], block: Block) -> Paper:
    """Draw the sheet with the section, its items numbered."""
    cuts = list(_cuts(facts, items))
    (left, right), (low, high) = _extent(cuts)
    notes = (
        (
            "Upper half through a spoke, a bolt, a screw and an arm; lower half through an opening "
            f"and {_through(facts)}. Centre height {_height(facts)}. {_from_where(facts)} from the "
            "left, drive at the right."
        ),
    )
    size = block.format
    margin = MARGIN + (BESIDE if len(items) > CROWDED else 0.0)
    room = size.width - 2 * margin, free(size, notes) - TOP - BELOW
    scale = min(scale_for(right - left, room[0]), scale_for(high - low, room[1]))
    title = f"General arrangement of design {facts.candidate.design}, section through the shaft"
    paper = sheet(title, size)
    spare = room[1] - scale * (high - low)
    origin = (
        paper.width / 2 - scale * (left + right) / 2,
        TOP + spare / 2 + scale * high,
    )
    frame = Frame(origin, scale)
    _draw(paper, cuts, frame)
    middle = frame.at(((left + right) / 2, 0))[0]
    _balloons(paper, _tips(cuts, frame), middle, (TOP, TOP + room[1]))
    lower = frame.at((0, low))[1]
    _span(paper, facts, frame, lower + 7)
    ends = frame.at((left, 0))[0], frame.at((right, 0))[0]
    across(paper, plain(right - left), ends, lower + 14, lower + 2)
    finish(paper, replace(block, scale=scale_text(scale)), notes)
    return paper


def _through(facts: BuildFacts) -> str:
    return "the chamber of the port" if facts.is_pump else "a plenum"


def _from_where(facts: BuildFacts) -> str:
    return "Suction" if facts.is_pump else "Supply"


def _height(facts: BuildFacts) -> str:
    return plain(centre_height(facts.housing.outside)) if facts.housing else "as built"


def _span(paper: Paper, facts: BuildFacts, frame: Frame, level: float) -> None:
    """Dimension the distance between the middles of the bearings."""
    off, height = facts.laid("bearing_distance"), 1e3 * facts.whole_height
    ends = frame.at((-off, 0))[0], frame.at((height + off, 0))[0]
    across(paper, f"{plain(height + 2 * off)}, bearings", ends, level, level - 5)


def _draw(paper: Paper, cuts: Sequence[Cut], frame: Frame) -> None:
    for cut in cuts:
        polygon = [frame.at(point) for point in cut.polygon]
        if cut.look == BLACK:
            paper.chain(polygon, Pen(0.13, fill=INK), closed=True)
            continue
        paper.chain(polygon, Pen(0.35, fill="#ffffff"), closed=True)
        if not cut.look:
            lean, pitch = (1, -1)[cut.item.number % 2], (1.6, 2.3, 3.0)[cut.item.number % 3]
            paper.hatch([polygon], lean=lean, pitch=pitch)
        if cut.look == "bearing":
            for one, two in ((0, 2), (1, 3)):
                paper.line(polygon[one], polygon[two])
    (left, right), _ = _extent(cuts)
    reach = 4 / frame.scale
    paper.line(frame.at((left - reach, 0)), frame.at((right + reach, 0)), AXIS)


def _extent(cuts: Sequence[Cut]) -> tuple[Point, Point]:
    along = [z for cut in cuts for z, _ in cut.polygon]
    off = [r for cut in cuts for _, r in cut.polygon]
    return (min(along), max(along)), (min(off), max(off))


def _tips(cuts: Sequence[Cut], frame: Frame) -> dict[int, Point]:
    """Where each item is pointed at: in the middle of its largest piece."""
    found: dict[int, tuple[float, Point]] = {}
    for cut in cuts:
        size = abs(_area(cut.polygon))
        if size > found.get(cut.item.number, (0.0, (0.0, 0.0)))[0] * 1.001:
            along = [z for z, _ in cut.polygon]
            off = [r for _, r in cut.polygon]
            tip = (min(along) + max(along)) / 2, min(off) + 0.7 * (max(off) - min(off))
            if cut.item.name == "shaft":
                tip = min(along) + 0.93 * (max(along) - min(along)), 0.0
            found[cut.item.number] = size, frame.at(tip)
    return {number: tip for number, (_, tip) in found.items()}


def _area(polygon: Polygon) -> float:
    pairs = zip(polygon, (*polygon[1:], polygon[0]), strict=True)
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs) / 2


def _balloons(paper: Paper, tips: dict[int, Point], middle: float, levels: Point) -> None:
    """Write the items' numbers on both sides, so that few lines to them cross."""
    ordered = sorted(tips.items(), key=lambda entry: entry[1][0])
    most = math.ceil(len(ordered) / 2)
    left = [entry for entry in ordered if entry[1][0] < middle][:most]
    right = [entry for entry in ordered if entry not in left]
    for column, x in ((left, 6.5), (right, paper.width - 6.5)):
        column.sort(key=lambda entry: entry[1][1])
        crowded = BESIDE * len(column) > levels[1] - levels[0]
        spots = spread([y for _, (_, y) in column], BESIDE / (2 if crowded else 1), levels)
        inward = math.copysign(BESIDE if crowded else 0.0, middle - x)
        for place, ((number, tip), spot) in enumerate(zip(column, spots, strict=True)):
            balloon(paper, str(number), (x + inward * (place % 2), spot), tip)


def _cuts(facts: BuildFacts, items: Sequence[Item]) -> Iterable[Cut]:
    """Pieces of every part, those in front last."""
    bolts = bolts_of(facts.housing) if facts.housing else ()
    for item in items:
        if isinstance(item.part, Plate):
            yield from _plate_cuts(facts, item, item.part)
    for item in items:
        if isinstance(item.part, TurnedPart):
            yield from _turned_cuts(item, item.part, bolts)
    for item in items:
        if isinstance(item.part, Nut):
            yield from _nut_cuts(item, item.part)


def _box(item: Item, z: Point, r: Point, look: str = "") -> Cut:
    return Cut(item, ((z[0], r[0]), (z[1], r[0]), (z[1], r[1]), (z[0], r[1])), look)


def _plate_cuts(facts: BuildFacts, item: Item, plate: Plate) -> Iterable[Cut]:
    part, name = plate.part, plate.name
    for level in plate.levels:
        ends = level, level + plate.thickness
        if facts.bolts is not None and name in ROTOR_PLATES:
            yield from _bolted_cuts(facts, item, plate, facts.bolts)
        elif isinstance(part, Part):
            web, rim = part.web, part.width / 2
            look = BLACK if isinstance(part.outside, Circle) else ""
            yield _box(item, ends, (web.shaft_radius, rim), look)
            if len(part.inside) == 1 and look:
                yield _box(item, ends, (-rim, -web.shaft_radius), look)
                continue
            yield _box(item, ends, (-web.hub_radius, -web.shaft_radius), look)
            if look:
                yield _box(item, ends, (-rim, -web.bore_radius), look)
        elif facts.staged is not None and name not in (*bracket.NAMES, "drive-end plate"):
            for pair in stage_pieces(facts.staged, plate):
                yield _box(item, ends, pair)
        elif facts.housing is not None and name not in bracket.NAMES:
            for pair in _casing_pieces(facts.housing, part, name):
                yield _box(item, ends, pair)


def _bolted_cuts(facts: BuildFacts, item: Item, plate: Plate, bolts: RingBolts) -> Iterable[Cut]:
    """Pieces of a ring on bolts or its end clamp: a bolt above, an opening below."""
    rim, web, off = plate.part.width / 2, facts.web, bolts.circle / 2
    clamp = isinstance(plate.part, Part)
    closed = clamp and plate.name == CLOSED_CLAMP
    look = "" if clamp else BLACK
    for level in plate.levels:
        ends = level, level + plate.thickness
        inner = web.shaft_radius if clamp else web.bore_radius
        yield _box(item, ends, (inner, off - bolts.size / 2), look)
        yield _box(item, ends, (off + bolts.size / 2, rim), look)
        if closed:
            yield _box(item, ends, (-rim, -inner), look)
            continue
        if clamp:
            yield _box(item, ends, (-web.hub_radius, -inner), look)
        yield _box(item, ends, (-rim, -web.bore_radius), look)


def _casing_pieces(casing: Housing, part: Flat, name: str) -> Iterable[Point]:
    """Metal of a plate from the axis outward, above it and below it."""
    outside, inside = casing.outside, part.inside
    first = inside[0]
    inner = first.radius if isinstance(first, Circle) else _cut_to(casing)
    yield inner, outside
    where, rooms = _rooms(casing)
    if name == "free-end plate" and isinstance(casing, Collector):
        hole = casing.suction_holes[0]
        off = math.hypot(*hole.centre)
        yield -(off - hole.radius), -inner
        yield -centre_height(outside), -(off + hole.radius)
        return
    if name in ("free-end plate", "drive-end plate"):
        openings = [edge for edge in inside if isinstance(edge, Outline)]
        base = -centre_height(outside)
        if openings:
            radii = [edge.radius for edge in openings[0].edges if isinstance(edge, Arc)]
            hub, ring = min(radii), max(radii)
            yield -hub, -inner
            yield base, -ring
        else:
            yield base, -inner
        return
    room = rooms.get(name)
    if room is None:
        yield -outside, -inner
        return
    if where - room > inner:
        yield -(where - room), -inner
    yield -outside, -(where + room)


def _cut_to(casing: Housing) -> float:
    """Radius of what is cut out of the plate around the discs, in the section's upper half."""
    return casing.bore + (casing.spiral.step if isinstance(casing, Collector) else 0.0)


def _rooms(casing: Housing) -> tuple[float, Mapping[str, float]]:
    """How far off the shaft plenum or chamber lies, and its radius in each plate."""
    if isinstance(casing, Collector):
        chamber, drill = casing.spiral.chamber, casing.port_drill / 2
        open_to = dict.fromkeys(("collector plate", "port ring"), chamber)
        holes = ("closed plate", "cover plate", "port plate", "drive suction ring")
        return math.hypot(*casing.spiral.chamber_at), {**open_to, **dict.fromkeys(holes, drill)}
    assert isinstance(casing, Casing)  # noqa: S101  (there are two kinds)
    plenum = casing.nozzle.plenum
    rooms = {"nozzle plate": plenum, "supply ring": plenum, "supply plate": casing.port_drill / 2}
    return math.hypot(*casing.nozzle.plenum_at), rooms


def _turned_cuts(item: Item, made: TurnedPart, bolts: Sequence[Point]) -> Iterable[Cut]:
    if made.name in ("generator pulley", "motor pulley", "dowel"):
        return
    for (x, y, level), over in zip(made.places, made.over, strict=True):
        way = -1 if over else 1
        points = [(level + way * z, r) for r, z in made.part.profile]
        if math.hypot(x, y) > 1e-9:
            # On a bolt, or around a passage: the first one stands for all.
            of_own = made.name.startswith((BOLT, WASHER, *CARRIER_SCREWS))
            one = made.places[0][:2] if of_own else bolts[0]
            first, off = math.dist((x, y), one) < 1e-6, math.hypot(x, y)
            if made.name.startswith(OF_PASSAGES):
                if (x, y) == made.places[0][:2]:
                    for side in (1, -1):
                        yield Cut(item, [(z, side * r - off) for z, r in points], "")
                continue
            if not first:
                continue
            look = UNCUT if made.part.bore == 0 else ""
            for side in (1, -1) if made.part.bore else (1,):
                yield Cut(item, [(z, off + side * r) for z, r in points], look)
            if made.part.bore == 0:
                yield Cut(item, [(z, off - r) for z, r in points], look)
            continue
        if made.part.bore == 0 and made.name != "cap":
            outer = [(level + way * z, r) for r, z in outer_edge(made.part)]
            whole = [*outer, *((z, -r) for z, r in reversed(outer))]
            yield Cut(item, whole, UNCUT)
            continue
        look = "bearing" if made.name.startswith("bearing") else ""
        look = BLACK if made.name == "spring washer" else look
        yield Cut(item, points, look)
        yield Cut(item, [(z, -r) for z, r in points], look)


def _nut_cuts(item: Item, nut: Nut) -> Iterable[Cut]:
    half = nut.part.width / 2
    for level in nut.levels:
        ends = level, level + nut.thickness
        off = math.hypot(*nut.around[0])
        if off < 1e-9:
            inner = next(edge.radius for edge in nut.part.inside if isinstance(edge, Circle))
            yield _box(item, ends, (inner, half), UNCUT)
            yield _box(item, ends, (-half, -inner), UNCUT)
        else:
            yield _box(item, ends, (off - half, off + half), UNCUT)


def view_sheet(facts: BuildFacts, items: Sequence[Item], block: Block) -> Paper:
    """Draw the sheet with the view from the drive."""
    title = f"General arrangement of design {facts.candidate.design}, view from the drive"
    paper = sheet(title, block.format)
    plates = {item.name: item.part for item in items if isinstance(item.part, Plate)}
    turned = {item.name: item.part for item in items if isinstance(item.part, TurnedPart)}
    drive, casing = plates.get("drive-end plate"), facts.housing
    belt = bool(facts.layout.belt[0]) and casing is not None
    if drive is not None and casing is not None:
        base, outside = centre_height(casing.outside), casing.outside
        right = outside
        if belt:
            right = facts.laid("centres") + facts.laid("generator_pulley") / 2 + 3
        high = max(outside, facts.laid("pulley") / 2 + 3 if belt else 0.0)
        room = free(paper.format) - 37
        scale = min(scale_for(right + outside, paper.width - 16), scale_for(base + high, room))
        middle = paper.width / 2 - scale * (right - outside) / 2
        frame = Frame((middle, 8 + scale * high), scale)
        paper.face(drive.part, frame, Pen(0.35))
        carrier = turned["drive-end carrier"].part
        for diameter in (carrier.diameter, 2 * min(r for r, _ in carrier.profile)):
            paper.circle(frame.at((0, 0)), scale * diameter / 2, Pen(0.35, fill="#ffffff"))
        hub = facts.laid("hub_diameter")
        paper.circle(frame.at((0, 0)), scale * hub / 2, Pen(0.5, fill="#ffffff"))
        paper.circle(frame.at((0, 0)), scale * facts.bearing.bore * 500, EDGE)
        for x, y in bolts_of(casing):
            paper.circle(frame.at((x, y)), scale * casing.bolt_size / 2, FINE)
        if belt:
            _belt(paper, facts, frame, frame.at((0, -base))[1] + 17)
        reach = 1.05 * outside
        paper.line(frame.at((-reach, 0)), frame.at((max(reach, right), 0)), AXIS)
        paper.line(frame.at((0, -base)), frame.at((0, 1.05 * high)), AXIS)
        level = frame.at((0, -base))[1] + 7
        ends = frame.at((-0.75 * outside, 0))[0], frame.at((0.75 * outside, 0))[0]
        across(paper, plain(1.5 * outside), ends, level, level - 6)
        block = replace(block, scale=scale_text(scale))
    finish(paper, block)
    return paper


def _belt(paper: Paper, facts: BuildFacts, frame: Frame, level: float) -> None:
    """Draw pulleys and belt, and their distance at a level."""
    one, two, apart = (facts.laid(name) for name in ("pulley", "generator_pulley", "centres"))
    paper.circle(frame.at((apart, 0)), frame.scale * two / 2, EDGE)
    paper.circle(frame.at((0, 0)), frame.scale * one / 2, EDGE)
    lean = math.asin((one - two) / (2 * apart))
    for side in (1, -1):
        way = (math.sin(lean), side * math.cos(lean))
        ends = (way[0] * one / 2, way[1] * one / 2), (apart + way[0] * two / 2, way[1] * two / 2)
        paper.line(frame.at(ends[0]), frame.at(ends[1]), Pen(0.7))
    ends_of = frame.at((0, 0))[0], frame.at((apart, 0))[0]
    told = f"{apart:.1f}, belt {plain(facts.laid('belt_length'))} long"
    across(paper, told, ends_of, level, frame.at((0, -two / 2))[1])
