"""The plate of the web tables on point supports, against published deflections."""

import numpy as np
import pytest
import scipy.sparse as sp
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve

from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Fineness, Web

POISSON = 0.25


def sag(load: str, points: int = 3) -> float:
    """Deflection of the centre of a round plate on points of its rim, in P a^2 / D.

    A pinhole in the middle stands for no hole: it moves the result by the square of its radius.
    """
    sector = Sector(Web(0.003, points, 0.0012, 0.0018, 6e-4), "all round", Fineness(ring=10))
    angles = sector._lines[1]
    size = sector._places[1]
    index = np.arange(size)
    row, column, kind = index // 4 // angles.size, index // 4 % angles.size, index % 4
    last = column == angles.size - 1
    source = np.where(last, index - 4 * (angles.size - 1), index)
    at_rim = row == row.max()
    held = at_rim & (np.abs(angles[column]) < 1e-9) & (kind == 0)
    assert held.sum() == 1
    free = ~held & ~last
    number = np.cumsum(free) - 1
    kept = free[source]
    shape = (size, int(free.sum()))
    back = sp.csr_matrix((np.ones(kept.sum()), (index[kept], number[source[kept]])), shape)
    plate = sector.matrices["laplacian"] - (1 - POISSON) * sector.matrices["gauss"]
    whole: NDArray[np.float64] = (kind == 0).astype(float)
    if load == "spread":
        force = sector.matrices["mass"] @ whole / np.pi
    else:
        at_bore = (row == 0) & (kind == 0) & ~last
        force = at_bore / (points * at_bore.sum())
    w = back @ spsolve((back.T @ plate @ back).tocsc(), back.T @ force)
    return float(w[(row == 0) & (kind == 0)].mean())


@pytest.mark.parametrize(("load", "published"), [("spread", 0.0362), ("at the centre", 0.0670)])
def test_a_round_plate_on_three_points_sags_as_published(load: str, published: float) -> None:
    # Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, plates supported
    # at several points of the boundary; Poisson's ratio 0.25 (from memory). Leissa's tables of
    # plates on points could not be looked up.
    assert_allclose(sag(load), published, rtol=3e-3)
