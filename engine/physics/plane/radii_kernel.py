"""Fluxes through the radii between columns of cells, a pack of columns at a time."""

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, table
from engine.physics.plane.flux_kernel import N_STATE, hllc, limited
from engine.physics.plane.grid import GHOSTS, Grid
from engine.physics.plane.surroundings import RADIAL, SWIRL


@inlined
def _reconstruct(grid: Grid, field: Lanes, row: int, start: int, left: Lanes, right: Lanes) -> None:
    """States on both sides of the radius before each column; the normal is circumferential."""
    for k in range(N_STATE):
        to = SWIRL if k == RADIAL else (RADIAL if k == SWIRL else k)
        for i in range(PACK):
            at = start + i
            far, wl = field[k, row, at - 2], field[k, row, at - 1]
            wr, beyond = field[k, row, at], field[k, row, at + 1]
            slope = (wr - wl) / grid.spacings[at]
            slope_left = (wl - far) / grid.spacings[at - 1]
            slope_right = (beyond - wr) / grid.spacings[at + 1]
            left[to, i] = wl + limited(slope_left, slope) * 0.5 * grid.widths[at - 1]
            right[to, i] = wr - limited(slope, slope_right) * 0.5 * grid.widths[at]


@compiled
def through_radii(exponent: float, grid: Grid, field: Lanes, rate: Lanes) -> None:
    """Add the fluxes through all radii to the rates of the cells."""
    left, right, flux = table(N_STATE, PACK), table(N_STATE, PACK), table(N_STATE, PACK)
    last = grid.widths.size - GHOSTS
    for row in range(grid.centres.size):
        inner, outer = grid.faces[row], grid.faces[row + 1]
        area, middle = grid.heights[row] * (outer - inner), 0.5 * (inner + outer)
        for start in range(GHOSTS, last, PACK):
            _reconstruct(grid, field, row, start, left, right)
            hllc(exponent, left, right, flux)
            for k in range(N_STATE):
                of = SWIRL if k == RADIAL else (RADIAL if k == SWIRL else k)
                through = area * middle if k == SWIRL else area
                # Into the columns, then out of those before; the first one's is the last.
                for i in range(PACK):
                    rate[k, row, start + i] += flux[of, i] * through
                for i in range(PACK):
                    rate[k, row, start + i - 1] -= flux[of, i] * through
        for k in range(N_STATE):
            rate[k, row, last - 1] += rate[k, row, GHOSTS - 1]
