"""Tests of a generator alone: invented logs give its data sheet back within their intervals."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.bench.generator_test import GeneratorTest, fit_generator_test
from engine.bench.log import BenchLog, read_log
from engine.errors import StudyError
from engine.study.reader import parse_study, read_study
from reports.fit.make import fit_of_logs
from reports.fit.page import write_fit_page
from tests.support.benchlogs import HEAD, RPM, TEXT

SHEET = """machine:
  generator_kv: 520 rpm/V
  winding_resistance: 0.5 ohm
  winding_inductance: 120 uH
  pole_pairs: 2
  rectifier_drop: 1.5 V
  no_load_loss: 20 W
  generator_speed: 30000 rpm
"""
STUDY = parse_study(TEXT + SHEET, "study.yaml")
PLAIN = parse_study(TEXT, "study.yaml")
GENERATOR = (
    HEAD[: HEAD.index("columns:")].replace("title: First loaded run", "test: generator")
    + """columns:
  n: {quantity: speed, unit: rpm, uncertainty: 0.2 %}
  U: {quantity: voltage, unit: V, uncertainty: 0.5 %}
  I: {quantity: current, unit: A, uncertainty: 0.02 A}
---
n,U,I
"""
)
KV, HOT, DROP, LOSS = 500 * RPM, 0.44 * (1 + 3.93e-3 * 60), 1.6, 28.0
OVERLAP = 3 / np.pi * 2 * 120e-6 / 2
"""Of the equations in any textbook of machines, written here anew: V = w/k - drop - (R + c w) I."""
TRIALS, FEWEST = 100, 90


def rows(*, motor: bool = True) -> NDArray[np.float64]:
    """Speed, volts and amps without noise: three speeds with four loads, and run as a motor."""
    found = []
    for rpm in (10_000.0, 18_000.0, 26_000.0):
        speed = rpm * RPM
        lost_per_amp = HOT + OVERLAP * speed
        found += [
            [speed, speed / KV - DROP - lost_per_amp * amps, amps] for amps in (0.0, 2.0, 4.5, 8.0)
        ]
        for part in (0.8, 1.0, 1.15) if motor else ():
            turns = part * speed
            lost = LOSS * (turns / (30_000 * RPM)) ** 1.3
            # Back voltage times current is what the machine loses: w/k I + c w I^2 = loss.
            linear, square = turns / KV, OVERLAP * turns
            amps = (-linear + np.sqrt(linear**2 + 4 * square * lost)) / (2 * square)
            found.append([turns, turns / KV + (HOT + OVERLAP * turns) * amps, -amps])
    return np.array(found)


def log_of(table: NDArray[np.float64], folder: Path) -> BenchLog:
    path = folder / "generator.csv"
    lines = [f"{n / RPM:.8g},{u:.8g},{i:.8g}" for n, u, i in table]
    path.write_text(GENERATOR + "\n".join(lines) + "\n", encoding="utf-8")
    return read_log(path, STUDY)


def noisy(log: BenchLog, rng: np.random.Generator) -> None:
    for key, values in log.columns.items():
        values[:] = values + rng.normal(0.0, log.uncertainty[key])


def test_a_log_without_noise_gives_the_data_sheet_back(tmp_path: Path) -> None:
    found = fit_generator_test(STUDY, log_of(rows(), tmp_path))
    values = found.fit.values
    assert_allclose(values["generator_kv"], KV, rtol=1e-3)
    assert_allclose(values["winding_resistance"], 0.44, rtol=0.01)
    assert_allclose(values["no_load_loss"], LOSS, rtol=0.01)
    assert_allclose(found.voltage, found.log.columns["voltage"], rtol=2e-3)
    # A study with a rating alone needs no data sheet to begin with, but for the overlap.
    bare = fit_generator_test(PLAIN, log_of(rows(), tmp_path))
    assert_allclose(bare.fit.values["generator_kv"], KV, rtol=0.03)
    assert np.isnan(bare.start["generator_kv"])


def test_intervals_hold_the_truth_in_90_of_100_logs(tmp_path: Path) -> None:
    rng, true = np.random.default_rng(3), rows()
    held = dict.fromkeys(("generator_kv", "winding_resistance", "no_load_loss"), 0)
    truth = {"generator_kv": KV, "winding_resistance": 0.44, "no_load_loss": LOSS}
    log = log_of(true, tmp_path)
    base = {key: values.copy() for key, values in log.columns.items()}
    for _ in range(TRIALS):
        for key, values in base.items():
            log.columns[key][:] = values
        noisy(log, rng)
        found = fit_generator_test(STUDY, log)
        for key in held:
            held[key] += abs(found.fit.values[key] - truth[key]) < found.reach[key]
            # An interval that says nothing would hold everything.
            assert found.reach[key] < {"no_load_loss": 0.15}.get(key, 0.1) * truth[key], key
    assert min(held.values()) >= FEWEST, held


def test_without_motor_or_torque_the_no_load_loss_is_not_told(tmp_path: Path) -> None:
    found = fit_generator_test(STUDY, log_of(rows(motor=False), tmp_path))
    assert "no_load_loss" not in found.fit.values
    assert [each.key for each in found.held] == ["no_load_loss"]
    assert "run the generator as a motor" in found.held[0].test
    assert_allclose(found.fit.values["generator_kv"], KV, rtol=0.01)


def test_torque_of_the_shaft_tells_the_loss_too(tmp_path: Path) -> None:
    table = rows(motor=False)
    speed, _, amps = table.T
    turned = speed / KV * amps - OVERLAP * speed * amps**2
    torque = (turned + LOSS * (speed / (30_000 * RPM)) ** 1.3) / speed
    text = GENERATOR.replace(
        "---\nn,U,I", "  M: {quantity: shaft_torque, unit: mN m, uncertainty: 0.5 %}\n---\nn,U,I,M"
    )
    path = tmp_path / "generator.csv"
    lines = [
        f"{n / RPM:.8g},{u:.8g},{i:.8g},{1e3 * m:.8g}"
        for (n, u, i), m in zip(table, torque, strict=True)
    ]
    path.write_text(text + "\n".join(lines) + "\n", encoding="utf-8")
    found = fit_generator_test(STUDY, read_log(path, STUDY))
    assert abs(found.fit.values["no_load_loss"] - LOSS) < max(found.reach["no_load_loss"], 0.3)


def test_one_speed_and_load_tell_nothing(tmp_path: Path) -> None:
    table = np.repeat(rows()[1:2], 5, axis=0)
    with pytest.raises(StudyError, match="do not tell the generator's constant"):
        fit_generator_test(PLAIN, log_of(table, tmp_path))


def test_a_log_without_volts_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "generator.csv"
    text = GENERATOR.replace("U: {quantity: voltage, unit: V, uncertainty: 0.5 %}", "U: ignore")
    text = text.replace("I: {quantity: current, unit: A, uncertainty: 0.02 A}", "I: ignore")
    path.write_text(text + "9000,1,1\n" * 5, encoding="utf-8")
    with pytest.raises(StudyError, match="no volts and amps"):
        read_log(path, STUDY)


def test_a_fit_goes_on_a_page_and_into_a_study(tmp_path: Path) -> None:
    study, log = tmp_path / "study.yaml", tmp_path / "generator.csv"
    study.write_text(TEXT + SHEET, encoding="utf-8")
    log_of(rows(), tmp_path)
    said: list[str] = []
    files = fit_of_logs(study, [log], said.append)
    assert any(line.startswith("generator_kv: 50") and "(95 %)" in line for line in said), said
    (tmp_path / "generator.fit.yaml").write_text(files.text, encoding="utf-8")
    study.write_text(TEXT + SHEET + "  fit: generator.fit.yaml\n", encoding="utf-8")
    again = read_study(study)
    assert_allclose(float(again.fixed()["winding_resistance"]), 0.44, rtol=0.02)
    assert again.fit is not None
    assert set(again.fit.values) >= {"generator_kv", "winding_resistance", "no_load_loss"}


def test_the_page_of_a_fit_has_both_charts(tmp_path: Path) -> None:
    found: GeneratorTest = fit_generator_test(STUDY, log_of(rows(), tmp_path))
    page = write_fit_page(STUDY, found, "generator.fit.yaml")
    assert page.count("reading minus fit against") >= 2
    assert "Generator constant" in page
