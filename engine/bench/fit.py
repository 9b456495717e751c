"""Loss coefficients of the model fitted to a bench log: those that the log determines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.gate import compared, refuse_wrong_units
from engine.bench.log import BenchLog, Exclusion
from engine.bench.predicted import Compared
from engine.columns import COLUMNS
from engine.errors import Problem, StudyError
from engine.study.fit import Fit
from engine.study.knowledge import Knowledge
from engine.study.study import Study
from engine.study.uncertainty import HOSE

Numbers = NDArray[np.float64]


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
    "hose_factor": Unknown(
        0.3,
        0.1,
        4.0,
        "log the pressure before the nozzles too, with the hose and with its couplings alone: give "
        "the length of the hose in the head of each log",
    ),
    "coupling_loss": Unknown(
        3.0, 0.0, 40.0, "log the pressure before the nozzles at a second dial, beside the first"
    ),
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
    "web_factor": Unknown(
        0.3, 0.0, 1.2, "log the angle of a thread at the outlet, or a probe there, at four speeds"
    ),
    "core_factor": Unknown(
        0.5, 0.0, 3.0, "log the angle and the pressure of a probe at the outlet, at four speeds"
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
    "bearing_seal_factor": Unknown(
        0.4, 0.0, 10.0, "coast down with the lips in the bearings, and again without them"
    ),
    "wave_factor": Unknown(
        0.1, 0.8, 1.25, "tap one clamped disc, and log the frequencies at which it rings"
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
    "generator_kv": Unknown(
        5.0, 0.002, 5000.0, "turn the generator, and log speed and volts without load and with two"
    ),
    "winding_resistance": Unknown(
        0.2, 1e-5, 1000.0, "log speed, volts and amps of the generator with loads up to its most"
    ),
    "no_load_loss": Unknown(
        10.0,
        0.0,
        1e5,
        "run the generator as a motor without load, and log speed, volts and amps (below 0)",
    ),
    "rectifier_drop": Unknown(0.2, 0.0, 10.0, "log volts on both sides of the bridge"),
    "trip_delay": Unknown(0.05, 0.0, 10.0, "trip test at low speed, speed against time"),
    "valve_closing": Unknown(0.1, 0.0, 60.0, "trip test at low speed, speed against time"),
}
"""Every coefficient that may be fitted."""
PUMP_COEFFICIENTS: Mapping[str, Unknown] = {
    "ring_factor": Unknown(
        0.3,
        0.05,
        5.0,
        "measure the clearance of the wear rings, and log head and power from shut"
        " to full flow at two speeds",
    ),
    "throat_factor": Unknown(
        0.3, 0.05, 5.0, "log head from half to full flow, and the pressure behind the rim"
    ),
    "casing_factor": Unknown(
        0.3, 0.1, 4.0, "log the pressure behind the rim, beside head and flow, at two speeds"
    ),
    "eye_loss": Unknown(
        0.4, 0.0, 5.0, "log the pressure behind the rim against flow, to full flow"
    ),
    "cone_loss": Unknown(0.15, 0.0, 2.0, "log the pressure in the throat and behind the port"),
    "windage_factor": Unknown(
        0.3, 0.1, 5.0, "log torque with the discharge shut, then with a wider side gap"
    ),
    "motor_efficiency": Unknown(0.05, 0.3, 0.99, "log shaft torque and electric power together"),
    "motor_iron_share": Unknown(
        0.15, 0.0, 0.95, "log the power of the uncoupled motor, and at three loads"
    ),
}
"""Every coefficient that a log of a pump may tell."""
OF_TRIP = ("trip_delay", "valve_closing")
"""Those that only a test of the trip tells."""
OF_GENERATOR = ("generator_kv", "winding_resistance", "no_load_loss", "rectifier_drop")
"""Those that only a test of the generator tells."""
STEADY_ONES = tuple(key for key in COEFFICIENTS if key not in (*OF_TRIP, *OF_GENERATOR))
"""Those that steady readings may tell."""
MEASURABLE = ("seal_clearance", "nozzle_velocity")
"""Those that a test of their own tells; where they are stated, they are held."""


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


def coefficients_of(study: Study) -> Mapping[str, Unknown]:
    """Give every coefficient that a log of this kind of machine may tell."""
    return PUMP_COEFFICIENTS if study.kind == "pump" else COEFFICIENTS


def fit_log(study: Study, log: BenchLog, *, candidates: Sequence[str] | None = None) -> BenchFit:
    """Fit those of the candidates that a log determines, together with what the study's fit knows.

    A dimension that study or log state is held: it was measured. The hose has no coefficients
    where the study's dial stands behind it.

    Raises
    ------
    StudyError
        Where the model has no operating point for the readings, or they determine no coefficient.
    """
    bench = compared(study, log)
    refuse_wrong_units(bench)
    earlier = study.fit
    known_ones = coefficients_of(study)
    if candidates is None:
        candidates = STEADY_ONES if study.kind == "turbine" else tuple(known_ones)
    none = HOSE if study.kind == "turbine" and study.supply.dial == "at-nozzles" else ()
    candidates = tuple(key for key in candidates if key not in (*study.searched(), *none))
    keys = tuple(key for key in candidates if not _is_stated(study, log, key))
    start = {key: bench.given(key) for key in keys}
    unknowns = [known_ones[key] for key in keys]
    width = np.array([unknown.width for unknown in unknowns])
    lower = np.array([unknown.lower for unknown in unknowns])
    upper = np.array([unknown.upper for unknown in unknowns])
    at = np.array([*start.values()])
    matrix, target = np.zeros((0, len(keys))), np.zeros(0)
    known: dict[int, float] = {}
    if earlier is not None:
        every = {key: bench.given(key) for key in earlier.known.keys}
        matrix, target = earlier.known.of_keys(keys, {**every, **start}).rows()
        known = {
            n: earlier.standard[key] / width[n]
            for n, key in enumerate(keys)
            if key in earlier.values
        }
    effects = np.nan_to_num(
        least_squares.slopes(lambda p: bench.residuals(keys, p), at, width, upper)
    )
    if np.abs(effects).sum(axis=1).max(initial=0.0) == 0:
        raise StudyError([_nothing(log, keys, least_squares.choose(effects), {})])
    choice = least_squares.choose(np.vstack([effects, matrix * width]), known=known)
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
            prior=(matrix[:, free], target),
        )
        # What may be as small as nothing must stand out from nothing.
        room = np.where(lower[free] == 0, np.maximum(estimate.values, 1e-300), np.inf)
        loose = estimate.standard / np.minimum(width[free], room)
        # Where no reading depends on it any more, its inverse has a zero in place of all doubt.
        loose = np.where(estimate.standard > 0, loose, np.inf)
        if not estimate.at_bound.any() and loose.max() <= least_squares.TOLD:
            break
        worst = int(np.argmax(np.where(estimate.at_bound, np.inf, loose)))
        why[free[worst]] = (
            "the fit moves it to the end of its range, "
            + _shown(names[worst], _nearer_end(estimate.values, lower[free], upper[free])[worst])
            if estimate.at_bound[worst]
            else f"its uncertainty stays ± {_shown(names[worst], estimate.standard[worst])}"
            if np.isfinite(loose[worst])
            else "no reading of this log depends on it where the fit ends"
        )
        free.pop(worst)
        estimate = None
    if estimate is None:
        raise StudyError([_nothing(log, keys, choice, why)])
    held = _held(known_ones, keys, free, choice, why)
    held += tuple(
        Held(key, "it is stated, so it is taken as measured", known_ones[key].test)
        for key in candidates
        if _is_stated(study, log, key)
    )
    return _result(bench, keys, free, start, estimate, held=held)


def _is_stated(study: Study, log: BenchLog, key: str) -> bool:
    """Whether a coefficient that can be measured by itself is stated as a known number."""
    if key not in MEASURABLE:
        return False
    fitted = study.fit is not None and key in study.fit.values
    return key in log.build or (key in study.machine.model_fields_set and not fitted)


def _result(
    bench: Compared,
    keys: Sequence[str],
    free: Sequence[int],
    start: Mapping[str, float],
    estimate: least_squares.Estimate,
    *,
    held: tuple[Held, ...],
) -> BenchFit:
    """Make the result of a fit: predictions before and after it, what was held, what is known."""
    names = [keys[place] for place in free]
    origin = np.array([start[key] for key in names])
    both = bench.predicted(names, np.vstack([origin, estimate.values]))
    told = np.isfinite([*bench.readings.values()])
    weights = np.ones(told.shape)
    weights[told] = estimate.weights
    values = dict(zip(names, estimate.values.tolist(), strict=True))
    return BenchFit(
        log=bench.log,
        fit=Fit(
            values,
            dict(zip(names, estimate.standard.tolist(), strict=True)),
            estimate.correlation,
            _knowledge(bench, keys, {**start, **values}, estimate),
        ),
        reach=dict(zip(names, estimate.reach.tolist(), strict=True)),
        start=start,
        held=held,
        conditions=bench.conditions,
        measured=bench.readings,
        before={key: values[0] for key, values in both.items()},
        after={key: values[1] for key, values in both.items()},
        uncertainty=bench.spread,
        weights=dict(zip(bench.readings, weights, strict=True)),
        excluded=tuple(sorted(bench.excluded, key=lambda row: row.line)),
        lines=bench.lines,
    )


def _knowledge(
    bench: Compared,
    keys: Sequence[str],
    at: Mapping[str, float],
    estimate: least_squares.Estimate,
) -> Knowledge:
    """Sum up what this log alone says of all coefficients, near its fit."""
    point = np.array([at[key] for key in keys])
    unknowns = coefficients_of(bench.study)
    width = np.array([unknowns[key].width for key in keys])
    upper = np.array([unknowns[key].upper for key in keys])
    found = least_squares.slopes(lambda p: bench.residuals(keys, p), point, width, upper)
    slopes = np.nan_to_num(found / width)
    pull = estimate.weights * estimate.residuals
    return Knowledge(
        tuple(keys), point, slopes.T @ slopes / estimate.spread, slopes.T @ pull / estimate.spread
    )


def _held(
    unknowns: Mapping[str, Unknown],
    keys: Sequence[str],
    free: Sequence[int],
    choice: least_squares.Choice,
    why: Mapping[int, str],
) -> tuple[Held, ...]:
    return tuple(
        Held(key, why.get(place, _reason(keys, place, choice)), unknowns[key].test)
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
    share = f"{100 * choice.likeness[place]:.0f} %"
    return f"its effect on the readings is like that of the others, {share} like {other}"


def _nearer_end(values: Numbers, lower: Numbers, upper: Numbers) -> Numbers:
    return np.where(values - lower < upper - values, lower, upper)


def _shown(key: str, value: float) -> str:
    column = COLUMNS[key]
    return f"{float(column.to_drawing(value)):.3g} {column.unit.symbol}".strip()


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
