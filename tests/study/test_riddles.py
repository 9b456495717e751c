"""Messages that once misled: each now says what a machinist meant and how to write it."""

from pathlib import Path

import pytest

from engine.errors import StudyError
from engine.run.point import point_of
from engine.study.oddities import oddities
from engine.study.reader import parse_overrides, parse_study, read_study, starter_text
from engine.study.study import Study
from tests.study.test_study_errors import GOOD

LOADS = "search:", "loads: {appliances: {notebook: 65 W}}\nsearch:"
# What is changed in GOOD, and the one message: line, key, found, remedy.
RIDDLES = {
    "a make of bearing": (
        "material: stainless-304", "bearing: 6001-2Z", 8, "machine.bearing",
        "'6001-2Z' names one make of the bearing 6001", "write 6001",
    ),
    "a maker's letters": (
        "material: stainless-304", "bearing: SS6001", 8, "machine.bearing",
        "'SS6001' names one make of the bearing 6001", "write 6001",
    ),
    "power for a count": (
        *LOADS, 26, "loads.appliances.notebook", "'65 W' is a power", "write {running: 65 W}",
    ),
    "per minute": (
        "18000 rpm", "18000 1/min", 18, "ranges.speed", "counts per time", "write 18000 rpm",
    ),
    "per second": (
        "18000 rpm", "300 1/s", 18, "ranges.speed", "counts per time", "write 18000 rpm",
    ),
    "a comma in a flow mapping": (
        "speed: 18000 rpm", "speed: {min: 9000 rpm, max: 30,000 rpm}", 18, "ranges.speed.000 rpm",
        "the comma before it parts two entries", "as in 30000 rpm",
    ),
    "a comma between thousands": (
        "18000 rpm", "18,000 rpm", 18, "ranges.speed", "has a comma in its number",
        "write 18000 rpm, or 18.000 rpm if it is a decimal comma",
    ),
    "a space between thousands": (
        "18000 rpm", "18 000 rpm", 18, "ranges.speed", "has a break in its number",
        "write 18000 rpm",
    ),
    "kilograms for a force": (
        "nozzle_count: 4", "shaft_seal_torque: 1 kg cm", 7, "machine.shaft_seal_torque",
        "is a mass times a length", "write 1 kgf cm",
    ),
    "a bearing wider than the shaft": (
        "material: stainless-304", "bearing: 6204", 8, "machine.bearing",
        "has a bore of 20 mm and the shaft only 12 mm", "a smaller bearing",
    ),
    "a plastic in the heat": (
        "temperature: 20 degC", "temperature: 154 degC", 8, "machine.material",
        "polycarbonate is known up to 115 °C", "another material or a cooler supply",
    ),
    "text that turns other text around": (
        "A shop by the canal", "A shop\u202e by the canal", 1, "title",
        "a character that cannot be shown", "write plain text",
    ),
}  # fmt: skip


@pytest.mark.parametrize("row", RIDDLES.values(), ids=RIDDLES)
def test_a_riddle_gets_one_plain_message(row: tuple[str, str, int, str, str, str]) -> None:
    old, new, line, key, found, remedy = row
    assert GOOD.count(old) == 1
    text = GOOD.replace(old, new)
    if "polycarbonate" in found:
        text = text.replace("stainless-304", "polycarbonate")
    with pytest.raises(StudyError) as caught:
        parse_study(text, "night.yaml")
    (problem,) = caught.value.problems
    # A title with a wrong character is reported for the line, without its key.
    assert problem.line == line
    assert problem.key in (key, "")
    assert found in str(problem)
    assert remedy in str(problem)


def test_a_key_of_the_supply_is_no_number_of_a_build() -> None:
    with pytest.raises(StudyError, match="pressure: belongs to the section supply, not to a build"):
        parse_overrides(["pressure=3bar"], parse_study(GOOD, "night.yaml"))


