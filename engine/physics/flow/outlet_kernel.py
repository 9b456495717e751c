"""Exhaust and leakage, a pack at a time; see `outlet`."""

import math
from collections.abc import Callable
from typing import TypeVar

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root
from engine.physics.flow.nozzle_kernel import throat_fluxes
from engine.physics.fluids.fluid import FluidRecord

Some = TypeVar("Some", float, Lanes)

N_LEAKAGE_GIVEN = 11
"""Rows that `leakages` reads: arguments of `outlet.collar_leakage` after the fluid."""


def speed_behind(mass_flow: Some, density: Some, area: Some) -> Some:
    """Axial speed in the exhaust annulus [m/s], of an array of lanes or of one lane."""
    return mass_flow / (density * area)


def drop_behind(axial_speed: Some, density: Some, loss: Some) -> Some:
    """Pressure lost behind the gaps [Pa], of an array of lanes or of one lane."""
    return loss * density * axial_speed * axial_speed / 2


axial_speed: Callable[[float, float, float], float] = inlined(speed_behind)
exhaust_drop: Callable[[float, float, float], float] = inlined(drop_behind)


@compiled
def leakages(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    """Flows of a pack down the end discs and out through the collar seals [kg/s]."""
    upstream = line(PACK)
    pressure, density, back_pressure = given[0], given[2], given[3]
    # Pressure before the seal: solid-body rotation of the core.
    for i in range(PACK):
        turning = given[4, i] / given[5, i]
        span = given[5, i] * given[5, i] - given[6, i] * given[6, i]
        drop = density[i] * turning * turning * span / 2
        upstream[i] = max(pressure[i] - drop, back_pressure[i])
    # Flow of one throttle, and of several in series (Stodola).
    throat_fluxes(record, upstream, given[1], back_pressure, found)
    for i in range(PACK):
        area = 2 * math.pi * given[6, i] * given[7, i] * given[8, i]
        found[i] = given[10, i] * area * found[i] / root(given[9, i])
