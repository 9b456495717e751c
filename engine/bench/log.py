"""A log of the test bench: its readings in SI, and every fault in it with its line.

A log is one CSV file. Its first lines, between two lines of ---, say in YAML what each column is.
Nothing is repaired: a row that cannot be used is left out, counted and listed.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bench import log_head as head
from engine.bench.log_columns import (
    EVERY_READING,
    PUMP_READINGS,
    READINGS,
    USUAL,
    Scale,
)
from engine.bench.log_rows import numbers_of_row
from engine.bench.log_tests import COUNTED, GENERATOR, STEADY, TRIP, tests_of
from engine.bench.log_text import LogText, read_log_text
from engine.errors import Problem, StudyError
from engine.study.study import Study

FEWEST_ROWS = 4
FEWEST_FREQUENCIES = 3  # of a tap test: one tells how far out the disc is held, and two agree
STUCK = 6
"""Number of equal readings in a row, while the speed changes, that show a stuck sensor."""
MOVES = 0.03
"""Relative change of speed that must change other readings too."""
GAP = 4.0
"""Interval over the usual interval above which samples count as missing."""
MAY_STAY = ("mass_flow", "nozzle_pressure", "outlet_angle")
"""Readings that may stay as the speed changes: a choked nozzle passes the same at every speed, and
a thread is read in steps."""
SURELY = 3.0
"""Standard uncertainties by which a pressure must be on the wrong side of another to count so."""
LIVE = 0.05
"""Power [W] above which a rotor turns, even if its speed reads zero."""
Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Exclusion:
    """A row of a log that is not used."""

    line: int
    reason: str


@dataclass(frozen=True)
class BenchLog:
    """Content of a log, SI."""

    file: str
    title: str
    build: Mapping[str, Any]
    """The build on the bench, by key, without its speed."""
    columns: Mapping[str, Numbers]
    """Readings by quantity, only of used rows."""
    uncertainty: Mapping[str, Numbers]
    """Standard uncertainty of each."""
    lines: NDArray[np.int64]
    """Line of each used row."""
    excluded: tuple[Exclusion, ...]
    cautions: tuple[str, ...]
    test: str = STEADY
    """Kind of test, a key of `engine.bench.log_tests`."""
    kind: str = "turbine"
    """Kind of machine on the bench."""
    trip_speed: float = np.nan
    """Speed at which the trip was set to act in a trip test [rad/s]."""

    @property
    def is_coast_down(self) -> bool:
        """Whether it holds only speed against time, and is no trip test."""
        only = "time" in self.columns and not set(self.columns) - {"time", "speed"}
        return only and self.test != TRIP

    @property
    def is_trip(self) -> bool:
        """Whether it is a test of the overspeed trip."""
        return self.test == TRIP

    @property
    def is_generator_test(self) -> bool:
        """Whether it holds volts and amps of a generator by themselves."""
        return self.test == GENERATOR

    @property
    def is_tap_test(self) -> bool:
        """Whether it holds the frequencies of a tapped disc."""
        return "frequency" in self.columns

    @property
    def n_locked(self) -> int:
        """Number of rows with the rotor locked."""
        return 0 if self.is_tap_test else int((self.columns["speed"] == 0).sum())

    @property
    def readings(self) -> tuple[str, ...]:
        """Quantities that can be compared with the model."""
        return tuple(key for key in EVERY_READING if key in self.columns)


def read_log(path: str | Path, study: Study) -> BenchLog:
    """Read a log of one test, or the steady rows of one that holds several; as `read_logs`."""
    return read_logs(path, study)[0]


def read_logs(path: str | Path, study: Study) -> tuple[BenchLog, ...]:
    """Read a log taken on a build of a study, each of its tests apart, the steady rows first.

    Raises
    ------
    StudyError
        With every problem of the file: line, column, what is expected and how to correct it.
    """
    whole = read_log_text(Path(path))
    problems = list(whole.problems)
    build, fixed = (
        head.build_of(whole, study, problems),
        head.conditions_of(whole, study, problems),
    )
    trip_speed = head.trip_speed_of(whole, problems)
    head.scales_of(whole, study, problems)
    problems += head.tests_of_pumps(whole, study)
    if problems:
        raise StudyError(sorted(problems, key=lambda problem: problem.line or 0))
    logs = []
    for kind, text, named in tests_of(whole):
        here = {key: fixed[key] for key in fixed if key in COUNTED.get(kind, fixed)}
        log = _rows(text, head.scales_of(text, study, []), build, here, (kind, study.kind))
        if study.kind == "turbine":
            log = _without_upstream(log, study)
        log = replace(_as_named(log, named), trip_speed=trip_speed)
        problems += [*_faults(log), *_stuck(log)]
        logs.append(log)
    if problems:
        raise StudyError(problems)
    return tuple(logs)


def _as_named(log: BenchLog, named: Mapping[int, str]) -> BenchLog:
    """Leave out rows whose speed does not go with the test that they name."""
    if log.is_tap_test:
        return log
    for word, turning, reason in (
        ("locked", True, "test: locked, but the rotor turns"),
        ("loaded", False, "test: loaded, but the rotor stands still"),
    ):
        there = np.array([named.get(int(line)) == word for line in log.lines], dtype=np.bool_)
        log = _kept(log, ~(there & ((log.columns["speed"] > 0) == turning)), reason)
    return log


def _rows(
    text: LogText,
    scales: Mapping[int, Scale],
    build: dict[str, Any],
    fixed: dict[str, float],
    test_and_machine: tuple[str, str],
) -> BenchLog:
    test, machine = test_and_machine
    excluded: list[Exclusion] = []
    raw: list[list[float]] = []
    lines: list[int] = []
    cautions: list[str] = []
    for line, cells in text.rows:
        numbers, reason, missing = numbers_of_row(text, cells, scales, fixed.get("speed", np.nan))
        if reason:
            excluded.append(Exclusion(line, reason))
            continue
        raw.append(numbers)
        lines.append(line)
        cautions += [f"line {line}: {each}; the rest of the row is used" for each in missing]
    table = np.array(raw, dtype=float).reshape(len(raw), len(scales))
    columns, uncertainty = {}, {}
    for place, scale in enumerate(scales.values()):
        si = table[:, place] * scale.factor + scale.offset
        columns[scale.quantity] = si
        uncertainty[scale.quantity] = np.hypot(scale.share * np.abs(si), scale.floor)
    for key, value in fixed.items():
        if key not in columns:
            columns[key] = np.full(len(raw), value)
            share, floor = USUAL[key]
            uncertainty[key] = np.full(len(raw), np.hypot(share * abs(value), floor))
    if test != GENERATOR:
        _electric(columns, uncertainty)
    log = BenchLog(
        file=text.file,
        title=text.title,
        build=build,
        columns=columns,
        uncertainty=uncertainty,
        lines=np.array(lines, dtype=np.int64),
        excluded=tuple(excluded),
        cautions=tuple(cautions),
        test=test,
        kind=machine,
    )
    return log if log.is_tap_test else _with_gaps(_without_frozen(_without_standstill(log)))


def _electric(columns: dict[str, Numbers], uncertainty: dict[str, Numbers]) -> None:
    """Multiply volts and amps to electric power."""
    if "voltage" not in columns:
        return
    volts, amps = columns.pop("voltage"), columns.pop("current")
    spread = np.hypot(volts * uncertainty.pop("current"), amps * uncertainty.pop("voltage"))
    columns["electric_power"], uncertainty["electric_power"] = volts * amps, spread


def _kept(log: BenchLog, kept: NDArray[np.bool_], reason: str) -> BenchLog:
    out = tuple(Exclusion(int(line), reason) for line in log.lines[~kept])
    return replace(
        log,
        columns={key: values[kept] for key, values in log.columns.items()},
        uncertainty={key: values[kept] for key, values in log.uncertainty.items()},
        lines=log.lines[kept],
        excluded=tuple(sorted((*log.excluded, *out), key=lambda row: row.line)),
    )


def _without_standstill(log: BenchLog) -> BenchLog:
    """Leave out rows at speed 0 unless the rotor is locked, and rows below speed 0."""
    if log.kind == "pump" or not {"shaft_torque", "mass_flow"} & set(log.columns):
        return _kept(
            log, log.columns["speed"] > 0, "speed: zero or below, so the rotor does not turn"
        )
    log = _kept(log, log.columns["speed"] >= 0, "speed: below zero")
    if "electric_power" not in log.columns:
        return log
    live = np.nan_to_num(log.columns["electric_power"]) > LIVE
    dead = (log.columns["speed"] == 0) & live
    return _kept(log, ~dead, "speed: zero although there is power, so the rotor is not locked")


def _without_upstream(log: BenchLog, study: Study) -> BenchLog:
    """Leave out rows in which the flow would run against the pressure, or back into a probe."""
    if "nozzle_pressure" in log.columns:
        supply = log.columns.get("supply_pressure", np.array([study.supply.pressure]))
        off = log.uncertainty.get("supply_pressure", np.zeros(1))
        room = SURELY * np.hypot(log.uncertainty["nozzle_pressure"], off)
        against = log.columns["nozzle_pressure"] > supply + room
        reason = "nozzle_pressure: above supply_pressure; is one gauge, the other absolute?"
        log = _kept(log, ~against, reason)
    if "outlet_rise" in log.columns:
        against = log.columns["outlet_rise"] < -SURELY * log.uncertainty["outlet_rise"]
        log = _kept(log, ~against, "outlet_rise: below 0, so the probe does not point upstream")
    return log


def _without_frozen(log: BenchLog) -> BenchLog:
    """Leave out rows in which a sensor repeats its reading although the speed changes."""
    for key in (*log.readings, "speed"):
        if key in MAY_STAY:
            continue
        values, speed = log.columns[key], log.columns["speed"]
        runs = list(_equal_runs(values))
        whole = len(runs) == 1
        kept = np.ones(values.shape, dtype=bool)
        for start, stop in runs:
            if stop - start < STUCK:
                continue
            moving = np.ptp(speed[start:stop]) > MOVES * speed[start:stop].max()
            frozen = key == "speed" and log.is_coast_down
            if (moving or frozen) and not whole:
                kept[start:stop] = False
        log = _kept(
            log, kept, f"{key}: the same reading {STUCK} times or more, so the sensor is stuck"
        )
    return log


def _equal_runs(values: Numbers) -> Iterator[tuple[int, int]]:
    ends = [0, *(np.flatnonzero(np.diff(values) != 0) + 1).tolist(), len(values)]
    yield from pairwise(ends)


def _with_gaps(log: BenchLog) -> BenchLog:
    time = log.columns.get("time")
    if time is None or len(time) < 3:
        return log
    steps = np.diff(time)
    wide = np.flatnonzero(steps > GAP * np.median(steps))
    cautions = tuple(
        f"line {log.lines[place + 1]}: {steps[place]:.3g} s since the sample before, usually "
        f"{np.median(steps):.3g} s: samples are missing"
        for place in wide
    )
    return replace(log, cautions=(*log.cautions, *cautions))


def _faults(log: BenchLog) -> Iterator[Problem]:
    """Find faults for which the whole log cannot be used."""
    n_rows = len(log.lines)
    fewest = FEWEST_FREQUENCIES if log.is_tap_test else FEWEST_ROWS
    if n_rows < fewest:
        left = f"; {len(log.excluded)} left out" if log.excluded else ""
        for row in log.excluded[:1]:
            left += f", the first on line {row.line}: {row.reason}"
        yield Problem(
            file=log.file,
            line=log.excluded[0].line if log.excluded else None,
            found=f"{n_rows} usable rows{left}",
            expected=f"at least {fewest}",
            remedy="take more readings, or correct those left out",
        )
        return
    time = log.columns.get("time")
    if time is not None and (np.diff(time) <= 0).any():
        back = int(np.flatnonzero(np.diff(time) <= 0)[0]) + 1
        yield Problem(
            file=log.file,
            line=int(log.lines[back]),
            key="time",
            found=f"{time[back]:.6g} s comes after {time[back - 1]:.6g} s",
            expected="rising time",
            remedy="sort the rows, or cut the log where a second one begins",
        )
    if log.is_generator_test and "voltage" not in log.columns:
        remedy = "add columns of volts and amps, or name another test"
        yield Problem(file=log.file, key="columns", found="no volts and amps", remedy=remedy)
        return
    if log.is_generator_test or log.is_coast_down or log.is_trip or log.is_tap_test or log.readings:
        return
    yield Problem(
        file=log.file,
        key="columns",
        found="has no quantity that the model predicts",
        expected=f"one of {', '.join(PUMP_READINGS)}"
        if log.kind == "pump"
        else f"one of {', '.join(READINGS)}, or time and speed of a coast-down",
        remedy="describe the columns that were measured",
    )


def _stuck(log: BenchLog) -> Iterator[Problem]:
    """Find sensors whose reading never changes although the speed does."""
    speed = log.columns.get("speed", np.zeros(0))
    if len(speed) < FEWEST_ROWS:
        return
    for key in (*log.readings, *(["speed"] if log.is_coast_down else [])):
        known = log.columns[key][np.isfinite(log.columns[key])]
        still = known.size > 0 and np.ptp(known) == 0
        if key in MAY_STAY:
            continue
        if still and (key == "speed" or np.ptp(speed) > MOVES * speed.max()):
            yield Problem(
                file=log.file,
                line=int(log.lines[0]),
                key=key,
                found=f"reads the same in all {len(speed)} rows",
                expected="a reading that changes with the speed",
                remedy="the sensor is stuck: set its column to ignore, or measure again",
            )
