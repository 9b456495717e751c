"""Keys in which studies differ, with each value as a study file writes it."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from pydantic import BaseModel

from engine.columns import COLUMNS
from engine.study.machine import Machine
from engine.study.study import Study
from engine.study.values import Limit, Range, quantity_of
from engine.units import shown

Entries: TypeAlias = Mapping[tuple[str, str], str]
"""Text of each value by section and key."""

SEARCHED_TOO = ("machine", "ranges")
"""Sections that share their keys: one study may search what another fixes."""
ABSENT = {"limits": "no limit", "aims": "no aim", "build": "not stated"}


@dataclass(frozen=True)
class Difference:
    """One key in which some study differs from another."""

    section: str
    """Section of the study file, or 'build' for keys under `machine` or `ranges`."""
    key: str
    label: str
    values: tuple[str, ...]
    """One for each study, in drawing units."""


def differences(studies: Sequence[Study]) -> tuple[Difference, ...]:
    """List every key whose value is not the same in all studies, in the order of a study file."""
    entries = [_entries(study) for study in studies]
    keys = dict.fromkeys(key for each in entries for key in each)
    found = []
    for section, key in keys:
        values = tuple(
            each.get((section, key), ABSENT.get(section, "not stated")) for each in entries
        )
        if len({_value(text) for text in values}) > 1:
            label = COLUMNS[key].label if key in COLUMNS else key.replace("_", " ").capitalize()
            found.append(Difference(section, key, label, values))
    order = ["build" if name in SEARCHED_TOO else name for name in Study.model_fields]
    return tuple(sorted(found, key=lambda difference: order.index(difference.section)))


def _value(text: str) -> str:
    """Reduce a text to its value: a usual value is the same whether it is stated or not."""
    return text.removeprefix("not stated (usual value ").removesuffix(")")


def _entries(study: Study) -> Entries:
    found: dict[tuple[str, str], str] = {}
    for section in type(study).model_fields:
        if section == "title":
            continue
        if section in SEARCHED_TOO:
            found |= {("build", key): text for key, text in _build(study)}
        elif section == "limits":
            found |= {(section, key): _bounds(key, limit) for key, limit in study.limits.items()}
        elif section == "aims":
            found |= {
                (section, key): f"{way}, as aim {place}"
                for place, (key, way) in enumerate(study.aims.items(), start=1)
            }
        else:
            found |= {(section, key): text for key, text in _section(getattr(study, section))}
    return found


def _section(section: Any) -> Iterator[tuple[str, str]]:
    """Yield the keys of a section with their texts, without those that have no value."""
    if not isinstance(section, BaseModel):
        if section:
            yield "", _words(section)
        return
    for key, field in type(section).model_fields.items():
        text = _text(getattr(section, key), field.rebuild_annotation())
        if text:
            yield key, text if key in section.model_fields_set else _usual(text)


def _build(study: Study) -> Iterator[tuple[str, str]]:
    for key, values in study.searched().items():
        yield key, _range(key, values)
    for key, value in study.fixed().items():
        text = _text(value, Machine.model_fields[key].rebuild_annotation())
        yield key, text if key in study.machine.model_fields_set else _usual(text)
    if study.machine.build_cost is not None:
        yield "build_cost", str(study.machine.build_cost)


def _usual(text: str) -> str:
    return f"not stated (usual value {text})"


def _text(value: Any, annotation: Any) -> str:
    quantity = quantity_of(annotation)
    if value is None:
        return ""
    if isinstance(value, float) and math.isnan(value):
        return "computed"
    if quantity is not None and isinstance(value, int | float):
        return shown(value, quantity.dimension)
    return _words(value)


def _words(value: Any) -> str:
    """Write a value that has no unit of its own, such as a list of loads."""
    if isinstance(value, BaseModel):
        return ", ".join(f"{key} {text}" for key, text in _section(value))
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_words(each)}" for key, each in value.items())
    if isinstance(value, list | tuple):
        return "; ".join(_words(each) for each in value)
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _of_column(key: str, value: Any) -> str:
    return str(value) if COLUMNS[key].is_text else shown(value, COLUMNS[key].unit.dimension)


def _range(key: str, values: Range[Any]) -> str:
    if values.choices is not None:
        return ", ".join(_of_column(key, value) for value in values.choices)
    span = f"{_of_column(key, values.min)} to {_of_column(key, values.max)}"
    if values.is_fixed:
        return _of_column(key, values.lowest)
    if values.step is None:
        return f"{span}, any value"
    return span if COLUMNS[key].is_count and values.step == 1 else _stepped(key, span, values.step)


def _stepped(key: str, span: str, step: Any) -> str:
    return f"{span} in steps of {_of_column(key, step)}"


def _bounds(key: str, limit: Limit[float]) -> str:
    sides = {"at least": limit.min, "at most": limit.max}
    return " and ".join(
        f"{word} {_of_column(key, bound)}" for word, bound in sides.items() if bound is not None
    )
