"""Turbulence in a gap: the transition, and the eddy viscosity of a plane channel."""

import math

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import entry
from engine.physics.gap.turbulence_kernel import eddy_ratio, weight_and_slope

_WALL_SLOPE = 0.41  # von Karman's constant
_LARGEST_LENGTH = 0.10  # over half the gap
_CORNER = 3  # power of the blend between the two


def turbulent_weight(*, reynolds: Array) -> tuple[Lanes, Lanes]:
    """Weight of the turbulent laws at a gap Reynolds number.

    Shapes: any; the results have that of the argument.

    Parameters
    ----------
    reynolds : Array
        2 b V_rel / nu with the gap-mean relative speed [-].

    Returns
    -------
    weight : Lanes
        Weight [-]: 0 up to 2,300, 1 from 4,000, smooth and monotone between; NaN where the
        argument is NaN.
    slope : Lanes
        Its derivative with the logarithm of the Reynolds number [-].

    Notes
    -----
    A cubic step in the logarithm of the Reynolds number. Its ends are those of a plane channel by
    experiment: below the first disturbances decay, above the second the flow is turbulent for any
    entry. The shape between them is a choice; it is smooth so that the search sees no jump.

    References
    ----------
    Range: Patel and Head 1969, J. Fluid Mech. 38, 181-201 (plane channel; from memory). The step:
    derived here.

    Examples
    --------
    >>> [round(float(turbulent_weight(reynolds=re)[0]), 2) for re in (2000, 3033, 5000)]
    [0.0, 0.5, 1.0]

    """
    (numbers,), shape = as_lanes(reynolds)
    found = np.empty((2, numbers.size))
    _weights(numbers, found)
    weight, slope = found.reshape(2, *shape)
    return weight, slope


def eddy_viscosity(*, wall_distance: Lanes, shear: Lanes) -> tuple[Lanes, Lanes]:
    """Eddy viscosity over molecular viscosity across half a gap, fully turbulent.

    Shapes: `wall_distance` (node,), `shear` (lane, node) with the wall first; results as `shear`.

    Parameters
    ----------
    wall_distance : Lanes
        Distance from the wall over half the gap, 0 at the wall, 1 in the middle [-].
    shear : Lanes
        Magnitude of the gradient of the velocity vector, times (b / 2)^2 / nu [-].

    Returns
    -------
    ratio : Lanes
        mu_t / mu [-].
    sensitivity : Lanes
        Relative change of the ratio with a relative change of the wall shear, by damping [-].

    Notes
    -----
    Mixing length: 0.41 y at the wall, levelling off at 0.10 of half the gap with a cubic blend, and
    van Driest's damping with 26. The eddy viscosity follows the magnitude of the whole gradient and
    is the same in both directions. The 0.10 lies between the 0.09 of boundary layers (Escudier) and
    the 0.14 of pipes (Nikuradse). It and the blend were chosen so that the friction of a plane
    channel agrees with Dean and with Kim, Moin and Moser within 5 % from Re 4e3 to 4e4.

    References
    ----------
    van Driest 1956, J. Aeronaut. Sci. 23, 1007-1011; Escudier 1966, Imperial College TWF/TN/1;
    Nikuradse 1932, VDI Forschungsheft 356 (all from memory). The blend: derived here.

    Examples
    --------
    >>> far = eddy_viscosity(wall_distance=np.array([0.0, 1.0]), shear=np.full((1, 2), 1e8))[0]
    >>> [float(round(ratio / 1e8, 4)) for ratio in far[0]]
    [0.0, 0.0099]

    """
    length = mixing_length(wall_distance=wall_distance)
    distance, length, size = map(np.ascontiguousarray, (wall_distance, length, shear))
    found = np.empty((2, *shear.shape))
    _eddies(distance, length, size, found)
    return found[0], found[1]


def mixing_length(*, wall_distance: Lanes) -> Lanes:
    """Mixing length across half a gap, without damping.

    Shapes: any; the result has that of the argument.

    Parameters
    ----------
    wall_distance : Lanes
        Distance from the wall over half the gap [-].

    Returns
    -------
    Lanes
        Over half the gap [-]; see `eddy_viscosity`.

    References
    ----------
    As `eddy_viscosity`.

    Examples
    --------
    >>> mixing_length(wall_distance=np.array([0.001, 1.0])).round(5).tolist()
    [0.00041, 0.09952]

    """
    straight = _WALL_SLOPE * wall_distance
    return np.asarray(straight / (1 + (straight / _LARGEST_LENGTH) ** _CORNER) ** (1 / _CORNER))


@entry
def _weights(reynolds: Lanes, found: Lanes) -> None:
    for i in range(reynolds.size):
        found[0, i], found[1, i] = weight_and_slope(reynolds[i])


@entry
def _eddies(distance: Lanes, length: Lanes, shear: Lanes, found: Lanes) -> None:
    for i in range(shear.shape[0]):
        root = math.sqrt(shear[i, 0])
        for k in range(distance.size):
            found[0, i, k], found[1, i, k] = eddy_ratio(distance[k], length[k], shear[i, k], root)
