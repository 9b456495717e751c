"""A generator with permanent magnets by its data sheet, on a bus of direct current.

One circuit serves both kinds. A machine with three phases and a bridge of diodes, and one with
brushes, each give a voltage in proportion to speed, less what winding, diodes or brushes take. The
constant of a motor with electronic commutation holds for its bridge too: both work on the mean of
the highest voltage between two terminals.
"""

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.machine.generator import IRON_EXPONENT

COPPER_COEFFICIENT = 3.93e-3
"""Rise of the resistance of annealed copper per kelvin from 20 °C; IEC 60028 (from memory)."""
COLD = 293.15
"""Temperature for which data sheets give the resistance [K]."""


@dataclass(frozen=True)
class DataSheet:
    """What a data sheet says of each lane's generator; fields broadcast with each other."""

    speed_constant: Lanes
    """Speed over voltage without load [rad/s/V], > 0."""
    resistance: Lanes
    """Between two terminals at running temperature [ohm], >= 0."""
    commutation: Lanes
    """Voltage that overlapping diodes take over current and speed [V s/A], see
    `commutation_constant`."""
    drop: Lanes
    """Voltage that diodes or brushes take at any current [V], >= 0."""
    loss: Lanes
    """No-load loss at `loss_speed` [W], >= 0."""
    loss_speed: Lanes
    """[rad/s], > 0."""

    def of(self, *lanes: Any) -> "DataSheet":
        """Index every field (lane,), for example by `slice(None), None`."""
        return DataSheet(
            **{each.name: np.asarray(getattr(self, each.name))[lanes] for each in fields(self)}
        )


def hot_resistance(*, resistance: Array, temperature: Array) -> Lanes:
    """Resistance of a copper winding at a temperature.

    Both arguments broadcast; the result has their common shape.

    Parameters
    ----------
    resistance : Array
        At 20 °C [ohm].
    temperature : Array
        Of the winding [K].

    Returns
    -------
    Lanes
        Resistance [ohm].

    References
    ----------
    IEC 60028, annealed copper: 0.00393 per kelvin (from memory).

    Examples
    --------
    >>> float(hot_resistance(resistance=1.0, temperature=373.15).round(4))
    1.3144

    """
    return np.asarray(resistance * (1 + COPPER_COEFFICIENT * (np.asarray(temperature) - COLD)))


def commutation_constant(*, inductance: Array, pole_pairs: Array) -> Lanes:
    """Voltage that a three-phase bridge loses while two diodes overlap, over current and speed.

    Both arguments broadcast; the result has their common shape.

    Parameters
    ----------
    inductance : Array
        Between two terminals, twice that of a phase [H], >= 0; 0 for a machine with brushes.
    pole_pairs : Array
        Pairs of poles [-].

    Returns
    -------
    Lanes
        Constant [V s/A]: 3/pi times pole pairs times inductance of a phase.

    Notes
    -----
    It lowers the voltage and turns no energy into heat.

    References
    ----------
    Mohan, Undeland and Robbins 2003, "Power Electronics", three-phase bridge with a source
    inductance and constant current: the mean falls by 3/pi w L I (from memory).

    Examples
    --------
    >>> float((commutation_constant(inductance=2e-5, pole_pairs=7.0) * 1e6).round(3))
    66.845

    """
    return np.asarray(3 / np.pi * np.asarray(pole_pairs) * np.asarray(inductance) / 2)


def no_load_loss(*, sheet: DataSheet, speed: Array) -> Lanes:
    """Power that a generator takes at a speed without current: iron, bearings, brushes, air.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    speed : Array
        Of the generator [rad/s], >= 0.

    Returns
    -------
    Lanes
        Power [W].

    References
    ----------
    Exponent of speed, see `engine.physics.machine.generator`: common practice, no source.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 0.0, loss=20.0, loss_speed=3000.0)
    >>> float(no_load_loss(sheet=sheet, speed=3000.0))
    20.0

    """
    return np.asarray(sheet.loss * (np.asarray(speed) / sheet.loss_speed) ** IRON_EXPONENT)


