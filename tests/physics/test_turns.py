"""Calls made in turns by two threads: in order, one in Python at a time, none lost."""

import threading
from functools import partial

import pytest

from engine.physics import compiled
from engine.physics.compiled import in_turns, on_every_core, turn_left


@pytest.fixture(autouse=True)
def _two_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", "2")


def test_calls_give_their_answers_in_order() -> None:
    assert in_turns([partial(pow, n, 2) for n in range(7)]) == [0, 1, 4, 9, 16, 25, 36]


def test_a_call_goes_on_while_the_other_is_in_compiled_code() -> None:
    met = threading.Barrier(2, timeout=60)

    def work(_first: int, _last: int) -> None:
        met.wait()

    def call() -> str:
        on_every_core(work, n_lanes=2 * compiled.FEWEST)
        return threading.current_thread().name

    assert len(set(in_turns([call, call]))) == 2


def test_only_one_call_is_in_python_at_a_time() -> None:
    inside, most = [0], [0]

    def call() -> None:
        for _ in range(200):
            inside[0] += 1
            most[0] = max(most[0], inside[0])
            threading.Event().wait(0.0)  # the other would go on here
            inside[0] -= 1
            with turn_left():
                pass

    in_turns([call] * 4)
    assert most == [1]


def test_an_error_in_a_call_is_raised_and_ends_the_rest() -> None:
    made = []

    def fail() -> None:
        message = "no flow"
        raise ValueError(message)

    def call() -> None:
        with turn_left():
            made.append(threading.current_thread())

    with pytest.raises(ValueError, match="no flow"):
        in_turns([fail, *[call] * 3])
    assert not any(thread.is_alive() for thread in made)


@pytest.mark.parametrize("threads", ["1", "2"])
def test_calls_inside_a_call_are_made_by_its_thread(
    threads: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", threads)

    def inner() -> int:
        return threading.get_ident()

    def outer() -> bool:
        return set(in_turns([inner, inner])) == {threading.get_ident()}

    assert in_turns([outer, outer]) == [True, True]
