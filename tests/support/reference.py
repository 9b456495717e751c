"""The tables of shared/study-file.md as the models give them.

`python -m tests.support.reference` writes them into the document, each between the two lines that
mark its place; everything else of the document is written by hand.
"""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from importlib.metadata import version
from typing import Any, TypeAlias, get_args, get_origin

from pydantic import BaseModel

from engine import units
from engine.bench.fit import COEFFICIENTS, PUMP_COEFFICIENTS
from engine.bench.log_columns import EVERY_CONDITION, EVERY_READING, MEANINGS, OF_KIND, USUAL
from engine.bench.log_text import HEAD_KEYS, SECTIONS
from engine.catalogue import Bearing, bearing_seals, bearings, materials, processes
from engine.columns import CHANCE_ALL, COLUMNS, Column, columns_of
from engine.columns import Machine as Kind
from engine.fluids.by_name import (
    COMPRESSED_BELOW,
    GASES,
    OIL,
    STEAM,
    WATER,
    fluid_names,
    is_vapour,
)
from engine.fluids.coolprop import RealFluid
from engine.study.events import Event
from engine.study.kinds import KINDS, value_type
from engine.study.loads import Appliance
from engine.study.machine import Made, stated
from engine.study.plausible import PLAUSIBLE
from engine.study.prices import Bought
from engine.study.schema import said_of, schema_of
from engine.study.supply import OIL_KEYS, STATES, Supply
from engine.study.values import quantity_of
from engine.units import shown, unit_example
from tests.support.electric_rows import appliance_rows, generator_rows
from tests.support.places import ROOT

DOCUMENT = ROOT / "shared" / "study-file.md"
PLACE = re.compile(r"(<!-- table (\w+) -->\n)(.*?)(<!-- end -->)", re.DOTALL)
ATMOSPHERE = 101325.0
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

Rows: TypeAlias = list[tuple[str, ...]]


def tables() -> dict[str, str]:
    """Give the text of every table by its name in the document."""
    return {name: make() for name, make in TABLES.items()}


def rewritten(text: str) -> str:
    """Put every table in its place in the document."""
    made = tables()
    return PLACE.sub(lambda place: place[1] + made[place[2]] + place[4], text)


def _table(head: Sequence[str], rows: Rows) -> str:
    lines = [head, ["---"] * len(head), *rows]
    for line in lines:
        assert len(line) == len(head), line
        assert not any("|" in cell or "\n" in cell for cell in line), line
    joined = ("| " + " | ".join(line) + " |" for line in lines)
    return "".join(f"{line}\n" for line in joined).replace("|  |", "| |").replace(" --- ", "---")


def _code(text: object) -> str:
    return f"`{text}`"


def _sections() -> str:
    schema = schema_of("turbine")
    rows: Rows = []
    for name, section in schema["properties"].items():
        link = _code(name) if name in ("title", "kind") else f"[{name}](#{name})"
        needed = "yes" if name in schema["required"] else "no"
        rows.append((link, section["description"], needed))
    return _table(("section", "holds", "needed"), rows)


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
    return " or ".join(_code(word) for word in get_args(annotation))


def _usual(given: Any) -> str:
    if isinstance(given, bool):
        return _code(str(given).lower())
    if isinstance(given, tuple):
        return _code(f"[{', '.join(given)}]")
    return _code(f"{given:g}" if isinstance(given, float) else given)


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
            "example": ", ".join(map(_code, field.examples or ())),
            "source": said_of(field, "source"),
        }
        meaning = described["description"].removesuffix(f"; usual: {usual}")
        takes = _takes(getattr(model, "section", ""), key, field.rebuild_annotation())
        rows.append((_code(key), meaning, usual, *(told[word] for word in more), takes))
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
    return _table(("key", "meaning", "usual value", "example", "takes"), rows)


