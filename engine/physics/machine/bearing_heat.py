"""Warmth of a bearing, and how it thins the grease that brakes it."""

import numpy as np

from engine.physics.arrays import Array
from engine.physics.machine.bearing import bearing_torque

WARM = 313.15
"""Temperature at which viscosities of greases are given, 40 degrees Celsius [K]."""
WALTHER_SLOPE = 3.6
"""Fall of log log (nu + 0.7) over that of log T, of base oils of greases."""
STIFFEST = 0.01
"""Largest kinematic viscosity that is counted with [m2/s]; stiffer grease is a solid."""
REFERENCE_FLUX, REFERENCE_RISE = 16e3, 50.0
"""Heat through a seat [W/m2] at this temperature above its surroundings [K]; ISO 15312."""
HOTTEST_RISE = 400.0
"""Largest rise of a bearing by its own drag that is counted with [K]."""
HALVINGS, CHORDS = 6, 6
"""Steps towards the temperature of a running bearing; they end within 0.01 K."""


def grease_viscosity(*, viscosity_40: Array, temperature: Array) -> Array:
    """Kinematic viscosity of a grease's base oil at a temperature.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    viscosity_40 : Array
        At 40 degrees Celsius [m2/s], 5e-6 to 1e-3.
    temperature : Array
        Of the bearing [K], > 0.

    Returns
    -------
    Array
        Kinematic viscosity [m2/s], at most `STIFFEST`.

    Notes
    -----
    Walther: log log (nu + 0.7) falls in proportion to log T, nu in mm2/s. `WALTHER_SLOPE` suits
    mineral and synthetic oils with a viscosity index of 95 to 150, whose slopes run from 3.4 to
    3.8. Near its pour point, some -30 to -50 degrees Celsius, grease stiffens more than this says.

    References
    ----------
    ASTM D341, from memory.

    Examples
    --------
    >>> nu = grease_viscosity(viscosity_40=100e-6, temperature=373.15)
    >>> round(float(nu) * 1e6, 1)
    10.9

    """
    with np.errstate(over="ignore", invalid="ignore"):
        return _thinned(_stiffness(viscosity_40), temperature)


def _stiffness(viscosity_40: Array) -> Array:
    """Take what is left of Walther's law as grease warms from 40 degrees Celsius."""
    return np.asarray(np.log10(np.asarray(viscosity_40) * 1e6 + 0.7))


def _thinned(stiffness: Array, temperature: Array) -> Array:
    """Kinematic viscosity [m2/s] at a temperature."""
    # Powers by logarithm and exponential, which take half as long together.
    power = stiffness * np.exp(-WALTHER_SLOPE * np.log(np.asarray(temperature) / WARM))
    return np.asarray(np.minimum((np.exp(np.log(10.0) * power) - 0.7) * 1e-6, STIFFEST))


def seat_conductance(*, seat_diameter: Array, width: Array) -> Array:
    """Heat that one seat of a bearing carries off, for each kelvin.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    seat_diameter : Array
        Bore or outside diameter of the bearing [m].
    width : Array
        Of the bearing [m].

    Returns
    -------
    Array
        Conductance [W/K].

    Notes
    -----
    The reference conditions of ISO 15312: 16 kW/m2 through the seats of bore and outside diameter
    at 50 K above what is around, up to a seat of 50,000 mm2. It stands for plain housings in still
    air; expect a factor of 1.5 either way.

    References
    ----------
    ISO 15312:2003, from memory.

    Examples
    --------
    >>> round(float(seat_conductance(seat_diameter=0.022, width=0.007)), 3)
    0.155

    """
    return np.asarray(REFERENCE_FLUX / REFERENCE_RISE * np.pi * np.multiply(seat_diameter, width))


def running_temperature(
    *,
    rest_temperature: Array,
    conductance: Array,
    speed: Array,
    mean_diameter: Array,
    lubrication_factor: Array,
    viscosity_40: Array,
    steady_torque: Array,
) -> Array:
    """Temperature at which a greased bearing carries off as much heat as its drag gives.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    rest_temperature : Array
        Of the bearing without drag, between its shaft and its housing [K].
    conductance : Array
        Heat carried off for each kelvin above it [W/K], > 0.
    speed : Array
        Angular speed [rad/s], >= 0.
    mean_diameter : Array
        Mean of bore and outside diameter [m].
    lubrication_factor : Array
        Palmgren's f0 [-].
    viscosity_40 : Array
        Kinematic viscosity of the grease's base oil at 40 degrees Celsius [m2/s].
    steady_torque : Array
        Friction that does not depend on the grease: load and lips [N m].

    Returns
    -------
    Array
        Temperature [K], at most `HOTTEST_RISE` above the highest at rest. NaN where an argument is.

    Notes
    -----
    Drag falls as grease warms, so there is one such temperature: below it drag heats more than is
    carried off, above it less. The heat capacity is left out: small bearings settle in a minute.

    References
    ----------
    Derived here from the balance of heat; drag by `bearing_torque`, grease by `grease_viscosity`.

    Examples
    --------
    >>> t = running_temperature(rest_temperature=293.15, conductance=0.2, speed=2800.0,
    ...                         mean_diameter=0.015, lubrication_factor=1.5, viscosity_40=30e-6,
    ...                         steady_torque=0.0)
    >>> round(float(t) - 273.15, 1)
    59.0

    """

    def warmer(temperature: Array) -> Array:
        """Temperature that the drag of a bearing at a temperature would keep up."""
        torque = bearing_torque(
            mean_diameter=mean_diameter,
            speed=speed,
            kinematic_viscosity=_thinned(stiffness, temperature),
            lubrication_factor=lubrication_factor,
            load_factor=0.0,
            load=0.0,
        )
        heat = speed * (torque + steady_torque)
        return np.minimum(rest_temperature + heat / conductance, low + HOTTEST_RISE)

    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        stiffness = _stiffness(viscosity_40)
        low = np.asarray(rest_temperature + speed * steady_torque / conductance)
        high = np.asarray(warmer(low))
        rise, fall = high - low, warmer(high) - high
        for step in range(HALVINGS + CHORDS):
            middle, is_chord = (low + high) / 2, step >= HALVINGS
            if is_chord:  # Illinois: drag is almost straight by now
                chord = low + (high - low) * rise / (rise - fall)
                middle = np.where(rise > fall, chord, middle)
            off = warmer(middle) - middle
            under = off > 0
            if is_chord:
                rise, fall = rise / 2, fall / 2
            rise, fall = np.where(under, off, rise), np.where(under, fall, off)
            low, high = np.where(under, middle, low), np.where(under, high, middle)
    best = np.where(rise > -fall, high, low)
    return np.asarray(np.where(np.isnan(high), np.nan, best))
