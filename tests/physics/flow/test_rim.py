from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from engine.fluids.by_name import gas
from engine.physics.flow.rim import (
    GapEntry,
    Ring,
    are_thrown_out,
    casing_friction_factor,
    enter_gap,
    mix_at_rim,
)
from engine.physics.fluids.liquid import Liquid
from engine.physics.gap import resolved

AIR = gas("air")
PRESSURE = 1.3e5
TOTAL = float(AIR.enthalpy(pressure=PRESSURE, temperature=293.15))
SIZES: dict[str, Any] = {
    "mass_flow": 0.012,
    "jet_speed": 400.0,
    "inlet_angle": 0.2,
    "mixing_coefficient": 0.95,
    "rim_radius": 0.075,
    "rim_clearance": 0.5e-3,
    "stack_height": 14e-3,
    "edge_height": 11e-3,
    "angular_speed": 1500.0,
}


def ring(**changes: Any) -> Ring:
    return mix_at_rim(fluid=AIR, total_enthalpy=TOTAL, pressure=PRESSURE, **{**SIZES, **changes})


def friction(speed: float, density: float, viscosity: float, clearance: float) -> float:
    reynolds = density * abs(speed) * clearance / viscosity
    return float(max(12 / reynolds, 0.066 * reynolds**-0.25))


def scalar_ring(**changes: Any) -> tuple[float, float, float]:
    """Swirl, edge torque and casing torque of one ring, by brentq on its angular momentum."""
    v = {**SIZES, **changes}
    radius, casing_radius = v["rim_radius"], v["rim_radius"] + v["rim_clearance"]
    rim_speed = radius * v["angular_speed"]
    arriving = v["jet_speed"] * np.cos(v["inlet_angle"]) * v["mixing_coefficient"]

    def torques(swirl: float) -> tuple[float, float]:
        # The edge's work changes the ring's enthalpy, on which its own density depends.
        edge = density = viscosity = 0.0
        for _ in range(60):
            total = TOTAL - edge * v["angular_speed"] / v["mass_flow"]
            state = {"pressure": PRESSURE, "enthalpy": total - swirl**2 / 2}
            density, viscosity = float(AIR.density(**state)), float(AIR.viscosity(**state))
            slip = swirl - rim_speed
            shear = friction(slip, density, viscosity, v["rim_clearance"]) * density / 2
            edge = shear * slip * abs(slip) * 2 * np.pi * radius**2 * v["edge_height"]
        wall = friction(swirl, density, viscosity, v["rim_clearance"]) * density / 2 * swirl**2
        return edge, wall * 2 * np.pi * casing_radius**2 * v["stack_height"]

    def off(swirl: float) -> float:
        left = v["mass_flow"] * (arriving - swirl) * radius - sum(torques(swirl))
        # NaN: the ring is so fast that its edges would cool it below the range of the fluid.
        return float(np.nan_to_num(left, nan=-1.0))

    swirl = float(brentq(off, 1e-3, max(arriving, rim_speed) * 1.01, xtol=1e-10))
    return (swirl, *torques(swirl))


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"angular_speed": 4000.0},
        {"mass_flow": 0.003},
        {"mass_flow": 0.003, "angular_speed": 3000.0},
        {"jet_speed": 120.0, "angular_speed": 2500.0},
        {"edge_height": 0.0},
        {"rim_clearance": 3e-3, "mass_flow": 0.05},
    ],
    ids=str,
)
def test_swirl_agrees_with_an_independent_scalar_solution(changes: dict[str, float]) -> None:
    swirl, edge_torque, casing_torque = scalar_ring(**changes)
    found = ring(**changes)
    assert_allclose(found.swirl, swirl, rtol=1e-6)
    assert_allclose(found.edge_torque, edge_torque, rtol=1e-5, atol=1e-12)
    # friction power on the casing is its force at the casing times the ring's speed
    casing_radius = 0.075 + {**SIZES, **changes}["rim_clearance"]
    assert_allclose(found.casing_dissipation, casing_torque / casing_radius * swirl, rtol=2e-6)


def test_angular_momentum_of_the_ring_closes_to_rounding() -> None:
    speed = np.linspace(100.0, 5000.0, 60)
    found = ring(angular_speed=speed)
    arriving = 0.012 * 400.0 * np.cos(0.2) * 0.95 * 0.075
    casing_torque = found.casing_dissipation / found.swirl * (0.075 + 0.5e-3)
    leaving = 0.012 * found.swirl * 0.075
    assert_allclose(leaving + found.edge_torque + casing_torque, arriving, rtol=1e-12)


