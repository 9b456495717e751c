"""Head against flow of one pump, at its own speed."""

import numpy as np

from engine.columns import Builds, Results
from engine.model.pump.evaluation import DUTY_FLOW, evaluate_pump
from engine.physics.arrays import Lanes
from engine.study.pump.study import PumpStudy

POINTS = 25
REACH = 2.2
"""Largest flow of a curve, over that of the duty, if it has head so far."""


def head_curve(study: PumpStudy, builds: Builds, row: int) -> Results:
    """One build of a table at many flows, from nearly shut to where little head is left."""
    found = at_flows(study, builds, row, np.linspace(0.02, REACH, POINTS) * study.duty.flow)
    kept = found["head"] > 0
    return {key: values[kept] for key, values in found.items()}


def at_flows(study: PumpStudy, builds: Builds, row: int, flows: Lanes) -> Results:
    """One build of a table at each of these delivered flows [m3/s]."""
    lanes = {key: np.repeat(values[row : row + 1], len(flows)) for key, values in builds.items()}
    alone = study.model_copy(update={"limits": {}, "aims": {}})
    return evaluate_pump(alone, {**lanes, DUTY_FLOW: flows})
