"""Small changes to the designs of a front, to make each of them a little better.

This is a local search from all designs of the front at once (Paquete, Chiarandini and Stuetzle
2004, "Pareto local optimum sets in the biobjective traveling salesman problem", the idea, from
memory). Changes on two or three axes matter as much as changes on one: the flow links the number of
discs, the gap and the nozzle width.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from engine.search.population import Population
from engine.search.space import Index, Proposal, Space

NEAR = 4
"""Largest distance to a neighbour, in places along the front."""
ENDS = 0.1
"""Share of the tries beyond each end of the front, relative to those between the ends."""
COARSEST, DEPTH = 8.0, 2.0**12
"""The longest step is the axis divided by COARSEST, the shortest that divided by DEPTH."""


def around(front: Population, n_builds: int, space: Space, generator: np.random.Generator) -> Index:
    """Make all of `tries_around`."""
    return tries_around(front, n_builds, space, generator)(slice(n_builds))


def tries_around(
    front: Population, n_builds: int, space: Space, generator: np.random.Generator
) -> Proposal:
    """Propose builds near those of a front; some may have been seen before.

    Half are steps on one to three axes, from one step of the grid to an eighth of the axis. The
    other half go along the front: between or beyond two neighbours, or by the difference of two
    others.
    """
    index, merit = front.index, front.merit
    aim = merit[:, generator.integers(merit.shape[1])]
    order = np.argsort(aim, kind="stable")
    # Drawn evenly along the aim, so that parts of the front with few designs get as many tries as
    # parts with many; and beyond its ends, where the most can be gained.
    beyond = ENDS * (aim.max() - aim.min())
    shape = (n_builds, index.shape[1])
    drawn = generator.uniform(aim.min() - beyond, aim.max() + beyond, n_builds)
    places = np.searchsorted(aim[order], drawn) - generator.integers(2, size=n_builds)
    shifts = generator.integers(-NEAR, NEAR + 1, size=(2, n_builds))
    kind = generator.random(n_builds)
    along = generator.uniform(-0.5, 1.5, (n_builds, 1))
    beside = generator.uniform(0.0, 1.0, (n_builds, 1))
    step = _stepping(shape, space, generator)
    stays, words = generator.random(shape) < 0.5, generator.random(shape)

    def make(rows: slice) -> Index:
        here = np.arange(n_builds)[rows]
        start, near, other = (
            index[order[np.clip(places[here] + shift, 0, len(index) - 1)]]
            for shift in (0, *shifts[:, here])
        )
        moved = start * 1.0
        steps, goes = kind[here] < 0.5, (kind[here] >= 0.5) & (kind[here] < 0.75)
        moved[steps] += step(here[steps])
        moved[goes] += (near[goes] - start[goes]) * along[here[goes]]
        rest = ~(steps | goes)
        moved[rest] += (near[rest] - other[rest]) * beside[here[rest]]
        texts = np.flatnonzero(space.are_words)
        if texts.size:
            at = np.ix_(here, texts)
            changed = (moved[:, texts] != start[:, texts]) & steps[:, None]
            kept = np.where(stays[at], start[:, texts], near[:, texts])
            moved[:, texts] = np.where(changed, np.floor(words[at] * space.counts[texts]), kept)
        return np.asarray(np.clip(np.rint(moved), 0, space.counts - 1), dtype=np.int64)

    return make


def _stepping(
    shape: tuple[int, int], space: Space, generator: np.random.Generator
) -> Callable[[NDArray[np.int64]], NDArray[np.float64]]:
    """Draw steps on one to three axes, with lengths drawn evenly on a logarithmic scale.

    Gives what makes those of some rows.
    """
    longest = np.maximum(space.counts / COARSEST, 1.0)
    shortest = np.maximum(longest / DEPTH, 1.0)
    length, falls = generator.random(shape), generator.random(shape) < 0.5
    n_axes = generator.integers(1, 4, size=shape[0])
    turn = generator.random(shape)

    def step(rows: NDArray[np.int64]) -> NDArray[np.float64]:
        steps, turns = np.zeros((len(rows), shape[1])), turn[rows]
        for one in range(min(3, shape[1])):
            # Each number drawn for the first axes points to the axis of its rank among all.
            some = np.flatnonzero(n_axes[rows] > one)
            axis = (turns[some] < turns[some, one : one + 1]).sum(axis=1)
            which = rows[some], axis
            far = longest[axis] * (shortest[axis] / longest[axis]) ** length[which]
            steps[some, axis] = np.where(falls[which], -1.0, 1.0) * np.rint(far)
        return steps

    return step
