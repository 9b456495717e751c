"""Study files: text to Study with every problem at its line, the starter, and typed values."""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from engine import units
from engine.catalogue import bearing_names, material_names, process_names
from engine.columns import COLUMNS, columns_of
from engine.errors import Problem, StudyError, WrongValueError, nearest, suggestion
from engine.files import shared_file
from engine.stage_columns import is_idle
from engine.study.events import Event
from engine.study.fit_file import read_study_text, take_fit
from engine.study.generators import generators
from engine.study.kinds import KINDS, Kind, homes_of, kind_of, value_type
from engine.study.loads import Appliance
from engine.study.machine import SETTLED
from engine.study.plausible import checked
from engine.study.stages import with_stages
from engine.study.study import Study
from engine.study.values import RANGE_FORMS, Limit, Range, quantity_of
from engine.study.yaml_text import Keys, StudyText, dotted, read_lines
from engine.units import shown

KNOWN_KEYS: Mapping[str, tuple[str, ...]] = KINDS["turbine"].known
OF_DUTY = KINDS["pump"].known["duty"]
"""Keys that a pump's duty has."""
OF_SUPPLY = tuple(dict.fromkeys(key for kind in KINDS.values() for key in kind.known["supply"]))
"""Keys that the supply of any kind of machine has."""
"""Keys that each section of a study of a turbine may hold; '' is the file itself."""

_SHAPES = {
    "model_type": ("no section", "keys with their values", "indent them below"),
    "dict_type": ("no section", "keys with their values", "indent them below"),
    "tuple_type": ("no list", "a list such as [one, another]", "put it in brackets"),
    "bool_parsing": ("is neither yes nor no", "yes or no", "write true or false"),
    "bool_type": ("is neither yes nor no", "yes or no", "write true or false"),
    "string_type": ("no single text", "one text", "write it on one line"),
}
"""What to say of a value of the wrong kind, by pydantic's name of the error."""


INSTEAD = {
    "exhaust_bore": "eye_diameter",
    "exhaust_ends": "suction_ends",
    "exhaust_blockage": "eye_blockage",
    "exhaust_loss": "eye_loss",
    "turbine_efficiency": "pump_efficiency",
    "supply_efficiency": "wire_to_water",
    "generator_load": "motor_load",
    "cavitation_margin": "npsh_margin",
    "mass_flow": "flow",
} | {f"generator_{word}": f"motor_{word}" for word in
     ("power", "speed", "efficiency", "iron_share", "overspeed")}  # fmt: skip
INSTEAD |= {theirs: ours for ours, theirs in INSTEAD.items()}
"""What the other kind of machine calls the same thing."""


def known_names() -> dict[str, tuple[str, ...]]:
    """Rows of the tables that a study may name."""
    return {
        "material": material_names(),
        "process": process_names(),
        "bearing": bearing_names(),
        "generator": tuple(generators()),
    }


def read_study(path: str | Path, supply: Mapping[str, str] | None = None) -> Study:
    """Study of a file. Raises StudyError with every problem of the file.

    `supply` holds texts by key that replace those of the section supply, or of a pump's duty.
    """
    return parse_study(read_study_text(Path(path)), str(path), supply)


def parse_study(text: str, file_name: str, supply: Mapping[str, str] | None = None) -> Study:
    """Study of a text; `file_name` is for messages. Raises StudyError with every problem.

    `supply` replaces values of the supply, or of a pump's duty, as typed on the command line.
    """
    read = with_stages(read_lines(text, file_name), file_name)
    if supply:
        read = _with_supply(read, supply)
    texts, fit, faults = take_fit(read, file_name)
    problems = [*read.problems, *faults]
    if "fit" in texts:
        found, remedy = "is not a section", "name the fit's file as fit: FILE under machine"
        problems.append(
            Problem(file=file_name, line=read.lines["fit",], key="fit", found=found, remedy=remedy)
        )
    kind, wrong = _kind(texts)
    if wrong is not None:
        stands = "kind" if "kind" in texts else "duty"
        problems.append(_placed(wrong, file_name, read.lines[stands,], stands))
    problems += [
        _placed(_unknown((key,), kind), file_name, read.lines[key,], key)
        for key in texts
        if key in kind.study.model_fields and key not in (*kind.known[""], "fit")
    ]
    if fit is not None and "fit" not in kind.machine_only:
        found, remedy = f"fits a turbine, and this is a {kind.name}", "take it out"
        unfit = WrongValueError(found, remedy=remedy)
        problems.append(_placed(unfit, file_name, read.lines["machine", "fit"], "machine.fit"))
    given = {**texts, "kind": kind.name, "fit": fit}
    try:
        study = kind.study.model_validate(given, context={"names": known_names()})
        if not problems:
            return study
    except ValidationError as error:
        problems += _problems(error.errors(), read, file_name, kind)
    typed = {f"{_home(read, key)}.{key}" for key in supply or ()}
    problems = [
        replace(problem, file="command line", line=None) if problem.key in typed else problem
        for problem in problems
    ]
    raise StudyError(sorted(dict.fromkeys(problems), key=lambda problem: problem.line or 0))


