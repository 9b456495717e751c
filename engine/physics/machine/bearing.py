"""Speed limit, friction torque of rolling bearings."""

import numpy as np

from engine.physics.arrays import Array

SHOULDER_SHARE = 0.31
"""Height of an inner ring's shoulder over that of both rings with the balls between them."""


def bearing_limit_speed(*, speed_limit: Array, mean_diameter: Array) -> Array:
    """Highest speed of a bearing, by its n d_m limit.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    speed_limit : Array
        Mean diameter times angular speed that the lubrication allows [m rad/s]; 1e6 mm/min is
        104.72 m rad/s.
    mean_diameter : Array
        Mean of bore and outside diameter [m].

    Returns
    -------
    Array
        Angular speed [rad/s].

    References
    ----------
    Harris, Rolling Bearing Analysis, 4th ed. 2001, from memory; the limits are common practice.

    Examples
    --------
    >>> round(float(bearing_limit_speed(speed_limit=52.36, mean_diameter=0.02)))
    2618

    """
    return np.asarray(speed_limit / mean_diameter)


def load_factor(*, load: Array, static_rating: Array) -> Array:
    """Palmgren's f1 of a deep-groove ball bearing: friction per load.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    load : Array
        Equivalent static load [N], >= 0.
    static_rating : Array
        Static load rating [N].

    Returns
    -------
    Array
        Load factor [-].

    Notes
    -----
    f1 = z (F/C0)^0.55; z lies between 0.0004 (light series) and 0.0006 (heavy), here 0.0005.

    References
    ----------
    Harris, Rolling Bearing Analysis, 4th ed. 2001, ch. 14, from memory.

    Examples
    --------
    >>> round(float(load_factor(load=500.0, static_rating=2500.0)), 6)
    0.000206

    """
    return np.asarray(0.0005 * (load / static_rating) ** 0.55)


def bearing_torque(
    *,
    mean_diameter: Array,
    speed: Array,
    kinematic_viscosity: Array,
    lubrication_factor: Array,
    load_factor: Array,
    load: Array,
) -> Array:
    """Friction torque of one rolling bearing: churning of the lubricant and rolling under load.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mean_diameter : Array
        Mean of bore and outside diameter [m].
    speed : Array
        Angular speed [rad/s], >= 0.
    kinematic_viscosity : Array
        Lubricant (or the grease's base oil) at running temperature [m2/s].
    lubrication_factor : Array
        Palmgren's f0 [-]: 1.5 grease, 2 oil bath, 1 oil mist.
    load_factor : Array
        Palmgren's f1 [-]; about 0.0002 for deep-groove ball bearings.
    load : Array
        Load on the bearing [N].

    Returns
    -------
    Array
        Torque [N m].

    Notes
    -----
    Palmgren: M0 = 1e-7 f0 (nu n)^(2/3) d_m^3 [N mm, mm2/s, 1/min, mm] where nu n > 2000, else
    160e-7 f0 d_m^3; M1 = f1 P d_m. Here the larger of the two forms of M0 is taken, which is
    continuous and differs by less than 1 %, between nu n of 2000 and 2024 only. Expect +-30 %, up
    to 1e6 mm/min (105 m rad/s) and half the static rating; the speed limits of grease lie below.

    References
    ----------
    Palmgren, Ball and Roller Bearing Engineering, 3rd ed. 1959; Harris, Rolling Bearing Analysis,
    4th ed. 2001, ch. 14; the form of ISO 15312:2003; all from memory.

    Examples
    --------
    >>> m = bearing_torque(mean_diameter=0.015, speed=2094.395, kinematic_viscosity=30e-6,
    ...                    lubrication_factor=1.5, load_factor=0.0, load=0.0)
    >>> round(float(m) * 1e3, 3)
    3.601

    """
    per_minute = kinematic_viscosity * 1e6 * speed * 60 / (2 * np.pi)
    churning = lubrication_factor * np.maximum(16.0, 0.1 * per_minute ** (2 / 3))
    return churning * mean_diameter**3 + load_factor * load * mean_diameter


def friction_load(*, radial: Array, axial: Array) -> Array:
    """Load that rolling friction of a deep-groove ball bearing follows.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    radial, axial : Array
        Load across and along the shaft [N], >= 0.

    Returns
    -------
    Array
        Palmgren's P1 [N].

    Notes
    -----
    P1 = 3 Fa - 0.1 Fr, but at least Fr.

    References
    ----------
    Palmgren, Ball and Roller Bearing Engineering, 3rd ed. 1959, from memory.

    Examples
    --------
    >>> float(friction_load(radial=10.0, axial=20.0))
    59.0

    """
    return np.maximum(3.0 * np.asarray(axial) - 0.1 * np.asarray(radial), radial)


def static_load(*, radial: Array, axial: Array) -> Array:
    """Equivalent static load of a deep-groove ball bearing.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    radial, axial : Array
        Load across and along the shaft [N], >= 0.

    Returns
    -------
    Array
        P0 [N]: 0.6 Fr + 0.5 Fa, but at least Fr.

    References
    ----------
    ISO 76:2006, from memory.

    Examples
    --------
    >>> float(static_load(radial=10.0, axial=20.0))
    16.0

    """
    return np.maximum(0.6 * np.asarray(radial) + 0.5 * np.asarray(axial), radial)


def lip_torque(*, bore: Array, outside_diameter: Array, drag: Array, drag_per_size: Array) -> Array:
    """Friction torque of the lips that close a bearing at both sides.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    bore, outside_diameter : Array
        Of the bearing [m]; 5 to 52 mm.
    drag : Array
        Share that does not depend on size [N m]; 0 where nothing rubs.
    drag_per_size : Array
        Torque over the rubbed diameter to the power of 2.25 [N/m^1.25].

    Returns
    -------
    Array
        Torque of both lips together [N m], the same at every speed.

    Notes
    -----
    Lips rub on the shoulder of the inner ring, whose diameter is taken as bore and 0.31 of the
    height of the rings. New lips drag up to twice as much until they have run in.

    References
    ----------
    Form and numbers from a maker's general catalogue of rolling bearings, from memory; no law of
    lips that is independent of makers is known here.

    Examples
    --------
    >>> m = lip_torque(bore=8e-3, outside_diameter=22e-3, drag=2e-3, drag_per_size=157.5)
    >>> round(float(m) * 1e3, 1)
    10.0

    """
    rubbed = bore + SHOULDER_SHARE * (np.asarray(outside_diameter) - bore)
    return np.asarray(drag + drag_per_size * np.power(rubbed, 2.25))
