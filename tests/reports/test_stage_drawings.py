"""Drawings, solids, sheet and plan of machines with two and three stages."""

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.bench.readings import NO_READINGS, read_loaded, read_locked
from engine.model.shaft import rotor_line
from engine.model.stages import PASSAGE_SHARE
from engine.run.point import point_of
from engine.study.study import Study
from reports.design.casing import NoCasingError
from reports.design.drawing_set import drawing_set
from reports.design.drawings.paper import A4, svg_of
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import items_of
from reports.design.machine import plates_of
from reports.design.outlines import Circle, Flat
from reports.design.parts_sheet import list_pages
from reports.design.plan_logs import HELD, LOGGED, columns_of
from reports.design.shop_sizes import plain
from reports.design.stage_turned import stage_turned
from reports.design.stage_wording import SPRING, stage_notes, stage_rows, thrust
from reports.design.staging import Staged, halves
from reports.design.turned_parts import TurnedPart
from tests.support.kernel import check_assembly

SEARCHED = ("disc_count", "disc_diameter", "gap", "inlet_angle", "exhaust_bore", "speed")
TEXTS = ("4", "95 mm", "0.4 mm", "6 deg", "44 mm", "24000 rpm")


def made(shop_air: Study, stages: int) -> BuildData:
    """A build with so many stages, worked through by the model."""
    changed = {"stage_count": stages, "shaft_diameter": 0.012, "disc_count_2": 6}
    changed |= {"nozzle_width_2": 0.6e-3, "disc_count_3": 8, "nozzle_width_3": 1e-3}
    machine = shop_air.machine.model_copy(update=changed)
    study = shop_air.model_copy(update={"machine": machine})
    values = [f"{key}={text}" for key, text in zip(SEARCHED, TEXTS, strict=True)]
    front = dict(point_of(study, values).results)
    assert front["status"][0] == "matched"
    front |= {"design": np.array([7.0]), "rank": np.array([1.0])}
    return BuildData(
        study=study,
        front=front,
        row=0,
        letter="",
        roles=(),
        readings=NO_READINGS,
        locked=NO_READINGS,
        provenance={},
    )


@pytest.fixture(scope="module")
def two(shop_air: Study) -> BuildFacts:
    return build_facts_of(made(shop_air, 2))


@pytest.fixture(scope="module")
def three(shop_air: Study) -> BuildFacts:
    return build_facts_of(made(shop_air, 3))


def staged_of(facts: BuildFacts) -> Staged:
    assert facts.staged is not None, facts.no_casing
    return facts.staged


def test_solids_are_valid_and_none_is_where_another_is(three: BuildFacts, tmp_path: Path) -> None:
    check_assembly([item.part for item in items_of(three)], tmp_path)


@pytest.mark.parametrize("name", ["two", "three"])
def test_the_drawn_rotor_is_as_long_and_heavy_as_the_one_that_bends(
    name: str, request: pytest.FixtureRequest
) -> None:
    facts = request.getfixturevalue(name)
    lane = {key: np.array([value]) for key, value in facts.candidate.values.items()}
    heights = [1e-3 * np.array([stack.end - stack.start]) for stack in facts.stacks]
    hub = np.array([1e-3 * facts.web.hub_radius])
    line = rotor_line(lane, height=heights[0], later=heights[1:], hub_radius=hub)
    every = [item.part for item in items_of(facts)]
    parts = {part.name: part for part in every if isinstance(part, TurnedPart)}
    assert parts["shaft"].part.length == pytest.approx(1e3 * float(np.ptp(line.place)), abs=1e-6)
    assert 1e3 * facts.span == pytest.approx(1e3 * float(line.layout.span[0]), abs=1e-9)
    # What the model takes between two stacks is what is drawn there, but for edges and grooves.
    tube, ring = parts["stack tube"], parts["inner collar"]
    apart = facts.stacks[1].start - facts.stacks[0].end
    assert tube.part.length == pytest.approx(apart - 10.0)
    assert 2 * ring.part.length < apart
    # Collars of the model are plain rings; drawn ones have grooves between their lands.
    collars = [made for made in (parts["collar"], ring) for _ in range(made.pieces)]
    drawn = sum(made.volume for made in collars) * 7.85e-6
    counted = float(line.point_mass.sum())
    assert 0.5 * counted < drawn < counted


@pytest.mark.parametrize("name", ["two", "three"])
def test_every_room_leads_on_and_every_plate_lies_on_the_next(
    name: str, request: pytest.FixtureRequest
) -> None:
    facts = request.getfixturevalue(name)
    staged = staged_of(facts)
    spans = sorted(
        {
            (plate.levels[0], plate.levels[0] + plate.thickness)
            for plate in plates_of(facts)[3:]
            if plate.name not in ("generator plate", "drive-end plate")
        }
    )
    open_room = staged.chamber
    gaps = [low - high for (_, high), (low, _) in pairwise(spans)]
    # Only the last stage's lower room is open to the surroundings.
    assert max(gaps) == pytest.approx(open_room)
    assert sum(gap > 1e-6 for gap in gaps) == 1
    for before, after in staged.pairs:
        # Holes of a stage end in the closed rooms, clear of the casing bore and of bolts.
        for hole in (*before.transfers, *after.plenums):
            off = math.hypot(*hole.centre)
            assert off - hole.radius > before.casing.bore + 3.9
            assert off + hole.radius < staged.room + 1e-9


