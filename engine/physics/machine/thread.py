"""Threads on shafts, and what their nuts pass over."""

import numpy as np

from engine.physics.arrays import Array, Lanes

THREADS = (
    *((1.0, 0.25), (1.6, 0.35), (2.0, 0.4), (2.5, 0.45), (3.0, 0.5), (4.0, 0.7), (5.0, 0.8)),
    *((6.0, 1.0), (8.0, 1.25), (10.0, 1.5), (12.0, 1.75), (14.0, 2.0), (15.0, 1.0), (16.0, 2.0)),
    *((17.0, 1.0), (18.0, 2.5), (20.0, 2.5), (22.0, 2.5), (24.0, 3.0), (25.0, 1.5), (27.0, 3.0)),
    *((30.0, 3.5), (33.0, 3.5), (36.0, 4.0), (39.0, 4.0), (42.0, 4.5), (48.0, 5.0), (56.0, 5.5)),
    (64.0, 6.0),
)
"""Threads of ISO 261 with their pitch, coarse but for M15, M17 and M25; from memory [mm]."""
ROOT, CORE = 1.22687, 1.25 * np.sqrt(3) / 2
"""By how many pitches the root of an external thread, and the inside of a nut, are smaller than the
thread: 17/12 and 5/4 of the height of its sharp triangle; ISO 68-1, from memory."""
PLAY = 0.01e-3
"""Least by which a nut is wider than a seat that it passes [m]: nuts are never tighter than their
basic size (6H), and seats of j5 up to 30 mm at most 5 um wider; ISO 965-1, ISO 286-2, from
memory."""


def widest_thread(*, diameter: Array) -> tuple[Lanes, Lanes]:
    """Widest thread of the table that a shaft carries, and its pitch.

    Both results have the shape of the argument.

    Parameters
    ----------
    diameter : Array
        Of the shaft [m]. One thinner than the table's smallest thread has a thread as wide as
        itself, of that pitch.

    Returns
    -------
    tuple
        Diameter and pitch of the thread [m].

    References
    ----------
    ISO 261, from memory.

    Examples
    --------
    >>> [float(1e3 * size) for size in widest_thread(diameter=10.5e-3)]
    [10.0, 1.5]

    """
    sizes, pitches = (1e-3 * np.array(column) for column in zip(*THREADS, strict=True))
    shaft = np.asarray(diameter)
    place = np.maximum(np.searchsorted(sizes, shaft + 1e-9, side="right") - 1, 0)
    return np.minimum(sizes[place], shaft), pitches[place]


def nut_inside(*, thread: Array, pitch: Array) -> Lanes:
    """Inside diameter of a nut.

    Both arguments broadcast; the result has their common shape.

    Parameters
    ----------
    thread : Array
        Diameter of the thread [m].
    pitch : Array
        Of the thread [m].

    Returns
    -------
    Lanes
        Basic minor diameter of the internal thread [m].

    References
    ----------
    ISO 724, from memory.

    Examples
    --------
    >>> float(nut_inside(thread=10e-3, pitch=1.5e-3).round(6))  # table: 8.376 mm
    0.008376

    """
    return np.asarray(np.asarray(thread) - CORE * np.asarray(pitch))


def nut_clearance(*, shaft: Array, seat: Array) -> Lanes:
    """By how much the nut of a shaft's widest thread is wider than a seat that it must pass.

    Both arguments broadcast; the result has their common shape.

    Parameters
    ----------
    shaft : Array
        Diameter of the shaft [m].
    seat : Array
        Diameter of the seat between the end of the shaft and the thread [m].

    Returns
    -------
    Lanes
        Difference of diameters [m], below 0 where the nut does not pass.

    References
    ----------
    ISO 724, from memory.

    Examples
    --------
    >>> [float(each.round(6)) for each in nut_clearance(shaft=[8e-3, 10e-3], seat=8e-3)]
    [-0.001353, 0.000376]

    """
    thread, pitch = widest_thread(diameter=shaft)
    return np.asarray(nut_inside(thread=thread, pitch=pitch) - np.asarray(seat))


def least_thread(*, seat: float) -> float:
    """Smallest thread of the table whose nut passes a seat.

    Parameters
    ----------
    seat : float
        Diameter of the seat [m].

    Returns
    -------
    float
        Diameter of the thread [m]; NaN where the seat is too wide for all of them.

    References
    ----------
    ISO 724, from memory.

    Examples
    --------
    >>> least_thread(seat=8e-3), least_thread(seat=12e-3)
    (0.01, 0.015)

    """
    sizes = 1e-3 * np.array([size for size, _ in THREADS])
    passing = sizes[nut_clearance(shaft=sizes, seat=seat) >= PLAY]
    return float(passing[0]) if passing.size else np.nan
