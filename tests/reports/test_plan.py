"""The bench plan: what it says, and that the logs it hands out are read by fit."""

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.bench.files import write_plan as put
from engine.bench.log import read_log
from engine.bench.tap_test import fit_tap_test
from engine.bench.telling import telling_test
from engine.errors import RunFolderError, StudyError
from engine.model.tapped import tapped_disc
from engine.study.fit import Fit
from reports.design import plan_air, plan_logs, plan_readings, plan_sensors
from reports.design.expected import ReadingBand
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.plan import write_plan
from reports.design.plan_logs import LOGGED
from reports.design.plan_readings import band_text, instruments
from reports.kit.quantities import THIN, number
from reports.run.rubbing_wording import change_text


@pytest.fixture(scope="module")
def files(sheet_data: BuildData) -> Mapping[str, str]:
    return write_plan(sheet_data)


@pytest.fixture(scope="module")
def facts(sheet_data: BuildData) -> BuildFacts:
    return build_facts_of(sheet_data)


def test_the_plan_states_order_bands_stops_and_cautions(files: Mapping[str, str]) -> None:
    page = files["plan.html"]
    order = [page.index(f"{n}. ") for n in (1, 2, 3, 4, 5)]
    assert order == sorted(order)
    for said in (
        "Tap test",
        "Trip and relief",
        "Trip test at low speed",
        "Rotor locked",
        "lever of 100 mm",
        "Coast-down",
        "Loaded run",
        f"4.5{THIN}mm/s RMS",
    ):
        assert said in page
    assert "http" not in page.replace("http-equiv", "")


def test_a_log_of_the_plan_filled_in_is_read(
    files: Mapping[str, str], sheet_data: BuildData, tmp_path: Path
) -> None:
    lines = files["loaded-run.csv"].splitlines()
    first = len(lines) - 15
    filled = [
        f"{line.rstrip(',')},{200 - n},24.{n},3,7,5,20,2.{n},-{n + 10},6{n},4.{n}"
        for n, line in enumerate(lines[first:])
    ]
    path = tmp_path / "loaded-run.csv"
    path.write_text("\n".join([*lines[:first], *filled]), encoding="utf-8")
    log = read_log(path, sheet_data.study)
    assert log.build["disc_count"] == 11
    assert log.build["gap"] == pytest.approx(0.2e-3)
    speeds = sheet_data.readings.averaged["speed"]
    np.testing.assert_allclose(log.columns["speed"], np.repeat(speeds, 3), rtol=1e-5)
    assert [line.partition(",")[0] for line in filled[:3]] == ["50 %", "75 %", "100 %"]
    np.testing.assert_allclose(np.degrees(log.columns["outlet_angle"][:2]), (60, 61))
    np.testing.assert_allclose(log.columns["outlet_rise"][0], 400)


def test_a_plan_for_a_hose_asks_for_a_second_dial(
    files: Mapping[str, str], sheet_data: BuildData
) -> None:
    assert "Second dial" not in files["plan.html"]
    assert not any("nozzle_pressure" in text for text in files.values())
    supply = sheet_data.study.supply.model_copy(update={"dial": "before-hose"})
    hosed = sheet_data.study.model_copy(update={"supply": supply})
    # The readings behind a hose are those of its dial here: what matters is that they are listed.
    readings, locked = (
        replace(
            each,
            averaged={**each.averaged, "nozzle_pressure": dial},
            resolved={**each.resolved, "nozzle_pressure": dial},
            bands={**each.bands, "nozzle_pressure": (dial, dial)},
        )
        for each in (sheet_data.readings, sheet_data.locked)
        for dial in [each.averaged["nozzle_pressure"]]
    )
    found = write_plan(replace(sheet_data, study=hosed, readings=readings, locked=locked))
    assert "Second dial" in found["plan.html"]
    assert found["plan.html"].count("Pressure before nozzles") == 2
    for name in ("loaded-run.csv", "rotor-locked.csv"):
        assert "nozzle_pressure: {quantity: nozzle_pressure, unit: bar gauge" in found[name]


