"""Turbulence in a gap, one value at a time; see `turbulence` for numbers and sources."""

import math
from typing import NamedTuple

from engine.physics.compiled import compiled, inlined

LAMINAR_BELOW, TURBULENT_ABOVE = 2300.0, 4000.0
"""Gap Reynolds numbers between which the flow is in transition."""
_DAMPING = 26.0
_WIDTH = math.log(TURBULENT_ABOVE / LAMINAR_BELOW)
_MIDDLE = math.sqrt(TURBULENT_ABOVE * LAMINAR_BELOW)


class Turbulence(NamedTuple):
    """Constants of the turbulent laws, fitted to the resolved level (tests/speed)."""

    shear: float = 0.033
    """Wall shear against the swirl over density, relative speed V and relative swirl, times the
    fourth root of V b / nu. Not fitted: Hirs 1973."""
    inflow_shear: float = 0.0301
    """The same against the inflow; with the kept laminar friction it gives Dean's."""
    mixing: float = 8.7
    """Decay of the shape of a profile over the decay of its mean by wall shear."""
    kept_viscosity: float = 0.107
    """Share of the laminar diffusion left in turbulent flow."""
    kept_friction: float = 0.376
    """Share of the laminar friction on the inflow left in turbulent flow."""


@inlined
def _place(reynolds: float) -> float:
    """Place between the two bounds by the logarithm of the Reynolds number, 0 to 1.

    The logarithm is a series of 2 artanh, exact to 1e-14 between the bounds: a library call would
    keep the compiler from treating the lanes of a pack as vectors.
    """
    inside = min(max(reynolds, LAMINAR_BELOW), TURBULENT_ABOVE)
    t = (inside - _MIDDLE) / (inside + _MIDDLE)
    s = t * t
    half = t * (1 + s * (1 / 3 + s * (1 / 5 + s * (1 / 7 + s * (1 / 9 + s * (1 / 11 + s / 13))))))
    return 2 * half / _WIDTH + 0.5


@inlined
def turbulent_weight(reynolds: float) -> float:
    """Weight of the turbulent laws at a gap Reynolds number, 0 to 1."""
    place = _place(reynolds)
    weight = place * place * (3 - 2 * place)
    return weight if reynolds > LAMINAR_BELOW else 0.0


@compiled
def weight_and_slope(reynolds: float) -> tuple[float, float]:
    """Weight of the turbulent laws, and its derivative with ln of the Reynolds number."""
    if math.isnan(reynolds):
        return math.nan, math.nan
    if not LAMINAR_BELOW < reynolds < TURBULENT_ABOVE:
        return (1.0 if reynolds >= TURBULENT_ABOVE else 0.0), 0.0
    place = _place(reynolds)
    return turbulent_weight(reynolds), 6 * place * (1 - place) / _WIDTH


@compiled
def eddy_ratio(
    wall_distance: float, length: float, shear: float, root_of_wall_shear: float
) -> tuple[float, float]:
    """Eddy over molecular viscosity, and its relative change with that of the wall shear.

    `length` is the mixing length without damping.
    """
    depth = wall_distance * root_of_wall_shear / _DAMPING
    fading = -math.expm1(-depth)
    damped = length * fading
    sensitivity = depth * (1 - fading) / fading if depth > 1e-9 else 1.0
    return damped * damped * shear, sensitivity
