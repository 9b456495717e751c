"""A run watched from outside: what is served, to whom, and that the run is left alone."""

import http.client
import json
import multiprocessing
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, nullcontext
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest

from engine.cli import main
from engine.files import locked
from engine.model.lanes import rows_of
from engine.run.folder import read_front
from engine.run.pick import on_front
from engine.run.read import study_of_run
from engine.run.seals import sealed_text
from engine.run.state import RunState
from engine.run.unfinished import front_so_far, runaway_of
from reports.run.make import data_of_run
from reports.watch import Shown, _ahead, refreshed, stored, watched
from tests.support.places import ROOT
from tests.support.starter import plain_starter
from tests.support.waiting import PATIENCE, wait_until

TITLE = "<script>alert(1)</script> & a bench to watch"


def write_study(folder: Path, designs: int) -> Path:
    text = plain_starter("watched").replace("designs: 20000", f"designs: {designs}")
    text = text.replace('"watched"', json.dumps(TITLE)).replace(
        "seed: 1 ", "generation: 100\n  seed: 1 "
    )
    (folder / "bench.yaml").write_text(text, encoding="utf-8")
    return folder / "bench.yaml"


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("finished")
    assert main(["run", str(write_study(folder, 300)), "--into", str(folder / "bench")]) == 0
    return folder / "bench"


@pytest.fixture
def run(finished: Path, tmp_path: Path) -> Path:
    shutil.copytree(finished, tmp_path / "bench")
    return tmp_path / "bench"


@contextmanager
def served(folder: Path) -> Iterator[str]:
    with ExitStack() as stack:
        never = nullcontext(lambda: False)
        with patch(
            "reports.kit.serving.first_signal", lambda _: never
        ):  # Ctrl-C still ends the tests
            address, serve = stack.enter_context(watched(folder))
        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield address.removeprefix("http://").rstrip("/")
    thread.join()  # one left behind would ask its closed socket again and again


def ask(
    host: str, path: str = "/", method: str = "GET", **headers: str
) -> tuple[http.client.HTTPResponse, bytes]:
    connection = http.client.HTTPConnection(host, timeout=PATIENCE)
    connection.request(method, path, headers=headers)
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    return answer, body


