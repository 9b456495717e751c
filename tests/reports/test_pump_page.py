"""A run of a pump, from its study to its page, and the commands that do not take it yet."""

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from engine.bench.log import read_log
from engine.cli import main
from engine.columns import columns_of
from engine.errors import StudyError
from engine.model.cautions import GENTLE_ONLY
from engine.run.folder import read_front, read_state
from engine.run.launch import run_study
from engine.run.pick import picks_of
from engine.run.point import point_of
from engine.run.read import study_of_run
from engine.study.pump.study import PumpStudy
from engine.study.pump.uncertainty import PumpUncertainty
from engine.study.reader import parse_study
from reports.compare.make import comparison_of_runs, refuse_mixed
from reports.design.make import plan_of_run, sheet_of_run
from reports.run.make import data_of_run, report_of_run
from reports.run.pump.page import write_report
from tests.support.places import STUDIES
from tests.support.told_runs import ONE, run_with

SURE = [key for key in PumpUncertainty.model_fields if key not in ("throat_factor", "samples")]
LOOP = f"""\
title: A loop <b>of glycerol</b>
kind: pump
supply: {{fluid: glycerol-water, glycerol_share: 40 %, temperature: 22 degC, pressure: 0 bar gauge}}
duty: {{static_head: 1 m, head_loss: 0.5 m, flow: 5 l/min}}
machine: {{disc_thickness: 1 mm, shaft_diameter: 12 mm, bearing: 6000, port_diameter: 12 mm,
          motor_power: 60 W}}
ranges:
  disc_count: {{min: 5, max: 9}}
  disc_diameter: 80 mm
  gap: {{choices: [0.4 mm, 0.5 mm]}}
  eye_diameter: 30 mm
  throat_area: {{min: 20 mm2, max: 60 mm2, step: 10 mm2}}
  speed: {{min: 1200 rpm, max: 1800 rpm, step: 100 rpm}}
aims: {{electric_power: minimise, flow: maximise}}
search: {{designs: 120, generation: 40, patience: 2}}
uncertainty: {{samples: 16, throat_factor: 0.2, {", ".join(f"{key}: 0" for key in SURE)}}}
"""
TURBINE_WORDS = (
    "nozzle", "turbine", "exhaust", "generator", "overspeed trip", "lost load", "the jets",
    "runaway", "compressor", "back pressure",
)  # fmt: skip


def loop_text() -> str:
    """The study, its exact numbers with their units."""
    units = {"gap": "mm", "disc_thickness": "mm", "disc_diameter": "mm", "eye_diameter": "mm",
             "seal_clearance": "mm", "throat_area": "mm2", "supply_temperature": "K"}  # fmt: skip
    text = LOOP
    for key, unit in units.items():
        text = text.replace(f" {key}: 0,", f" {key}: 0 {unit},")
        text = text.replace(f" {key}: 0}}", f" {key}: 0 {unit}}}")
    return text


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    study = tmp_path_factory.mktemp("pump") / "loop.yaml"
    study.write_text(loop_text(), encoding="utf-8")
    return run_study(study, study.parent / "run").folder


@pytest.fixture(scope="module")
def page(folder: Path) -> str:
    return report_of_run(folder)


def said(page: str) -> str:
    """Words of a page, without its study, scripts, styles and marks of charts."""
    text = re.sub(r"<(script|style|pre)\b.*?</\1>", " ", page, flags=re.DOTALL)
    told = " ".join(re.findall(r'(?:title|aria-label)="([^"]*)"', text))
    return unescape(re.sub(r"<[^>]*>", " ", text) + told)


def test_a_run_of_a_pump_ends_with_a_front_that_has_its_late_columns(folder: Path) -> None:
    front = read_front(folder)
    assert read_state(folder)[1].state == "done"
    assert len(front["design"]) >= 3
    for key in ("shutoff_head", "head_droop", "shear_median", "flow_p10", "electric_power_p90"):
        assert np.isfinite(front[key]).all(), key
    assert (front["flow_p10"] <= front["flow_p90"]).all()
    study = study_of_run(folder)[0]
    assert isinstance(study, PumpStudy)
    picks = picks_of(study, front)
    assert picks is not None
    assert front["safety_margin_p10"][picks.rows["pick"]] > 1 or not picks.holds


def test_its_page_speaks_of_head_flow_and_suction_and_not_of_jets(page: str) -> None:
    text = said(page)
    for words in (
        "Head against flow",
        "NPSH",
        "shut-off",
        "Free passage",
        "bladed pump",
        "Flood it",
    ):
        assert words.lower() in text.lower(), words
    for word in TURBINE_WORDS:
        found = re.search(rf".{{0,60}}{word}.{{0,40}}", text, flags=re.IGNORECASE | re.DOTALL)
        assert found is None, word
    assert "<b>of glycerol" not in page


