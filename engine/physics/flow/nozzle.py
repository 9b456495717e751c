"""Nozzles: choking, jet speed, and expansion away from the design pressure."""

from dataclasses import dataclass, fields

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, as_lanes
from engine.physics.compiled import PACK, entry, put, table, take
from engine.physics.flow.nozzle_kernel import N_JET, N_JET_GIVEN, jets, throat_fluxes
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid

BISECTIONS = 50
"""Steps of the search for the exit pressure of a convergent-divergent nozzle."""


@dataclass(frozen=True)
class Nozzle:
    """States of a nozzle of unit throat area, fed from one stagnation state."""

    stagnation_pressure: Lanes  # [Pa]
    stagnation_enthalpy: Lanes  # [J/kg]
    throat_pressure: Lanes  # pressure at which the throat chokes [Pa]
    choked_flux: Lanes  # isentropic mass flux at the choked throat [kg/(s m2)]
    area_ratio: Lanes  # exit area over throat area [-]
    exit_pressure: Lanes  # exit pressure when running full and choked [Pa]
    exit_speed: Lanes  # isentropic exit speed at that pressure [m/s]


@dataclass(frozen=True)
class Jet:
    """Flow and jet of all nozzles together at one pressure behind them."""

    mass_flow: Lanes  # [kg/s]
    speed: Lanes  # [m/s]
    enthalpy: Lanes  # static, after expansion to the pressure behind [J/kg]
    choked: Mask


def isentropic_flux(
    *, fluid: Fluid, pressure: Array, enthalpy: Array, back_pressure: Array
) -> Lanes:
    """Isentropic mass flux through a throat, limited by choking.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    pressure, enthalpy : Array
        Stagnation pressure [Pa] and enthalpy [J/kg] upstream.
    back_pressure : Array
        Pressure behind the throat [Pa].

    Returns
    -------
    Lanes
        Mass flux [kg/(s m2)]; 0 where the pressure behind is not below the one upstream.

    References
    ----------
    Saint-Venant and Wantzel relation; for the perfect gas NACA Report 1135, 1953, eqs. 44 to 80.

    Examples
    --------
    >>> import swirlstack as sw
    >>> air = sw.gas("air")
    >>> h = air.enthalpy(pressure=6e5, temperature=293.15)
    >>> flux = isentropic_flux(fluid=air, pressure=6e5, enthalpy=h, back_pressure=1e5)
    >>> round(float(flux))
    1420

    """
    given, shape = as_lanes(pressure, enthalpy, back_pressure)
    found = np.empty((1, given[0].size))
    _read_flux(fluid.record, np.stack(given), found)
    return found.reshape(shape)


