"""Constrained evolution of whole generations on arrays: selection, crossover and mutation.

This is NSGA-II (Deb, Pratap, Agarwal and Meyarivan 2002, "A fast and elitist multiobjective genetic
algorithm: NSGA-II", IEEE Trans. Evol. Comput. 6, 182-197) on the grid of the space. A feasible
design wins against an infeasible one, and of two infeasible designs the one with the smaller
violation wins. Two thirds of the children come from simulated binary crossover, the others from the
difference of two parents (Storn and Price 1997, "Differential evolution", J. Global Optim. 11,
341-359). All children go through polynomial mutation. Equations from memory.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.search.front import crowding, ranks
from engine.search.population import Population
from engine.search.space import Index, Space

CROSSED, ADDED = 0.9, 0.33
"""Share of pairs that are crossed, and of children made by adding a difference of parents."""
CROSSING_INDICES, MUTATION_INDICES = (3.0, 30.0), (1.0, 20.0)
"""Ranges from which distribution indices are drawn; a high index keeps children near parents."""
DIFFERENCES = (0.3, 0.5, 0.8)
"""Factors on a difference of parents."""

Real = NDArray[np.float64]


def survivors(population: Population, size: int) -> NDArray[np.int64]:
    """Rows of the best designs, best first: by rank and crowding, then infeasible by violation."""
    feasible = np.flatnonzero(population.violation == 0.0)
    rank = ranks(population.merit[feasible])
    best = feasible[np.lexsort((-crowding(population.merit[feasible], rank), rank))]
    others = np.flatnonzero(population.violation > 0.0)
    nearest = others[np.argsort(population.violation[others], kind="stable")]
    return np.concatenate([best, nearest])[:size]


def survivors_of_kinds(
    population: Population, kinds: NDArray[np.int64], size: int
) -> NDArray[np.int64]:
    """Rows of the best designs of each kind, kind by kind, as many of each."""
    found = [np.flatnonzero(kinds == kind) for kind in np.unique(kinds)]
    most = -(-size // max(len(found), 1))
    kept = [rows[survivors(population.take(rows), most)] for rows in found]
    return np.concatenate([np.zeros(0, dtype=np.int64), *kept])


def bred_by_kinds(
    parents: Index,
    kinds: NDArray[np.int64],
    n_children: int,
    space: Space,
    generator: np.random.Generator,
    *,
    first: int | None = None,
) -> Index:
    """Children of parents of one kind each, as many of each kind; mutation may change the kind.

    Of one kind the `first` children alone may be asked for: see `bred`.

    What a build of another kind lacks has its first value, which seldom suits: children across
    kinds would lose against those whose kind is well bred, and a kind that is hard to breed, such
    as three stages, would die out before it is.
    """
    present = np.unique(kinds)
    if len(present) == 1:
        return bred(parents, n_children, space, generator, first=first)
    shares = np.array_split(np.arange(n_children), len(present))
    children = [
        bred(parents[kinds == kind], len(share), space, generator)
        for kind, share in zip(present, shares, strict=True)
    ]
    return np.concatenate(children)


def bred(
    parents: Index,
    n_children: int,
    space: Space,
    generator: np.random.Generator,
    *,
    first: int | None = None,
) -> Index:
    """Children of parents, which are given best first; some may be builds seen before.

    Where the `first` children alone are asked for, random numbers are drawn for all, so that these
    are the same; but only these are made.
    """
    n_pairs = (n_children + 1) // 2
    # The first child of every pair comes before all second ones.
    kept = n_pairs if first is not None and first <= n_pairs else 2 * n_pairs
    n_made = n_children if first is None else min(first, n_children)
    draw = _Draw(generator, 2 * n_pairs, min(kept, n_made))
    turns = -(-4 * n_pairs // len(parents))
    drawn = np.concatenate([generator.permutation(len(parents)) for _ in range(turns)])
    # Parents are in order, so the smaller place wins a tournament.
    places = drawn[: 4 * n_pairs].reshape(2, 2, n_pairs).min(axis=0)
    pairs = parents[places]
    n_axes = parents.shape[1]
    some = pairs[:, : min(n_pairs, draw.kept)] * 1.0
    halves = _crossed(some[0], some[1], space, _Draw(generator, n_pairs, some.shape[1]))
    crossed = np.concatenate(halves)[: draw.kept]
    one, other = parents[generator.integers(len(parents), size=(2, 2 * n_pairs))[:, : draw.kept]]
    starts = pairs.reshape(-1, n_axes)[: draw.kept]
    moved = _moved(starts, one - other, one, space, draw)
    is_added = draw.random(1) < ADDED
    children = np.where(is_added, moved, crossed)
    last = _Draw(generator, n_children, n_made)
    return _mutated(children.clip(0.0, space.counts - 1.0), space, last)


@dataclass(frozen=True)
class _Draw:
    """Random numbers for a number of rows, of which the first are kept."""

    generator: np.random.Generator
    whole: int
    kept: int

    def random(self, columns: int) -> Real:
        """Shares, (row, column)."""
        return self.generator.random((self.whole, columns))[: self.kept]

    def choice(self, values: tuple[float, ...]) -> Real:
        """One of some values for each row, (row, 1)."""
        return self.generator.choice(values, size=(self.whole, 1))[: self.kept]

    def index(self, ends: tuple[float, float]) -> Real:
        """Distribution index of each row, drawn evenly on a logarithmic scale, (row, 1)."""
        return np.asarray(ends[0] * (ends[1] / ends[0]) ** self.random(1))


def _moved(start: Index, difference: Index, donor: Index, space: Space, draw: _Draw) -> Real:
    """Add part of a difference on most axes; words are taken from a donor."""
    factor = draw.choice(DIFFERENCES)
    moved = np.where(space.are_words, donor, start + factor * difference)
    return np.where(draw.random(start.shape[1]) < 0.7, moved, start)


def _crossed(first: Real, second: Real, space: Space, draw: _Draw) -> tuple[Real, Real]:
    """Cross pairs by simulated binary crossover within bounds, on half of the axes."""
    low, high = np.minimum(first, second), np.maximum(first, second)
    apart = np.maximum(high - low, 1.0)
    n_axes = first.shape[1]
    power = draw.index(CROSSING_INDICES) + 1.0
    chance = draw.random(n_axes)
    blends = []
    for side, room in ((-0.5, low), (0.5, space.counts - 1.0 - high)):
        reach = 2.0 - (1.0 + 2.0 * room / apart) ** -power
        stretch = np.where(chance <= 1 / reach, chance * reach, 1 / (2.0 - chance * reach))
        blends.append((low + high) / 2 + side * (high - low) * stretch ** (1.0 / power))
    one, other = blends
    swaps = draw.random(n_axes) < 0.5
    one, other = np.where(swaps, other, one), np.where(swaps, one, other)
    # Words have no order, so they are swapped and not blended.
    one, other = np.where(space.are_words, second, one), np.where(space.are_words, first, other)
    crosses = draw.random(n_axes) < 0.5
    crosses &= draw.random(1) < CROSSED
    return np.where(crosses, one, first), np.where(crosses, other, second)


def _mutated(children: Real, space: Space, draw: _Draw) -> Index:
    """Polynomial mutation of about one axis per child, by at least one step of the grid."""
    top, n_axes = space.counts - 1.0, children.shape[1]
    power = draw.index(MUTATION_INDICES) + 1.0
    chance, falls = draw.random(n_axes), draw.random(n_axes) < 0.5
    room = np.where(falls, children, top - children) / np.maximum(top, 1.0)
    share = 1.0 - (chance + (1.0 - chance) * (1.0 - room) ** power) ** (1.0 / power)
    moved = children + np.where(falls, -1.0, 1.0) * np.maximum(top * share, 1.0)
    words = np.floor(draw.random(n_axes) * space.counts)
    is_mutated = draw.random(n_axes) * n_axes < 1.0
    mutated = np.where(is_mutated, np.where(space.are_words, words, moved), children)
    return np.clip(np.rint(mutated), 0.0, top).astype(np.int64)
