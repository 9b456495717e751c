"""Working fluids fitted once from CoolProp. The only home of CoolProp."""

from functools import lru_cache

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial

from engine.physics.fluid import IdealGas

COOLPROP_NAMES = {"air": "Air", "nitrogen": "Nitrogen"}
COLDEST, HOTTEST = 120.0, 750.0
FIT_PRESSURE = 1e4
"""Low enough that CoolProp's viscosity is the dilute-gas one [Pa]."""
FIT_DEGREE = 7


@lru_cache(maxsize=8)
def gas(name: str) -> IdealGas:
    """Ideal gas by its name in study files.

    Valid from 120 to 750 K. Against CoolProp's ideal-gas heat capacity the fit holds within
    2e-5 in temperature; against the real gas at 7 bar and room temperature density is 0.3 % and
    choked flow 0.4 % low (Lemmon et al. 2000 equation of state).
    """
    # Imported here because loading CoolProp takes a good part of a second.
    from CoolProp.CoolProp import PropsSI  # noqa: PLC0415

    fluid = COOLPROP_NAMES[name]
    gas_constant = PropsSI("GAS_CONSTANT", fluid) / PropsSI("MOLAR_MASS", fluid)
    nodes = np.cos(np.pi * (np.arange(64) + 0.5) / 64)[::-1]
    temperature = 0.5 * (COLDEST + HOTTEST) + 0.5 * (HOTTEST - COLDEST) * nodes
    heat = np.array([PropsSI("CP0MASS", "T", t, "P", FIT_PRESSURE, fluid) for t in temperature])
    drag = np.array([PropsSI("VISCOSITY", "T", t, "P", FIT_PRESSURE, fluid) for t in temperature])
    domain = (COLDEST, HOTTEST)
    capacity = Chebyshev.fit(temperature, heat, 15, domain=domain)
    enthalpy = capacity.integ(lbnd=298.15)
    entropy = Chebyshev.fit(temperature, heat / temperature, 20, domain=domain).integ(lbnd=298.15)
    low, high = float(enthalpy(COLDEST)), float(enthalpy(HOTTEST))
    z = (enthalpy(temperature) - (low + high) / 2) / ((high - low) / 2)

    def fit(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, ...]:
        return tuple(float(c) for c in Polynomial.fit(z, values, FIT_DEGREE, domain=(-1, 1)).coef)

    return IdealGas(
        name=name,
        gas_constant=gas_constant,
        h_mid=(low + high) / 2,
        h_half=(high - low) / 2,
        temperature_fit=fit(temperature),
        entropy_fit=fit(entropy(temperature)),
        viscosity_fit=fit(drag),
    )
