"""End clamps, their nut, and the screws of carriers: what is ordered can be bought and put on."""

import numpy as np
import pytest

from reports.design import sheet_wording
from reports.design.carriers import screw_length
from reports.design.facts import BuildData, build_facts_of
from reports.design.machine import plates_of
from reports.design.turned_parts import nuts
from tests.reports.test_sheet import changed, rows_of


@pytest.mark.parametrize(("bearing", "halves"), [("6001", True), ("6000", False)])
def test_a_nut_that_does_not_pass_the_seat_of_the_bearing_is_told(
    sheet_data: BuildData, bearing: str, halves: bool
) -> None:
    # M12 × 1.75 has a bore of 10.1 mm: it passes a seat of 10, and not one of 12.
    design = {"shaft_diameter": 0.012, "bearing": bearing, "bolt_circle": np.nan}
    for hold in ("spokes", "bolts"):
        made = build_facts_of(changed(sheet_data, **design, hold=hold))
        remark = nuts(made)[0].remark
        assert ("in two halves" in remark) == halves
        told = " ".join(sheet_wording.assembly(made))
        assert ("Take one in two halves" in told) == halves


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
