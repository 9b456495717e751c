"""Non-dominated designs, their knee, and the hypervolume of a front. Only this module uses moocore.

All functions work on *merits*: one row for each design, one column for each aim, more is better.
"""

from collections.abc import Mapping
from typing import Any

import moocore
import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Mask

Merits = NDArray[np.float64]
COMPARED = 1_000_000
"""Pairs of designs that are compared at a time, so that they take little memory."""


def merits(results: Mapping[str, NDArray[Any]], aims: Mapping[str, str]) -> Merits:
    """Aims as numbers for which more is better, (n_designs, n_aims).

    Parameters
    ----------
    results : mapping
        Columns by key, SI.
    aims : mapping
        'maximise' or 'minimise' by column key.

    Examples
    --------
    >>> merits({"mass_flow": np.array([0.01, 0.02])}, {"mass_flow": "minimise"}).tolist()
    [[-0.01], [-0.02]]
    """
    signs = [1.0 if way == "maximise" else -1.0 for way in aims.values()]
    return np.stack([np.asarray(results[key], dtype=float) for key in aims], axis=1) * signs


def nondominated(merit: Merits, builds: NDArray[Any] | None = None) -> Mask:
    """Designs that no other design beats: none is better in one aim and no worse in the others.

    Designs with exactly equal merits are all kept, unless their rows of `builds` are equal too:
    then only the first is kept. A design with a merit that is not finite is never kept.

    Examples
    --------
    >>> nondominated(np.array([[1.0, 2.0], [2.0, 1.0], [0.0, 1.0]])).tolist()
    [True, True, False]
    """
    rows = np.flatnonzero(np.isfinite(merit).all(axis=1))
    if not len(rows):
        return np.zeros(len(merit), dtype=np.bool_)
    best = rows[moocore.is_nondominated(merit[rows], maximise=True, keep_weakly=True)]
    if builds is not None:
        _, first = np.unique(np.hstack([merit[best], builds[best]]), axis=0, return_index=True)
        best = best[first]
    return np.isin(np.arange(len(merit)), best)


def beaten(merit: Merits, by: Merits) -> Mask:
    """Designs that some of other designs equal or better in every merit.

    Examples
    --------
    >>> beaten(np.array([[1.0, 1.0], [3.0, 0.0]]), np.array([[2.0, 1.0]])).tolist()
    [True, False]
    """
    found = np.zeros(len(merit), dtype=np.bool_)
    step = max(1, COMPARED // max(len(by), 1))
    for first in range(0, len(merit), step):
        some = merit[first : first + step]
        found[first : first + step] = np.any(np.all(by[None] >= some[:, None], axis=2), axis=1)
    return found


def ranks(merit: Merits) -> NDArray[np.int64]:
    """Rank of each design: 0 if no other beats it, 1 if only designs of rank 0 do, and so on.

    Examples
    --------
    >>> ranks(np.array([[1.0, 2.0], [2.0, 1.0], [0.0, 1.0]])).tolist()
    [0, 0, 1]
    """
    if not len(merit):
        return np.zeros(0, dtype=np.int64)
    return np.asarray(moocore.pareto_rank(merit, maximise=True), dtype=np.int64)


def crowding(merit: Merits, rank: NDArray[np.int64]) -> NDArray[np.float64]:
    """Crowding distance to the neighbours of the same rank; inf for designs at the ends.

    References
    ----------
    Deb, Pratap, Agarwal and Meyarivan 2002, "A fast and elitist multiobjective genetic algorithm:
    NSGA-II", IEEE Trans. Evol. Comput. 6, 182-197, section III.B (from memory); here scaled by the
    spread of all designs, not by that of one rank.

    Examples
    --------
    >>> crowding(np.array([[0.0, 4.0], [1.0, 2.0], [4.0, 0.0]]), np.zeros(3)).tolist()
    [inf, 2.0, inf]
    """
    room = np.zeros(len(merit))
    for values in merit.T:
        spread = np.ptp(values) if len(values) else 0.0
        order = np.lexsort((values, rank))
        gap = np.diff(values[order]) / (spread or 1.0)
        gap[np.diff(rank[order]) != 0] = np.inf
        room[order] += np.append(gap, np.inf) + np.append(np.inf, gap)
    return room


def growth(before: Merits, after: Merits) -> float:
    """Share of a front's hypervolume gained since an earlier front; 1 where that was empty.

    The reference point is a tenth of the front's spread below its worst merits.

    Examples
    --------
    >>> round(growth(np.array([[0.0, 1.0]]), np.array([[0.0, 1.0], [1.0, 0.0]])), 6)
    0.47619
    """
    if not len(before):
        return float(len(after) > 0)
    low, high = after.min(axis=0), after.max(axis=0)
    reference = low - 0.1 * np.where(high > low, high - low, 1.0)
    return 1.0 - hypervolume(before, reference) / hypervolume(after, reference)


def knee(merit: Merits) -> int:
    """Row of the knee: the design of a front that is farthest beyond the chord between its ends.

    Notes
    -----
    Each aim is scaled to 0 at its worst and 1 at its best on the front. With two aims the ends are
    (0, 1) and (1, 0), and the distance from their chord grows with the sum of the scaled merits;
    with more aims the same sum measures the distance from the plane through the best of each aim.
    Of equal designs the first is taken; a front of one design is its own knee.

    References
    ----------
    Das 1999, "On characterizing the 'knee' of the Pareto curve based on normal-boundary
    intersection", Structural Optimization 18, 107-115 (from memory).

    Examples
    --------
    >>> knee(np.array([[0.0, 1.0], [0.8, 0.9], [1.0, 0.0]]))
    1
    """
    low, high = merit.min(axis=0), merit.max(axis=0)
    spread = np.where(high > low, high - low, 1.0)
    return int(np.argmax(((merit - low) / spread).sum(axis=1)))


def hypervolume(merit: Merits, reference: NDArray[np.float64]) -> float:
    """Volume between a front and a reference point, in the space of merits.

    Parameters
    ----------
    merit : array
        Designs of the front; dominated designs add nothing.
    reference : array
        A point worse than the front, one merit for each aim.

    References
    ----------
    Fonseca, Paquete and Lopez-Ibanez 2006, "An improved dimension-sweep algorithm for the
    hypervolume indicator", IEEE CEC, 1157-1163 (the algorithm of the library used).

    Examples
    --------
    >>> hypervolume(np.array([[1.0, 2.0], [2.0, 1.0]]), np.zeros(2))
    3.0
    """
    if not len(merit):
        return 0.0
    return float(moocore.hypervolume(merit, ref=reference, maximise=True))