def test_the_log_of_a_locked_rotor_filled_in_is_read(
    files: Mapping[str, str], sheet_data: BuildData, tmp_path: Path
) -> None:
    lines = files["rotor-locked.csv"].splitlines()
    first = len(lines) - 5
    assert [line.partition(",,")[0] for line in lines[first:]] == [
        f"0,{pressure}" for pressure in ("2.4", "3.3", "4.2", "5.1", "6")
    ]
    filled = [
        line.replace(",,,,", f",20.{n},{2 + n},{3 + n},0.1{n}")
        for n, line in enumerate(lines[first:])
    ]
    path = tmp_path / "rotor-locked.csv"
    path.write_text("\n".join([*lines[:first], *filled]), encoding="utf-8")
    log = read_log(path, sheet_data.study)
    assert log.n_locked == 5
    np.testing.assert_allclose(log.columns["shaft_torque"], 0.1 * np.arange(2, 7))
    np.testing.assert_allclose(
        log.columns["supply_pressure"], sheet_data.locked.averaged["supply_pressure"]
    )


def test_the_log_of_the_tap_test_filled_in_gives_the_modes_of_the_plan(
    files: Mapping[str, str], sheet_data: BuildData, tmp_path: Path
) -> None:
    values = {key: column[sheet_data.row] for key, column in sheet_data.front.items()}
    disc = tapped_disc(values)
    for frequency in disc.frequency[[0, -1]].ravel():
        assert f"<td>{number(frequency)}</td>" in files["plan.html"]
    path = tmp_path / "tap-test.csv"
    text = files["tap-test.csv"]
    for n in (1, 2, 3):
        text = text.replace(f"\n{n},", f"\n{n},{1.03 * disc.frequency[12, n - 1]:.1f}")
    path.write_text(text, encoding="utf-8")
    log = read_log(path, sheet_data.study)
    assert len(log.excluded) == 3  # those that were not heard
    found = fit_tap_test(sheet_data.study, log)
    assert found.mode.tolist() == [1, 2, 3]
    assert found.fit.values["wave_factor"] == pytest.approx(1.03, abs=0.03)


def test_the_logs_against_time_name_their_tests(
    files: Mapping[str, str], sheet_data: BuildData, tmp_path: Path
) -> None:
    rise = "\n".join(f"{t / 20},{5000 + 50 * t}" for t in range(30))
    for name, kind in (("trip-test.csv", "trip"), ("coast-down.csv", "coast-down")):
        path = tmp_path / name
        path.write_text(f"{files[name]}{rise}\n", encoding="utf-8")
        log = read_log(path, sheet_data.study)
        assert log.test == kind
        assert (log.is_trip, log.is_coast_down) == (kind == "trip", kind != "trip")
    # 0.4 of 15,000 rpm
    assert "trip_speed: 6000 rpm" in files["trip-test.csv"]


def test_the_plan_states_what_a_locked_rotor_should_read(
    files: Mapping[str, str], sheet_data: BuildData
) -> None:
    page = files["plan.html"]
    # The log takes a force on a lever of 0.1 m, so the page shows that.
    forces = sheet_data.locked.expected("shaft_torque") / 0.1
    places = [page.index(f"<td>{number(force)}<small>") for force in forces]
    assert places == sorted(places)
    assert f"2.4{THIN}bar gauge" in page
    assert '<th scope="col">Force on the lever <small>N</small></th>' in page


def test_readings_stand_in_the_units_of_the_logs(sheet_data: BuildData) -> None:
    facts = build_facts_of(sheet_data)
    for table, columns in (
        (plan_readings.loaded_table(facts), plan_logs.LOGGED),
        (plan_readings.locked_table(facts), plan_logs.HELD),
    ):
        for each in table.instruments:
            unit = columns.get(each.key, ("W", ""))[0].replace("degC", "°C")
            assert each.unit == unit, each.key
            assert not each.unit.startswith("bar") or each.unit.endswith(("gauge", "absolute"))
    rim = next(
        each for each in plan_readings.loaded_table(facts).instruments if each.key == "rim_pressure"
    )
    assert rim.text(facts.study.supply.atmosphere + 0.0874e5) == "0.087"
    assert rim.setting(facts.study.supply.pressure).replace(THIN, " ") == "6 bar gauge"
    assert rim.width(0.02e5) == "0.020"


