from pathlib import Path
from typing import Any

import pytest
import yaml

from engine.columns import columns_of
from engine.errors import StudyError
from engine.study.machine import Machine
from engine.study.pump.machine import PumpMachine
from engine.study.pump.supply import Suction
from engine.study.pump.uncertainty import PumpUncertainty
from engine.study.reader import parse_study, starter_text
from engine.study.schema import schema_of, study_schema
from engine.study.search import Search
from engine.study.study import Study
from engine.study.supply import Supply
from engine.study.uncertainty import Uncertainty
from tests.support import places

STUDIES = sorted(places.STUDIES.glob("*.yaml"))

SMALL = """\
title: Two discs on the bench
supply: {pressure: 6 bar gauge, temperature: 20 degC}
ranges:
  disc_count: 12
  disc_diameter: {min: 80 mm, max: 99 mm, step: 5 mm}
  gap: {choices: [0.5 mm, 0.2 mm, 0.3 mm]}
  inlet_angle: {min: 6 deg, max: 25 deg}
  exhaust_bore: {min: 20 mm, max: 20 mm}
  speed: 18000 rpm
"""


def loaded(text: str) -> Any:
    """What an editor sees: YAML with its own idea of numbers."""
    return yaml.safe_load(text)


@pytest.fixture(scope="module")
def validator() -> Any:
    jsonschema = pytest.importorskip("jsonschema")
    schema = study_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_the_schema_accepts_the_studies(validator: Any, path: Path) -> None:
    assert list(validator.iter_errors(loaded(path.read_text(encoding="utf-8")))) == []


def test_the_schema_accepts_the_starter_and_a_small_study(validator: Any) -> None:
    assert validator.is_valid(loaded(starter_text("x")))
    assert validator.is_valid(loaded(SMALL))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("gap:", "gaps:"),
        ("supply:", "suply:"),
        ("0.2 mm", "0.2"),
        ("6 bar gauge", "6 bar"),
        ("disc_count: 12", "disc_count: 0"),
        ("disc_count: 12", "disc_count: 12.5"),
        ("{choices: [0.5 mm, 0.2 mm, 0.3 mm]}", "{choices: []}"),
        ("max: 99 mm,", ""),
        ("speed: 18000 rpm", "rotation: 18000 rpm"),
        ("supply: {", "supply: {fluid: cider, "),
        ("ranges:", "machine: {material: cheese}\nranges:"),
        ("ranges:", "machine: {rim_mixing: 1.5}\nranges:"),
        ("ranges:", "limits: {stress_margin: {}}\nranges:"),
        ("ranges:", "limits: {status: {min: 1}}\nranges:"),
        ("ranges:", "aims: {electric_power: maximise}\nranges:"),
        ("ranges:", "search: {designs: many}\nranges:"),
        ("ranges:", "search: {stages: evolve}\nranges:"),
        ("ranges:", "search: {stages: [evolve, evolv]}\nranges:"),
        ("ranges:", "search: {stages: [evolve, evolve]}\nranges:"),
        ("ranges:", "search: {stages: []}\nranges:"),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(validator: Any, old: str, new: str) -> None:
    broken = SMALL.replace(old, new)
    assert not validator.is_valid(loaded(broken))
    with pytest.raises(StudyError):
        parse_study(broken, "small.yaml")


def test_the_schema_explains_every_key() -> None:
    sections, columns = schema_of("turbine")["properties"], columns_of("turbine")
    assert [*sections, "fit"] == list(Study.model_fields)  # a fit stands under machine
    for name, section in sections.items():
        assert section["description"], name
        for key, schema in section.get("properties", {}).items():
            assert schema["description"], f"{name}.{key}"
            if key in columns and name != "uncertainty":  # how far off it is, there
                assert schema["description"] == columns[key].meaning


@pytest.mark.parametrize(
    ("model", "machine", "section"),
    [
        (Supply, "turbine", "supply"),
        (Machine, "turbine", "machine"),
        (Search, "turbine", "search"),
        (Uncertainty, "turbine", "uncertainty"),
        (Suction, "pump", "supply"),
        (PumpMachine, "pump", "machine"),
        (PumpUncertainty, "pump", "uncertainty"),
    ],
)
def test_every_usual_value_reads_back_as_itself(model: Any, machine: str, section: str) -> None:
    properties = schema_of(machine)["properties"][section]["properties"]
    usual = {key: schema["default"] for key, schema in properties.items() if "default" in schema}
    needed = {"pressure": "6 bar gauge", "temperature": "20 degC"} if section == "supply" else {}
    read = model.model_validate(needed | usual)
    for key in usual.keys() - {"back_pressure"}:
        default, value = model.model_fields[key].default, getattr(read, key)
        assert value == (default if isinstance(default, str) else pytest.approx(default)), key