def _with_supply(read: StudyText, supply: Mapping[str, str]) -> StudyText:
    """Put other values into supply and duty; one not stated there has the line of its section."""
    texts, lines = dict(read.texts), dict(read.lines)
    for key, value in supply.items():
        home = _home(read, key)
        stated = texts.get(home)
        texts[home] = {**(stated if isinstance(stated, dict) else {}), key: value}
        lines.setdefault((home, key), read.lines.get((home,), 1))
    return replace(read, texts=texts, lines=lines)


def _home(read: StudyText, key: str) -> str:
    """Name the section to which a key of supply or duty belongs."""
    return "duty" if key in OF_DUTY and "duty" in read.texts else "supply"


def _kind(texts: Mapping[str, Any]) -> tuple[Kind, WrongValueError | None]:
    """Kind of machine of a study, with what is wrong with the word for it."""
    word = texts.get("kind", "turbine")
    if "kind" not in texts and "duty" in texts:
        remedy = "add kind: pump, its line beginning at the margin"
        return KINDS["pump"], WrongValueError("belongs to a pump", remedy=remedy)
    if isinstance(word, str) and word in KINDS:
        return KINDS[word], None
    near = nearest(str(word), tuple(KINDS))
    remedy = f"perhaps you meant {near}" if near else "leave it out for a turbine"
    wrong = WrongValueError(units.shorten(str(word)), " or ".join(KINDS), remedy)
    return KINDS[near or "turbine"], wrong


def study_text_hash(text: str) -> str:
    """SHA-256 of a study's text, whatever its line ends and byte order mark."""
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").encode()
    return hashlib.sha256(lines).hexdigest()


def starter_text(name: str) -> str:
    """Commented study of this title, ready to run; raises StudyError for a bad title."""
    template = shared_file("starter.yaml").read_text(encoding="utf-8")
    text = template.replace("{title}", json.dumps(name, ensure_ascii=False))
    parse_study(text, "starter.yaml")
    return text


def split_supply(texts: Sequence[str]) -> tuple[dict[str, str], list[str]]:
    """Take what changes supply or duty out of texts KEY=VALUE: by key of its section, and the rest.

    A key of the supply may have `supply_` before it, as in supply_pressure. Raises StudyError for
    one that is given twice.

    Examples
    --------
    >>> split_supply(["speed=9000 rpm", "supply_pressure=4 bar gauge"])
    ({'pressure': '4 bar gauge'}, ['speed=9000 rpm'])
    """
    changed: dict[str, str] = {}
    rest: list[str] = []
    for text in texts:
        key, equals, value = (part.strip() for part in text.partition("="))
        key = key if key in OF_SUPPLY else key.removeprefix("supply_")
        if not equals or key not in (*OF_SUPPLY, *OF_DUTY):
            rest.append(text)
        elif key in changed:
            error = WrongValueError(found="is given twice", remedy="keep one of the two")
            raise StudyError([_placed(error, "command line", None, f"supply.{key}")])
        else:
            changed[key] = value
    return changed, rest


