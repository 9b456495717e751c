"""Pressures between stages in series, against orifices whose answer is known in closed form."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.physics.flow.series import pressures_between

SUPPLY, BACK = 7e5, 1e5


def solve(
    areas: NDArray[np.float64], exponent: float, guess: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Stages that pass area * (p^n - q^n)^(1/2): n = 1 a liquid, n = 2 an isothermal gas."""
    n_lanes = areas.shape[1]

    def flows(rows: NDArray[np.int64], tried: NDArray[np.float64]) -> NDArray[np.float64]:
        ends = np.ones((1, len(rows)))
        at = np.concatenate([SUPPLY * ends, tried, BACK * ends])
        drops = -np.diff(at**exponent, axis=0)
        return areas[:, rows] * np.sqrt(np.maximum(drops, 0.0))

    slopes = (np.ones(areas.shape), np.zeros(areas.shape))
    return pressures_between(
        flows=flows,
        supply=np.full(n_lanes, SUPPLY),
        back=np.full(n_lanes, BACK),
        guess=guess,
        slopes=slopes,
        close=1e-9,
    )


@pytest.mark.parametrize("n_stages", [2, 3])
@pytest.mark.parametrize("exponent", [1.0, 2.0])
def test_orifices_in_series_share_the_drop_by_their_resistances(
    n_stages: int, exponent: float
) -> None:
    # As resistors: each takes its share of p^n by 1 / area squared (fluid mechanics textbooks).
    areas = np.random.default_rng(2).uniform(0.5, 2.0, (n_stages, 200))
    shares = np.cumsum(areas**-2.0, axis=0) / np.sum(areas**-2.0, axis=0)
    whole = SUPPLY**exponent - BACK**exponent
    exact = (SUPPLY**exponent - whole * shares[:-1]) ** (1 / exponent)
    guess = np.geomspace(SUPPLY, BACK, n_stages + 1)[1:-1, None] * np.ones((1, 200))
    found, off = solve(areas, exponent, guess)
    assert (off <= 1e-9).all()
    assert_allclose(found, exact, rtol=1e-8)


def test_a_lane_without_flow_is_given_up_and_troubles_no_other() -> None:
    areas = np.array([[1.0, np.nan, 1.0], [1.0, np.nan, 2.0]])
    found, off = solve(areas, 1.0, np.full((1, 3), 3e5))
    assert np.isinf(off[1])
    assert_allclose(found[0, [0, 2]], [4e5, 7e5 - 6e5 * 0.8])
