"""Synthetic bench logs: written as a logger would, with known coefficients and noise."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.benchfit import predict
from engine.study import Study

RPM = 2 * np.pi / 60
BUILD = {
    "disc_count": 16,
    "disc_diameter": 0.120,
    "gap": 0.3e-3,
    "inlet_angle": np.radians(12),
    "exhaust_bore": 0.040,
}
STUDY = """title: Bench
supply: {fluid: air, pressure: 5 bar gauge, temperature: 20 degC}
ranges:
  disc_count: {min: 8, max: 24}
  disc_diameter: {min: 100 mm, max: 150 mm}
  gap: {min: 0.2 mm, max: 0.5 mm}
  inlet_angle: {min: 8 deg, max: 20 deg}
  exhaust_bore: {min: 30 mm, max: 50 mm}
  speed: {min: 5000 rpm, max: 20000 rpm}
"""
HEAD = """---
title: First loaded run
build:
  disc_count: 16
  disc_diameter: 120 mm
  gap: 0.3 mm
  inlet_angle: 12 deg
  exhaust_bore: 40 mm
columns:
  Drehzahl: {quantity: speed, unit: rpm, uncertainty: 0.1 %}
  M: {quantity: shaft_torque, unit: mN m, uncertainty: 1 %}
  U: {quantity: voltage, unit: V, uncertainty: 0.7 %}
  I: {quantity: current, unit: A, uncertainty: 0.7 %}
  Q: {quantity: mass_flow, unit: l/min, uncertainty: 1 %}
  p1: {quantity: rim_pressure, unit: bar gauge, uncertainty: 0.01 bar}
  who: ignore
---
"""
NAMES = ("Drehzahl", "M", "U", "I", "Q", "p1", "who")
SPEEDS = np.linspace(6000, 18000, 9) * RPM
FREE_AIR = 1e5 / (287.05 * 293.15)


def readings(study: Study, speed: NDArray[np.float64], **truth: float) -> dict[str, Any]:
    """What the model reads at these speeds with these coefficients, SI."""
    rows = speed.shape
    supply = study.supply
    conditions = {
        "speed": speed,
        "supply_pressure": np.full(rows, supply.pressure),
        "supply_temperature": np.full(rows, supply.temperature),
        "back_pressure": np.full(rows, supply.back_pressure),
    }
    return predict(study, {**BUILD, **truth}, conditions)


def rows_of(
    speed: NDArray[np.float64], found: Mapping[str, Any], rng: np.random.Generator | None = None
) -> list[list[str]]:
    """Cells as the logger writes them, with noise of the stated size."""

    def noisy(values: NDArray[np.float64], share: float) -> NDArray[np.float64]:
        spread = 0.0 if rng is None else share * rng.standard_normal(values.shape)
        return np.asarray(values * (1 + spread))

    volts = noisy(0.02 * speed, 0.007)
    amps = noisy(found["electric_power"] / (0.02 * speed), 0.007)
    pressure = found["rim_pressure"] + (0.0 if rng is None else 1000 * rng.standard_normal())
    columns = [
        noisy(speed, 0.001) / RPM,
        noisy(found["shaft_torque"], 0.01) * 1e3,
        volts,
        amps,
        noisy(found["mass_flow"], 0.01) / FREE_AIR * 60e3,
        (pressure - 101325) / 1e5,
    ]
    table = zip(*(values.tolist() for values in columns), strict=True)
    return [[*(f"{value:.6g}" for value in row), "A. Muster"] for row in table]


def text_of(rows: Sequence[Sequence[str]], *, head: str = HEAD, sign: str = ",") -> str:
    """Whole log."""
    return head + "\n".join(sign.join(row) for row in (NAMES, *rows)) + "\n"
