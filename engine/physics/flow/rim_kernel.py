"""The ring of fluid around the discs, a pack at a time; see `rim`."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_densities, fluid_densities_viscosities

RING_PASSES = 8
"""Most passes of a repeated solution."""
LEAP = 2
"""Pass, counted from 0, that extrapolates the swirl to the limit of the passes (Aitken 1926, from
memory)."""
SETTLED = 1e-10
"""Relative change below which passes end early."""
MOST_HEATING = 50e3
"""Largest work of the disc edges on the ring [J/kg]. Beyond it a stack mainly churns its fluid, and
no steady state is near."""
APART = 3.0
"""Ekman parameter below which the layers at the two discs are one and throw nothing out."""
THROWING, THICK = 300.0, 6.0
"""Throw of a gap over the root of its Ekman parameter (at least `THICK`) above which the discs
throw fluid back out at the rim, with laminar layers (`rim.are_thrown_out`)."""
TURBULENT_THROWING, THIN = 2.3e4, 10.0
"""The same throw with turbulent layers, up to an Ekman parameter `THIN`. In wider gaps it falls
with the power 1.5 of that, as no march follows such a flow without oscillating."""
LAMINAR_BELOW, TURBULENT_ABOVE = 4e3, 5e4
"""Gap Reynolds numbers at the rim between which the layers at the discs become turbulent. They are
much thinner there than the gap, so this is later than in a channel."""
N_RING_GIVEN, N_ENTRY_GIVEN = 11, 7
"""Rows that `rings` and `entries` read."""
SWIRL, TOTAL_ENTHALPY, ENTHALPY, DENSITY, VISCOSITY = range(5)
EDGE_TORQUE, CASING_DISSIPATION, EDGE_DISSIPATION, CHURNING, N_RING = range(5, 10)
"""Rows of rings: fields of `rim.Ring`."""
ENTRY_PRESSURE, ENTRY_ENTHALPY, ENTRY_SPEED, N_ENTRY = range(4)
"""Rows of entries: fields of `rim.GapEntry`."""


@inlined
def casing_friction(reynolds: float) -> float:
    """Fanning friction factor of a thin ring of fluid sliding along the casing."""
    return max(12 / reynolds, 0.066 / root(root(reynolds)))


@inlined
def _ring_swirl(
    flow: float, incoming: float, rim_speed: float, casing: float, edge: float
) -> float:
    """Swirl of a ring [m/s] by its angular momentum balance, for given friction coefficients.

    flow (incoming - w) = casing w^2 + edge (w - rim_speed) |w - rim_speed|, solved for w.
    """
    sign = 1.0 if flow * (incoming - rim_speed) > casing * rim_speed * rim_speed else -1.0
    square = casing + sign * edge
    linear = flow - sign * 2 * edge * rim_speed
    constant = flow * incoming - sign * edge * rim_speed * rim_speed
    # This form of the root stays exact when the square term is small or negative.
    inside = linear * linear + 4 * square * constant
    return 2 * constant / (linear + root(0.0 if inside < 0 else inside))


@compiled
def rings(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    """Mix the jets of a pack with the rings of fluid around the discs.

    Rows of `given`, see `rim.mix_at_rim`: 0 mass flow, 1 jet speed, 2 total enthalpy, 3 pressure,
    4 inlet angle, 5 mixing coefficient, 6 rim radius, 7 rim clearance, 8 stack height, 9 edge
    height, 10 angular speed.

    Of each lane: `incoming` swirl of the jets after mixing [m/s], `drawn` work of the edges
    [J/kg], `casing` friction torque over rim radius and the square of a speed [kg/m], `last` change
    of the swirl in the pass before, `moving` 1 until the passes have converged.
    """
    incoming, flow, swirl, total = line(PACK), line(PACK), line(PACK), line(PACK)
    enthalpy, density, viscosity = line(PACK), line(PACK), line(PACK)
    torque, drawn, casing = line(PACK), line(PACK), line(PACK)
    last, moving = line(PACK), line(PACK)
    pressure, rim, clearance, omega = given[3], given[6], given[7], given[10]
    # Start: swirl of the jets. The cosine, a library call, has a loop of its own.
    for i in range(PACK):
        incoming[i] = math.cos(given[4, i])
    for i in range(PACK):
        incoming[i] = given[1, i] * incoming[i] * given[5, i]
        flow[i], swirl[i], total[i] = max(given[0, i], 1e-12), incoming[i], given[2, i]
        torque[i] = drawn[i] = casing[i] = last[i] = 0.0
        moving[i] = 1.0
    # Passes: state of the ring by its swirl, friction by the state, swirl by the friction.
    for k in range(RING_PASSES):
        for i in range(PACK):
            enthalpy[i] = total[i] - swirl[i] * swirl[i] / 2
        fluid_densities_viscosities(record, pressure, enthalpy, density, viscosity)
        leaping = k == LEAP
        for i in range(PACK):
            # Friction on casing and edges (Hirs).
            rim_speed, casing_radius = omega[i] * rim[i], rim[i] + clearance[i]
            scale = density[i] * clearance[i] / viscosity[i]
            on_wall = math.pi * casing_radius * casing_radius * given[8, i] / rim[i]
            on_rim = math.pi * rim[i] * given[9, i]
            before = swirl[i]
            wall = casing_friction(max(before, 1e-3) * scale) * density[i] * on_wall
            edge = casing_friction(max(abs(before - rim_speed), 1e-3) * scale) * density[i] * on_rim
            # Swirl by the angular momentum balance, and the work of the edges.
            now = _ring_swirl(flow[i], incoming[i], rim_speed, wall, edge)
            slip, change = now - rim_speed, now - before
            by_edge = edge * slip * abs(slip) * rim[i]
            heating = by_edge * omega[i] / flow[i]
            rests, moves = abs(change) <= SETTLED * abs(now), moving[i] == 1
            # Changes shrink by a nearly constant factor: extrapolate to their limit.
            leaps = leaping and not rests and abs(change) < abs(last[i]) / 2
            onward = now + change * change / (last[i] - change) if leaps else now
            # Converged lanes keep their values.
            swirl[i] = onward if moves else before
            torque[i] = by_edge if moves else torque[i]
            drawn[i] = heating if moves else drawn[i]
            casing[i] = wall if moves else casing[i]
            total[i] = given[2, i] - min(max(drawn[i], -MOST_HEATING), MOST_HEATING)
            last[i], moving[i] = change, 0.0 if rests else moving[i]
        left = 0.0
        for i in range(PACK):
            left += moving[i]
        if left == 0:
            break
    # State at the final swirl, and the friction powers.
    for i in range(PACK):
        enthalpy[i] = total[i] - swirl[i] * swirl[i] / 2
    fluid_densities_viscosities(record, pressure, enthalpy, density, viscosity)
    for i in range(PACK):
        found[SWIRL, i], found[TOTAL_ENTHALPY, i] = swirl[i], total[i]
        found[ENTHALPY, i], found[DENSITY, i] = enthalpy[i], density[i]
        found[VISCOSITY, i], found[EDGE_TORQUE, i] = viscosity[i], torque[i]
        rubbed = casing[i] * rim[i] / (rim[i] + clearance[i])
        found[CASING_DISSIPATION, i] = rubbed * swirl[i] * swirl[i] * swirl[i]
        found[EDGE_DISSIPATION, i] = torque[i] / rim[i] * (swirl[i] - omega[i] * rim[i])
        found[CHURNING, i] = 1.0 if abs(drawn[i]) > MOST_HEATING else 0.0


@compiled
def entries(record: FluidRecord, given: Lanes, found: Lanes) -> None:
    """Contract the fluid of a pack of rings into the gaps between the disc edges.

    Rows of `given`, see `rim.enter_gap`: 0 enthalpy, 1 density and 2 pressure of the ring, 3 flow
    into a gap, 4 gap, 5 disc thickness, 6 rim radius.
    """
    pressure, enthalpy, density = line(PACK), line(PACK), line(PACK)
    before, flux, loss = line(PACK), line(PACK), line(PACK)
    # Radial mass flux, and dynamic head with the loss of the contraction (Idelchik).
    for i in range(PACK):
        gap, density[i], before[i] = given[4, i], given[1, i], 0.0
        flux[i] = given[3, i] / (2 * math.pi * given[6, i] * gap)
        loss[i] = 1 + 0.5 * (1 - gap / (gap + given[5, i]))
        pressure[i] = enthalpy[i] = math.nan
    # Passes: speed by the density, state by the speed; converged lanes keep their values.
    for _ in range(RING_PASSES):
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
    # Throw, and the Ekman parameter.
    turning, per_viscosity = swirl / radius, density / viscosity
    throw = gap * gap * per_viscosity * (omega * omega - turning * turning) * radius
    ekman = gap * root(omega * per_viscosity)
    # Limit, by the state of the layers.
    slip = swirl - omega * radius
    reynolds = 2 * gap * per_viscosity * root(slip * slip + inward * inward)
    within = min(max(reynolds, LAMINAR_BELOW), TURBULENT_ABOVE) / LAMINAR_BELOW
    place = math.log(within) / math.log(TURBULENT_ABOVE / LAMINAR_BELOW)
    turbulence = place * place * (3 - 2 * place)
    limit = THROWING * root(max(ekman, THICK))
    narrowing = THIN / max(ekman, THIN)
    limit *= (TURBULENT_THROWING * narrowing * root(narrowing) / limit) ** turbulence
    return bool(ekman > APART and throw > limit * inward)
