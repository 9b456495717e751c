"""What happens at bore and casing, and at the edges of the discs, column by column."""

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, root
from engine.physics.plane.friction_kernel import stress_on
from engine.physics.plane.grid import GHOSTS, Grid
from engine.physics.plane.law import Law
from engine.physics.plane.surroundings import (
    BORE_ENERGY,
    BORE_MASS,
    BORE_MOMENTUM,
    CASING_HEAT,
    CASING_TORQUE,
    DENSITY,
    EDGE_HEAT,
    EDGE_TORQUE,
    JET_ENERGY,
    JET_MASS,
    JET_MOMENTUM,
    MOUTH_AREA,
    MOUTH_PUSH,
    PRESSURE,
    RADIAL,
    SWIRL,
    Mouth,
    Surroundings,
)


@compiled
def leave_by_bore(
    law: Law, grid: Grid, around: Surroundings, field: Lanes, rate: Lanes, tally: Lanes
) -> None:
    """Let the innermost row out at the pressure of the bore."""
    k, rim = law.exponent, grid.faces[0]
    content, back = k / (k - 1), around.bore_pressure
    outward = (grid.centres[0] - rim) / (grid.centres[1] - grid.centres[0])
    for at in range(GHOSTS, grid.widths.size - GHOSTS):
        density, speed = field[DENSITY, 0, at], field[RADIAL, 0, at]
        # Swirl along a straight line, mass flow as it is; density follows the pressure.
        swirl = field[SWIRL, 0, at] * (1 + outward) - field[SWIRL, 1, at] * outward
        flux = density * speed * grid.centres[0] / rim
        density *= (back / field[PRESSURE, 0, at]) ** (1 / k)
        speed = flux / density
        total = content * back / density + 0.5 * (speed * speed + swirl * swirl)
        through = grid.heights[0] * rim * grid.widths[at]
        rate[DENSITY, 0, at] += flux * through
        rate[RADIAL, 0, at] += (flux * speed + back) * through
        rate[SWIRL, 0, at] += flux * swirl * rim * through
        rate[PRESSURE, 0, at] += flux * total * through
        tally[BORE_MASS] -= flux * through
        tally[BORE_MOMENTUM] -= flux * swirl * rim * through
        tally[BORE_ENERGY] -= flux * total * through


@compiled
def enter_by_mouth(
    law: Law, grid: Grid, mouth: Mouth, field: Lanes, rate: Lanes, tally: Lanes
) -> None:
    """Bring in the jets; close the rest of the casing."""
    n, rim = grid.centres.size - 1, grid.faces[-1]
    depth = rim - grid.centres[n]
    for at in range(GHOSTS, grid.widths.size - GHOSTS):
        density, speed = field[DENSITY, n, at], field[RADIAL, n, at]
        swirl, pressure = field[SWIRL, n, at], field[PRESSURE, n, at]
        area, cover = grid.heights[n] * rim * grid.widths[at], mouth.cover[at]
        # Pressure on the casing with the swirl's pull, and the wave of a wall on its own flow.
        at_wall = pressure + density * swirl * swirl / rim * depth
        closed = at_wall + density * root(law.exponent * pressure / density) * speed
        flux = mouth.flux * cover
        rate[DENSITY, n, at] += flux * area
        rate[RADIAL, n, at] += (flux * mouth.radial - cover * at_wall - (1 - cover) * closed) * area
        rate[SWIRL, n, at] += flux * mouth.swirl * rim * area
        rate[PRESSURE, n, at] += flux * mouth.total * area
        tally[JET_MASS] += flux * area
        tally[JET_MOMENTUM] += flux * mouth.swirl * rim * area
        tally[JET_ENERGY] += flux * mouth.total * area
        tally[MOUTH_PUSH] += cover * area * pressure
        tally[MOUTH_AREA] += cover * area


@compiled
def _mean_swirl(grid: Grid, field: Lanes, at: int) -> float:
    """Mean swirl of the ring in a column, by mass."""
    flow, mass = 0.0, 0.0
    for row in range(grid.n_gap, grid.centres.size):
        here = field[DENSITY, row, at] * (grid.faces[row + 1] - grid.faces[row])
        flow, mass = flow + here * field[SWIRL, row, at], mass + here
    return flow / mass


@compiled
def rub_on_casing(
    grid: Grid,
    around: Surroundings,
    mouth: Mouth,
    field: Lanes,
    viscosity: Lanes,
    rate: Lanes,
    tally: Lanes,
) -> None:
    """Take the friction of casing and disc edges from the ring; the edges' work with it."""
    n, rim, first = grid.centres.size - 1, grid.faces[-1], grid.n_gap
    inner, clearance = grid.faces[first], around.clearance
    if first > n:
        return
    for at in range(GHOSTS, grid.widths.size - GHOSTS):
        # Casing, where there is no mouth.
        mean, swirl = _mean_swirl(grid, field, at), field[SWIRL, n, at]
        area = grid.heights[n] * rim * grid.widths[at] * (1 - mouth.cover[at])
        pull = area * stress_on(
            around.closure,
            field[DENSITY, n, at],
            viscosity[n, at],
            swirl,
            mean,
            rim - grid.centres[n],
            clearance,
        )
        rate[SWIRL, n, at] -= pull * rim
        tally[CASING_TORQUE] += pull * rim
        tally[CASING_HEAT] += pull * mean
        # Edges, on the speed relative to them.
        slip = field[SWIRL, first, at] - around.angular_speed * inner
        area = grid.heights[first] * inner * grid.widths[at] * around.edge_share
        pull = area * stress_on(
            around.closure,
            field[DENSITY, first, at],
            viscosity[first, at],
            slip,
            slip,
            grid.centres[first] - inner,
            clearance,
        )
        rate[SWIRL, first, at] -= pull * inner
        rate[PRESSURE, first, at] -= pull * inner * around.angular_speed
        tally[EDGE_TORQUE] += pull * inner
        tally[EDGE_HEAT] += pull * slip
