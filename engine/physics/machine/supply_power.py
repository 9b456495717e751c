"""What a supply needs for its flow: air of a compressor, power of a pump, heat of a boiler."""

import numpy as np

from engine.physics.arrays import Array, Lanes


def free_air_flow(*, mass_flow: Array, reference_density: Array) -> Lanes:
    """Volume flow of a mass flow at the reference state for compressor ratings.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass_flow : Array
        Mass flow [kg/s].
    reference_density : Array
        Density at 1 bar and 20 °C, dry [kg/m3].

    Returns
    -------
    Lanes
        Volume flow [m3/s].

    References
    ----------
    ISO 1217:2009, annex on standard inlet conditions (from memory): 1 bar, 20 °C, dry.

    Examples
    --------
    >>> float(free_air_flow(mass_flow=0.012, reference_density=1.2).round(4))
    0.01

    """
    return np.asarray(mass_flow / np.asarray(reference_density), dtype=float)


def feed_pump_power(
    *, mass_flow: Array, specific_volume: Array, pressure_rise: Array, efficiency: Array
) -> Lanes:
    """Power drawn by a pump for a liquid.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass_flow : Array
        Flow [kg/s].
    specific_volume : Array
        Volume of the liquid [m3/kg].
    pressure_rise : Array
        Pressure behind the pump less the pressure before it [Pa].
    efficiency : Array
        Hydraulic power over power drawn [-], above 0 and up to 1; 1 gives the hydraulic power.

    Returns
    -------
    Lanes
        Power [W].

    References
    ----------
    Work of an incompressible liquid, derived here.

    Examples
    --------
    >>> watts = feed_pump_power(
    ...     mass_flow=0.01, specific_volume=1e-3, pressure_rise=6e5, efficiency=0.5
    ... )
    >>> float(watts.round(6))
    12.0

    """
    return np.asarray(mass_flow * specific_volume * pressure_rise / np.asarray(efficiency))


def boiler_heat(
    *,
    mass_flow: Array,
    supply_enthalpy: Array,
    feed_enthalpy: Array,
    pump_power: Array,
    efficiency: Array,
) -> Lanes:
    """Heat of the fuel (or of another heat source) for a flow of vapour.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass_flow : Array
        Flow of vapour [kg/s].
    supply_enthalpy, feed_enthalpy : Array
        Enthalpy of the vapour [J/kg] and of the liquid before the feed pump [J/kg].
    pump_power : Array
        Power of the feed pump, all of which heats the liquid [W].
    efficiency : Array
        Heat taken up by the fluid over heat of the fuel [-], above 0 and up to 1.

    Returns
    -------
    Lanes
        Heat [W].

    References
    ----------
    Energy balance of the boiler, derived here.

    Examples
    --------
    1 g/s from water at 419 kJ/kg to steam at 2,756 kJ/kg in a boiler of 75 %:

    >>> heat = boiler_heat(mass_flow=1e-3, supply_enthalpy=2756e3, feed_enthalpy=419e3,
    ...     pump_power=0.0, efficiency=0.75)
    >>> float(heat)
    3116.0

    """
    given = mass_flow * (np.asarray(supply_enthalpy) - feed_enthalpy) - pump_power
    return np.asarray(given / efficiency)
