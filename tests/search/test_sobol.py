"""Sobol points are those of SciPy to the last bit, wherever they begin."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from scipy.stats import qmc

from engine.search.sobol import Sobol


@pytest.mark.parametrize("n_axes", [1, 2, 12, 128])
def test_points_are_those_of_scipy(n_axes: int) -> None:
    theirs = qmc.Sobol(n_axes, scramble=True, rng=np.random.default_rng(5))
    ours = Sobol(n_axes, np.random.default_rng(5))
    assert_array_equal(ours.points(0, 1024), theirs.random(1024))
    assert_array_equal(ours.points(1024, 300), theirs.random(300))
    theirs.fast_forward(100_000)
    assert_array_equal(ours.points(101_324, 8), theirs.random(8))
    assert ours.points(7, 0).shape == (0, n_axes)


def test_another_sequence_of_one_generator_is_scrambled_otherwise() -> None:
    generator = np.random.default_rng(5)
    one, other = Sobol(3, generator).points(0, 16), Sobol(3, generator).points(0, 16)
    assert (one != other).all()