def test_total_enthalpy_changes_by_the_work_of_the_edges_only() -> None:
    speed = np.array([500.0, 1500.0, 4500.0])
    found = ring(angular_speed=speed)
    assert_allclose(0.012 * (TOTAL - found.total_enthalpy), found.edge_torque * speed, rtol=1e-12)


def test_without_friction_only_the_mixing_coefficient_lowers_the_swirl_of_the_jets() -> None:
    found = ring(stack_height=0.0, edge_height=0.0)
    assert_allclose(found.swirl, 400.0 * np.cos(0.2) * 0.95, rtol=1e-12)


def test_edges_drive_the_discs_when_the_ring_is_faster_and_brake_them_when_it_is_slower() -> None:
    found = ring(angular_speed=np.array([500.0, 6000.0]))
    assert found.swirl[0] > 500.0 * 0.075
    assert found.edge_torque[0] > 0
    assert found.swirl[1] < 6000.0 * 0.075
    assert found.edge_torque[1] < 0
    assert np.all(found.edge_dissipation > 0)


def test_swirl_is_continuous_where_the_edges_change_from_drag_to_drive() -> None:
    speed = np.linspace(1500.0, 5000.0, 20_001)
    found = ring(angular_speed=speed)
    assert np.sign(found.edge_torque[[0, -1]]).tolist() == [1.0, -1.0]
    assert np.abs(np.diff(found.swirl)).max() < 0.05


def test_a_taller_stack_loses_more_swirl_to_the_casing() -> None:
    # The area of the casing grows with the stack: common practice, no source.
    height = np.array([5e-3, 10e-3, 20e-3, 40e-3, 80e-3])
    found = ring(stack_height=height, edge_height=0.7 * height)
    assert np.all(np.diff(found.swirl) < 0)
    assert found.swirl[-1] < 0.65 * found.swirl[0]


def test_friction_changes_law_where_laminar_and_turbulent_cross() -> None:
    # 12/Re = 0.066 Re^-0.25 at Re = (12/0.066)^(4/3), about 1030 (laminar channel; Hirs 1973).
    crossing = (12 / 0.066) ** (4 / 3)
    assert_allclose(crossing, 1030, atol=0.1)
    factor = casing_friction_factor(reynolds=np.array([500.0, crossing, 4000.0]))
    assert_allclose(factor, [12 / 500.0, 12 / crossing, 0.066 * 4000.0**-0.25], rtol=1e-9)
    below, above = casing_friction_factor(reynolds=crossing * np.array([0.999, 1.001]))
    assert_allclose(below * 0.999, above * 1.001**0.25, rtol=1e-9)


def test_turbulent_friction_is_near_that_of_a_smooth_pipe_of_equal_hydraulic_diameter() -> None:
    # Blasius 1913: 0.0791 Re^-1/4 on the hydraulic diameter, twice the height; 1 % apart.
    found = casing_friction_factor(reynolds=np.array([3e3, 1e4, 5e4]))
    assert_allclose(found, 0.0791 * (2 * np.array([3e3, 1e4, 5e4])) ** -0.25, rtol=0.01)


def test_edges_that_overheat_a_small_flow_are_flagged() -> None:
    found = ring(mass_flow=np.array([0.012, 1e-5]), angular_speed=3000.0)
    assert found.churning.tolist() == [False, True]
    assert np.isfinite(found.swirl).all()


def entry(source: Ring, gap_flow: Any, gap: Any = 0.3e-3, thickness: Any = 1e-3) -> GapEntry:
    return enter_gap(
        fluid=AIR,
        ring=source,
        ring_pressure=PRESSURE,
        gap_flow=gap_flow,
        gap=gap,
        disc_thickness=thickness,
        rim_radius=0.075,
    )


def test_slow_entry_costs_the_dynamic_head_and_the_contraction() -> None:
    # Idelchik, ch. 4 (from memory): 0.5 (1 - area ratio) of the head behind the contraction, on top
    # of the head itself (Bernoulli).
    source = ring()
    found = entry(source, 0.3e-3)
    speed = 0.3e-3 / (2 * np.pi * 0.075 * 0.3e-3 * source.density)
    head = source.density * speed**2 / 2
    loss = 0.5 * (1 - 0.3 / 1.3)
    assert_allclose(found.radial_speed, speed, rtol=1e-3)
    assert_allclose(PRESSURE - found.pressure, (1 + loss) * head, rtol=2e-3)


