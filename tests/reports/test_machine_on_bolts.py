"""Machines whose discs bolts hold: solids, drawings, parts, sheet and plan."""

import csv
import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from engine.model.shaft import rotor_line
from engine.physics.machine.clamp import FACE_RATIO
from engine.study.study import Study
from reports.design.bolted_drawings import LIMITS
from reports.design.bolted_wording import bolt_force
from reports.design.casing_wording import estimates_at
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import items_of, whole_list
from reports.design.machine import plates_of
from reports.design.outlines import Circle, axis_of
from reports.design.part_rows import part_rows
from reports.design.plan import write_plan
from reports.design.plate import Plate, as_cut
from reports.design.ring_bolts import RingBolts
from reports.design.sheet import write_sheet
from reports.design.step import step_of
from reports.design.turned import Turned
from reports.design.turned_parts import TurnedPart
from tests.reports.test_drawing import of_kind, reread
from tests.reports.test_sheet import changed, texts, words_of
from tests.reports.test_stage_drawings import made
from tests.support.kernel import check_assembly, levels, solids

BOLTED = {"hold": "bolts", "spokes": 6.0, "bolt_diameter": 3e-3, "washer_diameter": 7e-3}
NOWHERE = {**BOLTED, "bolt_circle": math.nan}
PACK = {"disc", "end clamp", "tapped end clamp", "washer", "pack bolt", "pack tube"}


@pytest.fixture(scope="module")
def bolted(sheet_data: BuildData) -> BuildData:
    return changed(sheet_data, **NOWHERE)


@pytest.fixture(scope="module")
def facts(bolted: BuildData) -> BuildFacts:
    return build_facts_of(bolted)


@pytest.fixture(scope="module")
def files(bolted: BuildData) -> Mapping[str, str]:
    return texts(write_sheet(bolted))


def bolts_of(facts: BuildFacts) -> RingBolts:
    assert facts.bolts is not None
    return facts.bolts


NAMES = ("two exhausts", "one exhaust", "two stages")


@pytest.fixture(scope="module", params=NAMES)
def machine(request: pytest.FixtureRequest, sheet_data: BuildData, shop_air: Study) -> BuildFacts:
    """A machine of each kind, on three bolts: fewer solids to compare."""
    few = {**NOWHERE, "spokes": 3.0}
    data = {
        "two exhausts": lambda: changed(sheet_data, **few),
        "one exhaust": lambda: changed(sheet_data, **few, exhaust_ends=1.0),
        "two stages": lambda: changed(made(shop_air, 2), **few),
    }
    return build_facts_of(data[request.param]())


def test_solids_are_valid_and_none_is_where_another_is(machine: BuildFacts, tmp_path: Path) -> None:
    drawn = machine
    assert not drawn.no_casing
    every = [item.part for item in items_of(drawn)]
    check_assembly(every, tmp_path)
    closed = "closed end clamp" if drawn.closed else "tapped end clamp"
    assert {part.name.rstrip(" 23") for part in every} >= PACK - {"tapped end clamp"} | {closed}


def test_the_drawn_rotor_is_as_long_as_the_one_that_bends(machine: BuildFacts) -> None:
    drawn = machine
    lane = {key: np.array([value]) for key, value in drawn.candidate.values.items()}
    heights = [1e-3 * np.array([stack.end - stack.start]) for stack in drawn.stacks]
    hub = np.array([1e-3 * drawn.web.hub_radius])
    line = rotor_line(lane, height=heights[0], later=heights[1:], hub_radius=hub)
    parts = {item.name: item.part for item in items_of(drawn)}
    shaft = parts["shaft"]
    assert isinstance(shaft, TurnedPart)
    assert shaft.part.length == pytest.approx(1e3 * float(np.ptp(line.place)), abs=1e-6)
    assert 1e3 * drawn.span == pytest.approx(1e3 * float(line.layout.span[0]), abs=1e-9)


def test_bolts_stand_midway_between_bore_and_rim_on_the_lines_of_the_spokes(
    facts: BuildFacts,
) -> None:
    middle = (facts.web.bore_radius + facts.disc.width / 2) / 2
    for place, hole in enumerate(bolts_of(facts).holes):
        assert hole.radius == pytest.approx(1.5)
        assert math.hypot(*hole.centre) == pytest.approx(middle)
        along = math.atan2(hole.centre[1], hole.centre[0]) - axis_of(facts.web, place)
        assert math.cos(along) == pytest.approx(1.0)


def test_a_bolt_circle_that_the_study_states_is_drawn(sheet_data: BuildData) -> None:
    circle = 1.2e-3 * (build_facts_of(sheet_data).web.bore_radius * 2)
    stated = bolts_of(build_facts_of(changed(sheet_data, **BOLTED, bolt_circle=circle)))
    assert math.hypot(*stated.holes[0].centre) == pytest.approx(1e3 * circle / 2)


def test_a_ring_is_cut_without_a_web_and_its_end_clamps_with_one(facts: BuildFacts) -> None:
    flat = {plate.name: plate.part for plate in plates_of(facts)}
    ring, low, tapped = (flat[name] for name in ("disc", "end clamp", "tapped end clamp"))
    cut = reread(ring)
    assert len(of_kind(cut, "CIRCLE", "INSIDE")) == 1 + 6
    assert len(list(cut.modelspace())) == 1 + 1 + 6
    bore = math.pi * (facts.disc.width**2 / 4 - facts.web.bore_radius**2)
    assert ring.area == pytest.approx(bore - 6 * math.pi * 1.5**2)
    assert len(of_kind(reread(low), "LWPOLYLINE", "INSIDE")) == 6
    holes = [hole for hole in low.inside if isinstance(hole, Circle)]
    assert holes[1:] == list(ring.inside[1:])
    # A thread is drawn as its cylinder and cut to its drill: M3 to 2.5 (ISO 2306, from memory).
    drilled = [hole.radius for hole in as_cut(tapped).inside if isinstance(hole, Circle)]
    assert drilled[1:] == pytest.approx([1.25] * 6)


