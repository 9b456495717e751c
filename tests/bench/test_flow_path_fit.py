"""Logs that tell hose, spokes and nozzles apart: a second dial, and a probe at the outlet."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.bands.inputs import inputs
from engine.bench.fit import COEFFICIENTS, BenchFit, fit_log
from engine.bench.gate import refuse_wrong_units
from engine.bench.log import BenchLog, read_log
from engine.bench.predicted import Compared, predict
from engine.errors import StudyError
from engine.study.plausible import PLAUSIBLE
from engine.study.reader import parse_study
from reports.kit.quantities import THIN
from tests.support.benchlogs import BUILD, RPM, STUDY, TEXT

HOSED = parse_study(
    TEXT.replace("20 degC}", "20 degC, dial: before-hose}").replace(
        "ranges:", "machine: {hose_length: 3 m, hose_bore: 9 mm}\nranges:"
    ),
    "study.yaml",
)
TRUTH = {"web_factor": 0.75, "coupling_loss": 7.0, "nozzle_discharge": 0.90}
DIALS = {"shaft_torque": (0.01, 0.0), "mass_flow": (0.01, 0.0), "rim_pressure": (0.0, 500.0)}
SECOND_DIAL = {"nozzle_pressure": (0.0, 1000.0)}
OUTLET = {"outlet_angle": (0.0, np.radians(3.0)), "outlet_rise": (0.0, 100.0)}
"""Noise of each reading: share of it, and least."""
SPEED = np.repeat([6000.0, 10_500.0, 15_000.0], 4) * RPM
PRESSURE = np.tile([3.0, 4.0, 5.0, 6.0], 3) * 1e5 + 101_325
Noise = Mapping[str, tuple[float, float]]


@pytest.fixture(scope="module")
def true_readings() -> Mapping[str, NDArray[np.float64]]:
    rows = SPEED.shape
    conditions = {
        "speed": SPEED,
        "supply_pressure": PRESSURE,
        "supply_temperature": np.full(rows, 293.15),
        "back_pressure": np.full(rows, HOSED.supply.back_pressure),
    }
    return predict(HOSED, BUILD | TRUTH, conditions)


def log_of(found: Mapping[str, NDArray[np.float64]], noise: Noise) -> BenchLog:
    rng = np.random.default_rng(3)
    columns, uncertainty = {"speed": SPEED, "supply_pressure": PRESSURE}, {}
    for key, (share, least) in noise.items():
        uncertainty[key] = np.hypot(share * found[key], least)
        columns[key] = found[key] + uncertainty[key] * rng.standard_normal(SPEED.size)
    lines = np.arange(SPEED.size) + 20
    return BenchLog("x.csv", "x", BUILD, columns, uncertainty, lines, (), ())


def reason(found: BenchFit, key: str) -> str:
    return next(held.reason for held in found.held if held.key == key)


def test_a_second_dial_and_a_probe_give_hose_nozzles_and_spokes_back(
    true_readings: Mapping[str, NDArray[np.float64]],
) -> None:
    found = fit_log(HOSED, log_of(true_readings, DIALS | SECOND_DIAL | OUTLET))
    # Of 24 such logs the intervals of 95 % held each truth 23 times or more.
    for key, value in TRUTH.items():
        assert abs(found.fit.values[key] - value) < found.reach[key], key
        # Each is told: much better than it was known before.
        assert found.reach[key] < COEFFICIENTS[key].width / 3, key
    # Friction and couplings take the same pressure at each flow; that needs a log without the hose.
    assert "100 % like coupling loss" in reason(found, "hose_factor").replace(THIN, " ")


def test_without_a_probe_at_the_outlet_spokes_look_like_mixing(
    true_readings: Mapping[str, NDArray[np.float64]],
) -> None:
    found = fit_log(HOSED, log_of(true_readings, DIALS | SECOND_DIAL))
    assert "web_factor" not in found.fit.values
    assert "is like that of the others" in reason(found, "web_factor")
    assert "like rim mixing" in reason(found, "web_factor")
    assert "thread at the outlet" in COEFFICIENTS["web_factor"].test


def test_without_a_second_dial_couplings_look_like_nozzles(
    true_readings: Mapping[str, NDArray[np.float64]],
) -> None:
    candidates = ("hose_factor", "coupling_loss", "nozzle_discharge")
    found = fit_log(HOSED, log_of(true_readings, DIALS), candidates=candidates)
    assert len(found.fit.values) == 1
    assert "is like that of the others" in found.held[0].reason


def test_a_study_whose_dial_stands_at_the_nozzles_has_no_hose_to_fit(
    true_readings: Mapping[str, NDArray[np.float64]],
) -> None:
    log = log_of(true_readings, DIALS)
    found = fit_log(STUDY, log, candidates=("hose_factor", "coupling_loss", "nozzle_discharge"))
    assert [*found.fit.values] == ["nozzle_discharge"]
    assert found.held == ()


def test_each_coefficient_of_the_flow_path_is_uncertain_and_can_be_fitted() -> None:
    hose = {"hose_factor", "coupling_loss"}
    path = {"nozzle_discharge", "nozzle_velocity", "exhaust_loss", "web_factor", "core_factor"}
    assert path | hose <= set(inputs(HOSED))
    assert set(inputs(HOSED)) - set(inputs(STUDY)) == hose
    for key in path | hose:
        unknown, row = COEFFICIENTS[key], PLAUSIBLE["machine"][key]
        assert unknown.lower < unknown.upper
        for end in (unknown.lower, unknown.upper):
            row.refuse(end)


# What a log refuses.

HEAD = """---
build:
  {disc_count: 16, disc_diameter: 120 mm, gap: 0.3 mm, inlet_angle: 12 deg, exhaust_bore: 40 mm}
