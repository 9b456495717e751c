"""The section on a run's page, measured against the layout of the shaft."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from reports.design.facts import BuildData, build_facts_of
from reports.run.charts.machine import section_and_view


@pytest.mark.parametrize("ends", [1.0, 2.0])
def test_bearings_and_drive_stand_where_the_drawings_put_them(
    sheet_data: BuildData, ends: float
) -> None:
    front = {**sheet_data.front, "exhaust_ends": np.array([ends])}
    facts = build_facts_of(BuildData(**{**vars(sheet_data), "front": front}))
    section, _ = section_and_view(facts.candidate, "air")
    root = ET.fromstring(section.svg())  # noqa: S314  our own text
    casing = [each for each in root.iter("rect") if "casing" in each.get("class", "")]
    # The widest piece of the casing spans the stack and both side gaps.
    across = 1e3 * (facts.number("stack_height") + 2 * facts.number("side_gap"))
    scale = max(float(each.get("width", 0)) for each in casing) / across
    balls = {float(each.get("cx", 0)) for each in root.iter("circle")}
    # Lengths on the page are rounded to a tenth of a pixel, that of the casing too.
    assert (max(balls) - min(balls)) / scale == pytest.approx(1e3 * facts.span, abs=0.2)
    # Nothing leaves the drawing, and the coupling is its right end.
    right = [float(each.get("x", 0)) + float(each.get("width", 0)) for each in root.iter("rect")]
    drive = facts.laid("hub_start") + facts.laid("hub_length")
    low = (max(balls) - max(right)) / scale
    assert low == pytest.approx(1e3 * float(facts.layout.drive_bearing[0]) - drive, abs=0.1)
    assert max(right) <= section.width
