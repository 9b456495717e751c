"""Loads on a bus of direct current: the current that each takes at a voltage."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.machine.load import LAMP_LIGHT_EXPONENT, LAMP_POWER_EXPONENT

LAWS = ("lamp", "heater", "constant-power", "motor", "battery", "dump")
"""Ways in which a load behaves; `Bus.law` counts in this order."""
LAMP, HEATER, CONVERTER, MOTOR, BATTERY, DUMP = range(len(LAWS))
CHARGING_RISE = 0.1
"""Rise over its own voltage at which a battery takes its rated power, as a share."""
DUMP_BAND = 0.02
"""Rise over its threshold in which a dump resistor comes in, as a share of the threshold."""


@dataclass(frozen=True)
class Bus:
    """The loads that hang on a bus; every field is (load,)."""

    law: NDArray[np.int64]
    """Which of `LAWS` a load follows."""
    power: Lanes
    """Rated power [W], > 0."""
    voltage: Lanes
    """At which it takes that; a battery's own voltage, a dump resistor's threshold [V], > 0."""
    lowest: Lanes
    """Below it a converter is off and a motor stalls [V], > 0; not used of others."""
    starting: Lanes
    """Current of a standing motor over that of a running one, at rated voltage [-], >= 1."""

    def only(self, which: NDArray[np.bool_]) -> "Bus":
        """Take some of the loads."""
        return Bus(
            self.law[which],
            self.power[which],
            self.voltage[which],
            self.lowest[which],
            self.starting[which],
        )


def load_current(*, bus: Bus, voltage: Array, running: Mask) -> Lanes:
    """Tell the current that each load takes.

    Parameters
    ----------
    bus : Bus
        The loads, (load,).
    voltage : Array
        Of the bus [V], any shape; below 0 nothing is taken.
    running : Mask
        Whether converters are on and motors turn, (..., load) [-]; no matter for other loads.

    Returns
    -------
    Lanes
        Current (..., load) [A].

    Notes
    -----
    A filament lamp takes power by the 1.6th power of its voltage, a heater by the square. A
    converter, as in a laptop or an LED driver, takes the same power at any voltage. A motor takes
    the same current at any voltage while its shaft asks for the same torque, and is a resistance
    while it stands. A battery behind a diode takes a current in proportion to the voltage above its
    own. A dump resistor comes in within a narrow band above its threshold.

    References
    ----------
    Illuminating Engineering Society of North America, Lighting Handbook, incandescent lamps: 1.6
    (from memory). The others: common practice, no source.

    Examples
    --------
    >>> bus = Bus(*(np.array([each]) for each in (LAMP, 40.0, 24.0, 1.0, 1.0)))
    >>> float(load_current(bus=bus, voltage=12.0, running=np.array([True]))[0].round(4))
    1.0996

    """
    volts = np.maximum(np.asarray(voltage, dtype=float), 0.0)[..., None]
    ratio = volts / bus.voltage
    rated = bus.power / bus.voltage
    above = np.maximum(ratio - 1, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        by_law = {
            LAMP: rated * ratio ** (LAMP_POWER_EXPONENT - 1),
            HEATER: rated * ratio,
            CONVERTER: np.where(running & (volts > 0), bus.power / volts, 0.0),
            MOTOR: np.where(running, rated + 0 * volts, rated * bus.starting * ratio),
            BATTERY: rated / (1 + CHARGING_RISE) * above / CHARGING_RISE,
            DUMP: rated * ratio * np.minimum(above / DUMP_BAND, 1.0),
        }
    found = np.zeros(np.broadcast_shapes(ratio.shape, np.shape(running)))
    for law, current in by_law.items():
        found = np.where(bus.law == law, current, found)
    return found


def lamp_light(*, voltage_ratio: Array) -> Lanes:
    """Light of a filament lamp over that at its rated voltage.

    Parameters
    ----------
    voltage_ratio : Array
        Voltage over rated voltage [-]; below 0 counts as none.

    Returns
    -------
    Lanes
        Ratio [-].

    References
    ----------
    Illuminating Engineering Society of North America, Lighting Handbook, incandescent lamps: 3.4
    (from memory).

    Examples
    --------
    >>> float(lamp_light(voltage_ratio=0.9).round(3))
    0.699

    """
    return np.asarray(np.maximum(voltage_ratio, 0.0) ** LAMP_LIGHT_EXPONENT)
