"""Profiles of the flow across a gap as three modes each of inflow and swirl, and one step of them.

With z from mid-gap (0) to wall (1), inflow over its mean is phi = f0 + a1 f1 + a2 f2 and radius
times relative swirl is J = b0 f0 + b1 f1 + b2 f2. All modes vanish at the wall; f0 has mean 1 and
is as flat as that allows, f1 and f2 have mean 0 and are orthonormal and orthogonal to f0. With the
distance eta = (rim radius^2 - r^2) / 2 and the drift W = -(integral of phi_eta from mid-gap):

    phi phi_eta + W phi_z + widening phi^2 - viscous phi_zz + lift (turning J + J^2 / r^2) = P
    phi J_eta   + W J_z   - turning phi    - viscous J_zz                                  = 0

Turbulence replaces most of the viscous terms: `drag` takes from the means of phi and J at the wall
layer and `mixing` damps f1 and f2 of both. Galerkin's method: the first equation weighted by f1
and f2, which takes the uniform P out, the second by all three.
"""

import numpy as np
from numpy.polynomial import Polynomial

_POWERS = (2, 4, 10)
"""Of 1 - z^power, which span the modes; the last is there for thin layers at the walls."""

WALL_LAYER = 0.87
"""Where across the half gap turbulent friction takes hold; fitted as `gap.Turbulence` is."""


def _mean(shape: Polynomial) -> float:
    return float(shape.integ()(1.0))


def _modes() -> tuple[Polynomial, Polynomial, Polynomial]:
    """Build the three modes as polynomials of z, by Gram and Schmidt's process."""
    raw = [1 - Polynomial.basis(power) for power in _POWERS]
    raw = [shape / _mean(shape) for shape in raw]
    first = raw[1] - raw[0]
    first = first / np.sqrt(_mean(first**2))
    second = raw[2] - raw[0]
    second = second - _mean(first * second) * first
    second = second / np.sqrt(_mean(second**2))
    flat = raw[0] - _mean(raw[0] * first) * first - _mean(raw[0] * second) * second
    return flat, first, second


_MODES = _modes()
_SLOPES = [f.deriv() for f in _MODES]
FLATNESS = _mean(_MODES[0] ** 2)
"""Mean square of f0; that of f1 and f2 is 1."""
DRAG = tuple(_mean(_SLOPES[k] * _SLOPES[j]) for k in range(3) for j in range(k, 3))
"""Means of the products of slopes: 00, 01, 02, 11, 12, 22."""
TRIPLE = tuple(
    _mean(_MODES[i] * _MODES[k] * _MODES[j])
    for i in range(3)
    for k in range(i, 3)
    for j in range(k, 3)
)
"""Means of the products of three modes: 000, 001, 002, 011, 012, 022, 111, 112, 122, 222."""
PULL = tuple(float(TRIPLE[0] * f(WALL_LAYER) / _MODES[0](WALL_LAYER)) for f in _MODES)
"""Of turbulent friction on the three modes: flat profiles lose speed as they should."""
DRIFT = tuple(
    tuple(_mean(_MODES[k] * slope * _MODES[j].integ()) for slope in _SLOPES)
    for k in range(3)
    for j in (1, 2)
)
"""By test mode k and change of inflow j: what the drift carries, of each mode it acts on."""
_ACROSS = (0.0, 0.3, 0.5, 0.7, 0.85, 1.0 - 1e-9)
REVERSING = tuple(tuple(float(-f(z) / _MODES[0](z)) for f in _MODES[1:]) for z in _ACROSS)
"""By height: shape of the inflow over its mean that turns it back there."""
