"""Which builds of a long front the page lists: some, spread evenly over the first two aims."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from engine.search.front import merits
from reports.run.search_facts import Aim, Table

MOST_LISTED = 200
"""Builds that a page lists at most, so that it stays small enough to be sent."""


def listed_of(front: Table, aims: Iterable[Aim], named: Iterable[int]) -> Table:
    """Take the rows of a front that the page lists, in their order; those named always.

    Each next build is the one farthest from all that are taken, where both aims are counted over
    their span on the front: Gonzalez 1985, Theoretical Computer Science 38, 293.
    """
    n_builds = len(front["design"])
    if n_builds <= MOST_LISTED:
        return front
    ways = {aim.key: "maximise" if aim.maximise else "minimise" for aim in aims}
    places = np.nan_to_num(merits(front, ways)[:, :2])
    places = places / np.where(np.ptp(places, axis=0) > 0, np.ptp(places, axis=0), 1.0)
    taken = list(dict.fromkeys((*named, *places.argmax(axis=0).tolist())))
    away = np.min([_away(places, row) for row in taken], axis=0)
    while len(taken) < MOST_LISTED:
        taken.append(int(away.argmax()))
        away = np.minimum(away, _away(places, taken[-1]))
    rows = np.sort(taken)
    return {key: column[rows] for key, column in front.items()}


def _away(places: NDArray[np.float64], row: int) -> NDArray[np.float64]:
    return np.asarray(np.hypot(*(places - places[row]).T))
