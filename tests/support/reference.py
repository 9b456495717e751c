"""The tables of shared/study-file.md as the models give them.

`python -m tests.support.reference` writes them into the document, each between the two lines that
mark its place; everything else of the document is written by hand.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from engine import units
from engine.bench.fit import COEFFICIENTS, PUMP_COEFFICIENTS
from engine.bench.log_columns import EVERY_CONDITION, EVERY_READING, MEANINGS, OF_KIND, USUAL
from engine.bench.log_text import HEAD_KEYS, SECTIONS
from engine.columns import CHANCE_ALL, COLUMNS, Column, columns_of
from engine.columns import Machine as Kind
from engine.study.events import Event
from engine.study.kinds import KINDS, value_type
from engine.study.loads import Appliance
from engine.study.machine import Made, stated
from engine.study.plausible import PLAUSIBLE
from engine.study.prices import Bought
from engine.study.schema import said_of, schema_of
from engine.study.supply import STATES, Supply
from engine.study.values import quantity_of
from engine.units import shown, unit_example
from tests.support.electric_rows import appliance_rows, generator_rows
from tests.support.places import ROOT
from tests.support.reference_tables import (
    Rows,
    bearing_seal_table,
    bearing_table,
    code,
    fluid_table,
    material_table,
    process_table,
    table_of,
)

DOCUMENT = ROOT / "shared" / "study-file.md"
PLACE = re.compile(r"(<!-- table (\w+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)
NAMES = "a name or a list of names"
TAKES: Mapping[str, str] = {
    "fluid": "a name under [Fluids](#fluids)",
    "appliances": "names under [Appliances](#appliances), or your own",
    "script": "a list of [entries](#entries-of-script)",
    **dict.fromkeys(("switch_on", "switch_off", "settled_with"), NAMES),
    "material": "a name under [Materials](#materials)",
    "shaft_material": "a name under [Materials](#materials)",
    "process": "a name under [Processes](#processes)",
    "bearing": "a name under [Bearings](#bearings)",
    "generator": "a name under [Generators](#generators)",
    **dict.fromkeys(
        ("energy_price", "electricity_price"), "an amount with any currency, per kilowatt-hour"
    ),
    "build_cost": "an amount with any currency",
}
"""What names something of a table, by key."""


def tables() -> dict[str, str]:
    """Give the text of every table by its name in the document."""
    return {name: make() for name, make in TABLES.items()}


def rewritten(text: str) -> str:
    """Put every table in its place in the document."""
    made = tables()
    return PLACE.sub(lambda place: place[1] + made[place[2]] + place[4], text)


def _sections() -> str:
    schema = schema_of("turbine")
    rows: Rows = []
    for name, section in schema["properties"].items():
        link = code(name) if name in ("title", "kind") else f"[{name}](#{name})"
        needed = "yes" if name in schema["required"] else "no"
        rows.append((link, section["description"], needed))
    return table_of(("section", "holds", "needed"), rows)


def _takes(section: str, key: str, annotation: object) -> str:
    """Say what may stand as the value of a key."""
    if (section, key) == ("events", "running"):
        return NAMES
    if key in TAKES:
        return TAKES[key]
    if quantity := quantity_of(annotation):
        row = PLAUSIBLE.get(section, {}).get(key)
        said = quantity.expectation.replace("**", "")
        if row is not None:
            said = f"{units.DIMENSIONS[quantity.dimension].phrase} {row.words}"
        return f"{said}, or `atmosphere`" if key == "back_pressure" else said
    if get_origin(annotation) is tuple:
        return f"a list of {_words(get_args(annotation)[0])}"
    return "`true` or `false`" if annotation is bool else _words(stated(annotation))


def _words(annotation: object) -> str:
    return " or ".join(code(word) for word in get_args(annotation))


def _usual(given: Any) -> str:
    if isinstance(given, bool):
        return code(str(given).lower())
    if isinstance(given, tuple):
        return code(f"[{', '.join(given)}]")
    return code(f"{given:g}" if isinstance(given, float) else given)


def _keys(model: type[BaseModel], section: Mapping[str, Any], *more: str) -> Rows:
    """Tell of every key of a section: meaning, usual value, more of it, and what it takes."""
    rows: Rows = []
    for key, field in model.model_fields.items():
        described = section[key]
        usual = said_of(field, "usual")
        if field.is_required():
            usual = "needed"
        elif "default" in described:
            usual = _usual(described["default"])
        told = {
            "example": ", ".join(map(code, field.examples or ())),
            "source": said_of(field, "source"),
        }
        meaning = described["description"].removesuffix(f"; usual: {usual}")
        takes = _takes(getattr(model, "section", ""), key, field.rebuild_annotation())
        rows.append((code(key), meaning, usual, *(told[word] for word in more), takes))
    return rows


def _section(name: str, machine: str = "turbine") -> Mapping[str, Any]:
    found: Mapping[str, Any] = schema_of(machine)["properties"][name]["properties"]
    return found


def _supply() -> str:
    told = {row[0].strip("`"): row for row in _keys(Supply, _section("supply"), "example")}
    first = ("fluid", "pressure", *STATES, "back_pressure", "available_flow")  # what most look for
    last = tuple(Bought.model_fields)
    between = (key for key in told if key not in (*first, *last))
    rows = [told[key] for key in (*first, *between, *last)]
    return table_of(("key", "meaning", "usual value", "example", "takes"), rows)


def _machine(machine: Kind = "turbine") -> str:
    section = _section("machine", machine)
    fit, model = section["fit"], Made if machine == "turbine" else KINDS[machine].models["machine"]
    example = code(fit["examples"][0])
    rows: Rows = [
        *_keys(model, section),
        ("`fit`", fit["description"], "none", f"a file in the study's folder, such as {example}"),
    ]
    return table_of(("key", "meaning", "usual value", "takes"), rows)


def _ranges(machine: Kind = "turbine") -> str:
    kind, columns = KINDS[machine], columns_of(machine)
    rows: Rows = []
    for key in kind.study.variables:
        example = kind.models["ranges"].model_fields[key].examples or [""]
        takes = _takes("ranges", key, value_type(key))
        rows.append((code(key), columns[key].meaning, "needed", code(example[0]), takes))
    return table_of(("key", "meaning", "usual value", "example", "each value is"), rows)


def _entry() -> str:
    own = _section("loads")["appliances"]["additionalProperties"]["properties"]
    return table_of(("key", "meaning", "usual value", "takes"), _keys(Appliance, own))


def _event() -> str:
    own = _section("events")["script"]["items"]["properties"]
    return table_of(("key", "meaning", "usual value", "takes"), _keys(Event, own))


def _columns(columns: Sequence[Column]) -> str:
    rows: Rows = [
        (code(column.key), column.meaning, column.label, _unit(column), column.better)
        for column in columns
    ]
    return table_of(("key", "meaning", "label", "unit", "better"), rows)


def _unit(column: Column) -> str:
    return {"": "plain number", "text": "words", "count": "whole number"}.get(
        column.unit.symbol, column.unit.symbol
    )


def _results(machine: Kind = "turbine") -> str:
    return _columns([c for c in columns_of(machine).values() if c.kind == "result"])


def _told(machine: Kind, section: str, *more: str) -> str:
    """Tell of every key of a section of a study."""
    heads = {"example": "example", "source": "from"}
    rows = _keys(KINDS[machine].models[section], _section(section, machine), *more)
    told = (heads[word] for word in more)
    return table_of(("key", "meaning", "usual value", *told, "takes"), rows)


def _files() -> str:
    kinds = [c for c in COLUMNS.values() if c.kind in ("run", "supply")]
    return _columns([*kinds, COLUMNS[CHANCE_ALL]])


def _head() -> str:
    return table_of(("key", "holds"), [(code(key), text) for key, text in SECTIONS.items()])


def _column_keys() -> str:
    return table_of(("key", "holds"), [(code(key), text) for key, text in HEAD_KEYS.items()])


def _quantities(machine: Kind = "turbine") -> str:
    meanings = MEANINGS if machine == "turbine" else _meanings_of_pump()
    rows: Rows = [
        (
            code(key),
            meanings[key],
            code(unit_example(dimension)),
            _usual_error(key, dimension),
            _role(key),
        )
        for key, dimension in OF_KIND[machine].items()
    ]
    head = ("quantity", "meaning", "example", "usual standard uncertainty", "used as")
    return table_of(head, rows)


def _meanings_of_pump() -> Mapping[str, str]:
    columns = columns_of("pump")
    meanings = {key: columns[key].meaning for key in OF_KIND["pump"] if key in columns}
    return {"supply_temperature": "temperature of the liquid at the eye", **meanings}


def _role(key: str) -> str:
    if key in EVERY_CONDITION:
        return "condition; may stand under `conditions`"
    return "reading" if key in EVERY_READING else ""


def _usual_error(key: str, dimension: str) -> str:
    share, floor = USUAL[key]
    if dimension == "pressure":
        absolute = f"{floor / 100:g} mbar"
    elif dimension == "temperature":
        absolute = shown(floor, "temperature_difference")
    else:
        absolute = shown(floor, dimension)
    parts = [f"{share:.1%} of the reading".replace(".0%", "%").replace("%", " %")] if share else []
    return " and ".join([*parts, *([absolute] if floor else [])]) or "none"


def _coefficients(machine: Kind = "turbine") -> str:
    columns = columns_of(machine)
    known = COEFFICIENTS if machine == "turbine" else PUMP_COEFFICIENTS
    rows: Rows = [(code(key), columns[key].meaning, unknown.test) for key, unknown in known.items()]
    return table_of(("coefficient", "meaning", "test that tells it"), rows)


TABLES: Mapping[str, Callable[[], str]] = {
    "sections": _sections,
    "supply": _supply,
    "machine": _machine,
    "ranges": _ranges,
    "search": partial(_told, "turbine", "search"),
    "loads": partial(_told, "turbine", "loads"),
    "entry": _entry,
    "events": partial(_told, "turbine", "events"),
    "event": _event,
    "uncertainty": partial(_told, "turbine", "uncertainty", "source"),
    "results": _results,
    "pump_supply": partial(_told, "pump", "supply", "example"),
    "duty": partial(_told, "pump", "duty", "example"),
    "pump_machine": partial(_machine, "pump"),
    "pump_ranges": partial(_ranges, "pump"),
    "pump_uncertainty": partial(_told, "pump", "uncertainty", "source"),
    "pump_results": partial(_results, "pump"),
    "pump_quantities": partial(_quantities, "pump"),
    "pump_coefficients": partial(_coefficients, "pump"),
    "files": _files,
    "head": _head,
    "column_keys": _column_keys,
    "quantities": _quantities,
    "coefficients": _coefficients,
    "materials": material_table,
    "processes": process_table,
    "bearings": bearing_table,
    "bearing_seals": bearing_seal_table,
    "fluids": fluid_table,
    "generators": lambda: table_of(*generator_rows()),
    "appliances": lambda: table_of(*appliance_rows()),
}
"""What makes each table."""


if __name__ == "__main__":
    DOCUMENT.write_text(rewritten(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
