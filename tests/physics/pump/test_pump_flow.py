"""A whole pump: its balance, its limits, and machines computed apart."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.testing import assert_allclose

from engine.fluids.by_name import gas
from engine.physics.fluids.liquid import Liquid
from engine.physics.pump.build import PumpBuild, PumpFlow, stack_height_of
from engine.physics.pump.flow import pump_flow, pump_through

WATER = Liquid("water", 998.0, 4186.0, 293.15, (float(np.log(1e-3)), -0.02), 2340.0)
OIL = Liquid("oil", 870.0, 1900.0, 293.15, (float(np.log(0.087)), 0.0), 0.0)
LITRES = 1 / 60e3
BUILD = PumpBuild(
    disc_count=8,
    disc_thickness=1e-3,
    gap=0.4e-3,
    rim_radius=0.05,
    eye_radius=0.02,
    shaft_radius=0.006,
    angular_speed=100 * np.pi,
    suction_ends=1,
    throat_area=60e-6,
    port_diameter=16e-3,
    rim_clearance=3e-3,
    side_gap=5e-3,
    seal_clearance=0.15e-3,
    ring_length=5e-3,
    ring_radius=0.02,
)
BEARINGS = 1.5 + 0.01 * 100 * np.pi
"""Bearings and shaft seal of that machine [W]."""


def water(litres: Any, **changes: Any) -> PumpFlow:
    return pumped(WATER, litres, **changes)


def pumped(liquid: Liquid, litres: Any, **changes: Any) -> PumpFlow:
    density = liquid.density_value
    return pump_flow(
        build=replace(BUILD, **changes),
        fluid=liquid,
        pressure=1e5,
        enthalpy=1e5 / density,
        mass_flow=np.asarray(litres) * LITRES * density,
    )


def lost(found: PumpFlow) -> Any:
    return sum(value for name, value in vars(found).items() if name.startswith("loss_"))


def test_head_and_losses_add_up_to_the_power_of_the_stack() -> None:
    many = np.array([1.0, 10.0, 25.0, 40.0])
    for changes in ({}, {"suction_ends": 2}, {"eye_swirl_ratio": 0.6}, {"disc_thickness": 0.2e-3}):
        found = water(many, **changes)
        assert found.settled.all()
        assert_allclose(found.hydraulic_power + lost(found), found.fluid_power, rtol=1e-9)
        for name, value in vars(found).items():
            assert not name.startswith("loss_") or (value > -1e-9).all(), name
        # The head from powers is that of the pressures, followed apart from station to station.
        assert_allclose(found.pressure_rise, 998.0 * 9.80665 * found.head, rtol=1e-9)
        assert_allclose(found.mass_flow, many * LITRES * 998.0, rtol=1e-4)


def test_work_of_the_discs_is_eulers() -> None:
    found = water([5.0, 30.0], eye_swirl_ratio=0.5)
    work = BUILD.angular_speed * BUILD.rim_radius * found.rim_swirl
    assert_allclose(found.rotor_power, found.through * work, rtol=1e-9)


def test_a_water_pump_is_that_computed_apart() -> None:
    # The same machine by resolved profiles across the gap, in NumPy and with no code in common, a
    # mixing length in turbulent flow. There the leakage went through the ring around the discs too,
    # which lowers its friction at a small flow: compared from 10 l/min on.
    litres = np.array([10.0, 20.0, 30.0, 40.0])
    found = water(litres)
    assert_allclose(found.head, [9.51, 9.25, 8.06, 5.72], rtol=0.05)
    assert_allclose(found.head[1:], [9.25, 8.06, 5.72], rtol=0.02)
    assert_allclose(found.fluid_power + BEARINGS, [88, 114, 139, 162], rtol=0.01)
    assert_allclose(found.rotor_efficiency, [0.69, 0.62, 0.57, 0.53], atol=0.01)
    assert_allclose(found.volumetric_efficiency, [0.64, 0.83, 0.91, 0.95], atol=0.01)
    assert_allclose(found.turbulent_share, [0.17, 0.43, 0.71, 0.89], atol=0.04)
    assert_allclose(found.npsh_required, [0.05, 0.13, 0.24, 0.39], atol=0.04)
    assert_allclose(found.temperature_rise, [0.10, 0.06, 0.05, 0.04], atol=0.01)
    assert_allclose(found.ekman_number, 7.1, atol=0.05)
    assert (found.backflow_share[:2] > 0.1).all()


def test_thick_oil_wants_a_wide_gap() -> None:
    # 100 mm2/s: no head from 15 l/min at 0.4 mm; 7.9 m, rotor 87 %, 251 W of which 140 on the end
    # faces at 1.5 mm and 30 l/min; computed apart as above.
    assert pumped(OIL, 15.0).head < 0.5
    wide = pumped(OIL, 30.0, gap=1.5e-3)
    assert_allclose(wide.head, 7.9, rtol=0.05)
    assert_allclose(wide.rotor_efficiency, 0.87, atol=0.01)
    assert_allclose(wide.fluid_power + BEARINGS, 251, rtol=0.02)
    assert_allclose(wide.loss_windage, 140, rtol=0.02)


def test_a_loop_with_a_blood_analogue_is_that_computed_apart() -> None:
    # 1055 kg/m3, 3.5 mPa s, 7 discs of 80 mm, 1500 rpm, 5 l/min: 148 mmHg, rotor 78 %, 0.11 s.
    thick = Liquid("analogue", 1055.0, 3800.0, 293.15, (float(np.log(3.5e-3)),), 2340.0)
    found = pumped(
        thick,
        5.0,
        disc_count=7,
        rim_radius=0.04,
        eye_radius=0.01,
        shaft_radius=0.003,
        angular_speed=50 * np.pi,
        throat_area=49e-6,
        port_diameter=9.5e-3,
        side_gap=4e-3,
        seal_clearance=0.2e-3,
        ring_radius=0.01,
    )
    assert_allclose(found.pressure_rise / 133.322, 148, rtol=0.03)
    assert_allclose(found.rotor_efficiency, 0.78, atol=0.01)
    assert_allclose(found.residence_time, 0.11, atol=0.005)


def test_a_blower_of_air_is_that_computed_apart() -> None:
    # 200 mm, 6000 rpm, 40 discs, 30 m3/h: 2.9 kPa, rotor 81 %, constant density. It is compressible
    # here; density moves 3 %.
    air = gas("air")
    enthalpy = float(air.enthalpy(pressure=1.013e5, temperature=293.15))
    build = replace(
        BUILD,
        disc_count=40,
        disc_thickness=0.5e-3,
        gap=0.7e-3,
        rim_radius=0.1,
        eye_radius=0.04,
        angular_speed=200 * np.pi,
        suction_ends=2,
        throat_area=3e-4,
        port_diameter=0.05,
        seal_clearance=0.3e-3,
        ring_radius=0.04,
    )
    found = pump_flow(
        build=build, fluid=air, pressure=1.013e5, enthalpy=enthalpy, mass_flow=1.2 * 30 / 3600
    )
    assert_allclose(found.pressure_rise, 2.9e3, rtol=0.15)
    assert_allclose(found.rotor_efficiency, 0.81, atol=0.05)
    assert found.largest_mach < 0.2
    assert_allclose(found.hydraulic_power + lost(found), found.fluid_power, rtol=1e-9)
    assert_allclose(found.pressure_rise, found.rim_density * 9.80665 * found.head, rtol=0.02)


def test_shut_off_head_is_the_pressure_behind_the_rim() -> None:
    # Nothing moves on in the collector: its swirl dies, and the head is the static one there.
    found = water(0.02)
    static = (found.rim_pressure - 1e5) / (998.0 * 9.80665)
    assert_allclose(found.head, static, rtol=0.15)
    assert found.head < water(20.0).head  # it droops
    assert found.temperature_rise > 10


def test_a_flow_that_only_feeds_the_leakage_is_told() -> None:
    found = pump_through(
        build=BUILD, fluid=WATER, pressure=1e5, enthalpy=1e5 / 998.0, through=[0.02, 0.5]
    )
    assert (found.mass_flow < 0).tolist() == [True, False]
    assert np.isnan(found.head).tolist() == [True, False]
    assert found.settled.tolist() == [False, True]
    assert_allclose(found.mass_flow + found.leakage, found.through, rtol=1e-12)


def test_wear_ring_clearance_costs_what_it_is_said_to() -> None:
    # Volumetric efficiency at 15 l/min, computed apart with the throat of each point at its best:
    # 97, 86, 76, 64 % at 0.05, 0.10, 0.15, 0.25 mm.
    found = water(15.0, seal_clearance=np.array([0.05, 0.10, 0.15, 0.25]) * 1e-3, throat_area=4e-5)
    assert_allclose(found.volumetric_efficiency, [0.97, 0.86, 0.76, 0.64], atol=0.03)


def test_shapes_broadcast_and_bad_lanes_stay_alone() -> None:
    found = water(np.full((2, 3), 20.0), gap=np.array([0.4e-3, np.nan, 0.0]))
    assert found.head.shape == (2, 3)
    assert np.isnan(found.head[:, 1:]).all()
    assert_allclose(found.head[:, 0], water(20.0).head)
    assert stack_height_of(build=BUILD) == 8e-3 + 7 * 0.4e-3
