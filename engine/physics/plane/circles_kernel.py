"""Fluxes through the circles between rows of cells, a pack of columns at a time."""

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, table
from engine.physics.plane.flux_kernel import N_STATE, hllc, limited
from engine.physics.plane.grid import GHOSTS, Grid
from engine.physics.plane.law import PRANDTL, TURBULENT_PRANDTL, Law
from engine.physics.plane.surroundings import DENSITY, PRESSURE, RADIAL, SWIRL, Surroundings

CONTRACTIONS = 3
"""Passes in which density follows the speed through the step at the rim."""
LEAST_LEFT = 0.3
"""Least pressure, and least P / rho, behind that step over those before it."""


@inlined
def _reconstruct(
    grid: Grid, field: Lanes, face: int, start: int, left: Lanes, right: Lanes
) -> None:
    """States on both sides of a circle, along limited slopes; radial speed by its volume flow."""
    rows, inner, outer = grid.centres.size, face - 1, face
    before, behind = max(face - 2, 0), min(face + 1, rows - 1)
    here, there = grid.centres[inner], grid.centres[outer]
    # The first and last rows are taken as even.
    to_left = grid.faces[face] - here if face >= 2 else 0.0
    to_right = there - grid.faces[face] if face <= rows - 2 else 0.0
    span = 1 / (there - here)
    span_left = 1 / (here - grid.centres[before]) if face >= 2 else 0.0
    span_right = 1 / (grid.centres[behind] - there) if face <= rows - 2 else 0.0
    for k in range(N_STATE):
        h0, h1, h2, h3 = 1.0, 1.0, 1.0, 1.0
        if k == RADIAL:
            h0, h1 = grid.heights[before], grid.heights[inner]
            h2, h3 = grid.heights[outer], grid.heights[behind]
        per_inner, per_outer = 1 / h1, 1 / h2
        for i in range(PACK):
            at = start + i
            wl, wr = field[k, inner, at] * h1, field[k, outer, at] * h2
            slope = (wr - wl) * span
            slope_left = (wl - field[k, before, at] * h0) * span_left
            slope_right = (field[k, behind, at] * h3 - wr) * span_right
            left[k, i] = (wl + limited(slope_left, slope) * to_left) * per_inner
            right[k, i] = (wr - limited(slope, slope_right) * to_right) * per_outer


@inlined
def _contract(law: Law, share: float, loss: float, right: Lanes, push: Lanes) -> None:
    """Take the ring's state through the step into the gaps; `push` is the pressure on the edges.

    Inward a contraction with its loss, outward a sudden widening (Borda and Carnot).
    """
    excess, k = law.exponent - 1, law.exponent
    inward = 0.5 * (1 - share * share + loss * (1 - share) ** 2)
    outward = share * (1 - share)
    on_edges = 0.5 * share * (1 - share) * (1 - loss)
    for i in range(PACK):
        density, speed, pressure = right[0, i], right[1, i], right[3, i]
        content = pressure / density
        lost = inward if speed < 0 else outward
        r, u, p = density, speed / share, pressure
        for _ in range(CONTRACTIONS):
            u = speed * density / (share * r)
            p = max(pressure - r * u * u * lost, LEAST_LEFT * pressure)
            cooled = content - excess / k * 0.5 * (u * u - speed * speed)
            r = p / max(cooled, LEAST_LEFT * content)
        right[0, i], right[1, i], right[3, i] = r, u, p
        push[i] = pressure - r * u * u * on_edges if speed < 0 else p


@inlined
def _mix(
    law: Law,
    grid: Grid,
    field: Lanes,
    viscosity: Lanes,
    length: float,
    face: int,
    start: int,
    flux: Lanes,
) -> None:
    """Add what viscosity and eddies carry across a circle: swirl and heat."""
    inner, outer = face - 1, face
    here, there, rim = grid.centres[inner], grid.centres[outer], grid.faces[face]
    per_distance, content = 1 / (there - here), law.exponent / (law.exponent - 1)
    for i in range(PACK):
        at = start + i
        vl, vr = field[SWIRL, inner, at], field[SWIRL, outer, at]
        rl, rr = field[DENSITY, inner, at], field[DENSITY, outer, at]
        strain = rim * (vr / there - vl / here) * per_distance
        mu = 0.5 * (viscosity[inner, at] + viscosity[outer, at])
        eddy = 0.5 * (rl + rr) * length * length * abs(strain)
        stress = (mu + eddy) * strain
        warmer = content * (field[PRESSURE, outer, at] / rr - field[PRESSURE, inner, at] / rl)
        heat = (mu / PRANDTL + eddy / TURBULENT_PRANDTL) * warmer * per_distance
        flux[2, i] -= stress
        flux[3, i] -= stress * 0.5 * (vl + vr) + heat


@compiled
def through_circles(
    law: Law,
    grid: Grid,
    around: Surroundings,
    field: Lanes,
    viscosity: Lanes,
    rate: Lanes,
    entering: Lanes,
) -> None:
    """Add the fluxes through all circles but those at bore and casing to the rates of the cells.

    `entering` becomes mass [kg/s], angular momentum [N m] and energy [W] into the gaps by column.
    """
    left, right = table(N_STATE, PACK), table(N_STATE, PACK)
    flux, push = table(N_STATE, PACK), table(1, PACK)
    rows, last = grid.centres.size, grid.widths.size - GHOSTS
    for face in range(1, rows):
        rim, height = grid.faces[face], grid.heights[face - 1]
        is_step = face == rim_circle(grid)
        for start in range(GHOSTS, last, PACK):
            _reconstruct(grid, field, face, start, left, right)
            if is_step:
                share = height / grid.heights[face]
                _contract(law, share, around.entry_loss, right, push[0])
            hllc(law.exponent, left, right, flux)
            _mix(law, grid, field, viscosity, around.lengths[face], face, start, flux)
            for k in range(N_STATE):
                arm = rim if k == SWIRL else 1.0
                for i in range(PACK):
                    passed = flux[k, i] * arm * height * rim * grid.widths[start + i]
                    rate[k, face - 1, start + i] -= passed
                    rate[k, face, start + i] += passed
            if is_step:
                edges = (grid.heights[face] - height) * rim
                for i in range(PACK):
                    area = height * rim * grid.widths[start + i]
                    rate[RADIAL, face, start + i] += push[0, i] * edges * grid.widths[start + i]
                    entering[0, start + i] = -flux[0, i] * area
                    entering[1, start + i] = -flux[2, i] * area * rim
                    entering[2, start + i] = -flux[3, i] * area


@inlined
def rim_circle(grid: Grid) -> int:
    """Circle at the rim, where the height of the fluid changes; 0 where there is no ring."""
    return grid.n_gap if grid.n_gap < grid.centres.size else 0
