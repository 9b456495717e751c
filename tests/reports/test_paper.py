"""Lines on paper: hatching, arcs as the PDF draws them, and leaders."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from reports.design.drawing_set import Sheet, drawing_set
from reports.design.drawings.dimensions import Callout, callouts
from reports.design.drawings.frames import sheet
from reports.design.drawings.paper import (
    A3,
    A4,
    FINE,
    Bend,
    Frame,
    Paper,
    Path,
    Words,
    hatching,
    width_of,
)
from reports.design.drawings.pdf import chain_of, pdf_of
from reports.design.facts import BuildData, build_facts_of
from reports.design.outlines import Circle, Outline, disc, web_of


def test_hatching_stays_inside_and_leaves_holes_out() -> None:
    outer = [(0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0)]
    inner = [(5.0, 3.0), (15.0, 3.0), (15.0, 7.0), (5.0, 7.0)]
    lines = list(hatching([outer, inner], pitch=0.5))
    # Lines half a millimetre apart over an area: their length over it is 2 per mm.
    assert sum(math.dist(*line) for line in lines) == pytest.approx((200 - 40) / 0.5, rel=0.03)
    for one, two in lines:
        x, y = (one[0] + two[0]) / 2, (one[1] + two[1]) / 2
        assert 0 < x < 20
        assert 0 < y < 10
        assert not (5 < x < 15 and 3 < y < 7)


@pytest.mark.parametrize("scale", [0.5, 2.0])
def test_the_pdf_draws_the_areas_of_the_part(scale: float) -> None:
    part = disc(diameter=90.0, web=web_of(shaft_diameter=8.0, exhaust_bore=70.0, blockage=0.25))
    paper = Paper(100, 100, "")
    paper.face(part, Frame((50.0, 50.0), scale))
    drawn = [shape for shape, _ in paper.shapes if isinstance(shape, Path)]
    outlines = [edge for edge in part.inside if isinstance(edge, Outline)]
    assert len(drawn) == len(outlines) > 0
    for shape, edge in zip(drawn, outlines, strict=True):
        x, y = np.asarray(chain_of(shape).to_polygons()[0]).T
        found = abs(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])) / 2
        # Matplotlib's own reading of the curves, flattened.
        assert found == pytest.approx(scale**2 * abs(edge.area), rel=5e-3)


@pytest.mark.parametrize(("large", "clockwise"), [(a, b) for a in (0, 1) for b in (0, 1)])
def test_arcs_turn_as_svg_defines_them(large: int, clockwise: int) -> None:
    # SVG 1.1, 8.3.8: from (10, 0) to (0, 10), y downward. The small clockwise arc of radius 10 has
    # its middle at the origin; so has the large counterclockwise one.
    bend = Bend(10.0, bool(large), bool(clockwise), (0.0, 10.0))
    path = Path((10.0, 0.0), (bend,), closed=False, pen=FINE)
    corners, share = np.asarray(chain_of(path).vertices), np.linspace(0, 1, 50)[:, None]
    curves = [corners[place : place + 4] for place in range(0, len(corners) - 1, 3)]
    # De Casteljau's curve of the third order.
    p = np.concatenate(
        [
            (1 - share) ** 3 * a
            + 3 * share * (1 - share) ** 2 * b
            + 3 * share**2 * (1 - share) * c
            + share**3 * d
            for a, b, c, d in curves
        ]
    )
    middle = (0.0, 0.0) if bool(large) != bool(clockwise) else (10.0, 10.0)
    np.testing.assert_allclose(np.hypot(*(p - middle).T), 10.0, rtol=5e-4)
    length = np.sum(np.hypot(*np.diff(p, axis=0).T))
    assert length == pytest.approx(10 * math.pi / 2 * (3 if large else 1), rel=1e-3)


def test_a_leader_of_a_diameter_is_aimed_at_its_middle() -> None:
    paper, middle = sheet("one circle"), (90.0, 60.0)
    paper.outline(Circle(20.0), Frame(middle, 1.0))
    at = (20 * math.cos(0.7), 20 * math.sin(0.7))
    callouts(
        paper,
        [Callout("⌀40", "", at, "right", centre=(0.0, 0.0))],
        Frame(middle, 1.0),
        30.0,
        20.0,
    )
    tip = (middle[0] + at[0], middle[1] - at[1])
    leaders = [s for s, _ in paper.shapes if isinstance(s, Path) and s.steps == (tip,)]
    (leader,) = leaders
    way = math.atan2(middle[1] - leader.start[1], middle[0] - leader.start[0])
    ends = math.atan2(tip[1] - leader.start[1], tip[0] - leader.start[0])
    assert way == pytest.approx(ends)


def test_drawings_on_a3_have_the_letters_and_lines_of_a4(sheet_data: BuildData) -> None:
    facts = build_facts_of(sheet_data)
    small, large = drawing_set(facts), drawing_set(facts, size=A3)
    assert [sheet.file for sheet in small] == [sheet.file for sheet in large]

    def sizes(sheets: Sequence[Sheet]) -> set[float]:
        shapes = [shape for each in sheets for shape, _ in each.paper.shapes]
        return {each.size if isinstance(each, Words) else each.pen.width for each in shapes}

    assert sizes(small) == sizes(large)
    for drawn in large:
        words = [shape for shape, _ in drawn.paper.shapes if isinstance(shape, Words)]
        assert "Sheet, A3" in [each.text for each in words]
        assert all(0 < each.at[0] < A3.width and 0 < each.at[1] < A3.height for each in words)
    slow = {"drive_ratio": np.array([0.2]), "speed": np.array([500.0])}  # with a belt and a key
    belted = replace(sheet_data, front={**sheet_data.front, **slow})
    for drawn in (*small, *drawing_set(build_facts_of(belted))):
        for shape, _ in drawn.paper.shapes:
            if isinstance(shape, Words) and not shape.upright:
                long = {"start": 1.0, "middle": 0.5, "end": 0.0}[shape.anchor]
                end = shape.at[0] + long * width_of(shape.text, shape.size)
                assert end < A4.width, (drawn.file, shape.text)
    pdf = pdf_of([large[0].paper, small[0].paper], "both")
    # A3 and A4 of ISO 216 in points of 1/72 inch.
    boxes = re.findall(rb"/MediaBox \[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
    mm = [[round(float(side) * 25.4 / 72, 1) for side in box] for box in boxes]
    assert mm == [[420.0, 297.0], [210.0, 297.0]]
