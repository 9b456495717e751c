"""From the ring around the discs into the gaps, a pack at a time; see `rim`."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, line, root
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_densities

ENTRY_PASSES = 8
"""Most passes of the repeated solution."""
SETTLED = 1e-10
"""Relative change below which passes end early."""
WIDE, THROWING, TURBULENT = 10.0, 3e3, 5e4
"""Ekman parameter and throw above which the discs throw fluid back out at the rim in a way that no
averaged march follows, and gap Reynolds number at the rim from which it follows again, as all of
the layers at the discs are turbulent (`rim.are_thrown_out`)."""
N_ENTRY_GIVEN = 8
"""Rows that `entries` reads."""
ENTRY_PRESSURE, ENTRY_ENTHALPY, ENTRY_SPEED, N_ENTRY = range(4)
"""Rows of entries: fields of `rim.GapEntry`."""


@compiled
def entries(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    """Contract the fluid of a pack of rings into the gaps between the disc edges.

    Rows of `given`, see `rim.enter_gap`: 0 enthalpy, 1 density and 2 pressure of the ring, 3 flow
    into a gap, 4 gap, 5 disc thickness, 6 rim radius, 7 entry factor.
    """
    pressure, enthalpy, density = line(PACK), line(PACK), line(PACK)
    before, flux, loss = line(PACK), line(PACK), line(PACK)
    # Radial mass flux, and dynamic head with the loss of the contraction (Idelchik).
    for i in range(PACK):
        gap, density[i], before[i] = given[4, i], given[1, i], 0.0
        flux[i] = given[3, i] / (2 * math.pi * given[6, i] * gap)
        loss[i] = 1 + given[7, i] * 0.5 * (1 - gap / (gap + given[5, i]))
        pressure[i] = enthalpy[i] = math.nan
    # Passes: speed by the density, state by the speed; converged lanes keep their values.
    for _ in range(ENTRY_PASSES):
        for i in range(PACK):
            rests = abs(density[i] - before[i]) <= SETTLED * density[i]
            inward = flux[i] / density[i]
            there = given[2, i] - inward * inward * density[i] / 2 * loss[i]
            there = there if there > 0 else math.nan
            pressure[i] = pressure[i] if rests else there
            enthalpy[i] = enthalpy[i] if rests else given[0, i] - inward * inward / 2
            before[i] = density[i]
        fluid_densities(record, pressure, enthalpy, density)
        left = 0.0
        for i in range(PACK):
            left += 1.0 if abs(density[i] - before[i]) > SETTLED * density[i] else 0.0
        if left == 0:
            break
    # NaN where the contraction cannot pass the flow.
    for i in range(PACK):
        found[ENTRY_PRESSURE, i], found[ENTRY_SPEED, i] = pressure[i], flux[i] / density[i]
        found[ENTRY_ENTHALPY, i] = enthalpy[i] if pressure[i] > 0 else math.nan


@compiled
def thrown_out(
    density: float,
    viscosity: float,
    swirl: float,
    inward: float,
    gap: float,
    radius: float,
    omega: float,
) -> bool:
    """Whether the discs throw fluid back out at the rim; see `rim.are_thrown_out`."""
    # Throw, Ekman parameter and Reynolds number.
    turning, per_viscosity = swirl / radius, density / viscosity
    throw = gap * gap * per_viscosity * (omega * omega - turning * turning) * radius
    ekman = gap * root(omega * per_viscosity)
    slip = swirl - omega * radius
    reynolds = 2 * gap * per_viscosity * root(slip * slip + inward * inward)
    return bool(ekman > WIDE and throw > THROWING * inward and reynolds < TURBULENT)
