import math
from pathlib import Path

import pytest

from engine.columns import SEARCHED
from engine.errors import StudyError
from engine.model.circuit import NOZZLE_COEFFICIENTS
from engine.stage_columns import OF_LATER_STAGES
from engine.study.machine import Machine
from engine.study.reader import (
    known_names,
    parse_overrides,
    parse_study,
    read_study,
    starter_text,
    study_text_hash,
)
from engine.study.schema import schema_of
from engine.study.study import Study
from engine.study.values import Range
from engine.study.written import value_text
from engine.units import parse
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


def small(extra: str = "", *swaps: tuple[str, str]) -> Study:
    text = SMALL + extra
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    return parse_study(text, "small.yaml")


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.stem)
def test_every_study_of_the_collection_is_read(path: Path) -> None:
    study = read_study(path)
    assert study.title
    open_ones = [key for key in study.variables if not (key == "speed" and study.speed_settles)]
    assert all(not study.searched()[key].is_fixed for key in open_ones)
    margin = {"turbine": ("stress_margin", 1.5), "pump": ("safety_margin", 1.2)}[study.kind]
    assert study.all_limits[margin[0]].min == margin[1]


def test_both_studies_of_the_lane_workshop_ask_the_same_question() -> None:
    short, night = (
        read_study(places.STUDIES / f"lane-workshop{end}.yaml") for end in ("", "-night")
    )
    for part in ("supply", "machine", "limits", "aims"):
        assert getattr(short, part) == getattr(night, part)
    for key, given in short.searched().items():
        wide = night.searched()[key]
        assert (wide.lowest, wide.highest) == pytest.approx((given.lowest, given.highest))
        assert len(wide.values or ()) >= len(given.values or ())
    assert night.search.designs > 50 * short.search.designs


def test_text_becomes_si() -> None:
    study = small(
        "machine: {balance_grade: 6.3 mm/s}\nlimits: {exhaust_temperature: {min: -20 degC}}\n"
    )
    # 1 bar = 1e5 Pa and the standard atmosphere 101 325 Pa: SI Brochure, 8th edition, table 8.
    assert study.supply.pressure == pytest.approx(6e5 + 101325)
    assert study.supply.temperature == pytest.approx(293.15)
    assert study.machine.balance_grade == pytest.approx(6.3e-3)
    assert study.ranges.speed.lowest == pytest.approx(18000 * 2 * math.pi / 60)
    assert study.limits["exhaust_temperature"].min == pytest.approx(253.15)


def test_gauge_counts_from_the_atmosphere_of_the_study_everywhere() -> None:
    study = small(
        "limits: {rim_pressure: {max: 2 bar gauge}}\n",
        ("{pressure", "{atmosphere: 900 mbar absolute, pressure"),
    )
    assert study.supply.pressure == pytest.approx(6.9e5)
    assert study.limits["rim_pressure"].max == pytest.approx(2.9e5)


def test_the_exhaust_blows_into_the_atmosphere_unless_told_otherwise() -> None:
    high = ("{pressure", "{atmosphere: 900 mbar absolute, pressure")
    assert small().supply.back_pressure == 101325.0
    assert small("", high).supply.back_pressure == pytest.approx(9e4)
    told = ("{pressure", "{back_pressure: 1 bar gauge, pressure")
    assert small("", told).supply.back_pressure == pytest.approx(201325.0)


def test_ranges_know_their_values() -> None:
    ranges = small().ranges
    # A step that does not divide the span ends on the last value below max.
    assert ranges.disc_diameter.values == (0.080, 0.085, 0.090, 0.095)
    assert ranges.gap.values == (0.2e-3, 0.3e-3, 0.5e-3)
    assert ranges.inlet_angle.values is None
    assert ranges.inlet_angle.highest == pytest.approx(25 * math.pi / 180)
    assert ranges.exhaust_bore.values == (0.020,)
    assert ranges.speed.is_fixed
    assert not ranges.gap.is_fixed
    assert (ranges.gap.lowest, ranges.gap.highest) == (0.2e-3, 0.5e-3)


def test_whole_numbers_without_a_step_go_by_one() -> None:
    given = small("", ("disc_count: 12", "disc_count: {min: 4, max: 7}")).ranges.disc_count
    assert given.values == (4, 5, 6, 7)
    assert all(isinstance(value, int) for value in given.values)


