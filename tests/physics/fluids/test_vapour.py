"""Vapour tables against direct calls, IAPWS-IF97, a second implementation and handbook flows."""

from functools import cache

import numpy as np
import pytest
from iapws import IAPWS97
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.fluids.by_name import VapourSupply, vapour_supply
from engine.fluids.coolprop import Point, RealFluid
from engine.fluids.vapour_table import TableError, table_error, vapour_table
from engine.physics.flow.nozzle import isentropic_flux
from engine.physics.fluids.vapour import dilute_viscosity
from engine.physics.fluids.vapour_kernel import Line

BAR, ATMOSPHERE = 1e5, 101_325.0
SUPPLIES: dict[str, tuple[str, float, float, dict[str, float]]] = {
    "steam, saturated": ("steam", 6 * BAR, ATMOSPHERE, {"quality": 1.0}),
    "steam, wet": ("steam", 6 * BAR, ATMOSPHERE, {"quality": 0.3}),
    "steam, superheated, to a vacuum": ("steam", 10 * BAR, 0.1 * BAR, {"superheat": 80.0}),
    "steam, 40 bar": ("steam", 40 * BAR, ATMOSPHERE, {"temperature": 650.0}),
    "R245fa": ("R245fa", 10 * BAR, 2 * BAR, {"quality": 1.0}),
    "isobutane": ("IsoButane", 15 * BAR, 4 * BAR, {"superheat": 10.0}),
    "R1233zd(E)": ("R1233zd(E)", 10 * BAR, 1.5 * BAR, {"superheat": 5.0}),
    "R245fa near its critical point": ("R245fa", 30 * BAR, 2 * BAR, {"superheat": 5.0}),
    "argon": ("Argon", 8 * BAR, ATMOSPHERE, {"temperature": 293.15}),
    "helium above its critical pressure": ("Helium", 8 * BAR, ATMOSPHERE, {"temperature": 293.15}),
    "warm carbon dioxide": ("CarbonDioxide", 8 * BAR, ATMOSPHERE, {"temperature": 400.0}),
}
WITH_DOME = [key for key in SUPPLIES if key not in list(SUPPLIES)[-2:]]
Lanes = NDArray[np.float64]


@cache
def supplied(case: str) -> VapourSupply:
    name, pressure, back, state = SUPPLIES[case]
    return vapour_supply(name, pressure=pressure, back_pressure=back, **state)


def direct(case: str) -> RealFluid:
    name = SUPPLIES[case][0]
    return RealFluid({"steam": "Water"}.get(name, name))


def used(case: str, n_states: int = 200) -> tuple[Lanes, Lanes]:
    """States between supply and exhaust: from the supply's isentrope to as hot as the supply."""
    supply, spread = supplied(case), np.random.default_rng(3).uniform(size=(2, n_states))
    _, high, back, _ = SUPPLIES[case]
    pressure = back * (high / back) ** spread[0]
    least = supply.fluid.isentropic_enthalpy(
        pressure=high, enthalpy=supply.enthalpy, end_pressure=pressure
    )
    return pressure, least + (supply.enthalpy - least) * spread[1]


def points(case: str, pressure: Lanes, enthalpy: Lanes) -> list[Point]:
    fluid = direct(case)
    return [fluid.at("ph", p, h) for p, h in zip(pressure, enthalpy, strict=True)]


@pytest.mark.parametrize("case", SUPPLIES)
def test_the_table_is_within_a_thousandth_of_direct_calls_over_the_used_range(case: str) -> None:
    # Required: 0.1 % on density, temperature, speed of sound away from the dome, 0.5 % across it.
    pressure, enthalpy = used(case)
    fluid, true = supplied(case).fluid, points(case, pressure, enthalpy)
    state = fluid.state(pressure=pressure, enthalpy=enthalpy)
    temperature = fluid.temperature(pressure=pressure, enthalpy=enthalpy)
    assert_allclose(state.density, [p.density for p in true], rtol=1e-3)
    assert_allclose(temperature, [p.temperature for p in true], rtol=1e-3)
    dry = np.array([not p.is_wet for p in true])
    sound = np.array([p.sound_speed for p in true])
    viscosity = np.array([p.viscosity for p in true])
    assert_allclose(state.sound_speed[dry], sound[dry], rtol=1e-3)
    assert_allclose(state.viscosity[dry], viscosity[dry], rtol=1e-3)


