"""Warmth of bearings against oils of the viscosity classes and an independent root."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from engine.physics.machine.bearing import bearing_torque
from engine.physics.machine.bearing_heat import (
    HOTTEST_RISE,
    STIFFEST,
    grease_viscosity,
    running_temperature,
    seat_conductance,
)


@pytest.mark.parametrize(
    ("at_40", "at_100"),
    # Mineral oils of ISO VG 32 to 100 with a viscosity index of about 95 to 100, from memory of
    # their data sheets [mm2/s]
    [(32.0, 5.4), (46.0, 6.8), (68.0, 8.7), (100.0, 11.2)],
)
def test_base_oils_thin_as_their_data_sheets_say(at_40: float, at_100: float) -> None:
    found = grease_viscosity(viscosity_40=at_40 * 1e-6, temperature=373.15)
    assert_allclose(found * 1e6, at_100, rtol=0.06)
    same = grease_viscosity(viscosity_40=at_40 * 1e-6, temperature=313.15)
    assert_allclose(same * 1e6, at_40, rtol=1e-12)


def test_cold_grease_stiffens_up_to_a_solid() -> None:
    # VG 32 has some 300 mm2/s at 0 degrees Celsius (data sheets, from memory)
    cold = np.array([273.15, 250.0, 200.0, 100.0])
    found = np.asarray(grease_viscosity(viscosity_40=32e-6, temperature=cold))
    assert_allclose(found[0] * 1e6, 300.0, rtol=0.1)
    assert (np.diff(found) >= 0).all()
    assert found[-1] == STIFFEST


def test_a_bearing_carries_off_what_the_standard_counts_with() -> None:
    # ISO 15312, from memory: 0.016 W/mm2 at 50 K through pi B (d + D); 608: pi x 7 x 30 mm2 gives
    # 10.56 W, worked by hand
    seats = sum(seat_conductance(seat_diameter=d, width=7e-3) for d in (8e-3, 22e-3))
    assert_allclose(seats * 50.0, 10.556, atol=1e-3)


def law(temperature: float, lane: dict[str, float]) -> float:
    """Heat of one bearing at a temperature less what it carries off there [W]."""
    nu = grease_viscosity(viscosity_40=lane["viscosity_40"], temperature=temperature)
    torque = bearing_torque(
        mean_diameter=lane["mean_diameter"],
        speed=lane["speed"],
        kinematic_viscosity=nu,
        lubrication_factor=lane["lubrication_factor"],
        load_factor=0.0,
        load=0.0,
    )
    heat = lane["speed"] * (float(torque) + lane["steady_torque"])
    return heat - lane["conductance"] * (temperature - lane["rest_temperature"])


def test_a_running_bearing_carries_off_what_its_drag_gives() -> None:
    rng = np.random.default_rng(3)
    n = 60
    lanes = {
        "rest_temperature": rng.uniform(220, 420, n),
        "conductance": rng.uniform(0.05, 2, n),
        "speed": 10 ** rng.uniform(-2, 3.6, n),
        "mean_diameter": rng.uniform(0.005, 0.035, n),
        "lubrication_factor": np.full(n, 1.5),
        "viscosity_40": 10 ** rng.uniform(-5.2, -3.5, n),
        "steady_torque": np.where(rng.random(n) < 0.5, 0.0, rng.uniform(0, 0.01, n)),
    }
    found = np.asarray(running_temperature(**lanes))
    for i in range(n):
        lane = {key: float(values[i]) for key, values in lanes.items()}
        low = lane["rest_temperature"]
        exact = brentq(law, low, low + 5000, args=(lane,))
        if exact < low + HOTTEST_RISE:
            assert_allclose(found[i], exact, atol=0.05)


def test_heavier_drag_colder_rest_and_better_cooling_move_it_the_right_way() -> None:
    usual = {
        "rest_temperature": np.full(4, 280.0),
        "conductance": np.full(4, 0.2),
        "speed": np.full(4, 2800.0),
        "mean_diameter": np.full(4, 0.015),
        "lubrication_factor": np.full(4, 1.5),
        "viscosity_40": np.full(4, 30e-6),
        "steady_torque": np.zeros(4),
    }
    usual["steady_torque"][1] = 2e-3
    usual["rest_temperature"][2] = 250.0
    usual["conductance"][3] = 0.4
    plain, lips, cold, cooled = np.asarray(running_temperature(**usual))
    assert lips > plain > cooled > 280.0
    # Stiff grease warms itself: it loses only part of the 30 K.
    assert plain - 30.0 < cold < plain
    still = running_temperature(**usual | {"speed": np.zeros(4)})
    assert_allclose(still, usual["rest_temperature"])
    assert np.isnan(running_temperature(**usual | {"viscosity_40": np.full(4, np.nan)})).all()
