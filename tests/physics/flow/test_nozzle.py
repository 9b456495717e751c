from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.fluids.by_name import gas
from engine.fluids.gas_fit import chebyshev_nodes, fit_gas
from engine.physics.arrays import Array
from engine.physics.flow.nozzle import (
    Jet,
    Nozzle,
    isentropic_flux,
    jet_from_nozzle,
    nozzle_from_supply,
)
from engine.physics.fluids.gas import Gas

R, K, T0, P0 = 287.05, 1.4, 293.15, 6e5
AREA = 1e-6

# NACA Report 1135, table II (isentropic flow, ratio of specific heats 1.4); six digits computed
# from its equations 44, 80 and 50: Mach, p/p0, A/A*, V/a*.
TABLE = np.array(
    [
        [0.5, 0.843019, 1.339844, 0.534522],
        [1.0, 0.528282, 1.000000, 1.000000],
        [1.5, 0.272403, 1.176167, 1.364576],
        [2.0, 0.127805, 1.687500, 1.632993],
    ]
)
CRITICAL_SPEED = np.sqrt(2 * K / (K + 1) * R * T0)
BEHIND_SHOCK = 2.458333
"""Pressure across a normal shock at Mach 1.5 (NACA Report 1135, table II)."""


@pytest.fixture(scope="module")
def perfect() -> Gas:
    nodes = chebyshev_nodes(64)
    cp = np.full_like(nodes, R * K / (K - 1))
    return fit_gas(
        name="perfect",
        gas_constant=R,
        temperature=nodes,
        heat_capacity=cp,
        viscosity=np.full_like(nodes, 1.8e-5),
    )


def nozzle(fluid: Gas, area_ratio: Array = 1.0, p0: Array = P0) -> Nozzle:
    h0 = fluid.enthalpy(pressure=p0, temperature=T0)
    return nozzle_from_supply(fluid=fluid, pressure=p0, enthalpy=h0, area_ratio=area_ratio)


def jet(fluid: Gas, source: Nozzle, behind: Array, **changes: Any) -> Jet:
    values = {"discharge_coefficient": 1.0, "velocity_coefficient": 1.0, "throat_area": AREA}
    return jet_from_nozzle(
        fluid=fluid, nozzle=source, back_pressure=behind, **{**values, **changes}
    )


def isentropic_speed(behind: Array) -> NDArray[np.float64]:
    cp = R * K / (K - 1)
    return np.asarray(np.sqrt(2 * cp * T0 * (1 - (behind / P0) ** ((K - 1) / K))))


def test_speed_against_pressure_is_that_of_the_table(perfect: Gas) -> None:
    subsonic = TABLE[:2]
    found = jet(perfect, nozzle(perfect), P0 * subsonic[:, 1])
    assert_allclose(found.speed / CRITICAL_SPEED, subsonic[:, 3], rtol=2e-6)


def test_flow_below_choking_is_choked_flow_over_the_tables_area_ratio(perfect: Gas) -> None:
    flow = jet(perfect, nozzle(perfect), P0 * TABLE[:2, 1]).mass_flow
    assert_allclose(flow[1] / flow[0], 1.339844, rtol=4e-6)


def test_full_flowing_exits_are_the_tables_supersonic_rows(perfect: Gas) -> None:
    rows = TABLE[2:]
    made = nozzle(perfect, rows[:, 2])
    assert_allclose(made.exit_pressure / P0, rows[:, 1], rtol=1e-5)
    assert_allclose(made.exit_speed / CRITICAL_SPEED, rows[:, 3], rtol=3e-6)
    found = jet(perfect, made, made.exit_pressure)
    assert_allclose(found.speed, made.exit_speed, rtol=1e-12)


def test_choked_flow_is_the_constant_of_a_perfect_gas(perfect: Gas) -> None:
    # sqrt(k/R (2/(k+1))^((k+1)/(k-1))) = 0.0404149 for air, NACA Report 1135; at 6 bar absolute,
    # 293.15 K and 1 mm2 that is 1.41628 g/s (worked by hand).
    found = jet(perfect, nozzle(perfect), 1e5)
    assert_allclose(found.mass_flow / (P0 * AREA / np.sqrt(T0)), 0.0404149, rtol=2e-6)
    assert_allclose(found.mass_flow, 1.41628e-3, rtol=4e-6)
    assert bool(found.choked)


