"""Speed against time of a rotor that slows down, from its deceleration at every speed."""

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

SHARES = 240
"""Speeds at which the drag is evaluated and summed."""
LONGEST = 1e9
"""Longest time that losing 1 rad/s may take [s]; it keeps times finite where there is no drag."""


def falling_speeds(start: Numbers) -> Numbers:
    """Speeds from the start down to almost zero, closer together where the stack is slow."""
    return np.asarray(start[:, None] * np.linspace(1.0, 0.03, SHARES) ** 1.5)


def times_passed(grid: Numbers, slowing: Numbers) -> Numbers:
    """Time at which each speed of a grid is reached, by the trapezoidal rule."""
    pace = 1 / np.maximum(slowing, 1 / LONGEST)
    steps = (pace[:, 1:] + pace[:, :-1]) / 2 * -np.diff(grid, axis=1)
    return np.concatenate([np.zeros((len(grid), 1)), np.cumsum(steps, axis=1)], axis=1)


def speeds_at(grid: Numbers, slowing: Numbers, time: Numbers) -> Numbers:
    """Speed at each time, from the times at which each speed of the grid is reached."""
    pairs = zip(times_passed(grid, slowing), grid, strict=True)
    return np.array([np.interp(time, at, speeds) for at, speeds in pairs])
