"""From the turbine shaft to the generator terminals, and back to the supply."""

import numpy as np

from engine.physics.arrays import Array, Lanes

IRON_EXPONENT = 1.3
"""Iron loss grows with this power of speed: between hysteresis (1) and eddy currents (2)."""


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
    Voltage is proportional to speed, so copper loss goes with (power / speed)^2 and the balance
    input = output + iron + copper is a quadratic in the output, solved in closed form.

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


def free_air_flow(*, mass_flow: Array, reference_density: Array) -> Lanes:
    """Volume flow of a mass flow at the reference state of compressor ratings.

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
        Pressure behind the pump less that before it [Pa].
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
    """Heat of the fuel (or of the heat source) that makes a flow of vapour.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    mass_flow : Array
        Flow of vapour [kg/s].
    supply_enthalpy, feed_enthalpy : Array
        Enthalpy of the vapour [J/kg] and of the liquid before the feed pump [J/kg].
    pump_power : Array
        Power of the feed pump, all of which ends in the liquid [W].
    efficiency : Array
        Heat given to the fluid over heat of the fuel [-], above 0 and up to 1.

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
