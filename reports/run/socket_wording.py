"""What is said of a build at the socket: a row for each set of loads, and sentences. Plain text."""

import math
from dataclasses import dataclass

import numpy as np

from engine.columns import COLUMNS
from engine.model.socket import AtSocket
from engine.physics.machine.load import lamp_voltage_ratio
from engine.physics.machine.load_law import lamp_light
from engine.study.loads import Load
from reports.kit.quantities import THIN, count, listed, number, percent
from reports.run.search_facts import Values

APART = 0.05
"""Difference between settled speed and that of the study, as a share, from which it is told."""


@dataclass(frozen=True)
class SetRow:
    """One set of loads as the table shows it."""

    name: str
    """What was switched on last."""
    speed: str
    volts: str
    amps: str
    watts: str
    light: str
    margin: str
    """First failure over that speed."""
    switched_off: str
    """What follows where all of it is switched off at once."""
    works: str
    """How its loads fare."""
    bad: bool
    """Whether one of them does not work."""


@dataclass(frozen=True)
class State:
    """How one load fares."""

    load: Load
    watts: float
    words: str
    """How it fares; '' where it simply works."""


def rows_of(values: Values, at: AtSocket | None) -> list[SetRow]:
    """Make a row for no load, and for each load that comes on after it; [] where none settles."""
    if at is None or not np.isfinite(at.settled.speed).any():
        return []
    return [_row(values, at, place) for place in range(len(at.settled.wired.sets))]


def failing_speed(values: Values) -> float:
    """Speed at which the first thing fails [rad/s]."""
    return float(values["safety_margin"]) * float(values["speed"])


def trip_speed(values: Values) -> float:
    """Speed at which the trip acts [rad/s]."""
    return float(values["trip_factor"]) * float(values["speed"])


def _row(values: Values, at: AtSocket, place: int) -> SetRow:
    found = at.settled
    speed, volts, amps = (
        float(each[0, place]) for each in (found.speed, found.voltage, found.current)
    )
    loads = found.wired.loads[:place]
    name = f"and {_named(loads[-1])}" if place > 1 else _named(loads[-1]) if loads else "nothing"
    if not math.isfinite(speed):
        return SetRow(name, *("–",) * 7, _nowhere(place), bad=True)
    states = _states(at, place)
    told = []
    if speed > trip_speed(values):
        told.append("the trip stops it before it gets there")
    told += grouped(states)
    dumped = _dumped(at, place)
    if dumped > 0:
        told.append(f"the dump resistor takes {number(dumped)} W")
    dip = float(found.dip[0, place])
    if math.isfinite(dip):
        told.append(f"as {loads[-1].name} starts, the bus dips to {number(dip)} V")
    taken = math.fsum(state.watts for state in states)
    return SetRow(
        name,
        count(_rpm(speed)),
        number(max(volts, 0.0)),
        number(amps),
        number(taken) if loads else "0",
        _light(states, volts, is_converted=found.wired.is_converted),
        number(failing_speed(values) / speed),
        switched_off(values, at, place) if place else "",
        "; ".join(told) or "turns without load",
        bad=any(state.words for state in states) or speed > trip_speed(values),
    )


def switched_off(values: Values, at: AtSocket, place: int) -> str:
    """Say how fast it becomes where a set is switched off at once, or when the trip acts."""
    found = at.settled
    start, free = float(found.speed[0, place]), float(found.speed[0, 0])
    trip = trip_speed(values)
    if start >= trip or not math.isfinite(start):
        return ""
    if free <= trip:
        return f"{count(_rpm(free))}{THIN}rpm"
    stored, built = float(values.get("stored_energy", math.nan)), float(values["speed"])
    # Time from there to the trip, by what torque is left of that of the turbine.
    speeds = np.linspace(start, trip, 200)
    left = np.interp(speeds, at.speed, at.torque - at.asked[0])
    passed = 2 * stored / built**2 * float(np.trapezoid(1 / np.maximum(left, 1e-12), speeds))
    if not math.isfinite(passed):
        return "trip"
    return f"trip in {number(passed)}{THIN}s"


def grouped(states: list[State]) -> list[str]:
    """Say once what several loads have in common."""
    if not states:
        return []
    if not any(state.words for state in states):
        return ["all work" if len(states) > 1 else "works"]
    by_words: dict[str, list[str]] = {}
    for state in states:
        by_words.setdefault(state.words, []).append(state.load.name)
    fine = by_words.pop("", [])
    told = [f"{words}: {listed(names)}" for words, names in by_words.items()]
    return told + ([f"works: {listed(fine)}"] if fine else [])


def _nowhere(place: int) -> str:
    return "races beyond what is computed" if place == 0 else "settles nowhere: it stalls or races"


def _states(at: AtSocket, place: int) -> list[State]:
    found, volts = at.settled, float(at.settled.voltage[0, place])
    cutting = bool(found.cutting[0, place])
    if found.wired.is_converted:
        return [
            _behind_converter(load, float(found.watts[0, place, index]))
            for index, load in enumerate(found.wired.loads[:place])
        ]
    return [
        state_of(load, float(found.watts[0, place, index]), volts, cutting=cutting)
        for index, load in enumerate(found.wired.loads[:place])
    ]


def _behind_converter(load: Load, watts: float) -> State:
    """Say how a load fares behind a converter that holds its voltage."""
    share = watts / load.running
    return State(load, watts, "" if share > 1 - 1e-6 else f"with {percent(share)} of its power")


