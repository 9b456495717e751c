from typing import Any

import numpy as np
from numpy.testing import assert_allclose

from engine.fluids.by_name import gas
from engine.physics.flow.rim import GapEntry, enter_gap
from engine.physics.flow.ring import Ring, ring_around_discs

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
