"""Where a turbine, its generator and the loads that are switched on meet.

Along the voltage of the bus everything is explicit: the loads give the current, the generator then
gives the speed, and the torque that it asks for follows. So all meeting points are the changes of
sign of the torque that is left along one path, also where one speed allows several voltages.

Where a converter cuts out or a motor stalls, the path goes on at the same voltage from one current
to the other. A point there is one at which the converter cuts in and out.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.machine.load_law import (
    BATTERY,
    CONVERTER,
    DUMP,
    DUMP_BAND,
    MOTOR,
    Bus,
    load_current,
)
from engine.physics.machine.permanent_magnet import (
    DataSheet,
    bus_voltage,
    input_power,
    speed_of_bus,
)

NODES = 14
"""Places of the path between two voltages at which a load changes its ways."""
HALVINGS = 54
"""Halvings of a bracket; the last digit of a double is reached."""
MOST_POINTS = 6
"""Meeting points kept of one set; the slowest ones, if there are more."""
BESIDE = 1e-5
"""Step to both sides of a point, as a share of its bracket, in which its stability is judged."""
STANDSTILL = 1e-9
"""Speed that counts as none, over the highest of a curve."""


@dataclass(frozen=True)
class TorqueCurve:
    """Net torque of each lane's turbine without load over speed, smooth between its nodes."""

    top: Lanes
    """Highest speed of each lane (lane,) [rad/s]; beyond it the torque stays as it is there."""
    share: Lanes
    """Nodes over the highest speed, rising to 1 (node,) [-]; below the first the torque stays."""
    torque: Lanes
    """(lane, node) [N m]."""
    _cubics: Lanes
    """(power, lane, node) coefficients between the nodes, the third power first."""

    @classmethod
    def of(cls, *, top: Array, share: Array, torque: Array) -> "TorqueCurve":
        """Make a curve that keeps the rise and fall of its nodes (Fritsch and Carlson 1980)."""
        top, share, torque = (np.asarray(each, dtype=float) for each in (top, share, torque))
        known = np.isfinite(torque).all(axis=1)
        cubics = np.full((4, len(torque), len(share) - 1), np.nan)
        if known.any():
            from scipy.interpolate import PchipInterpolator  # noqa: PLC0415  not for a check

            found = PchipInterpolator(share, torque[known], axis=1).c
            cubics[:, known] = np.moveaxis(found, 2, 1)
        return cls(top, share, torque, cubics)

    def at(self, speed: Lanes, lane: NDArray[np.int64]) -> Lanes:
        """Torque of some lanes, each at its speed; both of one shape."""
        with np.errstate(invalid="ignore"):
            share = np.clip(np.nan_to_num(speed / self.top[lane]), self.share[0], self.share[-1])
        node = np.clip(np.searchsorted(self.share, share, side="right") - 1, 0, len(self.share) - 2)
        past = share - self.share[node]
        third, second, first, none = (each[lane, node] for each in self._cubics)
        return np.asarray(((third * past + second) * past + first) * past + none)


@dataclass(frozen=True)
class Coupled:
    """Turbines with their generators, and the drive between; every field is (lane,)."""

    curve: TorqueCurve
    sheet: DataSheet
    ratio: Lanes
    """Turbine speed over generator speed [-]."""
    efficiency: Lanes
    """Of the drive [-]."""


@dataclass(frozen=True)
class MeetingPoints:
    """Where each lane may settle with each set; (lane, set, point), slowest first, NaN for none."""

    speed: Lanes
    """Of the turbine [rad/s]."""
    voltage: Lanes
    """Of the bus [V]; not above 0 where the diodes block."""
    current: Lanes
    """Into the bus [A]."""
    stable: Mask
    """Whether it returns there after a push."""
    cutting: Mask
    """Whether a converter cuts in and out there."""

    def settled(self, *, from_rest: bool) -> tuple[NDArray[np.int64], Mask]:
        """Place of the slowest or the fastest stable point of each set, and whether there is one.

        From rest a machine ends at the slowest one. Where its loads come on one after another at
        speed, it stays at the fastest.
        """
        found = np.asarray(self.stable.any(axis=2))
        if from_rest:
            return np.asarray(np.argmax(self.stable, axis=2)), found
        return np.asarray(MOST_POINTS - 1 - np.argmax(self.stable[:, :, ::-1], axis=2)), found