@pytest.mark.parametrize(
    ("bar", "function"), [(1, 0.685128), (5, 0.686273), (8, 0.687131), (10, 0.687702)]
)
def test_choked_air_keeps_within_the_stated_error_of_the_critical_flow_function(
    bar: float, function: float
) -> None:
    # ISO 9300 tabulates this function; values computed from Lemmon et al. 2000 at 293.15 K.
    air, p0 = gas("air"), bar * 1e5
    flow = jet(air, nozzle(air, p0=p0), 0.1 * p0).mass_flow
    found = flow * np.sqrt(air.gas_constant * T0) / (p0 * AREA)
    assert_allclose(found, function, rtol=2e-4)


def test_choked_flux_of_real_cold_air_is_found_by_maximising_over_the_isentrope() -> None:
    # Independent of the critical-pressure formula: largest density * speed along CoolProp's
    # isentrope, at a pressure where air is ideal.
    air, p0 = gas("air"), 1e4
    entropy, h0 = (PropsSI(name, "P", p0, "T", T0, "Air") for name in ("SMASS", "HMASS"))
    p = p0 * np.linspace(0.5, 0.56, 61)
    flux = [
        PropsSI("DMASS", "P", x, "SMASS", entropy, "Air")
        * np.sqrt(2 * (h0 - PropsSI("HMASS", "P", x, "SMASS", entropy, "Air")))
        for x in p
    ]
    assert_allclose(nozzle(air, p0=p0).choked_flux, max(flux), rtol=1e-4)


def test_a_choked_convergent_jet_gains_the_momentum_of_the_remaining_pressure(
    perfect: Gas,
) -> None:
    # Momentum of the stream over a control volume: m V = m V* + (p* - p1) A.
    behind = 1e5
    found = jet(perfect, nozzle(perfect), behind)
    gained = (P0 * 0.528282 - behind) * AREA / found.mass_flow
    assert_allclose(found.speed, CRITICAL_SPEED + gained, rtol=1e-6)


@pytest.mark.parametrize("area_ratio", [1.0, 1.176167, 1.6875])
def test_speed_and_flow_are_continuous_over_the_pressure_behind(
    perfect: Gas, area_ratio: float
) -> None:
    behind = np.linspace(0.02, 0.999999, 200_001) * P0
    found = jet(perfect, nozzle(perfect, area_ratio), behind)
    keep = np.isfinite(found.speed)
    assert keep.mean() > 0.9
    jumps = np.abs(np.diff(found.speed[keep & (behind < 0.99 * P0)]))
    assert jumps.max() < 0.1
    assert np.abs(np.diff(found.mass_flow[keep & (behind < 0.99 * P0)])).max() < 2e-7


def shock_in_nozzle_speed(behind: float, area_ratio: float) -> float:
    """Exit speed with a shock somewhere in the divergent part, by area and shock relations."""

    def area(mach: float) -> float:
        return float((1 + 0.2 * mach**2) ** 3 / (1.728 * mach))

    def total_ratio(mach: float) -> float:
        # Total pressure across a normal shock, NACA Report 1135, eq. 99.
        strength = 6 * mach**2 / (mach**2 + 5)
        return float(strength**3.5 * (6 / (7 * mach**2 - 1)) ** 2.5)

    def exit_mach(shock: float) -> float:
        loss = total_ratio(shock)
        return float(brentq(lambda m: area(m) - area_ratio * loss, 1e-3, 1.0))

    def off(shock: float) -> float:
        mach = exit_mach(shock)
        return float(total_ratio(shock) * (1 + 0.2 * mach**2) ** -3.5 - behind / P0)

    full = brentq(lambda m: area(m) - area_ratio, 1.0, 5.0)
    mach = exit_mach(brentq(off, 1.0 + 1e-9, full))
    return float(mach * np.sqrt(K * R * T0 / (1 + 0.2 * mach**2)))


def test_a_shock_inside_the_nozzle_leaves_the_speed_of_the_shock_relations(
    perfect: Gas,
) -> None:
    # Independent: shock position found by brentq from NACA Report 1135, eqs. 80, 93 and 99.
    area_ratio = 1.176167
    at_exit = 0.272403 * BEHIND_SHOCK
    behind = np.linspace(at_exit + 1e-4, 0.77, 6) * P0
    found = jet(perfect, nozzle(perfect, area_ratio), behind).speed
    expected = [shock_in_nozzle_speed(float(p), area_ratio) for p in behind]
    assert_allclose(found, expected, rtol=1e-5)


