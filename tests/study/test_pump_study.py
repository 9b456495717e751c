"""A study of a pump: what it holds, and what is said of keys and supplies that it cannot have."""

import math
from typing import Any

import pytest
import yaml
from CoolProp.CoolProp import PropsSI

from engine import pump_columns
from engine.columns import COLUMNS, columns_of
from engine.errors import StudyError
from engine.fluids.glycerol import mixture_density, mixture_heat_capacity, mixture_viscosity
from engine.fluids.liquids import glycerol_water
from engine.study.kinds import KINDS, kind_of
from engine.study.machine import Machine
from engine.study.pump.machine import USUAL, PumpMachine
from engine.study.pump.study import PumpStudy
from engine.study.pump.supply import Duty, npsh_head, pumped_of
from engine.study.reader import parse_overrides, parse_study
from engine.study.schema import schema_of, study_schema
from tests.support.places import STUDIES

PERRY = """\
title: Perry to the tank
kind: pump
supply:
  fluid: water
  temperature: 12 degC
  pressure: 0.05 bar gauge
duty: {static_head: 3 m, head_loss: 3 m, flow: 25 l/min}
machine:
  motor_power: 370 W
ranges:
  disc_count: {min: 6, max: 30}
  disc_diameter: {min: 80 mm, max: 140 mm, step: 5 mm}
  gap: {choices: [0.5 mm, 0.8 mm, 1.2 mm]}
  eye_diameter: {min: 25 mm, max: 50 mm, step: 5 mm}
  throat_area: {min: 30 mm2, max: 250 mm2}
  speed: {min: 1400 rpm, max: 2900 rpm}
limits:
  flow: {min: 25 l/min}
aims:
  wire_to_water: maximise
  free_passage: maximise
"""


def pump(text: str = PERRY) -> PumpStudy:
    study = parse_study(text, "perry.yaml")
    assert isinstance(study, PumpStudy)
    return study


def problems_of(text: str) -> list[str]:
    with pytest.raises(StudyError) as caught:
        parse_study(text, "perry.yaml")
    return [str(problem) for problem in caught.value.problems]


def test_a_study_of_a_pump_has_its_own_sections_and_keys() -> None:
    study = pump()
    assert list(study.searched()) == list(pump_columns.SEARCHED)
    assert study.fixed().keys() == PumpMachine.model_fields.keys()
    assert study.duty.flow == pytest.approx(25e-3 / 60)
    assert study.limits["flow"].min == pytest.approx(25e-3 / 60)
    assert kind_of(study) is KINDS["pump"]
    plain = pump(PERRY.partition("limits:")[0])
    assert plain.aims == {"wire_to_water": "maximise", "safety_margin": "maximise"}


def test_shared_numbers_have_the_bounds_of_a_turbine_and_their_own_usual_values() -> None:
    for key in pump_columns.SAME_MACHINE:
        theirs, ours = Machine.model_fields[key], PumpMachine.model_fields[key]
        if key != "hold":  # bolts hold no discs of a pump
            assert repr(ours.rebuild_annotation()) == repr(theirs.rebuild_annotation()), key
        assert ours.default == USUAL.get(key, theirs.default), key


