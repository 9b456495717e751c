"""Flow between two turning spokes, solved in the cross-section of the bore.

Flow joins evenly from the bore along the axis and leaves at the end, so its axial speed is the
place along the axis times a function of the cross-section, and the whole flow is one in the plane:
that function, radial speed and angular momentum, with a pressure. Without friction on the walls;
upwind differences stand for turbulence. Lengths over the bore's radius, speeds over that of the
spokes there.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, lil_matrix
from scipy.sparse.linalg import splu

Floats = NDArray[np.float64]
COURANT = 0.4


@dataclass(frozen=True)
class Sector:
    """Mean angular momentum at the outlet, and torque on both walls, for the mass that flows."""

    leaving: float
    torque: float


def sector_flow(
    *, spokes: int, swirl: float, inflow: float, hub: float, rows: int = 8, passes: float = 4.0
) -> Sector:
    """Follow the flow for some mean times in the bore; the last half of them is averaged."""
    angle = 2 * np.pi / spokes
    columns = max(20, round(0.8 * angle / (1 - hub) * rows))
    high, wide = (1 - hub) / rows, angle / columns
    faces = np.asarray(hub + high * np.arange(rows + 1), dtype=float)
    r = ((faces[1:] + faces[:-1]) / 2)[:, None]
    inner = faces[1:-1, None]
    cells = r * high * wide * np.ones((1, columns))
    whole = inflow * angle
    pressure = splu(_laplacian(faces, r[:, 0], wide, columns))
    radial = np.zeros((rows + 1, columns))
    radial[-1] = -inflow
    momentum = np.repeat(r**2, columns + 1, axis=1)
    axial = np.full((rows, columns), whole / cells.sum())
    time, end = 0.0, passes * (1 - hub**2) / (2 * inflow)
    sums = np.zeros(3)
    while time < end:
        around = _around(momentum, r)
        step = COURANT / (np.abs(around / r).max() / wide + np.abs(radial).max() / high)
        mean = (radial[1:] + radial[:-1]) / 2
        across = (around[:, 1:] + around[:, :-1]) / 2
        # Angular momentum, carried in from the bore.
        here = np.zeros((rows, columns + 1))
        here[:, 1:-1] = (mean[:, 1:] + mean[:, :-1]) / 2
        change = here * _upwind_in(momentum, here, high, np.full((1, columns + 1), swirl))
        spun = np.zeros_like(momentum)
        turning = around / r
        back, on = np.diff(momentum)[:, :-1] / wide, np.diff(momentum)[:, 1:] / wide
        # Beside a wall the next place lies in it: no slope there.
        back[:, 0], on[:, -1] = 0.0, 0.0
        spun[:, 1:-1] = np.where(turning[:, 1:-1] > 0, back, on)
        guessed = momentum - step * (change + turning * spun)
        # Radial speed, with the centrifugal force of the absolute motion.
        inside = radial[1:-1]
        wind = (across[1:] + across[:-1]) / 2
        along = np.where(inside < 0, radial[2:] - inside, inside - radial[:-2]) / high
        forced = (wind + inner) ** 2 / inner
        moved = radial.copy()
        moved[1:-1] = inside - step * (
            inside * along + wind / inner * _upwind_round(inside, wind, wide) - forced
        )
        # Axial function; the fall of pressure along the axis is such that the flow leaves.
        grown = axial - step * (
            mean * _upwind_in(axial, mean, high, np.zeros((1, columns)))
            + across / r * _upwind_round(axial, across, wide)
            + axial**2
        )
        axial = grown + (whole - (grown * cells).sum()) / cells.sum()
        # Pressure, by continuity.
        drift = _around(guessed, r)
        spread = np.diff(faces[:, None] * moved, axis=0) / (r * high) + np.diff(drift) / (r * wide)
        right = ((spread + axial) / step).ravel()
        right[0] = 0.0
        p = pressure.solve(right).reshape(rows, columns)
        moved[1:-1] -= step * np.diff(p, axis=0) / high
        drift[:, 1:-1] -= step * np.diff(p) / (r * wide)
        radial, momentum = moved, (drift + r) * r
        time += step
        if time > end / 2:
            centred = (momentum[:, 1:] + momentum[:, :-1]) / 2
            torque = ((p[:, -1:] - p[:, :1]) * r * high).sum()
            sums += step * np.array([(axial * centred * cells).sum() / whole, torque / whole, 1.0])
    return Sector(sums[0] / sums[2], sums[1] / sums[2])


def _around(momentum: Floats, r: Floats) -> Floats:
    """Speed past the spokes, 0 on them."""
    speed = momentum / r - r
    speed[:, 0] = speed[:, -1] = 0.0
    return speed


def _upwind_in(values: Floats, speed: Floats, high: float, bore: Floats) -> Floats:
    outer = np.vstack([values[1:], bore])
    inner = np.vstack([values[:1], values[:-1]])
    return np.where(speed < 0, outer - values, values - inner) / high


def _upwind_round(values: Floats, speed: Floats, wide: float) -> Floats:
    before = np.hstack([values[:, :1], values[:, :-1]])
    behind = np.hstack([values[:, 1:], values[:, -1:]])
    return np.where(speed > 0, values - before, behind - values) / wide


def _laplacian(faces: Floats, r: Floats, wide: float, columns: int) -> csc_matrix:
    """Matrix of the pressure's equation with closed walls; the first cell has pressure 0."""
    rows, high = len(r), faces[1] - faces[0]
    place = np.arange(rows * columns).reshape(rows, columns)
    matrix = lil_matrix((rows * columns, rows * columns))
    for (i, j), here in np.ndenumerate(place):
        weights = {
            (i + 1, j): faces[i + 1] / (r[i] * high**2),
            (i - 1, j): faces[i] / (r[i] * high**2),
            (i, j + 1): 1 / (r[i] * wide) ** 2,
            (i, j - 1): 1 / (r[i] * wide) ** 2,
        }
        for (m, n), weight in weights.items():
            if 0 <= m < rows and 0 <= n < columns:
                matrix[here, place[m, n]] += weight
                matrix[here, here] -= weight
    matrix[0, :] = 0.0
    matrix[0, 0] = 1.0
    return matrix.tocsc()