def meeting_points(*, coupled: Coupled, bus: Bus, switched: NDArray[np.bool_]) -> MeetingPoints:
    """Find every speed at which turbine and generator ask for the same torque.

    Parameters
    ----------
    coupled : Coupled
        Turbines with their generators; a lane whose torque is NaN has no points.
    bus : Bus
        Every load there is, (load,).
    switched : NDArray
        Which of them are on, (set, load).

    Returns
    -------
    MeetingPoints
        (lane, set, point). A set without any stable point races beyond the curve, or stands still
        where the turbine cannot turn the generator.

    Notes
    -----
    A point is stable if speed rises along the path, which a bus with a capacitor needs (else its
    voltage runs away at a speed), and the torque that is left falls with it.

    References
    ----------
    Derived here. Stability of a constant-power load behind a resistance: Middlebrook 1976, "Input
    filter considerations in design and application of switching regulators" (from memory).

    """
    lanes = len(coupled.curve.top)
    shape = (lanes, len(switched), MOST_POINTS)
    found = {key: np.full(shape, np.nan) for key in ("speed", "voltage", "current")}
    flags = {key: np.zeros(shape, dtype=bool) for key in ("stable", "cutting")}
    for place, chosen in enumerate(np.asarray(switched, dtype=bool)):
        _fill(found, flags, place, _Path.of(coupled, bus.only(chosen)))
    return MeetingPoints(**found, **flags)


def bus_at_speed(*, sheet: DataSheet, bus: Bus, speed: Array) -> tuple[Lanes, Lanes]:
    """Find the highest voltage at which a generator holds the bus at a speed.

    Parameters
    ----------
    sheet : DataSheet
        The generators, (lane,).
    bus : Bus
        The loads that are on, (load,).
    speed : Array
        Of the generator, (lane,) [rad/s], > 0.

    Returns
    -------
    tuple[Lanes, Lanes]
        Voltage [V] and current [A], (lane,); NaN for a speed that is NaN.

    References
    ----------
    Derived here, as `meeting_points`, for a speed in place of a torque.

    """
    speed = np.atleast_1d(np.asarray(speed, dtype=float))
    ones, lanes = np.ones(speed.shape), np.arange(len(speed))
    none = TorqueCurve(speed, np.array([0.0, 1.0]), np.zeros((len(speed), 2)), np.zeros((4, 1, 1)))
    path = _Path.of(Coupled(none, sheet, ones, ones), bus)
    current = path.current(path.voltage, path.running)
    every = sheet.of(slice(None), None)
    reached = speed_of_bus(sheet=every, voltage=path.voltage, current=current)
    # The last node from which the path rises beyond the speed.
    with np.errstate(invalid="ignore"):
        under = reached <= speed[:, None] * (1 + 1e-12)
    node = path.voltage.shape[1] - 1 - np.argmax(under[:, ::-1], axis=1)
    ahead = np.minimum(node + 1, path.voltage.shape[1] - 1)
    before, after = path.voltage[lanes, node], path.voltage[lanes, ahead]
    below, above = path.running[node], path.running[ahead]
    low, high = np.zeros(speed.shape), np.ones(speed.shape)
    volts = amps = low
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        volts = before + (after - before) * middle
        amps = (1 - middle) * path.current(volts, below) + middle * path.current(volts, above)
        slow = speed_of_bus(sheet=sheet, voltage=volts, current=amps) <= speed
        low, high = np.where(slow, middle, low), np.where(slow, high, middle)
    known = np.where(np.isfinite(speed), 1.0, np.nan)
    return known * volts, known * amps


