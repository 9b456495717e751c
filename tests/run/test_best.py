"""The best designs so far are those of one pass over all designs."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from numpy.typing import NDArray

from engine.columns import Results
from engine.physics.arrays import is_repeated, repeated
from engine.run.best import MOST_PIECES, Best
from engine.search.front import nondominated

SIZE = 8


def designs(generations: int) -> Results:
    rng = np.random.default_rng(3)
    n = generations * SIZE
    steps = np.arange(n) / n  # later designs are better, so that fronts change to the end
    return {
        "design": np.arange(n) + 1.0,
        "power": np.round(rng.random(n) + steps, 2),
        "margin": np.round(rng.random(n) + steps, 2),
        "material": repeated("steel", n),
    }


@pytest.mark.parametrize("once", [False, True])
@pytest.mark.parametrize("generations", [1, 2 * MOST_PIECES + 3])
def test_the_best_are_those_of_all_at_once(generations: int, *, once: bool) -> None:
    every = designs(generations)
    merit = np.stack([every["power"], every["margin"]], axis=1)
    builds = np.round(merit[:, :1] * 10).astype(np.int64)  # some builds come twice
    best = Best.of_none(2)

    def index_of(some: Results) -> NDArray[np.int64]:
        return builds[some["design"].astype(np.int64) - 1]

    for first in range(0, len(merit), SIZE):
        here = slice(first, first + SIZE)
        some = {key: values[here] for key, values in every.items()}
        among = np.arange(SIZE)[1:]  # the first of each is left out
        best.add(some, merit[here], among, index_of if once else None)
    left_out = np.arange(len(merit)) % SIZE == 0
    known = np.where(left_out[:, None], np.nan, merit)
    expected = np.flatnonzero(nondominated(known, builds if once else None))
    found = best.results()
    assert len(best) == len(expected) > 0
    assert_array_equal(found["design"], every["design"][expected])
    assert_array_equal(best.merit, merit[expected])
    assert_array_equal(found["power"], every["power"][expected])
    assert is_repeated(found["material"])
    assert set(found["material"].tolist()) == {"steel"}


def test_none_are_best_before_any_came() -> None:
    assert not Best.of_none(2)
    assert Best.of_none(2).results() == {}
