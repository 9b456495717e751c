"""A build tried live, without a browser: what is answered, to whom, and what is refused."""

import http.client
import json
import socket
from collections.abc import Iterator
from http import HTTPStatus
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest

from engine.run.chosen import as_texts
from engine.run.point import point_of
from engine.study.machine import Machine
from engine.study.reader import parse_study, read_study
from engine.study.supply import Supply, idle_keys
from reports.kit.quantities import quantity
from reports.live.asked import Asked
from reports.live.desk import MOST_FIELDS, Desk, _study
from reports.live.knobs import fixed_of, knobs_of, supply_of
from reports.live.sweep import MOST_POINTS, points_of
from reports.live.telling import table_keys
from reports.live.work import BUSY, GIVEN_UP, MOST_WAITING, Worker, answered
from tests.support.live import START, live_study, near
from tests.support.waiting import PATIENCE, wait_until

TURNED = urlencode(START)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return live_study(tmp_path_factory.mktemp("tried"))


@pytest.fixture(scope="module")
def host(study: Path) -> Iterator[str]:
    with near(study) as address:
        wait_until(lambda: "start" in json.loads(ask(address, "/state")[1]))
        yield address


@pytest.fixture(scope="module")
def desk(study: Path) -> Desk:
    return Desk(Asked(study.read_text("utf-8"), str(study), (str(study),)))


def ask(
    host: str, path: str = "/", method: str = "GET", **headers: str
) -> tuple[http.client.HTTPResponse, bytes]:
    connection = http.client.HTTPConnection(host, timeout=PATIENCE)
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, path, headers=named)
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    return answer, body


def told(host: str, path: str) -> dict[str, Any]:
    answer, body = ask(host, path)
    assert answer.status == 200, body
    assert answer.getheader("Content-Type") == "application/json; charset=utf-8"
    found: dict[str, Any] = json.loads(body)
    return found


def point_texts(start: dict[str, str]) -> list[str]:
    return [f"{key}={text}" for key, text in start.items()]


def test_a_turn_and_what_follows_give_the_numbers_of_point(host: str, study: Path) -> None:
    first, whole = told(host, f"/build?{TURNED}"), told(host, f"/rest?{TURNED}")
    read = read_study(study)
    point = point_of(read, point_texts(START))
    assert whole["plain"] == point.as_plain()
    values = {key: column[0] for key, column in point.results.items()}
    for key in table_keys(read):
        if key in values:
            assert whole["values"][key] == quantity(key, values[key])
    late = {key for key, text in first["values"].items() if text != whole["values"][key]}
    assert all(first["values"][key] == "–" for key in late)
    assert {"electric_power", "safety_margin", "mass_flow", "gap_hold"}.isdisjoint(late)
    assert [each["state"] for each in first["limits"]].count("soon") == 1  # of a lost load
    # The bands of these two come before the rest, and are the same.
    bands = told(host, f"/bands?{TURNED}")
    assert bands["figures"] == whole["figures"] != first["figures"]
    states = {each["state"] for each in whole["limits"]}
    assert states <= {"met", "missed"}
    assert (len(point.missed) > 0) == ("missed" in states)
    assert first["drawings"].keys() == {
        "section", "view", "ruler-wide", "ruler-narrow", "power-wide", "power-narrow"
    }  # fmt: skip


def test_a_machine_number_and_the_supply_can_be_changed(host: str, study: Path) -> None:
    more = {**START, "nozzle_width": "0.4 mm"}
    found = told(host, f"/build?{urlencode(more)}")
    values = {k: v[0] for k, v in point_of(read_study(study), point_texts(more)).results.items()}
    assert found["values"]["electric_power"] == quantity("electric_power", values["electric_power"])
    assert "'nozzle_width=0.4 mm'" in found["command"]
    less = told(host, f"/build?{TURNED}&pressure=4+bar+gauge")
    text = study.read_text("utf-8").replace("pressure: 6 bar gauge", "pressure: 4 bar gauge")
    other = point_of(parse_study(text, "other.yaml"), point_texts(START)).results
    power = quantity("electric_power", other["electric_power"][0])
    assert less["values"]["electric_power"] == power
    assert "pressure" not in found["command"]
    assert "'supply_pressure=4 bar gauge'" in less["command"]