def state_of(host: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(ask(host, "/state")[1])
    return found


def set_state(run: Path, **changes: Any) -> None:
    state = json.loads((run / "run.json").read_text("utf-8"))
    (run / "run.json").write_text(sealed_text(state | changes), encoding="utf-8")


@pytest.fixture(scope="module")
def host(finished: Path) -> Iterator[str]:
    with served(finished) as address:
        yield address


def test_the_report_is_served_with_its_progress(host: str, finished: Path) -> None:
    answer, page = ask(host, "/report")
    assert answer.status == 200
    assert answer.getheader("Content-Type") == "text/html; charset=utf-8"
    assert page.decode() == (finished / "report.html").read_text("utf-8")
    told = state_of(host)
    assert told["version"] == 1
    # Builds around the front, looked at as they may turn out, come on top.
    assert re.match(r"300 of 300 designs, (\d+ more around the front, )?front \d+", told["text"])
    assert told["share"] == 1.0
    assert "best electric power" in told["text"]
    assert told["text"].endswith("done")
    assert not told["going"]


def test_the_page_of_a_finished_run_is_there_at_once_as_the_run_wrote_it(run: Path) -> None:
    own = (run / "report.html").read_text("utf-8") + "<!-- as written -->"
    (run / "report.html").write_text(own, encoding="utf-8")
    assert stored(run).page == own
    with served(run) as host:
        assert state_of(host)["version"] == 1
        assert ask(host, "/report")[1].decode() == own
    set_state(run, designs=301)  # the page is older than the run
    os.utime(run / "report.html", (0, 0))
    assert stored(run) == Shown()
    set_state(run, state="interrupted")
    os.utime(run / "report.html")
    assert stored(run) == Shown()
    (run / "report.html").unlink()
    set_state(run, state="done")
    assert stored(run) == Shown()


def test_the_frame_shows_the_report_and_may_ask_its_own_address_alone(host: str) -> None:
    text = ask(host)[1].decode()
    assert 'src="/report"' in text
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; a bench to watch" in text
    assert "connect-src &#39;self&#39;" in text
    assert "default-src &#39;none&#39;" in text


@pytest.mark.parametrize(
    "path",
    ["/run.json", "/study.yaml", "/report.html", "/../run.json", "//etc/passwd", "/report/",
     "/state?x=1", "/%2e%2e/run.json", "/etc/passwd", "*"],
)  # fmt: skip
def test_no_other_path_is_served(host: str, path: str) -> None:
    answer, body = ask(host, path)
    assert (answer.status, body) == (404, b"Nothing here.\n")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_no_other_method_is_answered(host: str, method: str) -> None:
    answer, body = ask(host, "/report", method)
    assert answer.status == 405
    assert answer.getheader("Allow") == "GET, HEAD"
    assert body == b"Read only.\n"


@pytest.mark.parametrize(
    "name", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1:1", "", "localhost.evil:{}"]
)
@pytest.mark.parametrize("path", ["/", "/report", "/state", "/run.json"])
def test_a_name_that_was_pointed_here_is_refused(host: str, name: str, path: str) -> None:
    answer, body = ask(host, path, Host=name.format(host.partition(":")[2]))
    assert (answer.status, body) == (403, b"Not for this address.\n")


def test_localhost_is_a_name_of_this_machine(host: str) -> None:
    assert ask(host, "/state", Host=f"LOCALHOST:{host.partition(':')[2]}")[0].status == 200


def test_an_old_request_without_a_name_is_refused(host: str) -> None:
    name, _, port = host.partition(":")
    with socket.create_connection((name, int(port)), timeout=PATIENCE) as line:
        line.sendall(b"GET /report HTTP/1.0\r\n\r\n")
        assert b" 403 " in line.makefile("rb").readline()


def test_a_head_has_the_length_and_no_body(host: str) -> None:
    answer, body = ask(host, "/report", "HEAD")
    assert answer.status == 200
    assert body == b""
    assert int(answer.getheader("Content-Length") or 0) == len(ask(host, "/report")[1])


def test_nothing_is_kept_or_guessed_by_the_browser(host: str) -> None:
    for path in ("/", "/report", "/state", "/none"):
        answer, _ = ask(host, path)
        assert answer.getheader("Cache-Control") == "no-store"
        assert answer.getheader("X-Content-Type-Options") == "nosniff"
        assert answer.getheader("Content-Security-Policy") == "frame-ancestors 'self'"
        assert answer.getheader("Access-Control-Allow-Origin") is None
        assert "Python" not in (answer.getheader("Server") or "")


def test_it_listens_on_loopback_alone(host: str) -> None:
    port = int(host.partition(":")[2])
    table = Path("/proc/net/tcp")
    if not table.exists():
        pytest.skip("no table of sockets here")
    rows = [line.split() for line in table.read_text("utf-8").splitlines()[1:]]
    bound = [row[1] for row in rows if row[3] == "0A" and int(row[1].split(":")[1], 16) == port]
    assert [address.split(":")[0] for address in bound] == ["0100007F"]


def test_a_run_is_shown_before_its_first_designs_and_after(run: Path) -> None:
    parts = run / "designs"
    kept = parts.rename(run.parent / "kept")
    parts.mkdir()
    (run / "front.parquet").unlink()
    set_state(run, state="running", designs=0, feasible=0, front=0, seconds=0.0)
    with served(run) as host:
        assert "nothing stored yet" in state_of(host)["text"]
        assert b"There is no report yet" in ask(host, "/report")[1]
        assert "<script>alert" not in ask(host, "/report")[1].decode()
        for part in kept.iterdir():
            shutil.copy(part, parts)
        set_state(run, designs=300, feasible=50, front=9, budget=600, seconds=60.0)
        wait_until(lambda: state_of(host)["version"])
        page = ask(host, "/report")[1].decode()
        assert "300 builds" in page
        assert "runaway" in page.lower()
        told = state_of(host)
        assert told["going"]
        assert told["share"] == 0.5
        assert "ends about" in told["text"]


def test_the_front_so_far_is_that_of_the_finished_run(finished: Path) -> None:
    study, _ = study_of_run(finished)
    so_far = front_so_far(study, finished)
    # Only an ended run has builds on its front for how they turn out; the others are as drawn.
    ended = read_front(finished)
    front = rows_of(ended, on_front(ended, "nominal"))
    assert so_far["design"].tolist() == front["design"].tolist()
    for key in ("electric_power", "safety_margin", "rotor_mass"):
        np.testing.assert_allclose(so_far[key], front[key], rtol=1e-9)
    assert so_far["rank"].tolist() == list(range(1, len(front["design"]) + 1))
    assert (np.diff(front["rank"]) > 0).all()  # its ranks count the others too
    rows = [0, len(front["design"]) - 1]
    full = runaway_of(study, so_far, rows)
    np.testing.assert_allclose(full["runaway_ratio"][rows], front["runaway_ratio"][rows], rtol=1e-3)


def test_watching_neither_takes_the_lock_nor_writes(run: Path) -> None:
    before = {path: path.stat().st_mtime_ns for path in run.rglob("*")}
    with locked(run), served(run) as host:
        wait_until(lambda: state_of(host)["version"])
        assert {path: path.stat().st_mtime_ns for path in run.rglob("*")} == before
    assert {path: path.stat().st_mtime_ns for path in run.rglob("*")} == before


def test_a_folder_that_goes_away_leaves_the_last_page(run: Path) -> None:
    with served(run) as host:
        run.rename(run.with_name("moved"))
        assert "is not a run folder" in state_of(host)["text"]
        assert b"How close to failure" in ask(host, "/report")[1]


def test_the_page_is_made_again_only_after_a_change(
    run: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reports.watch.page_of", lambda _: "a page")
    monkeypatch.setattr("reports.watch.data_of_run", partial(data_of_run, in_depth=False))
    first = refreshed(run, Shown())
    assert first.version == 1
    assert refreshed(run, first) == first
    set_state(run, state="interrupted")
    assert refreshed(run, first).version == 2


@pytest.mark.parametrize(
    ("now", "seconds", "words"),
    [
        (1000.0, 0.0, "nothing stored yet"),
        (1000.0, 50.0, "ends about "),
        (9000.0, 50.0, "no news since "),
    ],
)
def test_the_end_follows_from_the_pace(now: float, seconds: float, words: str) -> None:
    state = RunState(budget=400, designs=100 if seconds else 0, seconds=seconds)
    assert words in _ahead(state, 1000.0, now)
    if words.startswith("ends"):  # 300 designs left at half a second each
        at = time.strftime("%H:%M", time.localtime(1150.0))
        assert _ahead(state, 1000.0, now) == f"ends about {at}"


def test_no_run_folder_ends_with_4_and_a_taken_port_with_2(
    tmp_path: Path, finished: Path, host: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["watch", str(tmp_path)]) == 4
    assert "is not a run folder" in capsys.readouterr().err
    for port in (host.partition(":")[2], "70000"):
        assert main(["watch", str(finished), "--port", port]) == 2
        assert "--port" in capsys.readouterr().err


@pytest.fixture(params=[signal.default_int_handler, signal.SIG_IGN], ids=["usual", "ignored"])
def ctrl_c(request: pytest.FixtureRequest) -> Iterator[Any]:
    """What Ctrl-C does before; commands that a script starts in the background ignore it."""
    before = signal.signal(signal.SIGINT, request.param)
    yield request.param
    signal.signal(signal.SIGINT, before)


def test_ctrl_c_ends_serving_and_nothing_else(finished: Path, ctrl_c: Any) -> None:
    others = multiprocessing.active_children()
    with watched(finished) as (_, serve):
        os.kill(os.getpid(), signal.SIGINT)
        with pytest.raises(KeyboardInterrupt):
            serve()
        assert signal.getsignal(signal.SIGINT) == ctrl_c  # so a second one acts as before
    assert signal.getsignal(signal.SIGINT) == ctrl_c
    assert multiprocessing.active_children() == others


def test_ctrl_c_ends_a_watch_while_a_page_is_made(run: Path) -> None:
    set_state(run, state="interrupted")
    watching = subprocess.Popen(  # noqa: S603  # fixed words
        [sys.executable, "-m", "engine.cli", "watch", str(run)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert watching.stdout is not None
    assert "Ctrl-C ends this" in watching.stdout.readline()
    watching.send_signal(signal.SIGINT)
    told, _ = watching.communicate(timeout=PATIENCE)
    assert (watching.returncode, told) == (0, "Stopped watching.\n")


def test_the_status_says_when_the_maker_of_pages_has_died(run: Path) -> None:
    others = multiprocessing.active_children()
    with served(run) as host:
        (maker,) = {*multiprocessing.active_children()} - {*others}
        maker.kill()
        wait_until(lambda: "not updated any more" in state_of(host)["text"])