def test_shock_and_thrust_give_the_same_speed_with_the_shock_in_the_exit_plane(
    perfect: Gas,
) -> None:
    # Normal shock at Mach 1.5: p2/p1 = 2.458333, u2/u1 = 0.537037 (NACA Report 1135, table II).
    made = nozzle(perfect, 1.176167)
    switch = made.exit_pressure * BEHIND_SHOCK
    assert_allclose(jet(perfect, made, switch).speed, made.exit_speed * 0.537037, rtol=1e-5)
    by_thrust = made.exit_speed + (made.exit_pressure - switch) * 1.176167 / made.choked_flux
    assert_allclose(jet(perfect, made, switch).speed, by_thrust, rtol=1e-5)
    # Thrust alone falls off faster on the side of the shock.
    above = 1.05 * switch
    by_thrust = made.exit_speed + (made.exit_pressure - above) * 1.176167 / made.choked_flux
    assert jet(perfect, made, above).speed > by_thrust + 0.5


@pytest.mark.parametrize("area_ratio", [1.0, 1.05, 1.176167, 1.6875, 3.0])
def test_no_nozzle_gives_more_speed_than_the_isentropic_one_to_the_same_pressure(
    perfect: Gas, area_ratio: float
) -> None:
    behind = np.linspace(0.06, 0.999, 2000) * P0
    found = jet(perfect, nozzle(perfect, area_ratio), behind)
    assert np.all(found.speed <= isentropic_speed(behind) * (1 + 1e-6))


def test_over_expansion_lowers_the_speed_below_the_isentropic_one(
    perfect: Gas,
) -> None:
    # With the shock in the exit plane the loss is that of the shock: u2 over the isentropic speed
    # to p2, from NACA Report 1135, table II at Mach 1.5.
    made = nozzle(perfect, 1.176167)
    behind = made.exit_pressure * BEHIND_SHOCK
    share = 0.537037 * 1.364576 * CRITICAL_SPEED / isentropic_speed(behind)
    assert_allclose(jet(perfect, made, behind).speed / isentropic_speed(behind), share, rtol=1e-5)
    assert share < 0.95


def test_coefficients_scale_flow_and_speed_and_conserve_energy(perfect: Gas) -> None:
    made = nozzle(perfect)
    full = jet(perfect, made, 2e5)
    real = jet(perfect, made, 2e5, discharge_coefficient=0.9, velocity_coefficient=0.95)
    assert_allclose(real.mass_flow / full.mass_flow, 0.9, rtol=1e-12)
    assert_allclose(real.speed / full.speed, 0.95, rtol=1e-12)
    assert_allclose(real.enthalpy + real.speed**2 / 2, made.stagnation_enthalpy, rtol=1e-12)


def test_no_pressure_drop_gives_no_flow_and_no_speed(perfect: Gas) -> None:
    found = jet(perfect, nozzle(perfect), P0 * np.array([1.0, 1.5]))
    assert found.mass_flow.tolist() == [0.0, 0.0]
    assert found.speed.tolist() == [0.0, 0.0]
    h0 = perfect.enthalpy(pressure=P0, temperature=T0)
    assert isentropic_flux(fluid=perfect, pressure=P0, enthalpy=h0, back_pressure=2 * P0) == 0.0


def test_a_throttle_passes_what_a_convergent_nozzle_passes(perfect: Gas) -> None:
    behind = np.linspace(0.1, 0.95, 30) * P0
    h0 = perfect.enthalpy(pressure=P0, temperature=T0)
    flux = isentropic_flux(fluid=perfect, pressure=P0, enthalpy=h0, back_pressure=behind)
    assert_allclose(flux * AREA, jet(perfect, nozzle(perfect), behind).mass_flow, rtol=1e-12)


def test_an_area_ratio_below_one_is_nan_in_that_lane_only(perfect: Gas) -> None:
    made = nozzle(perfect, np.array([0.9, 1.0, 1.3]))
    assert np.isfinite(made.choked_flux).tolist() == [False, True, True]
    assert np.isfinite(made.exit_speed).tolist() == [False, True, True]