def test_the_first_build_is_within_the_ranges_and_runs(host: str, study: Path) -> None:
    start = told(host, "/state")["start"]
    read = read_study(study)
    results = point_of(read, point_texts(start)).results
    assert as_texts(read, results, 0) == start
    assert told(host, f"/build?{urlencode(start)}")["works"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("gap=3", "gap: '3' has no unit; expected a length such as 0.3 mm"),
        ("gap=wide", "does not begin with a number"),
        ("gap=0.3+bar", "is a pressure"),
        ("gap=1e300+mm", "is not plausible"),
        ("gap=1e999+mm", "is not a finite number"),
        ("gap=-1+mm", "is out of bounds"),
        ("gap=nan+mm", "is not a finite number"),
        ("gap=" + "9" * 5000 + "+mm", "is too long for a value"),
        ("disc_count=12.5", "is not whole"),
        ("speed=2000000+rpm", "dental drills"),
        ("depth=3+mm", "depth: is not a variable or machine number"),
        ("__class__=1", "is not a variable or machine number"),
        ("of=gap", "is not a variable or machine number"),
        ("material=unobtainium", "is unknown; expected a row of the material table"),
        ("pressure=6+bar", "does not say gauge or absolute"),
        ("pressure=0.5+bar+absolute", "drives no flow"),
        ("pressure=9000+bar+gauge", "is not plausible"),
        ("quality=0.9", "has no meaning for air"),
        ("fluid=phlogiston", "phlogiston"),
    ],
)
def test_a_wrong_value_is_refused_with_words(host: str, change: str, words: str) -> None:
    key = change.partition("=")[0]
    others = urlencode({name: text for name, text in START.items() if name != key})
    for path in ("build", "rest"):
        answer, body = ask(host, f"/{path}?{others}&{change}")
        assert answer.status == 400
        error = json.loads(body)["error"]
        assert words in error
        assert error.startswith("command line: ")


def test_what_is_missing_or_given_twice_is_refused(host: str) -> None:
    for path, words in (
        ("/build", "gap: has no value"),
        (f"/build?{TURNED}&gap=0.3+mm", "gap: is given twice"),
        (f"/build?{TURNED}&pressure=6+bar+gauge&pressure=5+bar+gauge", "pressure: is given twice"),
        (f"/sweep?{TURNED}", "of: is missing"),
        (f"/sweep?of=electric_power&{TURNED}", "is not a number that the study searches"),
        (f"/nudge?to=mass_flow&{TURNED}", "is not an aim of the study"),
        ("/study", "are 0 builds"),
        ("/study?" + "kept=a%3Db&" * 13, "are 13 builds"),
        ("/study?kept=", "has no value"),
        (f"/study?{urlencode({'kept': 'a=1&' * (MOST_FIELDS + 1)})}", "more values"),
        ("/build?" + "a=1&" * (MOST_FIELDS + 1), "More than"),
    ):
        answer, body = ask(host, path)
        assert answer.status == 400, path
        assert words in json.loads(body)["error"]


@pytest.mark.parametrize(
    "path",
    ["/study.yaml", "/run.json", "/build/", "/../build", "/%62uild", "/warm", "/start",
     "/_read", "/asked", "*", "/?x=1"],
)  # fmt: skip
def test_no_other_path_is_served(host: str, path: str) -> None:
    answer, body = ask(host, path)
    assert (answer.status, body) == (404, b"Nothing here.\n")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "BREW"])
def test_no_other_method_is_answered(host: str, method: str) -> None:
    answer, body = ask(host, f"/build?{TURNED}", method)
    assert (answer.status, body) == (405, b"Read only.\n")


@pytest.mark.parametrize("path", ["/", "/state", f"/build?{TURNED}"])
def test_another_name_or_site_is_refused(host: str, path: str) -> None:
    answer, body = ask(host, path, Host="evil.example")
    assert (answer.status, body) == (403, b"Not for this address.\n")
    for site in ("cross-site", "same-site"):
        answer, body = ask(host, path, Sec_Fetch_Site=site)
        # A link to the page may be followed; it tells its reader, and nobody else.
        assert answer.status == (200 if path == "/" else 403)
    assert ask(host, path, Sec_Fetch_Site="same-origin")[0].status == 200


def test_an_address_without_end_is_refused(host: str) -> None:
    assert ask(host, f"/build?{TURNED}&gap={'9' * 20_000}")[0].status == 414


