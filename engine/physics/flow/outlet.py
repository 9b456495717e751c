"""Exhaust through the bore, and leakage past the end discs."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import PACK, entry, put, table, take
from engine.physics.flow.outlet_kernel import (
    N_LEAKAGE_GIVEN,
    N_OUTLET,
    N_OUTLET_GIVEN,
    drop_behind,
    leakages,
    outlets,
    speed_behind,
)
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


def probe_rise(*, density: Array, speed: Array, sound_speed: Array) -> Lanes:
    """Pressure by which a probe that points into the flow reads more than the flow has.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Density of the flow [kg/m3].
    speed : Array
        Its speed [m/s], up to 0.8 of that of sound.
    sound_speed : Array
        Speed of sound in it [m/s].

    Returns
    -------
    Lanes
        Rise of pressure [Pa].

    Notes
    -----
    Two terms of the series in the square of the Mach number. The next is (2 - k) M^4 / 24 with the
    isentropic exponent k: 1.2 % at Mach 0.8.

    References
    ----------
    Liepmann and Roshko, Elements of Gasdynamics, 1957, ch. 6 (from memory).

    Examples
    --------
    >>> round(float(probe_rise(density=1.2, speed=50.0, sound_speed=340.0)), 1)
    1508.1

    """
    rho, v, a = (np.asarray(each, dtype=float) for each in (density, speed, sound_speed))
    return np.asarray(rho * v**2 / 2 * (1 + (v / a) ** 2 / 4))


@dataclass(frozen=True)
class Outlet:
    """Flow through an exhaust bore in which spokes turn, by lane."""

    caught: Lanes  # share of the flow that spokes take along [-]
    filled: Lanes  # share of the free area that the flow fills [-]
    axial_speed: Lanes  # there [m/s]
    swirl_head: Lanes  # pressure between bore and outlet because the flow turns [Pa]


def swirling_exhaust(
    *,
    mass_flow: Array,
    density: Array,
    swirl: Array,
    angular_speed: Array,
    bore_radius: Array,
    hub_radius: Array,
    area: Array,
    exhaust_ends: Array,
    spokes: Array,
    web_factor: Array,
    core_factor: Array,
) -> Outlet:
    """Follow the flow from the inner end of the gaps between turning spokes to the outlet.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    mass_flow : Array
        Flow through all gaps [kg/s], above 0.
    density : Array
        Density at the bore [kg/m3].
    swirl : Array
        Circumferential speed there [m/s].
    angular_speed : Array
        Speed of discs and spokes [rad/s].
    bore_radius, hub_radius : Array
        Radii between which the flow leaves [m].
    area : Array
        Free area of all ends together [m2].
    exhaust_ends : Array
        Ends at which the flow leaves [-], 1 or 2.
    spokes : Array
        Number of spokes [-]; discs and spacers have the same, so they are walls all along.
    web_factor : Array
        Share that the spokes take along over that of the law [-]; 0 is an empty bore.
    core_factor : Array
        Effect of the hollow core over that of the law [-]; 0 lets the flow fill the bore.

    Returns
    -------
    Outlet
        Shares, axial speed and pressure; NaN where an argument is.

    Notes
    -----
    Between two spokes the fluid cannot go round, so pressure makes it turn with them within the
    length of a passage, however short it stays. Solved in the sector between two spokes (flow that
    joins evenly and leaves along the axis, without friction on the walls), three spokes take 0.84
    to 1.04 of the difference of angular momentum where the swirl is faster than they are, six 0.89
    to 1.04, twelve 0.93 to 1.02; where it is slower 0.5 to 0.8. The law is 1 - 1 / (2 spokes), and
    `web_factor` stands for what it is off. The angular momentum that fluid has as it turns with the
    spokes is that at the mean square radius of the bore, over which it spreads: fluid that brings
    just that neither drives nor brakes them.

    What they take along loses its relative speed at the bore (incidence), then moves inward against
    its centrifugal force. The rest leaves as a free vortex around a hollow
    core, with the share of the bore at which most flow passes.

    References
    ----------
    Hollow core: Abramovich, Applied Gas Dynamics, 1953, on the swirl nozzle (from memory). Share of
    the spokes: derived here, from the sector that the tests solve.

    """
    given, shape = as_lanes(
        mass_flow,
        density,
        swirl,
        angular_speed,
        bore_radius,
        hub_radius,
        area,
        exhaust_ends,
        spokes,
        web_factor,
        core_factor,
    )
    found = np.empty((N_OUTLET, given[0].size))
    _read_outlets(np.stack(given), found)
    return Outlet(*found.reshape(N_OUTLET, *shape))


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


@entry
def _read_leakage(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_LEAKAGE_GIVEN, PACK)
    leakage = table(1, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        leakages(record, pack, leakage[0])
        put(leakage, start, n, found)


@entry
def _read_outlets(given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack, outlet = table(N_OUTLET_GIVEN, PACK), table(N_OUTLET, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        outlets(pack, outlet)
        put(outlet, start, n, found)
