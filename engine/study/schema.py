"""The JSON Schema of a study file, from which editors complete, explain and check."""

import math
from collections.abc import Mapping
from typing import Any, Literal, TypeAlias, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from engine import units
from engine.columns import Column, columns_of
from engine.fluids.by_name import GASES, GLYCEROL, STEAM, fluid_names
from engine.stage_columns import OWN, STAGES, of_stage
from engine.study.events import MOST_EVENTS, Event
from engine.study.kinds import KINDS, Kind, value_type
from engine.study.loads import MOST_APPLIANCES, Appliance, appliances
from engine.study.machine import SETTLED, stated
from engine.study.reader import known_names
from engine.study.study import LONGEST_TITLE
from engine.study.supply import STATES
from engine.study.values import Name, Quantity, quantity_of
from engine.units import shown

Schema: TypeAlias = dict[str, Any]

_NUMBER = r"^\s*[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?\s*"
_PATTERNS = {
    "ratio": _NUMBER + r"(%|percent)\s*$",
    "pressure": _NUMBER + r"[A-Za-zµμ].*([\s(](gauge|absolute|abs|g|a)\)?|(bar|psi)[ga])\s*$",
}
_BOUNDS = {
    "above": "exclusiveMinimum",
    "least": "minimum",
    "below": "exclusiveMaximum",
    "most": "maximum",
}
_SECTIONS = {
    "title": "what the study asks, in one line",
    "kind": "what is to be built: turbine, which is the usual one, or pump",
    "supply": "what comes in, where it leaves, and what it costs to make",
    "machine": "what is not searched; each number has a usual value",
    "ranges": "what is searched: the six variables and any machine number",
    "limits": "bounds on results that every build must keep",
    "aims": "two or three results to maximise or minimise; usual: electric_power and "
    "safety_margin, both maximise",
    "search": "how long and how to look",
    "loads": "what is to run from the terminals",
    "events": "what is switched, and what the supply does, in time; needs loads with a voltage and "
    "the data sheet of the generator",
    "uncertainty": "how well coefficients, sizes and supply are known; 0 is exact",
}

SAID: dict[str, dict[str, str]] = {
    "pump": {
        "supply": "what comes in at the suction flange",
        "duty": "what the pump is to deliver",
        "aims": "two or three results to maximise or minimise; usual: wire_to_water and "
        "safety_margin, both maximise",
        "uncertainty": "how well coefficients and sizes are known; 0 is exact",
    }
}
"""What is said of the sections of another kind of machine, where it differs."""

NAMES_OF_LOADS = ("switch_on", "switch_off", "running", "settled_with")
"""Keys whose values name loads; `running` of an appliance is a power."""
PRICES = ("energy_price", "electricity_price", "build_cost")
PRICE = r"^[0-9]+(\.[0-9]+)? *\S"
"""An amount and a currency."""

_FIT: Schema = {
    "description": "file that `swirlstack fit` wrote; its numbers take the place of these",
    "type": ["string", "object"],
    "examples": ["loaded-run.fit.yaml"],
}


