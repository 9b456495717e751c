"""Of many proposals the first alone can be made; they are the same as if all were made."""

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from engine.search.evolve import bred, bred_by_kinds
from engine.search.polish import around
from engine.search.population import Population
from engine.search.space import Axis, Index, Space

SPACE = Space(
    (
        *(Axis(key, high=1.0) for key in "abc"),
        Axis("d", np.array([1.0, 2.0, 4.0])),
        Axis("e", np.array(["one", "other"])),
    ),
    {},
)


@pytest.mark.parametrize("many", [40, 41])
@pytest.mark.parametrize("first", [1, 7, 20, 21, 33, 40])
def test_the_first_are_those_of_all(many: int, first: int) -> None:
    parents = SPACE.sample(30, np.random.default_rng(1))
    merit = np.random.default_rng(2).random((30, 2))
    front = Population.told(0, parents, merit, np.zeros(30))
    kinds = np.zeros(30, dtype=np.int64)

    def assert_first(proposed: Callable[..., Index]) -> None:
        every = proposed(generator=np.random.default_rng(3))
        assert len(every) == many
        assert_array_equal(proposed(generator=np.random.default_rng(3), first=first), every[:first])

    assert_first(partial(bred, parents, many, SPACE))
    assert_first(partial(bred_by_kinds, parents, kinds, many, SPACE))
    assert_first(partial(around, front, many, SPACE))
