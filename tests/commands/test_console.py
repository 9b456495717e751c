"""What the terminal shows of numbers and of how far a run is."""

import io
import re

import pytest
from rich.console import Console

from engine.cli import main
from engine.console import progress_bar
from engine.study.reader import parse_study
from engine.units import counted
from reports.kit.quantities import count
from tests.support.places import STUDIES

STUDY = STUDIES / "lane-workshop.yaml"
GRIDS = {
    "method: grid": 3 * 2 * 2 * 11,
    "method: sobol, designs: 50": 50,
    "method: sobol, designs: 100000": 132,  # all there are
    "designs: 60, stages: [screen, refine], refined: 9": 69,
}


def small(search: str) -> str:
    return f"""
title: A bench of few choices
supply: {{pressure: 6 bar gauge, temperature: 20 degC}}
ranges:
  disc_count: {{min: 10, max: 12}}
  disc_diameter: 100 mm
  gap: {{choices: [0.2 mm, 0.3 mm]}}
  inlet_angle: {{choices: [10 deg, 12 deg]}}
  exhaust_bore: 40 mm
  speed: {{min: 10000 rpm, max: 20000 rpm, step: 1000 rpm}}
search: {{{search}}}
"""


@pytest.mark.parametrize(("search", "whole"), GRIDS.items())
def test_the_bar_knows_the_whole_before_the_first_design(search: str, whole: int) -> None:
    shown = io.StringIO()
    console = Console(file=shown, force_terminal=True, width=100)
    with progress_bar(console, parse_study(small(search), "bench.yaml")):
        pass
    assert f"0 of {whole} " in shown.getvalue()


def test_terminal_and_pages_part_thousands_alike(capsys: pytest.CaptureFixture[str]) -> None:
    assert counted(1234567).split() == count(1234567).split() == ["1", "234", "567"]
    assert main(["check", str(STUDY)]) == 0
    told = capsys.readouterr().out
    assert re.search(r"evaluates 30\s000\b", told)
    assert not re.search(r"\d,\d", told)
