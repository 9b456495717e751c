"""Liquids against handbook numbers and Bernoulli's law."""

import numpy as np
import pytest
from iapws import IAPWS97
from numpy.testing import assert_allclose

from engine.errors import WrongValueError
from engine.fluids.by_name import oil, water
from engine.physics.flow.nozzle import jet_from_nozzle, nozzle_from_supply

HEAD = {"pressure": 1.4e5, "temperature": 285.0}


def test_water_is_that_of_the_iapws_package() -> None:
    ours, theirs = water(**HEAD), IAPWS97(P=0.14, T=285.0)
    at = {"pressure": 1.4e5, "enthalpy": float(ours.enthalpy(**HEAD))}
    assert_allclose(ours.density(**at), theirs.rho, rtol=1e-4)
    assert_allclose(ours.viscosity(**at), theirs.mu, rtol=2e-3)
    assert_allclose(ours.heat_capacity, theirs.cp * 1e3, rtol=1e-3)
    assert_allclose(ours.vapour_pressure, IAPWS97(T=285.0, x=0).P * 1e6, rtol=1e-3)


def test_viscosity_of_water_follows_its_temperature() -> None:
    ours = water(**HEAD)
    for t in (275.0, 300.0, 312.0):
        h = ours.enthalpy(pressure=1.2e5, temperature=t)
        assert_allclose(ours.temperature(pressure=1.2e5, enthalpy=h), t, rtol=1e-12)
        found = ours.viscosity(pressure=1.2e5, enthalpy=h)
        assert_allclose(found, IAPWS97(P=0.12, T=t).mu, rtol=2e-3)


def test_an_isentropic_drop_is_pressure_over_density_and_keeps_the_temperature() -> None:
    ours = water(**HEAD)
    h = ours.enthalpy(**HEAD)
    end = ours.isentropic_enthalpy(pressure=1.4e5, enthalpy=h, end_pressure=1.0e5)
    assert_allclose(h - end, 0.4e5 / ours.density_value, rtol=1e-9)
    assert_allclose(ours.temperature(pressure=1.0e5, enthalpy=end), 285.0, rtol=1e-12)


def test_a_nozzle_for_water_gives_torricellis_jet_and_never_chokes() -> None:
    # v = sqrt(2 dp / rho), flow rho A v.
    ours = water(**HEAD)
    nozzle = nozzle_from_supply(
        fluid=ours, pressure=1.4e5, enthalpy=ours.enthalpy(**HEAD), area_ratio=1.0
    )
    jet = jet_from_nozzle(
        fluid=ours,
        nozzle=nozzle,
        throat_area=1e-4,
        back_pressure=np.array([1.0e5, 1.3e5, 5e3]),
        discharge_coefficient=1.0,
        velocity_coefficient=1.0,
    )
    speed = np.sqrt(2 * (1.4e5 - np.array([1.0e5, 1.3e5, 5e3])) / ours.density_value)
    assert_allclose(jet.speed, speed, rtol=1e-9)
    assert_allclose(jet.mass_flow, ours.density_value * 1e-4 * speed, rtol=1e-9)
    assert not jet.choked.any()


def test_oil_has_the_viscosities_of_its_data_sheet() -> None:
    # ISO VG 46, viscosity index about 100: 46 mm2/s at 40 °C, 6.8 at 100 °C; 80 °C is about 11.0
    # (typical data sheet, from memory).
    made = oil(density=870.0, viscosity_40=46e-6, viscosity_100=6.8e-6, temperature=313.15)
    for celsius, expected, error in ((40.0, 46.0, 1e-4), (60.0, 20.0, 0.05)):
        h = made.enthalpy(pressure=2e5, temperature=celsius + 273.15)
        found = made.viscosity(pressure=2e5, enthalpy=h) / 870.0 * 1e6
        assert_allclose(found, expected, rtol=error)
    warm = oil(density=870.0, viscosity_40=46e-6, viscosity_100=6.8e-6, temperature=353.15)
    h = warm.enthalpy(pressure=2e5, temperature=353.15)
    assert_allclose(warm.viscosity(pressure=2e5, enthalpy=h) / 870.0 * 1e6, 11.0, rtol=0.05)


def test_far_from_the_supply_temperature_a_liquid_is_nan_in_that_lane_only() -> None:
    ours = water(**HEAD)
    h = ours.enthalpy(pressure=1.4e5, temperature=np.array([285.0, 400.0]))
    state = ours.state(pressure=1.4e5, enthalpy=h)
    for found in (state.density, state.viscosity, state.by_pressure):
        assert np.isfinite(found).tolist() == [True, False]
    assert np.isinf(state.sound_speed[0])
    assert np.isnan(ours.quality(pressure=1.4e5, enthalpy=h)).all()


@pytest.mark.parametrize(
    ("temperature", "match"), [(450.0, "write fluid: steam"), (250.0, "water at .* is not liquid")]
)
def test_water_that_boils_or_freezes_is_refused(temperature: float, match: str) -> None:
    with pytest.raises(WrongValueError, match=match):
        water(pressure=1.4e5, temperature=temperature)
