"""A headless browser driven over its debugging pipe, for the tests of pages."""

import base64
import json
import os
import select
import shutil
import signal
import time
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from tests.support.waiting import PATIENCE

BROWSER = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--remote-debugging-pipe",
)
AXE = resources.files("axe_core_python") / "axe.min.js"
"""The rules of axe-core, Deque Systems, run inside the page."""
FRAME = 2.0
"""Seconds after which a page is made to draw a frame."""


class Page:
    """One headless page: sends commands, and keeps the events that arrive between."""

    def __init__(self, profile: Path) -> None:
        assert BROWSER is not None
        to_browser, self.out = os.pipe()
        self.inn, from_browser = os.pipe()
        self.pid = os.posix_spawn(
            BROWSER,
            [BROWSER, *FLAGS, f"--user-data-dir={profile}"],
            os.environ,
            file_actions=[
                (os.POSIX_SPAWN_DUP2, to_browser, 3),
                (os.POSIX_SPAWN_DUP2, from_browser, 4),
                (os.POSIX_SPAWN_OPEN, 2, os.devnull, os.O_WRONLY, 0),
            ],
        )
        os.close(to_browser)
        os.close(from_browser)
        self.rest = b""
        self.sent = 0
        self.events: list[dict[str, Any]] = []
        self.session = ""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        self.sent += 1
        message: dict[str, Any] = {"id": self.sent, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self.sent:
                assert "error" not in answer, answer
                result: dict[str, Any] = answer["result"]
                return result
            self.events.append(answer)

    def _next(self) -> dict[str, Any]:
        end = time.monotonic() + PATIENCE
        while b"\0" not in self.rest:
            ready, _, _ = select.select([self.inn], [], [], max(0.0, end - time.monotonic()))
            assert ready, "the browser does not answer"
            read = os.read(self.inn, 1 << 20)
            assert read, "the browser has gone"
            self.rest += read
        message, _, self.rest = self.rest.partition(b"\0")
        answer: dict[str, Any] = json.loads(message)
        return answer

    def ask(self, expression: str) -> Any:
        answer = self.call(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def open(
        self,
        file: Path,
        *,
        width: int = 1400,
        height: int = 900,
        dark: bool = False,
        part: str = "",
    ) -> None:
        """Load a page; `part` is what follows # in its address."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        if part:  # from the same page it would only scroll
            self._go("about:blank")
        self._go(file.as_uri() + (f"#{part}" if part else ""))

    def _go(self, address: str) -> None:
        self.events.clear()
        self.call("Page.navigate", url=address)
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next())

    def complaints(self) -> list[str]:
        """Errors and warnings of the console, exceptions, and anything the policy blocked."""
        found = []
        for event in self.events:
            if event["method"] == "Log.entryAdded":
                found.append(event["params"]["entry"]["text"])
            elif event["method"] == "Runtime.exceptionThrown":
                found.append(str(event["params"]["exceptionDetails"]))
            elif event["method"] == "Runtime.consoleAPICalled":
                found.append(str(event["params"]["args"]))
        return found

    def requests(self) -> list[str]:
        return [
            event["params"]["request"]["url"]
            for event in self.events
            if event["method"] == "Network.requestWillBeSent"
        ]

    def mouse(self, kind: str, x: float, y: float) -> None:
        button = "none" if kind == "mouseMoved" else "left"
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button=button, clickCount=1)

    def press(self, key: str) -> None:
        codes = {"Enter": 13, "Tab": 9, " ": 32, "ArrowRight": 39, "ArrowLeft": 37}
        text = {"Enter": "\r", " ": " "}.get(key, "")
        for kind in ("keyDown", "keyUp"):
            self.call(
                "Input.dispatchKeyEvent",
                type=kind,
                key=key,
                code=key,
                text=text,
                windowsVirtualKeyCode=codes[key],
            )

    def paper(self) -> bytes:
        printed = self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(printed["data"])

    def close(self) -> None:
        os.close(self.out)  # the browser ends with its pipe
        end = time.monotonic() + 10
        while os.waitpid(self.pid, os.WNOHANG) == (0, 0):
            if time.monotonic() > end:
                os.kill(self.pid, signal.SIGKILL)
                os.waitpid(self.pid, 0)
                break
            time.sleep(0.05)
        os.close(self.inn)


def until(page: Page, expression: str) -> Any:
    """Wait until an expression is true in the page; charts draw a frame later.

    A page that nobody sees may draw no frame, and without a frame it gets no event of another
    colour scheme. A screenshot makes it draw one.
    """
    start = time.monotonic()
    while not (answer := page.ask(expression)):
        waited = time.monotonic() - start
        assert waited < PATIENCE, expression
        time.sleep(0.05)
        if waited > FRAME:
            page.call("Page.captureScreenshot")
    return answer


def rgb(colour: str) -> str:
    return f"rgb({', '.join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5))})"


def opened(folder: Path) -> Iterator[Page]:
    """Yield a page. Without a browser the tests are skipped, or fail under CI."""
    if BROWSER is None:
        reason = "no Chromium found; the page is not tested in a browser"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    made = Page(folder)
    yield made
    made.close()


def unfit(page: Page) -> list[str]:
    """What the rules of accessibility find."""
    page.ask(AXE.read_text("utf-8") + "; 0")
    found: list[str] = page.ask(
        "axe.run(document, {resultTypes: ['violations'], iframes: false}).then(found => "
        "found.violations.map(each => `${each.impact} ${each.id}: "
        "${each.nodes.map(node => node.html).slice(0, 3)}`))"
    )
    return found
