"""The JSON Schema of a study file, from which editors complete, explain and check."""

import math
from typing import Any, Literal, TypeAlias, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from engine import units
from engine.columns import COLUMNS, SEARCHED
from engine.fluids.by_name import fluid_names
from engine.study.aims import MEASURED
from engine.study.loads import MOST_APPLIANCES, Appliance, Loads, appliances
from engine.study.machine import Machine, Made, Ranges
from engine.study.kinds import value_type
from engine.study.reader import known_names
from engine.study.search import Search
from engine.study.study import LONGEST_TITLE
from engine.study.supply import STATES, Supply
from engine.study.uncertainty import Uncertainty
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
    "supply": "what comes in, where it leaves, and what it costs to make",
    "machine": "what is not searched; each number has a usual value",
    "ranges": "what is searched: the six variables and any machine number",
    "limits": "bounds on results that every build must keep",
    "aims": "two or three results to maximise or minimise; usual: electric_power and "
    "safety_margin, both maximise",
    "search": "how long and how to look",
    "loads": "what is to run from the terminals",
    "uncertainty": "how well coefficients, sizes and supply are known; 0 is exact",
}

PRICES = ("energy_price", "electricity_price", "build_cost")
PRICE = r"^[0-9]+(\.[0-9]+)? *\S"
"""An amount and a currency."""

_FIT: Schema = {
    "description": "file that `swirlstack fit` wrote; its numbers take the place of these",
    "type": ["string", "object"],
    "examples": ["loaded-run.fit.yaml"],
}


def study_schema() -> Schema:
    """Give the schema of a study file, in JSON Schema draft 2020-12."""
    sections = {
        "title": {"type": "string", "minLength": 1, "maxLength": LONGEST_TITLE},
        "supply": _section({key: _field(Supply, key) for key in Supply.model_fields}),
        "machine": _section(
            {key: _machine_number(key) for key in Machine.model_fields}
            | {"build_cost": _field(Made, "build_cost"), "fit": _FIT}
        ),
        "ranges": _section({key: _range(key) for key in (*SEARCHED, *Machine.model_fields)}),
        "limits": _section({key: _limit(key) for key in MEASURED}),
        "aims": _section({key: _aim(key) for key in MEASURED}),
        "search": _section({key: _field(Search, key) for key in Search.model_fields}),
        "loads": _section({key: _field(Loads, key) for key in Loads.model_fields}),
        "uncertainty": _section(
            {key: _field(Uncertainty, key) for key in Uncertainty.model_fields}
        ),
    }
    sections["loads"]["required"] = ["appliances"]
    sections["supply"]["required"] = ["pressure"]
    sections["supply"]["anyOf"] = [{"required": [key]} for key in STATES]
    sections["ranges"]["required"] = list(SEARCHED)
    sections["aims"] |= {"minProperties": 2, "maxProperties": 3}
    described = {key: {**sections[key], "description": _SECTIONS[key]} for key in sections}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Study of a multi-disc turbine",
        **_section(described),
        "required": ["title", "supply", "ranges"],
        "$defs": {name: _text(name) for name in units.DIMENSIONS if name != "count"},
    }


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
        schema = {"enum": list(fluid_names())}
    if key == "appliances":
        schema = _appliances()
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


def _machine_number(key: str) -> Schema:
    schema = {**_value(value_type(key)), "description": COLUMNS[key].meaning}
    return schema | _default(Machine.model_fields[key])


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


def _range(key: str) -> Schema:
    """One value, a list of choices or, for numbers, a span."""
    annotation = value_type(key)
    value, quantity = _value(annotation), quantity_of(annotation)
    choices = {"type": "array", "items": value, "minItems": 1, "uniqueItems": True}
    forms = [value, {**_section({"choices": choices}), "required": ["choices"]}]
    if quantity is not None:
        step = _quantity(Quantity(quantity.dimension, above=0))
        span = _section({"min": value, "max": value, "step": step})
        forms.append({**span, "required": ["min", "max"]})
    described = {"anyOf": forms, "description": COLUMNS[key].meaning}
    return described | (_examples(Ranges.model_fields[key]) if key in SEARCHED else {})


def _limit(key: str) -> Schema:
    value = _quantity(Quantity(COLUMNS[key].unit.dimension))
    bounds = _section({"min": value, "max": value})
    return {**bounds, "minProperties": 1, "description": COLUMNS[key].meaning}


def _aim(key: str) -> Schema:
    return {"enum": ["maximise", "minimise"], "description": COLUMNS[key].meaning}
