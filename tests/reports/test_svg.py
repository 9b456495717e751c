"""Charts as drawings: scales, marks, labels that keep apart, text that stays text."""

import math
import re
from xml.etree import ElementTree as ET

import pytest

from engine.physics.machine.margins import MODES
from reports.kit.scales import Scale, spanning, tick_text
from reports.kit.svg import FAILURES, Drawing, Label, failure, fitted


def _read(drawing: Drawing) -> ET.Element:
    return ET.fromstring(drawing.svg())  # noqa: S314  # our own


def test_ticks_are_round_and_inside_the_scale() -> None:
    assert Scale(0.93, 4.2, 0, 1).ticks(4) == [1, 2, 3, 4]
    assert Scale(-1.2, 1.3, 0, 1).ticks(5) == [-1, -0.5, 0, 0.5, 1]
    assert tick_text(-0.5, 0.5) == "−0.5"


@pytest.mark.parametrize("values", [[], [5.0], [math.nan, 0.0], [0.0, 0.0]])
def test_a_scale_of_few_values_still_has_a_length(values: list[float]) -> None:
    scale = spanning(values, 0, 100)
    assert scale.high > scale.low
    assert all(0 <= scale(value) <= 100 for value in values if math.isfinite(value))


def test_text_of_a_study_stays_text() -> None:
    drawing = Drawing(400, 300, says="<b>&")
    drawing.mark((5, 5), says='"><script>')
    drawing.text((5, 5), "<script>")
    drawing.curve([(0, 0), (1, 1)], "air", "</svg>")
    found = _read(drawing)
    assert found.get("aria-label") == "<b>&"
    assert {each.tag for each in found} == {"circle", "text", "path"}
    assert found[0].get("data-says") == '"><script>'


def test_a_line_breaks_where_a_number_is_missing() -> None:
    drawing = Drawing(400, 300, says="")
    drawing.curve([(0, 0), (1, 1), (2, math.nan), (3, 3), (4, 4)], "air")
    assert _read(drawing)[0].get("d") == "M0 0L1 1M3 3L4 4"


def test_labels_keep_apart_and_on_the_paper() -> None:
    drawing = Drawing(400, 300, says="")
    drawing.label([Label((380, 20), f"a long name {place}") for place in range(4)])
    boxes = drawing.taken
    assert len(boxes) == 4
    for place, (left, top, right, bottom) in enumerate(boxes):
        assert (left >= 0, top >= 0, right <= 400, bottom <= 300) == (True,) * 4
        for x, y, r, b in boxes[:place]:
            assert right <= x or left >= r or bottom <= y or top >= b


def test_each_way_of_failing_has_a_mark_of_its_own() -> None:
    assert set(FAILURES) == set(MODES)
    assert len({mark for mark, _ in FAILURES.values()}) == len(MODES)
    assert failure("yield") != failure("something new")
    drawn = set()
    for mode in MODES:
        drawing = Drawing(40, 40, says="")
        drawing.mark((20, 20), failure(mode)[0])
        drawn.add(re.sub(r'aria-label="[^"]*"', "", drawing.svg()))
    assert len(drawn) == len(MODES)


def test_a_chart_is_drawn_once_for_each_width() -> None:
    made = fitted(lambda width: Drawing(width, 100, says="x"), {"wide": 900.0, "narrow": 300.0})
    assert re.findall(r'at-(\w+)"><svg[^>]*viewBox="0 0 (\d+)', made) == [
        ("wide", "900"),
        ("narrow", "300"),
    ]
