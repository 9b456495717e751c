"""Power that an electric motor draws, from what it gives at its shaft."""

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.machine.generator import IRON_EXPONENT


def motor_input(
    *,
    output_power: Array,
    speed: Array,
    rated_power: Array,
    rated_speed: Array,
    rated_efficiency: Array,
    iron_share: Array,
) -> Lanes:
    """Electric power that a motor draws while it gives a power at a speed.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    output_power : Array
        Power at the motor's shaft [W], not below 0.
    speed, rated_speed : Array
        Speed of the motor and its rating [rad/s], above 0.
    rated_power : Array
        Rated power at the shaft [W], above 0.
    rated_efficiency : Array
        Efficiency at the rating [-], above 0 and up to 1; with that of an inverter if it has one.
    iron_share : Array
        Share of the rated loss that depends on speed alone [-], 0 to below 1.

    Returns
    -------
    Lanes
        Power at the terminals [W].

    Notes
    -----
    The losses of a generator read backwards: iron loss grows with speed, copper loss with the
    square of the torque. At rated speed the efficiency is best at the load where both are equal.

    References
    ----------
    Loss split and exponent: common practice, no source.

    Examples
    --------
    >>> watts = motor_input(
    ...     output_power=250.0, speed=300.0, rated_power=250.0, rated_speed=300.0,
    ...     rated_efficiency=0.75, iron_share=0.35,
    ... )
    >>> round(float(watts), 3)
    333.333

    """
    rated_loss = rated_power * (1 / np.asarray(rated_efficiency) - 1)
    relative_speed = np.asarray(speed) / rated_speed
    load = output_power / (rated_power * relative_speed)
    iron = iron_share * relative_speed**IRON_EXPONENT
    copper = (1 - np.asarray(iron_share)) * np.square(load)
    return np.asarray(output_power + rated_loss * (iron + copper))
