"""A supply that the command line changes for one build: as if the study file said so."""

import pytest

from engine.errors import StudyError
from engine.study.reader import parse_overrides, parse_study, split_supply, starter_text


def text() -> str:
    return starter_text("part load")


def test_a_changed_pressure_is_that_of_the_file_changed_by_hand() -> None:
    changed, rest = split_supply(["speed=9000 rpm", "supply_pressure=4 bar gauge"])
    assert rest == ["speed=9000 rpm"]
    assert "pressure: 6 bar gauge" in text()
    by_hand = parse_study(text().replace("pressure: 6 bar gauge", "pressure: 4 bar gauge"), "a")
    assert parse_study(text(), "a", changed) == by_hand
    assert parse_study(text(), "a") != by_hand


def test_any_key_of_the_supply_may_be_changed() -> None:
    texts = ["supply_temperature=60 degC", "back_pressure=0.2 bar gauge", "available_flow=1 kg/s"]
    changed, rest = split_supply(texts)
    assert not rest
    supply = parse_study(text(), "a", changed).supply
    assert supply.temperature == pytest.approx(333.15)
    assert supply.available_flow == 1.0
    assert supply.back_pressure == pytest.approx(supply.atmosphere + 0.2e5)


@pytest.mark.parametrize(
    ("given", "found"),
    [
        ("supply_pressure=4", "does not say gauge or absolute"),
        ("supply_pressure=-3 bar gauge", "out of bounds"),
        ("available_flow=-1 kg/s", "out of bounds"),
    ],
)
def test_a_wrong_one_is_told_as_of_the_command_line(given: str, found: str) -> None:
    changed, _ = split_supply([given])
    with pytest.raises(StudyError) as caught:
        parse_study(text(), "file.yaml", changed)
    (problem,) = caught.value.problems
    assert problem.file == "command line"
    assert problem.line is None
    assert found in str(problem)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("supply_presure", "supply_pressure"), ("presure", "pressure"), ("disc_cuont", "disc_count")],
)
def test_a_misspelt_key_gets_the_one_that_is_meant(typed: str, meant: str) -> None:
    changed, rest = split_supply([f"{typed}=4 bar gauge"])
    assert not changed
    with pytest.raises(StudyError, match=f"{typed}: .* perhaps you meant {meant}\\b"):
        parse_overrides(rest, parse_study(text(), "a"))


def test_a_key_given_twice_is_refused() -> None:
    with pytest.raises(StudyError, match="given twice"):
        split_supply(["pressure=4 bar gauge", "supply_pressure=5 bar gauge"])
