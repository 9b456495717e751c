import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from engine.fluids.by_name import gas, water
from engine.physics.flow.hose import friction_factor, hose_flow

AIR = gas("air")
PSI, FOOT, INCH = 6894.757, 0.3048, 0.0254
NO_FITTINGS = {"friction_scale": 1.0, "fittings_loss": 0.0}


def test_friction_factor_is_that_of_colebrook_and_poiseuille() -> None:
    # Colebrook, J. Inst. Civil Eng. 11, 1939: 1/sqrt(f) = -2 lg(e/3.7 + 2.51/(Re sqrt f)).
    for reynolds, rough in ((1e4, 1e-3), (1e5, 1e-4), (1e5, 1e-2), (1e6, 1e-5)):

        def off(f: float, re: float = reynolds, e: float = rough) -> float:
            return float(1 / np.sqrt(f) + 2 * np.log10(e / 3.7 + 2.51 / (re * np.sqrt(f))))

        found = friction_factor(reynolds=reynolds, roughness_ratio=rough)
        assert_allclose(found, brentq(off, 1e-3, 1.0), rtol=0.03)
    assert_allclose(friction_factor(reynolds=800.0, roughness_ratio=1e-3), 64 / 800, rtol=1e-3)


def test_compressed_air_in_a_steel_pipe_loses_what_the_worked_example_says() -> None:
    # Crane, Technical Paper 410, flow of air through schedule 40 pipe, from memory: 100 cubic feet
    # a minute of free air at 65 psi gauge and 110 F through 75 ft of 1-inch pipe (26.64 mm) lose
    # 2.61 psi. Free air there is at 14.7 psi and 60 F: 1.223 kg/m3. Roughness of steel 0.045 mm.
    start = (65 + 14.7) * PSI
    enthalpy = float(AIR.enthalpy(pressure=start, temperature=(110 + 459.67) / 1.8))
    found = hose_flow(
        fluid=AIR,
        pressure=start,
        enthalpy=enthalpy,
        end_pressure=start - 2.61 * PSI,
        bore=26.64e-3,
        length=75 * FOOT,
        roughness=0.045e-3,
        **NO_FITTINGS,
    )
    assert_allclose(found, 100 * FOOT**3 / 60 * 1.223, rtol=0.03)


def test_a_liquid_follows_darcy_and_weisbach() -> None:
    cold = water(pressure=2e5, temperature=283.15)
    h = float(cold.enthalpy(pressure=2e5, temperature=283.15))
    flow = float(
        hose_flow(
            fluid=cold,
            pressure=2e5,
            enthalpy=h,
            end_pressure=1.5e5,
            bore=0.05,
            length=20.0,
            roughness=1e-5,
            friction_scale=1.3,
            fittings_loss=3.0,
        )
    )
    density = float(cold.density(pressure=2e5, enthalpy=h))
    speed = flow / density / (np.pi * 0.05**2 / 4)
    reynolds = speed * 0.05 * density / float(cold.viscosity(pressure=2e5, enthalpy=h))
    loss = 1.3 * friction_factor(reynolds=reynolds, roughness_ratio=2e-4) * 20 / 0.05 + 3
    assert_allclose(loss * density * speed**2 / 2, 0.5e5, rtol=1e-4)


def test_a_gas_loses_what_small_pieces_of_hose_lose_one_after_the_other() -> None:
    # Density falls along the hose: a hundred pieces at constant temperature, each with its own.
    start, flow, bore, length = 7e5, 0.0118, 8e-3, 10.0
    h = float(AIR.enthalpy(pressure=start, temperature=293.15))
    flux = flow / (np.pi * bore**2 / 4)
    viscosity = float(AIR.viscosity(pressure=start, enthalpy=h))
    friction = float(friction_factor(reynolds=flux * bore / viscosity, roughness_ratio=1e-5 / bore))
    pressure, volume = start, 1 / float(AIR.density(pressure=start, enthalpy=h))
    for _ in range(100):
        onward = pressure - friction * length / 100 / bore * flux**2 * volume / 2
        grown = 1 / float(AIR.density(pressure=onward, enthalpy=h))
        pressure, volume = onward - flux**2 * (grown - volume), grown
    assert 0.8e5 < start - pressure < 1.1e5
    found = hose_flow(
        fluid=AIR,
        pressure=start,
        enthalpy=h,
        end_pressure=pressure,
        bore=bore,
        length=length,
        roughness=1e-5,
        **NO_FITTINGS,
    )
    assert_allclose(found, flow, rtol=5e-3)


@pytest.mark.parametrize("end", [7e5, 8e5])
def test_nothing_flows_without_a_fall_of_pressure(end: float) -> None:
    h = float(AIR.enthalpy(pressure=7e5, temperature=293.15))
    found = hose_flow(
        fluid=AIR,
        pressure=7e5,
        enthalpy=h,
        end_pressure=end,
        bore=8e-3,
        length=10.0,
        roughness=1e-5,
        **NO_FITTINGS,
    )
    assert found == 0
