"""Where each build settles with its generator and the loads of the study, set by set.

The torque of a build over speed comes from the averaged flow at a few speeds in one call. Where an
exact answer is asked for, the build is then evaluated at the speeds found, and the curve is moved
to go through them, until torque and loads agree to the last digits that matter.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Results
from engine.model.evaluation import builds_of, evaluate
from engine.model.settled_speed import FEW_SPEEDS, coupled, nearest_stable, with_offset
from engine.model.wired import Wired, wired
from engine.physics.arrays import Lanes, Mask
from engine.physics.machine.load_law import LAWS, Bus, load_current
from engine.physics.machine.settle import (
    Coupled,
    bus_at_speed,
)
from engine.study.study import Study

MANY_SPEEDS = 40
"""Speeds at which the torque is evaluated for a page."""
ROUNDS = 12
"""Rounds of an exact answer at most."""
CLOSE = 1e-11
"""Relative change of speed that ends them."""


@dataclass(frozen=True)
class Settled:
    """Where each build settles with each set, (lane, set); NaN where it settles nowhere."""

    wired: Wired
    speed: Lanes
    """Of the turbine, as the loads come on one after another at speed [rad/s]."""
    voltage: Lanes
    """Of the bus [V]."""
    current: Lanes
    """Into the bus [A]."""
    watts: Lanes
    """Power of each load, (lane, set, load) [W]."""
    cutting: Mask
    """Whether a converter cuts in and out there."""
    speed_from_rest: Lanes
    """Where it ends if it is started with the set switched on [rad/s]."""
    dip: Lanes
    """Voltage while the motor that comes last starts, at the speed before [V]; NaN for others."""


def coupled_of(study: Study, results: Results, n_speeds: int = FEW_SPEEDS) -> Coupled:
    """Torque of some evaluated builds over speed, in one call, with their generators."""
    given, plain = builds_of(study, results), study.unjudged()
    with np.errstate(divide="ignore", invalid="ignore"):
        jet = np.sqrt(2 * results["isentropic_power"] / results["mass_flow"])
    return coupled(given, jet, lambda builds: evaluate(plain, builds)["shaft_torque"], n_speeds)


def settled(study: Study, results: Results, *, exact: bool = False) -> Settled:
    """Settle evaluated builds with no load, and with the loads one more after the other."""
    if study.loads is None:
        msg = "a study without loads settles nowhere"
        raise ValueError(msg)
    lines = wired(study.loads)
    torques = coupled_of(study, results, MANY_SPEEDS if exact else FEW_SPEEDS)
    points = lines.meet(torques, lines.sets)
    place, there = points.settled(from_rest=False)
    fast = {key: _taken(getattr(points, key), place) for key in ("speed", "voltage", "current")}
    fast = {key: np.where(there, values, np.nan) for key, values in fast.items()}
    cutting = _taken(points.cutting, place) & there
    place, _ = points.settled(from_rest=True)
    slow = np.where(there, _taken(points.speed, place), np.nan)
    if exact:
        other = ~np.isclose(slow, fast["speed"], rtol=1e-9, equal_nan=True)
        near = _moved(study, results, torques, lines, fast["speed"])
        fast = {key: np.where(np.isnan(near[key]), fast[key], near[key]) for key in fast}
        slow = np.where(other, slow, fast["speed"])
    return Settled(
        lines,
        **fast,
        watts=_watts(lines, fast["voltage"], fast["current"]),
        cutting=cutting,
        speed_from_rest=slow,
        dip=_dips(lines, torques, fast["speed"]),
    )


def _taken(table: NDArray[Any], place: NDArray[np.int64]) -> NDArray[Any]:
    return np.take_along_axis(table, place[:, :, None], axis=2)[:, :, 0]


def _moved(study: Study, results: Results, torques: Coupled, lines: Wired, speed: Lanes) -> Results:
    lanes, n_sets = speed.shape
    given = builds_of(study, results)
    lane, which = (each.ravel() for each in np.indices(speed.shape))
    found = {key: np.full(lane.shape, np.nan) for key in ("speed", "voltage", "current")}
    now = speed.ravel().copy()
    open_ = np.isfinite(now)
    for _ in range(ROUNDS):
        rows = np.flatnonzero(open_)
        if not rows.size:
            break
        some = {key: values[lane[rows]] for key, values in given.items()} | {"speed": now[rows]}
        true = evaluate(study.unjudged(), some)["shaft_torque"]
        offset = true - torques.curve.at(now[rows], lane[rows])
        for chosen in range(n_sets):
            here = rows[which[rows] == chosen]
            if not here.size:
                continue
            moved = with_offset(torques, lane[here], offset[which[rows] == chosen])
            points = lines.meet(moved, lines.sets[chosen : chosen + 1])
            nearest = nearest_stable(points, now[here])
            for key, values in found.items():
                values[here] = getattr(points, key)[np.arange(len(here)), 0, nearest]
        after = found["speed"][rows]
        # Where the moved curve has no stable point near, there is no exact answer.
        open_[rows] = np.abs(after - now[rows]) > CLOSE * now[rows]
        now[rows] = np.where(np.isfinite(after), after, now[rows])
    return {key: values.reshape(lanes, n_sets) for key, values in found.items()}


def _watts(lines: Wired, voltage: Lanes, current: Lanes) -> Lanes:
    """Power of each load; one that cuts in and out has what the others leave."""
    bus, on = lines.bus, lines.sets[None]
    if lines.is_converted:
        # All have the same share of what they ask for.
        asked = lines.demand(lines.sets)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(asked > 0, np.minimum(voltage * current / asked, 1.0), 0.0)
        return np.asarray(on * bus.power * share[..., None])
    low = load_current(bus=bus, voltage=voltage, running=bus.lowest < voltage[..., None]) * on
    high = load_current(bus=bus, voltage=voltage, running=bus.lowest <= voltage[..., None]) * on
    # Between off and on at one voltage the current itself says for which share of time.
    near = np.isclose(bus.lowest, voltage[..., None], rtol=1e-9)
    low = np.where(
        near, load_current(bus=bus, voltage=voltage, running=np.zeros_like(near)) * on, low
    )
    high = np.where(
        near, load_current(bus=bus, voltage=voltage, running=np.ones_like(near)) * on, high
    )
    least, most = low.sum(axis=2), high.sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(most != least, (current - least) / (most - least), 0.0)
    taken = low + share[..., None] * (high - low)
    return np.asarray(taken * np.maximum(voltage, 0.0)[..., None])


def _dips(lines: Wired, torques: Coupled, speed: Lanes) -> Lanes:
    """Voltage as the last load of each set starts, where it is a motor, at the speed before."""
    dips = np.full(speed.shape, np.nan)
    for place, load in enumerate(lines.loads):
        if load.behaves != "motor" or lines.is_converted:
            continue
        law, power = lines.bus.law.copy(), lines.bus.power.copy()
        one = load.running / load.count
        law[place] = LAWS.index("heater")
        power[place] = load.starting * one + (load.running - one)
        started = Bus(law, power, lines.bus.voltage, lines.bus.lowest, lines.bus.starting)
        on = lines.sets[place + 1]
        turns = speed[:, place] / torques.ratio
        dips[:, place + 1] = bus_at_speed(sheet=torques.sheet, bus=started.only(on), speed=turns)[0]
    return dips
