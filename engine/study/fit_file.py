"""The fit file: coefficients with their uncertainty, which later studies name."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, TypeAdapter, ValidationError

from engine import units
from engine.columns import COLUMNS
from engine.errors import Problem, StudyError, WrongValueError, suggestion
from engine.study.fit import Fit
from engine.study.kinds import value_type
from engine.study.knowledge import Knowledge
from engine.study.machine import Machine
from engine.study.plausible import checked
from engine.study.pump.machine import PumpMachine
from engine.study.values import quantity_of
from engine.study.yaml_text import Keys, StudyText, dotted, read_lines, read_text, with_value

NUMBERS = tuple(
    key
    for key in dict.fromkeys((*Machine.model_fields, *PumpMachine.model_fields))
    if COLUMNS[key].unit.symbol not in ("text", "count")
)
"""Machine numbers that a fit may hold, of turbines and pumps."""
SECTIONS = (
    "title", "study", "log", "logs", "model_version", "coefficients", "correlation", "knowledge",
)  # fmt: skip
REMEDY = "take the file as `swirlstack fit` writes it"
KEYS = ("machine", "fit")
"""Where a study names a fit file."""
HELP = "name the file that `swirlstack fit` wrote, beside the study or in a folder below it"


def read_fit(path: str | Path) -> Fit:
    """Read a fit file; raises StudyError with every problem in it."""
    text = read_lines(read_text(Path(path)), str(path))
    fit, problems = fit_of(text.texts, text, str(path), ())
    if problems or fit is None:
        raise StudyError([*text.problems, *problems])
    return fit


def fit_of(
    texts: Mapping[str, Any], text: StudyText, file: str, keys: Keys
) -> tuple[Fit | None, list[Problem]]:
    """Fit out of the texts below some keys of a file, with the problems found."""
    problems: list[Problem] = []

    def report(below: Keys, error: WrongValueError) -> None:
        here = (*keys, *below)
        line = next(
            text.lines[here[:n]] for n in range(len(here), -1, -1) if here[:n] in text.lines
        )
        found = Problem(
            file=file,
            line=line,
            key=dotted(here),
            found=error.found,
            expected=error.expected,
            remedy=error.remedy,
        )
        problems.append(found)

    for key in texts.keys() - set(SECTIONS):
        report((key,), WrongValueError("unknown key", remedy=suggestion(key, SECTIONS) or REMEDY))
    given = texts.get("coefficients")
    if not isinstance(given, dict) or not given:
        report(("coefficients",), WrongValueError("is missing", "the fitted numbers", REMEDY))
        return None, problems
    values, standard = {}, {}
    for key, entry in given.items():
        try:
            values[key], standard[key] = _coefficient(key, entry)
        except WrongValueError as error:
            report(("coefficients", key), error)
    try:
        correlation = _correlation(texts.get("correlation"), len(given))
    except WrongValueError as error:
        report(("correlation",), error)
        return None, problems
    try:
        knowledge, logs = _knowledge(texts.get("knowledge")), _logs(texts.get("logs"))
    except WrongValueError as error:
        report(("knowledge" if "knowledge" in texts else "logs",), error)
        return None, problems
    return (None if problems else Fit(values, standard, correlation, knowledge, logs)), problems


def fit_text(
    fit: Fit, *, title: str, study: str, log: str, model_version: int, held: Sequence[str]
) -> str:
    """Text of a fit file; `held` are lines on what could not be fitted."""
    quoted = {"title": title, "study": study, "log": log}
    lines = ["# Fitted to a bench log. A study in this folder names this file under machine: fit."]
    lines += [f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in quoted.items()]
    lines += [f"model_version: {model_version}", "coefficients:"]
    for key, value in fit.values.items():
        entry = f"{{value: {_text(key, value)}, standard: {_text(key, fit.standard[key])}}}"
        lines.append(f"  {key}: {entry}")
    lines.append("correlation:  # of the coefficients, in their order")
    lines += [
        f"  - [{', '.join(f'{number:.6g}' for number in row)}]" for row in fit.correlation.tolist()
    ]
    if fit.logs:
        lines.append("logs:  # SHA-256 of each log in this fit")
        lines += [
            f"  {json.dumps(name, ensure_ascii=False)}: {sha}" for name, sha in fit.logs.items()
        ]
    if fit.knowledge is not None:
        known = fit.knowledge
        lines += [
            "knowledge:  # for the fit of the next log, SI",
            f"  keys: [{', '.join(known.keys)}]",
        ]
        lines += [
            f"  centre: {_list(known.centre)}",
            f"  slope: {_list(known.slope)}",
            "  information:",
        ]
        lines += [f"    - {_list(row)}" for row in known.information]
    lines += [f"# {line}" for line in held]
    return "\n".join(lines) + "\n"


def inline(texts: Mapping[str, Any]) -> str:
    """One line of YAML with what a study needs of a fit file's texts."""
    kept = {key: texts[key] for key in SECTIONS[2:] if key in texts and key != "model_version"}
    return json.dumps(kept, ensure_ascii=False)


