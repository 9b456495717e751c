"""What several test files share: a shop-air study and a way to lay out builds for it."""

from collections.abc import Callable
from typing import Any, TypeAlias

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.study import Study

Builds: TypeAlias = dict[str, NDArray[Any]]
MakeBuilds: TypeAlias = Callable[..., Builds]

MIDDLING = {
    "disc_count": 11,
    "disc_diameter": 0.15,
    "gap": 0.2e-3,
    "inlet_angle": np.deg2rad(10),
    "exhaust_bore": 0.05,
    "speed": 15_000 * np.pi / 30,
}
"""A build of middling size; whatever a test varies replaces its entry."""


@pytest.fixture(scope="session")
def shop_air() -> Study:
    """A small stack with two narrow nozzles on a workshop's air line."""
    return Study.model_validate(
        {
            "title": "A small stack on shop air",
            "supply": {"fluid": "air", "pressure": "6 bar gauge", "temperature": "20 degC"},
            "machine": {
                "nozzle_count": 2,
                "nozzle_width": "0.3 mm",
                "seal_clearance": "0.05 mm",
                "seal_throttles": 3,
            },
            "ranges": {
                "disc_count": {"min": 4, "max": 40},
                "disc_diameter": {"min": "80 mm", "max": "200 mm"},
                "gap": {"min": "0.1 mm", "max": "0.6 mm"},
                "inlet_angle": {"min": "5 deg", "max": "30 deg"},
                "exhaust_bore": {"min": "20 mm", "max": "100 mm"},
                "speed": {"min": "4000 rpm", "max": "40000 rpm"},
            },
        }
    )


@pytest.fixture(scope="session")
def builds() -> MakeBuilds:
    """Lay out builds that differ from the middling one in the named keys, one lane a value."""

    def make(**changes: Any) -> Builds:
        values = {**MIDDLING, **changes}
        n_lanes = max(np.size(value) for value in values.values())
        return {key: np.broadcast_to(np.asarray(v), (n_lanes,)) for key, v in values.items()}

    return make


@pytest.fixture(scope="session")
def random_builds() -> Callable[[int, int], Builds]:
    """Lay out builds that a shop could make, far apart; arguments are their number and a seed."""

    def make(n_lanes: int, seed: int) -> Builds:
        rng = np.random.default_rng(seed)
        diameter = rng.uniform(0.06, 0.25, n_lanes)
        return {
            "disc_count": rng.integers(3, 40, n_lanes),
            "disc_diameter": diameter,
            "gap": rng.uniform(0.1e-3, 0.8e-3, n_lanes),
            "inlet_angle": rng.uniform(0.07, 0.7, n_lanes),
            "exhaust_bore": np.maximum(diameter * rng.uniform(0.2, 0.8, n_lanes), 0.014),
            "speed": rng.uniform(200, 3500, n_lanes),
            "disc_thickness": rng.uniform(0.3e-3, 2e-3, n_lanes),
            "nozzle_width": rng.uniform(0.1e-3, 1.5e-3, n_lanes),
            "exhaust_ends": rng.integers(1, 3, n_lanes),
            "nozzle_form": rng.choice(["convergent", "convergent-divergent"], n_lanes),
            "rim_clearance": rng.uniform(0.3e-3, 1.5e-3, n_lanes),
            "seal_clearance": rng.uniform(0.0, 0.15e-3, n_lanes),
        }

    return make
