"""Head against flow of one pump, at its own speed."""

import numpy as np

from engine.columns import Builds, Results
from engine.model.pump.evaluation import evaluate_pump
from engine.study.pump.study import PumpStudy
from engine.study.pump.supply import Duty

POINTS = 25
REACH = 2.2
"""Largest flow of a curve, over that of the duty, if it has head so far."""


def head_curve(study: PumpStudy, builds: Builds, row: int) -> Results:
    """One build of a table at many flows, from nearly shut to where little head is left."""
    lane = {key: values[row : row + 1] for key, values in builds.items()}
    alone = study.model_copy(update={"limits": {}, "aims": {}})
    found = [
        _at(alone, lane, share * study.duty.flow) for share in np.linspace(0.02, REACH, POINTS)
    ]
    joined = {key: np.concatenate([each[key] for each in found]) for key in found[0]}
    kept = joined["head"] > 0
    return {key: values[kept] for key, values in joined.items()}


def _at(study: PumpStudy, lane: Builds, flow: float) -> Results:
    duty = Duty.model_construct(flow=float(flow), static_head=None, head_loss=None)
    return evaluate_pump(study.model_copy(update={"duty": duty}), lane)
