"""The readings of a log beside those that the model predicts for the same build and conditions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bench.log import BenchLog, Exclusion
from engine.bench.log_columns import EVERY_CONDITION, PUMP_READINGS, READINGS
from engine.errors import Problem, StudyError
from engine.model.circuit import NOZZLE_COEFFICIENTS, nozzle_coefficients
from engine.model.evaluation import evaluate
from engine.model.locked_rotor import BREAKAWAY, evaluate_locked
from engine.model.pump.evaluation import DUTY_FLOW, SHUT_SHARES, evaluate_pump
from engine.study.pump.study import PumpStudy
from engine.study.study import Study

Numbers = NDArray[np.float64]

IN_LANES = ("supply_pressure", "supply_temperature", "nozzle_count", "rim_clearance")
"""Conditions that may differ from lane to lane; each value of the others needs its own study."""


@dataclass(frozen=True)
class Compared:
    """The rows of a log as builds, and the readings to which they are compared."""

    study: Study
    log: BenchLog
    conditions: dict[str, Numbers]
    readings: dict[str, Numbers]
    """NaN where there is no usable reading: the power of a locked rotor."""
    spread: dict[str, Numbers]
    excluded: tuple[Exclusion, ...]
    lines: NDArray[np.int64]

    @classmethod
    def of(cls, study: Study, log: BenchLog) -> "Compared":
        """Take the rows with an operating point; add the uncertainty of conditions to readings."""
        conditions = conditions_of(study, log)
        readings = _told(log, conditions["speed"])
        spread = {key: np.square(log.uncertainty[key]) for key in readings}
        base = predict(study, log.build, conditions)
        if "shaft_torque" in spread:
            # Evenly distributed between friction in one direction and the other; 0 where it turns.
            spread["shaft_torque"] = spread["shaft_torque"] + np.square(base[BREAKAWAY]) / 3
        for key in ("speed", "supply_pressure", "supply_temperature", "flow"):
            if key not in log.uncertainty:
                continue
            moved = {**conditions, key: conditions[key] + log.uncertainty[key]}
            moved["speed"] = np.where(conditions["speed"] > 0, moved["speed"], 0.0)
            shifted = predict(study, log.build, moved)
            for reading in readings:
                spread[reading] = spread[reading] + np.nan_to_num(
                    np.square(shifted[reading] - base[reading])
                )
        lost = np.any([~np.isfinite(base[key]) for key in readings], axis=0)
        if (~lost).sum() < 3:
            raise StudyError([_unmatched(log, base, lost)])
        out = tuple(
            Exclusion(int(line), f"the model has no operating point here ({status})")
            for line, status in zip(log.lines[lost], base["status"][lost], strict=True)
        )
        return cls(
            study=study,
            log=log,
            conditions={key: values[~lost] for key, values in conditions.items()},
            readings={key: values[~lost] for key, values in readings.items()},
            spread={key: _above_zero(np.sqrt(values[~lost])) for key, values in spread.items()},
            excluded=(*log.excluded, *out),
            lines=log.lines[~lost],
        )

    def given(self, key: str) -> float:
        """Value of a coefficient that the log, or else the study, states; else as computed."""
        stated = float(self.log.build.get(key, self.study.fixed().get(key, np.nan)))
        if np.isnan(stated) and key in NOZZLE_COEFFICIENTS:
            build = {name: np.array([value]) for name, value in self.log.build.items()}
            fastest = self.conditions["speed"].max(keepdims=True)
            return float(nozzle_coefficients(self.study, {"speed": fastest, **build})[key].item())
        return stated

    def predicted(self, keys: Sequence[str], points: Numbers) -> dict[str, Numbers]:
        """Predict the readings of every row for every point, shape (points, rows)."""
        n_points, rows = len(points), len(self.lines)
        conditions = {key: np.tile(values, n_points) for key, values in self.conditions.items()}
        build: dict[str, Any] = dict(self.log.build)
        for place, key in enumerate(keys):
            build[key] = np.repeat(points[:, place], rows)
        found = predict(self.study, build, conditions)
        return {key: found[key].reshape(n_points, rows) for key in self.readings}

    def residuals(self, keys: Sequence[str], points: Numbers) -> Numbers:
        """Prediction less reading, in standard uncertainties, shape (points, readings)."""
        found = self.predicted(keys, points)
        return np.hstack(
            [
                ((found[key] - values) / self.spread[key])[:, np.isfinite(values)]
                for key, values in self.readings.items()
            ]
        )


def conditions_of(study: Study, log: BenchLog) -> dict[str, Numbers]:
    """Conditions of each row: those of the log, else those of the study."""
    supply = study.supply
    usual = {"supply_temperature": supply.temperature}
    if study.kind == "turbine":
        usual = {
            "supply_pressure": supply.pressure,
            **usual,
            "back_pressure": supply.back_pressure,
        }
    stated = {key: np.full(len(log.lines), value) for key, value in usual.items()}
    return stated | {key: log.columns[key] for key in EVERY_CONDITION if key in log.columns}


def _above_zero(spread: Numbers) -> Numbers:
    """Give a share of a reading of 0 the least uncertainty of the others."""
    least = np.min(spread, where=spread > 0, initial=np.inf)
    return np.where(spread > 0, spread, least if np.isfinite(least) else 1.0)


def _told(log: BenchLog, speed: Numbers) -> dict[str, Numbers]:
    """Take the readings of a log; power is NaN while the rotor is locked, left out if always so."""
    readings = {key: log.columns[key] for key in log.readings}
    if "electric_power" in readings:
        power = np.where(speed > 0, readings.pop("electric_power"), np.nan)
        readings |= {"electric_power": power} if np.isfinite(power).any() else {}
    return readings


def predict(
    study: Study, build: Mapping[str, Any], conditions: Mapping[str, Numbers]
) -> dict[str, NDArray[Any]]:
    """Predict readings and status of a build at the conditions of each row.

    In a row at speed 0 the rotor is locked. `breakaway_torque` is the amount by which friction may
    raise or lower its torque reading; it is 0 in the other rows.
    """
    if isinstance(study, PumpStudy):
        return _of_pump(study, build, conditions)
    speed = conditions["speed"]
    builds = {key: np.broadcast_to(np.asarray(value), speed.shape) for key, value in build.items()}
    builds |= {"speed": speed, **{key: conditions[key] for key in IN_LANES if key in conditions}}
    others = [key for key in conditions if key not in ("speed", *IN_LANES)]
    states = np.stack([conditions[key] for key in others], axis=1)
    found: dict[str, NDArray[Any]] = {key: np.full(speed.shape, np.nan) for key in READINGS}
    found |= {BREAKAWAY: np.zeros(speed.shape), "status": np.full(speed.shape, "", dtype=object)}
    states = np.column_stack([speed == 0, states])
    for is_locked, *state in np.unique(states, axis=0).tolist():
        here = (states == [is_locked, *state]).all(axis=1)
        fed = dict(zip((key.removeprefix("supply_") for key in others), state, strict=True))
        supply = study.supply.model_copy(update=fed)
        work = evaluate_locked if is_locked else evaluate
        results = work(
            study.unjudged().model_copy(update={"supply": supply}),
            {key: values[here] for key, values in builds.items()},
        )
        for key, values in found.items():
            values[here] = results.get(key, 0.0)
    return found


def _of_pump(
    study: PumpStudy, build: Mapping[str, Any], conditions: Mapping[str, Numbers]
) -> dict[str, NDArray[Any]]:
    """Predict the same of a pump: shut, it is followed at a small flow."""
    speed = conditions["speed"]
    builds = {key: np.broadcast_to(np.asarray(value), speed.shape) for key, value in build.items()}
    builds |= {"speed": speed, "supply_temperature": conditions["supply_temperature"]}
    builds[DUTY_FLOW] = np.maximum(conditions["flow"], SHUT_SHARES[0] * study.duty.flow)
    alone = study.model_copy(update={"limits": {}, "aims": {}})
    results = evaluate_pump(alone, builds)
    told = {key: results[key] for key in PUMP_READINGS}
    return {**told, BREAKAWAY: np.zeros(speed.shape), "status": results["status"]}


def _unmatched(log: BenchLog, base: Mapping[str, NDArray[Any]], lost: NDArray[np.bool_]) -> Problem:
    row = int(np.flatnonzero(lost)[0])
    found = f"the model has no operating point for {lost.sum()} of {lost.size} rows, the first with"
    found += f" {base['status'][row]}"
    remedy = "check build, supply and units in the head of the log"
    return Problem(file=log.file, line=int(log.lines[row]), found=found, remedy=remedy)