def test_who_never_ends_a_request_keeps_nobody_waiting(host: str) -> None:
    name, _, port = host.partition(":")
    lines = [socket.create_connection((name, int(port))) for _ in range(20)]
    for line in lines:
        line.sendall(b"GET /build?gap=0.3 HTTP/1.1\r\nHost: ")
    assert told(host, f"/build?{TURNED}")["works"]
    for line in lines:
        line.close()


def test_refused_requests_change_nothing(host: str) -> None:
    before = told(host, f"/build?{TURNED}")
    for _ in range(50):
        for path in ("/build?gap=3", f"/build?{TURNED}&x=1", "/nudge?to=x", "/study?kept=x", "/x"):
            assert ask(host, path)[0].status in (400, 404)
    assert told(host, f"/build?{TURNED}") == before
    assert _study.cache_info().currsize <= 8


def test_the_page_escapes_the_study_and_may_ask_its_own_address_alone(host: str) -> None:
    answer, body = ask(host)
    text = body.decode()
    assert "<script>window" not in text
    assert "&lt;script&gt;window.hit=1&lt;/script&gt;" in text
    assert "connect-src &#39;self&#39;" in text
    assert "default-src &#39;none&#39;" in text
    assert answer.getheader("Content-Security-Policy") == "frame-ancestors 'self'"


def test_every_range_and_number_has_a_knob_with_its_steps(study: Path, host: str) -> None:
    read = read_study(study)
    knobs = {knob.key: knob for knob in knobs_of(read)}
    assert knobs.keys() == read.searched().keys()
    for key, knob in knobs.items():
        values = read.searched()[key].values
        assert values is not None
        assert (len(knob.listed) or knob.count) == len(values)
    assert knobs["gap"].listed == ("0.3", "0.4", "0.5", "0.6")
    assert (knobs["speed"].low, knobs["speed"].step, knobs["speed"].count) == (4000, 500, 53)
    others = {knob.key: knob for knob in (*fixed_of(read), *supply_of(read, {}))}
    wanted = {*Machine.model_fields, *Supply.model_fields} - knobs.keys() - {"fluid"}
    assert others.keys() == wanted - idle_keys(read.supply)
    assert others["rim_clearance"].plausible == "from 0.005 mm up to 500 mm"
    assert "turned" in others["process"].words
    page = ask(host)[1].decode()
    assert all(f'data-key="{key}"' in page for key in (*knobs, *others))


def test_a_curve_holds_the_ends_and_the_steps_of_its_range(desk: Desk, study: Path) -> None:
    ranges = read_study(study).searched()
    assert points_of(ranges["gap"]) == pytest.approx([0.3e-3, 0.4e-3, 0.5e-3, 0.6e-3])
    speeds = points_of(ranges["speed"])
    assert len(speeds) == MOST_POINTS
    values = np.array(ranges["speed"].values)
    assert np.isin(speeds, values).all()
    assert [speeds[0], speeds[-1]] == [values[0], values[-1]]
    found = desk.sweep([("of", "gap"), *START.items()])
    assert found["svg"].count("<circle") == 8
    assert "best at" in found["text"] or "every limit" in found["text"]


def test_a_build_that_cannot_exist_says_why(desk: Desk) -> None:
    found = desk.build([*{**START, "exhaust_bore": "120 mm"}.items()])
    assert not found["works"]
    assert "is not smaller than the discs" in found["status"]
    assert found["figures"] == []
    stopped = desk.build([*{**START, "speed": "30000 rpm", "disc_diameter": "160 mm"}.items()])
    assert stopped["status"].startswith("It does not run: ") or stopped["works"]


def test_a_fault_of_ours_is_said_and_not_the_end(
    desk: Desk, capsys: pytest.CaptureFixture[str]
) -> None:
    status, found = answered(desk, "nothing", [])
    assert status == HTTPStatus.INTERNAL_SERVER_ERROR
    assert found["error"] == "This could not be computed (AttributeError)."
    assert "Traceback" in capsys.readouterr().err


def test_what_takes_too_long_is_given_up_and_too_much_is_put_off(desk: Desk) -> None:
    worker = Worker(desk.asked)
    try:
        before = worker.process
        assert worker.ask("start", [], 0.0) == GIVEN_UP
        assert not before.is_alive()
        assert worker.process.is_alive()
        for _ in range(MOST_WAITING):
            worker.room.acquire()
        assert worker.ask("start", []) == BUSY
    finally:
        worker.end()
    assert not worker.process.is_alive()
