"""Holes as a choice of a study."""

from pathlib import Path

import pytest

from engine.errors import StudyError
from engine.study.reader import read_study
from tests.support.places import STUDIES


def with_hold(tmp_path: Path, lines: str) -> Path:
    text = (STUDIES / "lane-workshop.yaml").read_text("utf-8")
    file = tmp_path / "held.yaml"
    file.write_text(text.replace("  spokes: {choices: [3, 6, 12]}\n", lines), "utf-8")
    return file


def test_spokes_and_holes_may_be_searched_together(tmp_path: Path) -> None:
    lines = "  spokes: {choices: [6, 12]}\n  hold: {choices: [spokes, holes]}\n"
    assert read_study(with_hold(tmp_path, lines)).searched()["hold"].values == ("spokes", "holes")


def test_too_many_holes_are_refused_with_their_line(tmp_path: Path) -> None:
    lines = "  spokes: {choices: [8, 12]}\n  hold: {choices: [holes]}\n"
    with pytest.raises(StudyError, match=r"held.yaml:\d+: ranges.spokes: 8 round holes.*3 to 6"):
        read_study(with_hold(tmp_path, lines))
