from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.physics.machine.disc import elastic_growth

DISC: dict[str, Any] = {
    "density": 8000.0,
    "speed": 2500.0,
    "r_inner": 0.02,
    "r_outer": 0.08,
    "poisson": 0.29,
    "youngs_modulus": 193e9,
}


@pytest.mark.parametrize("radius", [0.02, 0.045, 0.08])
def test_growth_is_that_of_the_rotating_annulus(radius: float) -> None:
    """Displacement of a rotating annulus: Timoshenko and Goodier, Theory of Elasticity, art. 32.

    u = rho w^2 (3 + nu)(1 - nu)/(8 E) r (a^2 + b^2 + (1 + nu)/(1 - nu) a^2 b^2/r^2
    - (1 + nu)/(3 + nu) r^2), from memory.
    """
    nu, a, b = 0.29, 0.02, 0.08
    bracket = a**2 + b**2 + (1 + nu) / (1 - nu) * (a * b / radius) ** 2
    bracket -= (1 + nu) / (3 + nu) * radius**2
    exact = 8000.0 * 2500.0**2 * (3 + nu) * (1 - nu) / (8 * 193e9) * radius * bracket
    assert_allclose(elastic_growth(**DISC, radius=radius), exact, rtol=1e-12)


def test_at_the_rim_it_is_the_growth_of_the_rim() -> None:
    assert_allclose(elastic_growth(**DISC, radius=0.08), elastic_growth(**DISC), rtol=1e-13)


def test_radii_out_of_order_are_nan_in_that_lane_only() -> None:
    found = elastic_growth(**{**DISC, "r_inner": np.array([0.02, 0.1])}, radius=0.08)
    assert np.isfinite(found).tolist() == [True, False]
