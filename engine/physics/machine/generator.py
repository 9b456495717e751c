"""Electric power of a generator from its speed and shaft power."""

import numpy as np

from engine.physics.arrays import Array, Lanes

IRON_EXPONENT = 1.3
"""Exponent of speed in the iron loss, between hysteresis (1) and eddy currents (2)."""


def generator_output(
    *,
    input_power: Array,
    speed: Array,
    rated_power: Array,
    rated_speed: Array,
    rated_efficiency: Array,
    iron_share: Array,
) -> Lanes:
    """Electric power of a permanent-magnet generator at a speed and shaft power.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    input_power : Array
        Power into the generator's shaft [W].
    speed, rated_speed : Array
        Speed of the generator and its rating [rad/s], above 0.
    rated_power : Array
        Rated electric power [W], above 0.
    rated_efficiency : Array
        Efficiency at the rating [-], above 0 and up to 1.
    iron_share : Array
        Share of the rated loss that depends on speed alone [-], 0 to below 1.

    Returns
    -------
    Lanes
        Power at the terminals [W]; negative where the shaft does not cover the iron loss.

    Notes
    -----
    Voltage is proportional to speed, so copper loss is proportional to (power / speed)^2. The
    balance input = output + iron + copper is a quadratic equation, solved in closed form.

    References
    ----------
    Loss split and exponent: common practice, no source; the solution is derived here.

    Examples
    --------
    >>> watts = generator_output(
    ...     input_power=125.0, speed=2000.0, rated_power=100.0, rated_speed=2000.0,
    ...     rated_efficiency=0.8, iron_share=0.4,
    ... )
    >>> float(watts.round(6))
    100.0

    """
    rated_loss = rated_power * (1 / np.asarray(rated_efficiency) - 1)
    relative_speed = np.asarray(speed) / rated_speed
    available = input_power - iron_share * rated_loss * relative_speed**IRON_EXPONENT
    copper = (1 - np.asarray(iron_share)) * rated_loss / np.square(rated_power * relative_speed)
    root = np.sqrt(1 + 4 * copper * np.maximum(available, 0.0))
    return np.where(available > 0, 2 * available / (1 + root), available)
