"""What keeps readings out of a fit: a wrong unit, or a pattern that no coefficient explains."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from engine.bench.log import BenchLog
from engine.bench.predicted import Compared, conditions_of, predict
from engine.errors import Problem, StudyError
from engine.model.limits import MATCHED
from engine.stage_columns import staged
from engine.study.study import Study

BEYOND = 10.0
"""Ratio of readings to what the model gives, either way, beyond which no coefficient helps."""
NEAR = 2.5
"""Ratio within which a wrong unit explains it."""
FACTORS: Mapping[float, str] = {
    1000.0: "such as between N m and mN m, kW and W, kg/s and g/s",
    60.0: "such as between a second and a minute",
    60 / (2 * np.pi): "between rad/s and rpm",
    2 * np.pi: "between radians and turns",
    10.0: "such as between N m and kgf m, bar and MPa, cm and mm",
    100.0: "such as between N m and N cm, bar and kPa, m and cm",
    1e5: "between bar and Pa",
    1e6: "such as between MW and W",
}
"""Factors by which a wrong unit is off, the likelier first, with units that differ by them."""
RATIOS = (
    "shaft_torque",
    "electric_power",
    "mass_flow",
    "rim_pressure",
    "gap_exit_pressure",
    *staged("nozzle_pressure"),
    "outlet_rise",
    "head",
    "pressure_rise",
    "rim_rise",
)
"""Readings whose size tells of their unit; a temperature's does not."""
FAR_TURNED, NEARLY_TURNED = np.radians(25.0), np.radians(10.0)
"""Angle from the model's from which one is looked at from another side, and up to which it fits
there."""
OFF = 8.0
"""Median residual, in standard uncertainties, beyond which a fit explains nothing, if it is also
more than `SHARE` of the reading."""
SHARE = 0.2
DOUBTFUL = 3.0
"""Median residual above which a fit comes with a caution."""

Numbers = NDArray[np.float64]


def refuse_wrong_units(bench: Compared) -> None:
    """Raise StudyError for readings or a speed that only a wrong unit explains."""
    found = bench.predicted((), np.zeros((1, 0)))
    _refuse_speed(bench)
    problems = [*_turned(bench, found)]
    for key, values in bench.readings.items():
        known = np.isfinite(values)
        if key not in RATIOS or not known.any():
            continue
        given = float(np.median(np.abs(found[key][0][known])))
        ratio = float(np.median(np.abs(values[known]))) / max(given, 1e-12)
        if 1 / BEYOND <= ratio <= BEYOND or given < 1e-6:
            continue
        times = f"{ratio:.3g} times" if ratio >= 1 else f"1/{1 / max(ratio, 1e-12):.3g} of"
        problem = Problem(
            file=bench.log.file,
            line=int(bench.lines[0]),
            key=key,
            found=f"the readings are {times} what the model gives",
            expected=f"within a factor of {BEYOND:.0f}",
            remedy=_likely(ratio) or "check its unit, and the build in the head",
        )
        problems.append(problem)
    if problems:
        raise StudyError(problems)


def _turned(bench: Compared, found: Mapping[str, Numbers]) -> Iterator[Problem]:
    """Find angles at the outlet that were read from the wrong side."""
    angles = bench.readings.get("outlet_angle")
    if angles is None or not np.isfinite(angles).any():
        return
    read, given = (float(np.nanmedian(each)) for each in (angles, found["outlet_angle"][0]))
    if abs(read - given) < FAR_TURNED:
        return
    for seen, what, remedy in (
        (np.pi / 2 - read, "to the end face", "log 90 degrees less the reading"),
        (-read, "against the rotation", "log it with the other sign"),
    ):
        if abs(seen - given) < NEARLY_TURNED:
            yield Problem(
                file=bench.log.file,
                line=int(bench.lines[0]),
                key="outlet_angle",
                found=f"the readings are as the model gives them {what}",
                expected="the angle to the shaft, towards the rotation",
                remedy=remedy,
            )


