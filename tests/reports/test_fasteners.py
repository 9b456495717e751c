"""Every hole that something holds through has it, and all a maker needs stands in one list."""

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence

import pytest

from engine.model.shaft_layout import CARRIER_PLATE
from engine.study.study import Study
from reports.design import bracket
from reports.design.carriers import FEET, FOOT_SCREWS
from reports.design.casing import Housing
from reports.design.drawing_set import drawing_set
from reports.design.drawings.paper import fitting
from reports.design.exploded import exploded_pages
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.fasteners import CARRIER_SCREWS, DOWEL, ROD, ROD_WASHER
from reports.design.items import Item, bought_list, items_of, parts_list, whole_list
from reports.design.outlines import Circle, Flat, Line, Outline, Point
from reports.design.part_rows import part_rows
from reports.design.parts_sheet import NAME
from reports.design.plate import Plate
from reports.design.ring_bolts import BOLT, WASHER
from reports.design.turned import Turned
from reports.design.turned_parts import Nut, TurnedPart
from tests.reports.test_machine_on_bolts import NOWHERE
from tests.reports.test_sheet import changed
from tests.reports.test_stage_drawings import made as staged
from tests.support.pumps import pump_data

KINDS: Mapping[str, Callable[[BuildData, Study], BuildData]] = {
    "clamped": lambda data, _: data,
    "bolted, one exhaust": lambda data, _: changed(data, **NOWHERE, exhaust_ends=1.0),
    "belt": lambda data, _: changed(data, drive_ratio=0.2, speed=500.0),
    "two stages": lambda _, air: staged(air, 2),
    "three stages": lambda _, air: staged(air, 3),
    "pump": lambda _, __: pump_data(suction_ends=2),
}


@pytest.fixture(scope="module", params=KINDS)
def facts(request: pytest.FixtureRequest, sheet_data: BuildData, shop_air: Study) -> BuildFacts:
    return build_facts_of(KINDS[request.param](sheet_data, shop_air))


@pytest.fixture(scope="module")
def items(facts: BuildFacts) -> tuple[Item, ...]:
    return items_of(facts)


Span = tuple[float, float]


def spans(part: TurnedPart | Nut, at: Point) -> list[Span]:
    """From where to where along the shaft each piece of a part on an axis beside it reaches."""
    found = []
    for (x, y, level), over in zip(part.places, part.over, strict=True):
        if math.dist((x, y), at) < 1e-6:
            ends = (0.0, part.thickness) if isinstance(part, Nut) else part.part.ends
            found.append(tuple(sorted(level + (-1 if over else 1) * end for end in ends)))
    return sorted(found)  # type: ignore[arg-type]


def named(items: Iterable[Item], *names: str) -> list[TurnedPart]:
    parts = [item.part for item in items if item.name.rstrip(" 23") in names]
    return [part for part in parts if isinstance(part, TurnedPart)]


def housing_of(facts: BuildFacts) -> Housing:
    assert facts.housing is not None
    return facts.housing


def threads(plates: Iterable[Plate], drill: float) -> list[tuple[Plate, Point]]:
    """Round holes of a size in flat parts."""
    return [
        (plate, hole.centre)
        for plate in plates
        for hole in plate.part.inside
        if isinstance(hole, Circle) and math.isclose(2 * hole.radius, drill)
    ]


def under_head(part: Turned) -> float:
    """Length of a screw from its tip to its head."""
    return max(z for r, z in part.profile if 0 < 2 * r < part.diameter)


def test_each_thread_for_a_carrier_has_a_screw_that_ends_inside_its_plate(
    items: Sequence[Item],
) -> None:
    plates = [item.part for item in items if item.name in ("free-end plate", "drive-end plate")]
    taps = threads([plate for plate in plates if isinstance(plate, Plate)], 2.5)
    screws = named(items, *CARRIER_SCREWS)
    over = named(items, "free-end carrier", "drive-end carrier", "cap")
    used = 0
    for plate, at in taps:
        low, high = plate.levels[0], plate.levels[0] + 1e3 * CARRIER_PLATE
        way = 1 if plate.name == "drive-end plate" else -1
        (one,) = [
            (screw, span)
            for screw in screws
            for span in spans(screw, at)
            if way * (span[0] + span[1] - low - high) > 0 and span[0] < high and span[1] > low
        ]
        screw, (start, end) = one
        used += 1
        inside = high - start if way > 0 else end - low
        assert 3.0 <= inside <= 8.0  # a diameter of thread or more, and 2 mm of metal beyond
        # Its head lies on what it goes through, of which the outermost ends there.
        head = under_head(screw.part)
        seat = end - (screw.part.length - head) if way > 0 else start + screw.part.length - head
        faces = []
        for part in over:
            bores = part.part.bores
            assert bores is not None
            (x, y, level), turned = part.places[0], part.over[0]
            holes = [(cx + x, cy + y) for cx, cy in (hole.centre for hole in bores.circles)]
            if any(math.dist(hole, at) < 1e-6 for hole in holes):
                faces += [level + (-1 if turned else 1) * z for z in part.part.ends]
        faces = [face for face in faces if way * (face - (low + high) / 2) > 0]
        assert seat == pytest.approx(max(faces) if way > 0 else min(faces))
    assert used == sum(screw.pieces for screw in screws) == 6


