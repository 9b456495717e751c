"""The cells: ring between discs and casing, and gaps, over one nozzle's share of the turn."""

import math
from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK

GHOSTS = 2
"""Columns beyond either end of the sector, which repeat those of the other end."""
ACROSS_RING, LARGEST, GROWTH = 8, 22e-3, 1.15
"""Cells across the clearance; largest cell along the radius in the gaps, over the rim radius, and
growth of the cells inward."""
IN_MOUTH, PER_CLEARANCE = 6, 1.2
"""Cells along one mouth; largest cell there, over the clearance."""
BEHIND_MOUTH, STRETCH, WIDEST = 5.0, 1.05, 3.0
"""Arc behind a mouth with cells as fine as in it, over that of the mouth; growth of the cells
further on; widest cell over the finest."""
COLUMNS = (24, 2400)
"""Fewest and most columns."""


class Grid(NamedTuple):
    """Cells in rows along the radius and columns around; arrays of columns have ghosts."""

    faces: Lanes  # radii of the circles between rows, from bore to casing [m]
    centres: Lanes  # radii of the centres of mass of the cells [m]
    heights: Lanes  # height of the fluid by row [m]
    widths: Lanes  # angle that a column takes [rad]
    spacings: Lanes  # angle between the middle of a column and that of the one before [rad]
    n_gap: int  # rows below the rim; as many as there are, where there is no ring


def grid_around_rim(
    *,
    rim_radius: float,
    bore_radius: float,
    rim_clearance: float,
    stack_height: float,
    gap_height: float,
    sector: float,
    mouth: float,
    fineness: float,
) -> Grid:
    """Lay cells over ring and gaps, fine at the rim and at the mouth of a nozzle.

    Parameters
    ----------
    rim_radius, bore_radius, rim_clearance : float
        Radii [m], and clearance between rim and casing [m].
    stack_height, gap_height : float
        Height of the fluid in the ring and in all gaps together [m].
    sector : float
        Angle from nozzle to nozzle [rad].
    mouth : float
        Arc of the casing that one jet takes, from the first column on [m].
    fineness : float
        Cells along a length over the usual number [-], 0.25 to 4.

    Returns
    -------
    Grid
        The cells. Their number around is a multiple of the size of a pack.

    References
    ----------
    Derived here.

    """
    finest = rim_clearance / max(2, round(ACROSS_RING * fineness))
    inward = _growing(
        finest, GROWTH ** (1 / fineness), max(LARGEST * rim_radius / fineness, finest)
    )
    rows = _filled(inward, rim_radius - bore_radius)
    below = rim_radius - np.concatenate([[0.0], np.cumsum(rows)])[::-1]
    below[0] = bore_radius
    ring = rim_radius + finest * np.arange(1, round(rim_clearance / finest) + 1)
    faces = np.concatenate([below, ring])
    heights = np.full(faces.size - 1, stack_height)
    heights[: rows.size] = gap_height
    widths = _columns(sector, mouth, rim_radius, rim_clearance, fineness)
    return grid_of(faces=faces, heights=heights, widths=widths, n_gap=rows.size)


def grid_of(*, faces: Lanes, heights: Lanes, widths: Lanes, n_gap: int) -> Grid:
    """Make a grid from the sizes of its cells.

    Parameters
    ----------
    faces : Lanes
        Radii of the circles between the rows, rising [m].
    heights : Lanes
        Height of the fluid by row [m].
    widths : Lanes
        Angle of each column [rad]; their number is a multiple of the size of a pack.
    n_gap : int
        Rows below the rim [-].

    Returns
    -------
    Grid
        The cells.

    References
    ----------
    Derived here.

    """
    inner, outer = faces[:-1], faces[1:]
    centres = 2 / 3 * (outer**3 - inner**3) / (outer**2 - inner**2)
    round_again = np.pad(widths, GHOSTS, mode="wrap")
    spacings = (round_again + np.roll(round_again, 1)) / 2
    return Grid(faces, centres, heights, round_again, spacings, n_gap)


def middles(*, grid: Grid) -> Lanes:
    """Angles of the middle of each column [rad], without ghosts.

    Parameters
    ----------
    grid : Grid
        The cells [-].

    Returns
    -------
    Lanes
        Angles from the start of the mouth [rad].

    References
    ----------
    Geometry, derived here.

    """
    widths = grid.widths[GHOSTS:-GHOSTS]
    return np.asarray(np.cumsum(widths) - widths / 2)


