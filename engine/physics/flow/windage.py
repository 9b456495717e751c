"""Drag of the outer faces of the end discs in their side chambers."""

import numpy as np

from engine.physics.arrays import Array, Lanes, ValidRange, as_lanes
from engine.physics.compiled import entry
from engine.physics.flow.windage_kernel import moment_coefficient

WINDAGE_RANGE = ValidRange(
    source="Daily and Nece 1960",
    bounds={"disc_reynolds": (1e3, 1e7), "side_gap_ratio": (0.0127, 0.217)},
)


def disc_moment_coefficient(*, reynolds: Array, side_gap_ratio: Array) -> Lanes:
    """Moment coefficient of both faces of a disc turning in a casing.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    reynolds : Array
        Density times angular speed times rim radius squared over viscosity [-], 1e3 to 1e7.
    side_gap_ratio : Array
        Axial side gap over rim radius [-], 0.0127 to 0.217.

    Returns
    -------
    Lanes
        Torque of both faces over (density omega^2 radius^5 / 2) [-].

    Notes
    -----
    Four regimes: laminar merged and separate, turbulent merged and separate boundary layers. The
    largest of the four applies. The 0.0102 that some copies print in the last law is a misprint:
    the value would be seven times below the merged turbulent one.

    References
    ----------
    Daily and Nece, Trans. ASME J. Basic Eng. 82, 1960, 217-232 (equations from memory).

    Examples
    --------
    >>> float(disc_moment_coefficient(reynolds=1e6, side_gap_ratio=0.1).round(5))
    0.00511

    """
    (re, narrowness), shape = as_lanes(reynolds, side_gap_ratio)
    found = np.empty_like(re)
    _read_coefficients(re, narrowness, narrowness**0.1, narrowness ** (-1 / 6), found)
    return found.reshape(shape)


def end_face_torque(
    *, density: Array, viscosity: Array, angular_speed: Array, rim_radius: Array, side_gap: Array
) -> Lanes:
    """Torque of the fluid in the side chambers on the two outer faces of the stack.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density, viscosity : Array
        Density [kg/m3] and dynamic viscosity [Pa s] in the side chambers.
    angular_speed : Array
        Speed of the discs [rad/s], above 0.
    rim_radius, side_gap : Array
        Outer radius of the discs [m] and distance from end disc to casing [m].

    Returns
    -------
    Lanes
        Braking torque of both faces together [N m].

    References
    ----------
    Daily and Nece, Trans. ASME J. Basic Eng. 82, 1960, 217-232 (equations from memory).

    Examples
    --------
    >>> torque = end_face_torque(
    ...     density=1.2, viscosity=1.8e-5, angular_speed=2000.0, rim_radius=0.075, side_gap=3e-3
    ... )
    >>> round(float(torque), 4)
    0.0281

    """
    reynolds = density * angular_speed * np.square(rim_radius) / viscosity
    coefficient = disc_moment_coefficient(reynolds=reynolds, side_gap_ratio=side_gap / rim_radius)
    return np.asarray(coefficient * density * np.square(angular_speed) * rim_radius**5 / 2)


@entry
def _read_coefficients(
    reynolds: Lanes, narrowness: Lanes, tenth: Lanes, sixth: Lanes, found: Lanes
) -> None:
    for i in range(found.size):
        found[i] = moment_coefficient(reynolds[i], narrowness[i], tenth[i], sixth[i])
