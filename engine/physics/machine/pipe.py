"""What a supply does when it is shut or drawn upon: surge of a liquid, and time of a receiver."""

import numpy as np

from engine.physics.arrays import Array, Lanes

WAVE_SPEED = 1480.0
"""Speed of sound in water [m/s], which a rigid pipe keeps and any other lowers."""


def closing_surge(
    *, density: Array, flow: Array, bore: Array, length: Array, closing: Array
) -> Lanes:
    """Rise of pressure in a pipe of liquid as the valve at its end shuts.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Of the liquid [kg/m3].
    flow : Array
        Mass flow before [kg/s].
    bore, length : Array
        Of the pipe [m], > 0.
    closing : Array
        Time in which the valve shuts [s].

    Returns
    -------
    Lanes
        Rise of pressure before the valve [Pa]: Joukowsky's where the valve shuts before the wave
        has come back, else Michaud's for a slow closing, which is never more.

    Notes
    -----
    A rigid pipe, with the speed of sound of water: real pipes and hoses stay below.

    References
    ----------
    Joukowsky, Ueber den hydraulischen Stoss, 1898: density times wave speed times change of speed;
    Michaud, 1878: 2 density length speed/closing. Both as in Wylie and Streeter, Fluid Transients,
    1978, from memory.

    Examples
    --------
    >>> rise = closing_surge(density=1000.0, flow=6.0, bore=0.0618, length=50.0, closing=0.01)
    >>> float(rise.round(-4)) / 1e5
    29.6

    """
    speed = flow / (density * np.pi / 4 * np.square(bore))
    with np.errstate(divide="ignore"):
        waves = np.divide(2 * np.asarray(length), closing)
    return np.asarray(density * speed * np.minimum(WAVE_SPEED, waves))


def receiver_time(*, volume: Array, full_density: Array, end_density: Array, flow: Array) -> Lanes:
    """Time for which a receiver feeds a flow while its pressure falls to that of the supply.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    volume : Array
        Of the receiver [m3].
    full_density, end_density : Array
        Of its gas at its full pressure and at that of the supply [kg/m3].
    flow : Array
        Mass flow [kg/s].

    Returns
    -------
    Lanes
        Time [s], with the compressor at rest and the gas as warm as its walls.

    References
    ----------
    Derived here from the balance of mass.

    Examples
    --------
    >>> time = receiver_time(volume=0.05, full_density=13.0, end_density=8.2, flow=0.012)
    >>> float(time.round(6))
    20.0

    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.multiply(volume, np.subtract(full_density, end_density)) / flow)
