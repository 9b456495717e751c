"""Bench logs: what is read, and the message for each fault."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from engine.bench.log import BenchLog, read_log
from engine.errors import StudyError
from tests.support.benchlogs import RPM, STUDY

LOG = """---
title: First loaded run
build:
  disc_count: 16
  disc_diameter: 120 mm
  gap: 0.3 mm
  inlet_angle: 12 deg
  exhaust_bore: 40 mm
columns:
  zeit: {quantity: time, unit: s}
  Drehzahl: {quantity: speed, unit: rpm, uncertainty: 0.1 %}
  M: {quantity: shaft_torque, unit: N cm, uncertainty: 1 %}
  U: {quantity: voltage, unit: V}
  I: {quantity: current, unit: mA}
  Q: {quantity: mass_flow, unit: l/min}
  p1: {quantity: rim_pressure, unit: bar gauge, uncertainty: 10 mbar}
  who: ignore
---
zeit,Drehzahl,M,U,I,Q,p1,who
0,6000,23.1,12.1,6400,795,0.06,A
60,8000,22.2,16.2,6100,796,0.08,A
120,10000,21.0,20.1,5900,794,0.10,B
180,12000,20.1,24.2,5700,797,0.12,A
240,14000,19.2,28.1,5500,795,0.15,A
"""
Read = Callable[[str], BenchLog]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def reader(text: str) -> BenchLog:
        path = tmp_path / "bench.csv"
        path.write_text(text, encoding="utf-8")
        return read_log(path, STUDY)

    return reader


def test_readings_come_in_si_with_their_uncertainty(read: Read) -> None:
    log = read(LOG)
    assert log.build["exhaust_bore"] == pytest.approx(0.040)
    assert log.columns["speed"][0] == pytest.approx(6000 * RPM)
    assert log.columns["shaft_torque"][0] == pytest.approx(0.231)
    assert log.columns["rim_pressure"][0] == pytest.approx(101325 + 6e3)
    assert log.uncertainty["rim_pressure"][0] == pytest.approx(1e3)
    # Free air of ISO 1217 (1 bar, 20 degC, R 287.05): 1.18835 kg/m3.
    assert log.columns["mass_flow"][0] == pytest.approx(0.795 / 60 * 1.18835, rel=1e-4)
    assert log.columns["electric_power"][0] == pytest.approx(12.1 * 6.4)
    # Two readings of 1 % each multiplied: root of two per cent.
    assert log.uncertainty["electric_power"][0] == pytest.approx(0.01 * 2**0.5 * 12.1 * 6.4)
    assert log.lines.tolist() == [20, 21, 22, 23, 24]
    assert not log.excluded


def test_semicolons_and_decimal_commas_are_read_where_the_head_says_so(read: Read) -> None:
    head, table = LOG.split("---\nzeit", 1)
    german = ("zeit" + table).replace(",", ";").replace(".", ",")
    log = read(head.replace("title:", "decimal: ','\ntitle:") + "---\n" + german)
    assert log.columns["shaft_torque"][0] == pytest.approx(0.231)


BROKEN = {
    "missing unit": (
        ("{quantity: speed, unit: rpm, uncertainty: 0.1 %}", "{quantity: speed}"),
        r":11: columns.Drehzahl: has no unit; expected a rotational speed such as 18000 rpm",
    ),
    "wrong dimension": (
        ("unit: N cm", "unit: W"),
        r":12: columns.M: '0 W' is a power; expected a torque",
    ),
    "gauge or absolute": (
        ("unit: bar gauge", "unit: bar"),
        r":16: columns.p1: .* does not say gauge or absolute; .*end it with gauge",
    ),
    "unknown quantity": (
        ("quantity: speed,", "quantity: sped,"),
        r":11: columns.Drehzahl: 'sped' is not a quantity of a log; .*perhaps you meant speed",
    ),
    "column not described": (
        ("  who: ignore\n", ""),
        r"column 'who' is not described; .*add who: ignore",
    ),
    "described, not there": (
        ("p1,who", "p2,who"),
        r":16: columns.p1: is not a column of the table; known: zeit, Drehzahl, M, U, I, Q, p2",
    ),
    "duplicate column": (("U,I,Q", "U,I,U"), r":19: there are two columns 'U'"),
    "quantity twice": (
        ("quantity: mass_flow, unit: l/min", "quantity: voltage, unit: V"),
        r":15: columns.Q: voltage is given twice, also as U; set one of the two columns to ignore",
    ),
    "volts alone": (("{quantity: current, unit: mA}", "ignore"), r"volts without amps"),
    "decimal comma cuts a cell": (
        ("120,10000,21.0", "120,10000,21,0"),
        r":22: 9 cells where the table has 8 columns; decimal commas split numbers",
    ),
    "mixed decimal signs": (
        ("23.1,12.1", '"23,1",12.1'),
        r":20: '23,1' has a decimal comma; expected a decimal point in every number",
    ),
    "time goes back": (
        ("180,12000", "18,12000"),
        r":23: time: 18 s comes after 120 s; .*sort the rows",
    ),
    "build outside": (("  gap: 0.3 mm\n", ""), r":3: build.gap: has no value; .*add gap: ... to"),
    "build without unit": (("gap: 0.3 mm", "gap: 0.3"), r":6: build.gap: '0.3' has no unit"),
    "uncertainty of nothing": (
        ("uncertainty: 1 %", "uncertainty: 0 %"),
        r":12: columns.M: its uncertainty is not above zero",
    ),
    "no head": (("---\ntitle", "title"), r":1: does not begin with a head; .*plan-test"),
    "unknown section": (("build:", "bild:"), r":3: bild: unknown key; perhaps you meant build"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_faulty_log_says_where_and_how_to_correct_it(name: str, read: Read) -> None:
    (old, new), message = BROKEN[name]
    assert old in LOG
    with pytest.raises(StudyError, match=message):
        read(LOG.replace(old, new, 1))


@pytest.mark.parametrize("cell", ["", "NaN", "-", "n/a"])
def test_a_missing_sample_is_left_out_and_named(cell: str, read: Read) -> None:
    log = read(LOG.replace("120,10000,21.0", f"120,{cell},21.0"))
    assert [(row.line, row.reason[:20]) for row in log.excluded] == [(22, "Drehzahl: no reading")]
    assert log.columns["speed"].size == 4
    assert log.lines.tolist() == [20, 21, 23, 24]


def test_words_among_readings_are_left_out_and_named(read: Read) -> None:
    log = read(LOG.replace("120,10000,21.0", "120,10000,error"))
    assert log.cautions == ("line 22: M: 'error' is not a number; the rest of the row is used",)
    assert np.isnan(log.columns["shaft_torque"][2])


def test_a_gap_in_time_gives_a_caution(read: Read) -> None:
    log = read(LOG.replace("240,14000", "900,14000"))
    assert log.cautions == (
        "line 24: 720 s since the sample before, usually 60 s: samples are missing",
    )
    assert not read(LOG).cautions


DEAD = "speed: zero although there is power, so the rotor is not locked"


def test_speed_zero_with_power_is_not_a_locked_rotor_and_left_out(read: Read) -> None:
    log = read(LOG.replace("0,6000", "0,0", 1))
    assert [(row.line, row.reason) for row in log.excluded] == [(20, DEAD)]
    still = LOG
    for speed in ("6000", "8000", "10000"):
        still = still.replace(f",{speed},", ",0,", 1)
    with pytest.raises(StudyError, match="2 usable rows; 3 left out, the first on line 20: speed"):
        read(still)
    assert read(LOG.replace("0,6000", "0,-60", 1)).excluded[0].reason == "speed: below zero"


def test_a_locked_rotor_is_read_without_volts_and_amps(read: Read) -> None:
    for volts, amps in (("", ""), ("0", "0"), ("-", "0.0")):
        log = read(LOG.replace("0,6000,23.1,12.1,6400", f"0,0,23.1,{volts},{amps}", 1))
        assert not log.excluded
        assert log.n_locked == 1
        assert log.columns["shaft_torque"][0] == pytest.approx(0.231)
    turning = read(LOG.replace("0,6000,23.1,12.1,6400", "0,6000,23.1,,6400", 1))
    assert turning.cautions == ("line 20: U: no reading (''); the rest of the row is used",)
    torn = read(LOG.replace("0,6000,23.1,12.1,6400", "0,0,,,", 1))
    assert torn.cautions == ("line 20: M: no reading (''); the rest of the row is used",)


def test_speed_zero_of_a_coast_down_is_left_out(read: Read) -> None:
    only = LOG.replace("0,6000", "0,0", 1)
    for line in LOG.splitlines():
        if line.startswith(("  M:", "  U:", "  I:", "  Q:", "  p1:")):
            only = only.replace(line, f"{line.split(':')[0]}: ignore")
    assert [row.reason for row in read(only).excluded] == [
        "speed: zero or below, so the rotor does not turn"
    ]


UNIT = "unit: N cm, uncertainty: 1 %"


def test_a_force_on_a_lever_is_a_torque(read: Read) -> None:
    by_share = read(LOG.replace(UNIT, "unit: N, uncertainty: 1 %, lever: 25 mm"))
    assert by_share.columns["shaft_torque"][0] == pytest.approx(23.1 * 0.025)
    assert by_share.uncertainty["shaft_torque"][0] == pytest.approx(0.01 * 23.1 * 0.025)
    by_size = read(LOG.replace(UNIT, "unit: kgf, uncertainty: 5 gf, lever: 10 cm"))
    assert by_size.columns["shaft_torque"][0] == pytest.approx(23.1 * 9.80665 * 0.1)
    assert by_size.uncertainty["shaft_torque"][0] == pytest.approx(0.005 * 9.80665 * 0.1)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (UNIT, "unit: N cm, lever: 25 mm", r"columns.M: 'N cm' is no unit of force|N cm"),
        (UNIT, "unit: N, lever: 0 mm", "its lever is not longer than zero"),
        (UNIT, "unit: N, lever: 3 N", "lever|length"),
        ("quantity: voltage, unit: V", "quantity: voltage, unit: V, lever: 1 m", "torque only"),
        (UNIT, "unit: N, levr: 25 mm", "perhaps you meant lever"),
    ],
)
def test_a_wrong_lever_is_refused_by_line(read: Read, old: str, new: str, message: str) -> None:
    with pytest.raises(StudyError, match=message):
        read(LOG.replace(old, new))


def test_a_stuck_sensor_is_refused_by_name(read: Read) -> None:
    stuck = LOG
    for torque in ("22.2", "21.0", "20.1", "19.2"):
        stuck = stuck.replace(f"000,{torque},", "000,23.1,", 1)
    with pytest.raises(StudyError, match=r"shaft_torque: reads the same in all 5 rows.*stuck"):
        read(stuck)


def test_a_sensor_stuck_for_a_while_loses_only_those_rows(read: Read) -> None:
    more = "".join(
        f"{300 + 60 * n},{15000 + 500 * n},18.5,29,5400,795,{0.16 + n / 100:.2f},A\n"
        for n in range(6)
    )
    log = read(LOG + more)
    assert [row.line for row in log.excluded] == [25, 26, 27, 28, 29, 30]
    assert "shaft_torque: the same reading" in log.excluded[0].reason
    assert log.columns["speed"].size == 5


def test_a_flow_through_choked_nozzles_may_stay_the_same(read: Read) -> None:
    same = LOG
    for flow in ("796", "794", "797"):
        same = same.replace(f",{flow},", ",795,", 1)
    assert np.ptp(read(same).columns["mass_flow"]) == 0


def test_a_log_of_only_time_and_speed_is_a_coast_down(read: Read) -> None:
    only = LOG
    for line in LOG.splitlines():
        if line.startswith(("  M:", "  U:", "  I:", "  Q:", "  p1:")):
            only = only.replace(line, f"{line.split(':')[0]}: ignore")
    assert read(only).is_coast_down
    assert not read(LOG).is_coast_down
