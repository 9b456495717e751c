"""Pages served on this machine's own address alone, and processes that end with the server.

The server is the standard library's: one page for one reader on the loopback address needs no more.
"""

import signal
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from typing import Any, ClassVar, NamedTuple

from engine.errors import Problem, StudyError
from engine.run.signals import first_signal

LOOPBACK = "127.0.0.1"
PATIENCE = 10.0
"""Time after which a slow reader is given up [s]."""
HEADERS: Mapping[str, str] = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "frame-ancestors 'self'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


class Answer(NamedTuple):
    """What a request gets."""

    status: HTTPStatus
    kind: str
    text: str


NOT_HERE = Answer(HTTPStatus.FORBIDDEN, "text/plain", "Not for this address.\n")
NOTHING = Answer(HTTPStatus.NOT_FOUND, "text/plain", "Nothing here.\n")
READ_ONLY = Answer(HTTPStatus.METHOD_NOT_ALLOWED, "text/plain", "Read only.\n")


def page(text: str) -> Answer:
    """Answer with a page."""
    return Answer(HTTPStatus.OK, "text/html", text)


class Handler(BaseHTTPRequestHandler):
    """Answers GET and HEAD for what `found` knows; everything else is refused.

    No path of a file is ever formed from a request.
    """

    protocol_version = "HTTP/1.1"
    server_version = "swirlstack"
    sys_version = ""
    timeout = PATIENCE
    hosts: ClassVar[frozenset[str]]

    def found(self) -> Answer:
        """Answer a request for an address of this server."""
        return NOTHING

    def do_GET(self) -> None:
        """Answer with headers and body."""
        self._answer(body=True)

    def do_HEAD(self) -> None:
        """Answer with headers alone."""
        self._answer(body=False)

    def __getattr__(self, name: str) -> Callable[[], None]:
        """Refuse every other method, known or not."""
        if name.startswith("do_"):
            return self._refuse_method
        raise AttributeError(name)

    def log_message(self, *_: Any) -> None:
        """Keep the terminal quiet."""

    def _answer(self, *, body: bool) -> None:
        # A page of another name that points to this machine must not read this one.
        known = self.headers.get("Host", "").lower() in self.hosts
        self._send(self.found() if known else NOT_HERE, body=body)

    def _refuse_method(self) -> None:
        self.close_connection = True  # a body that it sent is not read
        self._send(READ_ONLY, body=True, more={"Allow": "GET, HEAD"})

    def _send(self, answer: Answer, *, body: bool, more: Mapping[str, str] | None = None) -> None:
        content = answer.text.encode()
        self.send_response(answer.status)
        named = {
            "Content-Type": f"{answer.kind}; charset=utf-8",
            "Content-Length": str(len(content)),
        }
        for name, value in {**named, **HEADERS, **(more or {})}.items():
            self.send_header(name, value)
        self.end_headers()
        if body:
            self.wfile.write(content)


class Server(ThreadingHTTPServer):
    """Bound to the loopback address; its threads end with it."""

    daemon_threads = True
    block_on_close = False
    timeout = 0.5
    ended = False
    """Whether the serving is over."""

    def serve(self, is_interrupted: Callable[[], bool]) -> None:
        """Answer until Ctrl-C, which raises KeyboardInterrupt, or until the serving is over."""
        while not self.ended:
            if is_interrupted():
                raise KeyboardInterrupt
            try:
                self.handle_request()
            except (OSError, ValueError):
                if not self.ended:  # else the socket is closed already
                    raise

    def handle_error(self, *_: Any) -> None:
        """Say nothing of a reader that went away."""


@contextmanager
def served(
    handler: type[Handler], port: int, command: str
) -> Iterator[tuple[str, Callable[[], None]]]:
    """Serve what a handler finds; gives the address, and what serves until Ctrl-C.

    The first Ctrl-C raises KeyboardInterrupt from what serves and nowhere else, also if it was
    pressed before serving began. `handler` is made for this server alone; `command` is for
    messages.

    Raises
    ------
    StudyError
        Where the port cannot be used.
    """
    try:
        server = Server((LOOPBACK, port), handler)
    except (OSError, OverflowError) as error:
        why = getattr(error, "strerror", None) or "is no port"
        remedy = "choose another, or none for a free one"
        found = f"{port} cannot be used ({str(why).lower()})"
        raise StudyError(
            [Problem(file=command, key="--port", found=found, remedy=remedy)]
        ) from error
    number = server.server_address[1]
    handler.hosts = frozenset({f"{LOOPBACK}:{number}", f"localhost:{number}"})
    # Python's usual exception may be raised in code that drops it, and is not raised at all where a
    # script started the command in the background.
    with server, first_signal(signal.SIGINT) as is_interrupted:
        try:
            yield f"http://{LOOPBACK}:{number}/", partial(server.serve, is_interrupted)
        finally:
            server.ended = True


def helper(work: Callable[..., None], *given: Any) -> tuple[BaseProcess, Any]:
    """Start a process that calls `work` with its end of a pipe and what is given; give our end.

    The class of that end differs from one system to another.

    It can be ended at any moment. A thread cannot: if it is inside compiled code when the program
    ends, the program crashes.
    """
    ours, theirs = get_context("spawn").Pipe()
    process = get_context("spawn").Process(target=work, args=(theirs, *given), daemon=True)
    with _sigint(signal.SIG_IGN):  # a terminal sends Ctrl-C to every process; it must not hear it
        process.start()
    theirs.close()
    return process, ours


@contextmanager
def _sigint(handler: Any) -> Iterator[None]:
    """Handle Ctrl-C in this way for a while; does nothing outside the main thread."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
