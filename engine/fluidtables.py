"""Working fluids fitted once from CoolProp. The only home of CoolProp."""

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial

from engine.physics.arrays import Array, Lanes
from engine.physics.gas import Gas

COOLPROP_NAMES = {"air": "Air", "nitrogen": "Nitrogen"}
COLDEST, HOTTEST = 120.0, 750.0
FIT_PRESSURE = 1e4
"""Low enough that CoolProp's viscosity is the dilute-gas one [Pa]."""
THICK_PRESSURE = 4e5
"""Pressure at which its slope with pressure is read off [Pa]."""
FIT_DEGREE = 8
ENTROPY_DEGREE = 14
"""Entropy is read outside the march alone, so its fit may cost more."""
ENTHALPY_ZERO = 298.15


@lru_cache(maxsize=8)
def gas(name: str) -> Gas:
    """Gas by its name in study files.

    Valid from 120 to 750 K. Against the real gas (Lemmon et al. 2000 for air) at room temperature,
    density, speed of sound and choked flow are within 0.04 % up to 8 bar and 0.2 % up to 16.
    """
    coolprop = _coolprop()
    fluid = COOLPROP_NAMES[name]
    temperature = chebyshev_nodes(64)
    state = coolprop.AbstractState("HEOS", fluid)
    virial, virial_slope = np.empty((2, temperature.size))
    for i, t in enumerate(temperature):
        state.update(coolprop.PT_INPUTS, FIT_PRESSURE, float(t))
        virial[i], virial_slope[i] = state.Bvirial(), state.dBvirial_dT()
    thin = coolprop.PropsSI("VISCOSITY", "T", temperature, "P", FIT_PRESSURE, fluid)
    thick = coolprop.PropsSI("VISCOSITY", "T", temperature, "P", THICK_PRESSURE, fluid)
    return fit_gas(
        name=name,
        gas_constant=coolprop.PropsSI("GAS_CONSTANT", fluid) / state.molar_mass(),
        temperature=temperature,
        heat_capacity=coolprop.PropsSI("CP0MASS", "T", temperature, "P", FIT_PRESSURE, fluid),
        viscosity=thin,
        virial=virial / state.molar_mass(),
        virial_slope=virial_slope / state.molar_mass(),
        thickening=(thick - thin) / (THICK_PRESSURE - FIT_PRESSURE),
    )


def _coolprop() -> Any:
    # Imported here because loading it takes a good part of a second.
    import CoolProp.CoolProp  # noqa: PLC0415

    return CoolProp.CoolProp


def chebyshev_nodes(count: int) -> Lanes:
    """Temperatures [K] at which a gas is sampled for its fit, coldest first."""
    nodes = np.cos(np.pi * (np.arange(count) + 0.5) / count)[::-1]
    return np.asarray(0.5 * (COLDEST + HOTTEST) + 0.5 * (HOTTEST - COLDEST) * nodes)


def fit_gas(
    *,
    name: str,
    gas_constant: float,
    temperature: Lanes,
    heat_capacity: Lanes,
    viscosity: Lanes,
    virial: Array = 0.0,
    virial_slope: Array = 0.0,
    thickening: Array = 0.0,
) -> Gas:
    """Gas through sampled heat capacities of the thin gas [J/(kg K)] and viscosities [Pa s].

    Second virial coefficient [m3/kg], its slope with temperature [m3/(kg K)] and the slope of
    viscosity with pressure at constant temperature [s] make it real; without them it is ideal.
    Samples stand at `chebyshev_nodes`; enthalpy is zero at 298.15 K.
    """
    domain = (COLDEST, HOTTEST)
    cp = Chebyshev.fit(temperature, heat_capacity, 15, domain=domain)
    enthalpy = cp.integ(lbnd=ENTHALPY_ZERO)
    cp_over_t = Chebyshev.fit(temperature, heat_capacity / temperature, 20, domain=domain)
    entropy = cp_over_t.integ(lbnd=ENTHALPY_ZERO)
    middle = float(cp((COLDEST + HOTTEST) / 2))
    low, high = float(enthalpy(COLDEST)), float(enthalpy(HOTTEST))
    z = (enthalpy(temperature) - (low + high) / 2) / ((high - low) / 2)
    # Dymond and others, Virial Coefficients of Pure Gases, 2002, for what follows from B(T).
    cooling = (temperature * virial_slope - virial) / heat_capacity
    crowding = -np.asarray(virial) / (gas_constant * temperature) - cooling / temperature
    warmer = Chebyshev.fit(temperature, viscosity, 20, domain=domain).deriv()(temperature)

    def fit(values: Lanes, degree: int = FIT_DEGREE) -> tuple[float, ...]:
        return tuple(float(c) for c in Polynomial.fit(z, values, degree, domain=(-1, 1)).coef)

    return Gas(
        name=name,
        gas_constant=gas_constant,
        h_mid=(low + high) / 2,
        h_half=(high - low) / 2,
        temperature_fit=fit(temperature),
        cooling_fit=fit(cooling),
        crowding_fit=fit(crowding),
        entropy_log=middle,
        entropy_fit=fit(entropy(temperature) - middle * np.log(temperature), ENTROPY_DEGREE),
        viscosity_fit=fit(viscosity),
        thickening_fit=fit(thickening + warmer * cooling),
    )


@lru_cache(maxsize=8)
def free_air_density(name: str) -> float:
    """Density [kg/m3] at 1 bar and 20 °C, the state compressors are rated at (ISO 1217)."""
    fluid = gas(name)
    enthalpy = fluid.enthalpy(pressure=1e5, temperature=293.15)
    return float(fluid.density(pressure=1e5, enthalpy=enthalpy))
