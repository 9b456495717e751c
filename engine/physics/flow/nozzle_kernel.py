"""Throats and jets, a pack at a time; see `nozzle`."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import (
    fluid_densities,
    fluid_density,
    fluid_state,
    isentropic_enthalpies,
    throat_pressures,
)

NEWTON_STEPS = 6
"""Steps of Newton's method for the subsonic exit speed."""
N_NOZZLE, N_JET_GIVEN, N_JET = 7, 11, 4
"""Rows of a nozzle (fields of `nozzle.Nozzle`), rows that `jets` reads, rows that it fills."""
MASS_FLOW, JET_SPEED, JET_ENTHALPY, JET_CHOKED = range(4)
"""Rows of jets: fields of `nozzle.Jet`."""


@inlined
def _speed(enthalpy: float, end: float) -> float:
    """Speed after an expansion from rest [m/s]."""
    return root(2 * (enthalpy - end)) if enthalpy > end else 0 * end


@compiled
def throat_fluxes(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, back_pressure: Lanes, flux: Lanes
) -> None:
    """Isentropic mass fluxes through a pack of throats, limited by choking [kg/(s m2)]."""
    # Throat pressure: that behind, or the critical one.
    behind, throat, end = line(PACK), line(PACK), line(PACK)
    for i in range(PACK):
        behind[i] = min(back_pressure[i], pressure[i])
    throat_pressures(record, pressure, enthalpy, behind, throat)
    # Flux: density times speed.
    isentropic_enthalpies(record, pressure, enthalpy, throat, end)
    fluid_densities(record, throat, end, flux)
    for i in range(PACK):
        flux[i] *= _speed(enthalpy[i], end[i])


@compiled
def _speed_from_continuity(
    record: FluidRecord, pressure: float, total_enthalpy: float, flux: float
) -> float:
    """Subsonic speed [m/s] at which a flux [kg/(s m2)] passes; 0 where there is none."""
    speed = flux / fluid_density(record, pressure, total_enthalpy)
    for _ in range(NEWTON_STEPS):
        # Newton's method on speed * density(p, h0 - speed^2 / 2) = flux.
        here = fluid_state(record, pressure, total_enthalpy - speed * speed / 2)
        speed -= (speed * here[0] - flux) / (here[0] - speed * speed * here[2])
    sound = fluid_state(record, pressure, total_enthalpy - speed * speed / 2)[4]
    # A supersonic root is no flow behind a shock.
    return speed if speed < sound else 0.0


@compiled
def jets(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    """Flows and jets of a pack of nozzles at the pressures behind them.

    Rows of `given`: 0 to 6 a nozzle of unit throat area, 7 throat area, 8 pressure behind,
    9 discharge and 10 velocity coefficient.
    """
    behind, end = line(PACK), line(PACK)
    flux, speed = line(PACK), line(PACK)
    surplus = line(PACK)
    pressure, enthalpy, throat_pressure, choked_flux = given[0], given[1], given[2], given[3]
    area_ratio, exit_pressure, exit_speed = given[4], given[5], given[6]
    # Isentropic expansion to the pressure behind.
    for i in range(PACK):
        behind[i] = min(given[8, i], pressure[i])
    isentropic_enthalpies(record, pressure, enthalpy, behind, end)
    fluid_densities(record, behind, end, flux)
    # Choking, by the flux at the exit area; speed from the stream thrust where choked.
    for i in range(PACK):
        speed[i] = _speed(enthalpy[i], end[i])
        flux[i] = flux[i] * speed[i] * area_ratio[i]
        choked = behind[i] < throat_pressure[i] or flux[i] >= choked_flux[i]
        flux[i] = choked_flux[i] if choked else flux[i]
        surplus[i] = (exit_pressure[i] - behind[i]) * area_ratio[i] / flux[i]
        speed[i] = exit_speed[i] + surplus[i] if choked else speed[i]
        found[JET_CHOKED, i] = 1.0 if choked else 0.0
    # Shock inside the divergent part: subsonic exit by continuity, where it is the faster one. A
    # jet that goes on expanding has no shock behind it.
    for i in range(PACK):
        if found[JET_CHOKED, i] == 1 and not surplus[i] >= 0:
            by_shock = _speed_from_continuity(
                record, behind[i], enthalpy[i], flux[i] / area_ratio[i]
            )
            if by_shock > speed[i] or math.isnan(speed[i]):
                speed[i] = by_shock
    # Discharge and velocity coefficients.
    for i in range(PACK):
        jet = speed[i] * given[10, i]
        found[MASS_FLOW, i] = given[9, i] * given[7, i] * flux[i]
        found[JET_SPEED, i], found[JET_ENTHALPY, i] = jet, enthalpy[i] - jet * jet / 2