def test_a_grid_value_equals_its_own_text() -> None:
    given = small("", ("max: 99 mm, step: 5 mm", "max: 200 mm, step: 0.1 mm")).ranges.disc_diameter
    assert given.values is not None
    assert len(given.values) == 1201
    assert given.values == tuple(
        parse(f"{tenths / 10} mm", "length") for tenths in range(800, 2001)
    )


@pytest.mark.parametrize("key", Machine.model_fields)
def test_any_machine_number_may_be_searched(key: str) -> None:
    described = schema_of("turbine")["properties"]["machine"]["properties"][key]
    value = described.get("default", 0.9 if key in NOZZLE_COEFFICIENTS else 1.5)  # or computed
    unit = {
        "hose_volume": " m3", "bearing_viscosity": " mm2/s", "generator_kv": " rad/s/V",
        "winding_resistance": " ohm", "no_load_loss": " W", "generator_current": " A",
        "generator_voltage": " V", "nozzle_width_2": " m", "nozzle_width_3": " m",
        "bolt_circle": " m",
    }.get(key, "")  # fmt: skip
    value = {"disc_count": 4, "nozzle_width": 0.1}.get(key[:-2], value)
    # Half a data sheet is refused.
    beside = {
        "generator_kv": "winding_resistance: 1 ohm",
        "winding_resistance": "generator_kv: 9 rpm/V",
    }
    machine = f"machine: {{{beside[key]}}}\n" if key in beside else ""
    study = small("", ("ranges:", f"{machine}ranges:\n  {key}: {value}{unit}"))
    given = study.searched()[key]
    assert given.is_fixed
    usual = getattr(Machine(), key)
    scale = 1e-6 if key == "bearing_viscosity" else 1
    assert given.lowest == pytest.approx(value * scale if usual is None else usual)
    assert key not in study.fixed()
    assert list(study.searched()) == [*SEARCHED, key]


def test_searched_and_fixed_share_all_machine_numbers() -> None:
    study = small("", ("ranges:", "ranges:\n  material: {choices: [brass, stainless-304]}"))
    assert study.searched()["material"].values == ("brass", "stainless-304")
    assert study.searched().keys() | study.fixed().keys() == {*SEARCHED, *Machine.model_fields}
    assert not study.searched().keys() & study.fixed().keys()


def test_the_available_flow_is_a_limit_where_the_study_states_no_other() -> None:
    flow = ("{pressure", "{available_flow: 10 g/s, pressure")
    assert "mass_flow" not in small().all_limits
    assert small("", flow).all_limits["mass_flow"].max == pytest.approx(0.010)
    own = small("limits: {mass_flow: {max: 8 g/s}}\n", flow).all_limits["mass_flow"]
    assert own.max == pytest.approx(0.008)
    least = small("limits: {mass_flow: {min: 2 g/s}}\n", flow).all_limits["mass_flow"]
    assert (least.min, least.max) == pytest.approx((0.002, 0.010))


def test_sections_without_content_are_as_if_left_out() -> None:
    study = small("limits:\n  # stress_margin: {min: 1.5}\naims:\nmachine:\nsearch:\n")
    assert study == small()
    assert study.aims == {"electric_power": "maximise", "safety_margin": "maximise"}


def test_aims_keep_the_order_of_the_file() -> None:
    aims = "aims: {stored_energy: minimise, safety_margin: maximise, electric_power: maximise}\n"
    assert list(small(aims).aims) == ["stored_energy", "safety_margin", "electric_power"]


def test_a_study_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="frozen"):
        small().title = "another"  # type: ignore[misc]


def test_a_study_may_also_be_made_in_python() -> None:
    ranges = {key: {"choices": [value]} for key, value in {
        "disc_count": 12, "disc_diameter": "80 mm", "gap": "0.3 mm", "inlet_angle": "6 deg",
        "exhaust_bore": "20 mm", "speed": "18000 rpm"}.items()}  # fmt: skip
    supply = {"pressure": "6 bar gauge", "temperature": "20 degC"}
    study = Study.model_validate({"title": "x", "supply": supply, "ranges": ranges})
    assert study.ranges.gap.lowest == pytest.approx(0.3e-3)
    with pytest.raises(ValueError, match=r"0\.0003' has no unit"):
        Study.model_validate({"title": "x", "supply": supply, "ranges": ranges | {"gap": 0.0003}})
    assert isinstance(study.ranges.gap, Range)


