"""Waves in a spinning disc as seen from the casing."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes


@dataclass(frozen=True)
class ModeChart:
    """Angular frequencies seen from the casing; modes on the last axis."""

    forward: Lanes
    """[rad/s]"""
    backward: Lanes
    """[rad/s]; negative above the speed at which the wave stands still."""


def mode_chart(*, frequency: Array, stiffening: Array, speed: Array) -> ModeChart:
    """Frequencies of forward and backward waves in the frame of the casing, over speed.

    Shapes: frequency and stiffening (..., modes), from no nodal diameter up; speed broadcasts with
    their other axes.

    Parameters
    ----------
    frequency : Array
        Angular frequency at standstill by nodal diameters [rad/s].
    stiffening : Array
        Southwell's B by nodal diameters [-].
    speed : Array
        Angular speed [rad/s].

    Returns
    -------
    ModeChart
        Angular frequencies [rad/s].

    References
    ----------
    Lamb and Southwell, Proc. R. Soc. A 99, 1921.

    Examples
    --------
    >>> chart = mode_chart(frequency=np.array([4.0, 3.0, 6.0]),
    ...                    stiffening=np.array([0.5, 1.1, 2.4]), speed=np.array([0.0, 2.0]))
    >>> chart.backward.round(2).tolist()
    [[4.0, 3.0, 6.0], [4.24, 1.66, 2.75]]

    """
    spin = np.asarray(speed, dtype=float)[..., np.newaxis]
    seen_from_disc = np.sqrt(np.square(frequency) + stiffening * np.square(spin))
    carried = np.arange(np.shape(frequency)[-1]) * spin
    return ModeChart(seen_from_disc + carried, seen_from_disc - carried)