columns:
  n: {quantity: speed, unit: rpm}
  p: {quantity: supply_pressure, unit: bar gauge}
  q: {quantity: nozzle_pressure, unit: bar gauge}
  a: {quantity: outlet_angle, unit: deg, uncertainty: 4 deg}
  o: {quantity: outlet_rise, unit: mbar, uncertainty: 0.5 mbar}
---
n,p,q,a,o
"""
ROWS = ("6000,5,4.6,60,4", "8000,5,4.6,65,5", "9000,5,4.6,65,5", "11000,5,4.6,70,6")


def text_of(rows: Sequence[str]) -> str:
    return HEAD + "\n".join(rows) + "\n"


def read(text: str, folder: Path) -> BenchLog:
    path = folder / "flow.csv"
    path.write_text(text, encoding="utf-8")
    return read_log(path, HOSED)


def test_readings_at_the_outlet_and_before_the_nozzles_are_read_in_their_units(
    tmp_path: Path,
) -> None:
    log = read(text_of(ROWS), tmp_path)
    np.testing.assert_allclose(log.columns["outlet_angle"], np.radians([60, 65, 65, 70]))
    np.testing.assert_allclose(log.columns["outlet_rise"][0], 400)
    np.testing.assert_allclose(log.columns["nozzle_pressure"], 101_325 + 4.6e5)  # and stays so
    np.testing.assert_allclose(log.uncertainty["outlet_angle"], np.radians(4))


def test_a_second_dial_without_a_hose_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "flow.csv"
    path.write_text(text_of(ROWS), encoding="utf-8")
    with pytest.raises(StudyError, match=r"flow.csv:7: columns.q: the dial of the study stands at"):
        read_log(path, STUDY)


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ("9500,5,5.6,65,5", "nozzle_pressure: above supply_pressure; is one gauge"),
        ("9500,5,4.6,65,-4", "outlet_rise: below 0, so the probe does not point"),
    ],
)
def test_a_row_against_the_flow_is_left_out_and_a_log_of_them_refused(
    row: str, message: str, tmp_path: Path
) -> None:
    log = read(text_of((*ROWS, row)), tmp_path)
    assert [each.line for each in log.excluded] == [16]
    assert message in log.excluded[0].reason
    with pytest.raises(
        StudyError, match=r"flow.csv:12: 0 usable rows; 4 left out.*" + message[:20]
    ):
        read(text_of((row,) * 4), tmp_path)


def test_an_angle_from_the_end_face_or_against_the_rotation_is_refused(
    true_readings: Mapping[str, NDArray[np.float64]],
) -> None:
    log = log_of(true_readings, OUTLET | DIALS)
    for seen, remedy in ((np.pi / 2, "90 degrees less"), (0.0, "with the other sign")):
        angle = seen - log.columns["outlet_angle"]
        turned = replace(log, columns={**log.columns, "outlet_angle": angle})
        with pytest.raises(StudyError, match=rf"x.csv:20: outlet_angle: .*{remedy}"):
            refuse_wrong_units(Compared.of(HOSED, turned))
    refuse_wrong_units(Compared.of(HOSED, log))