def nozzle_from_supply(
    *, fluid: Fluid, pressure: Array, enthalpy: Array, area_ratio: Array
) -> Nozzle:
    """Throat and exit states of a nozzle fed from a stagnation state.

    All arguments broadcast.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    pressure, enthalpy : Array
        Stagnation pressure [Pa] and enthalpy [J/kg].
    area_ratio : Array
        Exit area over throat area [-], >= 1; 1 for a convergent nozzle.

    Returns
    -------
    Nozzle
        Choked flux and full-flowing exit state; NaN where the area ratio is below 1 or the exit
        state leaves the fluid's range.

    References
    ----------
    Area relation for isentropic flow, NACA Report 1135, 1953, eq. 80, solved by bisection on
    pressure so that it holds for any fluid.

    """
    shape = np.broadcast(pressure, enthalpy, area_ratio).shape
    pressure, enthalpy, area_ratio = (
        np.broadcast_to(np.asarray(a, dtype=float), shape) for a in (pressure, enthalpy, area_ratio)
    )
    throat = fluid.critical_pressure(pressure=pressure, enthalpy=enthalpy)

    def flux(end_pressure: Lanes) -> tuple[Lanes, Lanes]:
        end = fluid.isentropic_enthalpy(
            pressure=pressure, enthalpy=enthalpy, end_pressure=end_pressure
        )
        speed = np.sqrt(np.maximum(2 * (enthalpy - end), 0.0))
        return fluid.density(pressure=end_pressure, enthalpy=end) * speed, speed

    # Choked throat.
    choked_flux, throat_speed = flux(throat)
    # Exit: that of a convergent nozzle is its throat; else supersonic root of eq. 80, by bisection.
    exit_pressure, exit_speed = throat.copy(), throat_speed
    if np.any(area_ratio > 1):
        low, high = np.full(shape, 1e-3) * throat, throat
        for _ in range(BISECTIONS):
            middle = np.sqrt(low * high)
            too_wide = choked_flux > area_ratio * np.nan_to_num(flux(middle)[0])
            low, high = np.where(too_wide, middle, low), np.where(too_wide, high, middle)
        exit_pressure = np.where(area_ratio > 1, high, throat)
        exit_speed = flux(exit_pressure)[1]
    bad = np.where(area_ratio >= 1, 0.0, np.nan)
    return Nozzle(
        stagnation_pressure=pressure,
        stagnation_enthalpy=enthalpy,
        throat_pressure=throat,
        choked_flux=choked_flux + bad,
        area_ratio=area_ratio,
        exit_pressure=exit_pressure + bad,
        exit_speed=exit_speed + bad,
    )


def jet_from_nozzle(
    *,
    fluid: Fluid,
    nozzle: Nozzle,
    throat_area: Array,
    back_pressure: Array,
    discharge_coefficient: Array,
    velocity_coefficient: Array,
) -> Jet:
    """Mass flow and jet speed of the nozzles against the pressure behind them.

    All arguments broadcast.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    nozzle : Nozzle
        Throat and exit states [-].
    throat_area : Array
        Throat area of all nozzles together [m2].
    back_pressure : Array
        Pressure behind the nozzles [Pa], below the stagnation pressure.
    discharge_coefficient, velocity_coefficient : Array
        Real over isentropic flow [-] and jet speed [-], 0 to 1.

    Returns
    -------
    Jet
        Mass flow, speed and static enthalpy; zero flow where the pressure behind is not below the
        stagnation pressure.

    Notes
    -----
    Choked: the stream thrust at the exit plane is conserved while the jet adjusts to the pressure
    behind it, so the speed changes by (exit pressure - back pressure) * exit area / mass flow. This
    is a gain behind a convergent nozzle with pressure left to expand and a loss where a nozzle
    over-expands. With a shock inside the divergent part the exit is subsonic, by continuity and
    energy. Both speeds are equal where the shock stands in the exit plane; on either side of it the
    larger one applies. Choking is decided by the flux at the exit area, for both forms of nozzle.

    References
    ----------
    Shapiro, The Dynamics and Thermodynamics of Compressible Fluid Flow, vol. 1, 1953, ch. 5, for
    the regimes; the form used here is derived here.

    """
    given, shape = as_lanes(
        *(getattr(nozzle, f.name) for f in fields(Nozzle)),
        throat_area,
        back_pressure,
        discharge_coefficient,
        velocity_coefficient,
    )
    found = np.empty((N_JET, given[0].size))
    _read_jets(fluid.record, np.stack(given), found)
    flow, speed, enthalpy, choked = found.reshape(N_JET, *shape)
    return Jet(mass_flow=flow, speed=speed, enthalpy=enthalpy, choked=choked == 1)


@entry
def _read_flux(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack, flux = table(3, PACK), table(1, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        throat_fluxes(record, pack[0], pack[1], pack[2], flux[0])
        put(flux, start, n, found)


@entry
def _read_jets(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    n = given.shape[1]
    pack = table(N_JET_GIVEN, PACK)
    jet = table(N_JET, PACK)
    for start in range(0, n, PACK):
        take(given, start, n, pack)
        jets(record, pack, jet)
        put(jet, start, n, found)
