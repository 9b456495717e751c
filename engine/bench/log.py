"""A log of the test bench: its readings in SI, and every fault in it with its line.

A log is one CSV file. Its first lines, between two lines of ---, say in YAML what each column is.
Nothing is repaired: a row that cannot be used is left out, counted and listed.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine import units
from engine.bench.log_columns import CONDITIONS, READINGS, USUAL, Scale, scale_of
from engine.bench.log_text import LogText, read_log_text
from engine.errors import Problem, StudyError, WrongValueError, suggestion
from engine.study.plausible import PLAUSIBLE
from engine.study.reader import parse_overrides
from engine.study.study import Study

FEWEST_ROWS = 4
FEWEST_FREQUENCIES = 3  # of a tap test: one tells how far out the disc is held, and two agree
STUCK = 6
"""Number of equal readings in a row, while the speed changes, that show a stuck sensor."""
MOVES = 0.03
"""Relative change of speed that must change other readings too."""
GAP = 4.0
"""Interval over the usual interval above which samples count as missing."""
ELECTRIC = ("electric_power", "voltage", "current")
"""Quantities that need no reading while the rotor is locked."""
LIVE = 0.05
"""Power [W] above which a rotor turns, even if its speed reads zero."""
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_BLANK = ("", "-", "--", "nan", "na", "n/a", "none", "null", "inf", "-inf")
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

    @property
    def is_coast_down(self) -> bool:
        """Whether it holds only speed against time."""
        return "time" in self.columns and not set(self.columns) - {"time", "speed"}

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
        return tuple(key for key in READINGS if key in self.columns)


def read_log(path: str | Path, study: Study) -> BenchLog:
    """Read a log taken on a build of a study.

    Raises
    ------
    StudyError
        With every problem of the file: line, column, what is expected and how to correct it.
    """
    text = read_log_text(Path(path))
    problems = list(text.problems)
    build = _build(text, study, problems)
    fixed = _fixed(text, study, problems)
    scales = _scales(text, study, problems)
    if problems:
        raise StudyError(sorted(problems, key=lambda problem: problem.line or 0))
    log = _rows(text, scales, build, fixed)
    problems = [*_faults(log), *_stuck(log)]
    if problems:
        raise StudyError(problems)
    return log


def _build(text: LogText, study: Study, problems: list[Problem]) -> dict[str, Any]:
    given = text.section("build")
    words = [f"{key}={value}" for key, value in given.items()]
    if "speed" not in given and not study.ranges.speed.is_fixed:
        words.append("speed=1000 rpm")
    try:
        build = parse_overrides(words, study)
    except StudyError as error:
        for problem in error.problems:
            line = text.lines.get(("build", problem.key), text.lines.get(("build",), 1))
            remedy = problem.remedy.replace(f"{problem.key}=VALUE", f"{problem.key}: ... to build")
            problems.append(
                replace(
                    problem, file=text.file, line=line, key=f"build.{problem.key}", remedy=remedy
                )
            )
        return {}
    return {key: value for key, value in build.items() if key != "speed"}


def _fixed(text: LogText, study: Study, problems: list[Problem]) -> dict[str, float]:
    """Conditions that the head states for all rows."""
    fixed = {}
    for key, value in text.section("conditions").items():
        try:
            if key not in CONDITIONS:
                raise WrongValueError(
                    found="is not a condition", remedy=suggestion(key, CONDITIONS)
                )
            fixed[key] = units.parse(value, CONDITIONS[key], atmosphere=study.supply.atmosphere)
        except WrongValueError as error:
            problems.append(text.problem(("conditions", key), error))
    return fixed


def _scales(text: LogText, study: Study, problems: list[Problem]) -> dict[int, Scale]:
    """Scale of each column of the table by its place; a column to ignore has none."""
    scales: dict[int, Scale] = {}
    seen: dict[str, str] = {}
    for place, name in enumerate(text.names):
        head = text.heads.get(name)
        try:
            if head is None:
                found = f"column {units.shorten(name)} is not described"
                raise WrongValueError(
                    found, "every column under columns", f"add {name}: ignore, or what it is"
                )
            if head.quantity == "ignore":
                continue
            scale = scale_of(head, study)
            if scale.quantity in seen:
                found = f"{scale.quantity} is given twice, also as {seen[scale.quantity]}"
                raise WrongValueError(found, remedy="set one of the two columns to ignore")
            seen[scale.quantity] = name
            scales[place] = scale
        except WrongValueError as error:
            problems.append(text.problem(("columns", name), error))
    for name in text.heads.keys() - set(text.names):
        wrong = WrongValueError(
            "is not a column of the table", remedy=suggestion(name, text.names) or "delete it"
        )
        problems.append(text.problem(("columns", name), wrong))
    if "frequency" in seen and len(seen) > 1:
        found = "frequencies of a tap test beside other readings"
        wrong = WrongValueError(found, "frequencies alone", "set the other columns to ignore")
        problems.append(text.problem(("columns", seen["frequency"]), wrong))
    given = {*seen, *text.section("conditions")}
    if not {"speed", "frequency"} & given and not problems:
        wrong = WrongValueError("no column gives the speed", remedy="say which column is the speed")
        problems.append(text.problem(("columns",), wrong))
    if ("voltage" in seen) != ("current" in seen) and not problems:
        wrong = WrongValueError("volts without amps, or amps without volts", "both, or neither")
        problems.append(text.problem(("columns",), wrong))
    return scales


def _rows(
    text: LogText, scales: Mapping[int, Scale], build: dict[str, Any], fixed: dict[str, float]
) -> BenchLog:
    excluded: list[Exclusion] = []
    raw: list[list[float]] = []
    lines: list[int] = []
    cautions: list[str] = []
    for line, cells in text.rows:
        numbers, reason, missing = _numbers(text, cells, scales, fixed.get("speed", np.nan))
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
    )
    return log if log.is_tap_test else _with_gaps(_without_frozen(_without_standstill(log)))


def _electric(columns: dict[str, Numbers], uncertainty: dict[str, Numbers]) -> None:
    """Multiply volts and amps to electric power."""
    if "voltage" not in columns:
        return
    volts, amps = columns.pop("voltage"), columns.pop("current")
    spread = np.hypot(volts * uncertainty.pop("current"), amps * uncertainty.pop("voltage"))
    columns["electric_power"], uncertainty["electric_power"] = volts * amps, spread


def _numbers(
    text: LogText, cells: Sequence[str], scales: Mapping[int, Scale], speed: float
) -> tuple[list[float], str, list[str]]:
    """Numbers of a row, why it cannot be used, and which of its readings are missing.

    `speed` is that of all rows, NaN if it has a column. A missing reading becomes NaN; a row
    without a condition, or without any reading, is not used. Cells of `ELECTRIC` may be blank in a
    row of a locked rotor.
    """
    numbers: list[float] = []
    missing: dict[str, str] = {}
    for place, scale in scales.items():
        cell = cells[place].strip().replace("−", "-")
        if text.decimal == ",":
            cell = cell.replace(",", ".")
        reason = ""
        if cell.lower() in _BLANK:
            reason = f"no reading ({units.shorten(cells[place].strip())})"
        elif not _NUMBER.fullmatch(cell):
            reason = f"{units.shorten(cells[place])} is not a number"
        elif scale.quantity == "nozzle_count" and not float(cell).is_integer():
            reason = f"{units.shorten(cell)} is not a whole number"
        elif not scale.is_plausible(float(cell)):
            row = PLAUSIBLE["log"][scale.quantity]
            reason = f"{units.shorten(cell)} is not plausible; expected {row.words}"
        if not reason:
            numbers.append(float(cell))
            speed = numbers[-1] if scale.quantity == "speed" else speed
        elif scale.quantity in (*CONDITIONS, "time"):
            return [], f"{text.names[place]}: {reason}", []
        else:
            numbers.append(np.nan)
            missing[scale.quantity] = f"{text.names[place]}: {reason}"
    if speed == 0:
        missing = {key: reason for key, reason in missing.items() if key not in ELECTRIC}
    readings = {each.quantity for each in scales.values()} - {*CONDITIONS, "time"}
    if missing and not readings - missing.keys():
        return [], next(iter(missing.values())), []
    return numbers, "", [*missing.values()]


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
    if not {"shaft_torque", "mass_flow"} & set(log.columns):
        return _kept(
            log, log.columns["speed"] > 0, "speed: zero or below, so the rotor does not turn"
        )
    log = _kept(log, log.columns["speed"] >= 0, "speed: below zero")
    if "electric_power" not in log.columns:
        return log
    live = np.nan_to_num(log.columns["electric_power"]) > LIVE
    dead = (log.columns["speed"] == 0) & live
    return _kept(log, ~dead, "speed: zero although there is power, so the rotor is not locked")


def _without_frozen(log: BenchLog) -> BenchLog:
    """Leave out rows in which a sensor repeats its reading although the speed changes."""
    for key in (*log.readings, "speed"):
        if key == "mass_flow":  # a choked nozzle passes the same at every speed
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
    if log.is_coast_down or log.is_tap_test or log.readings:
        return
    yield Problem(
        file=log.file,
        key="columns",
        found="has no quantity that the model predicts",
        expected=f"one of {', '.join(READINGS)}, or time and speed of a coast-down",
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
        if key == "mass_flow":  # a choked nozzle passes the same at every speed
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
