"""One build led through the events of its study: speed, voltage and supply in time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.columns import Results
from engine.model.circuit import source_of_lanes
from engine.model.evaluation import builds_of, evaluate
from engine.model.generator import sheet_of
from engine.model.load_loss import SupplyState, standing_drag, stored_mass
from engine.model.rotor import inertia_of
from engine.model.settle import MANY_SPEEDS
from engine.model.settled_speed import SLOWEST, go_on
from engine.model.supply_side import supply_side
from engine.model.wired import Wired, can_settle, named, wired, with_dump
from engine.physics.arrays import Lanes, Mask
from engine.physics.machine.in_time import Motion, follow
from engine.physics.machine.plant import STARTING_TIME, Hose, Plant, Receiver, Stage
from engine.physics.machine.settle import Coupled, TorqueCurve, bus_at_speed, meeting_points
from engine.study.events import Event, Events
from engine.study.loads import Load
from engine.study.study import Study

PRESSURES = (0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0)
"""Supply pressure over back pressure, as shares of the full one, at which torque is evaluated."""


@dataclass(frozen=True)
class InTime:
    """What the page of a run shows of one build in time."""

    wired: Wired
    motion: Motion
    events: Events
    full: float
    """Supply pressure [Pa]."""
    back: float
    """Back pressure [Pa]."""

    @property
    def on(self) -> Mask:
        """Which loads are on after the start and after each event, (event + 1, load)."""
        now = named(self.wired.loads, self.events.running)
        rows = [now]
        for event in self.events.script:
            now = _switched(self.wired.loads, now, event)
            rows.append(now)
        return np.array(rows)


def can_be_followed(study: Study) -> bool:
    """Whether a study has events, and all that they need."""
    return study.events is not None and can_settle(study)


def in_time(study: Study, results: Results, row: int) -> InTime | None:
    """Lead one build of a table through the events of its study; None where there is nothing."""
    events, loads = study.events, study.loads
    if events is None or loads is None or not can_settle(study):
        return None
    one = {key: values[row : row + 1] for key, values in results.items()}
    if not np.isfinite(one["shaft_torque"][0]):
        return None
    plant, lines = plant_of(study, one), wired(loads)
    speed, voltage = _start(plant, lines, events, float(one["speed"][0]))
    stages = tuple(_stages(study, events, lines))
    motion = follow(plant=plant, stages=stages, speed=speed, voltage=voltage)
    return InTime(lines, motion, events, study.supply.pressure, study.supply.back_pressure)


def plant_of(study: Study, one: Results) -> Plant:
    """Machine of one evaluated build of a study with events, and with loads on a bus."""
    events, loads, supply = study.events, study.loads, study.supply
    if events is None or loads is None:
        msg = "a study without events or loads"
        raise ValueError(msg)
    share = np.array([*PRESSURES, *_above(study, events)])
    torque, flow, found = _maps(study, one, share)
    source = source_of_lanes(study, builds_of(study, one))
    state = SupplyState.of(source, supply.back_pressure, 1)
    receiver = Receiver(np.inf, 1.0, 0.0)
    if supply.receiver_volume is not None and supply.receiver_pressure is not None:
        given = 0.0 if supply.available_flow is None else supply.available_flow
        if given > 0:
            mass = float(state.density[0]) * supply.receiver_volume
            receiver = Receiver(mass, supply.receiver_pressure / supply.pressure, given)
    sheet = sheet_of(one)
    return Plant(
        share=np.array([0.0, *share]),
        torque=torque,
        flow=flow,
        inertia=float(inertia_of(one)[0]),
        sheet=sheet.of(0),
        ratio=float(one["drive_ratio"][0]),
        efficiency=float(one["drive_efficiency"][0]),
        bus=wired(loads).bus,
        capacitance=events.bus_capacitance,
        hose=Hose(
            stored=float(stored_mass(one, state)[0]),
            exponent=float(state.exponent[0]),
            back_share=float(state.back_share[0]),
            trip_speed=float(one["trip_factor"][0] * one["speed"][0]),
            delay=float(one["trip_delay"][0]),
            closing=float(one["valve_closing"][0]),
        ),
        receiver=receiver,
        side=supply_side(
            study, one, found, (len(share), MANY_SPEEDS), max(receiver.full, _highest(study, share))
        ),
    )


def _highest(study: Study, share: Lanes) -> float:
    """Highest pressure of the maps over the full one, both absolute."""
    back = study.supply.back_pressure / study.supply.pressure
    return float(back + share[-1] * (1 - back))


def _above(study: Study, events: Events) -> tuple[float, ...]:
    """Highest share of the supply that the events ask for, where it is above the full one."""
    over = study.supply.pressure - study.supply.back_pressure
    highest = now = 1.0
    swing = 0.0
    for event in events.script:
        if event.supply_pressure is not None:
            now = (event.supply_pressure - study.supply.back_pressure) / over
        swing = swing if event.swing is None else event.swing
        highest = max(highest, now + swing)
    return (highest,) if highest > 1 else ()


def _maps(study: Study, one: Results, share: Lanes) -> tuple[TorqueCurve, TorqueCurve, Results]:
    """Torque and flow over speed, a lane for each pressure, and all results; first, no pressure."""
    jet = np.sqrt(2 * one["isentropic_power"][0] / one["mass_flow"][0])
    top = float(jet / (one["disc_diameter"][0] / 2))
    nodes = np.linspace(SLOWEST, 1.0, MANY_SPEEDS)
    shape = (len(share), len(nodes))
    supply = study.supply
    pressure = supply.back_pressure + share * (supply.pressure - supply.back_pressure)
    there: Results = {
        key: np.repeat(values, shape[0] * shape[1]) for key, values in builds_of(study, one).items()
    }
    there["speed"] = np.tile(top * nodes, shape[0])
    there["supply_pressure"] = np.repeat(pressure, shape[1])
    there["gap_flow"] = np.full(shape[0] * shape[1], "averaged")
    found = evaluate(study.unjudged(), there)
    torque, flow = (found[key].reshape(shape) for key in ("shaft_torque", "mass_flow"))
    go_on(nodes, torque)
    drag = float(standing_drag(one)[0])
    # Without flow only bearings and seals brake, and nothing at a standstill.
    torque[np.isnan(torque).any(axis=1)] = -drag
    for row in flow:
        known = np.isfinite(row)
        row[:] = np.interp(nodes, nodes[known], row[known]) if known.any() else 0.0
    still = np.concatenate([[0.0], np.full(len(nodes), -drag)])
    torque = np.vstack([still, np.column_stack([torque[:, 0], torque])])
    flow = np.vstack([0.0 * still, np.column_stack([flow[:, 0], flow])])
    tops, whole = np.full(len(torque), top), np.concatenate([[0.0], nodes])
    return (
        TorqueCurve.of(top=tops, share=whole, torque=torque),
        TorqueCurve.of(top=tops, share=whole, torque=flow),
        found,
    )


def _start(plant: Plant, lines: Wired, events: Events, speed: float) -> tuple[float, float]:
    """Speed and voltage at the start: settled with what runs then, at full pressure; or none.

    Where it settles nowhere it starts at the speed of the study, so that one sees what happens.
    """
    if events.start == "rest":
        return 0.0, 0.0
    full = int(np.searchsorted(plant.share, 1.0))
    curve = plant.torque
    row = slice(full, full + 1)
    at_full = TorqueCurve.of(top=curve.top[row], share=curve.share, torque=curve.torque[row])
    one = plant.sheet.of(None)
    coupled = Coupled(at_full, one, np.array([plant.ratio]), np.array([plant.efficiency]))
    on = with_dump(lines, named(lines.loads, events.running))
    points = meeting_points(coupled=coupled, bus=lines.bus, switched=on[None])
    place, there = points.settled(from_rest=False)
    if there[0, 0]:
        at = (0, 0, int(place[0, 0]))
        return float(points.speed[at]), max(float(points.voltage[at]), 0.0)
    turns = np.array([speed / plant.ratio])
    volts, _ = bus_at_speed(sheet=one, bus=lines.bus.only(on), speed=turns)
    return speed, max(float(np.nan_to_num(volts[0])), 0.0)


def _stages(study: Study, events: Events, lines: Wired) -> Iterator[Stage]:
    """Make a stage for each time between two changes."""
    loads, supply = lines.loads, study.supply
    over = supply.pressure - supply.back_pressure
    on = named(loads, events.running)
    begun = np.where(on, -np.inf if events.start == "running" else 0.0, -np.inf)
    now = Stage(0.0, 0.0, with_dump(lines, on), _with_dump_times(lines, begun))
    script = [event for event in events.script if event.at < events.length]
    for event, end in zip(
        [None, *script], [*(event.at for event in script), events.length], strict=True
    ):
        if event is not None:
            after = _switched(loads, on, event)
            begun = np.where(after & ~on, event.at, np.where(after, begun, -np.inf))
            on = after
            now = replace(now, on=with_dump(lines, on), since=_with_dump_times(lines, begun))
            now = _supplied(now, event, supply.back_pressure, over)
        yield from _pieces(replace(now, start=now.end, end=end))
        now = replace(now, end=end)


def _supplied(now: Stage, event: Event, back: float, over: float) -> Stage:
    """Take up what an event says of the supply."""
    if event.supply_pressure is not None:
        before = float(replace(now, swing=(0.0, 1.0, 0.0)).share(np.array(event.at)))
        after = (event.supply_pressure - back) / over
        now = replace(now, ramp=(event.at, event.at + event.over, before, after))
    if event.swing is not None:
        now = replace(now, swing=(event.swing, event.period, event.at))
    if event.compressor is not None:
        now = replace(now, delivers=event.compressor == "running")
    return now


def _pieces(stage: Stage) -> Iterator[Stage]:
    """Cut a stage where a ramp ends and where motors have started: a solver likes no corners."""
    corners = {stage.ramp[1], *(stage.since[np.isfinite(stage.since)] + STARTING_TIME).tolist()}
    inside = sorted(each for each in corners if stage.start < each < stage.end)
    start = stage.start
    for end in (*inside, stage.end):
        if end > start:
            yield replace(stage, start=start, end=end)
        start = end


def _switched(loads: Sequence[Load], on: Mask, event: Event) -> Mask:
    return (on & ~named(loads, event.switch_off)) | named(loads, event.switch_on)


def _with_dump_times(lines: Wired, since: Lanes) -> Lanes:
    return np.concatenate([since, np.full(len(lines.bus.law) - len(since), -np.inf)])
