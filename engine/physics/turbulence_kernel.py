"""Turbulence in a gap, compiled; `gap_turbulence` says what the numbers are and where from."""

import math

from engine.physics.compiled import compiled

LAMINAR_BELOW, TURBULENT_ABOVE = 2300.0, 4000.0
_DAMPING = 26.0
_WIDTH = math.log(TURBULENT_ABOVE / LAMINAR_BELOW)


@compiled
def weight_and_slope(reynolds: float) -> tuple[float, float]:
    """Share of the turbulent laws at a gap Reynolds number, and its slope by the logarithm."""
    if reynolds <= LAMINAR_BELOW:
        return 0.0, 0.0
    if reynolds >= TURBULENT_ABOVE:
        return 1.0, 0.0
    place = math.log(reynolds / LAMINAR_BELOW) / _WIDTH
    return place * place * (3 - 2 * place), 6 * place * (1 - place) / _WIDTH


@compiled
def eddy_ratio(
    wall_distance: float, length: float, shear: float, root_of_wall_shear: float
) -> tuple[float, float]:
    """Eddy over molecular viscosity, and its relative change by that of the wall shear.

    `length` is the mixing length without damping.
    """
    depth = wall_distance * root_of_wall_shear / _DAMPING
    fading = -math.expm1(-depth)
    damped = length * fading
    sensitivity = depth * (1 - fading) / fading if depth > 1e-9 else 1.0
    return damped * damped * shear, sensitivity