@pytest.mark.parametrize("case", WITH_DOME)
def test_just_below_and_above_the_dew_line_the_table_is_within_half_a_percent(case: str) -> None:
    fluid, real = supplied(case).fluid, direct(case)
    _, high, back, _ = SUPPLIES[case]
    for p in np.geomspace(back, high, 9):
        dew = real.at("pq", p, 1)
        for off in (-2000.0, -20.0, 20.0, 2000.0):
            h = dew.enthalpy + off
            true = real.at("ph", p, h)
            assert_allclose(fluid.density(pressure=p, enthalpy=h), true.density, rtol=5e-3)
            assert_allclose(fluid.temperature(pressure=p, enthalpy=h), true.temperature, rtol=5e-3)
            if off > 0:
                sound = fluid.sound_speed(pressure=p, enthalpy=h)
                assert_allclose(sound, true.sound_speed, rtol=5e-3)


def test_the_check_made_with_every_table_sees_a_wrong_one() -> None:
    supply = supplied("R245fa")
    fluid = direct("R245fa")
    assert table_error(fluid, supply.fluid.table) < 2e-4
    supply.fluid.table.dry[0] *= 1.002
    try:
        assert table_error(fluid, supply.fluid.table) > 1.5e-3
    finally:
        supply.fluid.table.dry[0] /= 1.002


# T [K], p [MPa], v [m3/kg], h, s [kJ/kg, kJ/(kg K)], speed of sound [m/s]: IAPWS-IF97 (2007),
# table 15, region 2 (from memory).
IF97_REGION_2 = [
    (300.0, 0.0035, 0.394913866e2, 0.254991145e4, 0.852238967e1, 0.427920172e3),
    (700.0, 0.0035, 0.923015898e2, 0.333568375e4, 0.101749996e2, 0.644289068e3),
]


@pytest.mark.parametrize("row", IF97_REGION_2, ids=lambda row: f"{row[0]} K")
def test_steam_is_that_of_the_verification_table_of_if97(
    row: tuple[float, ...],
) -> None:
    t, p, v, h, s, w = row
    # CoolProp holds IAPWS-95; the two formulations differ by up to some 0.02 % here.
    supply = vapour_supply("steam", pressure=1e5, back_pressure=3e3, temperature=720.0)
    state = supply.fluid.state(pressure=p * 1e6, enthalpy=h * 1e3)
    assert_allclose(1 / state.density, v, rtol=3e-4)
    assert_allclose(state.sound_speed, w, rtol=3e-4)
    assert_allclose(supply.fluid.temperature(pressure=p * 1e6, enthalpy=h * 1e3), t, rtol=2e-4)
    assert_allclose(supply.fluid.entropy(pressure=p * 1e6, enthalpy=h * 1e3), s * 1e3, rtol=2e-4)


# p [bar]: T [°C], boiling and dew enthalpy [kJ/kg], dew entropy, dew volume; computed with the
# iapws library (IF97).
SATURATED = [
    (1.01325, 99.974, 418.99, 2675.53, 7.3544, 1.6733),
    (2.0, 120.212, 504.68, 2706.24, 7.1269, 0.88574),
    (5.0, 151.836, 640.19, 2748.11, 6.8206, 0.37480),
    (6.0, 158.832, 670.50, 2756.14, 6.7592, 0.31558),
]


@pytest.mark.parametrize("row", SATURATED, ids=lambda row: f"{row[0]} bar")
def test_saturated_steam_is_that_of_if97(row: tuple[float, ...]) -> None:
    bar, celsius, boiling, dew, entropy, volume = row
    fluid, p, h = supplied("steam, saturated").fluid, bar * 1e5, dew * 1e3
    wet = h - 1e3  # just below the dew line: boiling temperature
    assert_allclose(fluid.temperature(pressure=p, enthalpy=wet) - 273.15, celsius, atol=0.02)
    latent = (dew - boiling) * 1e3
    assert_allclose(fluid.quality(pressure=p, enthalpy=wet), 1 - 1e3 / latent, atol=2e-4)
    assert_allclose(fluid.entropy(pressure=p, enthalpy=h), entropy * 1e3, rtol=2e-4)
    assert_allclose(1 / fluid.density(pressure=p, enthalpy=h), volume, rtol=5e-4)