def refuse_unexplained(
    bench_log: BenchLog, measured: Mapping[str, Numbers], after: Mapping[str, Numbers],
    spread: Mapping[str, Numbers],
) -> list[str]:  # fmt: skip
    """Raise StudyError for readings that the fitted model is far from; give cautions for others."""
    cautions, problems = [], []
    for key, values in measured.items():
        known = np.isfinite(values)
        off = (after[key] - values)[known]
        sigmas = float(np.median(np.abs(off / spread[key][known])))
        share = float(np.median(np.abs(off)) / max(np.median(np.abs(values[known])), 1e-12))
        if sigmas > OFF and share > SHARE:
            problem = Problem(
                file=bench_log.file,
                key=key,
                found=f"no coefficient explains the readings: they stay {share:.0%} off the model, "
                f"{sigmas:.0f} times their uncertainty",
                expected="a model that goes through its readings",
                remedy="check build, supply and units in the head, and the sensor",
            )
            problems.append(problem)
        elif sigmas > DOUBTFUL:
            cautions.append(
                f"{key}: the fitted model stays {share:.1%} off the readings, {sigmas:.1f} times "
                "their stated uncertainty: something acts that no coefficient stands for"
            )
    if problems:
        raise StudyError(problems)
    return cautions


def compared(study: Study, log: BenchLog) -> Compared:
    """Take the readings of a log; raises StudyError, with the unit of the speed that is likely."""
    try:
        return Compared.of(study, log)
    except StudyError as error:
        likely = _likely_speed(study, log)
        if not likely:
            raise
        raise StudyError([replace(error.problems[0], key="speed", remedy=likely)]) from error


def _likely_speed(study: Study, log: BenchLog) -> str:
    """Say which unit of the speed would give the model operating points, '' if none does."""
    for factor in (60 / (2 * np.pi), 2 * np.pi / 60, 1 / 60, 60.0, 1e-3, 2 * np.pi):
        share = _matched(study, log, factor)
        if share > 0.7:
            return _likely(1 / factor)
    return ""


def _refuse_speed(bench: Compared) -> None:
    """Raise StudyError where another unit of the speed makes the readings fit by far better."""
    turning = bench.conditions["speed"] > 0
    if turning.sum() < 3 or set(bench.readings) <= {"mass_flow"}:
        return
    here = _off(bench, 1.0)
    if here < 2 * OFF:
        return
    for factor in (60 / (2 * np.pi), 2 * np.pi / 60, 60.0, 1 / 60):
        if _off(bench, factor) < here / 2:
            problem = Problem(
                file=bench.log.file,
                line=int(bench.lines[0]),
                key="speed",
                found=f"with speeds {factor:.3g} times as high the model fits the readings",
                remedy=_likely(1 / factor),
            )
            raise StudyError([problem])


def _off(bench: Compared, factor: float) -> float:
    """Median residual [-] with speeds times a factor; large where there is no operating point."""
    faster = {**bench.conditions, "speed": bench.conditions["speed"] * factor}
    residuals = np.abs(replace(bench, conditions=faster).residuals((), np.zeros((1, 0)))[0])
    return float(np.median(np.nan_to_num(residuals, nan=1e6)))


def _matched(study: Study, log: BenchLog, factor: float) -> float:
    """Share of rows with an operating point at speeds times a factor."""
    conditions = conditions_of(study, log)
    conditions["speed"] = conditions["speed"] * factor
    return float((predict(study, log.build, conditions)["status"] == MATCHED).mean())


def _likely(ratio: float) -> str:
    """Name the unit that is likely wrong where readings are off by a ratio; '' for none."""
    size = max(ratio, 1 / max(ratio, 1e-300))
    fits = {f: abs(np.log(size / f)) for f in FACTORS if abs(np.log(size / f)) < np.log(NEAR)}
    if not fits:
        return ""
    factor = min(fits, key=lambda each: fits[each])
    return f"is its unit right? A factor of {factor:.4g} lies {FACTORS[factor]}"