def test_time_and_air_of_the_tests_are_set_against_the_supply(sheet_data: BuildData) -> None:
    facts = build_facts_of(sheet_data)
    found = {each.test: each for each in plan_air.drawn(facts)}
    flows = sheet_data.readings.expected("mass_flow")
    # Five speeds at three loads, ten minutes each.
    assert found["Loaded run"].minutes == 150
    assert found["Loaded run"].mass == pytest.approx(3 * 600 * flows.sum())
    assert found["Rotor locked"].minutes == 5
    assert found["Coast-down"].mass == pytest.approx(4 * 60 * facts.number("mass_flow"))
    most = max(each.flow for each in found.values())
    for available, words in (
        (1.01 * most, "no test has to wait"),
        (0.9 * most, "hold the fast steps shorter"),
        (None, "does not state what its supply gives"),
    ):
        supply = sheet_data.study.supply.model_copy(update={"available_flow": available})
        study = sheet_data.study.model_copy(update={"supply": supply})
        other = replace(facts, study=study)
        assert words in plan_air.verdict(other)
        loaded = next(row for row in plan_air.rows(other) if row[0] == "Loaded run")
        litres = 60e3 * found["Loaded run"].flow / (1e5 / (287.05 * 293.15))
        assert float(loaded[2].split(THIN + "l")[0].replace(THIN, "")) == pytest.approx(
            litres, rel=0.005
        )
        assert (loaded[3] == "") == (available is None)


def test_every_column_of_the_log_has_a_seat_in_the_drawing(
    files: Mapping[str, str], sheet_data: BuildData
) -> None:
    seated = plan_sensors.sensors(build_facts_of(sheet_data))
    logged = [key for key, (unit, _) in plan_logs.LOGGED.items() if unit]
    assert set(plan_sensors.SEATS) == set(logged)
    figure = files["plan.html"].partition('<figure class="seats">')[2].partition("</figure>")[0]
    badges = re.findall(r'<text class="b"[^>]*>(\d+)</text>', figure)
    assert badges == [str(sensor.number) for sensor in seated]
    hose = sheet_data.study.supply.model_copy(update={"dial": "before-hose"})
    study = sheet_data.study.model_copy(update={"supply": hose})
    moved = plan_sensors.sensors(build_facts_of(replace(sheet_data, study=study)))
    assert moved[0].place.endswith("before the hose")


def test_the_plan_has_one_set_of_cautions(files: Mapping[str, str]) -> None:
    page = files["plan.html"]
    assert page.count('class="cautions"') == 1
    box = page.partition('class="cautions"')[2].partition("</section>")[0]
    lines = re.findall(r"<li>(.*?)</li>", box)
    assert len(lines) == len(set(lines)) > 8
    for words in ("throws its pieces", "relief valve", "no certificate", f"4.5{THIN}mm/s RMS"):
        assert sum(words in line for line in lines) >= 1, words


def test_a_log_that_is_not_filled_in_says_that_nothing_was_read(
    files: Mapping[str, str], sheet_data: BuildData, tmp_path: Path
) -> None:
    path = tmp_path / "loaded-run.csv"
    path.write_text(files["loaded-run.csv"], encoding="utf-8")
    with pytest.raises(StudyError, match=r"0 usable rows; 15 left out.*no reading"):
        read_log(path, sheet_data.study)


@pytest.mark.parametrize(
    ("old", "new"), [("6000,", "6000,23.1"), ("0.3 %", "1 %"), ("as ", "as 0")]
)
def test_a_plan_written_again_never_replaces_a_log_that_was_filled_in(
    files: Mapping[str, str], tmp_path: Path, old: str, new: str
) -> None:
    log = put(tmp_path, 7, files) / "loaded-run.csv"
    text = log.read_text(encoding="utf-8")
    first = text.splitlines()[-5].partition(",")[0] + ","
    filled = text.replace(first if old == "6000," else old, new, 1)
    assert filled != text
    log.write_text(filled, encoding="utf-8")
    with pytest.raises(RunFolderError, match="was filled in and would be lost"):
        put(tmp_path, 7, files)
    assert log.read_text(encoding="utf-8") == filled


