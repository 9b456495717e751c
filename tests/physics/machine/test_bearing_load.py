"""Loads, life and stiffness of bearings against ISO, textbooks and sums over their balls."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from engine.catalogue import bearing_names, bearings
from engine.physics.machine.bearing_load import (
    AXIAL_FACTOR,
    CONTACT_ANGLE,
    RELATIVE_LOAD,
    belt_load,
    equivalent_load,
    radial_stiffness,
    rating_life,
)

RPM = 2 * np.pi / 60


def test_equivalent_load_meets_the_rows_of_the_table() -> None:
    # ISO 281:2007, table 3: X = 0.56; Y 2.30, 1.55 and 1.00 at 0.172, 1.03 and 6.89 MPa, which is
    # the axial load over Z D^2 (from memory). 10 balls of 10 mm, so 1000 mm2; by hand:
    found = equivalent_load(
        radial=np.array([100.0, 100.0, 100.0, 1000.0]),
        axial=np.array([172.0, 1030.0, 6890.0, 100.0]),
        ball_count=10,
        ball_diameter=0.01,
    )
    assert_allclose(found, [56 + 395.6, 56 + 1596.5, 56 + 6890.0, 1000.0])


@pytest.mark.parametrize(
    ("relative", "e"),
    # ISO 281:2007, table 3, from memory: the ratio Fa/Fr up to which radial load counts alone
    list(zip(RELATIVE_LOAD, (0.19, 0.22, 0.26, 0.28, 0.30, 0.34, 0.38, 0.42, 0.44), strict=True)),
)
def test_radial_and_combined_load_meet_at_the_ratio_of_the_table(relative: float, e: float) -> None:
    factor = np.interp(relative, RELATIVE_LOAD, AXIAL_FACTOR)
    assert_allclose(0.56 + factor * e, 1.0, atol=0.01)


def test_rated_life_is_that_of_the_standard_worked_by_hand() -> None:
    # ISO 281: (C/P)^3 million turns. C 14 kN, P 2 kN: 343 million turns; at 1500 rpm
    # 343e6/(60 x 1500) = 3811.1 h
    found = rating_life(dynamic_rating=14e3, load=2e3, speed=1500 * RPM)
    assert_allclose(found / 3600, 3811.11, atol=0.01)
    assert rating_life(dynamic_rating=14e3, load=2e3, speed=0.0) == np.inf


def test_a_belt_loads_its_shaft_with_the_pull_of_the_textbook() -> None:
    # Shigley's Mechanical Engineering Design, 8th ed. 2008, example 17-1, from memory: 15 hp at
    # 1750 rpm with factors 1.25 and 1.1 is 742.8 lbf in, on a pulley of 6 in 247.6 lbf; strands of
    # 420 and 172.4 lbf, together 592.4
    pound_force = 4.4482216
    torque = 15 * 745.69987 * 1.25 * 1.1 / (1750 * RPM)
    pull = belt_load(torque=torque, pulley=6 * 25.4e-3, belt_pull=1.0)
    assert_allclose(pull / pound_force, 247.6, atol=0.1)
    both = belt_load(torque=-torque, pulley=6 * 25.4e-3, belt_pull=592.4 / 247.6)
    assert_allclose(both / pound_force, 592.4, atol=0.2)


@pytest.mark.parametrize(
    ("balls", "diameter", "load", "ross"),
    [
        # BallBearingElement of the library ross-rotordynamics 2.3.0, without contact angle, run
        # once outside this project [N/m]; its law is Kraemer's, Dynamics of Rotors and
        # Foundations, 1993. Both laws are handbook fits of Hertz's contact.
        (7, 3.969e-3, 20.0, 2.0445e7),
        (8, 7.938e-3, 200.0, 6.0662e7),
    ],
)
def test_stiffness_under_radial_load_is_that_of_another_law(
    balls: int, diameter: float, load: float, ross: float
) -> None:
    found = radial_stiffness(ball_count=balls, ball_diameter=diameter, preload=0.0, radial=load)
    assert_allclose(found, ross, rtol=0.12)


@pytest.mark.parametrize("preload", [10.0, 40.0])
@pytest.mark.parametrize("turned", [0.0, 0.2])
def test_stiffness_under_preload_is_that_of_a_sum_over_the_balls(
    preload: float, turned: float
) -> None:
    # Each ball presses along the line between the centres of its grooves, whose length and angle
    # follow the inner ring (Harris, Rolling Bearing Analysis, ch. 8, from memory); force by
    # Palmgren's approach, 4.36e-4 Q^(2/3) D^(-1/3) in N and mm.
    balls, size = 7, 3.969
    apart = 0.04 * size  # grooves of 0.52 D
    angle = turned + np.arange(balls) * 2 * np.pi / balls

    def force(across: float, along: float) -> tuple[float, float]:
        """Radial and axial force [N] of the ring moved by [mm]."""
        reach = apart * np.cos(CONTACT_ANGLE) + across * np.cos(angle)
        rise = apart * np.sin(CONTACT_ANGLE) + along
        length = np.hypot(reach, rise)
        approach = np.maximum(length - apart, 0.0)
        load = (approach * size ** (1 / 3) / 4.36e-4) ** 1.5
        return float(np.sum(load * reach / length * np.cos(angle))), float(
            np.sum(load * rise / length)
        )

    along = brentq(lambda z: force(0.0, z)[1] - preload, 0.0, 0.1)
    step = 1e-6
    slope = (force(step, along)[0] - force(-step, along)[0]) / (2 * step)
    found = radial_stiffness(
        ball_count=balls, ball_diameter=size * 1e-3, preload=preload, radial=0.0
    )
    assert_allclose(found, slope * 1e3, rtol=0.12)  # the angle grows with the load


# Factor fc of ISO 281 over D/dm, radial ball bearings with one row; from memory
SHARES = [0.05, 0.06, 0.07, 0.08, 0.09, 0.10, 0.12, 0.14, 0.16, 0.18, 0.20, 0.22, 0.24, 0.26, 0.28]
FACTORS = [46.7, 49.1, 51.1, 52.8, 54.3, 55.5, 57.5, 58.8, 59.6, 59.9, 59.9, 59.6, 59.0, 58.2, 57.1]


@pytest.mark.parametrize("key", bearing_names())
def test_the_balls_of_a_bearing_give_its_ratings(key: str) -> None:
    # C = 1.3 fc Z^(2/3) D^1.8 (ISO 281), C0 = f0 Z D^2 with f0 of 11 to 16 (ISO 76), D in mm; both
    # from memory. Makers round, and rate small ones by their own tests.
    row = bearings()[key]
    size = row.ball_diameter * 1e3
    fc = np.interp(size / (row.mean_diameter * 1e3), SHARES, FACTORS)
    dynamic = 1.3 * fc * row.ball_count ** (2 / 3) * size**1.8
    assert_allclose(dynamic, row.dynamic_rating, rtol=1 / 6)
    assert 11.0 < row.static_rating / (row.ball_count * size**2) < 16.0
    # They fit between the rings, with room for a cage
    assert 0.4 < row.ball_count * size / (np.pi * row.mean_diameter * 1e3) < 0.65
