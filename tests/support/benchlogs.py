"""A study, a build and the head of its log, for tests of what the bench reads."""

from pathlib import Path

import numpy as np
from scipy.stats import binom

from engine.bench.log import BenchLog, read_log
from engine.study.reader import parse_study

RPM = 2 * np.pi / 60
BUILD = {
    "disc_count": 16,
    "disc_diameter": 0.120,
    "gap": 0.3e-3,
    "inlet_angle": np.radians(12),
    "exhaust_bore": 0.040,
}
TEXT = """title: Bench
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
STUDY = parse_study(TEXT, "study.yaml")
TRIALS = 200
FEWEST = int(binom.ppf(0.005, TRIALS, 0.95))
"""Least number of 200 intervals of 95 % that hold the true value, but for one test in 200."""


def read(text: str, folder: Path) -> BenchLog:
    path = folder / "bench.csv"
    path.write_text(text, encoding="utf-8")
    return read_log(path, STUDY)
