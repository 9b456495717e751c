"""End clamps, their nut, and the screws of carriers: what is ordered can be bought and put on."""

from pathlib import Path

import numpy as np
import pytest

from engine.model.shaft_layout import SLEEVE_FLANGE
from reports.design import sheet_wording
from reports.design.carriers import screw_length
from reports.design.exploded import exploded_pages
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import items_of
from reports.design.machine import plates_of
from reports.design.turned_parts import nuts, turned_parts
from tests.reports.test_sheet import changed, rows_of
from tests.support.kernel import check_assembly
from tests.support.pumps import pump_data


@pytest.mark.parametrize(("bearing", "stuck"), [("6001", True), ("6000", False)])
def test_a_nut_that_does_not_pass_the_seat_of_the_bearing_is_told(
    sheet_data: BuildData, bearing: str, stuck: bool
) -> None:
    # M12 × 1.75 has a bore of 10.1 mm: it passes a seat of 10, and not one of 12.
    design = {"shaft_diameter": 0.012, "bearing": bearing, "bolt_circle": np.nan}
    remedy = "take a shaft of 15 mm or the bearing 6000"
    for hold in ("spokes", "bolts"):
        made = build_facts_of(changed(sheet_data, **design, hold=hold))
        assert ("does not pass the bearing's seat" in nuts(made)[0].remark) == stuck
        for told in (sheet_wording.assembly(made), sheet_wording.cautions(made)):
            assert (remedy in " ".join(told)) == stuck


def test_a_sleeve_lies_on_the_nut_beside_its_countersink_and_inside_it_on_the_bearing(
    sheet_data: BuildData,
) -> None:
    for bearing, shaft in (("608", 0.010), ("6004", 0.024), ("6004", 0.030)):
        design = {"shaft_diameter": shaft, "bearing": bearing, "exhaust_bore": 0.05}
        facts = build_facts_of(changed(sheet_data, **design))
        (sleeve,) = (part for part in turned_parts(facts) if part.name == "sleeve")
        low, high = sleeve.part.ends
        faces = [max(2 * r for r, z in sleeve.part.profile if z == end) for end in (low, high)]
        # ISO 4032, from memory: a countersink is 1.08 of its thread wide at most.
        assert faces[0] >= 1.08 * 1e3 * shaft + 0.5
        assert faces[0] <= facts.laid("nut_diameter")
        row = facts.bearing
        assert faces[1] < 1e3 * (row.bore + 0.3 * (row.outside_diameter - row.bore))


@pytest.mark.parametrize(
    "change",
    [{}, {"exhaust_ends": 1.0}, {"drive_ratio": 0.3}, {"hold": "bolts", "bolt_circle": np.nan}],
)
def test_the_exploded_view_shows_every_part_of_the_list(
    sheet_data: BuildData, change: dict[str, float | str]
) -> None:
    shows_every_part(build_facts_of(changed(sheet_data, **change)))


@pytest.mark.parametrize("ends", [1, 2])
@pytest.mark.parametrize("ratio", [1.0, 0.5])
def test_the_exploded_view_of_a_pump_shows_every_part_of_the_list(ends: int, ratio: float) -> None:
    shows_every_part(build_facts_of(pump_data(suction_ends=ends, drive_ratio=ratio)))


@pytest.mark.parametrize(("bearing", "shaft"), [("6000", 0.012), ("6002", 0.017)])
def test_a_nut_that_reaches_the_plates_of_a_closed_end_turns_clear_of_them(
    sheet_data: BuildData, bearing: str, shaft: float, tmp_path: Path
) -> None:
    design = {"exhaust_ends": 1.0, "bearing": bearing, "shaft_diameter": shaft}
    facts = build_facts_of(changed(sheet_data, **design))
    assert not facts.no_casing
    parts = [item.part for item in items_of(facts)]
    cover = next(part for part in parts if part.name == "cover plate")
    flange_ends = facts.laid("sleeve_start") + 1e3 * SLEEVE_FLANGE
    assert flange_ends > cover.places[0][2]
    check_assembly(parts, tmp_path)


def shows_every_part(facts: BuildFacts) -> None:
    items = items_of(facts)
    shown = [s.item.name for page in exploded_pages(facts, items) for _, row in page for s in row]
    assert set(shown) == {item.name for item in items}
    # What stands at both ends is drawn at both.
    (bearing,) = (name for name in set(shown) if name.startswith("bearing"))
    (ring,) = (item for item in items if item.name == facts.seal)
    assert shown.count(bearing) == 2
    assert shown.count(ring.name) == ring.part.pieces
    # The nut passes the seat before sleeve and bearing go on.
    places = [shown.index(name) for name in ("clamp nut", "sleeve", "dowel", bearing)]
    assert places == sorted(places)


@pytest.mark.parametrize("hold", ["spokes", "bolts"])
def test_end_clamps_are_ordered_of_a_sheet_that_is_sold_as_thick(
    sheet_data: BuildData, hold: str
) -> None:
    design = {"material": "stainless-301-full-hard", "hold": hold, "bolt_circle": np.nan}
    hard = build_facts_of(changed(sheet_data, **design))
    for plate in plates_of(hard):
        if "clamp" in plate.name:
            assert plate.material == "Stainless steel 304 (1.4301), annealed sheet"
        elif plate.name in ("disc", "spacer"):
            assert "full-hard strip" in plate.material
    rows = rows_of(hard)
    clamps = [row.text for name, row in rows.items() if name.endswith("nd clamp")]
    assert clamps
    assert all("304 (1.4301), annealed sheet" in text for text in clamps)
    other = build_facts_of(changed(sheet_data, **design | {"material": "stainless-304"}))
    others = rows_of(other)
    assert rows["End clamp"].each == pytest.approx(others["End clamp"].each)
    assert rows["Disc"].each == pytest.approx(7900 / 8000 * others["Disc"].each)


def test_a_carrier_is_screwed_by_a_diameter_of_thread_or_more_inside_its_plate() -> None:
    for flange in np.arange(4.0, 30.0, 0.25).tolist():
        engaged = screw_length(flange) - flange
        assert 3.0 <= engaged <= 8.0
