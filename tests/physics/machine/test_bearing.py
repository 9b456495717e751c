import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.catalogue import bearing_seals, bearings
from engine.physics.machine.bearing import (
    bearing_limit_speed,
    bearing_torque,
    friction_load,
    lip_torque,
    load_factor,
    static_load,
)

RPM = 2 * np.pi / 60


def torque(*, mean_diameter: float, rpm: float, f1: float = 0.0, load: float = 0.0) -> float:
    return float(
        bearing_torque(
            mean_diameter=mean_diameter,
            speed=rpm * RPM,
            kinematic_viscosity=30e-6,
            lubrication_factor=1.5,
            load_factor=f1,
            load=load,
        )
    )


@pytest.mark.parametrize(
    ("mean_diameter", "rpm", "watts"),
    [(0.015, 20_000, 7.54), (0.015, 40_000, 23.9), (0.026, 20_000, 39.3)],
)
def test_churning_power_meets_the_worked_values(
    mean_diameter: float, rpm: float, watts: float
) -> None:
    # Palmgren's formula worked by hand in N mm, cSt, rpm and mm (formula from memory)
    found = torque(mean_diameter=mean_diameter, rpm=rpm) * rpm * RPM
    assert_allclose(found, watts, rtol=2e-3)


def test_churning_torque_meets_the_worked_value() -> None:
    # as above: 3.601 N mm
    assert_allclose(torque(mean_diameter=0.015, rpm=20_000) * 1e3, 3.601, atol=5.1e-4)


def test_slow_bearings_keep_the_constant_churning_torque() -> None:
    # 160e-7 f0 d_m^3 N mm with d_m in mm, below nu n = 2000 (Palmgren, from memory)
    expected = 160e-7 * 1.5 * 15.0**3 * 1e-3
    assert_allclose([torque(mean_diameter=0.015, rpm=n) for n in (0.0, 10.0, 66.0)], expected)


def test_load_adds_its_own_torque() -> None:
    # f1 P d_m = 0.0002 x 50 N x 15 mm = 0.15 N mm (Palmgren, from memory)
    loaded = torque(mean_diameter=0.015, rpm=20_000, f1=2e-4, load=50.0)
    assert_allclose((loaded - torque(mean_diameter=0.015, rpm=20_000)) * 1e3, 0.15, rtol=1e-9)


def test_load_factor_of_a_usual_load_is_about_the_handbook_value() -> None:
    # ISO 15312 reference load 5 % of C0; handbooks give 0.0001 to 0.0002 (from memory)
    assert 0.5e-4 < float(load_factor(load=5.0, static_rating=100.0)) < 2e-4
    assert float(load_factor(load=0.0, static_rating=100.0)) == 0.0


def test_limit_speed_is_the_handbook_speed_of_a_small_bearing() -> None:
    # 5e5 mm/min over 15 mm is 33,333 rpm
    found = bearing_limit_speed(speed_limit=5e5 * 1e-3 * RPM, mean_diameter=0.015)
    assert_allclose(found / RPM, 33_333.3, atol=0.1)


def test_lips_of_a_small_bearing_drag_as_a_catalogue_says() -> None:
    # A maker's general catalogue, from memory: 0.028 d^2.25 + 2 N mm, worked by hand in mm with
    # d = 12.34 mm for a 608: 8.00 + 2 = 10.0; run-in lips of that size are known for some 8 N mm
    row, lips = bearings()["608"], bearing_seals()["contact"]
    found = lip_torque(
        bore=row.bore,
        outside_diameter=row.outside_diameter,
        drag=lips.drag,
        drag_per_size=lips.drag_per_size,
    )
    assert_allclose(found * 1e3, 0.028 * 12.34**2.25 + 2, rtol=1e-3)
    shields = bearing_seals()["shield"]
    assert shields.drag == shields.drag_per_size == 0.0


def test_friction_and_static_loads_are_those_of_the_handbook() -> None:
    # Palmgren: P1 = 3 Fa - 0.1 Fr, at least Fr; ISO 76: P0 = 0.6 Fr + 0.5 Fa, at least Fr (both
    # from memory), worked by hand
    radial, axial = np.array([10.0, 100.0]), np.array([20.0, 5.0])
    assert_allclose(friction_load(radial=radial, axial=axial), [59.0, 100.0])
    assert_allclose(static_load(radial=radial, axial=axial), [16.0, 100.0])
