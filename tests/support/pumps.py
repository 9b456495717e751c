"""A small pump for a loop, as a run could have found it."""

from typing import Any

import numpy as np

from engine.bench.readings import NO_READINGS
from engine.columns import Results
from engine.run.point import point_of
from engine.study.pump.study import PumpStudy
from engine.study.reader import parse_study
from reports.design.facts import BuildData

STUDY = """\
title: A loop <b>of water</b>
kind: pump
supply: {fluid: water, temperature: 20 degC, pressure: 0 bar gauge}
duty: {static_head: 1.5 m, head_loss: 1 m, flow: 8 l/min}
machine: {disc_thickness: 1 mm, shaft_diameter: 12 mm, bearing: 6000, port_diameter: 12 mm,
          motor_power: 120 W, seal_clearance: 0.1 mm, material: stainless-304}
ranges:
  disc_count: {min: 5, max: 9}
  disc_diameter: 80 mm
  gap: {choices: [0.4 mm, 0.5 mm]}
  eye_diameter: 30 mm
  throat_area: {min: 20 mm2, max: 60 mm2}
  speed: {min: 1200 rpm, max: 2900 rpm, step: 100 rpm}
aims: {electric_power: minimise, flow: maximise}
"""
VALUES = ("disc_count=7", "gap=0.4mm", "throat_area=40.7mm2", "speed=2000rpm")


def pump_study(**machine: Any) -> PumpStudy:
    """The study, with other machine numbers in SI."""
    study = parse_study(STUDY, "loop.yaml")
    assert isinstance(study, PumpStudy)
    return study.model_copy(update={"machine": study.machine.model_copy(update=machine)})


def pump_row(study: PumpStudy) -> Results:
    """One build of it, worked through by the model."""
    found = dict(point_of(study, list(VALUES)).results)
    return {**found, "design": np.array([31.0]), "rank": np.array([1.0])}


def pump_data(**machine: Any) -> BuildData:
    """What its build sheet is made from."""
    study = pump_study(**machine)
    return BuildData(
        study=study,
        front=pump_row(study),
        row=0,
        letter="A",
        roles=("most",),
        readings=NO_READINGS,
        locked=NO_READINGS,
        provenance={"Study hash": "5d2c"},
    )