def _machine(machine: Kind = "turbine") -> str:
    section = _section("machine", machine)
    fit, model = section["fit"], Made if machine == "turbine" else KINDS[machine].models["machine"]
    example = _code(fit["examples"][0])
    rows: Rows = [
        *_keys(model, section),
        ("`fit`", fit["description"], "none", f"a file in the study's folder, such as {example}"),
    ]
    return _table(("key", "meaning", "usual value", "takes"), rows)


def _ranges(machine: Kind = "turbine") -> str:
    kind, columns = KINDS[machine], columns_of(machine)
    rows: Rows = []
    for key in kind.study.variables:
        example = kind.models["ranges"].model_fields[key].examples or [""]
        takes = _takes("ranges", key, value_type(key))
        rows.append((_code(key), columns[key].meaning, "needed", _code(example[0]), takes))
    return _table(("key", "meaning", "usual value", "example", "each value is"), rows)


def _entry() -> str:
    own = _section("loads")["appliances"]["additionalProperties"]["properties"]
    return _table(("key", "meaning", "usual value", "takes"), _keys(Appliance, own))


def _event() -> str:
    own = _section("events")["script"]["items"]["properties"]
    return _table(("key", "meaning", "usual value", "takes"), _keys(Event, own))


def _columns(columns: Sequence[Column]) -> str:
    rows: Rows = [
        (_code(column.key), column.meaning, column.label, _unit(column), column.better)
        for column in columns
    ]
    return _table(("key", "meaning", "label", "unit", "better"), rows)


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
    return _table(("key", "meaning", "usual value", *told, "takes"), rows)


def _files() -> str:
    kinds = [c for c in COLUMNS.values() if c.kind in ("run", "supply")]
    return _columns([*kinds, COLUMNS[CHANCE_ALL]])


def _along(values: Sequence[float], factor: float, digits: int = 4) -> str:
    return ", ".join(f"{value * factor:.{digits}g}" for value in values)


def _materials() -> str:
    rows: Rows = [
        (
            _code(key), row.title, f"{row.density:g}", f"{row.poisson:g}",
            f"{row.expansion * 1e6:.3g}", f"{row.conductivity:g}",
            ", ".join(f"{kelvin - 273.15:.0f}" for kelvin in row.temperature),
            _along(row.youngs_modulus, 1e-9), _along(row.yield_strength, 1e-6),
            _along(row.annealed_strength, 1e-6), _along(row.ultimate_strength, 1e-6), row.source,
        )
        for key, row in materials().items()
    ]  # fmt: skip
    head = (
        "material", "what it is", "density [kg/m³]", "Poisson's ratio", "expansion [1e-6/K]",
        "conductivity [W/(m K)]", "at [°C]", "Young's modulus [GPa]", "yield strength [MPa]",
        "of an annealed edge [MPa]", "ultimate strength [MPa]", "source",
    )  # fmt: skip
    return _table(head, rows)


def _processes() -> str:
    rows: Rows = [
        (
            _code(key), row.title, _along(row.thickness, 1e3), _along(row.thickness_tolerance, 1e6),
            f"{row.wedge_share:g}", f"{row.flatness * 1e3:g}", f"{row.spacer_tolerance * 1e6:g}",
            f"{row.run_out * 1e6:g}", f"{row.eccentricity * 1e6:g}",
            "yes" if row.anneals else "no", f"{row.smallest_gap * 1e3:g}", row.source,
        )
        for key, row in processes().items()
    ]  # fmt: skip
    head = (
        "process", "what it is", "disc thickness [mm]", "its tolerance, plus or minus [µm]",
        "wedge share", "flatness [mm per m]", "spacer tolerance, plus or minus [µm]",
        "run-out [µm]", "eccentricity [µm]", "anneals its edge", "smallest gap [mm]", "source",
    )  # fmt: skip
    return _table(head, rows)


