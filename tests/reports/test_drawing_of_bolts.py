"""Rings on bolts and their end plates, as they are drawn."""

import csv
import math
from collections.abc import Mapping

import pytest

from reports.design.bolted import (
    LIMITS,
    NOT_DRAWN,
    bolts_at,
    end_plate,
    ring_on_bolts,
    write_bolted,
)
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.outlines import Circle, axis_of
from tests.reports.test_drawing import of_kind, reread
from tests.reports.test_sheet import changed, texts

BOLTED = {"hold": "bolts", "spokes": 6.0, "bolt_diameter": 3e-3, "washer_diameter": 7e-3}


@pytest.fixture(scope="module")
def bolted(sheet_data: BuildData) -> BuildData:
    return changed(sheet_data, **BOLTED, bolt_circle=math.nan)


@pytest.fixture(scope="module")
def facts(bolted: BuildData) -> BuildFacts:
    return build_facts_of(bolted)


@pytest.fixture(scope="module")
def files(bolted: BuildData) -> Mapping[str, str]:
    return texts(write_bolted(bolted))


def test_bolts_stand_midway_between_bore_and_rim_on_the_lines_of_the_spokes(
    facts: BuildFacts,
) -> None:
    middle = (facts.web.bore_radius + facts.disc.width / 2) / 2
    for place, hole in enumerate(bolts_at(facts)):
        assert hole.radius == pytest.approx(1.5)
        assert math.hypot(*hole.centre) == pytest.approx(middle)
        along = math.atan2(hole.centre[1], hole.centre[0]) - axis_of(facts.web, place)
        assert math.cos(along) == pytest.approx(1.0)


def test_a_bolt_circle_that_the_study_states_is_drawn(sheet_data: BuildData) -> None:
    circle = 1.2e-3 * (build_facts_of(sheet_data).web.bore_radius * 2)
    stated = build_facts_of(changed(sheet_data, **BOLTED, bolt_circle=circle))
    assert math.hypot(*bolts_at(stated)[0].centre) == pytest.approx(1e3 * circle / 2)


def test_a_ring_is_cut_without_a_web_and_its_end_plate_with_one(facts: BuildFacts) -> None:
    ring, plate = ring_on_bolts(facts), end_plate(facts)
    cut = reread(ring)
    assert len(of_kind(cut, "CIRCLE", "INSIDE")) == 1 + 6
    assert len(list(cut.modelspace())) == 1 + 1 + 6
    bore = math.pi * (facts.disc.width**2 / 4 - facts.web.bore_radius**2)
    assert ring.area == pytest.approx(bore - 6 * math.pi * 1.5**2)
    openings = of_kind(reread(plate), "LWPOLYLINE", "INSIDE")
    assert len(openings) == 6
    assert plate.area == pytest.approx(facts.disc.area - 6 * math.pi * 1.5**2)
    assert [hole for hole in plate.inside if isinstance(hole, Circle)][1:] == list(ring.inside[1:])


def test_every_part_is_listed_with_its_pieces(files: Mapping[str, str], facts: BuildFacts) -> None:
    listed = {row["part"]: row for row in csv.DictReader(files["parts.csv"].splitlines())}
    discs = round(facts.number("disc_count"))
    assert int(listed["disc"]["pieces"]) == discs
    assert int(listed["washer"]["pieces"]) == 6 * (discs - 1)
    assert int(listed["bolt with nut"]["pieces"]) == 6
    for row in listed.values():
        assert not row["file"] or row["file"] in files


def test_drawings_say_sizes_limits_and_what_is_not_drawn(files: Mapping[str, str]) -> None:
    assert NOT_DRAWN in files["notes.txt"]
    assert LIMITS in files["notes.txt"]
    for name in ("disc.svg", "end-plate.svg"):
        assert "6× ⌀3 H11" in files[name]