def speed_of_bus(*, sheet: DataSheet, voltage: Array, current: Array) -> Lanes:
    """Speed at which a generator holds a bus at a voltage while it gives a current.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    voltage : Array
        Of the bus [V]; below 0 down to minus the drop, the diodes block and the current is 0.
    current : Array
        Into the bus [A], >= 0.

    Returns
    -------
    Lanes
        Speed [rad/s]; infinite where no speed gives such a current, as the overlap of the diodes
        takes all that more speed adds.

    References
    ----------
    Derived here: speed / constant = voltage + drop + (resistance + commutation * speed) * current.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 2.0, loss=20.0, loss_speed=3000.0)
    >>> float(speed_of_bus(sheet=sheet, voltage=48.0, current=10.0))
    300.0

    """
    asked = np.asarray(voltage) + sheet.drop + sheet.resistance * np.asarray(current)
    given = 1 / np.asarray(sheet.speed_constant) - sheet.commutation * np.asarray(current)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(given > 0, asked / given, np.inf))


def input_power(*, sheet: DataSheet, speed: Array, current: Array) -> Lanes:
    """Power that a generator takes from its shaft at a speed and a current.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    speed : Array
        Of the generator [rad/s], >= 0.
    current : Array
        Into the bus [A]; below 0 it runs as a motor and the power is what it gives, below 0.

    Returns
    -------
    Lanes
        Power [W].

    References
    ----------
    Derived here: what is turned into electricity, and the no-load loss.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 2.0, loss=20.0, loss_speed=300.0)
    >>> float(input_power(sheet=sheet, speed=300.0, current=10.0))
    620.0

    """
    speed, current = np.asarray(speed), np.asarray(current)
    with np.errstate(invalid="ignore"):
        volts = speed / sheet.speed_constant - sheet.commutation * speed * current
        return np.asarray(volts * current + no_load_loss(sheet=sheet, speed=speed))


def bus_current(*, sheet: DataSheet, input_power: Array, speed: Array) -> Lanes:
    """Find the current of a generator at a speed and shaft power, into a load that takes just that.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    input_power : Array
        Power into the generator's shaft [W].
    speed : Array
        Of the generator [rad/s], > 0.

    Returns
    -------
    Lanes
        Current [A]; 0 where the shaft does not cover the no-load loss. NaN where the generator
        cannot take so much at this speed.

    References
    ----------
    Derived here: `input_power` solved for the current, the smaller of its two roots.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 2.0, loss=20.0, loss_speed=300.0)
    >>> float(bus_current(sheet=sheet, input_power=620.0, speed=300.0))
    10.0

    """
    speed = np.asarray(speed, dtype=float)
    turned = np.maximum(input_power - no_load_loss(sheet=sheet, speed=speed), 0.0)
    volts = speed / sheet.speed_constant
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(np.square(volts) - 4 * sheet.commutation * speed * turned)
        return np.asarray(np.where(turned > 0, 2 * turned / (volts + root), 0.0 * root))


def bus_voltage(*, sheet: DataSheet, speed: Array, current: Array) -> Lanes:
    """Voltage of the bus at a speed and a current.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    speed : Array
        Of the generator [rad/s].
    current : Array
        Into the bus [A], >= 0.

    Returns
    -------
    Lanes
        Voltage [V]; below 0 the generator cannot give this current at this speed.

    References
    ----------
    Derived here, see `speed_of_bus`.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 2.0, loss=20.0, loss_speed=300.0)
    >>> float(bus_voltage(sheet=sheet, speed=300.0, current=10.0))
    48.0

    """
    speed, current = np.asarray(speed), np.asarray(current)
    taken = (sheet.resistance + sheet.commutation * speed) * current
    return np.asarray(speed / sheet.speed_constant - sheet.drop - taken)


def sheet_output(*, sheet: DataSheet, input_power: Array, speed: Array) -> Lanes:
    """Electric power of a generator by its data sheet, as `generator_output` gives by its rating.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    input_power : Array
        Power into the generator's shaft [W].
    speed : Array
        Of the generator [rad/s], > 0.

    Returns
    -------
    Lanes
        Power on the bus [W]; negative where the shaft does not cover the no-load loss. NaN where
        the generator cannot take so much at this speed.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 2.0, loss=20.0, loss_speed=300.0)
    >>> float(sheet_output(sheet=sheet, input_power=620.0, speed=300.0))
    480.0

    """
    current = bus_current(sheet=sheet, input_power=input_power, speed=speed)
    left = input_power - no_load_loss(sheet=sheet, speed=speed)
    taken = sheet.drop * current + sheet.resistance * np.square(current)
    return np.asarray(left - taken)
