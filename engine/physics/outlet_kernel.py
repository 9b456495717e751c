"""Ways out, one lane at a time in compiled code; `outlet` says what they are."""

import math
from collections.abc import Callable
from typing import TypeVar

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluid import FluidRecord
from engine.physics.nozzle_kernel import throat_flux

Some = TypeVar("Some", float, Lanes)

CORE_SWIRL = 0.45
"""Swirl of the fluid in a side chamber over disc speed, turbulent, separate layers."""


def speed_behind(mass_flow: Some, density: Some, area: Some) -> Some:
    """Axial speed in the exhaust annulus [m/s], of lanes or of one."""
    return mass_flow / (density * area)


def drop_behind(axial_speed: Some, density: Some, loss: Some) -> Some:
    """Pressure lost behind the gaps [Pa], of lanes or of one."""
    return loss * density * axial_speed * axial_speed / 2


axial_speed: Callable[[float, float, float], float] = compiled(speed_behind)
exhaust_drop: Callable[[float, float, float], float] = compiled(drop_behind)


@compiled
def leakage_of(
    record: FluidRecord,
    ring_pressure: float,
    ring_enthalpy: float,
    ring_density: float,
    back_pressure: float,
    angular_speed: float,
    rim_radius: float,
    seal_radius: float,
    seal_clearance: float,
    seal_count: float,
    throttles: float,
    discharge: float,
) -> float:
    """Flow down the end discs and out through the collar seals [kg/s]."""
    turning = CORE_SWIRL * angular_speed
    span = rim_radius * rim_radius - seal_radius * seal_radius
    upstream = max(ring_pressure - ring_density * turning * turning * span / 2, back_pressure)
    flux = throat_flux(record, upstream, ring_enthalpy, back_pressure)
    area = 2 * math.pi * seal_radius * seal_clearance * seal_count
    return discharge * area * flux / math.sqrt(throttles)
