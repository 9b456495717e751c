"""A test of the overspeed trip: how long trip and valve take, from speed against time.

The rotor runs up without load until the trip acts; the log goes on until its speed falls. Torque
is the model's, times a factor that the run-up itself tells, so inertia and losses may be unknown.
What the hose holds is taken from the study.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.log import BenchLog
from engine.errors import Problem, StudyError
from engine.model.circuit import lanes_of, source_of_lanes
from engine.model.evaluation import evaluate
from engine.model.load_loss import PRESSURES, SupplyState, standing_drag, stored_mass
from engine.model.rotor import inertia_of
from engine.physics.machine.trip import TorqueMap, Valve, course_of_trip
from engine.study.fit import Fit
from engine.study.study import Study

Numbers = NDArray[np.float64]

NODES = 4
"""Speeds at which the torque is read from the model."""
STEPS = 12
"""Steps of the closing and of the blow-down."""
AFTER = 3
"""Readings used after the highest; later ones tell of drag, not of the valve."""
FEWEST_BEFORE = 3
"""Fewest readings of the run-up before the trip."""


@dataclass(frozen=True)
class TripTest:
    """What a test of the trip shows, SI."""

    log: BenchLog
    fit: Fit
    """Delay, and closing where the log tells it."""
    reach: Mapping[str, float]
    """Half of the 95 % interval of each."""
    held_closing: float
    """Closing time that was taken from the study; NaN where it was fitted."""
    torque_ratio: float
    """Torque over inertia, over that of the model with the inertia of the discs."""
    trip_speed: float
    peak: float
    """Highest speed by the fit."""
    time: Numbers
    speed: Numbers
    fitted: Numbers
    as_drawn: Numbers
    """With the delay and closing of the study."""


def fit_trip(study: Study, log: BenchLog) -> TripTest:
    """Fit trip delay and closing time of the valve to a log of time and speed.

    Raises
    ------
    StudyError
        Where the log does not show a rotor that passes the speed of the trip and then slows down.
    """
    run = _Run.of(study, log)
    drawn = np.array([run.delay, run.closing])
    first, slope = (
        np.polynomial.Polynomial.fit(run.time[: run.passed], run.speed[: run.passed], 1)
        .convert()
        .coef[:2]
    )
    factor = float(np.clip(slope / run.acceleration, 0.05, 20.0))
    # Delay and closing begin with half each of the time from trip to the highest speed.
    passing = float(
        np.interp(run.trip_speed, run.speed[: run.passed + 1], run.time[: run.passed + 1])
    )
    rise = max(float(run.time[np.argmax(run.speed)]) - passing, float(np.diff(run.time).min()))
    longest = float(run.time[-1]) - passing + rise
    start = np.array([float(first), factor, rise / 2, rise / 2])
    width = np.array([0.01 * start[0], 0.3 * factor, rise / 2, rise / 2])
    lower = np.array([0.5 * start[0], 0.3 * factor, 0.0, 0.0])
    upper = np.array([1.5 * start[0], 3.0 * factor, longest, 3 * longest])
    found = least_squares.fit(run.off, start=start, lower=lower, upper=upper, width=width)
    told = bool(found.standard[3] < width[3] / 2 and not found.at_bound[3])
    if not told:
        found = least_squares.fit(
            lambda points: run.off(np.column_stack([points, np.full(len(points), run.closing)])),
            start=start[:3],
            lower=lower[:3],
            upper=upper[:3],
            width=width[:3],
        )
    keys = ("trip_delay", "valve_closing") if told else ("trip_delay",)
    part = slice(2, 2 + len(keys))
    if found.at_bound[part].any():
        remedy = "log it again with more readings around the trip, and with less throttle"
        raise _refusal(log, "does not tell how long trip and valve take", remedy)
    point = found.values if told else np.append(found.values, run.closing)
    standard = found.standard[part]
    return TripTest(
        log=log,
        fit=Fit(
            dict(zip(keys, found.values[part].tolist(), strict=True)),
            dict(zip(keys, standard.tolist(), strict=True)),
            found.correlation[part, part],
        ),
        reach=dict(zip(keys, found.reach[part].tolist(), strict=True)),
        held_closing=np.nan if told else run.closing,
        torque_ratio=float(point[1]),
        trip_speed=run.trip_speed,
        peak=float(run.follow(point[None])[2][0]),
        time=run.time,
        speed=run.speed,
        fitted=run.speeds(point[None])[0],
        as_drawn=run.speeds(np.append(point[:2], drawn)[None])[0],
    )


@dataclass(frozen=True)
class _Run:
    """The logged run, and the torque that the model gives it."""

    time: Numbers
    speed: Numbers
    spread: Numbers
    trip_speed: float
    passed: int
    """Readings before the trip's speed."""
    acceleration: float
    """By the model, at the first reading [rad/s2]."""
    torque_map: TorqueMap
    inertia: float
    delay: float
    closing: float
    stored: float
    supply: SupplyState

    @classmethod
    def of(cls, study: Study, log: BenchLog) -> "_Run":
        """Take it from a log; raises StudyError where it is no run past the trip."""
        time, speed = log.columns["time"] - log.columns["time"][0], log.columns["speed"]
        top = int(np.argmax(speed))
        passed = int((speed[: top + 1] < log.trip_speed).sum())
        if not np.isfinite(log.trip_speed):
            raise _refusal(log, "names no speed of the trip", "write trip_speed in the head")
        if speed[top] <= log.trip_speed or passed < FEWEST_BEFORE:
            remedy = f"log from {FEWEST_BEFORE} readings before the trip on, supply on, load off"
            raise _refusal(log, "does not run past the speed of the trip", remedy)
        if top >= len(speed) - 2:
            raise _refusal(log, "ends before the speed falls", "log until it slows down")
        used = slice(0, min(top + 1 + AFTER, len(speed)))
        values = {**study.fixed(), **log.build}
        build = {key: np.array([value]) for key, value in values.items()}
        if "supply_pressure" in log.columns:
            build["supply_pressure"] = np.array([np.median(log.columns["supply_pressure"])])
        speeds = np.linspace(0.95 * speed[0], 1.1 * speed[top], NODES)
        torque_map, inertia = _model(study, build, speeds)
        lane = lanes_of(study, {**build, "speed": speeds[:1]})
        state = SupplyState.of(source_of_lanes(study, lane), study.supply.back_pressure, 1)
        return cls(
            time=time[used],
            speed=speed[used],
            spread=log.uncertainty["speed"][used],
            trip_speed=log.trip_speed,
            passed=passed,
            acceleration=float(torque_map.torque[0, -1, 0] / inertia),
            torque_map=torque_map,
            inertia=inertia,
            delay=float(lane["trip_delay"][0]),
            closing=float(lane["valve_closing"][0]),
            stored=float(stored_mass(lane, state)[0]),
            supply=state,
        )

    def follow(self, points: Numbers) -> tuple[Numbers, Numbers, Numbers]:
        """Follow every point of the unknowns: times, speeds, and the highest speed."""
        first, factor, delay, closing = points.T
        many = len(points)
        found = self.torque_map
        spread = TorqueMap(
            speed=np.repeat(found.speed, many, axis=0),
            share=found.share,
            torque=found.torque * factor[:, None, None],
            flow=np.repeat(found.flow, many, axis=0),
        )
        inertia = np.full(many, self.inertia)
        # The run-up: full torque, with the time that each speed takes.
        start = np.minimum(first, self.trip_speed)
        speeds = np.linspace(start, np.full(many, self.trip_speed), STEPS, axis=1)
        full = np.ones(many)
        torque = np.stack([spread.at(each, full)[0] for each in speeds.T], axis=1)
        pace = self.inertia / np.maximum(torque, 1e-12)
        steps = (pace[:, 1:] + pace[:, :-1]) / 2 * np.diff(speeds, axis=1)
        times = np.concatenate([np.zeros((many, 1)), np.cumsum(steps, axis=1)], axis=1)
        course = course_of_trip(
            torque_map=spread,
            inertia=inertia,
            start=np.full(many, self.trip_speed),
            valve=Valve(
                delay=delay,
                closing=closing,
                stored=np.full(many, self.stored),
                exponent=np.full(many, self.supply.exponent[0]),
                back_share=np.full(many, self.supply.back_share[0]),
                liquid=np.full(many, self.supply.is_liquid),
            ),
            steps=STEPS,
        )
        whole = np.concatenate([times, times[:, -1:] + course.time], axis=1)
        return whole, np.concatenate([speeds, course.speed], axis=1), course.peak

    def speeds(self, points: Numbers) -> Numbers:
        """Speed at each time of the log."""
        times, speeds, _ = self.follow(points)
        pairs = zip(times, speeds, strict=True)
        return np.array([np.interp(self.time, at, values) for at, values in pairs])

    def off(self, points: Numbers) -> Numbers:
        """Residuals: start speed, torque factor, delay, closing."""
        return np.asarray((self.speeds(points) - self.speed) / self.spread)