def test_entry_keeps_total_enthalpy_and_mass() -> None:
    source = ring()
    found = entry(source, np.array([0.3e-3, 1e-3, 3e-3]))
    total = found.enthalpy + found.radial_speed**2 / 2 + source.swirl**2 / 2
    assert_allclose(total, source.total_enthalpy, rtol=1e-6)
    density = AIR.density(pressure=found.pressure, enthalpy=found.enthalpy)
    passed = 2 * np.pi * 0.075 * 0.3e-3 * density * found.radial_speed
    assert_allclose(passed, [0.3e-3, 1e-3, 3e-3], rtol=1e-5)


def test_entry_never_lowers_entropy() -> None:
    source = ring()
    gap, thickness = np.meshgrid([0.1e-3, 0.5e-3, 3e-3], [0.1e-3, 1e-3])
    found = entry(source, 5.0 * gap, gap, thickness)
    left = AIR.isentropic_enthalpy(
        pressure=found.pressure, enthalpy=found.enthalpy, end_pressure=1e5
    )
    before = AIR.isentropic_enthalpy(pressure=PRESSURE, enthalpy=source.enthalpy, end_pressure=1e5)
    assert np.all(left > before)


def test_a_contraction_that_cannot_pass_the_flow_is_nan_in_that_lane_only() -> None:
    with np.errstate(invalid="ignore"):
        found = entry(ring(), np.array([1e-3, 1.0]))
    assert np.isfinite(found.pressure).tolist() == [True, False]


def test_fluid_as_fast_as_the_discs_is_never_thrown_out() -> None:
    random = np.random.default_rng(6)
    n = 500
    lanes: dict[str, Any] = {
        "density": 10 ** random.uniform(-1, 3, n),
        "viscosity": 10 ** random.uniform(-5, -2, n),
        "inward_speed": 10 ** random.uniform(-2, 2, n),
        "gap": 10 ** random.uniform(-4, -2, n),
        "rim_radius": random.uniform(0.02, 0.3, n),
        "angular_speed": 10 ** random.uniform(0, 4, n),
    }
    rim = lanes["angular_speed"] * lanes["rim_radius"]
    assert not are_thrown_out(**lanes, swirl=rim * random.uniform(1, 5, n)).any()
    slow = are_thrown_out(**lanes, swirl=rim * random.uniform(0, 0.9, n))
    assert 0.1 < slow.mean() < 0.9
    # More inflow holds the fluid in.
    more = lanes | {"inward_speed": 100 * lanes["inward_speed"]}
    assert not (
        are_thrown_out(**more, swirl=0.5 * rim) & ~are_thrown_out(**lanes, swirl=0.5 * rim)
    ).any()


def test_near_the_limit_of_the_throw_the_layers_at_the_discs_flow_outward() -> None:
    # Laminar: a gap as wide as the radius, so that only the numbers matter. The resolved level sees
    # fluid move outward at the walls, and at thirty times the limit hardly finds a steady flow.
    nu, radius, random = 1e-6, 0.05, np.random.default_rng(8)
    ekman, swirl = random.uniform(4, 10, 24), random.uniform(0.3, 0.8, 24)
    omega = ekman**2 * nu / radius**2
    water = Liquid("water", 1e3, 1e12, 300.0, (np.log(1e-3),), 0.0)
    for throw, beyond in ((0.01, False), (0.5, False), (30.0, True)):
        speed = radius**3 * omega**2 * (1 - swirl**2) / nu
        speed /= throw * 300 * np.sqrt(np.maximum(ekman, 6))
        rim: dict[str, Any] = {
            "swirl": swirl * omega * radius,
            "gap": radius,
            "rim_radius": radius,
            "angular_speed": omega,
        }
        thrown = are_thrown_out(density=1e3, viscosity=1e-3, inward_speed=speed, **rim)
        assert (thrown == beyond).all()
        flow = resolved.march(
            fluid=water,
            rim_pressure=1e5,
            rim_enthalpy=0.0,
            rim_swirl=rim.pop("swirl"),
            mass_flow=2 * np.pi * radius * radius * speed * 1e3,
            bore_radius=radius * 0.4,
            **rim,
        )
        settled = np.mean(flow.settled)
        assert settled < 0.3 if beyond else settled > 0.9
        if not beyond:
            outward = np.mean(flow.wall_backflow_share > 0)
            assert outward > 0.9 if throw == 0.5 else outward < 0.2
