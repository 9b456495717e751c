"""Eddy viscosity and transition, without the march."""

import numpy as np
import pytest

from engine.physics.gap.turbulence import eddy_viscosity, turbulent_weight


def channel_friction(friction_reynolds: float) -> tuple[float, float]:
    """Reynolds number and friction of a developed channel, by integration over 4,000 layers."""
    distance = np.concatenate([[0.0], np.geomspace(1e-6, 1.0, 4000)])
    stress = (1 - distance) * friction_reynolds**2
    shear = stress.copy()
    for _ in range(200):
        ratio, _ = eddy_viscosity(wall_distance=distance, shear=shear[None])
        shear = np.sqrt(shear * stress / (1 + ratio[0]))
    shear[0] = stress[0]
    steps = np.diff(distance)
    speed = np.concatenate([[0.0], np.cumsum((shear[1:] + shear[:-1]) / 2 * steps)])
    mean = float(np.sum((speed[1:] + speed[:-1]) / 2 * steps))
    return 2 * mean, 2 * (friction_reynolds / mean) ** 2


@pytest.mark.parametrize("friction_reynolds", [138.0, 180.0, 300.0, 500.0, 700.0, 990.0])
def test_channel_friction_is_that_of_dean(friction_reynolds: float) -> None:
    reynolds, friction = channel_friction(friction_reynolds)
    assert 3.9e3 < reynolds < 4.1e4
    # Dean 1978, J. Fluids Eng. 100, 215-223
    assert friction == pytest.approx(0.073 * reynolds**-0.25, rel=0.05)


def test_channel_at_friction_reynolds_180_is_that_of_the_direct_simulation() -> None:
    reynolds, friction = channel_friction(180.0)
    # Kim, Moin and Moser 1987, J. Fluid Mech. 177, 133-166: Re 5,600 and C_f 8.18e-3 at 180
    assert reynolds == pytest.approx(5600, rel=0.03)
    assert friction == pytest.approx(8.18e-3, rel=0.05)


def test_far_from_the_wall_of_a_wide_channel_the_mixing_length_is_karmans() -> None:
    ratio, _ = eddy_viscosity(wall_distance=np.array([0.0, 0.01]), shear=np.full((1, 2), 1e12))
    # l = 0.41 y (von Karman's constant, common practice)
    assert np.sqrt(ratio[0, 1] / 1e12) == pytest.approx(0.41 * 0.01, rel=1e-4)


def test_sensitivity_to_the_wall_shear_is_the_difference_quotient() -> None:
    distance, shear = np.array([0.0, 0.02, 0.1, 1.0]), np.array([[4e4, 3e3, 2e2, 1.0]])
    _, sensitivity = eddy_viscosity(wall_distance=distance, shear=shear)
    ratios = []
    for factor in (1 - 1e-5, 1 + 1e-5):
        changed = shear.copy()
        changed[0, 0] *= factor
        ratios.append(eddy_viscosity(wall_distance=distance, shear=changed)[0][0, 1:])
    quotient = np.log(ratios[1] / ratios[0]) / 2e-5
    np.testing.assert_allclose(sensitivity[0, 1:], quotient, rtol=1e-6, atol=1e-9)


def test_transition_is_smooth_and_ends_at_its_bounds() -> None:
    reynolds = np.geomspace(1000, 10000, 2001)
    weight, slope = turbulent_weight(reynolds=reynolds)
    assert np.all(weight[reynolds <= 2300] == 0)
    assert np.all(weight[reynolds >= 4000] == 1)
    assert np.all(np.diff(weight) >= 0)
    np.testing.assert_allclose(np.gradient(weight, np.log(reynolds)), slope, atol=0.02)
    assert np.isnan(turbulent_weight(reynolds=np.nan)[0])
