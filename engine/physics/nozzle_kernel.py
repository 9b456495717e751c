"""Throats and jets, one lane at a time in compiled code; `nozzle` says what they are."""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluid import FluidRecord
from engine.physics.fluid_kernel import (
    critical_pressure,
    fluid_density,
    fluid_state,
    isentropic_enthalpy,
)

NEWTON_STEPS = 6


class NozzleLane(NamedTuple):
    """A nozzle of unit throat area; fields as in `nozzle.Nozzle`."""

    stagnation_pressure: float
    stagnation_enthalpy: float
    throat_pressure: float
    choked_flux: float
    area_ratio: float
    exit_pressure: float
    exit_speed: float


class JetLane(NamedTuple):
    """Fields as in `nozzle.Jet`."""

    mass_flow: float
    speed: float
    enthalpy: float
    choked: bool


@compiled
def nozzle_lane(given: Lanes, i: int) -> NozzleLane:
    """One column of nozzles, rows as the fields."""
    return NozzleLane(
        given[0, i],
        given[1, i],
        given[2, i],
        given[3, i],
        given[4, i],
        given[5, i],
        given[6, i],
    )


@compiled
def throat_flux(
    record: FluidRecord, pressure: float, enthalpy: float, back_pressure: float
) -> float:
    """Mass flux through a lossless throat, choked where it must be [kg/(s m2)]."""
    throat = critical_pressure(record, pressure, enthalpy)
    behind = min(back_pressure, pressure)
    if math.isnan(throat) or math.isnan(behind):
        return math.nan
    throat = max(behind, throat)
    end = isentropic_enthalpy(record, pressure, enthalpy, throat)
    speed = math.sqrt(2 * (enthalpy - end)) if enthalpy > end else 0 * end
    return fluid_density(record, throat, end) * speed


@compiled
def _speed_from_continuity(
    record: FluidRecord, pressure: float, total_enthalpy: float, flux: float
) -> float:
    """Subsonic speed at which that flux passes; 0 where there is none."""
    speed = flux / fluid_density(record, pressure, total_enthalpy)
    for _ in range(NEWTON_STEPS):
        # Newton on speed * density(h0 - speed^2/2) = flux; subsonic, so it converges from below.
        here = fluid_state(record, pressure, total_enthalpy - speed * speed / 2)
        speed -= (speed * here[0] - flux) / (here[0] - speed * speed * here[2])
    sound = fluid_state(record, pressure, total_enthalpy - speed * speed / 2)[4]
    # A supersonic root is no exit behind a shock; below the first crossing it would also win.
    return speed if speed < sound else 0.0


@compiled
def jet_of(
    record: FluidRecord,
    nozzle: NozzleLane,
    throat_area: float,
    back_pressure: float,
    discharge: float,
    velocity: float,
) -> JetLane:
    """Flow and jet against the pressure behind a nozzle."""
    p0, h0 = nozzle.stagnation_pressure, nozzle.stagnation_enthalpy
    behind = min(back_pressure, p0)
    end = isentropic_enthalpy(record, p0, h0, behind)
    speed = math.sqrt(2 * (h0 - end)) if h0 > end else 0 * end
    flux = fluid_density(record, behind, end) * speed * nozzle.area_ratio
    choked = behind < nozzle.throat_pressure or flux >= nozzle.choked_flux
    if choked:
        flux = nozzle.choked_flux
        surplus = (nozzle.exit_pressure - behind) * nozzle.area_ratio / flux
        speed = nozzle.exit_speed + surplus
        # A jet that goes on expanding has no shock behind it: continuity would be supersonic.
        if not surplus >= 0:
            by_shock = _speed_from_continuity(record, behind, h0, flux / nozzle.area_ratio)
            if by_shock > speed or math.isnan(speed):
                speed = by_shock
    speed *= velocity
    return JetLane(discharge * throat_area * flux, speed, h0 - speed * speed / 2, choked)
