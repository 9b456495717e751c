"""A turbine with its generator, bus, loads and supply: what flows at a moment, and what changes.

States are speed, voltage of the bus (a capacitor behind the bridge), pressure of the receiver, and
pressure and temperature of what the hose behind the valve holds. Torque and flow come from maps
over speed and supply pressure. The trip acts as in `trip`; here generator and loads go on braking.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes
from engine.physics.machine.load_law import CONVERTER, MOTOR, Bus, load_current
from engine.physics.machine.permanent_magnet import DataSheet, no_load_loss
from engine.physics.machine.settle import STANDSTILL, TorqueCurve
from engine.physics.machine.supply_energy import (
    Passage,
    SupplyFlows,
    SupplySide,
    shares_between,
    supply_flows,
)
from engine.physics.machine.trip_kernel import LEAST

CUT_IN_BAND = 0.01
"""Rise above its lowest voltage in which a converter comes in, or a motor picks up, as a share."""
STARTING_TIME = 0.5
"""Time in which the current of a starting motor falls to that of a running one [s]; common
practice, no source."""
FULL_BAND = 0.01
"""Band below the pressure of a full receiver in which its compressor stops, as a share of it."""
SPEED, VOLTAGE, RECEIVER, HOSE, WARMTH = range(5)
"""Places of the states; pressures are over the full supply pressure, both absolute."""


@dataclass(frozen=True)
class Hose:
    """What lies behind the valve, and the trip that shuts it."""

    stored: float
    """Mass at full pressure [kg]; 0 for a liquid."""
    exponent: float
    """Isentropic exponent of that gas [-]."""
    back_share: float
    """Back pressure over full supply pressure, both absolute [-]."""
    trip_speed: float
    """Speed at which the trip acts [rad/s]; infinite for none."""
    delay: float
    """From then until the valve begins to close [s]."""
    closing: float
    """From then until it is shut [s]; its flow falls in proportion to time."""


@dataclass(frozen=True)
class Receiver:
    """What the supply comes from."""

    mass: float
    """Of gas in it at full supply pressure [kg]; infinite where nothing runs down."""
    full: float
    """Its highest pressure over full supply pressure [-]."""
    delivered: float
    """Flow of the compressor [kg/s]."""

    def comes(self, pressure: Lanes, *, delivers: bool) -> Lanes:
        """Flow into it at pressures over the full supply pressure [kg/s]."""
        room = np.clip((self.full - pressure) / (FULL_BAND * self.full), 0.0, 1.0)
        return np.asarray(self.delivered * room if delivers else 0.0 * room)


@dataclass(frozen=True)
class Plant:
    """One machine with all that it hangs on."""

    share: Lanes
    """(pressure,): supply pressure over back pressure, over the full one; from 0, rising [-]."""
    torque: TorqueCurve
    """Net torque at the shaft, a lane for each pressure [N m]."""
    flow: TorqueCurve
    """Mass flow, a lane for each pressure [kg/s]."""
    inertia: float
    """Of all that turns [kg m2]."""
    sheet: DataSheet
    """Of the generator; every field is a number."""
    ratio: float
    """Turbine speed over generator speed [-]."""
    efficiency: float
    """Of the drive [-]."""
    bus: Bus
    """Every load there is, (load,)."""
    capacitance: float
    """Of the bus [F]."""
    hose: Hose
    receiver: Receiver
    side: SupplySide | None = None
    """With it the work of the supply is followed too."""

    def between(self, share: Lanes) -> tuple[NDArray[np.int64], Lanes]:
        """Find the map's pressure below each share, and how far it is to the next."""
        nodes = self.share
        inside = np.minimum(share, nodes[-1])
        row = np.clip(np.searchsorted(nodes, inside, side="right") - 1, 0, len(nodes) - 2)
        return row, (inside - nodes[row]) / (nodes[row + 1] - nodes[row])


@dataclass(frozen=True)
class Stage:
    """A time in which nothing is switched."""

    start: float
    end: float
    on: NDArray[np.bool_]
    """Which loads are on, (load,)."""
    since: Lanes
    """When each was switched on, (load,) [s]; minus infinity for long ago."""
    ramp: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0)
    """The supply's share goes from the third at the first moment to the fourth at the second."""
    swing: tuple[float, float, float] = (0.0, 1.0, 0.0)
    """Size of its swing, period [s] and when it began [s]."""
    delivers: bool = True
    """Whether the compressor runs."""

    def share(self, time: Lanes) -> Lanes:
        """Share of the supply that the regulator asks for."""
        first, last, low, high = self.ramp
        along = np.clip((time - first) / (last - first), 0, 1) if last > first else time >= last
        size, period, began = self.swing
        swings = size * np.sin(2 * np.pi * (time - began) / period) if size else 0.0
        return np.asarray(np.maximum(low + (high - low) * along + swings, 0.0))