@pytest.mark.parametrize("title", ["Möwe & Söhne <b>x</b>", 'a: "b" # c', "{title}", "日本", "yes"])
def test_the_starter_runs_as_it_stands(title: str) -> None:
    study = parse_study(starter_text(title), "starter.yaml")
    assert study.title == title
    assert study.all_limits.keys() >= {"stress_margin", "safety_margin", "mass_flow"}


@pytest.mark.parametrize("title", ["", " ", "x" * 200, "a\nb", "a\x1bb"])
def test_the_starter_refuses_a_name_that_is_no_title(title: str) -> None:
    with pytest.raises(StudyError, match="title"):
        starter_text(title)


def test_the_hash_of_a_study_is_that_of_its_text() -> None:
    # FIPS 180-2, appendix B.1: SHA-256 of "abc".
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert study_text_hash("abc") == known
    assert study_text_hash("\ufeffa\r\nb\r\n") == study_text_hash("a\nb\n")
    assert study_text_hash(SMALL) != study_text_hash(SMALL.replace("18000", "18001"))


def test_a_file_may_begin_with_a_mark_and_end_its_lines_as_it_likes(tmp_path: Path) -> None:
    path = tmp_path / "small.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_study(path) == small()


def test_overrides_make_one_build_in_si() -> None:
    typed = ["gap=0.3mm", "inlet_angle = 10 deg", "disc_diameter=150mm", "material=brass"]
    build = parse_overrides([*typed, "speed=9000rpm", "nozzle_count=6"], small())
    assert build == {
        "disc_count": 12,
        "disc_diameter": pytest.approx(0.150),
        "gap": pytest.approx(0.3e-3),
        "inlet_angle": pytest.approx(10 * math.pi / 180),
        "exhaust_bore": pytest.approx(0.020),
        "speed": pytest.approx(9000 * 2 * math.pi / 60),
        "material": "brass",
        "nozzle_count": 6,
    }


def test_numbers_of_stages_that_a_build_does_not_have_need_no_value() -> None:
    study = read_study(places.STUDIES / "lane-workshop-stages.yaml")
    typed = ["stage_count=2", "disc_count_2=5"]
    with pytest.raises(StudyError) as caught:
        parse_overrides(typed, study)
    asked = {problem.key for problem in caught.value.problems}
    assert "nozzle_width_2" in asked
    assert not asked & {"disc_count_2", "disc_count_3", "nozzle_width_3"}
    with pytest.raises(StudyError) as caught:
        parse_overrides([], study)
    assert not {problem.key for problem in caught.value.problems} & set(OF_LATER_STAGES)
    ranges = study.searched()
    texts = {key: value_text(key, each.lowest) for key, each in ranges.items()}
    texts |= {"stage_count": "2"}
    needed = [f"{k}={v}" for k, v in texts.items() if not k.endswith("_3")]
    assert parse_overrides(needed, study)["disc_count_3"] == ranges["disc_count_3"].lowest


def test_every_default_name_is_in_its_table() -> None:
    names, machine = known_names(), Machine()
    assert {machine.material, machine.shaft_material} <= set(names["material"])
    assert machine.process in names["process"]
    assert machine.bearing in names["bearing"]


def test_overrides_name_what_is_wrong_with_them() -> None:
    study = small()
    typed = [
        "gap=0.3", "gap=0.4mm", "sped=9000rpm", "material=bras", "loose", "nozzle_count=2.5",
        "disc_count=12", "disc_diameter=150 mm", "pressure=5 bar gauge",
    ]  # fmt: skip
    with pytest.raises(StudyError) as caught:
        parse_overrides(typed, study)
    assert [(p.line, p.key) for p in caught.value.problems] == [
        (None, "gap"), (None, "gap"), (None, "sped"), (None, "material"), (None, "loose"),
        (None, "nozzle_count"), (None, "pressure"), (None, "inlet_angle"),
    ]  # fmt: skip
    told = str(caught.value)
    for fragment in (
        "command line: gap: '0.3' has no unit",
        "gap: is given twice",
        "perhaps you meant speed",
        "perhaps you meant brass",
        "expected KEY=VALUE",
        "inlet_angle: has no value; expected one of the study, from 6 deg to 25 deg",
    ):
        assert fragment in told