def test_every_column_of_a_pump_is_listed_once_and_said_in_its_words() -> None:
    known = columns_of("pump")
    own = [
        row[0] for row in (*pump_columns.VARIABLES, *pump_columns.MACHINE, *pump_columns.RESULTS)
    ]
    shared = [*pump_columns.SAME_VARIABLES, *pump_columns.SAME_MACHINE, *pump_columns.SAME_RESULTS]
    assert len(own) == len(set(own))
    assert not set(own) & columns_of("turbine").keys()
    assert set(shared) <= columns_of("turbine").keys()
    assert set(known) == {*own, *shared}
    assert pump_columns.SAID.keys() <= set(shared)
    words = " ".join(column.meaning for column in known.values()).lower()
    for word in ("nozzle", "turbine", "exhaust", "generator", "jet"):
        assert word not in words, word
    assert {
        *pump_columns.LOSSES,
        *pump_columns.FAILING_SPEEDS,
        *pump_columns.SHARES,
    } <= known.keys()


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ("motor_power: 370 W", "nozzle_count: 3", 9,
         "machine.nozzle_count: belongs to a turbine, and this is a pump; take it out"),
        ("motor_power: 370 W", "exhaust_ends: 2", 9,
         "belongs to a turbine, and this is a pump; write suction_ends, or take it out"),
        ("motor_power: 370 W", "generator_power: 90 W", 9, "write motor_power, or take it out"),
        ("  flow: {min: 25 l/min}", "  cavitation_margin: {min: 2}", 18,
         "limits.cavitation_margin: belongs to a turbine, and this is a pump; write npsh_margin"),
        ("  free_passage: maximise", "  turbine_efficiency: maximise", 21,
         "belongs to a turbine, and this is a pump; write pump_efficiency"),
        ("title: Perry", "loads: {appliances: {led-lamp: 1}}\ntitle: Perry", 1,
         "loads: belongs to a turbine, and this is a pump"),
        ("fluid: water", "fluid: air", 7, "duty.static_head: 3 m of air weigh 38.2 Pa"),
        ("fluid: water", "fluid: steam", 4, "steam is a vapour, which may condense"),
        ("fluid: water", "back_pressure: 1 bar gauge", 4, "supply.back_pressure: belongs to"),
        ("temperature: 12 degC", "temperature: 103 degC", 5, "is not liquid"),
        ("pressure: 0.05 bar gauge", "pressure: -0.97 bar gauge", 6,
         "leaves 0.30 m above boiling at 12 °C; expected 0.5 m or more; set the pump lower"),
        ("duty: {static_head: 3 m, head_loss: 3 m, flow: 25 l/min}\n", "", 1,
         "duty: is missing; expected what the pump is to deliver; write duty: {flow: 25 l/min}"),
        ("flow: 25 l/min}\nm", "flow: 25 kg}\nm", 7, "duty.flow"),
        ("kind: pump", "kind: pumps", 2, "expected turbine or pump; perhaps you meant pump"),
        ("kind: pump\n", "", 6, "duty: belongs to a pump; add kind: pump"),
        ("limits:", "search: {closer: plane}\nlimits:", 17, "search.closer: follows turbines more"),
        ("limits:", "search: {flow: resolved}\nlimits:", 17, "search.flow: follows turbines more"),
        ("fluid: water", "fluid: glycerol-water", 5, "without its share of glycerol"),
        ("fluid: water", "glycerol_share: 0.4", 4, "glycerol_share: has no meaning for water"),
        ("eye_diameter: {min: 25 mm", "eye_diameter: {min: 240 mm", 14, "is below min"),
        ("{min: 25 mm, max: 50 mm, step: 5 mm}", "{min: 4 mm, max: 9 mm}", 14,
         "ranges.eye_diameter: no build is possible; expected an eye between the smallest shaft"),
        ("max: 250 mm2}", "max: 250 m2}", 15, "is not plausible"),
    ],
)  # fmt: skip
def test_what_a_pump_cannot_have_gets_a_line_and_a_remedy(
    old: str, new: str, line: int, said: str
) -> None:
    assert PERRY.count(old) == 1
    (problem, *_) = [each for each in problems_of(PERRY.replace(old, new)) if said in each] or [""]
    assert problem.startswith(f"perry.yaml:{line}: "), problems_of(PERRY.replace(old, new))


def test_keys_of_a_pump_in_a_turbine_get_a_line_and_a_remedy() -> None:
    text = (STUDIES / "mill-race.yaml").read_text(encoding="utf-8")
    for old, new, said in (
        ("machine:", "machine:\n  motor_power: 3 W", "write generator_power, or take it out"),
        ("  speed:", "  throat_area: 30 mm2\n  speed:", "belongs to a pump, and this is a turbine"),
        (
            "limits:",
            "limits:\n  npsh_margin: {min: 1 m}",
            "write cavitation_margin, or take it out",
        ),
        ("limits:", "kind: turbine\nduty: {flow: 1 l/min}\nlimits:", "duty: belongs to a pump"),
    ):
        assert any(said in each for each in problems_of(text.replace(old, new, 1))), new


