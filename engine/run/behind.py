"""Work in a thread behind the run, one piece at a time: it stores while others are evaluated."""

import threading
from collections.abc import Callable

from engine.physics.compiled import n_threads


class Behind:
    """Do work in order, each after the one before; at once where the run may use one thread only.

    What fails behind is raised by the next `hand` or `wait`.
    """

    def __init__(self) -> None:
        self._thread: threading.Thread | None = None
        self._errors: list[BaseException] = []

    def hand(self, work: Callable[[], None]) -> None:
        """Take work over, as soon as the work before is done."""
        self.wait()
        if n_threads() == 1:
            work()
            return
        self._thread = threading.Thread(target=self._do, args=(work,))
        self._thread.start()

    def wait(self) -> None:
        """Wait until all work is done; raise what it raised."""
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        if self._errors:
            raise self._errors.pop()

    def _do(self, work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as error:
            self._errors.append(error)
