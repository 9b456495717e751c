"""Loss coefficients of the model fitted to a bench log: those that the log determines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.log import BenchLog, Exclusion
from engine.bench.log_columns import READINGS
from engine.columns import COLUMNS
from engine.errors import Problem, StudyError
from engine.model.evaluation import evaluate
from engine.model.locked_rotor import BREAKAWAY, evaluate_locked
from engine.study.fit import Fit
from engine.study.study import Study

Numbers = NDArray[np.float64]

IN_LANES = ("supply_pressure", "supply_temperature")
"""Conditions that may differ from lane to lane; each value of the others needs its own study."""


@dataclass(frozen=True)
class Unknown:
    """A coefficient that a log may determine."""

    width: float
    """Standard uncertainty before the test; common practice, no source."""
    lower: float
    upper: float
    test: str
    """The test that determines it."""


COEFFICIENTS: Mapping[str, Unknown] = {
    "nozzle_discharge": Unknown(
        0.04, 0.5, 1.0, "blow the nozzles without the rotor, and log flow against supply pressure"
    ),
    "nozzle_velocity": Unknown(
        0.05, 0.5, 1.0, "measure the thrust of the nozzles alone, blowing into the open"
    ),
    "rim_mixing": Unknown(
        0.08,
        0.4,
        1.0,
        "lock the rotor and log torque and flow; state the nozzle velocity in the study",
    ),
    "casing_factor": Unknown(
        0.3,
        0.1,
        4.0,
        "log torque and flow with all nozzles, then with half of them blocked, at two speeds",
    ),
    "exhaust_loss": Unknown(
        0.5, 0.0, 6.0, "log the pressure at the inner end of the gaps against flow"
    ),
    "seal_clearance": Unknown(
        5e-5, 0.0, 1e-3, "measure the clearance in the assembled collar, and state it in the study"
    ),
    "shaft_seal_torque": Unknown(
        2e-3, 0.0, 0.2, "coast down with and without the shaft seals, almost to a stop"
    ),
    "windage_factor": Unknown(
        0.3, 0.1, 5.0, "coast down from full speed with nozzles and exhaust closed"
    ),
    "bearing_factor": Unknown(
        0.5, 0.05, 10.0, "coast down from full speed with nozzles and exhaust closed"
    ),
    "drive_efficiency": Unknown(
        0.02, 0.6, 1.0, "log torque before and after the drive at the same time"
    ),
    "generator_efficiency": Unknown(
        0.08, 0.3, 0.99, "log shaft torque, volts and amps together, at three loads for each speed"
    ),
    "generator_iron_share": Unknown(
        0.15, 0.0, 0.95, "drive the generator without load, and log its torque against speed"
    ),
}
"""Every coefficient that may be fitted."""


@dataclass(frozen=True)
class Held:
    """A coefficient that keeps the value of the study."""

    key: str
    reason: str
    test: str


@dataclass(frozen=True)
class BenchFit:
    """A fit with everything that its page shows, SI."""

    log: BenchLog
    fit: Fit
    reach: Mapping[str, float]
    """Half of the 95 % interval by key."""
    start: Mapping[str, float]
    held: tuple[Held, ...]
    conditions: Mapping[str, Numbers]
    """By quantity, only of used rows."""
    measured: Mapping[str, Numbers]
    before: Mapping[str, Numbers]
    """As predicted with the study's coefficients."""
    after: Mapping[str, Numbers]
    """As predicted with the fitted coefficients."""
    uncertainty: Mapping[str, Numbers]
    """Standard uncertainty of each reading, including that of the conditions [SI]."""
    weights: Mapping[str, Numbers]
    excluded: tuple[Exclusion, ...]
    lines: NDArray[np.int64]


def fit_log(
    study: Study, log: BenchLog, *, candidates: Sequence[str] = tuple(COEFFICIENTS)
) -> BenchFit:
    """Fit those of the candidates that a log determines.

    Raises
    ------
    StudyError
        Where the model has no operating point for the readings, or they determine no coefficient.
    """
    bench = _Readings.of(study, log)
    start = {key: bench.given(key) for key in candidates if key not in study.searched()}
    unknowns = {key: COEFFICIENTS[key] for key in start}
    width = np.array([unknown.width for unknown in unknowns.values()])
    lower = np.array([unknown.lower for unknown in unknowns.values()])
    upper = np.array([unknown.upper for unknown in unknowns.values()])
    keys, at = tuple(unknowns), np.array(list(start.values()))
    choice = least_squares.choose(
        least_squares.slopes(lambda p: bench.residuals(keys, p), at, width, upper)
    )
    free, why = list(choice.chosen), dict[int, str]()
    estimate = None
    while free:
        names = [keys[place] for place in free]
        estimate = least_squares.fit(
            lambda points, names=names: bench.residuals(names, points),  # type: ignore[misc]
            start=at[free],
            lower=lower[free],
            upper=upper[free],
            width=width[free],
        )
        loose = estimate.standard / width[free]
        if not estimate.at_bound.any() and loose.max() <= least_squares.TOLD:
            break
        worst = int(np.argmax(np.where(estimate.at_bound, np.inf, loose)))
        why[free[worst]] = (
            "the fit moves it to the end of its range, "
            + _shown(names[worst], _nearer_end(estimate.values, lower[free], upper[free])[worst])
            if estimate.at_bound[worst]
            else f"its uncertainty stays ± {_shown(names[worst], estimate.standard[worst])}"
        )
        free.pop(worst)
        estimate = None
    if estimate is None:
        raise StudyError([_nothing(log, keys, choice, why)])
    return bench.result(keys, free, start, estimate, _held(keys, free, choice, why))