def refined(*, field: Lanes, coarse: Grid, fine: Grid) -> Lanes:
    """Carry a field from one grid to another, along straight lines within ring and gaps.

    Parameters
    ----------
    field : Lanes
        Values by row and column, without ghosts [any].
    coarse, fine : Grid
        The cells of the field, and those wanted [-].

    Returns
    -------
    Lanes
        Values on the fine grid [any].

    References
    ----------
    Derived here.

    """
    at, turn = middles(grid=coarse), coarse.widths[GHOSTS:-GHOSTS].sum()
    wanted = middles(grid=fine)
    around = np.stack([np.interp(wanted, at, row, period=turn) for row in field])
    found = np.empty((fine.centres.size, wanted.size))
    below = slice(None, coarse.n_gap), slice(None, fine.n_gap)
    ring = slice(coarse.n_gap, None), slice(fine.n_gap, None)
    for old, new in (below, ring):
        for j in range(wanted.size):
            found[new, j] = np.interp(fine.centres[new], coarse.centres[old], around[old, j])
    return found


def cover_of(*, grid: Grid, mouth: float) -> Lanes:
    """Share of the casing that the mouth takes, by column with ghosts.

    Parameters
    ----------
    grid : Grid
        The cells [-].
    mouth : float
        Angle of the mouth, from the first column on [rad].

    Returns
    -------
    Lanes
        Share [-], 0 to 1.

    References
    ----------
    Geometry, derived here.

    """
    widths = grid.widths[GHOSTS:-GHOSTS]
    ends = np.cumsum(widths)
    # A full turn is taken as such, whatever the last digit of the sum is.
    end = np.inf if mouth >= ends[-1] * (1 - 1e-9) else mouth
    covered = np.clip(np.minimum(ends, end) - (ends - widths), 0.0, None) / widths
    return np.pad(covered, GHOSTS, mode="wrap")


def _growing(first: float, growth: float, largest: float) -> Lanes:
    """Sizes that grow from the first one to the largest, which then stays."""
    steps = max(0, math.ceil(math.log(largest / first) / math.log(growth)))
    return np.append(first * growth ** np.arange(steps), largest)


def _filled(sizes: Lanes, length: float) -> Lanes:
    """Take sizes, the last one repeatedly, until they fill a length; scale them to fit."""
    missing = max(0, math.ceil((length - sizes.sum()) / sizes[-1]))
    sizes = np.append(sizes, np.full(missing, sizes[-1]))
    enough = int(np.searchsorted(np.cumsum(sizes), length * (1 - 1e-9))) + 1
    return np.asarray(sizes[:enough] * (length / sizes[:enough].sum()))


def _columns(sector: float, mouth: float, rim: float, clearance: float, fineness: float) -> Lanes:
    """Widths of the columns: fine at and behind the mouth, wider on the way to the next one."""
    whole = sector * rim
    finest = min(mouth / IN_MOUTH, PER_CLEARANCE * clearance, whole / COLUMNS[0]) / fineness
    stretch = STRETCH ** (1 / fineness)
    fine = math.ceil((1 + BEHIND_MOUTH) * mouth / finest)
    if fine * finest >= whole:
        number = _in_packs(whole / finest)
        return np.full(number, sector / number)
    # Half of what is left grows away from the fine part, half shrinks back to it.
    rest = _filled(_growing(finest, stretch, WIDEST * finest), (whole - fine * finest) / 2)
    number = _in_packs(fine + 2 * rest.size)
    widths = np.concatenate([np.full(fine, finest), rest, rest[::-1]])
    # Read the same spacing at as many columns as fill packs.
    ends = np.concatenate([[0.0], np.cumsum(widths)])
    wanted = np.interp(np.linspace(0, widths.size, number + 1), np.arange(ends.size), ends)
    sizes = np.diff(wanted)
    return np.asarray(sizes * (sector / sizes.sum()))


def _in_packs(number: float) -> int:
    fewest, most = COLUMNS
    return PACK * math.ceil(min(max(number, fewest), most) / PACK)
