"""The finite elements behind the tables of discs, on point supports, against published plates."""

import numpy as np
import pytest
import scipy.linalg
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from tests.support.bolted_disc import BoltedSector, BoltedWeb
from tests.support.webbed_plane import Fineness

Floats = NDArray[np.float64]
POISSON = 0.25
PINHOLE = 0.004
"""Of the middle, where the elements cannot reach it; over the rim radius."""


def deflections(supports: int, load: str) -> Floats:
    """Of a round plate on points of its rim, (radius, angle), of unit load, rigidity and radius."""
    plate = BoltedSector(BoltedWeb(PINHOLE, supports, 1.0, 0.1), "hub", Fineness(opening=8))
    matrices, (radii, angles) = plate.matrices, plate._lines
    size = matrices["mass"].shape[0]
    force = np.zeros(size)
    if load == "even":
        one = np.zeros(size)
        one[::4] = 1.0
        force = matrices["mass"] @ one / np.pi
    else:  # along the edge of the pinhole
        step = np.diff(angles)
        for place, end in ((0, 1.0), (1, -1.0)):
            at = 4 * (np.arange(step.size) + place)
            np.add.at(force, at, step / 2)
            np.add.at(force, at + 1, end * step**2 / 12)
        force /= 2 * np.pi
    free = plate.reduction(0)
    stiffness = matrices["laplacian"] - (1 - POISSON) * matrices["gauss"]
    moved = free @ splu((free.T @ stiffness @ free).tocsc()).solve(free.T @ force)
    return np.asarray(moved[::4].reshape(radii.size, angles.size))


@pytest.mark.parametrize(
    ("supports", "load", "middle", "farthest"),
    [
        (2, "middle", 0.116, 0.118),
        (2, "even", 0.269 / np.pi, 0.371 / np.pi),
        (3, "middle", 0.0670, None),
        (3, "even", 0.0362, None),
    ],
)
def test_round_plates_on_points_sag_as_published(
    supports: int, load: str, middle: float, farthest: float | None
) -> None:
    # Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, art. 65, for
    # Poisson's ratio 0.25, after Nadai, Z. Physik 23, 1922 (from memory). Over load times radius
    # squared over rigidity; the farthest point of the rim from two supports.
    found = deflections(supports, load)
    assert_allclose(found[0], middle, rtol=0.008)
    if farthest is not None:
        assert_allclose(found[-1].max(), farthest, rtol=0.002)


def test_a_free_plate_vibrates_as_published() -> None:
    # Leissa, Vibration of Plates, NASA SP-160, 1969, free circular plate, Poisson's ratio 0.33
    # (from memory): 9.084 for one nodal circle, 12.23 for three nodal diameters, and the next of
    # three or none above 20. A sector of three holds none and three; a pinhole hardly counts.
    plate = BoltedSector(BoltedWeb(0.02, 3, 0.5, 0.1), "free", Fineness(opening=8))
    free = plate.reduction(0)
    bending = plate.matrices["laplacian"] - (1 - 0.33) * plate.matrices["gauss"]
    stiffness, mass = ((free.T @ m @ free).toarray() for m in (bending, plate.matrices["mass"]))
    squares = scipy.linalg.eigh(stiffness, mass, eigvals_only=True)
    elastic = np.sqrt(squares[squares > 1e-3])
    # Three nodal diameters stand twice, turned against each other.
    assert_allclose(elastic[:3], [9.084, 12.23, 12.23], rtol=0.004)
    assert elastic[3] > 20
