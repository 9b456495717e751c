"""What can be turned: the ranges of a study, and every number of machine and supply."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from engine.columns import COLUMNS
from engine.study.kinds import kind_of, value_type
from engine.study.plausible import PLAUSIBLE
from engine.study.pump.study import PumpStudy
from engine.study.schema import Schema, said_of, schema_of
from engine.study.study import Study
from engine.study.supply import idle_keys
from engine.study.values import Range, quantity_of
from engine.study.written import value_text
from engine.study.yaml_text import Texts
from reports.kit.quantities import begun

FINE = 1000
"""Steps of a slider over a range without steps."""


@dataclass(frozen=True)
class Knob:
    """One value that can be turned, as the page shows it."""

    key: str
    label: str
    unit: str
    meaning: str
    start: str
    """Text of its value in the study; '' for one that is computed or, of a range, chosen later."""
    words: tuple[str, ...] = ()
    """Words to choose from; empty for a number."""
    listed: tuple[str, ...] = ()
    """Numbers to choose from, in the unit."""
    low: float = 0.0
    step: float = 0.0
    count: int = 0
    """Numbers from `low` on by `step`, in the unit; 0 where they are listed or there are none."""
    plausible: str = ""
    """What it can be, in words."""

    @property
    def is_number(self) -> bool:
        """Whether it holds a number."""
        return not self.words

    def as_plain(self) -> dict[str, Any]:
        """Give what the script of the page needs."""
        plain = asdict(self)
        return {
            name: plain[name] for name in ("key", "unit", "start", "listed", "low", "step", "count")
        }


def knobs_of(study: Study) -> tuple[Knob, ...]:
    """Give a knob for each range of the study that holds more than one value."""
    return tuple(_knob(key, given) for key, given in study.searched().items() if not given.is_fixed)


def fixed_of(study: Study) -> tuple[Knob, ...]:
    """Give a knob for each machine number, and each range of one value."""
    schema = schema_of(study.kind)["properties"]["machine"]["properties"]
    found = []
    single = {key: given for key, given in study.searched().items() if given.is_fixed}
    values = {**{key: given.lowest for key, given in single.items()}, **study.fixed()}
    for key, value in values.items():
        words = _words(schema.get(key, {}))
        found.append(_plain(key, value_text(key, value), words, "machine", value_type(key)))
    return tuple(found)


def supply_of(study: Study, texts: Mapping[str, Texts]) -> tuple[Knob, ...]:
    """Give a knob for each number of the supply that has a meaning for its fluid, and of a duty."""
    found: list[Knob] = []
    for section in ("supply", *(["duty"] if study.kind == "pump" else [])):
        found += _section_of(study, section, texts)
    return tuple(found)


def _section_of(study: Study, section: str, texts: Mapping[str, Texts]) -> Iterator[Knob]:
    """Give the knobs of one section."""
    schema = schema_of(study.kind)["properties"][section]["properties"]
    stated = texts.get(section)
    given = stated if isinstance(stated, dict) else {}
    idle = _idle(study) if section == "supply" else set()
    for key, field in kind_of(study).models[section].model_fields.items():
        if key == "fluid" or key in idle:
            continue
        text = str(given.get(key, schema[key].get("default", "")))
        words = _words(schema[key])
        usual = said_of(field, "usual")
        knob = _plain(key, text, words, section, field.rebuild_annotation())
        meaning = f"{field.description}" + (f"; usual: {usual}" if usual else "")
        label = COLUMNS[key].label if key in COLUMNS else begun(key.replace("_", " "))
        yield Knob(key, label, "", meaning, text, words, plausible=knob.plausible)


def _idle(study: Study) -> set[str]:
    """List keys of the supply that have no meaning for its fluid."""
    return {*study.supply.idle} if isinstance(study, PumpStudy) else idle_keys(study.supply)


def _words(schema: Schema) -> tuple[str, ...]:
    return tuple(word for word in schema.get("enum", ()) if isinstance(word, str))


def _plain(key: str, text: str, words: tuple[str, ...], section: str, annotation: Any) -> Knob:
    """Knob of a value without a range."""
    row = PLAUSIBLE.get(section, {}).get(key)
    quantity = quantity_of(annotation)
    plausible = row.words if row else quantity.expectation if quantity else ""
    column = COLUMNS.get(key)
    return Knob(
        key,
        column.label if column else key,
        _unit(key),
        column.meaning if column else "",
        text,
        words,
        plausible=plausible,
    )


def _knob(key: str, given: Range[Any]) -> Knob:
    column, values = COLUMNS[key], given.values
    about = (key, column.label, _unit(key), column.meaning, "")
    if column.is_text:
        return Knob(*about, words=tuple(map(str, values or ())))
    row = PLAUSIBLE["ranges"].get(key)
    said = row.words if row else ""
    if values is not None and given.choices is not None:
        return Knob(*about, listed=tuple(_numbers(key, values)), plausible=said)
    low = float(_bare(key, given.lowest))
    if values is None:
        wide = float(_bare(key, given.highest)) - low
        return Knob(*about, low=low, step=wide / FINE, count=FINE + 1, plausible=said)
    step = float(_bare(key, given.step or 0.0))
    return Knob(*about, low=low, step=step, count=len(values), plausible=said)


def _numbers(key: str, values: tuple[Any, ...]) -> Iterator[str]:
    for value in values:
        yield _bare(key, value)


def _bare(key: str, value: float) -> str:
    """Write a number without its unit."""
    return value_text(key, value).partition(" ")[0]


def _unit(key: str) -> str:
    column = COLUMNS.get(key)
    return "" if column is None or column.is_text or column.is_count else column.unit.symbol