def test_each_bolt_hole_of_the_casing_has_a_rod_with_nuts_and_washers_on_both_plates(
    facts: BuildFacts, items: Sequence[Item]
) -> None:
    casing = housing_of(facts)
    (rod,), (washer,) = named(items, ROD), named(items, ROD_WASHER)
    (nut,) = [item.part for item in items if item.name == "rod nut"]
    assert isinstance(nut, Nut)
    flat = {item.name: item.part for item in items if isinstance(item.part, Plate)}
    low = flat["free-end plate"].levels[0]
    high = flat["drive-end plate"].levels[0] + flat["drive-end plate"].thickness
    pitch = {5.0: 0.8, 6.0: 1.0, 8.0: 1.25}[casing.bolt_size]  # ISO 261
    for hole in casing.holes[: casing.bolts]:
        ((start, end),) = spans(rod, hole.centre)
        below, above = spans(washer, hole.centre)
        assert below[1] == pytest.approx(low)
        assert above[0] == pytest.approx(high)
        under, upper = spans(nut, hole.centre)
        assert (under[1], upper[0]) == pytest.approx((below[0], above[1]))
        assert min(under[0] - start, end - upper[1]) >= 2 * pitch
    assert rod.pieces == casing.bolts
    assert washer.pieces == nut.pieces == 2 * casing.bolts
    (dowel,) = named(items, DOWEL)
    for hole in casing.holes[casing.bolts :]:
        ((start, end),) = spans(dowel, hole.centre)
        assert start == pytest.approx(low)
        assert high - 1 < end <= high
    assert dowel.pieces == 2


def test_each_hole_of_a_pack_has_a_bolt_and_a_washer_in_every_gap(
    facts: BuildFacts, items: Sequence[Item]
) -> None:
    bolts, washers = named(items, BOLT), named(items, WASHER)
    if facts.bolts is None:
        assert bolts == washers == []
        return
    gaps = round(facts.number("disc_count")) - 1
    for hole in facts.bolts.holes:
        ((start, end),) = [span for bolt in bolts for span in spans(bolt, hole.centre)]
        between = [span for washer in washers for span in spans(washer, hole.centre)]
        assert len(between) == gaps
        assert all(start < low < high < end for low, high in between)
    assert sum(bolt.pieces for bolt in bolts) == len(facts.bolts.holes)


def test_sizes_in_the_list_are_those_that_are_drawn(items: Sequence[Item]) -> None:
    for part in named(items, *CARRIER_SCREWS, ROD, DOWEL, BOLT, WASHER, ROD_WASHER):
        assert part.ordered is not None
        sizes = [float(found) for found in re.findall(r"[\d.]+", part.ordered.size)]
        shape = part.part
        if shape.bore > 0:  # a washer
            assert sizes == pytest.approx([shape.bore, shape.diameter, shape.length])
        else:
            is_screw = part.name.rstrip(" 23") in CARRIER_SCREWS
            assert sizes[-1] == pytest.approx(
                under_head(shape) if is_screw else shape.length, abs=1e-6
            )
            if part.name.startswith(BOLT):  # cut from one that is sold
                assert sizes[1] >= sizes[2] > 0
            narrow = sorted({2 * r for r, _ in shape.profile if r > 0})
            assert any(math.isclose(sizes[0], size) for size in narrow)


def test_the_exploded_view_shows_every_drawn_item_with_its_number_and_pieces(
    facts: BuildFacts, items: Sequence[Item]
) -> None:
    steps = [step for page in exploded_pages(facts, items) for _, row in page for step in row]
    assert {step.item.number for step in steps} == {item.number for item in items}
    listed = whole_list(facts, items)
    assert [item.number for item in listed] == list(range(1, len(listed) + 1))
    assert listed[: len(items)] == items
    assert all(fitting(item.name, NAME) == item.name for item in listed)
    for step in steps:
        count = step.item.part.pieces
        if sum(other.item == step.item for other in steps) == 1:
            assert step.pieces == (f"{count}×" if count > 1 else "")
        else:
            assert step.pieces in ("1st", f"to {count}")
    files = [sheet.file for sheet in drawing_set(facts, items_of(facts))]
    assert [file for file in files if file.startswith("exploded-view")] == [
        "exploded-view",
        "exploded-view-2",
    ]