def parse_overrides(texts: Sequence[str], study: Study) -> dict[str, Any]:
    """One build out of texts such as "gap=0.3mm": SI by key, for every range of the study.

    Any machine number may be named too. A range that holds one value need not be, nor one of a
    stage that the build does not have; a fixed value may be overridden as well, and values outside
    the ranges are taken. Raises StudyError.
    """
    ranges = study.searched()
    build: dict[str, Any] = {key: given.lowest for key, given in ranges.items() if given.is_fixed}
    mistakes: list[tuple[str, WrongValueError]] = []
    named: set[str] = set()
    for text in texts:
        key, value = (part.strip() for part in text.partition("=")[::2])
        if key == "speed" and value == SETTLED and study.speed_settles and key not in named:
            named.add(key)  # as the study has it
            continue
        try:
            build[key] = _override(text, key, value, named, kind_of(study))
        except WrongValueError as error:
            mistakes.append((key, error))
        named.add(key)
    known = {key: given.lowest for key, given in ranges.items()} | study.fixed() | build
    n_stages = known.get("stage_count", 1)
    for key in (key for key in ranges if key not in build and key not in named):
        if is_idle(key, n_stages):
            build[key] = ranges[key].lowest  # as a search has it
            continue
        expected = f"one of the study, from {_text(key, ranges[key].lowest)}"
        expected += f" to {_text(key, ranges[key].highest)}"
        mistakes.append((key, WrongValueError("has no value", expected, f"add {key}=VALUE")))
    if mistakes:
        raise StudyError([_placed(error, "command line", None, key) for key, error in mistakes])
    return build


def _override(text: str, key: str, value: str, named: set[str], kind: Kind) -> float | int | str:
    known = kind.known["ranges"]
    if "=" not in text:
        raise WrongValueError(
            found="has no =", expected="KEY=VALUE", remedy="write it as in gap=0.3mm"
        )
    homes = [section for section in kind.known if section and key in kind.known[section]]
    if key not in known and homes:
        found = f"belongs to the section {homes[0]}, not to a build"
        raise WrongValueError(found, "a variable or machine number", "change it in the study file")
    if key not in known and (others := homes_of(key, kind)):
        raise WrongValueError(found=f"belongs to a {next(iter(others))}, and this is a {kind.name}")
    if key not in known:
        raise WrongValueError(
            found="is not a variable or machine number",
            remedy=suggestion(key, (*known, *_beside(kind))),
        )
    if key in named:
        raise WrongValueError(found="is given twice", remedy="keep one of the two")
    try:
        read: float | int | str = _reader(key).validate_python(
            value, context={"names": known_names()}
        )
    except ValidationError as error:
        raise _mistake(error.errors()[0], kind) from error
    checked("machine", key, read)
    return read


def _beside(kind: Kind) -> tuple[str, ...]:
    """List what else may be given with a build, as it may be written."""
    supply = kind.known["supply"]
    return (*supply, *(f"supply_{key}" for key in supply), *kind.known.get("duty", ()))


@cache
def _reader(key: str) -> TypeAdapter[float | int | str]:
    """Make what reads a known key; making it takes longer than reading."""
    return TypeAdapter(value_type(key))


def _text(key: str, value: Any) -> str:
    return value if isinstance(value, str) else shown(value, COLUMNS[key].unit.dimension)


def _placed(error: WrongValueError, file: str, line: int | None, key: str) -> Problem:
    return Problem(
        file=file,
        line=line,
        key=key,
        found=error.found,
        expected=error.expected,
        remedy=error.remedy,
    )


def _problems(
    errors: Sequence[ErrorDetails], read: StudyText, file: str, kind: Kind
) -> list[Problem]:
    """Place each mistake in the file; a misspelled key is not reported as missing as well."""
    unknown = [error["loc"] for error in errors if error["type"] == "extra_forbidden"]
    meant = {keys[-1] for keys in unknown}
    meant |= {nearest(str(keys[-1]), _known(keys, kind)) for keys in unknown}
    problems = []
    # In {max: 30,000 rpm} the comma parts 30, which then has no unit, from the key 000 rpm.
    cut = {keys[:-1] for keys in unknown if re.match(r"\d{3}\b", str(keys[-1]))}
    for error in errors:
        keys, is_missing = error["loc"], error["type"] == "missing"
        if keys[:-1] in cut and error["type"] != "extra_forbidden":
            continue
        if error["type"] == "default_factory_not_called" or (is_missing and keys[-1] in meant):
            continue
        stands = next(keys[:n] for n in range(len(keys), -1, -1) if keys[:n] in read.lines)
        key = dotted(keys if is_missing else stands)
        problems.append(_placed(_mistake(error, kind, stands), file, read.lines[stands], key))
    return problems