def test_washers_fill_the_gaps_and_bolts_end_in_the_outer_faces(
    facts: BuildFacts, tmp_path: Path
) -> None:
    by_name = {item.name: item.part for item in items_of(facts)}

    def of(name: str) -> list[tuple[float, float]]:
        """Lower and upper face of each piece, as another kernel reads them."""
        return sorted(map(levels, solids(step_of([by_name[name]], name), tmp_path)))

    discs, washers, bolts = of("disc"), of("washer"), of("pack bolt")
    gap, height = 1e3 * facts.number("gap"), 1e3 * facts.number("stack_height")
    assert len(washers) == 6 * (len(discs) - 1)
    faces = [end for _, end in discs[:-1]]
    assert sorted({round(low, 6) for low, _ in washers}) == pytest.approx(faces)
    assert all(high - low == pytest.approx(gap, abs=1e-6) for low, high in washers)
    assert bolts == [pytest.approx((-5.0, height + 5.0), abs=1e-6)] * 6
    (tube,) = of("pack tube")
    assert tube == pytest.approx((0.0, height), abs=1e-6)
    around = by_name["pack tube"].part
    assert isinstance(around, Turned)
    assert around.diameter == pytest.approx(FACE_RATIO * around.bore)
    # The side gap is beside the end clamps: rings of the casing span both.
    ring = by_name["side ring"]
    assert isinstance(ring, Plate)
    assert ring.thickness == pytest.approx(5.0 + 1e3 * facts.number("side_gap"))


def test_every_part_is_listed_with_its_pieces_and_its_files(
    files: Mapping[str, str], facts: BuildFacts
) -> None:
    listed = {row["name"]: row for row in csv.DictReader(files["parts.csv"].splitlines())}
    discs = round(facts.number("disc_count"))
    pieces = {"disc": discs, "washer": 6 * (discs - 1), "pack bolt": 6, "pack tube": 1}
    pieces |= {"end clamp": 1, "tapped end clamp": 1}
    assert {name: int(listed[name]["pieces"]) for name in pieces} == pieces
    assert "spacer" not in listed
    for row in listed.values():
        assert not row["file"] or row["file"] in files
    named = {row.name: row for row in part_rows(whole_list(facts, items_of(facts))).rows}
    ring = math.pi / 4 * (150**2 - 50**2 - 6 * 3**2) * 1e3 * facts.number("disc_thickness")
    assert named["Disc"].each == pytest.approx(ring * 7.9e-6, rel=0.02)
    assert named["Washer"].pieces == 6 * (discs - 1)


def test_bolts_are_tightened_as_tables_say(facts: BuildFacts) -> None:
    # VDI 2230 table A1: M3, class 8.8, friction 0.12: 2.1 to 2.2 kN (from memory).
    assert bolt_force(bolts_of(facts)) == pytest.approx(2100, rel=0.1)


def test_sheet_and_drawings_speak_of_washers_and_say_their_limits(
    files: Mapping[str, str], facts: BuildFacts
) -> None:
    text = words_of(files["sheet.html"])
    assert LIMITS in text
    assert "washers deep" not in text
    for told in (
        "End clamp, spokes",
        "or an end clamp at its spokes",
        "10 washers",
        "rims of both",
        "Put the tube in before",
    ):
        assert told in text
    for left_out in ("on its hub", "Spacer thickness", "10 spacers", "Stack from the drive"):
        assert left_out not in text
    assert "6× ⌀3 H11" in files["disc.svg"]
    assert "6× M3, drill 2.5" in files["tapped-end-clamp.svg"]
    assert "Countersink the" in files["end-clamp.svg"]
    numbers = {item.number for item in items_of(facts) if item.name in PACK}
    for name in ("general-arrangement.svg", "exploded-view.svg"):
        assert all(f">{number}</text>" in files[name] for number in numbers)


def test_an_end_clamp_without_openings_is_drawn_with_its_bolts(sheet_data: BuildData) -> None:
    made = texts(write_sheet(changed(sheet_data, **NOWHERE, exhaust_ends=1.0)))
    drawing = made["closed-end-clamp.svg"]
    assert "6× M3, drill 2.5" in drawing
    assert "spokes" not in drawing
    assert "6 spokes" in made["end-clamp.svg"]


def test_the_plan_taps_a_disc_between_its_end_clamps(bolted: BuildData) -> None:
    plan = write_plan(bolted)
    text = words_of(plan["plan.html"])
    assert "hold one disc alone between both end clamps" in text
    assert "Held at the bolts alone" in text
    assert "Held at the hub" not in text
    assert "bolts" in plan["tap-test.csv"] or bolted.study.machine.hold != "bolts"


def test_wide_end_clamps_burst_with_the_discs(facts: BuildFacts, sheet_data: BuildData) -> None:
    # Two plates of 5 mm beside eleven discs, of one steel.
    spokes, bolts = (
        estimates_at(each, 0.0)
        for each in (
            build_facts_of(changed(sheet_data, burst_speed=3e3)),
            build_facts_of(changed(sheet_data, burst_speed=3e3, **NOWHERE)),
        )
    )
    more = 1 + 2 * 5e-3 / (11 * facts.number("disc_thickness"))
    assert bolts.fragment_mass == pytest.approx(more * spokes.fragment_mass)
    assert bolts.fragment_energy == pytest.approx(more * spokes.fragment_energy)
    assert bolts.disc_energy == spokes.disc_energy
    assert bolts.perforation[0] > spokes.perforation[0]
