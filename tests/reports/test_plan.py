"""The bench plan: what it says, and that the logs it hands out are read by fit."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from engine.bench.files import write_plan as put
from engine.bench.log import read_log
from engine.bench.tap_test import fit_tap_test
from engine.bench.telling import telling_test
from engine.errors import RunFolderError, StudyError
from engine.model.tapped import tapped_disc
from engine.study.fit import Fit
from reports.design.facts import BuildData
from reports.design.plan import write_plan
from reports.kit.quantities import THIN, bare, number
from reports.run.rubbing_wording import change_text


@pytest.fixture(scope="module")
def files(sheet_data: BuildData) -> Mapping[str, str]:
    return write_plan(sheet_data)


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
        "4.5 mm/s RMS",
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
    torques = sheet_data.locked.expected("shaft_torque")
    places = [page.index(f"<td>{bare('shaft_torque', torque)}<small>") for torque in torques]
    assert places == sorted(places)
    assert f"2.4{THIN}bar gauge" in page


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