@dataclass(frozen=True)
class _Readings:
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
    def of(cls, study: Study, log: BenchLog) -> "_Readings":
        """Take the rows with an operating point; add the uncertainty of conditions to readings."""
        rows = len(log.lines)
        supply = study.supply
        usual = {
            "supply_pressure": supply.pressure,
            "supply_temperature": supply.temperature,
            "back_pressure": supply.back_pressure,
        }
        stated = {key: np.full(rows, value) for key, value in usual.items()}
        conditions = {**stated, **{k: v for k, v in log.columns.items() if k in (*usual, "speed")}}
        readings = _told(log, conditions["speed"])
        spread = {key: np.square(log.uncertainty[key]) for key in readings}
        base = predict(study, log.build, conditions)
        if "shaft_torque" in spread:
            # Evenly distributed between friction in one direction and the other; 0 where it turns.
            spread["shaft_torque"] = spread["shaft_torque"] + np.square(base[BREAKAWAY]) / 3
        for key in ("speed", "supply_pressure", "supply_temperature"):
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
            spread={key: np.sqrt(values[~lost]) for key, values in spread.items()},
            excluded=(*log.excluded, *out),
            lines=log.lines[~lost],
        )

    def given(self, key: str) -> float:
        """Value of a coefficient that the log, or else the study, states."""
        stated = self.log.build.get(key, self.study.fixed().get(key, np.nan))
        return float(stated)

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

    def result(
        self,
        keys: Sequence[str],
        free: Sequence[int],
        start: Mapping[str, float],
        estimate: least_squares.Estimate,
        held: tuple[Held, ...],
    ) -> BenchFit:
        """Make the result of a fit: predictions before and after it, and what was held."""
        names = [keys[place] for place in free]
        origin = np.array([start[key] for key in names])
        both = self.predicted(names, np.vstack([origin, estimate.values]))
        told = np.isfinite([*self.readings.values()])
        weights = np.ones(told.shape)
        weights[told] = estimate.weights
        return BenchFit(
            log=self.log,
            fit=Fit(
                dict(zip(names, estimate.values.tolist(), strict=True)),
                dict(zip(names, estimate.standard.tolist(), strict=True)),
                estimate.correlation,
            ),
            reach=dict(zip(names, estimate.reach.tolist(), strict=True)),
            start=start,
            held=held,
            conditions=self.conditions,
            measured=self.readings,
            before={key: values[0] for key, values in both.items()},
            after={key: values[1] for key, values in both.items()},
            uncertainty=self.spread,
            weights=dict(zip(self.readings, weights, strict=True)),
            excluded=tuple(sorted(self.excluded, key=lambda row: row.line)),
            lines=self.lines,
        )


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
    speed = conditions["speed"]
    builds = {key: np.broadcast_to(np.asarray(value), speed.shape) for key, value in build.items()}
    builds |= {"speed": speed, **{key: conditions[key] for key in IN_LANES}}
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


def _held(
    keys: Sequence[str], free: Sequence[int], choice: least_squares.Choice, why: Mapping[int, str]
) -> tuple[Held, ...]:
    return tuple(
        Held(key, why.get(place, _reason(keys, place, choice)), COEFFICIENTS[key].test)
        for place, key in enumerate(keys)
        if place not in free
    )


def _reason(keys: Sequence[str], place: int, choice: least_squares.Choice) -> str:
    """Say why the data do not determine an unknown."""
    if choice.strength[place] < 1e-6:
        return "no reading of this log depends on it"
    if choice.strength[place] * least_squares.TOLD < 1:
        return "it changes the readings by less than their uncertainty"
    other = COLUMNS[keys[choice.alike[place]]].label.lower() if choice.alike[place] >= 0 else ""
    share = f"{choice.likeness[place]:.0%}"
    return f"its effect on the readings is like that of the others, {share} like {other}"


def _nearer_end(values: Numbers, lower: Numbers, upper: Numbers) -> Numbers:
    return np.where(values - lower < upper - values, lower, upper)


def _shown(key: str, value: float) -> str:
    column = COLUMNS[key]
    return f"{float(column.to_drawing(value)):.3g} {column.unit.symbol}".strip()


def _unmatched(log: BenchLog, base: Mapping[str, NDArray[Any]], lost: NDArray[np.bool_]) -> Problem:
    row = int(np.flatnonzero(lost)[0])
    found = f"the model has no operating point for {lost.sum()} of {lost.size} rows, the first with"
    found += f" {base['status'][row]}"
    remedy = "check build, supply and units in the head of the log"
    return Problem(file=log.file, line=int(log.lines[row]), found=found, remedy=remedy)


def _nothing(
    log: BenchLog, keys: Sequence[str], choice: least_squares.Choice, why: Mapping[int, str]
) -> Problem:
    said = "; ".join(
        f"{key}: {why.get(place, _reason(keys, place, choice))}" for place, key in enumerate(keys)
    )
    remedy = "log torque and flow at several speeds, or a coast-down"
    return Problem(
        file=log.file, found=f"the log determines no coefficient ({said})", remedy=remedy
    )