@dataclass(frozen=True)
class _Path:
    """The path of one set along the voltage of the bus."""

    coupled: Coupled
    bus: Bus
    voltage: Lanes
    """(lane, node)."""
    running: Mask
    """Which converters are on and motors turn, (node, load)."""

    @classmethod
    def of(cls, coupled: Coupled, bus: Bus) -> "_Path":
        """Lay the nodes between the voltages at which a load changes its ways."""
        switches = np.isin(bus.law, (CONVERTER, MOTOR))
        bends = [*bus.lowest[switches], *bus.voltage[np.isin(bus.law, (BATTERY, DUMP))]]
        bends += [*(bus.voltage[bus.law == DUMP] * (1 + DUMP_BAND))]
        edges = [0.0, *np.unique(bends).tolist()]
        sheet, top = coupled.sheet, coupled.curve.top / coupled.ratio
        lanes = len(top)
        highest = np.maximum(bus_voltage(sheet=sheet, speed=top, current=0.0), 0.0)
        highest = np.broadcast_to(highest, (lanes,))[:, None]
        blocked = np.broadcast_to(-np.asarray(sheet.drop, dtype=float), (lanes,))[:, None]
        pieces, states = [blocked], [np.zeros((1, len(bus.law)), dtype=bool)]
        spread = np.linspace(0, 1, NODES)
        for place, edge in enumerate(edges):
            end = edges[place + 1] if place + 1 < len(edges) else np.maximum(highest, edge)
            pieces.append(np.broadcast_to(edge + (end - edge) * spread, (lanes, NODES)))
            states.append(np.broadcast_to(bus.lowest <= edge, (NODES, len(bus.law))))
        return cls(coupled, bus, np.concatenate(pieces, axis=1), np.concatenate(states))

    def current(self, voltage: Lanes, running: Mask) -> Lanes:
        """Add up the current of all loads."""
        if not len(self.bus.law):
            return np.zeros(voltage.shape)
        taken = load_current(bus=self.bus, voltage=voltage, running=running).sum(axis=-1)
        return np.asarray(np.where(voltage > 0, taken, 0.0))

    def left(self, voltage: Lanes, current: Lanes, lane: NDArray[np.int64]) -> tuple[Lanes, Lanes]:
        """Speed of the turbine there [rad/s], and the torque that is left [N m]."""
        some = self.coupled
        sheet, top = some.sheet.of(lane), some.curve.top[lane]
        speed = speed_of_bus(sheet=sheet, voltage=voltage, current=current)
        turbine = np.maximum(speed * some.ratio[lane], STANDSTILL * top)
        with np.errstate(invalid="ignore"):
            taken = input_power(sheet=sheet, speed=speed, current=current)
            asked = np.where(np.isfinite(speed), taken / turbine / some.efficiency[lane], np.inf)
        return turbine, some.curve.at(turbine, lane) - asked


def _fill(found: dict[str, Lanes], flags: dict[str, Mask], place: int, path: _Path) -> None:
    """Put the meeting points of one set in their place."""
    lanes, nodes = path.voltage.shape
    every = np.broadcast_to(np.arange(lanes)[:, None], (lanes, nodes))
    current = path.current(path.voltage, path.running)
    _, left = path.left(path.voltage, current, every)
    with np.errstate(invalid="ignore"):
        turns = (left[:, :-1] > 0) != (left[:, 1:] > 0)
    turns &= ~np.isnan(left[:, :-1]) & ~np.isnan(left[:, 1:])
    lane, node = np.nonzero(turns)
    if not lane.size:
        return
    before, after = path.voltage[lane, node], path.voltage[lane, node + 1]
    below, above = path.running[node], path.running[node + 1]

    def at(share: Lanes) -> tuple[Lanes, Lanes, Lanes, Lanes]:
        volts = before + (after - before) * share
        amps = (1 - share) * path.current(volts, below) + share * path.current(volts, above)
        return volts, amps, *path.left(volts, amps, lane)

    # Halving, as the torque left is a jump where no speed gives the current.
    low, high = np.zeros(lane.shape), np.ones(lane.shape)
    positive = left[lane, node] > 0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = (at(middle)[3] > 0) == positive
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    share = (low + high) / 2
    volts, amps, speed, rest = at(share)
    _, _, slower, more = at(np.maximum(share - BESIDE, 0.0))
    _, _, faster, less = at(np.minimum(share + BESIDE, 1.0))
    with np.errstate(invalid="ignore"):
        stable = (faster > slower) & (more > less)
        real = np.isfinite(rest) & (speed <= path.coupled.curve.top[lane])
    cutting = (before == after) & (below != above).any(axis=1)
    kept = np.flatnonzero(real)
    order = kept[np.lexsort((speed[kept], lane[kept]))]
    lane, start = lane[order], np.searchsorted(lane[order], lane[order], side="left")
    rank = np.arange(len(order)) - start
    first = rank < MOST_POINTS
    spot = (lane[first], place, rank[first])
    order = order[first]
    for table, values in ((found, (speed, volts, amps)), (flags, (stable, cutting))):
        for each, value in zip(table.values(), values, strict=True):
            each[spot] = value[order]
