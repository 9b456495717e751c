"""One build at the socket: where it settles, the torques that meet there, and part load."""

from dataclasses import dataclass

import numpy as np

from engine.columns import Results
from engine.model.evaluation import builds_of, evaluate
from engine.model.in_time import InTime, in_time
from engine.model.settle import MANY_SPEEDS, Settled, coupled_of, settled
from engine.physics.arrays import Lanes
from engine.physics.machine.best_power import current_for_power
from engine.physics.machine.permanent_magnet import input_power
from engine.physics.machine.settle import bus_at_speed
from engine.study.study import Study

PRESSURES = (0.25, 0.4, 0.55, 0.7, 0.85, 1.0)
"""Supply pressure over back pressure at part load, as shares of the full one."""
SPEEDS = 36
"""Speeds of the map of part load."""
REACH = 0.65
"""Its highest speed, over that of a rim as fast as the whole drop of enthalpy makes a jet."""


@dataclass(frozen=True)
class PartLoad:
    """A build at other supply pressures and speeds, into a load that takes what there is."""

    pressure: Lanes
    """Of the supply, absolute (pressure,) [Pa]."""
    speed: Lanes
    """(speed,) [rad/s]"""
    power: Lanes
    """At the terminals, (pressure, speed) [W]; NaN without operating point."""
    torque: Lanes
    """At the shaft [N m]."""
    flow: Lanes
    """Mass flow [kg/s]."""

    @property
    def best(self) -> tuple[Lanes, Lanes]:
        """Speed of most power at each pressure [rad/s], and that power [W]; NaN for none."""
        power = np.where(np.isfinite(self.power), self.power, -np.inf)
        place = np.clip(power.argmax(axis=1), 1, len(self.speed) - 2)
        row = np.arange(len(power))
        one, two, three = (self.power[row, place + by] for by in (-1, 0, 1))
        with np.errstate(divide="ignore", invalid="ignore"):
            # The top of the parabola through the highest and its neighbours.
            past = 0.5 * (one - three) / (one - 2 * two + three)
            past = np.where(np.abs(past) <= 1, past, np.nan)
        step = self.speed[1] - self.speed[0]
        top = two - 0.25 * (one - three) * past
        gives = top > 0
        return (
            np.where(gives, self.speed[place] + past * step, np.nan),
            np.where(gives, top, np.nan),
        )


@dataclass(frozen=True)
class AtSocket:
    """What the page of a run shows of one build."""

    settled: Settled
    """One lane."""
    speed: Lanes
    """(speed,) [rad/s]"""
    torque: Lanes
    """Of the turbine without load, (speed,) [N m]."""
    asked: Lanes
    """What generator and drive ask of it with each set, (set, speed) [N m]."""
    part_load: PartLoad
    in_time: InTime | None = None
    """Through the events of the study, where it has some."""


def part_load(study: Study, results: Results, row: int, *, top: float) -> PartLoad:
    """Evaluate one build of a table over speed, up to `top` [rad/s], and supply pressure."""
    supply = study.supply
    over = supply.pressure - supply.back_pressure
    pressure = supply.back_pressure + np.array(PRESSURES) * over
    speed = np.linspace(0.0, top, SPEEDS + 1)[1:]
    shape = (len(pressure), len(speed))
    build: Results = {
        key: np.repeat(values[row : row + 1], shape[0] * shape[1])
        for key, values in builds_of(study, results).items()
    }
    build["speed"] = np.broadcast_to(speed, shape).ravel().copy()
    build["supply_pressure"] = np.repeat(pressure, len(speed))
    build["gap_flow"] = np.full(shape[0] * shape[1], "averaged")
    found = evaluate(study.unjudged(), build)
    power, torque, flow = (
        found[key].reshape(shape) for key in ("electric_power", "shaft_torque", "mass_flow")
    )
    return PartLoad(pressure, speed, power, torque, flow)


def at_socket(study: Study, results: Results, row: int) -> AtSocket:
    """Settle one build of a table; see `engine.model.settle.can_settle`."""
    one = {key: values[row : row + 1] for key, values in results.items()}
    found = settled(study, one, exact=True)
    coupled = coupled_of(study, one, MANY_SPEEDS)
    top = _reach(found, one)
    speed = np.linspace(0.0, top, 81)[1:]
    turns = speed / coupled.ratio[0]
    many = coupled.sheet.of(np.zeros(len(speed), dtype=np.int64))
    asked = []
    lines = found.wired
    for place, on in enumerate(lines.sets):
        if lines.is_converted:
            power = float(lines.demand(lines.sets)[place])
            amps = current_for_power(sheet=many, speed=turns, power=power)
        else:
            _, amps = bus_at_speed(sheet=many, bus=lines.bus.only(on), speed=turns)
        taken = input_power(sheet=many, speed=turns, current=amps)
        asked.append(taken / speed / coupled.efficiency[0])
    return AtSocket(
        found,
        speed,
        coupled.curve.at(speed, np.zeros(len(speed), dtype=np.int64)),
        np.array(asked),
        part_load(study, one, 0, top=max(top, REACH * float(coupled.curve.top[0]))),
        in_time(study, one, 0),
    )


def _reach(found: Settled, one: Results) -> float:
    """Highest speed that is shown: somewhat above the fastest point [rad/s]."""
    fastest = np.nanmax(np.append(found.speed, one["speed"]))
    return float(1.12 * fastest)