def stands(part: Flat) -> bool:
    """Whether a plate ends below in a straight foot as wide as half of it or more."""
    if isinstance(part.outside, Circle):
        return False
    flat = [e for e in part.outside.edges if isinstance(e, Line) and e.start[1] == e.end[1]]
    lowest = min(edge.start[1] for edge in part.outside.edges)
    wide = [abs(e.end[0] - e.start[0]) for e in flat if e.start[1] == lowest]
    return bool(wide) and max(wide) > part.width / 3


def test_what_is_not_drawn_has_a_piece_for_each_of_its_holes(
    facts: BuildFacts, items: Sequence[Item]
) -> None:
    loose = {item.name: item.part.pieces for item in whole_list(facts, items)[len(items) :]}
    plates = [item.part for item in items if isinstance(item.part, Plate)]
    feet = [plate for plate in plates if stands(plate.part)]
    assert len(feet) == 3
    assert loose["foot screw"] == loose["foot washer"] == FOOT_SCREWS * len(feet) == 6
    assert FEET.startswith(f"{FOOT_SCREWS}×")
    (motor,) = [plate for plate in feet if plate.name in bracket.NAMES]
    slots = [edge for edge in motor.part.inside if isinstance(edge, Outline)]
    assert loose[f"{facts.drive} screw"] == loose[f"{facts.drive} washer"] == len(slots)
    casing = housing_of(facts)
    if facts.collector is None:
        (supply,) = [plate for plate in plates if plate.name == "supply plate"]
        ports = {at for _, at in threads([supply], casing.port_drill)}
        assert loose["supply fitting"] == loose["supply washer"] == len(ports)
    else:
        ends = [plate for plate in plates if plate.name in ("free-end plate", "drive-end plate")]
        holes = threads(ends, facts.collector.suction_drill)
        assert loose["suction fitting"] == loose["suction washer"] == len(holes) > 0
        assert loose["port fitting"] == 1
    belt = bool(facts.layout.belt[0])
    assert ("toothed belt" in loose) == ("key" in loose) == belt
    assert ("other half coupling" in loose) == (not belt)
    assert ("solder and flux" in loose) == (facts.bolts is not None)
    assert {"locking compound", "joint sealant", "guard", "base"} <= set(loose)


def test_without_a_casing_what_it_would_hold_is_listed_all_the_same(
    sheet_data: BuildData,
) -> None:
    crowded = build_facts_of(changed(sheet_data, nozzle_count=60.0))
    assert crowded.no_casing
    drawn = items_of(crowded)
    names = {item.name for item in drawn}
    assert not names & {"carrier screw", ROD, DOWEL, "rod nut"}
    loose = {item.name: item.part for item in whole_list(crowded, drawn)[len(drawn) :]}
    pieces = {"bearing": 2, "spring washer": 1, "casing": 1, "nozzle": 60}
    assert {name: loose[name].pieces for name in pieces} == pieces
    assert "carrier" not in loose["locking compound"].remark
    assert "foot screw" not in loose
    shown = {s.item.number for p in exploded_pages(crowded, drawn) for _, row in p for s in row}
    assert shown == {item.number for item in drawn}


def test_a_dealer_s_list_and_the_page_have_the_same_lines(
    facts: BuildFacts, items: Sequence[Item]
) -> None:
    listed = whole_list(facts, items)
    every = list(csv.DictReader(io.StringIO(parts_list(listed))))
    bought = list(csv.DictReader(io.StringIO(bought_list(listed))))
    rows = part_rows(listed)
    assert [int(line["item"]) for line in every] == [row.number for row in rows.rows]
    assert [int(line["pieces"]) for line in every] == [row.pieces for row in rows.rows]
    kept = [(line["item"], line["pieces"]) for line in every if line["made"] == "bought"]
    assert [(line["item"], line["pieces"]) for line in bought] == kept
    for line in every:
        # What is made has a file, but for the base; what is made tells no screws of its own.
        assert (line["file"] != "") == (line["made"] == "made") or line["name"] == "base"
        if line["made"] == "made":
            assert not re.search(r"\d screws|M\d+ ×", line["remark"])
    named_rows = {line["name"]: line for line in bought}
    screw = named_rows["drive carrier screw" if facts.staged else "carrier screw"]
    assert (screw["size"], screw["standard"], screw["grade"]) == (
        "M3 × 12",
        "ISO 4762",
        "class 8.8",
    )
    # 1000 of M3 x 12 weigh 0.9 kg in tables of dealers (from memory); drawn without the socket.
    assert float(screw["mass_g"]) == pytest.approx(0.9, rel=0.3)
    assert named_rows["rod nut"]["standard"] == "ISO 4032"
    assert 1 < rows.mass < 200
