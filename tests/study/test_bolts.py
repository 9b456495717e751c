"""Bolts as a choice of a study."""

from pathlib import Path

import pytest

from engine.errors import StudyError
from engine.study.reader import read_study
from tests.study.test_holes import with_hold
from tests.support.places import STUDIES


def test_bolts_may_be_searched_beside_spokes_with_all_their_sizes(tmp_path: Path) -> None:
    lines = (
        "  spokes: {choices: [3, 6]}\n  hold: {choices: [spokes, bolts]}\n"
        "  bolt_circle: {choices: [60 mm, 70 mm]}\n  bolt_diameter: {choices: [3 mm, 4 mm]}\n"
        "  washer_diameter: {choices: [7 mm, 9 mm]}\n"
    )
    study = read_study(with_hold(tmp_path, lines))
    assert study.searched()["hold"].values == ("spokes", "bolts")
    assert study.searched()["bolt_circle"].values == (0.06, 0.07)


def test_washers_no_wider_than_their_bolts_are_refused_with_their_line(tmp_path: Path) -> None:
    lines = (
        "  spokes: {choices: [3, 6]}\n  hold: {choices: [bolts]}\n"
        "  washer_diameter: {choices: [3 mm]}\n"
    )
    with pytest.raises(StudyError, match=r"held.yaml:\d+: ranges.washer_diameter: 3 mm, no wider"):
        read_study(with_hold(tmp_path, lines))


def test_a_bolt_that_nobody_makes_is_refused(tmp_path: Path) -> None:
    lines = "  spokes: {choices: [3, 6]}\n  bolt_diameter: {choices: [400 mm]}\n"
    with pytest.raises(StudyError, match=r"bolt_diameter.*not plausible.*0.3 mm up to 100 mm"):
        read_study(with_hold(tmp_path, lines))


def test_a_pump_has_no_bolts_in_its_gaps(tmp_path: Path) -> None:
    text = (STUDIES / "cider-press.yaml").read_text("utf-8")
    assert "\nmachine:\n" in text
    file = tmp_path / "held.yaml"
    file.write_text(text.replace("\nmachine:\n", "\nmachine:\n  hold: bolts\n"), "utf-8")
    with pytest.raises(StudyError, match=r"machine.hold"):
        read_study(file)