def test_the_page_of_a_blood_analogue_says_what_it_is_not_for(page: str, folder: Path) -> None:
    assert said(page).count(GENTLE_ONLY) >= 2  # above everything, and among the cautions
    water = data_of_run(folder)
    plain = parse_study((STUDIES / "cider-press.yaml").read_text(encoding="utf-8"), "cider.yaml")
    assert isinstance(plain, PumpStudy)
    study = water.study.model_copy(update={"supply": plain.supply})
    assert GENTLE_ONLY not in said(write_report(type(water)(**{**vars(water), "study": study})))


def test_its_curve_has_the_running_point_on_it(folder: Path) -> None:
    data = data_of_run(folder)
    curve = data.speed_curves["pick"]
    picks = picks_of(data.study, dict(data.front))
    assert picks is not None
    row = picks.rows["pick"]
    order = np.argsort(curve["flow"])
    head = np.interp(data.front["flow"][row], curve["flow"][order], curve["head"][order])
    assert head == pytest.approx(data.front["head"][row], rel=0.01)


def test_the_front_is_rechecked_and_the_page_says_how_far_it_holds(folder: Path, page: str) -> None:
    front = read_front(folder)
    off, back = front["head_difference"], front["backflow_share"]
    known = np.isfinite(off)
    assert known.any()
    assert (np.abs(off[known]) < 0.02).all()
    assert (back[known] == 0).all()
    assert (front["validity"][~known] != "").all()
    np.testing.assert_allclose(
        front["resolved_head"][known], (front["head"] * (1 + off))[known], rtol=1e-9
    )
    assert "Head then differs by" in said(page)


def test_sheet_and_plan_of_the_pick_are_made_from_the_run(folder: Path) -> None:
    number, sheet = sheet_of_run(folder, "pick")
    assert {"sheet.html", "collector-plate.dxf", "machine.step"} <= sheet.keys()
    again, plan = plan_of_run(folder, "pick")
    assert again == number
    assert set(plan) == {"plan.html", "head-flow.csv"}
    text = said(plan["plan.html"].split("</style>")[1])
    for words in ("Flood and pressure", "Head against flow: expected readings", "NPSH"):
        assert words in text, words
    for word in TURBINE_WORDS:
        assert word not in text.lower(), word
    # The log is one that `fit` reads, once it is filled in.
    path = folder.parent / "head-flow.csv"
    path.write_text(plan["head-flow.csv"], encoding="utf-8")
    with pytest.raises(StudyError, match="no reading"):
        read_log(path, study_of_run(folder)[0])


def test_runs_of_pumps_are_compared_and_a_turbine_is_not_one_of_them(
    folder: Path, tmp_path: Path
) -> None:
    other = tmp_path / "loop.yaml"
    text = loop_text().replace("static_head: 1 m", "static_head: 0.8 m")
    other.write_text(text.replace("designs: 120", "designs: 40"), encoding="utf-8")
    second = run_study(other, tmp_path / "second").folder
    page, sentences = comparison_of_runs([folder, second])
    assert any("The duties differ (static head)" in sentence for sentence in sentences)
    text = said(page)
    assert "NPSH margin" in text
    for word in ("nozzle", "turbine efficiency", "supply efficiency"):
        assert word not in text.lower(), word
    with pytest.raises(StudyError, match="runs of turbines and of pumps"):
        refuse_mixed([run_with(ONE), replace(run_with(ONE), study=study_of_run(folder)[0])])


def test_point_shows_duty_losses_and_cautions(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    values = ["disc_count=7", "gap=0.4mm", "throat_area=40mm2", "speed=1500rpm"]
    assert main(["point", str(folder / "study.yaml"), *values]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for words in ("NPSH margin", "From terminals to discharge", "wear ring", "blood analogue"):
        assert words in shown, words
    assert "nozzle" not in shown.lower()
    with pytest.raises(StudyError, match="--plane follows turbines only"):
        point_of(study_of_run(folder)[0], values, lambda _: None)


def test_a_duty_beyond_shut_off_head_is_told_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "high.yaml"
    study.write_text(loop_text().replace("static_head: 1 m", "static_head: 30 m"), "utf-8")
    values = ["disc_count=7", "gap=0.4mm", "throat_area=40mm2", "speed=1500rpm"]
    assert main(["point", str(study), *values]) == 2
    shown = " ".join(capsys.readouterr().out.split())
    assert "more head than the pump reaches at any flow; take more speed" in shown


def test_every_column_that_the_page_names_is_one_of_a_pump(folder: Path) -> None:
    front = read_front(folder)
    own = columns_of("pump").keys()
    strange = {
        key for key in front if key not in own and not key.endswith(("_p10", "_p50", "_p90"))
    }
    beside = {"design", "feasible", "violation", "front_kind", "rank", "chance_all"}
    assert strange <= beside, strange - beside
