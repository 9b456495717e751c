"""Builds of each number of stages, bred by themselves."""

import numpy as np
from numpy.testing import assert_array_equal

from engine.search.evolve import bred, bred_by_kinds, survivors, survivors_of_kinds
from engine.search.population import Population
from engine.search.space import Axis, Space

STAGES = Axis("stage_count", listed=np.array([1.0, 2.0, 3.0]))
SPACE = Space((STAGES, Axis("speed", listed=np.arange(200.0))), {})


def population(size: int) -> Population:
    """Feasible builds; the more stages, the worse they are for now."""
    rng = np.random.default_rng(3)
    index = np.stack([rng.integers(0, 3, size), rng.integers(0, 200, size)], axis=1)
    merit = rng.random((size, 2)) - index[:, :1]
    return Population.told(0, index, merit, np.zeros(size))


def test_a_kind_that_is_worse_for_now_keeps_its_share() -> None:
    told = population(600)
    kinds = SPACE.kinds(told.index)
    alone = told.index[survivors(told, 90), 0]
    assert (alone == 2).sum() == 0
    kept = survivors_of_kinds(told, kinds, 90)
    assert np.bincount(told.index[kept, 0]).tolist() == [30, 30, 30]
    # Of each kind the best, best first.
    for kind in range(3):
        rows = np.flatnonzero(kinds == kind)
        of_kind = kept[told.index[kept, 0] == kind]
        assert_array_equal(of_kind, rows[survivors(told.take(rows), 30)])


def test_each_kind_has_as_many_children_and_most_stay_of_its_kind() -> None:
    told = population(600)
    parents = told.take(survivors_of_kinds(told, SPACE.kinds(told.index), 90)).index
    generator = np.random.default_rng(1)
    children = bred_by_kinds(parents, SPACE.kinds(parents), 300, SPACE, generator)(slice(300))
    stayed = [(children[100 * kind : 100 * (kind + 1), 0] == kind).mean() for kind in range(3)]
    assert min(stayed) > 0.4  # of two axes, mutation changes about one
    assert max(stayed) < 1


def test_a_space_of_one_kind_is_searched_as_ever() -> None:
    space = Space((Axis("speed", listed=np.arange(200.0)), Axis("gap", listed=np.arange(9.0))), {})
    told = population(200)
    told = Population(told.numbers, told.index[:, ::-1], told.merit, told.violation)
    kinds = space.kinds(told.index)
    kept = survivors_of_kinds(told, kinds, 40)
    assert_array_equal(kept, survivors(told, 40))
    parents = told.take(kept).index
    one = bred_by_kinds(parents, kinds[kept], 80, space, np.random.default_rng(2))(slice(80))
    assert_array_equal(one, bred(parents, 80, space, np.random.default_rng(2)))
