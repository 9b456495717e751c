import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.fluids.gas_fit import chebyshev_nodes, fit_gas
from engine.physics.fluids.gas import Gas

COOLPROP = [("air", "Air"), ("nitrogen", "Nitrogen")]
THIN = 1e4
"""A pressure at which the real gas is ideal within a few hundredths of a percent [Pa]."""


def perfect_gas(*, gas_constant: float = 287.05, ratio: float = 1.4) -> Gas:
    nodes = chebyshev_nodes(64)
    cp = np.full_like(nodes, gas_constant * ratio / (ratio - 1))
    return fit_gas(
        name="perfect",
        gas_constant=gas_constant,
        temperature=nodes,
        heat_capacity=cp,
        viscosity=np.full_like(nodes, 1.8e-5),
    )


@pytest.mark.parametrize(("name", "theirs"), COOLPROP)
def test_enthalpy_between_two_temperatures_is_the_integral_of_coolprops_cp0(
    name: str, theirs: str
) -> None:
    fluid = gas(name)
    points, weights = np.polynomial.legendre.leggauss(60)
    for low, high in ((150.0, 293.15), (293.15, 500.0), (500.0, 740.0)):
        t = (low + high) / 2 + (high - low) / 2 * points
        cp0 = PropsSI("CP0MASS", "T", t, "P", THIN, theirs)
        rise = fluid.enthalpy(pressure=0.0, temperature=np.array([low, high]))
        assert_allclose(np.diff(rise), (high - low) / 2 * np.sum(weights * cp0), rtol=5e-6)


@pytest.mark.parametrize(("name", "theirs"), COOLPROP)
def test_viscosity_at_low_pressure_is_coolprops(name: str, theirs: str) -> None:
    # Lemmon and Jacobsen 2004 through CoolProp; the fit has nine coefficients.
    fluid, t = gas(name), np.linspace(130.0, 740.0, 62)
    h = fluid.enthalpy(pressure=THIN, temperature=t)
    found = fluid.viscosity(pressure=THIN, enthalpy=h)
    assert_allclose(found, PropsSI("VISCOSITY", "T", t, "P", THIN, theirs), rtol=6e-4)


def test_room_air_has_the_published_density_sound_speed_and_viscosity() -> None:
    # Lemmon et al. 2000, Lemmon and Jacobsen 2004, computed with CoolProp 8: at 293.15 K and
    # 101325 Pa 1.20458 kg/m3, 343.344 m/s, 1.82057e-5 Pa s.
    air, state = gas("air"), {"pressure": 101325.0}
    h = air.enthalpy(**state, temperature=293.15)
    assert_allclose(air.density(**state, enthalpy=h), 1.20458, rtol=2e-5)
    assert_allclose(air.sound_speed(**state, enthalpy=h), 343.344, rtol=2e-5)
    assert_allclose(air.viscosity(**state, enthalpy=h), 1.82057e-5, rtol=2e-4)


@pytest.mark.parametrize(
    ("t", "p", "density", "sound", "viscosity"),
    [
        (300.0, 101_325.0, 1.17700, 347.320, 1.85373e-5),
        (300.0, 1e6, 11.64547, 348.406, 1.86720e-5),
        (350.0, 0.5e6, 4.97624, 375.628, 2.09192e-5),
        (400.0, 1e6, 8.69231, 402.284, 2.31628e-5),
    ],
)
def test_air_under_pressure_is_that_of_lemmon_and_others(
    t: float, p: float, density: float, sound: float, viscosity: float
) -> None:
    # Lemmon, Jacobsen, Penoncello and Friend 2000, viscosity Lemmon and Jacobsen 2004, computed
    # with CoolProp 8. The gas keeps the second virial coefficient; the third is 0.05 % at 10 bar.
    air = gas("air")
    h = air.enthalpy(pressure=p, temperature=t)
    state = air.state(pressure=p, enthalpy=h)
    assert_allclose(state.density, density, rtol=6e-4)
    assert_allclose(state.sound_speed, sound, rtol=6e-4)
    assert_allclose(state.viscosity, viscosity, rtol=3e-4)


@pytest.mark.parametrize(("name", "theirs"), COOLPROP)
def test_room_gas_departs_from_the_real_gas_by_no_more_than_stated(name: str, theirs: str) -> None:
    # `gas` states 0.04 % up to 8 bar and 0.2 % up to 16 at room temperature.
    fluid, p = gas(name), np.array([1e5, 7e5, 8e5, 16e5])
    h = fluid.enthalpy(pressure=p, temperature=293.15)
    state = fluid.state(pressure=p, enthalpy=h)
    for found, key in ((state.density, "DMASS"), (state.sound_speed, "A")):
        real = PropsSI(key, "P", p, "T", 293.15, theirs)
        assert_allclose(found[:3], real[:3], rtol=4e-4)
        assert_allclose(found, real, rtol=2e-3)


