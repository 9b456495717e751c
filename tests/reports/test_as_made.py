"""Sizes as a shop reads them, against hand-rounded ones, and a build computed again with them."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from engine.bench.readings import bench_readings
from engine.columns import SEARCHED, Results
from engine.run.point import point_of
from engine.study.study import Study
from reports.design.as_made import Rounding, as_made
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.keys import key_for
from reports.design.machine import plates_of
from reports.design.rounding_wording import rounding_text
from reports.design.shop_sizes import cut, cut_down, cut_up, dial
from reports.design.turned_parts import key_of
from reports.kit.quantities import THIN

FOUND = ("11", "150.0374 mm", "0.2043 mm", "10.0213 deg", "50.0371 mm", "15000 rpm")
"""A build as a search between two ends finds it."""
ROUND = ("11", "150 mm", "0.2 mm", "10.0213 deg", "50 mm", "15000 rpm")
"""The same with its sizes rounded by hand."""


def texts(build: tuple[str, ...]) -> list[str]:
    return [f"{key}={text}" for key, text in zip(SEARCHED, build, strict=True)]


@pytest.fixture(scope="module")
def found(shop_air: Study) -> Results:
    return point_of(shop_air, texts(FOUND)).results | {"design": np.array([7.0])}


@pytest.fixture(scope="module")
def made(shop_air: Study, found: Results) -> tuple[Results, Rounding]:
    return as_made(shop_air, found, 0)


@pytest.fixture(scope="module")
def facts(sheet_data: BuildData, made: tuple[Results, Rounding]) -> BuildFacts:
    return build_facts_of(replace(sheet_data, front=made[0], rounding=made[1]))


def test_the_rule_rounds_as_a_shop_reads() -> None:
    # The two sizes that the design of the drawings asks for: 5.9 and 11.8, not 5.89 and 11.78.
    assert (cut(5.89), cut(11.78), cut(4.13), cut(0.01)) == (5.9, 11.8, 4.15, 0.05)
    assert (cut_up(11.71), cut_down(11.79), cut_up(11.8)) == (11.8, 11.7, 11.8)
    assert dial(73.8606) == 73.86


def test_a_rounded_build_is_the_one_that_is_typed_rounded(
    shop_air: Study, made: tuple[Results, Rounding]
) -> None:
    front, rounding = made
    derived = [
        f"{key}={float(front[key][0])!r}{unit}"
        for key, unit in (("inlet_angle", " rad"), ("exhaust_blockage", ""))
    ]
    typed = [text for text in texts(ROUND) if not text.startswith("inlet_angle")]
    other = point_of(shop_air, [*typed, *derived]).results
    for key in ("electric_power", "safety_margin", "mass_flow", "stored_energy", "bearing_life"):
        assert front[key][0] == pytest.approx(other[key][0], rel=1e-9)
    assert {key for key, _, _ in rounding.sizes} == {
        *("disc_diameter", "gap", "exhaust_bore", "inlet_angle", "exhaust_blockage")
    }
    assert front["design"][0] == 7


def test_drawings_and_computed_build_agree(facts: BuildFacts) -> None:
    casing, web = facts.casing, facts.web
    assert casing is not None
    offset = 75 * math.cos(facts.number("inlet_angle"))
    assert casing.nozzle.offset == pytest.approx(offset, abs=1e-9)
    assert casing.nozzle.offset == pytest.approx(round(casing.nozzle.offset, 2), abs=1e-9)
    for size in (web.spoke_width, 2 * web.hub_radius, *map(abs, casing.nozzle.plenum_at)):
        assert size == pytest.approx(round(size / 0.05) * 0.05, abs=1e-9)
    # The share that the model blocks is the metal between shaft and bore of the disc as drawn.
    ring = math.pi / 4 * (facts.disc.width**2 - 50**2)
    between = math.pi / 4 * (50**2 - (2 * web.shaft_radius) ** 2)
    share = (facts.disc.area - ring) / between
    assert share == pytest.approx(facts.number("exhaust_blockage"), abs=1e-9)
    (disc,) = (plate for plate in plates_of(facts) if plate.name == "disc")
    assert (disc.part.width, disc.thickness) == (150.0, 1.0)


def test_rounding_again_changes_nothing(shop_air: Study, made: tuple[Results, Rounding]) -> None:
    again, rounding = as_made(shop_air, made[0], 0)
    assert rounding == Rounding()
    assert again is made[0]


def test_a_size_that_the_study_states_is_told_as_stated(shop_air: Study, found: Results) -> None:
    shims = type(shop_air.ranges.gap).model_validate({"choices": ["0.127 mm", "0.2043 mm"]})
    ranges = shop_air.ranges.model_copy(update={"gap": shims})
    stated = shop_air.model_copy(update={"ranges": ranges})
    front, _ = as_made(stated, found, 0)
    assert front["gap"][0] == found["gap"][0]
    assert front["disc_diameter"][0] == pytest.approx(0.15)


def test_the_sheet_says_what_was_rounded_and_what_it_moves(
    made: tuple[Results, Rounding], found: Results
) -> None:
    front, rounding = made
    told = " ".join(rounding_text(rounding)).replace(THIN, " ")
    assert "150 mm for 150.04 mm" in told
    # A gap two per cent narrower moves the power by more than the half per cent that is told.
    change = abs(front["electric_power"][0] / found["electric_power"][0] - 1)
    assert bool(re.search(r"electric power \d", told.split("moves:")[-1])) == (change > 0.005)
    assert rounding.results
    worse = replace(rounding, missed=("safety_margin",), results=())
    told = " ".join(rounding_text(worse)).replace(THIN, " ")
    assert "No result on this sheet moves by more than 0.5 %" in told
    assert "no longer keeps the study's limit of safety margin" in told


def test_readings_of_the_bench_are_those_of_the_rounded_build(
    shop_air: Study, made: tuple[Results, Rounding]
) -> None:
    front, _ = made
    readings = bench_readings(shop_air, front, 0)
    power = front["electric_power"][0]
    assert readings.averaged["electric_power"][-1] == pytest.approx(power, rel=1e-9)


@pytest.mark.parametrize(
    ("shaft", "section"),
    # DIN 6885-1, from memory: width, height, depth in the shaft and in the hub.
    [(8.0, (2, 2, 1.2, 1.0)), (12.0, (4, 4, 2.5, 1.8)), (25.0, (8, 7, 4.0, 3.3))],
)
def test_keys_have_the_sections_of_the_standard(
    shaft: float, section: tuple[float, float, float, float]
) -> None:
    key = key_for(shaft, 30.0)
    assert key is not None
    assert [key.width, key.height, key.in_shaft, key.in_hub] == list(section)
    assert key.length == 28
    # The key fills both keyways, less the play over it.
    assert 0 < key.in_shaft + key.in_hub - key.height <= 0.3


def test_a_slow_pulley_has_a_key_and_a_coupling_has_none(
    sheet_data: BuildData, facts: BuildFacts
) -> None:
    assert key_of(facts) is None
    slow = {"drive_ratio": np.array([0.5]), "speed": np.array([300.0])}
    belted = build_facts_of(replace(sheet_data, front={**sheet_data.front, **slow}))
    key = key_of(belted)
    assert key is not None
    # On the seat of 10 mm, as wide as the bearing's bore (table from memory: over 8 up to 10 mm).
    assert re.fullmatch(r"DIN 6885-A 3 × 3 × \d+", key.name)


def test_a_result_before_and_after_reads_apart() -> None:
    moved = Rounding(results=(("bearing_load", 107.6, 108.2), ("electric_power", 90.0, 91.0)))
    told = rounding_text(moved)[1].replace(THIN, " ")
    assert "bearing load 108.2 N for 107.6 N" in told
    assert "electric power 91.0 W for 90.0 W" in told
