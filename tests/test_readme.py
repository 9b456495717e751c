"""README's promises that can be read off the code."""

import re

import pytest

from engine.study.machine import Machine
from engine.study.reader import parse_study, starter_text
from engine.study.search import Search
from engine.study.uncertainty import Uncertainty
from tests.support.places import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


def rows(section: str) -> dict[str, str]:
    """Usual value by key of a table under a heading."""
    part = README.split(f"### {section}\n", 1)[1].split("\n### ", 1)[0]
    return dict(re.findall(r"^\| `(\w+)` \|.*\| `([^`]+)` \|$", part, re.MULTILINE))


def test_every_machine_number_stands_in_readme_with_its_usual_value() -> None:
    told = rows("machine")
    assert set(told) == set(Machine.model_fields)
    head, tail = starter_text("usual values").split("machine:", 1)
    lines = "".join(f"  {key}: {value}\n" for key, value in told.items())
    study = parse_study(f"{head}machine:\n{lines}\nranges:{tail.split('ranges:', 1)[1]}", "told")
    for key, field in Machine.model_fields.items():
        value = getattr(study.machine, key)
        close = value == field.default or abs(value / field.default - 1) < 1e-9
        assert close, f"{key}: README says {told[key]}, the code {field.default}"


def test_search_defaults_stand_in_readme() -> None:
    told = rows("search")
    for key, field in Search.model_fields.items():
        usual = field.default
        text = f"[{', '.join(usual)}]" if isinstance(usual, tuple) else str(usual)
        assert told.pop(key) == text
    assert not told


def test_usual_uncertainties_stand_in_readme() -> None:
    part = README.split("### uncertainty\n", 1)[1].split("\n## ", 1)[0].split("\n### ", 1)[0]
    told = dict(re.findall(r"^\| `(\w+)` \|[^|]*\| ([^|]+) \|", part, re.MULTILINE))
    assert set(told) == set(Uncertainty.model_fields)
    given = {key: value.strip("`") for key, value in told.items() if value != "of the process"}
    read = Uncertainty.model_validate(given)
    for key in Uncertainty.model_fields:
        assert getattr(read, key) == pytest.approx(getattr(Uncertainty(), key)), key