def _bearings() -> str:
    def size(row: Bearing) -> str:
        return f"{row.bore * 1e3:g} x {row.outside_diameter * 1e3:g} x {row.width * 1e3:g}"

    rows: Rows = [
        (
            _code(key), size(row), f"{row.dynamic_rating:g}", f"{row.static_rating:g}",
            f"{row.ball_count} x {row.ball_diameter * 1e3:g}",
            f"{row.lubrication_grease:g}", f"{row.lubrication_oil:g}", row.source,
        )
        for key, row in bearings().items()
    ]  # fmt: skip
    head = ("bearing", "bore x outside diameter x width [mm]", "dynamic rating [N]",
            "static rating [N]", "balls [mm]", "f0 greased", "f0 oiled", "source")  # fmt: skip
    return _table(head, rows)


def _bearing_seals() -> str:
    rows: Rows = [
        (_code(key), row.title, f"{round(row.speed_limit * 60e3 / (2 * math.pi), -3):.0f}",
         f"{row.drag * 1e3:g}", f"{row.drag_per_size:g}", row.source)
        for key, row in bearing_seals().items()
    ]  # fmt: skip
    head = ("seal", "what it is", "limit of n d_m [mm/min]", "drag [mN m]", "drag per d^2.25",
            "source")  # fmt: skip
    return _table(head, rows)


def _fluids() -> str:
    rows: Rows = [_fluid(name) for name in fluid_names()]
    head = ("fluid", "what it is", "state given by", "boils at 1.013 bar", "critical point")
    return f"By CoolProp {version('CoolProp')}.\n\n{_table(head, rows)}"


def _fluid(name: str) -> tuple[str, ...]:
    if name in GASES:
        return (_code(name), "a gas, dry, from a compressor", _code("temperature"), "", "")
    if name == WATER:
        return (_code(name), "a liquid, from a head or a pump", _code("temperature"), "", "")
    if name == OIL:
        states = ", ".join(map(_code, ("temperature", *OIL_KEYS)))
        return (_code(name), "a liquid, from a head or a pump", states, "", "")
    assert is_vapour(name)
    fluid = RealFluid("Water" if name == STEAM else name)
    boiled = fluid.critical_temperature >= COMPRESSED_BELOW
    critical = f"{_celsius(fluid.critical_temperature)}, {fluid.critical_pressure / 1e5:.1f} bar"
    boils = ""
    if fluid.triple_pressure < ATMOSPHERE < fluid.critical_pressure:
        boils = _celsius(fluid.at("pq", ATMOSPHERE, 0).temperature)
    kind = f"a vapour, from a {'boiler' if boiled else 'compressor'}"
    return (_code(name), kind, " or ".join(map(_code, STATES)), boils, critical)


def _celsius(kelvin: float) -> str:
    return f"{round(kelvin - 273.15):d} °C"


def _head() -> str:
    return _table(("key", "holds"), [(_code(key), text) for key, text in SECTIONS.items()])


def _column_keys() -> str:
    return _table(("key", "holds"), [(_code(key), text) for key, text in HEAD_KEYS.items()])


def _quantities(machine: Kind = "turbine") -> str:
    meanings = MEANINGS if machine == "turbine" else _meanings_of_pump()
    rows: Rows = [
        (
            _code(key),
            meanings[key],
            _code(unit_example(dimension)),
            _usual_error(key, dimension),
            _role(key),
        )
        for key, dimension in OF_KIND[machine].items()
    ]
    head = ("quantity", "meaning", "example", "usual standard uncertainty", "used as")
    return _table(head, rows)


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
    rows: Rows = [
        (_code(key), columns[key].meaning, unknown.test) for key, unknown in known.items()
    ]
    return _table(("coefficient", "meaning", "test that tells it"), rows)


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
    "materials": _materials,
    "processes": _processes,
    "bearings": _bearings,
    "bearing_seals": _bearing_seals,
    "fluids": _fluids,
    "generators": lambda: _table(*generator_rows()),
    "appliances": lambda: _table(*appliance_rows()),
}
"""What makes each table."""


if __name__ == "__main__":
    DOCUMENT.write_text(rewritten(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