def state_of(load: Load, watts: float, volts: float, *, cutting: bool) -> State:
    """Say how a load fares at a voltage; no words where it simply works."""
    words = ""
    if volts > load.highest * (1 + 1e-9):
        words = "above its voltage"
    elif load.behaves == "constant-power" and cutting and watts < load.running * (1 - 1e-6):
        words = f"cuts in and out at {number(load.lowest)} V"
    elif volts < load.lowest * (1 - 1e-9):
        words = {
            "lamp": "too dim",
            "heater": f"at {percent(watts / load.running)} of its heat",
            "constant-power": f"off below {number(load.lowest)} V",
            "motor": f"stalled below {number(load.lowest)} V",
            "battery": "not charging",
        }[load.behaves]
    elif load.behaves == "battery" and watts <= 0:
        words = "not charging"
    return State(load, watts, words)


def _light(states: list[State], volts: float, *, is_converted: bool) -> str:
    """Light of filament lamps over that at their own voltage; '' where there is none."""
    lamps = [state for state in states if state.load.behaves == "lamp"]
    if not lamps:
        return ""
    ratio = volts / lamps[0].load.voltage
    if is_converted:
        power, rated = lamps[0].watts, lamps[0].load.running
        ratio = float(lamp_voltage_ratio(power=power, usual_power=rated))
    return percent(float(lamp_light(voltage_ratio=ratio)))


def _dumped(at: AtSocket, place: int) -> float:
    beyond = at.settled.watts[0, place, len(at.settled.wired.loads) :]
    return float(beyond.sum())


def _named(load: Load) -> str:
    return load.name if load.count == 1 else f"{load.count} {load.name}"


def _rpm(speed: float) -> float:
    return float(COLUMNS["speed"].to_drawing(speed))


def limits_text(values: Values, at: AtSocket) -> list[str]:
    """Say what of the generator, of the trip and of starting is worth knowing."""
    found = at.settled
    said = []
    free, full = float(found.speed[0, 0]), float(found.speed[0, -1])
    trip, built = trip_speed(values), float(values["speed"])
    if math.isfinite(full) and abs(full / built - 1) > APART:
        way = "faster" if full > built else "slower"
        remedy = "more load, or a generator of another constant," if full > built else "less load"
        if found.wired.is_converted:  # the generator's constant has no say in the speed
            remedy = "more load, or a lower supply pressure," if full > built else "less load"
        said.append(
            f"It was chosen for {count(_rpm(built))} rpm. These loads let it turn {way}, at "
            f"{count(_rpm(full))} rpm with all of them on: {remedy} brings it back. With speed: "
            "settled in the ranges a search chooses stacks for the speed at which they turn."
        )
    if math.isfinite(free):
        text = f"With everything switched off it would turn at {count(_rpm(free))} rpm"
        peak = float(values.get("peak_ratio", math.nan)) * built
        if free > trip:
            text += f", beyond the trip at {count(_rpm(trip))} rpm: the trip stops it"
            if math.isfinite(peak):
                text += f", after {count(_rpm(peak))} rpm at most"
        else:
            text += f", below the trip at {count(_rpm(trip))} rpm"
        fails = count(_rpm(failing_speed(values)))
        said.append(f"{text}. The first failure comes at {fails} rpm.")
    if found.wired.is_converted:
        speed, power = (float(each[-1]) for each in at.part_load.best)
        said.append(
            "A converter holds the voltage of the loads; the bus is that of the generator. At "
            f"best the loads can have {number(power * found.wired.converter)} W, at "
            f"{count(_rpm(speed))} rpm; where they ask for more, it holds that speed, and where "
            "they ask for less, the stack turns faster."
        )
    most = float(values.get("generator_voltage", math.nan))
    volts = float(np.nanmax(found.voltage))
    if volts > most:
        said.append(f"The bus reaches {number(volts)} V; it stands {number(most)} V.")
    amps, stands = float(np.nanmax(found.current)), float(values["generator_current"])
    if amps > stands:
        said.append(
            f"The generator gives up to {number(amps)} A; its winding stands {number(stands)} A "
            "for hours."
        )
    slow, fast = found.speed_from_rest[0], found.speed[0]
    other = [
        place
        for place in range(1, len(fast))
        if math.isfinite(slow[place]) and slow[place] < 0.98 * fast[place]
    ]
    if other:
        names = listed([_named(found.wired.loads[place - 1]) for place in other])
        slowest = count(_rpm(float(slow[other[0]])))
        said.append(
            f"Switch on {names} only once it runs: started with it, the stack stays at "
            f"{slowest} rpm, where the voltage is too low."
        )
    else:
        said.append("Started with any of these sets switched on, it comes to the same speed.")
    return said


def best_text(values: Values, at: AtSocket) -> str:
    """Say what half of the supply's pressure gives, and at which speed."""
    speed, power = at.part_load.best
    full, known = at.part_load.pressure[-1], np.isfinite(power)
    if not known[-1]:
        return ""
    told = f"At full pressure it gives most, {number(float(power[-1]))} W, at "
    told += f"{count(_rpm(float(speed[-1])))} rpm"
    beyond = float(speed[-1]) > failing_speed(values)
    told += ", beyond its first failure: never let it turn so fast." if beyond else "."
    low = int(np.flatnonzero(known)[0])
    if low < len(power) - 1:
        bar = number(float(at.part_load.pressure[low]) / 1e5)
        told += (
            f" At {bar} bar absolute, of {number(float(full) / 1e5)}, it is "
            f"{number(float(power[low]))} W at {count(_rpm(float(speed[low])))} rpm."
        )
    return told
