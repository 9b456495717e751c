"""Moment coefficient of a disc in a casing; see `windage`."""

import math

from engine.physics.compiled import inlined, root


@inlined
def _closer(found: float, number: float) -> float:
    """Take a step of Newton's method towards the fifth root of a number."""
    square = found * found
    return 0.8 * found + 0.2 * number / (square * square)


@inlined
def _fifth_root(number: float) -> float:
    """Fifth root of a number from 1 to 1e12, by Newton's method; a power is a slow library call."""
    quarter = root(root(number))
    found = _closer(_closer(1.17 * quarter / root(root(quarter)), number), number)
    return _closer(_closer(found, number), number)


@inlined
def moment_coefficient(reynolds: float, narrowness: float, tenth: float, sixth: float) -> float:
    """Moment coefficient of both faces of a disc (`windage.disc_moment_coefficient`).

    `narrowness` is side gap over radius, `tenth` and `sixth` are its powers 1/10 and -1/6.
    """
    half = root(reynolds)
    merged, apart = 2 * math.pi / (narrowness * reynolds), 3.70 * tenth / half
    mixed, rough = 0.080 * sixth / root(half), 0.102 * tenth / _fifth_root(reynolds)
    return max(merged, apart, mixed, rough)