@pytest.mark.parametrize(("name", "theirs"), COOLPROP)
def test_isentropic_end_state_is_that_of_the_real_gas_at_low_pressure(
    name: str, theirs: str
) -> None:
    fluid = gas(name)
    h = fluid.enthalpy(pressure=THIN, temperature=400.0)
    ends = THIN * np.array([0.05, 0.2, 0.5, 1.0, 4.0])
    end = fluid.isentropic_enthalpy(pressure=THIN, enthalpy=h, end_pressure=ends)
    entropy = PropsSI("SMASS", "T", 400.0, "P", THIN, theirs)
    real = np.array([PropsSI("T", "P", p, "SMASS", entropy, theirs) for p in ends])
    assert_allclose(fluid.temperature(pressure=ends, enthalpy=end), real, rtol=2e-4)


def test_enthalpy_falls_by_volume_times_pressure_along_an_isentrope() -> None:
    # Gibbs: dh = v dp at constant entropy, so dh / d(ln p) = p v.
    air = gas("air")
    t = np.array([150.0, 250.0, 293.15, 400.0, 600.0])
    h = air.enthalpy(pressure=1e5, temperature=t)
    step = 1e-4
    up, down = (
        air.isentropic_enthalpy(pressure=1e5, enthalpy=h, end_pressure=1e5 * np.exp(x))
        for x in (step, -step)
    )
    assert_allclose(
        (up - down) / (2 * step), 1e5 / air.density(pressure=1e5, enthalpy=h), rtol=1e-4
    )


def test_a_perfect_gas_expands_by_the_power_law() -> None:
    # T2/T1 = (p2/p1)^((k-1)/k); the difference is the error of the entropy fit.
    fluid = perfect_gas()
    h = fluid.enthalpy(pressure=7e5, temperature=293.15)
    ends = 7e5 * np.geomspace(0.06, 1.0, 30)
    end = fluid.isentropic_enthalpy(pressure=7e5, enthalpy=h, end_pressure=ends)
    expected = 293.15 * (ends / 7e5) ** (0.4 / 1.4)
    assert_allclose(fluid.temperature(pressure=ends, enthalpy=end), expected, rtol=2e-6)
    assert_allclose(fluid.sound_speed(pressure=1e5, enthalpy=h) ** 2, 1.4 * 287.05 * 293.15)
    critical = fluid.critical_pressure(pressure=7e5, enthalpy=h)
    assert_allclose(critical, 7e5 * 1.2**-3.5, rtol=1e-9)


def test_derivatives_of_density_are_its_differences() -> None:
    air, p = gas("air"), 3e5
    h = np.array([-1e5, 0.0, 2e5])
    state = air.state(pressure=p, enthalpy=h)

    def density(dp: float, dh: float) -> NDArray[np.float64]:
        return air.density(pressure=p + dp, enthalpy=h + dh)

    assert_allclose(state.by_pressure, (density(10, 0) - density(-10, 0)) / 20, rtol=1e-8)
    assert_allclose(state.by_enthalpy, (density(0, 10) - density(0, -10)) / 20, rtol=1e-7)
    assert_allclose(state.density, air.density(pressure=p, enthalpy=h), rtol=1e-14)
    assert_allclose(state.sound_speed, air.sound_speed(pressure=p, enthalpy=h), rtol=1e-14)
    assert_allclose(state.viscosity, air.viscosity(pressure=p, enthalpy=h), rtol=1e-14)


def test_enthalpy_and_temperature_are_inverse() -> None:
    air, t = gas("air"), np.linspace(125.0, 749.0, 200)
    h = air.enthalpy(pressure=1e5, temperature=t)
    assert_allclose(air.temperature(pressure=1e5, enthalpy=h), t, rtol=1e-8)


def test_outside_the_fitted_range_every_property_is_nan_in_that_lane_only() -> None:
    air = gas("air")
    h = np.array([air.h_mid - 1.01 * air.h_half, air.h_mid, air.h_mid + 1.01 * air.h_half])
    for found in (
        air.temperature(pressure=1e5, enthalpy=h),
        air.density(pressure=1e5, enthalpy=h),
        air.viscosity(pressure=1e5, enthalpy=h),
        air.sound_speed(pressure=1e5, enthalpy=h),
        air.isentropic_enthalpy(pressure=1e5, enthalpy=h, end_pressure=0.9e5),
        air.enthalpy(pressure=1e5, temperature=np.array([100.0, 300.0, 800.0])),
    ):
        assert np.isfinite(found).tolist() == [False, True, False]


def test_an_expansion_that_ends_too_cold_is_nan() -> None:
    air = gas("air")
    h = air.enthalpy(pressure=7e5, temperature=293.15)
    end = air.isentropic_enthalpy(pressure=7e5, enthalpy=h, end_pressure=np.array([1e4, 1e5]))
    assert np.isfinite(end).tolist() == [False, True]
