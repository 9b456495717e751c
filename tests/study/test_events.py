"""The events of a study: what it takes, and what each mistake is told."""

import pytest
from numpy.testing import assert_allclose

from engine.errors import StudyError
from engine.files import shared_file
from engine.study.reader import parse_study
from engine.study.study import Study

HEAD = """title: Lamps
supply: {fluid: air, pressure: 6 bar gauge, temperature: 20 degC, atmosphere: 0.9 bar absolute,
  receiver_volume: 90 l, receiver_pressure: 9 bar gauge, available_flow: 500 l/min}
machine: {generator: spindle-48v}
ranges: {disc_count: 5, disc_diameter: 100 mm, gap: 0.4 mm, inlet_angle: 8 deg,
  exhaust_bore: 40 mm, speed: 20000 rpm}
loads: {voltage: 36 V, appliances: {led-lamp: 4, laptop: , bench-fan: {needed: no}}}
"""
SCRIPT = """events:
  running: needed
  script:
    - {at: 1 s, switch_on: bench-fan}
    - {at: 2 s, supply_pressure: 5 bar gauge, over: 500 ms}
    - {at: 4 s, swing: 5 %, period: 250 ms}
    - {at: 6 s, switch_off: [laptop, led-lamp], compressor: stopped}
"""


def study(script: str = SCRIPT, head: str = HEAD) -> Study:
    return parse_study(head + script, "lamps.yaml")


def test_a_script_is_read_in_si() -> None:
    events = study().events
    assert events is not None
    assert events.running == ("needed",)
    assert events.length == 16.0
    assert [event.at for event in events.script] == [1.0, 2.0, 4.0, 6.0]
    # A gauge counts from the atmosphere of the study's own supply.
    assert events.script[1].supply_pressure is not None
    assert_allclose(events.script[1].supply_pressure, 5.9e5)
    assert_allclose(events.script[1].over, 0.5)
    assert events.script[3].switch_off == ("laptop", "led-lamp")
    assert events.script[3].compressor == "stopped"


def test_a_study_without_events_has_none() -> None:
    assert study("").events is None


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("switch_on: bench-fan", "switch_on: bench-fann", 11, "perhaps you meant bench-fan"),
        ("running: needed", "running: kettle", 9, "'kettle' is not among the loads"),
        ("switch_on: bench-fan", "swich_on: bench-fan", 11, "perhaps you meant switch_on"),
        ("at: 4 s", "at: 1 s", 13, "1 s comes after 2 s"),
        ("at: 4 s", "at: 4", 13, "a time"),
        ("{at: 4 s, swing: 5 %, period: 250 ms}", "{at: 4 s}", 13, "nothing happens"),
        ("swing: 5 %, period", "compressor: running, period", 13, "given without swing"),
        ("supply_pressure: 5 bar gauge, over", "swing: 1 %, over", 12, "without supply_pressure"),
        ("5 bar gauge", "5 bar", 12, "gauge or absolute"),
        ("5 bar gauge", "0.5 bar absolute", 12, "below the back pressure"),
        ("compressor: stopped", "compressor: halt", 14, "running or stopped"),
        ("switch_off: [laptop, led-lamp]", "switch_off: []", 14, "names no appliance"),
        ("running: needed", "duration: 5 s", 9, "ends before the last event"),
        ("running: needed", "bus_capacitance: 0 F", 9, "above 0"),
    ],
)
def test_each_mistake_names_its_line_and_remedy(old: str, new: str, line: int, words: str) -> None:
    text = SCRIPT.replace(old, new)
    assert text != SCRIPT
    with pytest.raises(StudyError, match=words) as caught:
        study(text)
    assert [problem.line for problem in caught.value.problems] == [line]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("machine: {generator: spindle-48v}\n", "", "data sheet"),
        ("voltage: 36 V, ", "", "loads with their voltage"),
        ("\n  receiver_volume: 90 l, receiver_pressure: 9 bar gauge,", "", "add receiver_volume"),
        (", available_flow: 500 l/min", "", "add available_flow"),
    ],
)
def test_what_events_need_is_asked_for(old: str, new: str, words: str) -> None:
    text = HEAD.replace(old, new)
    assert text != HEAD
    with pytest.raises(StudyError, match=words):
        study(head=text)


def test_a_pump_has_no_events() -> None:
    text = shared_file("starter.yaml").read_text(encoding="utf-8").replace("{title}", "Pump")
    with pytest.raises(StudyError, match="events"):
        parse_study(f"{text}\nkind: pump\n{SCRIPT}", "pump.yaml")
