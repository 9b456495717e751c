"""What the head of a log states: the build, conditions, and how each column is read."""

from dataclasses import replace
from typing import Any

from engine import units
from engine.bench.log_columns import CONDITIONS, PUMP_CONDITIONS, Scale, scale_of
from engine.bench.log_tests import TEST, TRIP
from engine.bench.log_text import LogText
from engine.errors import Problem, StudyError, WrongValueError, suggestion
from engine.study.plausible import checked
from engine.study.reader import parse_overrides
from engine.study.study import Study


def build_of(text: LogText, study: Study, problems: list[Problem]) -> dict[str, Any]:
    """Build that the head states, by key, without its speed."""
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


def conditions_of(text: LogText, study: Study, problems: list[Problem]) -> dict[str, float]:
    """Conditions that the head states for all rows."""
    fixed = {}
    known = PUMP_CONDITIONS if study.kind == "pump" else CONDITIONS
    for key, value in text.section("conditions").items():
        try:
            if key not in known:
                raise WrongValueError(found="is not a condition", remedy=suggestion(key, known))
            fixed[key] = units.parse(value, known[key], atmosphere=study.supply.atmosphere)
        except WrongValueError as error:
            problems.append(text.problem(("conditions", key), error))
    return fixed


def scales_of(text: LogText, study: Study, problems: list[Problem]) -> dict[int, Scale]:
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
            if head.quantity in ("ignore", TEST):
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
    if study.kind == "pump" and "flow" not in given and not problems:
        wrong = WrongValueError(
            "no column gives the flow", remedy="say which column is the flow; 0 where it is shut"
        )
        problems.append(text.problem(("columns",), wrong))
    if ("voltage" in seen) != ("current" in seen) and not problems:
        wrong = WrongValueError("volts without amps, or amps without volts", "both, or neither")
        problems.append(text.problem(("columns",), wrong))
    return scales


def trip_speed_of(text: LogText, problems: list[Problem]) -> float:
    """Speed at which the trip was set to act [rad/s]; NaN where the head has none."""
    given = text.sections.texts.get("trip_speed")
    try:
        if given is not None:
            return float(checked("log", "trip_speed", units.parse(given, "angular_speed")))
        if text.sections.texts.get(TEST) == TRIP:
            found, remedy = (
                "a trip test without the speed of the trip",
                "write trip_speed: 6000 rpm",
            )
            problems.append(text.problem((TEST,), WrongValueError(found, remedy=remedy)))
    except WrongValueError as error:
        problems.append(text.problem(("trip_speed",), error))
    return float("nan")


def tests_of_pumps(text: LogText, study: Study) -> list[Problem]:
    """Find a log of a pump that names another test than a run at several flows."""
    named = str(text.sections.texts.get(TEST, "")).strip().lower()
    if study.kind != "pump" or named in ("", "loaded"):
        return []
    wrong = WrongValueError(
        f"a {units.shorten(named)} test of a pump",
        "readings at several flows: test: loaded, or no test",
        "log head, flow and power at steady speed",
    )
    return [text.problem((TEST,), wrong)]
