"""A rotor held still with the supply on: what the bench reads then."""

import numpy as np

from engine.columns import Builds, Results
from engine.model.evaluation import evaluate
from engine.study.study import Study

CRAWL = 1e-3
"""Speed [rad/s] used for a rotor at rest; torque differs from that at rest by less than 2e-5."""
BREAKAWAY = "breakaway_torque"
"""Column with the drag of bearings and seals that must be overcome before the rotor turns."""


def evaluate_locked(study: Study, builds: Builds) -> Results:
    """Every column of every build, as `evaluate` gives them, with the rotor held by its shaft.

    The model gives torque as power over speed, so it is evaluated at a very low speed, `CRAWL`.
    `shaft_torque` is the torque of the flow on discs and disc edges, which the holding device
    bears. Friction at rest acts either way, by up to `breakaway_torque`.
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