@dataclass(frozen=True)
class Flows:
    """Powers [W] and rates of the states at some times, (time,)."""

    speed: Lanes
    voltage: Lanes
    current: Lanes
    share: Lanes
    receiver: Lanes
    shaft: Lanes
    drive: Lanes
    no_load: Lanes
    winding: Lanes
    diodes: Lanes
    loads: Lanes
    """(time, load)"""
    rates: Lanes
    """(state, time)"""


def flows(*, plant: Plant, stage: Stage, tripped: float, time: Lanes, state: Lanes) -> Flows:
    """Find the powers of a machine at some moments, and how fast its states change.

    Parameters
    ----------
    plant : Plant
        The machine.
    stage : Stage
        What is switched on, and what the supply does.
    tripped : float
        When the trip acted [s]; NaN where it did not.
    time : Lanes
        Moments, (time,) [s].
    state : Lanes
        (state, time) [rad/s, V, -], in the order of `SPEED` and so on; below 0 counts as 0.

    Returns
    -------
    Flows
        (time,); NaN where a state is.

    Notes
    -----
    A converter comes in, and a motor picks up, in a narrow band above its lowest voltage; within
    that it takes the mean of cutting in and out. The receiver stays as warm as its walls. The hose
    empties as in `trip`.

    References
    ----------
    Derived here from the balances of angular momentum, charge, mass and energy.

    """
    top, sheet = float(plant.torque.top[0]), plant.sheet
    speed, voltage = np.maximum(state[SPEED], 0.0), np.maximum(state[VOLTAGE], 0.0)
    share, rates = _gas(plant, stage, tripped, time, state)
    torque = _read(plant, plant.torque, speed, share)
    # Generator and bus.
    turns = speed / plant.ratio
    behind = sheet.resistance + sheet.commutation * turns
    current = np.maximum(turns / sheet.speed_constant - sheet.drop - voltage, 0.0) / behind
    taken = _taken(plant.bus, stage, time, voltage)
    loss = no_load_loss(sheet=sheet, speed=turns)
    given = (turns / sheet.speed_constant - sheet.commutation * turns * current) * current + loss
    asked = given / plant.efficiency
    rates[SPEED] = (torque - asked / np.maximum(speed, STANDSTILL * top)) / plant.inertia
    rates[SPEED] = np.where(state[SPEED] <= 0, np.maximum(rates[SPEED], 0.0), rates[SPEED])
    rates[VOLTAGE] = (current - taken.sum(axis=1)) / plant.capacitance
    rates[VOLTAGE] = np.where(state[VOLTAGE] <= 0, np.maximum(rates[VOLTAGE], 0), rates[VOLTAGE])
    return Flows(
        speed=speed,
        voltage=voltage,
        current=current,
        share=share,
        receiver=state[RECEIVER] + 0.0 * speed,
        shaft=torque * speed,
        drive=asked - given,
        no_load=loss,
        winding=sheet.resistance * np.square(current),
        diodes=sheet.drop * current,
        loads=taken * voltage[:, None],
        rates=rates,
    )


def _gas(
    plant: Plant, stage: Stage, tripped: float, time: Lanes, state: Lanes
) -> tuple[Lanes, Lanes]:
    """Share of the pressure before the nozzles, and the rates of receiver and hose."""
    hose, receiver, back = plant.hose, plant.receiver, plant.hose.back_share
    speed, fed = (
        np.maximum(state[SPEED], 0.0),
        supplied(plant=plant, stage=stage, time=time, state=state),
    )
    rates, opened = np.zeros(state.shape), _opening(hose, tripped, time)
    if np.isnan(tripped) or hose.stored <= 0:
        share = fed * np.square(opened)
        runs_down = np.isfinite(receiver.mass)
        through = _read(plant, plant.flow, speed, share) if runs_down else 0.0 * share
    else:
        pressure, warmth = np.maximum(state[HOSE], LEAST), np.maximum(state[WARMTH], LEAST)
        share = np.clip((pressure - back) / (1 - back), 0.0, None)
        through = opened * _read(plant, plant.flow, speed, fed)
        went = _read(plant, plant.flow, speed, share) / np.sqrt(warmth)
        k = hose.exponent
        rates[HOSE] = k * (through - went * warmth) / hose.stored
        warms = through * (k - warmth) - went * warmth * (k - 1)
        rates[WARMTH] = warmth / pressure * warms / hose.stored
    if np.isfinite(receiver.mass):
        comes = receiver.comes(state[RECEIVER], delivers=stage.delivers)
        rates[RECEIVER] = (comes - through) / receiver.mass
    return share, rates


