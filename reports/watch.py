"""A run shown in the browser while it goes on, on this machine's own address alone.

The folder is only read, and its lock is not touched.
"""

import json
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from http import HTTPStatus
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, ClassVar

from engine.errors import SwirlstackError
from engine.run.folder import REPORT, STATE, read_front, read_state
from engine.run.read import study_of_run
from engine.study.study import Study
from reports.kit import serving
from reports.kit.quantities import count, inline_label, quantity
from reports.kit.rendering import asset, render
from reports.kit.serving import NOTHING, Answer, helper, page, served
from reports.run.facts import aims_of
from reports.run.make import data_of_run, page_of
from reports.run.search_facts import Table

LOOK = 1.0
"""Least time between two looks at the folder [s]."""
SHARE = 0.1
"""Most of its time that watching spends on making pages; the run needs the rest."""


@dataclass(frozen=True)
class Shown:
    """The latest page of the run."""

    version: int = 0
    """Goes up with each new page; 0 before the first."""
    page: str = ""
    best: str = ""
    """Best first aim so far, in words."""
    made_of: tuple[str, int] = ("", -1)
    """State of the run and its designs when the page was made."""


class Watched:
    """A run folder and its latest page; read by many threads, written by one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.title = study_of_run(folder)[0].title
        self.shown = stored(folder)
        self.trouble = ""

    def listen(self, maker: Connection) -> None:
        """Take in each new page, or why there is none, until the maker of pages has ended."""
        try:
            while True:
                self.shown, self.trouble = maker.recv()
        except (EOFError, OSError):
            self.trouble = "the report is not updated any more: the process that makes it has ended"

    def status(self) -> Mapping[str, Any]:
        """Progress in words, and the version of the page."""
        shown = self.shown
        about = {"version": shown.version, "going": True, "share": 0.0}
        try:
            _, state = read_state(self.folder)
            written = (self.folder / STATE).stat().st_mtime
        except (SwirlstackError, OSError) as error:
            return about | {"text": self.trouble or str(error)}
        parts = [f"{count(state.searched)} of {count(state.budget)} designs"]
        if state.designs > state.searched:
            parts.append(f"{count(state.designs - state.searched)} more around the front")
        if state.designs:
            parts += [f"front {count(state.front)}"] + ([shown.best] if shown.best else [])
        if state.state == "running":
            parts.append(_ahead(state, written, time.time()))
        else:
            parts.append(
                "done" if state.state == "done" else "interrupted; its command continues it"
            )
        if self.trouble:
            parts.append(self.trouble)
        return about | {
            "text": ", ".join(parts),
            "going": state.state == "running",
            "share": state.searched / state.budget if state.budget else 0.0,
        }


def make_pages(listener: Connection, folder: Path, shown: Shown) -> None:
    """Make the page again whenever the folder has changed, until nobody listens any more.

    `shown` is the page that is there already.

    This runs in a process of its own.
    """
    trouble, rest = "", 0.0
    while not listener.poll(rest):  # nothing is sent this way; only its end can be read
        began = time.monotonic()
        before = (shown.version, trouble)
        try:
            shown, trouble = refreshed(folder, shown), ""
        except SwirlstackError as error:
            # The folder may come back; the last page stays until then.
            trouble = str(error)
        if (shown.version, trouble) != before:
            try:
                listener.send((shown, trouble))
            except OSError:
                return
        rest = max(LOOK, (time.monotonic() - began) / SHARE)


def refreshed(folder: Path, shown: Shown) -> Shown:
    """Make the page again if the folder has changed since the one shown."""
    _, state = read_state(folder)
    made_of = (state.state, state.designs)
    if made_of == shown.made_of or not state.designs:
        return shown
    data = data_of_run(folder)
    best = _best(data.study, data.front)
    return Shown(shown.version + 1, page_of(data), best, made_of)


def stored(folder: Path) -> Shown:
    """Take the page of a finished run as the run wrote it; none where it is older than the run."""
    _, state = read_state(folder)
    page = folder / REPORT
    try:
        last = (folder / STATE).stat().st_mtime
        if state.state != "done" or page.is_symlink() or page.stat().st_mtime < last:
            return Shown()
        text = page.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        return Shown()
    best = _best(study_of_run(folder)[0], read_front(folder))
    return Shown(1, text, best, (state.state, state.designs))


def _best(study: Study, front: Table) -> str:
    """Say in words what the best first aim of a front is; '' where it is empty."""
    aim = aims_of(study)[0]
    values = front.get(aim.key, ())
    if not len(values):
        return ""
    value = max(values) if aim.maximise else min(values)
    return f"best {inline_label(aim.key)} {quantity(aim.key, float(value))}"


def _ahead(state: Any, written: float, now: float) -> str:
    """Say when a run will end at its pace so far, or that it seems to have stopped."""
    if now - written > 15 * 60:
        at = time.strftime("%H:%M", time.localtime(written))
        return f"no news since {at}: it may have been stopped"
    if not state.designs:
        return "nothing stored yet"
    left = state.seconds / state.designs * max(state.budget - state.designs, 0)
    end = max(written + left, now)
    form = "%H:%M" if end - now < 20 * 3600 else "%a %H:%M"
    return f"ends about {time.strftime(form, time.localtime(end))}"


class Handler(serving.Handler):
    """Answers for three fixed addresses."""

    watched: ClassVar[Watched]

    def found(self) -> Answer:
        """Answer a request for an address of this server."""
        if self.path == "/":
            return page(_frame(self.watched))
        if self.path == "/report":
            return page(self.watched.shown.page or _empty(self.watched))
        if self.path == "/state":
            return Answer(HTTPStatus.OK, "application/json", json.dumps(self.watched.status()))
        return NOTHING


def _frame(watched: Watched) -> str:
    return render(
        "watch.html.j2",
        style="page.css",
        scripts=[asset("watch.js")],
        also="connect-src 'self'; frame-src 'self'",
        title=watched.title,
        status=watched.status(),
    )


def _empty(watched: Watched) -> str:
    return render("watch_empty.html.j2", style="page.css", title=watched.title)


@contextmanager
def watched(folder: Path, port: int = 0) -> Iterator[tuple[str, Callable[[], None]]]:
    """Serve a run folder; gives the address, and what serves until Ctrl-C.

    The first Ctrl-C raises KeyboardInterrupt from what serves and nowhere else, also if it was
    pressed before serving began.

    Raises
    ------
    RunFolderError
        Where it is no run folder, or is damaged.
    StudyError
        Where the port cannot be used.
    """
    read_state(folder)
    run = Watched(folder)

    class Bound(Handler):
        watched = run

    with served(Bound, port, "watch") as serving_at, _pages_for(run):
        yield serving_at


@contextmanager
def _pages_for(run: Watched) -> Iterator[None]:
    """Start the process that makes the pages, and end it with the server."""
    maker, ours = helper(make_pages, run.folder, run.shown)
    threading.Thread(target=run.listen, args=(ours,), daemon=True).start()
    try:
        yield
    finally:
        maker.kill()
        maker.join()
