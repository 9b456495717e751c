"""Keys in which studies differ, with each value as a study file writes it."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from pydantic import BaseModel

from engine.columns import COLUMNS, UNITS, is_share
from engine.fluids.by_name import is_vapour
from engine.study.fit import Fit
from engine.study.machine import SETTLED
from engine.study.study import Study
from engine.study.supply import Supply, source_of
from engine.study.values import Limit, Range, quantity_of
from engine.units import DIMENSIONS, FREE_AIR_DENSITY
from reports.kit.quantities import THIN, inline_label, listed, number, quantity, setting

Entries: TypeAlias = Mapping[tuple[str, str], str]
"""Text of each value by section and key."""

SEARCHED_TOO = ("machine", "ranges")
"""Sections that share their keys: one study may search what another fixes."""
ABSENT = {"limits": "no limit", "aims": "no aim", "build": "not stated", "fit": "none"}


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
            label = label or section.capitalize()
            found.append(Difference(section, key, label, values))
    sections = dict.fromkeys(name for study in studies for name in type(study).model_fields)
    order = ["build" if name in SEARCHED_TOO else name for name in sections]
    return tuple(sorted(found, key=lambda difference: order.index(difference.section)))


def _value(text: str) -> str:
    """Reduce a text to its value: a usual value is the same whether it is stated or not."""
    return text.removeprefix("not stated (usual value ").removesuffix(")")


def _entries(study: Study) -> Entries:
    words = _Words(study.supply)
    found: dict[tuple[str, str], str] = {}
    for section in type(study).model_fields:
        if section == "title":
            continue
        if section in SEARCHED_TOO:
            found |= {("build", key): text for key, text in words.build(study)}
        elif section == "limits":
            found |= {(section, key): words.bounds(key, each) for key, each in study.limits.items()}
        elif section == "aims":
            found |= {
                (section, key): f"{way}, as aim {place}"
                for place, (key, way) in enumerate(study.aims.items(), start=1)
            }
        else:
            texts = words.section(getattr(study, section))
            found |= {(section, key): text for key, text in texts}
    return found


def _usual(text: str) -> str:
    return f"not stated (usual value {text})"


WITHOUT = ("generator_kv", "winding_resistance", "generator_voltage")
"""Machine numbers that are not computed where a study gives none."""


@dataclass(frozen=True)
class _Words:
    """Values of one study as a workshop writes them."""

    supply: Supply

    @property
    def _boils(self) -> bool:
        """Whether it is a vapour: pressures are absolute, as in its tables, and flows masses."""
        return is_vapour(str(self.supply.fluid))

    def section(self, section: Any) -> Iterator[tuple[str, str]]:
        """Yield the keys of a section with their texts, without those that have no value."""
        if not isinstance(section, BaseModel):
            if section:
                yield "", self.plain(section)
            return
        for key, field in type(section).model_fields.items():
            text = self.text(getattr(section, key), field.rebuild_annotation())
            if text:
                yield key, text if key in section.model_fields_set else _usual(text)

    def build(self, study: Study) -> Iterator[tuple[str, str]]:
        """Yield what is searched with its range, then what is fixed."""
        for key, values in study.searched().items():
            yield key, self.range(key, values)
        for key, value in study.fixed().items():
            text = self.made(key, value)
            yield key, text if key in study.machine.model_fields_set else _usual(text)
        cost = getattr(study.machine, "build_cost", None)  # a pump has none
        if cost is not None:
            yield "build_cost", str(cost)

    def made(self, key: str, value: Any) -> str:
        """Write a machine number; '' for none."""
        if value is None or isinstance(value, str):
            return value or ""
        if math.isnan(value):
            return "none" if key in WITHOUT else "computed"
        return self.column(key, value)

    def text(self, value: Any, annotation: Any) -> str:
        """Write a value that this annotation reads; '' for none."""
        quantity = quantity_of(annotation)
        if value is None:
            return ""
        if isinstance(value, float) and math.isnan(value):
            return "computed"
        if quantity is None or isinstance(value, bool) or not isinstance(value, int | float):
            return self.plain(value)
        if quantity.dimension == "ratio" and min(quantity.most, quantity.below) == 1:
            return f"{number(100 * value, 6, trim=True)}{THIN}%"
        return self.drawn(value, quantity.dimension)

    def plain(self, value: Any) -> str:
        """Write a value that has no unit of its own, such as a list of loads."""
        if isinstance(value, BaseModel):
            fields = type(value).model_fields
            unusual = [key for key, field in fields.items() if getattr(value, key) != field.default]
            told = dict(self.section(value))
            return " ".join(f"{key} {told[key]}" for key in unusual if key in told)
        if isinstance(value, Mapping):
            return ", ".join(f"{key} {self.plain(each)}".strip() for key, each in value.items())
        if isinstance(value, Fit):
            found = "; ".join(
                f"{inline_label(k)} {quantity(k, v)}" for k, v in value.values.items()
            )
            return found + (f", from {listed(list(value.logs))}" if value.logs else "")
        if isinstance(value, list | tuple):
            return "; ".join(map(self.plain, value))
        if isinstance(value, bool):
            return "yes" if value else "no"
        return number(value, 6, trim=True) if isinstance(value, int | float) else str(value)

    def drawn(self, value: float, dimension: str) -> str:
        """Write a number in its drawing unit; a pressure says gauge or absolute."""
        if dimension == "air_flow":
            return self._flow(value)
        over = value - self.supply.atmosphere
        if dimension == "pressure" and over >= 0 and not self._boils:
            return f"{number(over / 1e5, 6, trim=True)}{THIN}bar gauge"
        unit = next((unit for unit in UNITS.values() if unit.dimension == dimension), None)
        if unit is None:
            return f"{number(value, 6, trim=True)}{THIN}{DIMENSIONS[dimension].unit}"
        text = number((value - unit.si_offset) / unit.si_factor, 6, trim=True)
        symbol = {"count": "", "bar": "bar absolute"}.get(unit.symbol, unit.symbol)
        return f"{text}°" if symbol == "deg" else f"{text}{THIN}{symbol}".removesuffix(THIN)

    def _flow(self, value: float) -> str:
        """Write a flow as what a meter of the supply shows, and as mass."""
        mass = f"{number(1e3 * value)}{THIN}g/s"
        if self._boils:
            return mass
        liquid = source_of(self.supply).density
        litres = 60e3 * value / (liquid if math.isfinite(liquid) else FREE_AIR_DENSITY)
        of = "" if math.isfinite(liquid) else " of free air"
        return f"{number(litres, 4, trim=True)}{THIN}l/min{of} ({mass})"

    def column(self, key: str, value: Any) -> str:
        """Write a value of a column."""
        if COLUMNS[key].is_text:
            return str(value)
        if is_share(key):
            return setting(key, value)
        return self.drawn(value, COLUMNS[key].unit.dimension)

    def range(self, key: str, values: Range[Any]) -> str:
        """Write what is searched."""
        if values.choices is not None:
            return ", ".join(self.column(key, value) for value in values.choices)
        if isinstance(values.lowest, float) and math.isnan(values.lowest):
            return SETTLED
        if values.is_fixed:
            return self.column(key, values.lowest)
        span = f"{self.column(key, values.min)} to {self.column(key, values.max)}"
        if values.step is None:
            return f"{span}, any value"
        if COLUMNS[key].is_count and values.step == 1:
            return span
        return f"{span} in steps of {self.column(key, values.step)}"

    def bounds(self, key: str, limit: Limit[float]) -> str:
        """Write what a limit asks."""
        sides = {"at least": limit.min, "at most": limit.max}
        return " and ".join(
            f"{word} {self.column(key, bound)}"
            for word, bound in sides.items()
            if bound is not None
        )
