"""Exhaust through the bore, and leakage past the end discs."""

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import PACK, compiled, put, table, take
from engine.physics.flow.outlet_kernel import N_LEAKAGE_GIVEN, drop_behind, leakages, speed_behind
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid


def exhaust_speed(*, mass_flow: Array, density: Array, area: Array) -> Lanes:
    """Axial speed in the exhaust annulus.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass_flow : Array
        Flow through all gaps [kg/s].
    density : Array
        Density at the inner end of the gaps [kg/m3].
    area : Array
        Free area of the annulus [m2].

    Returns
    -------
    Lanes
        Speed [m/s].

    References
    ----------
    Continuity, derived here.

    Examples
    --------
    >>> round(float(exhaust_speed(mass_flow=0.012, density=1.2, area=1e-3)), 6)
    10.0

    """
    flow, rho, free = (np.asarray(v, dtype=float) for v in (mass_flow, density, area))
    return np.asarray(speed_behind(flow, rho, free))


def exhaust_pressure_drop(*, axial_speed: Array, density: Array, loss_coefficient: Array) -> Lanes:
    """Pressure between the inner end of the gaps and the space behind the exhaust.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    axial_speed : Array
        Axial speed in the exhaust annulus [m/s].
    density : Array
        Density there [kg/m3].
    loss_coefficient : Array
        Loss over the axial dynamic head [-]; 1.5 is 0.5 for the entry and 1.0 for leaving.

    Returns
    -------
    Lanes
        Pressure difference [Pa].

    Notes
    -----
    Density is taken constant along the annulus. At the limit of Mach 0.8 this is about 15 % off,
    far below it negligible.

    References
    ----------
    Borda and Carnot; entry coefficient from Idelchik, Handbook of Hydraulic Resistance, 3rd ed.
    1994, ch. 3 (from memory).

    Examples
    --------
    >>> round(float(exhaust_pressure_drop(axial_speed=100.0, density=1.2, loss_coefficient=1.5)), 3)
    9000.0

    """
    given = (axial_speed, density, loss_coefficient)
    speed, rho, loss = (np.asarray(v, dtype=float) for v in given)
    return np.asarray(drop_behind(speed, rho, loss))


def collar_leakage(
    *,
    fluid: Fluid,
    ring_pressure: Array,
    ring_enthalpy: Array,
    ring_density: Array,
    back_pressure: Array,
    core_speed: Array,
    rim_radius: Array,
    seal_radius: Array,
    seal_clearance: Array,
    seal_count: Array,
    throttles: Array,
    discharge_coefficient: Array,
) -> Lanes:
    """Flow from the rim down the end discs and out through the exhaust collar seals.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    ring_pressure, ring_enthalpy, ring_density : Array
        Pressure [Pa], total enthalpy [J/kg] and density [kg/m3] of the ring.
    back_pressure : Array
        Pressure behind the seals [Pa].
    core_speed : Array
        Speed of the fluid between end disc and casing, at the rim [m/s].
    rim_radius, seal_radius : Array
        Outer radius of the discs [m] and radius of the seal [m].
    seal_clearance : Array
        Radial clearance [m]; 0 seals.
    seal_count, throttles : Array
        Collars that leak [-] and sharp throttles in series in each [-].
    discharge_coefficient : Array
        Flow coefficient of a throttle [-].

    Returns
    -------
    Lanes
        Flow of all collars [kg/s].

    Notes
    -----
    The fluid between end disc and casing turns like a solid body, which lowers the pressure at the
    seal. A number of equal throttles in series divides the flow of one by its square root.

    References
    ----------
    Core of a side chamber: Daily and Nece, Trans. ASME J. Basic Eng. 82, 1960, 217-232 (from
    memory); throttles in series: Stodola, Steam and Gas Turbines, 1927 (from memory).

    """
    given, shape = as_lanes(
        ring_pressure,
        ring_enthalpy,
        ring_density,
        back_pressure,
        core_speed,
        rim_radius,
        seal_radius,
        seal_clearance,
        seal_count,
        throttles,
        discharge_coefficient,
    )
    found = np.empty((1, given[0].size))
    _read_leakage(fluid.record, np.stack(given), found)
    return found.reshape(shape)


@compiled
def _read_leakage(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_LEAKAGE_GIVEN, PACK)
    leakage = table(1, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        leakages(record, pack, leakage[0])
        put(leakage, start, n, found)