def test_a_build_is_typed_with_the_keys_of_its_kind() -> None:
    texts = ["disc_count=8", "disc_diameter=100mm", "gap=0.5mm", "eye_diameter=40mm"]
    texts += ["throat_area=60mm2", "speed=2000rpm"]
    assert parse_overrides(texts, pump())["throat_area"] == pytest.approx(60e-6)
    with pytest.raises(StudyError, match="nozzle_count: belongs to a turbine, and this is a pump"):
        parse_overrides([*texts, "nozzle_count=3"], pump())


def test_the_schema_takes_pumps_and_refuses_what_the_reader_refuses() -> None:
    jsonschema = pytest.importorskip("jsonschema")
    validator = jsonschema.Draft202012Validator(study_schema())
    text: Any = yaml.safe_load(PERRY)
    assert list(validator.iter_errors(text)) == []
    assert not validator.is_valid({**text, "kind": "turbine"})
    assert not validator.is_valid({**text, "machine": {"nozzle_count": 3}})
    assert not validator.is_valid({key: value for key, value in text.items() if key != "duty"})
    for section, found in schema_of("pump")["properties"].items():
        for key, told in found.get("properties", {}).items():
            assert told["description"], f"{section}.{key}"


def test_pipes_ask_for_lift_and_a_loss_that_grows_with_the_square() -> None:
    duty = Duty.model_validate({"flow": "20 l/min", "static_head": "2 m", "head_loss": "4 m"})
    assert duty.system_head(duty.flow / 2) == pytest.approx(2 + 4 / 4)
    assert not Duty.model_validate({"flow": "20 l/min"}).is_system


def test_head_above_boiling_is_that_of_steam_tables() -> None:
    # IAPWS-IF97 in CoolProp: 12 degC boils at 1403 Pa.
    density, boils = (
        PropsSI("D", "T", 285.15, "P", 106325, "Water"),
        PropsSI("P", "T", 285.15, "Q", 0, "IF97::Water"),
    )
    head = (101325 + 5000 - boils) / (density * 9.80665)
    assert npsh_head(pump().supply) == pytest.approx(head, rel=1e-4)


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.4, 0.5])
@pytest.mark.parametrize("celsius", [10.0, 20.0, 37.0])
def test_glycerol_with_water_is_that_of_a_fluid_library(share: float, celsius: float) -> None:
    # CoolProp's mixture MGL, fitted to Melinder 2010 (by its documentation).
    state = ("T", celsius + 273.15, "P", 2e5, f"INCOMP::MGL[{share}]")
    kelvin = celsius + 273.15
    found = float(mixture_viscosity(share=share, temperature=kelvin))
    assert found == pytest.approx(PropsSI("V", *state), rel=0.04)
    density = float(mixture_density(share=share, temperature=kelvin))
    assert density == pytest.approx(PropsSI("D", *state), rel=0.01)
    heat = float(mixture_heat_capacity(share=share, temperature=kelvin))
    assert heat == pytest.approx(PropsSI("C", *state), rel=0.04)
    liquid = glycerol_water(share=share, temperature=kelvin)
    assert math.exp(liquid.log_viscosity_fit[0]) == pytest.approx(found, rel=1e-3)


def test_any_liquid_of_coolprop_is_pumped() -> None:
    supply = pump(PERRY.replace("fluid: water", "fluid: Ethanol")).supply
    liquid = pumped_of(supply).fluid
    state = ("T", 285.15, "P", supply.pressure, "Ethanol")
    assert pumped_of(supply).density == pytest.approx(PropsSI("D", *state), rel=1e-6)
    viscosity = float(liquid.viscosity(pressure=supply.pressure, enthalpy=float(
        liquid.enthalpy(pressure=supply.pressure, temperature=285.15))))  # fmt: skip
    assert viscosity == pytest.approx(PropsSI("V", *state), rel=1e-3)


def test_pump_columns_do_not_change_those_of_turbines() -> None:
    turbine = columns_of("turbine")
    assert all(COLUMNS[key] == column for key, column in turbine.items())