@pytest.mark.parametrize("bar", [1.1, 3.0, 5.9])
@pytest.mark.parametrize("quality", [0.85, 0.95, 0.999])
def test_wet_steam_agrees_with_the_iapws_package(bar: float, quality: float) -> None:
    theirs = IAPWS97(P=bar / 10, x=quality)
    ours, at = supplied("steam, saturated").fluid, {"pressure": bar * 1e5}
    h = theirs.h * 1e3
    assert_allclose(ours.density(**at, enthalpy=h), theirs.rho, rtol=1e-3)
    assert_allclose(ours.temperature(**at, enthalpy=h), theirs.T, rtol=1e-4)
    assert_allclose(ours.quality(**at, enthalpy=h), quality, atol=3e-4)
    assert_allclose(ours.entropy(**at, enthalpy=h), theirs.s * 1e3, rtol=2e-4)


@pytest.mark.parametrize("bar", [1.1, 4.0, 9.0])
@pytest.mark.parametrize("superheat", [5.0, 40.0, 100.0])
def test_superheated_steam_agrees_with_the_iapws_package(bar: float, superheat: float) -> None:
    boiling = IAPWS97(P=bar / 10, x=1.0).T
    theirs = IAPWS97(P=bar / 10, T=boiling + superheat)
    ours = supplied("steam, superheated, to a vacuum").fluid
    at = {"pressure": bar * 1e5, "enthalpy": theirs.h * 1e3}
    state = ours.state(**at)
    assert_allclose(ours.temperature(**at), theirs.T, rtol=3e-4)
    assert_allclose(state.density, theirs.rho, rtol=1e-3)
    assert_allclose(state.sound_speed, theirs.w, rtol=1e-3)
    assert_allclose(state.viscosity, theirs.mu, rtol=5e-3)


@pytest.mark.parametrize("case", SUPPLIES)
def test_derivatives_of_density_are_its_differences(case: str) -> None:
    # Derivatives and density are separate series: they agree as well as the table is accurate.
    pressure, enthalpy = used(case)
    fluid = supplied(case).fluid
    state = fluid.state(pressure=pressure, enthalpy=enthalpy)

    def density(dp: float, dh: float) -> Lanes:
        return fluid.density(pressure=pressure * (1 + dp), enthalpy=enthalpy + dh)

    by_pressure = (density(1e-5, 0) - density(-1e-5, 0)) / (2e-5 * pressure)
    by_enthalpy = (density(0, 5) - density(0, -5)) / 10
    # A difference across the dew line mixes both sides: one state in a hundred may lie there.
    for found, expected in ((state.by_pressure, by_pressure), (state.by_enthalpy, by_enthalpy)):
        close = np.isclose(found, expected, rtol=2e-3)
        assert close.mean() > 0.98


@pytest.mark.parametrize("case", WITH_DOME)
def test_speed_of_sound_is_the_derivative_of_pressure_along_an_isentrope(case: str) -> None:
    # Also in the wet region, where CoolProp gives none: full equilibrium.
    pressure, enthalpy = used(case)
    fluid = supplied(case).fluid
    up, down = pressure * (1 + 1e-5), pressure * (1 - 1e-5)
    densities = [
        fluid.density(
            pressure=end,
            enthalpy=fluid.isentropic_enthalpy(
                pressure=pressure, enthalpy=enthalpy, end_pressure=end
            ),
        )
        for end in (up, down)
    ]
    expected = np.sqrt((up - down) / (densities[0] - densities[1]))
    found = fluid.sound_speed(pressure=pressure, enthalpy=enthalpy)
    assert np.isclose(found, expected, rtol=3e-3).mean() > 0.97


