"""The ring around the discs, one lane at a time in compiled code; `rim` says what happens there."""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluid import FluidRecord
from engine.physics.fluid_kernel import fluid_density, fluid_density_viscosity

RING_PASSES = 8
LEAP = 2
"""Pass, from 0, after which it is foretold where they lead (Aitken 1926, from memory)."""
SETTLED = 1e-10
"""Relative change below which passes end early."""
MOST_HEATING = 50e3
"""Work of the edges on the ring [J/kg] up to which the ring is followed; beyond, a stack churns
more than it is blown through, and no steady state is near."""


class RingLane(NamedTuple):
    """Fields as in `rim.Ring`."""

    swirl: float
    total_enthalpy: float
    enthalpy: float
    density: float
    viscosity: float
    edge_torque: float
    casing_dissipation: float
    edge_dissipation: float
    churning: bool


class EntryLane(NamedTuple):
    """Fields as in `rim.GapEntry`."""

    pressure: float
    enthalpy: float
    radial_speed: float


@compiled
def casing_friction(reynolds: float) -> float:
    """Fanning friction factor of a thin ring of fluid sliding along the casing."""
    return max(12 / reynolds, 0.066 / math.sqrt(math.sqrt(reynolds)))


@compiled
def ring_of(
    record: FluidRecord,
    mass_flow: float,
    jet_speed: float,
    total_enthalpy: float,
    pressure: float,
    inlet_angle: float,
    mixing: float,
    rim_radius: float,
    rim_clearance: float,
    stack_height: float,
    edge_height: float,
    angular_speed: float,
) -> RingLane:
    """Mix the jets with the ring of fluid around the discs."""
    rim_speed, casing_radius = angular_speed * rim_radius, rim_radius + rim_clearance
    incoming = jet_speed * math.cos(inlet_angle) * mixing
    flow, swirl, total = max(mass_flow, 1e-12), incoming, total_enthalpy
    edge_torque = casing = drawn = 0.0
    on_wall = math.pi * casing_radius * casing_radius * stack_height / rim_radius
    on_rim = math.pi * rim_radius * edge_height
    first = second = 0.0
    for k in range(RING_PASSES):
        enthalpy = total - swirl * swirl / 2
        density, viscosity = fluid_density_viscosity(record, pressure, enthalpy)
        scale = density * rim_clearance / viscosity
        casing = casing_friction(max(swirl, 1e-3) * scale) * density * on_wall
        edge = casing_friction(max(abs(swirl - rim_speed), 1e-3) * scale) * density * on_rim
        before, swirl = swirl, _ring_swirl(flow, incoming, rim_speed, casing, edge)
        slip = swirl - rim_speed
        edge_torque = edge * slip * abs(slip) * rim_radius
        drawn = edge_torque * angular_speed / flow
        total = total_enthalpy - min(max(drawn, -MOST_HEATING), MOST_HEATING)
        if abs(swirl - before) <= SETTLED * abs(swirl):
            break
        first, second = second, swirl - before
        if k == LEAP and abs(second) < abs(first) / 2:
            # Passes close in by a nearly constant factor: go to where they would end.
            swirl += second * second / (first - second)
    enthalpy = total - swirl * swirl / 2
    density, viscosity = fluid_density_viscosity(record, pressure, enthalpy)
    return RingLane(
        swirl,
        total,
        enthalpy,
        density,
        viscosity,
        edge_torque,
        casing * rim_radius / casing_radius * swirl * swirl * swirl,
        edge_torque / rim_radius * (swirl - rim_speed),
        abs(drawn) > MOST_HEATING,
    )


@compiled
def _ring_swirl(
    flow: float, incoming: float, rim_speed: float, casing: float, edge: float
) -> float:
    sign = 1.0 if flow * (incoming - rim_speed) > casing * rim_speed * rim_speed else -1.0
    square = casing + sign * edge
    linear = flow - sign * 2 * edge * rim_speed
    constant = flow * incoming - sign * edge * rim_speed * rim_speed
    # This form of the root stays exact when the square term is small or negative.
    inside = linear * linear + 4 * square * constant
    return 2 * constant / (linear + math.sqrt(0.0 if inside < 0 else inside))


@compiled
def entry_of(
    record: FluidRecord,
    ring_enthalpy: float,
    ring_density: float,
    ring_pressure: float,
    gap_flow: float,
    gap: float,
    disc_thickness: float,
    rim_radius: float,
) -> EntryLane:
    """Contract the ring's fluid into the gaps between the disc edges."""
    loss = 1 + 0.5 * (1 - gap / (gap + disc_thickness))
    flux = gap_flow / (2 * math.pi * rim_radius * gap)
    pressure, density, enthalpy = ring_pressure, ring_density, ring_enthalpy
    for _ in range(RING_PASSES):
        speed = flux / density
        pressure = ring_pressure - speed * speed * density / 2 * loss
        if not pressure > 0:
            return EntryLane(math.nan, math.nan, math.nan)
        enthalpy = ring_enthalpy - speed * speed / 2
        before, density = density, fluid_density(record, pressure, enthalpy)
        if abs(density - before) <= SETTLED * density:
            break
    return EntryLane(pressure, enthalpy, flux / density)


@compiled
def write_ring(found: Lanes, row: int, i: int, ring: RingLane) -> None:
    """Fill in the rows of a ring, from `row` on."""
    found[row, i], found[row + 1, i] = ring.swirl, ring.total_enthalpy
    found[row + 2, i], found[row + 3, i] = ring.enthalpy, ring.density
    found[row + 4, i], found[row + 5, i] = ring.viscosity, ring.edge_torque
    found[row + 6, i], found[row + 7, i] = ring.casing_dissipation, ring.edge_dissipation
    found[row + 8, i] = 1.0 if ring.churning else 0.0
