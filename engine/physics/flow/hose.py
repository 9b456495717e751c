"""Flow of a hose or pipe with couplings, from a vessel or regulator to the nozzles."""

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.fluids.fluid_kernel import Fluid

ROUNDS = 6
"""Turns between flow and friction factor, which hardly depends on it."""


def friction_factor(*, reynolds: Array, roughness_ratio: Array) -> Lanes:
    """Darcy's friction factor of a round pipe, laminar or turbulent.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    reynolds : Array
        Reynolds number by the bore [-], above 0.
    roughness_ratio : Array
        Roughness of the wall over the bore [-], 0 to 0.05.

    Returns
    -------
    Lanes
        Friction factor [-].

    References
    ----------
    Churchill, Chemical Engineering 84 (24), 1977, 91-92: within 3 % of the Moody chart.

    Examples
    --------
    >>> round(float(friction_factor(reynolds=1e5, roughness_ratio=1e-3)), 4)
    0.0223

    """
    re = np.maximum(np.asarray(reynolds, dtype=float), 1.0)
    rough = np.asarray(roughness_ratio, dtype=float)
    turbulent = (2.457 * np.log(1 / ((7 / re) ** 0.9 + 0.27 * rough))) ** 16
    passing = (37530 / re) ** 16
    return np.asarray(8 * ((8 / re) ** 12 + (turbulent + passing) ** -1.5) ** (1 / 12))


def hose_flow(
    *,
    fluid: Fluid,
    pressure: Array,
    enthalpy: Array,
    end_pressure: Array,
    bore: Array,
    length: Array,
    roughness: Array,
    friction_scale: Array,
    fittings_loss: Array,
) -> Lanes:
    """Mass flow of a hose between two pressures.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    pressure, enthalpy : Array
        Pressure [Pa] and enthalpy [J/kg] at its inlet.
    end_pressure : Array
        Pressure at its end [Pa].
    bore, length, roughness : Array
        Sizes of the hose [m].
    friction_scale : Array
        Friction over that of the law [-].
    fittings_loss : Array
        Loss of all couplings together, over the dynamic pressure in the hose [-].

    Returns
    -------
    Lanes
        Flow [kg/s]; 0 where the end pressure is not below that at the inlet. With neither length
        nor fittings the hose passes any flow.

    Notes
    -----
    Momentum along a pipe of constant enthalpy, with the mean of the densities at both ends: exact
    for a liquid, and for a gas at constant temperature. Choking in the hose is not looked for: a
    hose that takes more than a third of the pressure is no hose for a turbine.

    References
    ----------
    Isothermal pipe flow: Shapiro, The Dynamics and Thermodynamics of Compressible Fluid Flow, vol.
    1, 1953, ch. 6 (from memory).

    """
    given = (pressure, enthalpy, end_pressure, bore, length, roughness)
    p, h, end, d, span, rough = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in given))
    first = fluid.state(pressure=p, enthalpy=h)
    last = fluid.density(pressure=end, enthalpy=h)
    drive = (first.density + last) * np.maximum(p - end, 0.0)
    hasten = 2 * np.log(np.maximum(first.density / last, 1.0))
    friction: Array = 0.02
    flux = np.zeros(p.shape)
    for _ in range(ROUNDS):
        loss = friction_scale * friction * span / d + fittings_loss + hasten
        flux = np.sqrt(drive / np.maximum(loss, 1e-9))
        friction = friction_factor(reynolds=flux * d / first.viscosity, roughness_ratio=rough / d)
    return np.asarray(flux * np.pi * d**2 / 4)
