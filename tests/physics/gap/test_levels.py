"""The averaged level of the gap flow against the resolved level.

The resolved level is checked against exact solutions and published numbers in `test_resolved`.
"""

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.physics.fluids.liquid import Liquid
from engine.physics.gap import averaged, resolved

Lanes = NDArray[np.float64]
AIR = gas("air")


WATER = Liquid("water", 1e3, 1e12, 300.0, (math.log(1e-3),), 0.0)
"""Constant density 1000 kg/m3 and viscosity 1 mPa s."""


def laminar_lanes(*, ekman: Lanes, re_star: Lanes, slip: Lanes, ratio: Lanes) -> dict[str, Any]:
    """A gap as wide as the radius, so that no lane is turbulent: only the numbers matter."""
    radius, nu = 0.05, 1e-6
    speed = ekman**2 * nu / radius**2
    return {
        "fluid": WATER,
        "rim_pressure": 1e5,
        "rim_enthalpy": 0.0,
        "rim_swirl": speed * radius * (1 + slip),
        "mass_flow": 2 * np.pi * radius * 1e3 * re_star * nu,
        "gap": radius,
        "rim_radius": radius,
        "bore_radius": radius * ratio,
        "angular_speed": speed,
    }


def errors(lanes: dict[str, Any]) -> tuple[Lanes, Lanes, Lanes]:
    """Relative error of torque and of pressure drop, and the turbulent share; no backflow."""
    fine, fast = resolved.march(**lanes), averaged.march(**lanes)
    use = fine.settled & (fine.backflow_share == 0) & (fine.wall_backflow_share == 0)
    torque = fast.torque / fine.torque - 1
    fall = (lanes["rim_pressure"] - fast.exit_pressure) / (
        lanes["rim_pressure"] - fine.exit_pressure
    )
    return torque[use], fall[use] - 1, fine.turbulent_share[use]


def test_laminar_torque_and_pressure_drop_are_within_one_percent_without_backflow() -> None:
    # The valid range: b sqrt(Omega / nu) 1 to 6, Re* 0.3 to 5, relative inlet swirl 0 to 3.
    random = np.random.default_rng(12)
    n_lanes = 90
    lanes = laminar_lanes(
        ekman=random.uniform(1, 6, n_lanes),
        re_star=np.exp(random.uniform(np.log(0.3), np.log(5), n_lanes)),
        slip=random.uniform(0, 3, n_lanes),
        ratio=random.uniform(0.3, 0.6, n_lanes),
    )
    torque, fall, turbulent = errors(lanes)
    assert torque.size >= 40
    assert turbulent.max() == 0
    assert np.abs(torque).max() < 0.005
    assert np.abs(fall).max() < 0.01


@pytest.mark.parametrize("swirl_over_wall", [(1.02, 1.8), (1.5, 8.0)])
def test_shop_air_turbulent_at_the_rim_is_within_two_percent(
    swirl_over_wall: tuple[float, float],
) -> None:
    # Small stacks on a workshop's air line, as on the fronts of the example studies: at speed, and
    # slow ones whose swirl is several times the speed of the wall.
    random = np.random.default_rng(21)
    n_lanes = 80
    radius, wall = random.choice([0.05, 0.075, 0.1], n_lanes), random.uniform(40, 200, n_lanes)
    width = random.choice([0.2e-3, 0.25e-3, 0.3e-3, 0.4e-3], n_lanes)
    re_star = np.exp(random.uniform(np.log(0.5), np.log(4), n_lanes))
    lanes = {
        "fluid": AIR,
        "rim_pressure": random.uniform(1.1e5, 4e5, n_lanes),
        "rim_enthalpy": float(AIR.enthalpy(pressure=2e5, temperature=285.0)),
        "rim_swirl": np.clip(wall * random.uniform(*swirl_over_wall, n_lanes), 60, 330),
        "mass_flow": re_star * 1.8e-5 * 2 * np.pi * radius**2 / width,
        "gap": width,
        "rim_radius": radius,
        "bore_radius": radius * random.uniform(0.3, 0.6, n_lanes),
        "angular_speed": wall / radius,
    }
    torque, fall, turbulent = errors(lanes)
    assert torque.size >= 40
    assert np.mean(turbulent > 0.05) > 0.5
    assert np.quantile(np.abs(torque), 0.95) < 0.01
    assert np.quantile(np.abs(fall), 0.95) < 0.02
    assert np.abs(torque).max() < 0.03


def test_both_levels_move_the_transition_by_the_same_factor() -> None:
    # Turbulent at the rim only; wholly laminar; wholly turbulent.
    lanes: dict[str, Any] = {
        "fluid": AIR,
        "rim_pressure": 1.5e5,
        "rim_enthalpy": float(AIR.enthalpy(pressure=1.5e5, temperature=285.0)),
        "rim_swirl": 240.0,
        "mass_flow": 6e-4,
        "gap": 0.25e-3,
        "rim_radius": 0.05,
        "bore_radius": 0.02,
        "angular_speed": 1200.0,
        "transition_factor": np.array([1.0, 6.0, 0.05]),
    }
    fine, fast = resolved.march(**lanes), averaged.march(**lanes)
    for found in (fine, fast):
        assert 0.02 < found.turbulent_share[0] < 0.5
        assert found.turbulent_share[1:] == pytest.approx([0.0, 1.0], abs=1e-9)
        assert np.ptp(found.largest_reynolds) < 0.01 * found.largest_reynolds[0]
        assert np.ptp(found.torque) > 1e-3 * found.torque[0]
    assert fast.torque == pytest.approx(fine.torque, rel=0.03)
    assert fast.exit_pressure == pytest.approx(fine.exit_pressure, rel=0.01)
    # The law without turbulence knows no factor, and no gap has a factor of 0.
    lanes["transition_factor"] = np.array([6.0, 9.0, 0.0])
    for march in (resolved.march, averaged.march):
        torque = march(**lanes).torque
        assert torque[0] == pytest.approx(torque[1], rel=1e-9)
        assert np.isnan(torque[2])
