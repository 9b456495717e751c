"""A process that answers for a desk, one question at a time; ended with the server."""

import gc
import signal
import threading
import traceback
from collections.abc import Mapping
from http import HTTPStatus
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from engine.errors import SwirlstackError
from reports.kit.serving import helper
from reports.live.asked import Asked, Pairs

if TYPE_CHECKING:
    from reports.live.desk import Desk

LONGEST = 120.0
"""Time after which an answer is given up, and the process started anew [s]."""
MOST_WAITING = 8
"""Questions that wait for one process at most."""

Found = tuple[HTTPStatus, Mapping[str, Any]]
BUSY: Found = (
    HTTPStatus.SERVICE_UNAVAILABLE,
    {"error": "Too much is asked at once. Turn again in a moment."},
)
GIVEN_UP: Found = (
    HTTPStatus.SERVICE_UNAVAILABLE,
    {"error": "This took too long and was given up. Turn again in a moment."},
)


class Worker:
    """One process; asked by many threads, which wait for each other."""

    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        self.turn = threading.Lock()
        self.room = threading.Semaphore(MOST_WAITING)
        self.over = False
        self.process, self.pipe = helper(answer, asked)

    def ask(self, name: str, pairs: Pairs, patience: float | None = LONGEST) -> Found:
        """Give the answer to a question; `patience` None waits as long as it takes."""
        if not self.room.acquire(blocking=False):
            return BUSY
        try:
            with self.turn:
                return self._ask(name, pairs, patience)
        finally:
            self.room.release()

    def _ask(self, name: str, pairs: Pairs, patience: float | None) -> Found:
        try:
            self.pipe.send((name, list(pairs)))
            if self.pipe.poll(patience):
                found: Found = self.pipe.recv()
                return found
        except (EOFError, OSError):
            pass  # it has ended
        if not self.over:
            self._stop()
            self.process, self.pipe = helper(answer, self.asked)
        return GIVEN_UP

    def end(self) -> None:
        """End the process for good, whatever it does."""
        self.over = True
        self._stop()

    def _stop(self) -> None:
        self.process.kill()
        self.process.join()
        self.pipe.close()


def answer(pipe: Connection, asked: Asked) -> None:
    """Answer until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal sends Ctrl-C to every process
    desk = _desk(asked)
    while True:
        try:
            name, pairs = pipe.recv()
        except EOFError:
            return
        try:
            pipe.send(answered(desk, name, pairs))
        except OSError:
            return


def _desk(asked: Asked) -> "Desk":
    """Load the model; no garbage is looked for meanwhile, as loading leaves little among much."""
    gc.disable()
    from reports.live.desk import Desk  # noqa: PLC0415  in the process that needs it alone

    gc.freeze()
    gc.enable()
    return Desk(asked)


def answered(desk: "Desk", name: str, pairs: Pairs) -> Found:
    """Answer one question, or say in words why not."""
    try:
        return HTTPStatus.OK, getattr(desk, name)(pairs)
    except SwirlstackError as error:
        return HTTPStatus.BAD_REQUEST, {"error": str(error)}
    except Exception as error:
        # A fault of ours must not end the page; it is said there, and told in full here.
        traceback.print_exc()
        said = f"This could not be computed ({type(error).__name__})."
        return HTTPStatus.INTERNAL_SERVER_ERROR, {"error": said}
