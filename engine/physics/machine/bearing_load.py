"""Equivalent load, rated life and stiffness of deep-groove ball bearings."""

import numpy as np

from engine.physics.arrays import Array

RELATIVE_LOAD = (0.172, 0.345, 0.689, 1.03, 1.38, 2.07, 3.45, 5.17, 6.89)
"""Axial load over balls times the square of their diameter [MPa]; ISO 281:2007, table 3."""
AXIAL_FACTOR = (2.30, 1.99, 1.71, 1.55, 1.45, 1.31, 1.15, 1.04, 1.00)
"""Y of the same table, normal clearance; from memory."""
RADIAL_FACTOR = 0.56
"""X of the same table."""
LEAST_SHARE = 0.01
"""Least load of a ball bearing over its dynamic rating: below, balls slide; common practice."""
CONTACT_ANGLE = np.radians(12.0)
"""At which balls press with a light axial load, of bearings with normal clearance [rad]."""
APPROACH = 4.36e-8
"""Approach of both races, over Q^(2/3) D^(-1/3) [m^(4/3)/N^(2/3)]; steel, usual grooves."""
MOST_LOADED = 5.0
"""Load on the most loaded ball of a bearing with some clearance, over the mean of all."""


def equivalent_load(
    *, radial: Array, axial: Array, ball_count: Array, ball_diameter: Array
) -> Array:
    """Equivalent dynamic load of a deep-groove ball bearing.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    radial, axial : Array
        Load across and along the shaft [N], >= 0.
    ball_count : Array
        Number of balls [-].
    ball_diameter : Array
        Diameter of a ball [m].

    Returns
    -------
    Array
        P [N].

    Notes
    -----
    P = X Fr + Y Fa, but at least Fr. Y follows Fa/(Z D^2), straight between the rows of the table;
    outside of it the nearest row holds. The table takes Fr alone up to Fa/Fr = e; there both are
    the same within 1 %, so the larger is taken.

    References
    ----------
    ISO 281:2007, table 3, from memory.

    Examples
    --------
    >>> p = equivalent_load(radial=10.0, axial=20.0, ball_count=7, ball_diameter=3.969e-3)
    >>> round(float(p), 1)  # 0.56 x 10 N + 2.283 x 20 N
    51.3

    """
    pressed = np.asarray(axial) * 1e-6 / (ball_count * np.square(ball_diameter))
    factor = np.interp(pressed, RELATIVE_LOAD, AXIAL_FACTOR)
    return np.asarray(np.maximum(radial, RADIAL_FACTOR * np.asarray(radial) + factor * axial))


def rating_life(*, dynamic_rating: Array, load: Array, speed: Array) -> Array:
    """Time that nine of ten bearings outlast at a constant load and speed.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    dynamic_rating : Array
        Basic dynamic load rating C [N].
    load : Array
        Equivalent dynamic load [N], > 0.
    speed : Array
        Angular speed [rad/s], >= 0.

    Returns
    -------
    Array
        L10 [s]: (C/P)^3 million turns; infinite at rest.

    Notes
    -----
    Fatigue of clean and well greased races only. Grease ages sooner at high speed; dirt, balls that
    slide under too light a load and currents of a generator end most small bearings first.

    References
    ----------
    ISO 281:2007, 5.2.

    Examples
    --------
    >>> life = rating_life(dynamic_rating=3450.0, load=51.3, speed=27000 * 2 * np.pi / 60)
    >>> round(float(life) / 3.6e6)  # thousand hours
    188

    """
    with np.errstate(divide="ignore", invalid="ignore"):
        turns = 1e6 * np.power(np.divide(dynamic_rating, load), 3)
        return np.asarray(turns * 2 * np.pi / np.asarray(speed, dtype=float))


def radial_stiffness(
    *, ball_count: Array, ball_diameter: Array, preload: Array, radial: Array
) -> Array:
    """Radial stiffness of a deep-groove ball bearing, its rings held rigidly.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    ball_count : Array
        Number of balls [-].
    ball_diameter : Array
        Diameter of a ball [m].
    preload : Array
        Axial load that a spring keeps up [N], >= 0.
    radial : Array
        Radial load [N], >= 0.

    Returns
    -------
    Array
        Stiffness [N/m], for small movements around that load.

    Notes
    -----
    Races approach each other by 4.36e-8 Q^(2/3) D^(-1/3) at each ball. With a spring all balls
    carry Q = Fa/(Z sin alpha), and their stiffnesses 3 Q/(2 delta) add up to half of Z times that,
    by cos^2 alpha. Without one the most loaded ball carries 5 Fr/Z and moves with the shaft. The
    larger of the two is taken. The contact angle of an unloaded ball follows clearance and grooves,
    some 10 to 15 degrees, and grows
    with the preload, so that the true stiffness is up to a tenth lower.

    References
    ----------
    Harris, Rolling Bearing Analysis, 4th ed. 2001, ch. 6 to 8, from memory; the sum over the balls
    derived here.

    Examples
    --------
    >>> k = radial_stiffness(ball_count=7, ball_diameter=3.969e-3, preload=20.0, radial=2.0)
    >>> round(float(k) / 1e6, 1)
    43.7

    """
    balls, size = np.asarray(ball_count, dtype=float), np.cbrt(ball_diameter)
    pressed = np.asarray(preload) / (balls * np.sin(CONTACT_ANGLE))
    sprung = balls / 2 * 1.5 / APPROACH * np.cbrt(pressed) * size * np.cos(CONTACT_ANGLE) ** 2
    carried = MOST_LOADED * np.asarray(radial) / balls
    rolling = 1.5 / APPROACH * np.cbrt(carried) * size * balls / MOST_LOADED
    return np.asarray(np.maximum(sprung, rolling))


def belt_load(*, torque: Array, pulley: Array, belt_pull: Array) -> Array:
    """Load of a belt across the shaft of its pulley.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    torque : Array
        On the pulley [N m]; its sign does not matter.
    pulley : Array
        Pitch diameter [m].
    belt_pull : Array
        Both strands together over the difference between them [-], >= 1.

    Returns
    -------
    Array
        Load [N].

    Notes
    -----
    The strands differ by 2 T/d. Toothed belts need little tension beside it, and load the shaft
    with 1.3 to 2 times that; V belts 2 to 2.5, flat ones 2.5 to 5.

    References
    ----------
    Shigley, Mechanical Engineering Design, ch. 17; factors of the belts: handbooks of bearings,
    both from memory.

    Examples
    --------
    >>> float(belt_load(torque=0.5, pulley=0.0625, belt_pull=1.5))
    24.0

    """
    return np.asarray(belt_pull * 2 * np.abs(torque) / pulley)
