"""A pump and a blower tried live, without a server."""

import json
from pathlib import Path

import pytest

from engine.run.point import point_of
from engine.study.reader import parse_study
from reports.live.asked import Asked
from reports.live.desk import Desk
from reports.live.page import write_page
from reports.live.telling import table_keys
from tests.study.test_blower_study import FUMES
from tests.support.pumps import STUDY, VALUES

PAIRS = [
    *((value.partition("=")[0], value.partition("=")[2]) for value in VALUES),
    ("disc_diameter", "80 mm"), ("eye_diameter", "30 mm"),
]  # fmt: skip


@pytest.fixture(scope="module")
def desk() -> Desk:
    return Desk(Asked(STUDY, "loop.yaml", ("loop.yaml",)))


def test_what_is_told_of_a_pump_is_what_point_tells(desk: Desk) -> None:
    found = desk.rest(PAIRS)
    json.dumps(found, allow_nan=False)
    point = point_of(parse_study(STUDY, "loop.yaml"), [f"{k}={v}" for k, v in PAIRS])
    assert found["plain"] == point.as_plain()
    assert [words for value, words in found["figures"] if "lifts the fluid" in words]
    assert "Flood it" in found["musts"]
    assert any(limit["limit"].startswith("NPSH margin") for limit in found["limits"])
    assert found["drawings"].keys() >= {"section", "view", "ruler-wide", "power-narrow"}
    told = " ".join([found["musts"], *found["notes"], *found["draws"]]).lower()
    for word in ("nozzle", "turbine", "generator", "exhaust", "jets"):
        assert word not in told, word


def test_temperature_and_duty_can_be_turned(desk: Desk) -> None:
    less = desk.build([*PAIRS, ("static_head", "0.5 m"), ("temperature", "40 degC")])
    text = STUDY.replace("static_head: 1.5 m", "static_head: 0.5 m").replace("20 degC", "40 degC")
    other = Desk(Asked(text, "other.yaml", ("other.yaml",))).build(PAIRS)
    assert less["values"]["flow"] == other["values"]["flow"]
    assert less["values"]["flow"] != desk.build(PAIRS)["values"]["flow"]
    assert less["command"].endswith("'static_head=0.5 m' 'supply_temperature=40 degC'")
    around = desk.study([("kept", "&".join(f"{k}={v}" for k, v in [*PAIRS, ("head_loss", "2 m")]))])
    assert "head_loss: 2 m" in around["yaml"]


def test_curve_and_climb_of_a_pump(desk: Desk) -> None:
    assert "<svg" in desk.sweep([("of", "throat_area"), *PAIRS])["svg"]
    climb = desk.nudge([("to", "flow"), *PAIRS])
    assert climb["steps"], climb["text"]


def test_the_page_of_a_blower_has_its_words_and_none_of_boiling() -> None:
    asked = Asked(FUMES, "fumes.yaml", ("fumes.yaml",))
    page = write_page(asked, None)
    assert "screen before the eye" in page
    for word in ("NPSH", "npsh", "Flood", "boils"):
        assert word not in page, word
    assert 'data-key="pressure_loss"' in page
    study = parse_study(FUMES, "fumes.yaml")
    assert not {"npsh_margin", "npsh_required"} & set(table_keys(study))
    found = Desk(asked).build(list(Desk(asked).start(()).items()))
    assert any("Pa" in value or "Pa" in words for value, words in found["figures"])


def test_a_study_file_of_a_pump_is_taken(tmp_path: Path) -> None:
    from reports.live.serve import _asked  # noqa: PLC0415

    study = tmp_path / "loop.yaml"
    study.write_text(STUDY, encoding="utf-8")
    assert _asked(study, None)[0].text == STUDY