@pytest.mark.parametrize("case", SUPPLIES)
def test_isentropic_ends_are_those_of_direct_calls(case: str) -> None:
    supply, real = supplied(case), direct(case)
    _, high, back, _ = SUPPLIES[case]
    ends = np.geomspace(back, high, 12)
    found = supply.fluid.isentropic_enthalpy(
        pressure=high, enthalpy=supply.enthalpy, end_pressure=ends
    )
    entropy = real.at("ph", high, supply.enthalpy).entropy
    true = np.array([real.at("ps", p, entropy).enthalpy for p in ends])
    drop = true[-1] - true[0]
    assert_allclose(found, true, atol=3e-4 * drop)


@pytest.mark.parametrize("case", SUPPLIES)
def test_choking_is_where_the_flux_of_direct_calls_is_largest(case: str) -> None:
    supply, real = supplied(case), direct(case)
    _, high, back, _ = SUPPLIES[case]
    entropy = real.at("ph", high, supply.enthalpy).entropy
    best = 0.0
    for p in np.linspace(max(0.42 * high, back), 0.95 * high, 400):
        end = real.at("ps", p, entropy)
        best = max(best, end.density * np.sqrt(2 * (supply.enthalpy - end.enthalpy)))
    found = isentropic_flux(
        fluid=supply.fluid, pressure=high, enthalpy=supply.enthalpy, back_pressure=back
    )
    assert_allclose(found, best, rtol=5e-4)


@pytest.mark.parametrize("case", SUPPLIES)
def test_a_throat_passes_the_largest_flux_on_the_way_to_the_pressure_behind(case: str) -> None:
    # Also where vapour turns wet on the way, and just on either side of choking.
    supply, high = supplied(case), SUPPLIES[case][1]
    behind = high * np.linspace(1, max(0.42, SUPPLIES[case][2] / high), 2000)
    end = supply.fluid.isentropic_enthalpy(
        pressure=high, enthalpy=supply.enthalpy, end_pressure=behind
    )
    density = supply.fluid.density(pressure=behind, enthalpy=end)
    passing = density * np.sqrt(2 * np.maximum(supply.enthalpy - end, 0.0))
    found = isentropic_flux(
        fluid=supply.fluid, pressure=high, enthalpy=supply.enthalpy, back_pressure=behind
    )
    assert_allclose(found, np.maximum.accumulate(passing), rtol=2e-5)


@pytest.mark.parametrize("bar", [3.0, 6.0, 11.0])
def test_critical_ratio_of_steam_is_the_handbooks(bar: float) -> None:
    # Zeuner: 0.577 for dry saturated steam, 0.546 superheated (Stodola, Steam and Gas Turbines,
    # 1927; from memory).
    for state, ratio in (({"quality": 1.0}, 0.577), ({"superheat": 60.0}, 0.546)):
        supply = vapour_supply("steam", pressure=bar * BAR, back_pressure=ATMOSPHERE, **state)
        found = supply.fluid.critical_pressure(pressure=bar * BAR, enthalpy=supply.enthalpy)
        assert_allclose(found / (bar * BAR), ratio, atol=0.003)


# Steam relief: W = 51.5 A P K [lb/h, in2, psia]; K is 1 for dry saturated steam and falls with
# superheat: API Standard 520 part I, table of superheat correction factors, 100 psig at 400, 500
# and 600 °F (from memory). The coefficient is Napier's, 3600 / 70.
RELIEF = [(None, 1.0), (400.0, 0.99), (500.0, 0.94), (600.0, 0.89)]


@pytest.mark.parametrize(("fahrenheit", "factor"), RELIEF)
def test_choked_steam_flow_is_that_of_the_relief_valve_formula(
    fahrenheit: float | None, factor: float
) -> None:
    pressure = (100 + 14.696) * 6894.757
    state = (
        {"quality": 1.0}
        if fahrenheit is None
        else {"temperature": (fahrenheit - 32) / 1.8 + 273.15}
    )
    supply = vapour_supply("steam", pressure=pressure, back_pressure=ATMOSPHERE, **state)
    flux = isentropic_flux(
        fluid=supply.fluid, pressure=pressure, enthalpy=supply.enthalpy, back_pressure=ATMOSPHERE
    )
    coefficient = 51.5 * 0.45359237 / 3600 / 0.0254**2 / 6894.757
    assert_allclose(flux, coefficient * factor * pressure, rtol=0.015)


