"""Readings between two stages: what a log may hold of them, and what a fit makes of them."""

import numpy as np
import pytest

from engine.bench.coast_down import expected_fall
from engine.bench.fit import fit_log
from engine.bench.log import BenchLog
from engine.bench.log_columns import scale_of
from engine.bench.log_text import Head
from engine.bench.predicted import predict
from engine.errors import WrongValueError
from engine.study.reader import parse_study
from tests.support.benchlogs import BUILD, RPM, STUDY, TEXT

STAGED = parse_study(
    TEXT + "machine: {stage_count: 2, stage_2: {disc_count: 20, nozzle_width: 1.5 mm}}\n",
    "study.yaml",
)
NOISE = {"mass_flow": (0.01, 0.0), "rim_pressure": (0.0, 500.0), "shaft_torque": (0.01, 0.0)}
BETWEEN = {"nozzle_pressure_2": (0.0, 500.0), "exhaust_temperature_2": (0.0, 1.0)}
SPEED = np.repeat([6000.0, 9000.0, 12_000.0], 4) * RPM
PRESSURE = np.tile([3.0, 4.0, 5.0, 6.0], 3) * 1e5 + 101_325


def test_a_fit_reads_pressures_between_stages() -> None:
    conditions = {
        "speed": SPEED,
        "supply_pressure": PRESSURE,
        "supply_temperature": np.full(SPEED.shape, 293.15),
        "back_pressure": np.full(SPEED.shape, STAGED.supply.back_pressure),
    }
    truth = {"nozzle_discharge": 0.88}
    found = predict(STAGED, BUILD | truth, conditions)
    rng = np.random.default_rng(5)
    columns, within = {"speed": SPEED, "supply_pressure": PRESSURE}, {}
    for key, (share, least) in (NOISE | BETWEEN).items():
        within[key] = np.hypot(share * found[key], least)
        columns[key] = found[key] + within[key] * rng.standard_normal(SPEED.size)
    lines = np.arange(SPEED.size) + 20
    log = BenchLog("x.csv", "x", BUILD, columns, within, lines, (), ())
    fitted = fit_log(STAGED, log, candidates=("nozzle_discharge",))
    assert abs(fitted.fit.values["nozzle_discharge"] - 0.88) < fitted.reach["nozzle_discharge"]
    # The pressure between follows both nozzles: a wrong one of the second stage is seen in it.
    wider = predict(STAGED, BUILD | truth | {"nozzle_width_2": 1.7e-3}, conditions)
    off = np.abs(wider["nozzle_pressure_2"] - found["nozzle_pressure_2"])
    assert (off > 3 * BETWEEN["nozzle_pressure_2"][1]).all()


def test_a_study_of_one_stage_refuses_readings_of_a_second() -> None:
    head = Head("nozzle_pressure_2", "bar gauge", "", "")
    assert scale_of(head, STAGED).factor == pytest.approx(1e5)
    with pytest.raises(WrongValueError) as error:
        scale_of(head, STUDY)
    assert "has no stage 2" in str(vars(error.value))


def test_two_stages_coast_down_with_the_drag_and_inertia_of_both() -> None:
    one = expected_fall(STUDY, BUILD, top=12_000 * RPM, shares=(0.5,))
    two = expected_fall(STAGED, BUILD, top=12_000 * RPM, shares=(0.5,))
    # 36 discs in place of 16, twice the end faces, the same bearings: slower, but not by 36/16.
    assert 1.0 < two[0] / one[0] < 36 / 16
