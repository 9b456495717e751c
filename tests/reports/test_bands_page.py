"""Bands, their sources and the appliances on the page, by the numbers of a small real run."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from engine.bands.sources import Indices
from engine.run.folder import read_front
from engine.run.launch import run_study
from engine.run.pick import carrying_rows
from engine.run.read import study_of_run
from engine.study.loads import Loads
from engine.study.reader import starter_text
from engine.study.study import Study
from reports.kit.quantities import THIN, chance, number
from reports.run.band_wording import holds_text, source_text, spare_text
from reports.run.bands import Carries, Source, bands_of, carries_of, sources_of
from reports.run.facts import RunData, facts_of, shown
from reports.run.make import report_of_run
from reports.run.opening import runs_text

LOADS = """
loads:
  appliances:
    led-lamp: 2
    <b>own</b>: {running: 30 W, starting: 2, needed: no}
  storage: 5 Wh
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("bands")
    text = starter_text("bands").replace("designs: 20000", "designs: 800")
    (place / "bands.yaml").write_text(text + LOADS, encoding="utf-8")
    return run_study(place / "bands.yaml", place / "run").folder


@pytest.fixture(scope="module")
def page(folder: Path) -> str:
    return report_of_run(folder)


def test_the_page_shows_the_band_of_power_and_the_chance_of_the_limits(
    folder: Path, page: str
) -> None:
    study, _ = study_of_run(folder)
    front = read_front(folder)
    row = shown(study, front)["pick"]
    low, high = (number(float(front[f"electric_power_{end}"][row])) for end in ("p10", "p90"))
    assert f"<td>{low}&nbsp;to&nbsp;{high}</td>" in page
    assert f"<td>{chance(float(front['chance_all'][row]))}</td>" in page


def test_the_pick_runs_what_must_run_and_the_page_says_so(folder: Path, page: str) -> None:
    study, _ = study_of_run(folder)
    front = read_front(folder)
    row = shown(study, front)["pick"]
    assert front["electric_power_p10"][row] >= 18.0  # two lamps of 9 W
    assert "This build runs 2 × LED lamp" in page
    assert f"What must run takes 18{THIN}W." in page


def test_the_lead_says_when_the_pick_does_not_run_what_must(run_data: RunData) -> None:
    asked = Loads.model_validate({"appliances": {"oven": {"running": "5000 W"}}})
    study = run_data.study.model_copy(update={"loads": asked})
    told = runs_text(facts_of(replace(run_data, study=study))).replace(THIN, " ")
    assert told.startswith("It does not run all that must run, which takes 5.0 kW:")


def test_names_of_appliances_are_text_on_the_page(page: str) -> None:
    assert "<b>own</b>" not in page
    assert "&lt;b&gt;own&lt;/b&gt;" in page


def test_each_build_has_a_chart_of_sources(page: str) -> None:
    charts = re.findall(r"share of each input in the spread", page)
    assert charts
    assert page.count("Band of electric power: most comes from") + page.count(
        "Band of electric power: the largest parts come from"
    ) == len(charts)


def test_a_run_without_bands_has_none_on_its_page(folder: Path) -> None:
    study, _ = study_of_run(folder)
    assert bands_of(study, {"electric_power": 10.0, "safety_margin": 2.0}) == ()
    assert carrying_rows(study, {"safety_margin": np.ones(1)}, np.array([0])).size == 0
    plain = study.model_copy(update={"loads": None})
    assert carries_of(plain, {"electric_power": 10.0}) is None


def test_bands_are_those_of_the_values(shop_air: Study) -> None:
    parts = {"p10": 8.0, "p50": 9.0, "p90": 11.0}
    values = {"electric_power": 10.0} | {f"electric_power_{k}": v for k, v in parts.items()}
    (band,) = bands_of(shop_air, values)
    assert (band.value, band.p10, band.p50, band.p90, band.chance) == (10.0, 8.0, 9.0, 11.0, None)


def test_sources_are_named_strongest_first_with_what_takes_several() -> None:
    first, total = np.array([0.1, 0.5, -0.01]), np.array([0.2, 0.7, 1.2])
    names = ("gap", "rim_mixing", "nozzle_width")
    found = sources_of({"electric_power": Indices(names, first, total)})
    assert [source.key for source in found["electric_power"]] == [
        "nozzle_width",
        "rim_mixing",
        "gap",
    ]
    assert found["electric_power"][0] == Source("nozzle_width", 0.0, 1.0)
    text = source_text("electric_power", found["electric_power"])
    assert text.startswith("Band of electric power: most comes from nozzle width (100")
    assert "from several acting together" in text
    nothing = (Source("gap", 0.0, 0.0),)
    assert source_text("safety_margin", nothing) == "No uncertain input changes safety margin."


def test_spare_power_and_holding_time_are_in_plain_words() -> None:
    carries = Carries(power=60.0, sets=(), spare=-8.0, lamp=0.1, light=0.3, holds=90.0)
    assert spare_text(carries) == f"8{THIN}W too little"
    assert holds_text(carries) == f"90{THIN}s"