def study_schema() -> Schema:
    """Give the schema of a study file of either kind, in JSON Schema draft 2020-12."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Study of a multi-disc turbine or a multi-disc pump",
        "type": "object",
        "properties": {"kind": {"enum": [*KINDS], "description": _SECTIONS["kind"]}},
        "if": {"properties": {"kind": {"const": "pump"}}, "required": ["kind"]},
        "then": schema_of("pump"),
        "else": schema_of("turbine"),
        "$defs": {name: _text(name) for name in units.DIMENSIONS if name != "count"},
    }


def schema_of(machine: str) -> Schema:
    """Give the schema of a study of one kind of machine; what it refers to stands outside."""
    kind = KINDS[machine]
    columns, known = columns_of(kind.name), kind.known
    sections: Schema = {
        "title": {"type": "string", "minLength": 1, "maxLength": LONGEST_TITLE},
        "kind": {"const": kind.name},
    }
    for name, model in kind.models.items():
        if name not in ("machine", "ranges"):
            sections[name] = _section({key: _field(model, key) for key in model.model_fields})
    numbers = {key: _machine_number(kind, columns, key) for key in kind.study.numbers}
    if "fit" in known["machine"]:
        made, beside = kind.models["machine"], ("generator", "build_cost")
        numbers |= {key: _field(made, key) for key in beside if key in made.model_fields}
        numbers |= {"fit": _FIT}
    sections["machine"] = _section(_with_stages(numbers))
    ranges = {key: _range(kind, columns, key) for key in known["ranges"]}
    sections["ranges"] = _section(_with_stages(ranges))
    sections["limits"] = _section({key: _limit(columns[key]) for key in known["limits"]})
    sections["aims"] = _section({key: _aim(columns[key]) for key in known["aims"]})
    if "loads" in sections:
        sections["loads"]["required"] = ["appliances"]
    if "events" in sections:
        sections["events"]["required"] = ["script"]
    if "duty" in sections:
        sections["duty"]["required"] = ["flow"]
    sections["supply"]["required"] = ["pressure"]
    states = [key for key in STATES if key in known["supply"]]
    sections["supply"]["anyOf"] = [{"required": [key]} for key in states]
    sections["ranges"]["required"] = list(kind.study.variables)
    sections["aims"] |= {"minProperties": 2, "maxProperties": 3}
    told = _SECTIONS | SAID.get(machine, {})
    described = {key: {**sections[key], "description": told[key]} for key in known[""]}
    needed = [key for key in ("title", "supply", "duty", "ranges") if key in described]
    return {**_section(described), "required": needed}


def _with_stages(properties: Schema) -> Schema:
    """Add what a later stage has of its own, where such keys are known."""
    found = dict(properties)
    for stage, words in STAGES.items():
        own = {key: properties.get(of_stage(key, stage)) for key in OWN}
        if all(own.values()):
            told = f"what the {words} has of its own"
            found[f"stage_{stage}"] = {**_section(own), "description": told}
    return found


def _section(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _value(annotation: object) -> Schema:
    """Give the schema of one value as an editor sees it: text with a unit, or a number."""
    quantity = quantity_of(annotation)
    if quantity is not None:
        return _quantity(quantity)
    if get_origin(annotation) is tuple:
        items = _value(get_args(annotation)[0])
        return {"type": "array", "items": items, "minItems": 1, "uniqueItems": True}
    if annotation is bool:
        return {"type": "boolean"}
    annotation = stated(annotation)
    words = get_args(annotation) if get_origin(annotation) is Literal else _names(annotation)
    numbers = [int(word) for word in words if word.isdigit()]
    return {"enum": [*words, *numbers]}


def _names(annotation: object) -> tuple[str, ...]:
    for mark in getattr(annotation, "__metadata__", ()):
        if isinstance(getattr(mark, "func", None), Name):
            return known_names()[mark.func.table]
    return ()


def _quantity(quantity: Quantity) -> Schema:
    bounds = {
        name: getattr(quantity, bound)
        for bound, name in _BOUNDS.items()
        if math.isfinite(getattr(quantity, bound))
    }
    if quantity.dimension == "count":
        return {"type": "integer", **bounds}
    text = {"$ref": f"#/$defs/{quantity.dimension}"}
    if quantity.dimension == "ratio":
        return {"anyOf": [{"type": "number", **bounds}, text]}
    return text


def _text(dimension: str) -> Schema:
    """Give the schema of a value in words: a number with its unit."""
    return {
        "type": "string",
        "pattern": _PATTERNS.get(dimension, _NUMBER + r"[A-Za-zµμ°]"),
        "examples": ["95 %" if dimension == "ratio" else units.unit_example(dimension)],
    }


def _field(model: type[BaseModel], key: str) -> Schema:
    field: FieldInfo = model.model_fields[key]
    schema = _value(field.rebuild_annotation())
    if key in PRICES:
        schema = {"type": "string", "pattern": PRICE}
    if key == "fluid":
        schema = {
            "enum": list(_pumped() if "glycerol_share" in model.model_fields else fluid_names())
        }
    if key == "appliances":
        schema = _appliances()
    if key == "script":
        schema = _script()
    if key in NAMES_OF_LOADS and model is not Appliance:
        word = {"type": "string", "minLength": 1}
        schema = {"anyOf": [word, {"type": "array", "items": word, "minItems": 1}]}
    if key == "back_pressure":
        schema = {"anyOf": [{"const": "atmosphere"}, schema]}
    return {**schema, "description": _description(field)} | _examples(field) | _default(field)


def _description(field: FieldInfo) -> str:
    """Say what a key means, and what holds without it where that is no single value."""
    usual = said_of(field, "usual")
    return f"{field.description}; usual: {usual}" if usual else field.description or ""


def said_of(field: FieldInfo, word: Literal["usual", "source"]) -> str:
    """Give what a model says of a key in words: its usual value, or where that comes from."""
    extra = field.json_schema_extra
    return str(extra.get(word, "")) if isinstance(extra, dict) else ""


def _examples(field: FieldInfo) -> Schema:
    return {"examples": field.examples} if field.examples else {}


def _appliances() -> Schema:
    """Give the schema of the list: names of the table, and any other name with its power."""
    entry = _section({key: _field(Appliance, key) for key in Appliance.model_fields})
    known = {"anyOf": [{"type": ["integer", "null"], "minimum": 1}, entry]}
    return {
        "type": "object",
        "properties": {
            key: {**known, "description": row.title} for key, row in appliances().items()
        },
        "additionalProperties": {**entry, "required": ["running"]},
        "minProperties": 1,
        "maxProperties": MOST_APPLIANCES,
    }


def _script() -> Schema:
    """Give the schema of the entries of a script."""
    entry = _section({key: _field(Event, key) for key in Event.model_fields})
    items = {**entry, "required": ["at"], "minProperties": 2}
    return {"type": "array", "items": items, "minItems": 1, "maxItems": MOST_EVENTS}


def _pumped() -> tuple[str, ...]:
    """Name every fluid that may be a liquid, then the gases of a blower."""
    liquids = (name for name in fluid_names() if name not in (*GASES, STEAM))
    return (GLYCEROL, *liquids, *GASES)


def _machine_number(kind: Kind, columns: Mapping[str, Column], key: str) -> Schema:
    schema = {**_value(value_type(key)), "description": columns[key].meaning}
    return schema | _default(kind.models["machine"].model_fields[key])


def _default(field: FieldInfo) -> Schema:
    """Keyword of the usual value, written as in a study file."""
    quantity = quantity_of(field.rebuild_annotation())
    if field.is_required() or field.default is None:
        return {}
    if quantity is None or isinstance(field.default, str):
        return {"default": field.default}
    if quantity.dimension in ("ratio", "count"):
        return {"default": field.default}
    return {"default": shown(field.default, quantity.dimension)}


def _range(kind: Kind, columns: Mapping[str, Column], key: str) -> Schema:
    """One value, a list of choices or, for numbers, a span."""
    annotation = value_type(key)
    value, quantity = _value(annotation), quantity_of(annotation)
    choices = {"type": "array", "items": value, "minItems": 1, "uniqueItems": True}
    forms = [value, {**_section({"choices": choices}), "required": ["choices"]}]
    if quantity is not None:
        step = _quantity(Quantity(quantity.dimension, above=0))
        span = _section({"min": value, "max": value, "step": step})
        forms.append({**span, "required": ["min", "max"]})
    if key == "speed" and kind.name == "turbine":
        forms.append({"const": SETTLED})
    described = {"anyOf": forms, "description": columns[key].meaning}
    return described | _examples(kind.models["ranges"].model_fields[key])


def _limit(column: Column) -> Schema:
    value = _quantity(Quantity(column.unit.dimension))
    bounds = _section({"min": value, "max": value})
    return {**bounds, "minProperties": 1, "description": column.meaning}


def _aim(column: Column) -> Schema:
    return {"enum": ["maximise", "minimise"], "description": column.meaning}
