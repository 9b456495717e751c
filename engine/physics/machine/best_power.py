"""A converter between generator and loads, which never slows the turbine below best power.

It holds the voltage of the loads. Where they ask for less than there is, the machine turns faster
than at best power, at the speed that gives just that; where they ask for more, the converter holds
the speed of best power and gives what there is.
"""

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.machine.permanent_magnet import (
    DataSheet,
    bus_current,
    bus_voltage,
    sheet_output,
)
from engine.physics.machine.settle import (
    HALVINGS,
    MOST_POINTS,
    Coupled,
    MeetingPoints,
)

NODES = 161
"""Speeds at which the power is looked at first."""
CLOSER, CLOSER_NODES = 6, 21
"""Times that the best of them is looked at more closely, and at how many speeds."""


def best_power_points(*, coupled: Coupled, demand: Array) -> MeetingPoints:
    """Find where machines turn behind a converter that holds the speed of best power.

    Parameters
    ----------
    coupled : Coupled
        Turbines with their generators; a lane whose torque is NaN has no point.
    demand : Array
        Power into the converter that the loads ask for, (set,) [W], >= 0.

    Returns
    -------
    MeetingPoints
        (lane, set, point), one point a set; none where the machine would race beyond its curve.

    Notes
    -----
    The loads are a constant power to the machine. Of the two speeds that give it the converter
    keeps to the faster one, where more speed means less power, so the point is stable.

    References
    ----------
    Derived here. Holding the point of best power: common practice of converters for small wind and
    water turbines, no source.

    """
    demand = np.atleast_1d(np.asarray(demand, dtype=float))
    lanes, sets = len(coupled.curve.top), len(demand)
    best, most = _best(coupled)
    top = coupled.curve.top
    wanted = np.broadcast_to(demand, (lanes, sets))
    low = np.repeat(best[:, None], sets, axis=1)
    high = np.repeat(top[:, None], sets, axis=1)
    with np.errstate(invalid="ignore"):
        starved = wanted >= most[:, None]
        races = (_power(coupled, high) > wanted) & ~starved
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        with np.errstate(invalid="ignore"):
            more = _power(coupled, middle) > wanted
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    speed = np.where(starved, best[:, None], (low + high) / 2)
    speed = np.where(races | np.isnan(most)[:, None] | (most[:, None] <= 0), np.nan, speed)
    amps, volts = _bus(coupled, speed)
    shape = (lanes, sets, MOST_POINTS)
    found = {key: np.full(shape, np.nan) for key in ("speed", "voltage", "current")}
    for key, values in (("speed", speed), ("voltage", volts), ("current", amps)):
        found[key][:, :, 0] = values
    stable = np.zeros(shape, dtype=bool)
    stable[:, :, 0] = np.isfinite(speed)
    return MeetingPoints(**found, stable=stable, cutting=np.zeros(shape, dtype=bool))


def current_for_power(*, sheet: DataSheet, speed: Array, power: Array) -> Lanes:
    """Find the current with which a generator gives a power to its bus at a speed.

    Parameters
    ----------
    sheet : DataSheet
        The generators.
    speed : Array
        Of the generator [rad/s], >= 0.
    power : Array
        Of the bus [W], >= 0.

    Returns
    -------
    Lanes
        Current [A], the smaller of two; NaN where it cannot give so much at this speed.

    References
    ----------
    Derived here: voltage less its losses, times current, solved for the current.

    Examples
    --------
    >>> sheet = DataSheet(5.0, 1.0, 0.0, 2.0, loss=20.0, loss_speed=300.0)
    >>> float(current_for_power(sheet=sheet, speed=300.0, power=480.0))
    10.0

    """
    speed = np.asarray(speed, dtype=float)
    open_volts = speed / sheet.speed_constant - sheet.drop
    behind = sheet.resistance + sheet.commutation * speed
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(np.square(open_volts) - 4 * behind * np.asarray(power))
        found = 2 * np.asarray(power) / (open_volts + root)
    return np.asarray(np.where(open_volts > 0, found, np.where(np.asarray(power) > 0, np.nan, 0.0)))


def _shaft(coupled: Coupled, speed: Lanes) -> tuple[DataSheet, Lanes, Lanes]:
    """Give data sheets, speed of the generator and power into it; `speed` (lane, ...)."""
    lane = np.broadcast_to(np.arange(len(speed))[:, None], speed.shape)
    driven = coupled.curve.at(speed, lane) * speed
    driven = np.where(driven > 0, driven * coupled.efficiency[:, None], driven)
    return coupled.sheet.of(slice(None), None), speed / coupled.ratio[:, None], driven


def _power(coupled: Coupled, speed: Lanes) -> Lanes:
    sheet, turns, driven = _shaft(coupled, speed)
    return sheet_output(sheet=sheet, input_power=driven, speed=turns)


def _bus(coupled: Coupled, speed: Lanes) -> tuple[Lanes, Lanes]:
    sheet, turns, driven = _shaft(coupled, speed)
    amps = bus_current(sheet=sheet, input_power=driven, speed=turns)
    amps = np.where(np.isfinite(speed), amps, np.nan)
    return amps, bus_voltage(sheet=sheet, speed=turns, current=amps)


def _best(coupled: Coupled) -> tuple[Lanes, Lanes]:
    """Speed of most power, and that power, (lane,)."""
    top = coupled.curve.top
    low, high = coupled.curve.share[0] * top, top
    best, most = np.full(top.shape, np.nan), np.full(top.shape, -np.inf)
    for nodes in (NODES, *(CLOSER_NODES,) * CLOSER):
        speed = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, nodes)
        power = np.nan_to_num(_power(coupled, speed), nan=-np.inf)
        place = power.argmax(axis=1)
        lane = np.arange(len(top))
        low, high = (
            speed[lane, np.maximum(place - 1, 0)],
            speed[lane, np.minimum(place + 1, nodes - 1)],
        )
        best, most = speed[lane, place], power[lane, place]
    return best, np.where(np.isfinite(most), most, np.nan)
