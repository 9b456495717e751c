"""Constrained evolution of whole generations on arrays: selection, crossover and mutation.

This is NSGA-II (Deb, Pratap, Agarwal and Meyarivan 2002, "A fast and elitist multiobjective genetic
algorithm: NSGA-II", IEEE Trans. Evol. Comput. 6, 182-197) on the grid of the space. A feasible
design wins against an infeasible one, and of two infeasible designs the one with the smaller
violation wins. Two thirds of the children come from simulated binary crossover, the others from the
difference of two parents (Storn and Price 1997, "Differential evolution", J. Global Optim. 11,
341-359). All children go through polynomial mutation. Equations from memory.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Mask
from engine.search.front import crowding, ranks
from engine.search.population import Population
from engine.search.space import Index, Proposal, Space

CROSSED, ADDED = 0.9, 0.33
"""Share of pairs that are crossed, and of children made by adding a difference of parents."""
CROSSING_INDICES, MUTATION_INDICES = (3.0, 30.0), (1.0, 20.0)
"""Ranges from which distribution indices are drawn; a high index keeps children near parents."""
DIFFERENCES = (0.3, 0.5, 0.8)
"""Factors on a difference of parents."""

Real = NDArray[np.float64]
Rows = NDArray[np.int64]


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
) -> Proposal:
    """Children of parents of one kind each, as many of each kind; mutation may change the kind.

    What a build of another kind lacks has its first value, which seldom suits: children across
    kinds would lose against those whose kind is well bred, and a kind that is hard to breed, such
    as three stages, would die out before it is.
    """
    present = np.unique(kinds)
    if len(present) == 1:
        return children_of(parents, n_children, space, generator)
    shares = np.array_split(np.arange(n_children), len(present))
    children = [
        bred(parents[kinds == kind], len(share), space, generator)
        for kind, share in zip(present, shares, strict=True)
    ]
    return np.concatenate(children).__getitem__


def bred(parents: Index, n_children: int, space: Space, generator: np.random.Generator) -> Index:
    """Make all of `children_of`."""
    return children_of(parents, n_children, space, generator)(slice(n_children))


def children_of(
    parents: Index, n_children: int, space: Space, generator: np.random.Generator
) -> Proposal:
    """Children of parents, which are given best first; some may be builds seen before."""
    n_pairs, n_axes = (n_children + 1) // 2, parents.shape[1]
    turns = -(-4 * n_pairs // len(parents))
    drawn = np.concatenate([generator.permutation(len(parents)) for _ in range(turns)])
    # Parents are in order, so the smaller place wins a tournament.
    places = drawn[: 4 * n_pairs].reshape(2, 2 * n_pairs).min(axis=0)
    cross = _crossing(n_pairs, space, generator)
    donors = generator.integers(len(parents), size=(2, 2 * n_pairs))
    factor = generator.choice(DIFFERENCES, size=(2 * n_pairs, 1))
    goes = generator.random((2 * n_pairs, n_axes)) < 0.7
    is_added = generator.random((2 * n_pairs, 1)) < ADDED
    mutate = _mutation(n_children, space, generator)

    def make(rows: slice) -> Index:
        # The first child of every pair comes before all second ones.
        child = np.arange(n_children)[rows]
        is_first, pair = child < n_pairs, child % n_pairs
        own, mate = parents[places[child]], parents[places[pair + n_pairs * is_first]]
        children = np.where(
            is_added[child], own, cross(own, mate, pair, is_first, ~is_added[child])
        )
        added = child[is_added[child, 0]]
        one, other = parents[donors[:, added]]
        start = parents[places[added]]
        moved = np.where(space.are_words, one, start + factor[added] * (one - other))
        children[is_added[child, 0]] = np.where(goes[added], moved, start)
        return mutate(children.clip(0.0, space.counts - 1.0), child)

    return make


def _index(ends: tuple[float, float], n_rows: int, generator: np.random.Generator) -> Real:
    """Distribution index of each row, drawn evenly on a logarithmic scale, (row, 1)."""
    return np.asarray(ends[0] * (ends[1] / ends[0]) ** generator.random((n_rows, 1)))


def _crossing(n_pairs: int, space: Space, generator: np.random.Generator) -> Callable[..., Real]:
    """Draw how pairs are crossed, on half of their axes; give what crosses some."""
    shape, top = (n_pairs, len(space.axes)), space.counts - 1.0
    power = _index(CROSSING_INDICES, n_pairs, generator) + 1.0
    chance = generator.random(shape)
    swaps = generator.random(shape) < 0.5
    crosses = generator.random(shape) < 0.5
    crosses &= generator.random((n_pairs, 1)) < CROSSED

    def cross(own: Index, mate: Index, pair: Rows, is_first: Mask, some: Mask) -> Real:
        """Cross by simulated binary crossover within bounds; words are swapped and not blended."""
        crossed = own.astype(np.float64)
        # Where both parents are alike so is the child.
        row, axis = np.nonzero(crosses[pair] & (own != mate) & some)
        first, second, which = own[row, axis] * 1.0, mate[row, axis] * 1.0, pair[row]
        low, high = np.minimum(first, second), np.maximum(first, second)
        is_low = is_first[row] != swaps[which, axis]
        room = np.where(is_low, low, top[axis] - high)
        grade, luck = power[which, 0], chance[which, axis]
        reach = 2.0 - (1.0 + 2.0 * room / (high - low)) ** -grade
        stretch = np.where(luck <= 1 / reach, luck * reach, 1 / (2.0 - luck * reach))
        side = np.where(is_low, -0.5, 0.5)
        blend = (low + high) / 2 + side * (high - low) * stretch ** (1.0 / grade)
        crossed[row, axis] = np.where(space.are_words[axis], second, blend)
        return crossed

    return cross


def _mutation(
    n_children: int, space: Space, generator: np.random.Generator
) -> Callable[..., Index]:
    """Draw how children are mutated, on about one axis each; give what mutates some."""
    shape, top = (n_children, len(space.axes)), space.counts - 1.0
    power = _index(MUTATION_INDICES, n_children, generator) + 1.0
    chance, falls = generator.random(shape), generator.random(shape) < 0.5
    words = generator.random(shape)
    is_mutated = generator.random(shape) * shape[1] < 1.0

    def mutate(children: Real, child: Rows) -> Index:
        """Polynomial mutation by at least one step of the grid; a word becomes any other."""
        row, axis = np.nonzero(is_mutated[child])
        which = child[row]
        here, most, down = children[row, axis], top[axis], falls[which, axis]
        luck, grade = chance[which, axis], power[which, 0]
        room = np.where(down, here, most - here) / np.maximum(most, 1.0)
        share = 1.0 - (luck + (1.0 - luck) * (1.0 - room) ** grade) ** (1.0 / grade)
        moved = here + np.where(down, -1.0, 1.0) * np.maximum(most * share, 1.0)
        any_word = np.floor(words[which, axis] * space.counts[axis])
        children[row, axis] = np.where(space.are_words[axis], any_word, moved)
        return np.clip(np.rint(children), 0.0, top).astype(np.int64)

    return mutate
