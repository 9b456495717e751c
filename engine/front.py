"""Non-dominated designs, their knee, and the hypervolume that measures a front.

Everything here works on *merits*: one row a design, one column an aim, more is better.
"""

from collections.abc import Mapping
from typing import Any

import moocore
import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Mask

Merits = NDArray[np.float64]


def merits(results: Mapping[str, NDArray[Any]], aims: Mapping[str, str]) -> Merits:
    """Aims as numbers of which more is better, (n_designs, n_aims).

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
    """Designs that no other design beats in one aim without losing in another.

    Designs of exactly equal merits all stay, unless their rows of `builds` are equal too: then
    the first stays. A design with a merit that is not finite is never among them.

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


def knee(merit: Merits) -> int:
    """Row of the knee: the design of a front that lies farthest beyond the chord of its ends.

    Notes
    -----
    Each aim is scaled to 0 at its worst and 1 at its best on the front. With two aims the ends are
    (0, 1) and (1, 0), and the distance from their chord grows with the sum of the scaled merits;
    with more aims the same sum measures the distance from the plane through the best of each
    aim. The first of equals is taken; a front of one design is its own knee.

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
    """Volume of merit space that a front beats, down to a reference point.

    Parameters
    ----------
    merit : array
        Designs; dominated ones add nothing.
    reference : array
        A point worse than the front, one merit an aim.

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
