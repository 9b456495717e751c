"""Work behind a run: in order, and its errors are those of the run."""

import threading

import pytest

from engine.physics.compiled import n_threads
from engine.run.behind import Behind
from engine.run.workers import OURS, _threads_each


@pytest.mark.parametrize("threads", ["1", "2"])
def test_work_is_done_in_order(monkeypatch: pytest.MonkeyPatch, threads: str) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", threads)
    behind, done, held = Behind(), [], threading.Event()

    def first() -> None:
        if threads == "2":
            assert held.wait(60)  # until the run has gone on
        done.append(1)

    behind.hand(first)
    held.set()
    behind.hand(lambda: done.append(2))
    behind.wait()
    assert done == [1, 2]


def test_an_error_behind_is_raised_once_in_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", "2")

    def fail() -> None:
        msg = "full"
        raise ValueError(msg)

    behind = Behind()
    behind.hand(fail)
    with pytest.raises(ValueError, match="full"):
        behind.wait()
    behind.wait()


def test_a_worker_takes_its_share_of_the_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", "6")
    with _threads_each(n_threads() // 2, OURS):
        assert n_threads() == 3
    assert n_threads() == 6
