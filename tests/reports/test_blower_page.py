"""A run of a blower, to its page, sheet and plan: words of a gas, none of a liquid."""

from dataclasses import replace
from pathlib import Path

import pytest

from engine.errors import StudyError
from engine.run.launch import run_study
from engine.run.read import study_of_run
from reports.compare.make import refuse_mixed
from reports.design.make import plan_of_run, sheet_of_run
from reports.run.make import report_of_run
from tests.reports.test_pump_page import TURBINE_WORDS, said
from tests.support.pumps import pump_study
from tests.support.told_runs import ONE, run_with

STUDY = """\
title: A blower for a bench
kind: pump
supply: {fluid: air, temperature: 20 degC, pressure: 0 bar gauge}
duty: {flow: 400 l/min, pressure_loss: 1200 Pa}
machine: {material: stainless-304, disc_thickness: 1 mm, spokes: 6, port_diameter: 40 mm,
          motor_power: 250 W, motor_speed: 6000 rpm}
ranges:
  disc_count: {min: 20, max: 40, step: 5}
  disc_diameter: {choices: [160 mm, 170 mm]}
  gap: {choices: [0.7 mm, 1 mm]}
  eye_diameter: {choices: [50 mm, 60 mm]}
  throat_area: {min: 300 mm2, max: 600 mm2, step: 100 mm2}
  speed: {min: 4400 rpm, max: 5600 rpm, step: 200 rpm}
aims: {electric_power: minimise, flow: maximise}
search: {designs: 120, generation: 40, patience: 2}
uncertainty: {samples: 16}
"""
LIQUID_WORDS = (
    "NPSH", "boil", "flood", "prime", "water kills", "liquid under", "lifts the fluid", "drain",
    "head above", "suction boils", "bubble", "a bladed pump",
)  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    study = tmp_path_factory.mktemp("blower") / "bench.yaml"
    study.write_text(STUDY, encoding="utf-8")
    return run_study(study, study.parent / "run").folder


def test_its_page_speaks_of_pressure_and_not_of_suction(folder: Path) -> None:
    text = said(report_of_run(folder))
    for words in ("Blower for", "Pressure against flow", "of air", "Pa", "moves the air", "1.1"):
        assert words in text, words
    for words in (*LIQUID_WORDS, *(each for each in TURBINE_WORDS if each != "back pressure")):
        assert words.lower() not in text.lower(), words


@pytest.mark.parametrize("what", ["sheet", "plan"])
def test_sheet_and_plan_have_the_words_of_a_gas(folder: Path, what: str) -> None:
    _, files = sheet_of_run(folder, "pick") if what == "sheet" else plan_of_run(folder, "pick")
    page = next(page for name, page in files.items() if name.endswith(".html"))
    assert isinstance(page, str)
    text = said(page)
    for words in LIQUID_WORDS:
        assert words.lower() not in text.lower(), words
    assert "screen before the eye" in text
    assert "of air" in text if what == "sheet" else "Pressure against flow" in text


def test_a_blower_is_not_compared_with_a_pump(folder: Path) -> None:
    blower = run_with(ONE)
    of_gas = replace(blower, study=study_of_run(folder)[0])
    of_liquid = replace(blower, study=pump_study())
    with pytest.raises(StudyError, match="runs of pumps and of blowers; compare those of one"):
        refuse_mixed([of_liquid, of_gas])
    refuse_mixed([of_gas, of_gas])
