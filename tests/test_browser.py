"""The page in a real browser, driven over its debugging pipe."""

import base64
import json
import os
import select
import shutil
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reports import write_report
from reports.facts import RunData

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
PATIENCE = 60.0
"""Seconds for one answer; a loaded machine is slow to start a browser."""


class Page:
    """One headless page: sends commands, keeps what it was told meanwhile."""

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

    def open(self, file: Path, *, width: int = 1400, height: int = 900, dark: bool = False) -> None:
        self.events.clear()
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self.call("Page.navigate", url=file.as_uri())
        loaded = "new Promise(done => document.readyState === 'complete' ? done(1) : onload = done)"
        self.ask(f"{loaded}.then(() => 1)")

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

    def picture(self, file: Path, *, whole: bool = True) -> None:
        shot = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        file.write_bytes(base64.b64decode(shot["data"]))

    def paper(self, file: Path) -> None:
        printed = self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        file.write_bytes(base64.b64decode(printed["data"]))

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
