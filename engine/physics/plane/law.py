"""The fluid as the solver knows it: a perfect gas, its pressure counted from a lower zero."""

import math
from typing import NamedTuple

import numpy as np

from engine.physics.fluids.fluid_kernel import Fluid

SOLVER_MACH = 0.2
"""Mach number that the fastest liquid has in the solver."""
LIQUID_EXPONENT = 1.05
"""Exponent of a liquid in the solver: near 1, so that friction heat hardly widens it."""
PRANDTL, TURBULENT_PRANDTL = 0.7, 0.9
"""Prandtl numbers of the heat that crosses circles, molecular and turbulent."""
VISCOSITY_STEP = 0.05
"""Step of enthalpy over the heat content p / rho with which the slope of viscosity is read."""


class Law(NamedTuple):
    """A perfect gas near one state of a fluid; P is pressure plus `shift`."""

    exponent: float  # isentropic, k in P / rho^k [-]
    shift: float  # [Pa]
    datum: float  # enthalpy of the fluid less k / (k - 1) P / rho, at the state [J/kg]
    density: float  # of the state [kg/m3]
    pressure: float  # of the state, with the shift [Pa]
    viscosity: float  # of the state, dynamic [Pa s]
    viscosity_power: float  # viscosity follows P / rho to this power [-]
    is_liquid: bool


def law_of(*, fluid: Fluid, pressure: float, enthalpy: float, fastest: float) -> Law:
    """Fit the solver's law to a fluid at one state.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    pressure, enthalpy : float
        State of the ring around the discs, static [Pa, J/kg].
    fastest : float
        Largest speed to be expected [m/s]; it sets the solver's speed of sound of a liquid.

    Returns
    -------
    Law
        The law; its numbers are NaN where the state is outside the fluid's range.

    Notes
    -----
    Gas and vapour: calorically perfect, with the exponent k = rho a^2 / p of the fluid's own speed
    of sound a at the state; density and enthalpy agree there, `datum` being the constant between
    the two enthalpies. Density of air is within 0.02 % from half to twice the pressure, and in the
    jet. Steam is taken as if it stayed dry: where pressure has halved density is 2 to 7 % high, and
    in a jet with 5 % of water, of the small boiler's steam, 14 % above equilibrium. Flow, momentum
    and enthalpy that the jets bring are those of the nozzle all the same.

    Liquid: weakly compressible. Euler's equations do not change when pressure is counted from
    another zero, so a stiffened gas, a^2 = k (p + p0) / rho, is a perfect gas in p + p0; p0 is such
    that the fastest fluid has Mach `SOLVER_MACH`. Density varies by its square, some 2 to 4 %.

    References
    ----------
    Stiffened gas: Harlow and Amsden 1971, LA-4700 (from memory). Weak compressibility: Chorin 1967,
    J. Comput. Phys. 2, 12 (from memory).

    Examples
    --------
    >>> import swirlstack as sw
    >>> air = sw.gas("air")
    >>> h = float(air.enthalpy(pressure=1.4e5, temperature=260.0))
    >>> law = law_of(fluid=air, pressure=1.4e5, enthalpy=h, fastest=400.0)
    >>> round(law.exponent, 2), law.shift
    (1.4, 0.0)

    """
    state = fluid.state(pressure=pressure, enthalpy=enthalpy)
    density, viscosity = float(state.density), float(state.viscosity)
    is_liquid = math.isinf(float(state.sound_speed))
    if is_liquid:
        k, shifted = LIQUID_EXPONENT, density * (fastest / SOLVER_MACH) ** 2 / LIQUID_EXPONENT
        power = 0.0
    else:
        k, shifted = density * float(state.sound_speed) ** 2 / pressure, pressure
        content = k / (k - 1) * pressure / density
        by = VISCOSITY_STEP * content
        warmer, cooler = fluid.viscosity(
            pressure=pressure, enthalpy=np.array([enthalpy + by, enthalpy - by])
        )
        ratio = math.log((1 + VISCOSITY_STEP) / (1 - VISCOSITY_STEP))
        power = float(np.nan_to_num(np.log(warmer / cooler) / ratio))
    datum = enthalpy - k / (k - 1) * shifted / density
    return Law(k, shifted - pressure, datum, density, shifted, viscosity, power, is_liquid)


def jet_state(*, law: Law, pressure: float, enthalpy: float, speed: float) -> tuple[float, float]:
    """Density and total enthalpy of a jet as the solver's law has them.

    Parameters
    ----------
    law : Law
        The solver's law [-].
    pressure : float
        Pressure at the mouth [Pa].
    enthalpy : float
        Total enthalpy of the jet [J/kg]; not used for a liquid.
    speed : float
        Speed of the jet [m/s].

    Returns
    -------
    tuple[float, float]
        Density [kg/m3], and total enthalpy counted as the law counts it [J/kg].

    Notes
    -----
    Gas and vapour bring their total enthalpy. A liquid brings the density that pressure gives it
    along the law's isentrope: the heat of the nozzle's losses does not change a liquid.

    References
    ----------
    Derived here.

    """
    k, shifted = law.exponent, pressure + law.shift
    if law.is_liquid:
        density = law.density * (shifted / law.pressure) ** (1 / k)
        return density, k / (k - 1) * shifted / density + speed**2 / 2
    total = enthalpy - law.datum
    return k / (k - 1) * shifted / (total - speed**2 / 2), total
