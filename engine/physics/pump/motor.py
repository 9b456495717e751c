"""Electric power that a motor draws: the losses of the generator, read backwards."""

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.machine.generator import IRON_EXPONENT


def motor_draw(
    *,
    output_power: Array,
    speed: Array,
    rated_power: Array,
    rated_speed: Array,
    rated_efficiency: Array,
    iron_share: Array,
) -> Lanes:
    """Electric power that a motor draws at a speed and shaft power.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    output_power : Array
        Power out of the motor's shaft [W], >= 0.
    speed, rated_speed : Array
        Speed of the motor and its rating [rad/s], above 0.
    rated_power : Array
        Rated power at the shaft [W], above 0.
    rated_efficiency : Array
        Efficiency at the rating [-], above 0 and up to 1.
    iron_share : Array
        Share of the rated loss that depends on speed alone [-], 0 to below 1.

    Returns
    -------
    Lanes
        Power at the terminals [W].

    Notes
    -----
    Copper loss goes with the square of the torque, iron loss with the speed to the power 1.3, as in
    `machine.generator`.

    References
    ----------
    Loss split and exponent: common practice, no source.

    Examples
    --------
    >>> watts = motor_draw(output_power=75.0, speed=300.0, rated_power=75.0, rated_speed=300.0,
    ...     rated_efficiency=0.75, iron_share=0.4)
    >>> float(watts.round(6))
    100.0

    """
    rated_loss = rated_power * (1 / np.asarray(rated_efficiency, dtype=float) - 1)
    relative = np.asarray(speed, dtype=float) / rated_speed
    load = output_power / (rated_power * relative)
    iron = iron_share * relative**IRON_EXPONENT
    return np.asarray(output_power + rated_loss * (iron + (1 - np.asarray(iron_share)) * load**2))
