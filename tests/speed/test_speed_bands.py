"""How long bands of a front take, and how near 256 samples come to very many."""

import time
from pathlib import Path

import numpy as np
import pytest

from engine.bands.results import with_bands
from engine.bands.sources import band_sources
from engine.run.folder import read_front
from engine.run.launch import run_study
from engine.study.reader import read_study
from tests.support.places import STUDIES

STUDY = STUDIES / "lane-workshop.yaml"
WATCHED = ("electric_power_p10", "electric_power_p90", "safety_margin_p10", "mass_flow_p90")


@pytest.mark.speed
def test_bands_of_a_front(tmp_path: Path) -> None:
    text = STUDY.read_text(encoding="utf-8").replace("designs: 30000", "designs: 6000")
    (tmp_path / "lane.yaml").write_text(text, encoding="utf-8")
    study = read_study(tmp_path / "lane.yaml")
    front = read_front(run_study(tmp_path / "lane.yaml", tmp_path / "run").folder)
    rows = np.linspace(0, len(front["design"]) - 1, 50).astype(int)
    fifty = {key: values[rows] for key, values in front.items()}
    began = time.process_time(), time.perf_counter()
    with_bands(study, fifty)
    spent = time.process_time() - began[0], time.perf_counter() - began[1]
    print(f"\n256 samples of 50 designs: {spent[0]:.2f} s, {spent[1]:.2f} s by the clock")  # noqa: T201
    few = {key: values[::5] for key, values in fifty.items()}
    very_many = with_bands(study, few, samples=16_384)
    for seed in (1, 2, 3):
        searched = study.search.model_copy(update={"seed": seed})
        found = with_bands(study.model_copy(update={"search": searched}), few)
        off = {key: np.abs(found[key] / very_many[key] - 1).max() for key in WATCHED}
        told = {key: f"{v:.2%}" for key, v in off.items()}
        print(f"seed {seed}, farthest from 16384:", told)  # noqa: T201
    began = time.process_time(), time.perf_counter()
    band_sources(study, fifty, 0)
    spent = time.process_time() - began[0], time.perf_counter() - began[1]
    print(f"Sobol indices of a design: {spent[0]:.2f} s, {spent[1]:.2f} s by the clock")  # noqa: T201
