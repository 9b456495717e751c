"""What a run reports while it goes on: its progress, and the log file in its folder.

Every line of the log is complete in itself, so a line cut short by a power cut spoils no other.
"""

import logging
import math
import os
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from engine.columns import COLUMNS
from engine.errors import RunFolderError
from engine.files import storage_error
from engine.run.folder import RunFolder
from engine.run.state import RunState
from engine.units import counted

EVERY = 10.0
"""Shortest time between two lines about progress [s]."""
LOGGER = logging.getLogger("swirlstack")


@dataclass(frozen=True)
class Progress:
    """Progress of a run after a generation."""

    designs: int
    budget: int
    feasible_share: float
    """Share of the designs that meet every limit."""
    front: int
    best: float
    """Best value of the first aim on the front [SI]; NaN while there is no front."""
    stage: str
    """Stage of the search; '' at its end."""
    elapsed: float
    """Time since this start [s]."""
    remaining: float
    """Estimated time left to the end of the search [s]."""


@contextmanager
def logged(path: Path) -> Iterator[None]:
    """Append what is logged meanwhile to a file."""
    if path.is_dir():
        msg = f"{path}: is a folder where the log of the run should be; move it to another place"
        raise RunFolderError(msg)
    try:
        if _is_torn(path):
            with path.open("a", encoding="utf-8") as file:
                file.write("\n")
        handler = _QuietHandler(path, encoding="utf-8")
    except OSError as error:
        raise storage_error(path, error) from error
    handler.setFormatter(_Stamped("%(asctime)s %(message)s"))
    level = LOGGER.level
    LOGGER.setLevel(logging.INFO)
    LOGGER.addHandler(handler)
    try:
        yield
    except BaseException as error:
        LOGGER.error("stopped by %s: %s", type(error).__name__, error)
        raise
    finally:
        LOGGER.removeHandler(handler)
        LOGGER.setLevel(level)
        handler.close()


PASSED_BY = (
    "a build may end its process: another search.seed passes it by, in a run folder of its own"
    " (--into)"
)
DIED = f"was killed, or the power failed; where it dies again at as many designs, {PASSED_BY}"


class RunLog:
    """Lines about the progress of a run, few enough to be read in the morning."""

    def __init__(self, aims: Mapping[str, str]) -> None:
        self._aim = COLUMNS[next(iter(aims))]
        self._told = -math.inf
        self._stage = ""

    def begun(self, folder: RunFolder, budget: int) -> None:
        """Log the start, and how the start before it ended."""
        known, state = folder.provenance, folder.state
        if folder.n_parts or state.designs:
            ended = {"running": DIED}.get(state.state, state.state)
            LOGGER.info("the start before this one: %s", ended)
        LOGGER.info(
            "started, process %d: study %s, seed %d, model version %d, %s designs",
            os.getpid(),
            known.study_hash[:16],
            known.seed,
            known.model_version,
            counted(budget),
        )

    def say(self, text: str) -> None:
        """Log a line."""
        LOGGER.info("%s", text)

    def progress(self, now: Progress) -> None:
        """Log the progress, unless that was done a moment ago."""
        if time.monotonic() - self._told < EVERY and now.stage == self._stage:
            return
        self._told, self._stage = time.monotonic(), now.stage
        best = f"{self._aim.name} {float(self._aim.to_drawing(now.best)):.5g}" if now.front else ""
        parts = (
            f"{counted(now.designs)} of {counted(now.budget)} designs",
            now.stage or "search ended",
            f"{now.feasible_share:.1%} feasible",
            f"front {counted(now.front)}",
            best and f"best {best}",
            now.stage and f"end about {clock_time(now.remaining)}",
        )
        LOGGER.info("%s", ", ".join(part for part in parts if part))

    def ended(self, state: RunState, stalled: bool) -> None:
        """Log how this start ended."""
        if state.fallen:
            LOGGER.info("taken off the front after the recheck: %s", counted(len(state.fallen)))
            for number, reason in state.fallen.items():
                LOGGER.info("design %s: %s", number, reason)
        early = ", early: the front stopped growing" if stalled else ""
        if state.unsampled:
            LOGGER.info(
                "evaluated as drawn only: %s designs, which samples could not bring on the front",
                counted(state.unsampled),
            )
        LOGGER.info(
            "%s%s: %s designs, %s inside every limit, %s on the front, %.0f s over all starts",
            state.state,
            early,
            counted(state.designs),
            counted(state.feasible),
            counted(state.front),
            state.seconds,
        )


def clock_time(seconds: float) -> str:
    """Clock time in a number of seconds from now, with the day unless it is today.

    Examples
    --------
    >>> len(clock_time(0.0))
    5
    """
    now = datetime.now().astimezone()
    try:
        then = now + timedelta(seconds=seconds)
    except (OverflowError, ValueError):
        return "no end in sight"
    return then.strftime("%H:%M" if then.date() == now.date() else "%a %d %b %H:%M")


class _QuietHandler(logging.FileHandler):
    def handleError(self, record: logging.LogRecord) -> None:
        """Do nothing: a full disk is reported when a part is written."""


class _Stamped(logging.Formatter):
    def formatTime(self, record: logging.LogRecord, _: str | None = None) -> str:
        """Date, time and offset from UTC."""
        when = datetime.fromtimestamp(record.created).astimezone()
        return when.isoformat(sep=" ", timespec="seconds")

    def format(self, record: logging.LogRecord) -> str:
        """Message on one line, whatever it contains."""
        return super().format(record).replace("\r", " ").replace("\n", " | ")


def _is_torn(path: Path) -> bool:
    if not path.exists():
        return False
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(size - 1, 0))
        return size > 0 and file.read(1) != b"\n"
