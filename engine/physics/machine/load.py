"""Electric loads at the generator terminals: what a change of power does to them."""

import numpy as np

from engine.physics.arrays import Array, Lanes

LAMP_POWER_EXPONENT = 1.6
"""Exponent of voltage in the power of a filament lamp (2 for a fixed resistance)."""
LAMP_LIGHT_EXPONENT = 3.4
"""Exponent of voltage in the light of a filament lamp."""


def lamp_voltage_ratio(*, power: Array, usual_power: Array) -> Lanes:
    """Voltage of a filament lamp at some power, over its usual voltage.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    power : Array
        Electric power supplied [W]; below zero counts as none.
    usual_power : Array
        Electric power usually supplied [W].

    Returns
    -------
    Lanes
        Ratio of voltages [-]. NaN where `power` is NaN or `usual_power` is not above zero.

    Notes
    -----
    At fixed speed the field of the generator is fixed and nothing regulates the voltage. It settles
    where the lamps take the power that is supplied. With the exponent of a fixed resistance the
    change of voltage would be a fifth smaller.

    References
    ----------
    Illuminating Engineering Society of North America, Lighting Handbook, incandescent lamps:
    exponents 1.6 for power and 3.4 for light (from memory).

    Examples
    --------
    >>> float(lamp_voltage_ratio(power=80.0, usual_power=100.0).round(4))
    0.8698

    """
    usual = np.asarray(usual_power, dtype=float)
    ratio = np.maximum(power, 0.0) / np.where(usual > 0, usual, np.nan)
    return np.asarray(ratio ** (1 / LAMP_POWER_EXPONENT))


def holding_time(*, stored_energy: Array, demand: Array, power: Array) -> Lanes:
    """Time for which a battery or flywheel covers the shortfall of power against a demand.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    stored_energy : Array
        Energy that can be drawn at the terminals [J].
    demand : Array
        Power to be delivered [W].
    power : Array
        Power that the generator gives [W].

    Returns
    -------
    Lanes
        Time [s]; inf where the power meets the demand. NaN where `power` is NaN.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> float(holding_time(stored_energy=600.0, demand=110.0, power=100.0))
    60.0

    """
    short = np.maximum(np.subtract(demand, power), 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(short == 0, np.inf, stored_energy / short))
