import numpy as np
from numpy.testing import assert_allclose

from engine.physics.machine.pipe import WAVE_SPEED, closing_surge, receiver_time
from engine.physics.machine.thrust import axial_thrust


def test_a_fast_closing_gives_joukowskys_rise_and_a_slow_one_less() -> None:
    """A metre a second stopped at once is 14.8 bar in a rigid pipe of water."""
    area = np.pi / 4 * 0.05**2
    given = {"density": 1000.0, "flow": 1000.0 * area, "bore": 0.05, "length": 74.0}
    found = closing_surge(**given, closing=np.array([0.0, 0.09, 0.1, 1.0]))
    assert_allclose(found, [1.48e6, 1.48e6, 1.48e6, 1.48e5])
    assert closing_surge(**given, closing=0.2) == 1000.0 * 2 * 74.0 / 0.2
    assert WAVE_SPEED == 1480.0


def test_a_receiver_of_50_litres_feeds_12_grams_a_second_for_20_seconds() -> None:
    """A perfect gas at 20 degC, from 10 to 6 bar gauge."""
    gas = 287.05 * 293.15
    time = receiver_time(
        volume=0.05, full_density=11.013e5 / gas, end_density=7.013e5 / gas, flow=0.0119
    )
    assert_allclose(time, 0.05 * 4e5 / gas / 0.0119, rtol=1e-12)
    assert 19 < time < 21


def test_thrust_acts_on_the_bore_only_and_vanishes_without_a_pressure() -> None:
    given = {"closed_pressure": 3e5, "bore_radius": 0.02, "shaft_radius": 0.01}
    found = axial_thrust(**given, exit_pressure=np.array([1e5, 3e5]))
    assert_allclose(found, [2e5 * np.pi * 3e-4, 0.0])
