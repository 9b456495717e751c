"""A first signal as a flag, so that what is in hand can be finished."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def first_signal(*numbers: signal.Signals) -> Iterator[Callable[[], bool]]:
    """Give whether one of these signals has come; only the first is taken, later ones act as usual.

    Outside the main thread, which alone is told of signals, none ever comes.
    """
    caught: list[int] = []
    if threading.current_thread() is not threading.main_thread():
        yield lambda: False
        return
    before = {number: signal.getsignal(number) for number in numbers}

    def catch(number: int, _: object) -> None:
        caught.append(number)
        signal.signal(number, before[signal.Signals(number)])

    for number in before:
        signal.signal(number, catch)
    try:
        yield lambda: bool(caught)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