def test_outside_the_table_every_property_is_nan_in_that_lane_only() -> None:
    supply = supplied("steam, saturated")
    top = supply.fluid.table.top_enthalpy[0]
    pressure = np.array([6 * BAR, 1e3, 9 * BAR, 6 * BAR, 6 * BAR, np.nan, -1.0, 2 * BAR])
    enthalpy = np.full(8, supply.enthalpy)
    enthalpy[3:5] = top + 10.0, 1e5
    inside = [True, False, False, False, False, False, False, True]
    for found in (
        supply.fluid.temperature(pressure=pressure, enthalpy=enthalpy),
        supply.fluid.density(pressure=pressure, enthalpy=enthalpy),
        supply.fluid.viscosity(pressure=pressure, enthalpy=enthalpy),
        supply.fluid.sound_speed(pressure=pressure, enthalpy=enthalpy),
        supply.fluid.quality(pressure=pressure, enthalpy=enthalpy),
        supply.fluid.isentropic_enthalpy(
            pressure=pressure, enthalpy=enthalpy, end_pressure=1.5 * BAR
        ),
    ):
        assert np.isfinite(found).tolist() == inside


def test_shape_of_the_states_is_kept() -> None:
    fluid, h = supplied("steam, saturated").fluid, supplied("steam, saturated").enthalpy
    assert fluid.density(pressure=5e5, enthalpy=h).shape == ()
    column = fluid.state(pressure=np.full((3, 1), 5e5), enthalpy=np.full((1, 2), h))
    assert column.density.shape == column.sound_speed.shape == (3, 2)


def test_viscosity_of_wet_steam_lies_between_its_shares_by_the_rule_of_mcadams() -> None:
    fluid, real = supplied("steam, wet").fluid, direct("steam, wet")
    boiling, dew = real.at("pq", 3e5, 0), real.at("pq", 3e5, 1)
    x = np.array([0.2, 0.5, 0.9])
    found = fluid.viscosity(
        pressure=3e5, enthalpy=boiling.enthalpy + x * (dew.enthalpy - boiling.enthalpy)
    )
    assert_allclose(1 / found, x / dew.viscosity + (1 - x) / boiling.viscosity, rtol=1e-4)


@pytest.mark.parametrize(
    ("name", "error"),
    [
        ("R245fa", 0.11),
        ("IsoButane", 0.04),
        ("n-Pentane", 0.04),
        ("R134a", 0.04),
        ("Nitrogen", 0.04),
    ],
)
def test_viscosity_by_corresponding_states_is_near_the_measured_one(
    name: str, error: float
) -> None:
    # CoolProp holds published correlations of measurements. R245fa is strongly polar.
    fluid = RealFluid(name)
    t = 0.85 * fluid.critical_temperature
    thin = fluid.at("pT", 2e4, t)
    found = dilute_viscosity(temperature=t, **fluid.for_corresponding_states)
    assert_allclose(found, thin.viscosity, rtol=error)


def test_a_fluid_without_measured_viscosity_gets_one() -> None:
    supply = supplied("R1233zd(E)")
    found = supply.fluid.viscosity(pressure=10 * BAR, enthalpy=supply.enthalpy)
    assert 1e-5 < found < 2e-5


@pytest.mark.parametrize("case", list(SUPPLIES)[-2:])
def test_a_table_without_a_wet_region_has_no_wet_states(case: str) -> None:
    supply = supplied(case)
    assert np.isnan(supply.fluid.table.along[Line.TEMPERATURE :]).all()
    pressure, enthalpy = used(case)
    assert np.all(supply.fluid.quality(pressure=pressure, enthalpy=enthalpy) == 1)


def test_an_expansion_across_the_critical_point_gets_no_table() -> None:
    fluid = RealFluid("CarbonDioxide")
    dense = fluid.at("pT", 80e5, 310.0)
    with pytest.raises(TableError, match="freeze as it expands, or condense"):
        vapour_table(fluid, pressure=80e5, enthalpy=dense.enthalpy, back_pressure=10e5)
