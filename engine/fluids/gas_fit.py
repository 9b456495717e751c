"""A gas fitted to samples of its properties."""

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial

from engine.physics.arrays import Array, Lanes
from engine.physics.fluids.gas import Gas
from engine.physics.fluids.gas_kernel import ENTROPY_TERMS, TERMS

COLDEST, HOTTEST = 120.0, 750.0
ENTHALPY_ZERO = 298.15


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
    """Gas fitted to heat capacities at low pressure [J/(kg K)] and viscosities [Pa s].

    It is a real gas where the second virial coefficient [m3/kg], its slope with temperature
    [m3/(kg K)] and the slope of viscosity with pressure at constant temperature [s] are given,
    otherwise an ideal gas. Samples are at `chebyshev_nodes`; enthalpy is zero at 298.15 K.
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

    def fit(values: Lanes, terms: int = TERMS) -> tuple[float, ...]:
        return tuple(float(c) for c in Polynomial.fit(z, values, terms - 1, domain=(-1, 1)).coef)

    return Gas(
        name=name,
        gas_constant=gas_constant,
        h_mid=(low + high) / 2,
        h_half=(high - low) / 2,
        temperature_fit=fit(temperature),
        cooling_fit=fit(cooling),
        crowding_fit=fit(crowding),
        entropy_log=middle,
        entropy_fit=fit(entropy(temperature) - middle * np.log(temperature), ENTROPY_TERMS),
        viscosity_fit=fit(viscosity),
        thickening_fit=fit(thickening + warmer * cooling),
    )