def test_holes_take_the_share_of_the_drop_that_they_are_made_for(two: BuildFacts) -> None:
    (passage,) = staged_of(two).passages
    values = two.candidate.values
    drop = float(values["nozzle_pressure_2"]) - two.study.supply.back_pressure
    assert 0.5 * PASSAGE_SHARE * drop < passage.loss <= PASSAGE_SHARE * drop
    assert passage.counted == pytest.approx(PASSAGE_SHARE * drop)


def test_plates_between_stages_come_in_halves_that_close(two: BuildFacts) -> None:
    found = {plate.name: plate for plate in plates_of(two)}
    staged = staged_of(two)
    casing = staged.stages[0].casing
    dowels = casing.holes[casing.bolts :]
    for name in ("collar plate 1", "partition 1", "feed plate 2"):
        pair = [found[f"{name} {letter}"] for letter in "AB"]
        whole = math.pi * (casing.outside**2)
        holes = [edge for half in pair for edge in half.part.inside]
        middle = staged.partition_bore / 2 if name == "partition 1" else casing.seal_bore
        taken = sum(edge.area for edge in holes) + math.pi * middle**2
        assert sum(half.part.area for half in pair) == pytest.approx(whole - taken)
        assert all(sum(hole in half.part.inside for hole in dowels) == 1 for half in pair)
    crowded = tuple(
        Circle(8.0, (60 * math.cos(t), 60 * math.sin(t))) for t in np.linspace(0, 6, 24)
    )
    with pytest.raises(NoCasingError, match="leave no room for a joint"):
        halves(Flat("plate", Circle(80.0), (Circle(20.0), *crowded, *dowels)), dowels)


def test_the_partition_runs_on_the_tube_with_the_clearance_of_the_study(two: BuildFacts) -> None:
    staged = staged_of(two)
    tube = next(part for part in stage_turned(two) if part.name == "stack tube")
    clearance = (staged.partition_bore - tube.part.diameter) / 2
    assert clearance == pytest.approx(1e3 * two.number("seal_clearance"))
    plates = [plate for plate in plates_of(two) if plate.name.startswith("partition")]
    lands = [tube.places[0][2] + z for r, z in tube.part.profile if 2 * r == tube.part.diameter]
    low, high = plates[0].levels[0], plates[0].levels[0] + plates[0].thickness
    inside = [z for z in lands if low - 1e-9 <= z <= high + 1e-9]
    assert len(inside) >= 2 * two.number("seal_throttles")


def test_every_sheet_is_drawn_and_the_list_goes_on_over_pages(three: BuildFacts) -> None:
    items = items_of(three)
    pages = list(list_pages(items, A4))
    assert len(pages) > 1
    assert [item for page in pages for item in page] == list(items)
    names = [sheet.file for sheet in drawing_set(three, items)]
    assert len(names) == len(set(names))
    for item in items:
        if item.file.endswith(".dxf"):
            assert item.file.removesuffix(".dxf") in names
    assert {"nozzle-1", "nozzle-2", "nozzle-3", "parts-list-2"} <= set(names)
    svg = svg_of(drawing_set(three, items)[0].paper)
    assert f"{plain(three.span * 1e3)}, bearings" in svg


def test_sheet_tells_stages_thrust_and_spring(two: BuildFacts) -> None:
    rows = {row.name: row.cells for row in stage_rows(two)}
    assert rows["Discs"] == ("4", "6")
    assert rows["Gaps"] == ("3", "5")
    area = math.pi / 4 * (1.6 * 0.012) ** 2
    first = float(two.candidate.values["nozzle_pressure_2"])
    assert thrust(two) == pytest.approx((first - 101_325) * area, rel=1e-3)
    told = " ".join(stage_notes(two))
    lifted = thrust(two) > two.number("bearing_preload")
    assert ("lifts the rotor off" in told) == lifted
    assert SPRING > 1


@pytest.mark.parametrize("stages", [1, 2, 3])
def test_pressures_between_are_read_where_there_are_stages(shop_air: Study, stages: int) -> None:
    between = {f"nozzle_pressure_{n}" for n in range(2, stages + 1)}
    warm = {f"exhaust_temperature_{n}" for n in range(2, stages + 1)}
    loaded, locked = read_loaded(shop_air, stages), read_locked(shop_air, stages)
    assert between | warm <= {*loaded}
    assert between <= {*locked}
    assert ("outlet_angle" in loaded) == (stages == 1)
    columns: Any = columns_of(LOGGED, shop_air, stages)
    assert {key for key in columns if key[-2:] in ("_2", "_3")} == between | warm
    assert {key for key in columns_of(HELD, shop_air, stages) if key[-1].isdigit()} == between
