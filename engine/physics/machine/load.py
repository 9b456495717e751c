"""What hangs on the generator terminals, and how a swing of power shows there."""

import numpy as np

from engine.physics.arrays import Array, Lanes

LAMP_POWER_EXPONENT = 1.6
"""Power of a filament lamp goes with this power of its voltage (2 were a fixed resistance)."""
LAMP_LIGHT_EXPONENT = 3.4
"""Light of a filament lamp goes with this power of its voltage."""


def lamp_voltage_ratio(*, power: Array, usual_power: Array) -> Lanes:
    """Voltage of a filament lamp over its usual one, where another power comes to it.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    power : Array
        Electric power that comes [W]; below zero none comes.
    usual_power : Array
        Electric power that usually comes [W].

    Returns
    -------
    Lanes
        Ratio of voltages [-]. NaN where `power` is NaN or `usual_power` is not above zero.

    Notes
    -----
    At fixed speed the generator's field is fixed, nothing regulates, and the lamps take what comes
    as they would on their own: voltage settles where their power equals it. Between the exponent
    of a filament and that of a fixed resistance the change of voltage differs by a fifth.

    References
    ----------
    Illuminating Engineering Society of North America, Lighting Handbook, incandescent lamps:
    power with voltage to the 1.6, light with voltage to the 3.4 (from memory).

    Examples
    --------
    >>> float(lamp_voltage_ratio(power=80.0, usual_power=100.0).round(4))
    0.8698

    """
    usual = np.asarray(usual_power, dtype=float)
    ratio = np.maximum(power, 0.0) / np.where(usual > 0, usual, np.nan)
    return np.asarray(ratio ** (1 / LAMP_POWER_EXPONENT))


def holding_time(*, stored_energy: Array, demand: Array, power: Array) -> Lanes:
    """Time for which a battery or flywheel makes up what the power falls short of a demand.

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
        Time [s]; inf where the power meets the demand. NaN where `power` is.

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