def test_a_bearing_may_be_a_number_in_python() -> None:
    given = {
        "title": "A shop", "supply": {"pressure": "6 bar gauge", "temperature": "20 degC"},
        "machine": {"bearing": 608, "shaft_diameter": "8 mm"},
        "ranges": {"disc_count": 8, "disc_diameter": "90 mm", "gap": "0.5 mm",
                   "inlet_angle": "6 deg", "exhaust_bore": "42 mm", "speed": "20000 rpm"},
    }  # fmt: skip
    assert Study.model_validate(given).machine.bearing == "608"


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ("exhaust_bore=120mm", "the exhaust bore, 120 mm, is not smaller than the discs, 100 mm"),
        ("shaft_diameter=50mm", "the shaft, 50 mm, fills the exhaust bore, 40 mm"),
        ("nozzle_width=150mm", "% of the rim; take fewer, narrower or steeper ones"),
        ("bearing=6204", "the bearing 6204 has a bore of 20 mm and the shaft only 12 mm"),
    ],
)
def test_a_build_that_cannot_exist_says_why_and_has_no_numbers(changed: str, reason: str) -> None:
    study = parse_study(starter_text("A bench"), "bench.yaml")
    build = {"disc_count": "10", "disc_diameter": "100mm", "gap": "0.3mm", "inlet_angle": "10deg"}
    build |= {"exhaust_bore": "40mm", "speed": "12000rpm"}
    key, _, value = changed.partition("=")
    found = point_of(study, [f"{k}={v}" for k, v in {**build, key: value}.items()])
    assert any(reason in said for said in found.impossible)
    plain = found.as_plain()
    assert plain["electric_power_W"] is None
    if key != "bearing":
        assert plain["status"] == "bad geometry"
        for name in ("rotor_mass_kg", "stored_energy_J", "safety_margin", "bore_wall_mm"):
            assert plain[name] is None, name


def test_check_names_what_is_odd_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "night.yaml"
    text = GOOD.replace("nozzle_count: 4", "disc_thickness: 15 mm")
    path.write_text(text.replace("stainless-304", "stainless-304\n  bearing: 608"), "utf-8")
    told = [str(problem) for problem in oddities(path, read_study(path))]
    assert len(told) == 2
    assert "night.yaml:7: machine.disc_thickness: 15 mm is odd; expected usually from" in told[0]
    assert "night.yaml:9: machine.bearing: the shaft of 12 mm is turned down to 8 mm" in told[1]
    assert "passes seats up to 10 mm: take the bearing 6000" in told[1]
    path.write_text(GOOD, "utf-8")
    assert oddities(path, read_study(path)) == []


@pytest.mark.parametrize(
    ("machine", "told"),
    [
        (
            "bearing: 6001",
            (
                "night.yaml:9: machine.bearing: the clamp nut, M12 with 10.11 mm inside, does not "
                "pass the seat of the bearing 6001, 12 mm, to its thread; take a shaft of 15 mm "
                "or the bearing 6000"
            ),
        ),
        (
            "bearing: 608\n  shaft_diameter: 8 mm",
            (
                "night.yaml:10: machine.shaft_diameter: the clamp nut, M8 with 6.65 mm inside, "
                "does not pass the seat of the bearing 608, 8 mm, to its thread; take a shaft of "
                "10 mm or the bearing 626"
            ),
        ),
        (
            "bearing: 681\n  shaft_diameter: 1 mm",
            (
                "M1 with 0.73 mm inside, does not pass the seat of the bearing 681, 1 mm, to its "
                "thread; take a shaft of 1.6 mm"
            ),
        ),
    ],
)
def test_check_names_a_clamp_nut_that_cannot_be_put_on(
    tmp_path: Path, machine: str, told: str
) -> None:
    path = tmp_path / "night.yaml"
    path.write_text(GOOD.replace("stainless-304", f"stainless-304\n  {machine}"), "utf-8")
    assert told in " ".join(str(each) for each in oddities(path, read_study(path)))


def test_the_clamp_nut_is_a_limit_only_where_it_can_be_chosen(tmp_path: Path) -> None:
    path = tmp_path / "night.yaml"
    searched = GOOD.replace("ranges:\n", "ranges:\n  shaft_diameter: {choices: [10 mm, 12 mm]}\n")
    stated = searched.replace("limits:\n", "limits:\n  nut_clearance: {min: -3 mm}\n")
    for text, least in ((GOOD, None), (searched, 1e-5), (stated, -3e-3)):
        path.write_text(text, "utf-8")
        study = read_study(path)
        limit = study.all_limits.get("nut_clearance")
        assert (limit and limit.min) == (least if least is None else pytest.approx(least))
        assert oddities(path, study) == []


def test_check_names_a_liquid_that_is_shut_in_a_tenth_of_a_second(tmp_path: Path) -> None:
    path = tmp_path / "mill.yaml"
    wet = GOOD.replace("  pressure: 6 bar gauge\n", "  fluid: water\n  pressure: 6 bar gauge\n")
    wet = wet.replace("600 l/min", "6 kg/s")
    path.write_text(wet, "utf-8")
    (told,) = oddities(path, read_study(path))
    assert "machine.valve_closing: water is shut within 0.1 s; its surge (Joukowsky)" in str(told)
    path.write_text(wet.replace("nozzle_count: 4", "valve_closing: 5 s"), "utf-8")
    assert oddities(path, read_study(path)) == []