def test_an_untouched_log_of_an_earlier_version_is_replaced(
    files: Mapping[str, str], sheet_data: BuildData, tmp_path: Path
) -> None:
    earlier = {name: text.replace("uncertainty: 2 %", "") for name, text in files.items()}
    log = put(tmp_path, 7, earlier) / "loaded-run.csv"
    assert "uncertainty: 2 %" not in log.read_text(encoding="utf-8")
    assert put(tmp_path, 7, files) == log.parent
    assert "uncertainty: 2 %" in log.read_text(encoding="utf-8")
    with pytest.raises(StudyError, match="no reading"):  # and the stamp does not disturb the reader
        read_log(log, sheet_data.study)


def test_a_later_fit_keeps_what_an_earlier_one_told_of_other_numbers() -> None:
    earlier = Fit({"a": 1.0, "b": 2.0}, {"a": 0.1, "b": 0.2}, np.array([[1.0, 0.3], [0.3, 1.0]]))
    later = Fit({"c": 3.0, "a": 1.5}, {"c": 0.3, "a": 0.05}, np.array([[1.0, -0.4], [-0.4, 1.0]]))
    both = later.after(earlier)
    assert both.values == {"c": 3.0, "a": 1.5, "b": 2.0}
    assert both.standard == {"c": 0.3, "a": 0.05, "b": 0.2}
    assert both.correlation.tolist() == [[1.0, -0.4, 0.0], [-0.4, 1.0, 0.0], [0.0, 0.0, 1.0]]
    assert later.after(None) is later


def test_the_log_that_tells_how_hard_the_casing_rubs_filled_in_is_read(
    sheet_data: BuildData, files: Mapping[str, str], tmp_path: Path
) -> None:
    assert "casing-friction.csv" not in files
    test = telling_test(sheet_data.study, sheet_data.front, 0)
    assert test is not None
    told = write_plan(replace(sheet_data, telling=test))
    assert "Casing friction: readings that tell it" in told["plan.html"]
    assert change_text(test).partition(",")[0] in told["plan.html"]
    lines = told["casing-friction.csv"].splitlines()
    first = len(lines) - 2 * len(test.speed)
    filled = [
        line.replace(",,,,,", f",2{n},{3 + n},6,20,0.{n}") for n, line in enumerate(lines[first:])
    ]
    path = tmp_path / "casing-friction.csv"
    path.write_text("\n".join([*lines[:first], *filled]), encoding="utf-8")
    log = read_log(path, sheet_data.study)
    for key, values in (
        ("nozzle_count", test.nozzle_count),
        ("rim_clearance", test.rim_clearance),
        ("speed", test.speed),
    ):
        np.testing.assert_allclose(log.columns[key], np.repeat(values, 2), rtol=1e-5)


def test_a_speed_without_operating_point_says_so(sheet_data: BuildData) -> None:
    def lame(level: Mapping[str, Any]) -> dict[str, Any]:
        lanes = np.arange(5) == 0
        return {
            key: np.where(lanes, np.nan, values) if values.dtype.kind == "f" else values
            for key, values in level.items()
        }

    whole = sheet_data.readings
    readings = replace(whole, averaged=lame(whole.averaged), resolved=lame(whole.resolved))
    facts = build_facts_of(replace(sheet_data, readings=readings))
    (torque,) = instruments(("shaft_torque",), LOGGED, facts.study)
    first = facts.readings[0].bands["shaft_torque"]
    assert band_text(torque, first) == ("–", "no operating point")
    assert math.isfinite(facts.clamp.torque)


def test_a_reading_whose_samples_are_lost_has_no_band(facts: BuildFacts) -> None:
    (torque,) = instruments(("shaft_torque",), LOGGED, facts.study)
    told = band_text(torque, ReadingBand(0.2, math.nan, math.nan))
    assert told == ("200", "no band: too many samples without an operating point")


def test_a_temperature_near_freezing_shows_a_tenth_and_no_more(facts: BuildFacts) -> None:
    (exhaust,) = instruments(("exhaust_temperature",), LOGGED, facts.study)
    band = ReadingBand(273.15 - 0.00838, 270.0, 275.0)
    assert band_text(exhaust, band) == ("0.0", "−3.1 to 1.9")
