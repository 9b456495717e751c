"""What a pump asks of its supply: head above boiling, and enough flow to stay cool."""

import numpy as np

from engine.physics.arrays import Array, Lanes

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2]."""


def npsh_required(*, density: Array, total_pressure: Array, lowest_pressure: Array) -> Lanes:
    """Head above boiling at which the first bubbles appear.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Of the liquid [kg/m3].
    total_pressure : Array
        At the suction flange [Pa].
    lowest_pressure : Array
        Lowest static pressure from there to the gaps [Pa].

    Returns
    -------
    Lanes
        Net positive suction head required at inception [m].

    References
    ----------
    Definition as in ISO 17769-1:2012 (from memory), at inception and not at a drop of 3 %.

    Examples
    --------
    >>> head = npsh_required(density=1000.0, total_pressure=1e5, lowest_pressure=90193.35)
    >>> round(float(head), 6)
    1.0

    """
    fall = np.asarray(total_pressure, dtype=float) - lowest_pressure
    return np.asarray(fall / (np.asarray(density) * GRAVITY))


def npsh_available(*, density: Array, total_pressure: Array, vapour_pressure: Array) -> Lanes:
    """Head of the suction flange above boiling.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Of the liquid [kg/m3].
    total_pressure : Array
        At the suction flange, absolute [Pa].
    vapour_pressure : Array
        Of the liquid there [Pa].

    Returns
    -------
    Lanes
        Net positive suction head available [m].

    References
    ----------
    Definition as in ISO 17769-1:2012 (from memory).

    Examples
    --------
    >>> head = npsh_available(density=998.2, total_pressure=101325.0, vapour_pressure=2339.0)
    >>> round(float(head), 2)
    10.11

    """
    above = np.asarray(total_pressure, dtype=float) - vapour_pressure
    return np.asarray(above / (np.asarray(density) * GRAVITY))


def least_flow(
    *, shutoff_power: Array, density: Array, specific_heat: Array, warming: Array
) -> Lanes:
    """Smallest flow at which the fluid warms by no more than what is allowed.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    shutoff_power : Array
        Power that the fluid takes at a small flow [W]: all of it turns to heat.
    density, specific_heat : Array
        Of the fluid [kg/m3], [J/(kg K)].
    warming : Array
        Warming allowed [K], above 0.

    Returns
    -------
    Lanes
        Delivered flow [m3/s].

    References
    ----------
    Balance of heat, derived here.

    Examples
    --------
    >>> flow = least_flow(shutoff_power=75.0, density=998.0, specific_heat=4186.0, warming=10.0)
    >>> round(float(flow * 60e3), 3)
    0.108

    """
    held = np.asarray(density, dtype=float) * specific_heat * warming
    return np.asarray(shutoff_power / held)


def radial_thrust(
    *,
    density: Array,
    head: Array,
    flow: Array,
    best_flow: Array,
    disc_diameter: Array,
    stack_height: Array,
) -> Lanes:
    """Sideways force of a collector away from its best flow.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Of the fluid [kg/m3].
    head : Array
        Head of the pump [m].
    flow, best_flow : Array
        Delivered flow, and that of the best efficiency [m3/s].
    disc_diameter, stack_height : Array
        Of the stack [m].

    Returns
    -------
    Lanes
        Force [N]. Beyond the best flow it rises again with the same law.

    References
    ----------
    Stepanoff, Centrifugal and Axial Flow Pumps, 2nd ed. 1957, ch. 7: K = 0.36 (1 - (Q/Qn)^2) (from
    memory).

    Examples
    --------
    >>> force = radial_thrust(density=998.0, head=10.0, flow=0.0, best_flow=1e-3,
    ...     disc_diameter=0.1, stack_height=0.011)
    >>> round(float(force), 1)
    38.8

    """
    share = np.asarray(flow, dtype=float) / best_flow
    away = 0.36 * np.abs(1 - share**2)
    return np.asarray(away * density * GRAVITY * head * disc_diameter * stack_height)