def _mistake(error: ErrorDetails, kind: Kind, stands: Keys = ()) -> WrongValueError:
    """Say in our words what pydantic found; `stands` are the keys that are in the file."""
    context, keys = error.get("ctx", {}), error["loc"]
    if isinstance(context.get("error"), WrongValueError):
        mistake: WrongValueError = context["error"]
        return mistake
    if error["type"] == "missing":
        return _missing(keys, kind, is_empty=stands == keys)
    if error["type"] == "extra_forbidden":
        return _unknown(keys, kind)
    if error["type"] == "literal_error":
        words = re.findall(r"'([^']+)'", context["expected"])
        word = str(error["input"])
        near = nearest(word, words)
        remedy = near and f"perhaps you meant {near}"
        return WrongValueError(units.shorten(word), " or ".join(words), remedy)
    return WrongValueError(*_SHAPES.get(error["type"], (error["msg"],)))


def _known(keys: tuple[str | int, ...], kind: Kind) -> tuple[str, ...]:
    """Keys that may stand beside the last of these."""
    section = "" if len(keys) == 1 else str(keys[0])
    if len(keys) < 3:
        return kind.known[section]
    if section in ("loads", "events"):
        return tuple((Appliance if section == "loads" else Event).model_fields)
    return tuple((Range if section == "ranges" else Limit).model_fields)


def _unknown(keys: tuple[str | int, ...], kind: Kind) -> WrongValueError:
    word, known = str(keys[-1]), _known(keys, kind)
    if re.match(r"\d{3}\b", word):
        found = f"{units.shorten(word)} stands alone: the comma before it parts two entries"
        return WrongValueError(found, remedy="write nothing between thousands, as in 30000 rpm")
    sections = kind.known
    homes = [section for section in sections if section and word in sections[section]]
    if known == sections["limits"] and word in columns_of(kind.name):
        remedy = "bound it under ranges" if word in sections["ranges"] else ""
        return WrongValueError("is not a result with a number", "one of the results", remedy)
    if homes:
        return WrongValueError(
            "is not a key of this section", remedy=f"put it under {' or '.join(homes)}"
        )
    if len(keys) > 1 and word in sections[""]:
        return WrongValueError("is a section of its own", remedy="begin its line at the margin")
    if others := homes_of(word, kind):
        return _of_another(word, kind, others)
    remedy = suggestion(word, known) or "take it out; `swirlstack keys` tells of every key"
    return WrongValueError("unknown key", remedy=remedy)


def _of_another(word: str, kind: Kind, others: Mapping[str, Sequence[str]]) -> WrongValueError:
    """Say that a key has a meaning for another kind of machine only."""
    other = next(iter(others))
    remedy = f"take it out, or write kind: {other} if the study is of one"
    if word in INSTEAD and INSTEAD[word] in kind.known[others[other][0]]:
        remedy = f"write {INSTEAD[word]}, or take it out"
    return WrongValueError(f"belongs to a {other}, and this is a {kind.name}", remedy=remedy)


def _missing(keys: tuple[str | int, ...], kind: Kind, *, is_empty: bool) -> WrongValueError:
    section, key = str(keys[0]), str(keys[-1])
    found = "is empty" if is_empty else "is missing"
    if section == "ranges" and len(keys) == 2:
        return WrongValueError(found, RANGE_FORMS, f"add {key} under ranges")
    quantity = (
        quantity_of(kind.models[section].model_fields[key].metadata)
        if section in ("supply", "duty") and len(keys) == 2
        else None
    )
    if quantity:
        example = units.unit_example(quantity.dimension)
        expected = units.expectation(quantity.dimension)
        return WrongValueError(found, expected, f"add {key}: {example} under {section}")
    if key == "appliances":
        return WrongValueError(found, "appliances by name", "indent them below, as led-lamp: 2")
    if key == "title":
        return WrongValueError(found, "a line of text", "add title: what you want to know")
    if key == "duty":
        remedy = "write duty: {flow: 25 l/min}, or add static_head and head_loss to it"
        return WrongValueError(found, "what the pump is to deliver", remedy)
    return WrongValueError(found, "a section", "`swirlstack new NAME` writes one to start from")