def _opening(hose: Hose, tripped: float, time: Lanes) -> Lanes:
    """Find how far the valve is open."""
    if np.isnan(tripped):
        return np.ones(time.shape)
    begun = (
        (time - tripped - hose.delay) / hose.closing
        if hose.closing > 0
        else np.where(time >= tripped + hose.delay, 1.0, 0.0)
    )
    return np.asarray(1 - np.clip(begun, 0.0, 1.0))


def on_the_way(
    *, plant: Plant, stage: Stage, tripped: float, time: Lanes, state: Lanes, found: Flows
) -> SupplyFlows | None:
    """Find the powers between supply and shaft at some moments; None without its `SupplySide`.

    Parameters
    ----------
    plant, stage, tripped, time, state : Plant
        As in `flows`.
    found : Flows
        What that gave.

    Returns
    -------
    SupplyFlows
        (time,); NaN where a state is.

    References
    ----------
    See `supply_energy.supply_flows`.

    """
    if plant.side is None:
        return None
    fed = supplied(plant=plant, stage=stage, time=time, state=state)
    back, receiver = plant.hose.back_share, plant.receiver
    went, warmth = _read(plant, plant.flow, found.speed, found.share), np.ones(time.shape)
    into = went
    if np.isfinite(tripped) and plant.hose.stored > 0:
        warmth = np.maximum(state[WARMTH], LEAST)
        went = went / np.sqrt(warmth)
        into = _opening(plant.hose, tripped, time) * _read(plant, plant.flow, found.speed, fed)
    row, along = plant.between(found.share)
    passage = Passage(
        fed=back + fed * (1 - back),
        nozzles=back + found.share * (1 - back),
        into=into,
        went=went,
        warmth=warmth,
        receiver=found.receiver if np.isfinite(receiver.mass) else None,
        comes=receiver.comes(found.receiver, delivers=stage.delivers),
    )
    split = shares_between(
        side=plant.side,
        row=row,
        along=along,
        nodes=plant.torque.share,
        place=found.speed / float(plant.torque.top[0]),
    )
    return supply_flows(side=plant.side, passage=passage, shaft=found.shaft, split=split)


def supplied(*, plant: Plant, stage: Stage, time: Lanes, state: Lanes) -> Lanes:
    """Find the share of the supply: as the regulator asks, but no more than the receiver has.

    Parameters
    ----------
    plant : Plant
        The machine.
    stage : Stage
        What the supply does.
    time : Lanes
        Moments, (time,) [s].
    state : Lanes
        (state, time) [rad/s, V, -], see `flows`.

    Returns
    -------
    Lanes
        Supply pressure over back pressure, over the full one, (time,) [-].

    References
    ----------
    Derived here.

    """
    back = plant.hose.back_share
    asked = stage.share(time)
    if not np.isfinite(plant.receiver.mass):
        return asked
    return np.asarray(np.clip((state[RECEIVER] - back) / (1 - back), 0.0, asked))


def _read(plant: Plant, table: TorqueCurve, speed: Lanes, share: Lanes) -> Lanes:
    """Read a map at a speed and a share; linear between its pressures, which end at the last."""
    row, along = plant.between(share)
    both = table.at(np.concatenate([speed, speed]), np.concatenate([row, row + 1]))
    return np.asarray(both[: speed.size] * (1 - along) + both[speed.size :] * along)


def _taken(bus: Bus, stage: Stage, time: Lanes, voltage: Lanes) -> Lanes:
    """Find the current of each load, (time, load) [A]; that of a starting motor falls."""
    if not stage.on.any():
        return np.zeros((time.size, len(bus.law)))
    switches = (bus.law == CONVERTER) | (bus.law == MOTOR)
    running = np.array([False, True])[:, None, None]
    low, high = load_current(bus=bus, voltage=np.stack([voltage, voltage]), running=running)
    above = np.clip((voltage[:, None] / bus.lowest - 1) / CUT_IN_BAND, 0.0, 1.0)
    begun = np.clip((time[:, None] - stage.since) / STARTING_TIME, 0.0, 1.0)
    above = np.where(bus.law == MOTOR, above * begun, above)
    return np.asarray(np.where(switches, low + above * (high - low), low) * stage.on)
