"""What the page says and draws of a build in time, from a motion made up for it."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.model.in_time import InTime
from engine.physics.machine.in_time import Energies, Motion
from engine.study.events import Events
from reports.kit.quantities import THIN
from reports.run.charts.in_time import time_charts
from reports.run.facts import ROLES
from reports.run.in_time_wording import event_rows, in_time_text, light_of
from reports.run.page import write_report
from tests.conftest import MakeRun
from tests.reports.test_socket import RPM, VALUES, Shown, at_socket

SCRIPT: Any = {
    "running": "filament-lamp",
    "duration": "10 s",
    "script": [
        {"at": "2 s", "switch_on": "laptop"},
        {"at": "4 s", "supply_pressure": "5 bar absolute", "over": "1 s"},
        {"at": "6 s", "swing": "5 %", "period": "500 ms", "compressor": "stopped"},
        {"at": "8 s", "switch_off": "all", "swing": "0 %"},
    ],
}


def in_time(**changes: Any) -> InTime:
    """24 V until the laptop comes, 18 V while the supply is low, and 24 V again from 6 s on."""
    time = np.linspace(0, 10, 2001)
    volts = np.where((time > 2) & (time <= 6), 18.0, 24.0)
    speed = np.interp(time, [0, 2, 6, 10], [20_000, 19_000, 17_000, 22_000]) * RPM
    watts = np.zeros((2001, 5))
    watts[:, 0] = 40.0 * (time < 8)
    watts[:, 1] = 50.0 * ((time > 6) & (time < 8))
    motion = Motion(
        time=time, speed=speed, voltage=volts, current=0 * time + 2.0, share=0 * time + 1.0,
        receiver=np.linspace(1.4, 1.2, 2001), watts=watts, tripped=np.nan,
        energies=Energies(800.0, 10.0, 20.0, 30.0, 40.0, np.array([320, 100.0, 0, 0, 0]), 280, 0),
        steps=2000,
    )  # fmt: skip
    wired = at_socket(24.0).settled.wired
    at = InTime(wired, motion, Events.model_validate(SCRIPT), full=7e5, back=1e5)
    return replace(at, **changes)


def test_each_event_has_a_row_with_what_follows_it() -> None:
    rows = event_rows(in_time())
    assert [row.at for row in rows] == ["0", "2", "4", "6", "8"]
    assert [row.what for row in rows] == [
        "on: filament-lamp", "on: laptop", "supply to 5.00 bar absolute within 1 s",
        "supply swings by 5.0 %, 0.300 bar, up and down every 0.5 s; compressor cuts out, the "
        "receiver runs down".replace("5.0 %", f"5.0{THIN}%"),
        "off: all loads; supply no longer swings",
    ]  # fmt: skip
    assert rows[1].speed.replace(THIN, " ") == "18 000 to 19 000"
    assert rows[2].fares == "off below 19.2 V: laptop; works: filament-lamp"
    assert [row.bad for row in rows] == [False, True, True, False, False]
    assert rows[3].fares == "all work"
    assert rows[4].light == ""


def test_light_is_that_of_the_lamp_and_its_fastest_change_is_told() -> None:
    at = in_time()
    light = light_of(at, 0)
    # Voltage to the 3.4 (IES, from memory): 0.75 of 24 V leaves 37.6 % of the light.
    assert_allclose(light[at.motion.time == 4.0], 0.75**3.4)
    assert np.isnan(light[at.motion.time > 8]).all()
    told = event_rows(at)[1].light.replace(THIN, " ")
    assert told == "37.6 % to 100 %, at most 62.4 % in 0.1 s"


def test_trip_receiver_and_energy_are_said() -> None:
    said = " ".join(in_time_text(VALUES, in_time())).replace(THIN, " ")
    assert "highest speed is 22 000 rpm; the trip acts at 24 000 rpm" in said
    assert "receiver falls to 8.40 bar absolute" in said
    assert "Of 800 J from the shaft the loads have 420 J" in said
    at = in_time()
    tripped = replace(at, motion=replace(at.motion, tripped=3.0, speed=1.6 * at.motion.speed))
    said = " ".join(in_time_text(VALUES, tripped)).replace(THIN, " ")
    assert "The trip acts 3.00 s after the start, at 24 000 rpm" in said
    assert "passes its first failure at 30 000 rpm" in said


@pytest.mark.parametrize("lamp", [True, False])
def test_four_charts_show_the_events(lamp: bool) -> None:
    at = in_time()
    if not lamp:
        script = {**SCRIPT, "running": "laptop"}
        at = replace(at, events=Events.model_validate(script))
    shown = Shown(replace(at_socket(24.0), in_time=at))
    (drawn,) = time_charts([shown]).values()  # type: ignore[list-item]
    assert len(drawn) == 4
    assert ("Light of filament-lamp" in str(drawn[2].svg())) == lamp
    for each in drawn:
        assert str(each.svg()).count("upright dash") == 4
    assert "trip" in str(drawn[0].svg())
    assert time_charts([Shown(at_socket(24.0))]) == {}  # type: ignore[list-item]


def test_the_page_has_the_section_only_with_events_and_escapes_names(make_run: MakeRun) -> None:
    run = make_run()
    front = dict(run.front)
    for key in ("generator_voltage", "generator_current"):
        front[key] = np.full(len(front["speed"]), VALUES[key])
    script = {"script": [{"at": "1 s", "switch_on": "<b>lamp</b>"}]}
    at = in_time(events=Events.model_validate(script))
    loads = tuple(replace(each, name="<b>lamp</b>") for each in at.wired.loads[:1])
    hostile = replace(at, wired=replace(at.wired, loads=loads))
    shown = replace(at_socket(24.0), in_time=hostile)
    page = write_report(replace(run, front=front, sockets=dict.fromkeys(ROLES, shown)))
    assert page.count(">In time</h5>") >= 1
    assert "<b>lamp</b>" not in page
    assert "Light of &lt;b&gt;lamp&lt;/b&gt;" in page
    plain = write_report(
        replace(run, front=front, sockets=dict.fromkeys(ROLES, at_socket(24.0)))
    )  # fmt: skip
    assert ">In time</h5>" not in plain
