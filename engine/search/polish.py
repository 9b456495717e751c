"""Small changes to the designs of a front, to make each of them a little better.

This is a local search from all designs of the front at once (Paquete, Chiarandini and Stuetzle
2004, "Pareto local optimum sets in the biobjective traveling salesman problem", the idea, from
memory). Changes on two or three axes matter as much as changes on one: the flow links the number of
discs, the gap and the nozzle width.
"""

import numpy as np
from numpy.typing import NDArray

from engine.search.population import Population
from engine.search.space import Index, Space

NEAR = 4
"""Largest distance to a neighbour, in places along the front."""
ENDS = 0.1
"""Share of the tries beyond each end of the front, relative to those between the ends."""
COARSEST, DEPTH = 8.0, 2.0**12
"""The longest step is the axis divided by COARSEST, the shortest that divided by DEPTH."""


def around(
    front: Population,
    n_builds: int,
    space: Space,
    generator: np.random.Generator,
    *,
    first: int | None = None,
) -> Index:
    """Propose builds near those of a front; some may have been seen before.

    Half are steps on one to three axes, from one step of the grid to an eighth of the axis. The
    other half go along the front: between or beyond two neighbours, or by the difference of two
    others. Where the `first` alone are asked for, random numbers are drawn for all, so that these
    are the same; but only these are made.
    """
    some = slice(n_builds if first is None else first)
    index, merit = front.index, front.merit
    aim = merit[:, generator.integers(merit.shape[1])]
    order = np.argsort(aim, kind="stable")
    # Drawn evenly along the aim, so that parts of the front with few designs get as many tries as
    # parts with many; and beyond its ends, where the most can be gained.
    beyond = ENDS * (aim.max() - aim.min())
    shape = (n_builds, index.shape[1])
    drawn = generator.uniform(aim.min() - beyond, aim.max() + beyond, n_builds)[some]
    places = np.searchsorted(aim[order], drawn) - generator.integers(2, size=n_builds)[some]
    start, near, other = (
        index[order[np.clip(places + shift, 0, len(index) - 1)]]
        for shift in (0, *generator.integers(-NEAR, NEAR + 1, size=(2, n_builds))[:, some])
    )
    kind = generator.random((n_builds, 1))[some]
    along = start + (near - start) * generator.uniform(-0.5, 1.5, (n_builds, 1))[some]
    beside = start + (near - other) * generator.uniform(0.0, 1.0, (n_builds, 1))[some]
    stepped = start + _steps(shape, space, generator, some)
    moved = np.where(kind < 0.5, stepped, np.where(kind < 0.75, along, beside))
    words = np.where(generator.random(shape)[some] < 0.5, start, near)
    others = np.floor(generator.random(shape)[some] * space.counts)
    words = np.where((stepped != start) & (kind < 0.5), others, words)
    moved = np.where(space.are_words, words, np.rint(moved))
    return np.asarray(np.clip(moved, 0, space.counts - 1), dtype=np.int64)


def _steps(
    shape: tuple[int, ...], space: Space, generator: np.random.Generator, some: slice
) -> NDArray[np.float64]:
    """Draw steps on one to three axes, with lengths drawn evenly on a logarithmic scale."""
    longest = np.maximum(space.counts / COARSEST, 1.0)
    shortest = np.maximum(longest / DEPTH, 1.0)
    length = longest * (shortest / longest) ** generator.random(shape)[some]
    sign = np.where(generator.random(shape)[some] < 0.5, -1.0, 1.0)
    n_axes = generator.integers(1, 4, size=(shape[0], 1))[some]
    turn = generator.random(shape)[some].argsort(axis=1)
    return np.where(turn < n_axes, sign * np.rint(length), 0.0)
