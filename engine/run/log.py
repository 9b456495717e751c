"""What a run says of itself as it goes: its progress, and the log file in its folder.

Every line of the log stands for itself, so that one torn by a power cut harms no other.
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
from engine.run.folder import RunFolder, RunState
from engine.units import counted

EVERY = 10.0
"""Least time between two lines on how the run stands [s]."""
LOGGER = logging.getLogger("swirlstack")


@dataclass(frozen=True)
class Progress:
    """How a run stands after a generation."""

    designs: int
    budget: int
    feasible_share: float
    """Share of the designs that meet every limit."""
    front: int
    best: float
    """Best value of the first aim on the front [SI]; NaN before the first."""
    stage: str
    """What the search is at, '' at its end."""
    elapsed: float
    """Time since this start [s]."""
    remaining: float
    """Estimated time to the end of the search [s]."""


@contextmanager
def logged(path: Path) -> Iterator[None]:
    """Write what is logged meanwhile behind what a file holds already."""
    if _is_torn(path):
        with path.open("a", encoding="utf-8") as file:
            file.write("\n")
    handler = _QuietHandler(path, encoding="utf-8")
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


class NightLog:
    """Lines on how a run stands, few enough to be read in the morning."""

    def __init__(self, aims: Mapping[str, str]) -> None:
        self._aim = COLUMNS[next(iter(aims))]
        self._told = -math.inf
        self._stage = ""

    def begun(self, folder: RunFolder, budget: int) -> None:
        """Say that a start begins, and how the one before ended."""
        known, state = folder.provenance, folder.state
        if folder.n_parts or state.designs:
            ended = {"running": "was killed, or the power failed"}.get(state.state, state.state)
            LOGGER.info("the start before: %s", ended)
        LOGGER.info(
            "started, process %d: study %s, seed %d, model version %d, %s designs",
            os.getpid(),
            known.study_hash[:16],
            known.seed,
            known.model_version,
            counted(budget),
        )

    def say(self, text: str) -> None:
        """Write a line."""
        LOGGER.info("%s", text)

    def stands(self, now: Progress) -> None:
        """Say how the run stands, unless that was said just now."""
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
        """Say what this start came to."""
        early = ", early: the front grew no more" if stalled else ""
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
    """Time of the clock so many seconds from now, with its day unless that is today.

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
        """Do nothing: a full disk is met by the parts, which must be written."""


class _Stamped(logging.Formatter):
    def formatTime(self, record: logging.LogRecord, _: str | None = None) -> str:
        """Date, time and offset from UTC."""
        when = datetime.fromtimestamp(record.created).astimezone()
        return when.isoformat(sep=" ", timespec="seconds")

    def format(self, record: logging.LogRecord) -> str:
        """One line, whatever the message holds."""
        return super().format(record).replace("\r", " ").replace("\n", " | ")


def _is_torn(path: Path) -> bool:
    if not path.exists():
        return False
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(size - 1, 0))
        return size > 0 and file.read(1) != b"\n"