def _model(
    study: Study, build: Mapping[str, NDArray[np.generic]], speeds: Numbers
) -> tuple[TorqueMap, float]:
    """Torque and flow of a build over speed and pressure, and the inertia of its discs."""
    supply = study.supply
    usual = float(np.asarray(build.get("supply_pressure", [supply.pressure]))[0])
    shape = (len(PRESSURES), len(speeds))
    share = np.broadcast_to(np.array(PRESSURES)[:, None], shape).ravel()
    lanes = {key: np.repeat(np.asarray(value), share.size) for key, value in build.items()}
    lanes["speed"] = np.broadcast_to(speeds, shape).ravel()
    lanes["supply_pressure"] = supply.back_pressure + share * (usual - supply.back_pressure)
    found = evaluate(study.unjudged(), lanes)
    drag = standing_drag(found)
    torque, flow = (
        np.concatenate([np.full((1, len(speeds)), nothing), np.nan_to_num(each).reshape(shape)])
        for nothing, each in (
            (-float(np.nanmedian(drag)), found["shaft_torque"]),
            (0.0, found["mass_flow"]),
        )
    )
    mapped = TorqueMap(speeds[None], np.array([0.0, *PRESSURES]), torque[None], flow[None])
    return mapped, float(inertia_of(found)[0])


def _refusal(log: BenchLog, found: str, remedy: str) -> StudyError:
    problem = Problem(
        file=log.file, line=int(log.lines[0]), key="speed", found=found, remedy=remedy
    )
    return StudyError([problem])