def _coefficient(key: str, entry: object) -> tuple[float, float]:
    if key not in NUMBERS:
        found = "is not a machine number that can be fitted"
        raise WrongValueError(found, remedy=suggestion(key, NUMBERS))
    if not isinstance(entry, dict) or set(entry) != {"value", "standard"}:
        found = "is incomplete"
        raise WrongValueError(found, "{value: ..., standard: ...}", REMEDY)
    try:
        value = float(TypeAdapter(value_type(key)).validate_python(entry["value"]))
    except ValidationError as error:
        wrong = error.errors()[0].get("ctx", {}).get("error")
        if isinstance(wrong, WrongValueError):
            raise wrong from error
        raise WrongValueError(units.shorten(entry["value"]), "a value", REMEDY) from error
    checked("machine", key, value)
    quantity = quantity_of(value_type(key))
    dimension = quantity.dimension if quantity else "ratio"
    standard = units.parse(entry["standard"], dimension)
    if standard <= 0:
        found = "its standard uncertainty is not above zero"
        raise WrongValueError(found, remedy=REMEDY)
    return value, standard


def _correlation(rows: object, size: int) -> NDArray[np.float64]:
    wrong = "is not a correlation matrix"
    expected = f"{size} rows of {size} numbers, 1 on the diagonal, symmetric"
    try:
        matrix = np.array([[units.parse(cell, "ratio") for cell in row] for row in rows or ()])  # type: ignore[attr-defined]
    except (TypeError, ValueError) as error:
        raise WrongValueError(wrong, expected, REMEDY) from error
    fits = matrix.shape == (size, size) and bool(
        np.allclose(matrix, matrix.T, atol=1e-4) and np.allclose(np.diag(matrix), 1.0, atol=1e-4)
    )
    if not fits or np.linalg.eigvalsh(matrix).min() < -1e-3:
        raise WrongValueError(wrong, expected, REMEDY)
    return matrix


def _list(numbers: NDArray[np.float64]) -> str:
    return f"[{', '.join(f'{number:.12g}' for number in numbers.tolist())}]"


def _knowledge(given: object) -> Knowledge | None:
    """Read what the logs of a fit say; raises WrongValueError."""
    if given is None:
        return None
    wrong = WrongValueError("is not what a fit knows", "keys and their numbers", REMEDY)
    if not isinstance(given, dict) or set(given) != {"keys", "centre", "slope", "information"}:
        raise wrong
    keys = given["keys"]
    if not isinstance(keys, list) or not set(keys) <= set(NUMBERS) or len(set(keys)) < len(keys):
        raise wrong
    try:
        centre, slope = (_numbers(given[key]) for key in ("centre", "slope"))
        information = np.array([_numbers(row) for row in given["information"]])
    except (TypeError, ValueError) as error:
        raise wrong from error
    size = len(keys)
    fits = (centre.shape, slope.shape, information.shape) == ((size,), (size,), (size, size))
    if not fits or not np.allclose(information, information.T, rtol=1e-6):
        raise wrong
    scale = np.sqrt(np.maximum(np.diag(information), 1e-300))
    if np.linalg.eigvalsh(information / np.outer(scale, scale)).min() < -1e-6:
        raise wrong
    return Knowledge(tuple(keys), centre, information, slope)


