"""What a supply may say of its fluid, and what is told where it is wrong."""

from math import isnan, nan
from typing import Any

import numpy as np
import pytest
from iapws import IAPWS97
from numpy.testing import assert_allclose

from engine.errors import StudyError
from engine.fluids.by_name import fluid_names, gas
from engine.study.reader import parse_study
from engine.study.supply import Supply, source_of

TEXT = """\
title: A vapour
supply:
  fluid: FLUID
  pressure: 5 bar gauge
  STATE
ranges:
  disc_count: 12
  disc_diameter: 120 mm
  gap: 0.3 mm
  inlet_angle: 10 deg
  exhaust_bore: 40 mm
  speed: 18000 rpm
"""


def supply(fluid: str, pressure: str = "5 bar gauge", **given: str) -> Supply:
    return Supply.model_validate({"fluid": fluid, "pressure": pressure, **given})


def text(fluid: str, state: str) -> str:
    return TEXT.replace("FLUID", fluid).replace("STATE", state)


WRONG: dict[str, tuple[str, str, int, str, str]] = {
    #                  fluid, state, line, key, words
    "a misspelt fluid": (
        "stean", "temperature: 20 degC", 3, "supply.fluid", "perhaps you meant steam",
    ),
    "another spelling of CoolProp's name": (
        "r1233zde", "quality: 1", 3, "supply.fluid", "R1233zd(E)",
    ),
    "no fluid at all": (
        "cider", "temperature: 20 degC", 3, "supply.fluid", "or a pure fluid by CoolProp's name",
    ),
    "a fluid under its other name": (
        "Water", "quality: 1", 3, "supply.fluid", "perhaps you meant water",
    ),
    "two phases without a quality": (
        "steam", "temperature: 158.9 degC", 5, "supply.temperature", "quality: 1 for dry vapour",
    ),
    "steam that is water": (
        "steam", "temperature: 95 degC", 5, "supply.temperature", "boiling point, 158.913",
    ),
    "hotter than the fluid is known": (
        "R245fa", "temperature: 300 degC", 5, "supply.temperature", "outside the range",
    ),
    "state said twice": (
        "steam", "quality: 0.9\n  temperature: 200 degC", 6, "supply.temperature", "keep one",
    ),
    "quality above one": ("steam", "quality: 1.2", 5, "supply.quality", "out of bounds"),
    "no state": ("steam", "back_pressure: atmosphere", 2, "supply.temperature", "is missing"),
    "quality of air": (
        "air", "temperature: 20 degC\n  quality: 1", 6, "supply.quality", "no meaning for air",
    ),
    "a boiler for air": (
        "air", "temperature: 20 degC\n  boiler_efficiency: 80 %", 6,
        "supply.boiler_efficiency", "no meaning for air",
    ),
    "a compressor for steam": (
        "steam", "quality: 1\n  specific_power: 7 kW/(m3/min)", 6,
        "supply.specific_power", "no meaning for steam",
    ),
    "free air of steam": (
        "steam", "quality: 1\n  available_flow: 600 l/min", 6, "supply.available_flow",
        "expected a mass flow",
    ),
    "boiling water": (
        "water", "temperature: 180 degC", 5, "supply.temperature", "write fluid: steam",
    ),
    "oil of no kind": ("oil", "temperature: 40 degC", 5, "supply.temperature", "data sheet"),
    "feed that boils": (
        "steam", "feed_temperature: 170 degC\n  quality: 1", 2, "supply", "fed at 170 °C",
    ),
    "air that gets too cold": (
        "air", "temperature: -40 degC\n  back_pressure: 0.01 bar absolute", 5,
        "supply.temperature", "leaves the range",
    ),
    "a gas that would freeze": (
        "CarbonDioxide", "temperature: 20 degC", 5, "supply.temperature", "freeze",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG.values(), ids=WRONG)
def test_a_wrong_supply_is_told_with_line_key_and_remedy(
    case: tuple[str, str, int, str, str],
) -> None:
    fluid, state, line, key, words = case
    with pytest.raises(StudyError) as caught:
        parse_study(text(fluid, state), "vapour.yaml")
    [problem] = caught.value.problems
    assert (problem.line, problem.key) == (line, key), str(problem)
    assert words in str(problem)


@pytest.mark.parametrize(
    ("fluid", "pressure", "words"),
    [
        ("R245fa", "36 bar absolute", "leaves the range|too near"),
        ("R245fa", "300 bar absolute", "does not boil"),
        ("CarbonDioxide", "4 bar absolute", "outside the range"),
    ],
)
def test_pressures_a_fluid_is_not_known_at_are_refused(
    fluid: str, pressure: str, words: str
) -> None:
    back = "2 bar absolute"
    with pytest.raises(ValueError, match=words):
        supply(fluid, pressure, back_pressure=back, quality="1")


def test_saturated_steam_has_the_boiling_temperature_of_its_pressure() -> None:
    made = supply("steam", quality="1")
    theirs = IAPWS97(P=0.601325, x=1)
    assert_allclose(made.temperature, theirs.T, atol=0.02)
    source = source_of(made)
    assert_allclose(source.enthalpy, theirs.h * 1e3, rtol=2e-4)
    assert source.is_boiled
    assert not source.is_compressed


def test_superheat_counts_from_the_boiling_temperature() -> None:
    dry, hot = supply("steam", quality="1"), supply("steam", superheat="20 K")
    assert_allclose(hot.temperature - dry.temperature, 20.0)
    same = supply("steam", temperature=f"{hot.temperature - 273.15:.9f} degC")
    assert_allclose(source_of(same).enthalpy, source_of(hot).enthalpy, rtol=1e-7)


def test_wet_steam_carries_its_share_of_the_latent_heat() -> None:
    wet = source_of(supply("steam", quality="0.9"))
    theirs = IAPWS97(P=0.601325, x=0.9)
    assert_allclose(wet.enthalpy, theirs.h * 1e3, rtol=2e-4)


def test_feed_is_cold_water_for_steam_and_condensate_for_other_vapours() -> None:
    steam = source_of(supply("steam", quality="1"))
    assert_allclose(steam.feed_enthalpy, IAPWS97(P=0.101325, T=288.15).h * 1e3, rtol=2e-3)
    warm = source_of(supply("steam", quality="1", feed_temperature="80 degC"))
    assert_allclose(warm.feed_enthalpy, IAPWS97(P=0.101325, T=353.15).h * 1e3, rtol=2e-3)
    organic = source_of(supply("R245fa", quality="1", back_pressure="2 bar absolute"))
    from CoolProp.CoolProp import PropsSI  # noqa: PLC0415

    assert_allclose(organic.feed_enthalpy, PropsSI("HMASS", "P", 2e5, "Q", 0, "R245fa"), rtol=1e-6)


def test_what_does_not_condense_in_a_workshop_comes_from_a_compressor() -> None:
    argon = source_of(supply("Argon", temperature="20 degC"))
    assert argon.is_compressed
    # 1 bar over R T with M = 39.948 g/mol, nearly ideal.
    assert_allclose(argon.free_density, 1e5 / (8.314463 / 0.039948 * 293.15), rtol=1e-3)
    assert not argon.is_boiled


def test_air_still_asks_for_nothing_but_pressure_and_temperature() -> None:
    source = source_of(supply("air", temperature="20 degC"))
    assert source.fluid is gas("air")
    assert isnan(source.vapour_pressure)
    assert source.is_compressed


def test_oil_is_made_from_its_data_sheet() -> None:
    sheet: dict[str, Any] = {
        "oil_density": "870 kg/m3",
        "oil_viscosity_40": "46 mm2/s",
        "oil_viscosity_100": "6.8 mm2/s",
    }
    source = source_of(supply("oil", temperature="40 degC", **sheet))
    found = source.fluid.viscosity(pressure=2e5, enthalpy=2e5 / 870.0)
    assert_allclose(found, 870.0 * 46e-6, rtol=1e-4)
    assert np.array_equal(source.vapour_pressure, nan, equal_nan=True)


def test_every_name_of_a_fluid_stands_once_and_ours_first() -> None:
    names = fluid_names()
    assert names[:5] == ("air", "nitrogen", "steam", "water", "oil")
    assert len(set(names)) == len(names) > 100
    assert {"Water", "Air", "R410A"} & set(names) == set()


@pytest.mark.parametrize(
    ("lines", "key", "says"),
    [
        ("receiver_volume: 50 l", "supply.receiver_volume", "has no receiver_pressure"),
        ("receiver_pressure: 10 bar gauge", "supply.receiver_pressure", "has no receiver_volume"),
        (
            "receiver_volume: 50 l\n  receiver_pressure: 5 bar gauge",
            "supply.receiver_pressure",
            "is not above that of the supply",
        ),
    ],
)
def test_half_a_receiver_and_one_no_fuller_than_the_supply_are_refused(
    lines: str, key: str, says: str
) -> None:
    with pytest.raises(StudyError) as raised:
        parse_study(text("air", f"temperature: 20 degC\n  {lines}"), "study.yaml")
    (problem,) = raised.value.problems
    assert (problem.key, says in problem.found) == (key, True)
