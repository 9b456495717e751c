"""What acts within the cells, a pack of columns at a time: curvature, discs, leakage."""

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, line, root
from engine.physics.plane.friction_kernel import STILL, disc_stress
from engine.physics.plane.grid import GHOSTS, Grid
from engine.physics.plane.law import Law
from engine.physics.plane.surroundings import (
    DENSITY,
    GAP_HEAT,
    GAP_TORQUE,
    LEAK_ENERGY,
    LEAK_MASS,
    LEAK_MOMENTUM,
    PRESSURE,
    RADIAL,
    RING_MASS,
    SWIRL,
    Surroundings,
)


@compiled
def bend(grid: Grid, field: Lanes, rate: Lanes) -> None:
    """Add what pressure and swirl do to radial momentum because the axes turn with the angle."""
    for row in range(grid.centres.size):
        area = grid.heights[row] * (grid.faces[row + 1] - grid.faces[row])
        for at in range(GHOSTS, grid.widths.size - GHOSTS):
            v = field[SWIRL, row, at]
            outward = field[PRESSURE, row, at] + field[DENSITY, row, at] * v * v
            rate[RADIAL, row, at] += outward * area * grid.widths[at]


@compiled
def rub_on_discs(
    grid: Grid,
    around: Surroundings,
    field: Lanes,
    viscosity: Lanes,
    rate: Lanes,
    tally: Lanes,
) -> None:
    """Take the friction of the discs from the fluid in the gaps, and their work."""
    radial, turning, heat = line(PACK), line(PACK), line(PACK)
    omega, gap, late = around.angular_speed, around.gap, around.transition
    for row in range(grid.n_gap):
        inner, outer, rim = grid.faces[row], grid.faces[row + 1], grid.centres[row]
        plan = grid.heights[row] / gap * (outer * outer - inner * inner)
        for start in range(GHOSTS, grid.widths.size - GHOSTS, PACK):
            for i in range(PACK):
                at = start + i
                u, slip = field[RADIAL, row, at], field[SWIRL, row, at] - omega * rim
                speed = root(u * u + slip * slip) + STILL
                rho, mu = field[DENSITY, row, at], viscosity[row, at]
                stress = disc_stress(rho, mu, speed, gap, late)
                pull = plan * grid.widths[at] * stress / speed
                radial[i], turning[i] = pull * u, pull * slip * rim
                heat[i] = pull * speed * speed
            for i in range(PACK):
                rate[RADIAL, row, start + i] -= radial[i]
            for i in range(PACK):
                rate[SWIRL, row, start + i] -= turning[i]
            for i in range(PACK):
                rate[PRESSURE, row, start + i] -= turning[i] * omega
            for i in range(PACK):
                tally[GAP_TORQUE] += turning[i]
                tally[GAP_HEAT] += heat[i]


@compiled
def leak(law: Law, grid: Grid, share: float, field: Lanes, rate: Lanes, tally: Lanes) -> None:
    """Draw the leakage from the ring: a share of its mass each second, in the state there."""
    content = law.exponent / (law.exponent - 1)
    for row in range(grid.n_gap, grid.centres.size):
        inner, outer, rim = grid.faces[row], grid.faces[row + 1], grid.centres[row]
        plan = grid.heights[row] * 0.5 * (outer * outer - inner * inner)
        for at in range(GHOSTS, grid.widths.size - GHOSTS):
            density, u, v = field[DENSITY, row, at], field[RADIAL, row, at], field[SWIRL, row, at]
            mass = density * plan * grid.widths[at]
            total = content * field[PRESSURE, row, at] / density + 0.5 * (u * u + v * v)
            drawn = share * mass
            rate[DENSITY, row, at] -= drawn
            rate[RADIAL, row, at] -= drawn * u
            rate[SWIRL, row, at] -= drawn * v * rim
            rate[PRESSURE, row, at] -= drawn * total
            tally[RING_MASS] += mass
            tally[LEAK_MASS] += drawn
            tally[LEAK_MOMENTUM] += drawn * v * rim
            tally[LEAK_ENERGY] += drawn * total
