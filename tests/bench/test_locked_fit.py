"""Fits to readings with the rotor locked, without and with readings of a turning rotor."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.bench.coast_down import fit_coast_down
from engine.bench.fit import BenchFit, fit_log
from engine.bench.log import BenchLog
from engine.bench.predicted import predict
from engine.errors import StudyError
from reports.fit.page import write_fit_page
from tests.support.benchlogs import BUILD, HEAD, RPM, STUDY, read

TRUTH = {"nozzle_discharge": 0.90, "rim_mixing": 0.88}
COLUMNS = """columns:
  n: {quantity: speed, unit: rpm, uncertainty: 5 rpm}
  p0: {quantity: supply_pressure, unit: bar gauge, uncertainty: 5 mbar}
  F: {quantity: shaft_torque, unit: N, uncertainty: 1 %, lever: 100 mm}
  P: {quantity: electric_power, unit: W, uncertainty: 1 %}
  Q: {quantity: mass_flow, unit: g/s, uncertainty: 1 %}
---
n,p0,F,P,Q
"""
SPEEDS = np.array([0, 0, 0, 0, 0, 8000, 12000, 16000]) * RPM
PRESSURES = np.array([2, 2.75, 3.5, 4.25, 5, 5, 5, 5]) * 1e5 + 101325


def exact(speed: NDArray[np.float64], pressure: NDArray[np.float64]) -> Mapping[str, NDArray[Any]]:
    back = np.full(speed.shape, STUDY.supply.back_pressure)
    states = {"supply_temperature": np.full(speed.shape, 293.15), "back_pressure": back}
    return predict(STUDY, BUILD | TRUTH, {"speed": speed, "supply_pressure": pressure, **states})


def log_of(folder: Path, n_rows: int, seed: int) -> BenchLog:
    """The first rows of the log, with the noise that the head states; no power at rest."""
    rng = np.random.default_rng(seed)
    speed, pressure = SPEEDS[:n_rows], PRESSURES[:n_rows]
    found = exact(speed, pressure)
    force, power, flow = (
        found[key] * factor * (1 + 0.01 * rng.standard_normal(n_rows))
        for key, factor in (("shaft_torque", 10), ("electric_power", 1), ("mass_flow", 1e3))
    )
    dial = (pressure - 101325) / 1e5 + 0.005 * rng.standard_normal(n_rows)
    rows = [
        f"{n / RPM:.6g},{p:.6g},{f:.6g},{f'{w:.6g}' if n else ''},{q:.6g}"
        for n, p, f, w, q in zip(speed, dial, force, power, flow, strict=True)
    ]
    return read(HEAD.partition("columns:")[0] + COLUMNS + "\n".join(rows) + "\n", folder)


@pytest.fixture(scope="module")
def locked(tmp_path_factory: pytest.TempPathFactory) -> BenchFit:
    return fit_log(STUDY, log_of(tmp_path_factory.mktemp("locked"), 5, seed=1))


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> BenchFit:
    return fit_log(STUDY, log_of(tmp_path_factory.mktemp("mixed"), 8, seed=2))


def test_a_locked_rotor_determines_nozzle_discharge_and_rim_mixing(locked: BenchFit) -> None:
    assert set(locked.fit.values) >= {"nozzle_discharge", "rim_mixing"}
    for key, truth in TRUTH.items():
        assert abs(locked.fit.values[key] - truth) < 1.3 * locked.reach[key], key
    assert set(locked.measured) == {"shaft_torque", "mass_flow"}
    why = {each.key: each.reason for each in locked.held}
    assert why["bearing_factor"] == "no reading of this log depends on it"
    assert why["windage_factor"] == "it changes the readings by less than their uncertainty"


def test_rows_with_locked_and_turning_rotor_are_fitted_together(mixed: BenchFit) -> None:
    for key, truth in TRUTH.items():
        assert abs(mixed.fit.values[key] - truth) < 1.3 * mixed.reach[key], key
    power = mixed.measured["electric_power"]
    assert np.isnan(power[:5]).all()
    assert np.isfinite(power[5:]).all()
    # A missing reading has no effect, and no weight that counts.
    assert mixed.weights["electric_power"].shape == power.shape
    assert "generator_efficiency" in mixed.fit.values


def test_friction_at_rest_widens_only_the_torque_of_a_locked_rotor(mixed: BenchFit) -> None:
    found = exact(SPEEDS, PRESSURES)
    stated = 0.01 * mixed.measured["shaft_torque"]
    beyond = np.sqrt(mixed.uncertainty["shaft_torque"] ** 2 - stated**2)
    flat = found["breakaway_torque"] / np.sqrt(3)
    assert (flat[:5] > 1e-4).all()
    assert (flat[5:] == 0).all()
    assert (beyond[:5] >= flat[:5]).all()
    # The supply's gauge adds a little, the speed nothing: at zero its 5 rpm do not count.
    assert (beyond[:5] < 1.5 * flat[:5]).all()


def test_the_pages_of_both_fits_show_their_readings(locked: BenchFit, mixed: BenchFit) -> None:
    alone, both = (write_fit_page(STUDY, found, "b.fit.yaml") for found in (locked, mixed))
    assert "Shaft torque against supply pressure" in alone
    assert "Shaft torque against speed" in both
    assert "read with the rotor locked: 5." in both
    assert "NaN" not in both.partition("<script")[0]


def test_a_log_with_speed_zero_throughout_is_not_a_coast_down(tmp_path: Path) -> None:
    head = HEAD.partition("columns:")[0] + "columns:\n  t: {quantity: time, unit: s}\n"
    head += "  n: {quantity: speed, unit: rpm}\n---\nt,n\n"
    with pytest.raises(StudyError, match="0 usable rows; 6 left out"):
        fit_coast_down(STUDY, read(head + "\n".join(f"{t},0" for t in range(6)), tmp_path))
