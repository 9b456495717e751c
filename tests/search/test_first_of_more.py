"""Of many proposals some alone can be made; they are the same as if all were made."""

from functools import partial

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from engine.search.evolve import bred_by_kinds, children_of
from engine.search.polish import tries_around
from engine.search.population import Population
from engine.search.space import Axis, Proposal, Space

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
def test_some_are_those_of_all(many: int, first: int) -> None:
    parents = SPACE.sample(30, np.random.default_rng(1))
    merit = np.random.default_rng(2).random((30, 2))
    front = Population.told(0, parents, merit, np.zeros(30))
    for made_of in (
        partial(children_of, parents),
        partial(bred_by_kinds, parents, np.zeros(30, dtype=np.int64)),
        partial(bred_by_kinds, parents, np.arange(30) % 2),
        partial(tries_around, front),
    ):
        make: Proposal = made_of(many, SPACE, np.random.default_rng(3))
        every = make(slice(many))
        assert len(every) == many
        assert_array_equal(np.concatenate([make(slice(first)), make(slice(first, many))]), every)
