from typing import Any

import numpy as np
from numpy.testing import assert_allclose

from engine.fluids.by_name import gas
from engine.physics.flow.rim import GapEntry, are_thrown_out, enter_gap
from engine.physics.flow.ring import Ring, ring_around_discs
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
    "nozzle_count": 2.0,
    "casing_factor": 1.0,
    "filling_factor": 1.0,
    "exchange_factor": 1.0,
    "side_gap": 3e-3,
    "windage_factor": 1.0,
    "leakage": 0.3e-3,
    "seal_radius": 0.03,
    "back_pressure": 1e5,
}


def ring() -> Ring:
    return ring_around_discs(fluid=AIR, total_enthalpy=TOTAL, pressure=PRESSURE, **SIZES)


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
    assert 0.01 < slow.mean() < 0.9
    # More inflow holds the fluid in.
    more = lanes | {"inward_speed": 100 * lanes["inward_speed"]}
    assert not (
        are_thrown_out(**more, swirl=0.5 * rim) & ~are_thrown_out(**lanes, swirl=0.5 * rim)
    ).any()


def test_near_the_limit_of_the_throw_the_layers_at_the_discs_flow_outward() -> None:
    # Laminar: a gap as wide as the radius, so that only the numbers matter.
    nu, radius, random = 1e-6, 0.05, np.random.default_rng(8)
    ekman, swirl = random.uniform(14.5, 18, 6), random.uniform(0.4, 0.8, 6)
    omega = ekman**2 * nu / radius**2
    water = Liquid("water", 1e3, 1e12, 300.0, (np.log(1e-3),), 0.0)
    for throw, beyond in ((60.0, False), (2000.0, False), (7000.0, True)):
        speed = radius**3 * omega**2 * (1 - swirl**2) / nu / throw
        rim: dict[str, Any] = {
            "swirl": swirl * omega * radius,
            "gap": radius,
            "rim_radius": radius,
            "angular_speed": omega,
        }
        thrown = are_thrown_out(density=1e3, viscosity=1e-3, inward_speed=speed, **rim)
        assert (thrown == beyond).all()
        # In narrower gaps, and in turbulent ones, the averaged level follows what is thrown out.
        rim["gap"] = radius * 0.5
        assert not are_thrown_out(density=1e3, viscosity=1e-3, inward_speed=speed, **rim).any()
        rim["gap"] = radius
        if throw == 2000:
            continue
        flow = resolved.march(
            fluid=water,
            rim_pressure=1e5,
            rim_enthalpy=0.0,
            rim_swirl=rim.pop("swirl"),
            mass_flow=2 * np.pi * radius * radius * speed * 1e3,
            bore_radius=radius * 0.4,
            **rim,
        )
        # Far below the limit nothing flows outward; beyond it hardly any steady flow is found.
        if beyond:
            assert flow.settled.mean() < 0.5
        else:
            assert flow.settled.all()
            assert (flow.wall_backflow_share == 0).all()