def _numbers(row: Sequence[object]) -> NDArray[np.float64]:
    return np.array([units.parse(cell, "ratio") for cell in row], dtype=float)


def _logs(given: object) -> dict[str, str]:
    """Read the digests of the logs of a fit; raises WrongValueError."""
    if given is None:
        return {}
    if not isinstance(given, dict) or not all(
        isinstance(sha, str) and len(sha) == 64 for sha in given.values()
    ):
        found = "is not a list of logs"
        raise WrongValueError(found, "a SHA-256 by the name of each", REMEDY)
    return dict(given)


def _text(key: str, value: float) -> str:
    column = COLUMNS[key]
    return f"{float(column.to_drawing(value)):.6g} {column.unit.symbol}".strip()


def read_study_text(path: Path) -> str:
    """Text of a study file; the values of the fit it names take the place of the name.

    Raises
    ------
    StudyError
        Where study or fit cannot be read, or the fit lies outside the study's folder.
    """
    text = read_text(path)
    read = read_lines(text, str(path))
    named = _machine(read.texts).get("fit")
    if not isinstance(named, str):
        return text
    file = _beside(path, named, read.lines[KEYS])
    read_fit(file)
    return with_value(text, KEYS, inline(read_lines(read_text(file), str(file)).texts))


def take_fit(read: StudyText, file: str) -> tuple[dict[str, Any], Fit | None, list[Problem]]:
    """Sections of a study with its fit's values under machine, the fit, and what is wrong."""
    given = _machine(read.texts)
    if "fit" not in given:
        return dict(read.texts), None, []
    plain = {key: value for key, value in given.items() if key != "fit"}
    texts = {**read.texts, "machine": plain}
    named = given["fit"]
    if not isinstance(named, dict):
        found = f"{units.shorten(named)} is not read here"
        return (
            texts,
            None,
            [
                Problem(
                    file=file, line=read.lines[KEYS], key="machine.fit", found=found, remedy=HELP
                )
            ],
        )
    fit, problems = fit_of(named, read, file, KEYS)
    if fit is None:
        return texts, None, problems
    for key in fit.values:
        ranges = read.texts.get("ranges")
        if isinstance(ranges, dict) and key in ranges:
            line = read.lines["ranges", key]
            remedy = "take it out of the ranges, or out of the fit"
            problems.append(
                Problem(
                    file=file,
                    line=line,
                    key=f"ranges.{key}",
                    found="is given in the fit too",
                    remedy=remedy,
                )
            )
    coefficients: Any = named["coefficients"]
    fitted = {key: coefficients[key]["value"] for key in fit.values}
    usual = PumpMachine if read.texts.get("kind") == "pump" else Machine
    drawn = {key: _drawn(usual, key, plain.get(key)) for key in fit.values}
    return {**texts, "machine": {**plain, **fitted}}, replace(fit, drawn=drawn), problems


def _drawn(machine: type[BaseModel], key: str, stated: object) -> float:
    """Give the number that the study states, or its usual value; NaN where that is computed."""
    try:
        return float(TypeAdapter(value_type(key)).validate_python(stated))
    except (ValidationError, TypeError, ValueError):
        known = machine.model_fields.get(key)  # one of another kind is refused where it is read
        usual = None if known is None else known.default
        return math.nan if usual is None else float(usual)


def _machine(texts: Mapping[str, Any]) -> Mapping[str, Any]:
    found = texts.get("machine")
    return found if isinstance(found, dict) else {}


def _beside(path: Path, name: str, line: int) -> Path:
    """Find the fit file, which must lie in the study's folder, also where links lead to it."""
    folder = path.parent.resolve()
    try:
        file = (folder / name).resolve()
        inside = file.is_relative_to(folder)
    except (OSError, ValueError, RuntimeError):
        inside, file = False, folder
    if not inside or Path(name).is_absolute():
        found = f"{units.shorten(name)} lies outside the study's folder"
        raise StudyError(
            [Problem(file=str(path), line=line, key="machine.fit", found=found, remedy=HELP)]
        )
    if not file.is_file():
        found = f"there is no file {units.shorten(name)} beside the study"
        raise StudyError(
            [Problem(file=str(path), line=line, key="machine.fit", found=found, remedy=HELP)]
        )
    return path.parent / name
