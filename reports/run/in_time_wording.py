"""What is said of a build in time: a row for the start and for each event. Plain text."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.in_time import InTime
from engine.physics.machine.load_law import lamp_light
from engine.physics.machine.plant import CUT_IN_BAND
from engine.study.events import Event
from engine.study.loads import ALL, NEEDED
from reports.kit.quantities import THIN, count, listed, number, percent
from reports.run.search_facts import Values
from reports.run.socket_wording import failing_speed, grouped, state_of, trip_speed

Numbers = NDArray[np.float64]

MOMENT = 0.1
"""Time within which a change of light is told as its pace [s]."""
GRID = 0.01
"""Step of time in which it is looked for [s]."""
SLIGHT = 0.005
"""Change of light that is not told, over the light at rated voltage."""


@dataclass(frozen=True)
class EventRow:
    """What follows one event, until the next."""

    place: str
    """Number of the event, as in the charts; '' for the start."""
    at: str
    what: str
    speed: str
    """Lowest and highest, in rpm."""
    volts: str
    light: str
    """How far the light of lamps goes up and down, and how fast."""
    fares: str
    """How the loads fare at its end."""
    bad: bool


def event_rows(at: InTime | None) -> list[EventRow]:
    """Make a row for the start and for each event."""
    if at is None:
        return []
    script, motion = at.events.script, at.motion
    moments = [0.0, *(event.at for event in script), float(motion.time[-1])]
    rows = []
    for place, (start, end) in enumerate(pairwise(moments)):
        inside = (motion.time >= start) & (motion.time <= end)
        event = script[place - 1] if place else None
        at_once = not inside.any() or end <= start
        words, bad = ("", False) if at_once else _fares(at, place, end)
        rows.append(
            EventRow(
                str(place) if place else "",
                f"{start:g}",
                _start_text(at) if event is None else event_text(event, at),
                "" if at_once else _span(_rpm(motion.speed[inside]), whole=True),
                "" if at_once else _span(motion.voltage[inside]),
                "" if at_once else _light_text(at, place, start, end),
                words,
                bad,
            )
        )
    return rows


def event_text(event: Event, at: InTime) -> str:
    """Say what an event does."""
    said = []
    if event.switch_off:
        said.append(f"off: {_names(event.switch_off)}")
    if event.switch_on:
        said.append(f"on: {_names(event.switch_on)}")
    if event.supply_pressure is not None:
        over = f" within {event.over:g} s" if event.over else ""
        said.append(f"supply to {number(event.supply_pressure / 1e5)} bar absolute{over}")
    if event.swing is not None:
        size = f"{percent(event.swing)}, {number(event.swing * (at.full - at.back) / 1e5)} bar"
        every = f"supply swings by {size}, up and down every {event.period:g} s"
        said.append(every if event.swing else "supply no longer swings")
    if event.compressor is not None:
        stops = "compressor cuts out, the receiver runs down"
        said.append(stops if event.compressor == "stopped" else "compressor runs again")
    return "; ".join(said)


def _names(names: tuple[str, ...]) -> str:
    words = {ALL: "all loads", NEEDED: "the loads that must run"}
    return listed([words.get(name, name) for name in names])


def _start_text(at: InTime) -> str:
    running = at.events.running
    what = f"on: {_names(running)}" if running else "nothing on"
    return what if at.events.start == "running" else f"started from rest, {what}"


def lamp_of(at: InTime) -> int | None:
    """Place of the first filament lamp among the loads that is on at any time; None for none."""
    on = np.atleast_1d(at.on.any(axis=0))
    lamps = [n for n, load in enumerate(at.wired.loads) if load.behaves == "lamp" and on[n]]
    return lamps[0] if lamps else None


def light_of(at: InTime, lamp: int) -> Numbers:
    """Light of a lamp over that at its own voltage, at every time of the motion; NaN where off."""
    motion = at.motion
    moments = np.array([event.at for event in at.events.script])
    on = at.on[np.searchsorted(moments, motion.time, side="right"), lamp]
    ratio = motion.voltage / at.wired.loads[lamp].voltage
    return np.where(on, lamp_light(voltage_ratio=ratio), np.nan)


def _light_text(at: InTime, place: int, start: float, end: float) -> str:
    """Say how far and how fast the light changes between two events."""
    lamp = lamp_of(at)
    if lamp is None or not at.on[place, lamp]:
        return ""
    inside = (at.motion.time >= start) & (at.motion.time <= end)
    light = lamp_light(voltage_ratio=at.motion.voltage / at.wired.loads[lamp].voltage)[inside]
    low, high = float(light.min()), float(light.max())
    if high - low < SLIGHT:
        return percent(float(light[-1]))
    time = at.motion.time[inside]
    steps = max(int((end - start) / GRID), 2)
    grid = np.interp(np.linspace(start, end, steps), time, light)
    reach = min(max(round(MOMENT / ((end - start) / (steps - 1))), 1), steps - 1)
    pace = float(np.abs(grid[reach:] - grid[:-reach]).max())
    return f"{percent(low)} to {percent(high)}, at most {percent(pace)} in {MOMENT:g}{THIN}s"


def _fares(at: InTime, place: int, end: float) -> tuple[str, bool]:
    """Say how the loads that are on fare at the end of a row, and whether one does not work."""
    row = int(np.searchsorted(at.motion.time, end, side="left"))
    row = min(row, len(at.motion.time) - 1)
    volts, watts = float(at.motion.voltage[row]), at.motion.watts[row]
    states = []
    for index in np.flatnonzero(at.on[place]).tolist():
        load = at.wired.loads[index]
        cuts = load.lowest <= volts < load.lowest * (1 + CUT_IN_BAND)
        states.append(state_of(load, float(watts[index]), volts, cutting=cuts))
    told = grouped(states)
    dumped = float(watts[len(at.wired.loads) :].sum())
    if dumped >= 1:
        told.append(f"the dump resistor takes {number(dumped)} W")
    return "; ".join(told), any(state.words for state in states)


def in_time_text(values: Values, at: InTime) -> list[str]:
    """Say what of the trip, of the first failure and of the receiver is worth knowing."""
    motion, said = at.motion, []
    peak, fails = float(motion.speed.max()), failing_speed(values)
    trip = trip_speed(values)
    if math.isfinite(motion.tripped):
        over = f"the highest speed is {count(float(_rpm(peak)))} rpm"
        said.append(
            f"The trip acts {number(motion.tripped)} s after the start, at "
            f"{count(float(_rpm(trip)))} rpm; {over}. It stays shut: nothing runs from then on."
        )
    else:
        said.append(
            f"The highest speed is {count(float(_rpm(peak)))} rpm; the trip acts at "
            f"{count(float(_rpm(trip)))} rpm."
        )
    if peak >= fails:
        said.append(f"It passes its first failure at {count(float(_rpm(fails)))} rpm.")
    low = float(motion.receiver.min())
    if low < 0.98 * float(motion.receiver[0]):
        bar = number(low * at.full / 1e5)
        said.append(f"The receiver falls to {bar} bar absolute.")
    spent, energies = motion.energies, motion.energies
    useful = float(spent.loads[: len(at.wired.loads)].sum())
    if energies.shaft > 0:
        said.append(
            f"Of {number(energies.shaft)} J from the shaft the loads have "
            f"{number(useful)} J, {percent(useful / energies.shaft)}."
        )
    return said


def _span(values: Numbers, *, whole: bool = False) -> str:
    """Write the lowest and the highest of some values, or one where they are alike."""
    low, high = float(values.min()), float(values.max())
    first, last = (count(each) if whole else number(each) for each in (low, high))
    if first == last or high - low < 1e-3 * abs(high):
        return last
    return f"{first} to {last}"


def _rpm(speed: float | Numbers) -> Numbers:
    return np.asarray(COLUMNS["speed"].to_drawing(np.asarray(speed, dtype=float)))
