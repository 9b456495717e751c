"""Working fluids fitted once from CoolProp. The only home of CoolProp."""

from functools import lru_cache

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial

from engine.physics.arrays import Lanes
from engine.physics.fluid import IdealGas

COOLPROP_NAMES = {"air": "Air", "nitrogen": "Nitrogen"}
COLDEST, HOTTEST = 120.0, 750.0
FIT_PRESSURE = 1e4
"""Low enough that CoolProp's viscosity is the dilute-gas one [Pa]."""
FIT_DEGREE = 8
ENTROPY_DEGREE = 14
"""Entropy is read outside the march alone, so its fit may cost more."""
ENTHALPY_ZERO = 298.15


@lru_cache(maxsize=8)
def gas(name: str) -> IdealGas:
    """Ideal gas by its name in study files.

    Valid from 120 to 750 K. Against the real gas at 7 bar and room temperature (Lemmon et al.
    2000) density is 0.3 % and choked flow 0.4 % low.
    """
    # Imported here because loading CoolProp takes a good part of a second.
    from CoolProp.CoolProp import PropsSI  # noqa: PLC0415

    fluid = COOLPROP_NAMES[name]
    temperature = chebyshev_nodes(64)
    return fit_ideal_gas(
        name=name,
        gas_constant=PropsSI("GAS_CONSTANT", fluid) / PropsSI("MOLAR_MASS", fluid),
        temperature=temperature,
        heat_capacity=PropsSI("CP0MASS", "T", temperature, "P", FIT_PRESSURE, fluid),
        viscosity=PropsSI("VISCOSITY", "T", temperature, "P", FIT_PRESSURE, fluid),
    )


def chebyshev_nodes(count: int) -> Lanes:
    """Temperatures [K] at which a gas is sampled for its fit, coldest first."""
    nodes = np.cos(np.pi * (np.arange(count) + 0.5) / count)[::-1]
    return np.asarray(0.5 * (COLDEST + HOTTEST) + 0.5 * (HOTTEST - COLDEST) * nodes)


def fit_ideal_gas(
    *, name: str, gas_constant: float, temperature: Lanes, heat_capacity: Lanes, viscosity: Lanes
) -> IdealGas:
    """Ideal gas through sampled heat capacities [J/(kg K)] and viscosities [Pa s].

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

    def fit(values: Lanes, degree: int = FIT_DEGREE) -> tuple[float, ...]:
        return tuple(float(c) for c in Polynomial.fit(z, values, degree, domain=(-1, 1)).coef)

    return IdealGas(
        name=name,
        gas_constant=gas_constant,
        h_mid=(low + high) / 2,
        h_half=(high - low) / 2,
        temperature_fit=fit(temperature),
        entropy_log=middle,
        entropy_fit=fit(entropy(temperature) - middle * np.log(temperature), ENTROPY_DEGREE),
        viscosity_fit=fit(viscosity),
    )


@lru_cache(maxsize=8)
def free_air_density(name: str) -> float:
    """Density [kg/m3] at 1 bar and 20 °C, the state compressors are rated at (ISO 1217)."""
    fluid = gas(name)
    enthalpy = fluid.enthalpy(pressure=1e5, temperature=293.15)
    return float(fluid.density(pressure=1e5, enthalpy=enthalpy))
