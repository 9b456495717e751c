"""A rotor held still while the supply blows through it: what the bench reads then."""

import numpy as np

from engine.columns import Builds, Results
from engine.model.evaluation import evaluate
from engine.study.study import Study

CRAWL = 1e-3
"""Speed [rad/s] that stands for none; torque differs from that at none by less than 1e-6 of it."""
BREAKAWAY = "breakaway_torque"
"""Column with the drag of bearings and seals that must be overcome before anything turns."""


def evaluate_locked(study: Study, builds: Builds) -> Results:
    """Give every column of every build as the model does, of a rotor held by its shaft.

    The flow does not divide by speed, but a torque that is power over speed does, and so the model
    is asked at a crawl. What holds the rotor bears the torque of the flow alone: `shaft_torque` is
    that of discs and disc edges. Friction at rest pushes either way, by up to `breakaway_torque`.
    """
    crawling = {**builds, "speed": np.full(len(builds["speed"]), CRAWL)}
    found = evaluate(study.unjudged(), crawling)
    none = np.where(np.isfinite(found["rotor_torque"]), 0.0, np.nan)
    return found | {
        "speed": 0.0 * crawling["speed"],
        "shaft_torque": found["rotor_torque"],
        "shaft_power": none,
        "electric_power": none,
        BREAKAWAY: found["rotor_torque"] - found["shaft_torque"],
    }
