"""Profiles of the flow across a gap as three modes each of inflow and swirl, and their equations.

z runs from mid-gap (0) to the wall (1). Inflow over its mean is phi = f0 + a1 f1 + a2 f2, radius
times relative swirl is J = b0 f0 + b1 f1 + b2 f2. All modes vanish at the wall. f0 has mean 1 and
is as flat as that allows; f1 and f2 have mean 0, are orthonormal, and orthogonal to f0. With
eta = (rim radius^2 - r^2) / 2 along the march and the drift W = -(integral of phi_eta from
mid-gap), the velocity across the gap:

    phi phi_eta + W phi_z + widening phi^2 - viscous phi_zz + lift (turning J + J^2 / r^2) = P   (1)
    phi J_eta   + W J_z   - turning phi    - viscous J_zz                                  = 0   (2)

(1) is radial momentum, where P holds the pressure gradient and is uniform across the gap; (2) is
angular momentum. The coefficients are fields of `modes_kernel.Forces`. In turbulent flow most of
the viscous terms are replaced: `drag` acts on the means of phi and J at the wall layer, `mixing`
damps f1 and f2 of both. Galerkin's method: (1) weighted by f1 and f2, which removes P, and (2)
weighted by all three modes.
"""

import numpy as np
from numpy.polynomial import Polynomial

from engine.physics.arrays import Lanes

_POWERS = (2, 4, 10)
"""The modes are spanned by 1 - z^power; the last power serves thin layers at the walls."""

WALL_LAYER = 0.87
"""Place z at which turbulent wall friction acts; fitted like `averaged_kernel.Turbulence`."""


def _mean(shape: Polynomial) -> float:
    """Mean across the half gap."""
    return float(shape.integ()(1.0))


def _modes() -> tuple[Polynomial, Polynomial, Polynomial]:
    """Build the three modes as polynomials in z, by Gram-Schmidt orthogonalisation."""
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
"""Weights of turbulent wall friction on the modes; the swirl of f0 then decays at rate `drag`."""
DRIFT = tuple(
    tuple(_mean(_MODES[k] * slope * _MODES[j].integ()) for slope in _SLOPES)
    for k in range(3)
    for j in (1, 2)
)
"""Convection by the drift: by weighting mode k and inflow mode j, of each mode that is carried."""
_ACROSS = (0.0, 0.3, 0.5, 0.7, 0.85, 1.0 - 1e-9)
"""Places z at which an inflow is checked for reversal."""
REVERSING = tuple(tuple(float(-f(z) / _MODES[0](z)) for f in _MODES[1:]) for z in _ACROSS)
"""At each of these places: an inflow reverses where this times (a1, a2) exceeds 1."""


def shapes_of_modes(*, places: Lanes) -> tuple[Lanes, Lanes, Lanes]:
    """Modes at places across the half gap, with slopes and integrals.

    Parameters
    ----------
    places : Lanes
        Distance from mid-gap over half the gap, 0 to 1, shape (place,) [-].

    Returns
    -------
    shapes, slopes, streams : Lanes
        f0, f1 and f2, their slopes, and their integrals from mid-gap, (mode, place) [-].

    References
    ----------
    The modes: derived here, see the module.

    Examples
    --------
    >>> float(shapes_of_modes(places=np.array([1.0]))[2][0].round(12)[0])
    1.0

    """
    shapes = np.stack([f(places) for f in _MODES])
    slopes = np.stack([f(places) for f in _SLOPES])
    return shapes, slopes, np.stack([f.integ()(places) for f in _MODES])
