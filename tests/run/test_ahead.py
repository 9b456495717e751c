"""A second process compiles while a run searches."""

import subprocess
from pathlib import Path
from typing import Any

import pytest

from engine.files import locked
from engine.physics.flow import match
from engine.physics.fluids.liquid import Liquid
from engine.physics.gap import averaged, resolved
from engine.run import ahead

SLEEP = "import time; time.sleep(3600)"


@pytest.fixture
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> "list[subprocess.Popen[bytes]]":
    """Processes that are started; code is kept in an empty folder."""
    found: list[subprocess.Popen[bytes]] = []

    class Kept(subprocess.Popen[bytes]):
        def __init__(self, *given: Any, **other: Any) -> None:
            super().__init__(*given, **other)
            found.append(self)

    monkeypatch.setattr("engine.run.ahead.subprocess.Popen", Kept)
    monkeypatch.setattr(ahead, "code_folder", lambda: tmp_path)
    monkeypatch.delenv("SWIRLSTACK_THREADS", raising=False)
    monkeypatch.setattr(ahead, "n_threads", lambda: 2)
    return found


def test_the_process_ends_with_the_run(
    started: "list[subprocess.Popen[bytes]]", monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ahead, "COMMAND", SLEEP)
    told = []
    with ahead.compiled_ahead(lambda: told.append("first")):
        assert [process.poll() for process in started] == [None]
    assert started[0].poll() is not None
    assert told == ["first"]


def test_a_run_waits_for_it_and_goes_on_where_it_failed(
    started: "list[subprocess.Popen[bytes]]", monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ahead, "COMMAND", "raise SystemExit(3)")
    with ahead.compiled_ahead(lambda: None) as wait:
        wait()
        assert started[0].returncode == 3


def test_nothing_is_started_where_it_would_not_help(
    started: "list[subprocess.Popen[bytes]]", tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / ahead.MARK).touch()
    with ahead.compiled_ahead(lambda: None) as wait:
        wait()
    (tmp_path / ahead.MARK).unlink()
    monkeypatch.setattr(ahead, "n_threads", lambda: 1)
    with ahead.compiled_ahead(lambda: None) as wait:
        wait()
    monkeypatch.setattr(ahead, "code_folder", lambda: None)
    with ahead.compiled_ahead(lambda: None) as wait:
        wait()
    assert started == []


def test_what_the_first_process_needs_soon_is_compiled_before_the_closer_match(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[Any] = []
    monkeypatch.setattr(ahead, "code_folder", lambda: tmp_path)
    monkeypatch.setattr(Liquid, "density", lambda _self, **_given: made.append("properties"))
    for level in (averaged, resolved):
        name = level.__name__.rpartition(".")[2]
        monkeypatch.setattr(
            level, "march", lambda name=name, **given: made.append((name, given["gap"].size))
        )
    monkeypatch.setattr(match, "make_resolved_ready", lambda **_given: made.append("match"))
    ahead.compile_closer()
    assert made == ["properties", ("averaged", 0), ("resolved", 0), "match"]


def test_all_is_compiled_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "code_folder", lambda: tmp_path)
    with locked(tmp_path):
        ahead.compile_closer()
    assert not (tmp_path / ahead.MARK).exists()
    ahead.compile_closer()
    assert (tmp_path / ahead.MARK).exists()
