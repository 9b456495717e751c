"""Glycerol with water, as a liquid of any viscosity between the two: a blood analogue, for one."""

import numpy as np

from engine.physics.arrays import Array, Lanes

WATER_HEAT, GLYCEROL_HEAT = 4.18e3, 2.43e3
"""Heat capacities near 25 °C [J/(kg K)]; handbooks of chemistry, from memory."""


def mixture_viscosity(*, share: Array, temperature: Array) -> Lanes:
    """Dynamic viscosity of glycerol with water [Pa s].

    Parameters
    ----------
    share : Array
        Share of glycerol in the mass [-], 0 to 1; outside, the result has no meaning.
    temperature : Array
        Temperature [K], 273.15 to 373.15.

    Returns
    -------
    Lanes
        Viscosity, within some 3 % of measured ones up to 70 °C.

    References
    ----------
    Cheng 2008, "Formula for the viscosity of a glycerol-water mixture", Ind. Eng. Chem. Res. 47,
    3285-3288, eqs. 6, 11, 12 and 21 to 22; constants from memory.

    Examples
    --------
    >>> float(mixture_viscosity(share=0.4, temperature=293.15).round(5))
    0.00368

    """
    celsius = np.asarray(temperature) - 273.15
    part = np.asarray(share)
    water = 1.790e-3 * np.exp((-1230 - celsius) * celsius / (36100 + 360 * celsius))
    glycerol = 12.1 * np.exp((-1233 + celsius) * celsius / (9900 + 70 * celsius))
    a = 0.705 - 0.0017 * celsius
    b = (4.9 + 0.036 * celsius) * a**2.5
    weight = 1 - part + a * b * part * (1 - part) / (a * part + b * (1 - part))
    return np.asarray(water**weight * glycerol ** (1 - weight))


def mixture_density(*, share: Array, temperature: Array) -> Lanes:
    """Density of glycerol with water [kg/m3].

    Parameters
    ----------
    share : Array
        Share of glycerol in the mass [-], 0 to 1.
    temperature : Array
        Temperature [K], 273.15 to 373.15.

    Returns
    -------
    Lanes
        Density, linear in the share, within 1 % of measured ones.

    References
    ----------
    Cheng 2008, as `mixture_viscosity`, eqs. 23 to 25; constants from memory.

    Examples
    --------
    >>> float(mixture_density(share=0.4, temperature=293.15).round())
    1104.0

    """
    celsius = np.asarray(temperature) - 273.15
    water = 1000 * (1 - np.abs((celsius - 4) / 622) ** 1.7)
    return np.asarray((1277 - 0.654 * celsius) * share + water * (1 - np.asarray(share)))


def mixture_heat_capacity(*, share: Array, temperature: Array) -> Lanes:
    """Heat capacity of glycerol with water [J/(kg K)].

    Parameters
    ----------
    share : Array
        Share of glycerol in the mass [-], 0 to 1.
    temperature : Array
        Temperature [K]; its small effect is left out.

    Returns
    -------
    Lanes
        Heat capacity by the mass shares of both.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> float(mixture_heat_capacity(share=0.0, temperature=293.15))
    4180.0

    """
    parts = np.asarray(share) * GLYCEROL_HEAT + (1 - np.asarray(share)) * WATER_HEAT
    return np.asarray(parts + 0.0 * np.asarray(temperature))
