"""The page on which a build is tried, served on this machine's own address alone."""

import json
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from http import HTTPStatus
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import parse_qsl

from engine.run.chosen import as_texts, ended_front, row_named
from engine.run.folder import read_state
from engine.run.read import study_of_run
from engine.study.fit_file import read_study_text
from engine.study.reader import parse_study
from reports.kit import serving
from reports.kit.serving import NOTHING, Answer, page, served
from reports.live.asked import Asked
from reports.live.desk import MOST_FIELDS
from reports.live.page import write_page
from reports.live.work import Worker
from reports.run.make import refuse_other_model

LONGEST_ADDRESS = 16_384
"""Characters of a request's address that are read."""
QUICK = ("build",)
SLOW = ("bands", "rest", "sweep", "nudge", "study")
"""Questions by the process that answers them."""
OWN = frozenset({"", "none", "same-origin"})
"""What a browser says of a request that no other site made it send."""
GETTING_READY = "Getting ready. The first time the model is compiled, which takes minutes."
TOO_LONG = Answer(HTTPStatus.REQUEST_URI_TOO_LONG, "text/plain", "This address is too long.\n")
FOREIGN = Answer(HTTPStatus.FORBIDDEN, "text/plain", "Not for another site.\n")


class Live:
    """A study, the processes that evaluate its builds, and whether they are ready."""

    def __init__(self, asked: Asked, front: Path | None) -> None:
        # They load the model while the page is made.
        self.quick, self.slow = Worker(asked), Worker(asked)
        self.ready = threading.Event()
        self.state: dict[str, Any] = {"text": GETTING_READY}
        try:
            self.page = write_page(asked, front)
        except BaseException:
            self.end()
            raise
        threading.Thread(target=self._warm, daemon=True).start()

    def _warm(self) -> None:
        """Find the first build, and do everything once in both, so that its code is compiled."""
        with ThreadPoolExecutor(1) as pool:
            slow = pool.submit(self.slow.ask, "warm", [], None)
            status, start = self.quick.ask("start", [], None)
            if status == HTTPStatus.OK:
                status, found = self.quick.ask("build", list(start.items()), None)
            else:
                found = start
            for answered, told in ((status, found), slow.result()):
                if answered != HTTPStatus.OK:
                    self.state = {"text": f"{told['error']}"}
                    return
        self.state = {"text": "Ready.", "start": start}
        self.ready.set()

    def answer(self, name: str, query: str) -> Answer:
        """Answer a question about a build."""
        if not self.ready.is_set():
            return _plain(HTTPStatus.SERVICE_UNAVAILABLE, {"error": self.state["text"]})
        try:
            pairs = parse_qsl(query, keep_blank_values=True, max_num_fields=MOST_FIELDS)
        except ValueError:
            said = f"More than {MOST_FIELDS} values: take the address as the page writes it."
            return _plain(HTTPStatus.BAD_REQUEST, {"error": said})
        worker = self.quick if name in QUICK else self.slow
        return _plain(*worker.ask(name, pairs))

    def end(self) -> None:
        """End the processes."""
        self.quick.end()
        self.slow.end()


def _plain(status: HTTPStatus, found: Any) -> Answer:
    return Answer(status, "application/json", json.dumps(found, allow_nan=False))


class Handler(serving.Handler):
    """Answers for a few fixed addresses."""

    live: ClassVar[Live]

    def found(self) -> Answer:
        """Answer a request for an address of this server."""
        if len(self.path) > LONGEST_ADDRESS:
            return TOO_LONG
        if self.path == "/":
            return page(self.live.page)
        # Else any site that the reader visits could keep this machine busy.
        if self.headers.get("Sec-Fetch-Site", "") not in OWN:
            return FOREIGN
        if self.path in ("/state", "/state?"):
            return _plain(HTTPStatus.OK, self.live.state)
        path, _, query = self.path.partition("?")
        name = path.removeprefix("/")
        if path != f"/{name}" or name not in (*QUICK, *SLOW):
            return NOTHING
        return self.live.answer(name, query)


@contextmanager
def tried(
    source: Path, design: str | None = None, port: int = 0
) -> Iterator[tuple[str, Callable[[], None]]]:
    """Serve a page for the builds of a study, or of a run; gives the address, and what serves.

    `design` names the first build of a run, usually the pick. As in `reports.kit.serving.served`
    the first Ctrl-C raises KeyboardInterrupt from what serves.

    Raises
    ------
    StudyError
        Where the study is wrong, there is no such design, or the port cannot be used.
    RunFolderError
        Where a folder is no run, or is damaged.
    """
    asked, front = _asked(source, design)

    class Bound(Handler):
        pass

    with served(Bound, port, "try") as serving_at:
        Bound.live = Live(asked, front)
        try:
            yield serving_at
        finally:
            Bound.live.end()


def _asked(source: Path, design: str | None) -> tuple[Asked, Path | None]:
    """Read a study file, or a run and one of its designs."""
    if not source.is_dir():
        text = read_study_text(source)
        parse_study(text, str(source))
        return Asked(text, str(source), (str(source),)), None
    refuse_other_model(source, read_state(source)[0])
    study, text = study_of_run(source)
    front = ended_front(source)
    start = as_texts(study, front, row_named(source, design or "pick", study, front))
    return Asked(text, str(source / "study.yaml"), (str(source),), start), source
