"""The page in a real browser, driven over its debugging pipe."""

import base64
import json
import os
import select
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from reports import RunData, charts, write_report
from reports.build_facts import BuildData
from reports.sheet import write_sheet

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
        codes = {"Enter": 13, "Tab": 9}
        text = "\r" if key == "Enter" else ""
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


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    if BROWSER is None:
        reason = "no Chromium found; the page is not tested in a browser"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    made = Page(tmp_path_factory.mktemp("profile"))
    yield made
    made.close()


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory, run_data: RunData) -> Path:
    return _write(tmp_path_factory.mktemp("report"), write_report(run_data))


def _write(folder: Path, text: str) -> Path:
    path = folder / "report.html"
    path.write_text(text, encoding="utf-8")
    return path


FIRST_DOT = """(() => {
  const trace = document.querySelectorAll('[data-chart=front] .scatterlayer .trace')[2];
  trace.scrollIntoView({block: 'center'});
  const box = trace.querySelector('.point').getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2];
})()"""
ORDER = "[...document.querySelectorAll('#front-table tbody tr')].map(row => row.id)"


@pytest.mark.parametrize("dark", [False, True])
def test_the_page_opens_quietly_and_asks_no_network(page: Page, file: Path, dark: bool) -> None:
    page.open(file, dark=dark)
    assert page.complaints() == []
    assert page.requests() == [file.as_uri()]
    drawn = (
        "[...document.querySelectorAll('[data-chart]')].map(box => !!box.querySelector('.subplot'))"
    )
    assert all(page.ask(drawn))
    assert len(page.ask(drawn)) > 20


@pytest.mark.parametrize("width", [320, 375, 768, 1400])
def test_no_width_makes_the_page_scroll_sideways(page: Page, file: Path, width: int) -> None:
    page.open(file, width=width)
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert page.ask(
        "[...document.querySelectorAll('.chart svg')].every(svg =>"
        " svg.getBoundingClientRect().right <= document.documentElement.clientWidth)"
    )


def test_a_touched_dot_shows_its_build(page: Page, file: Path) -> None:
    page.open(file)
    page.mouse("mouseMoved", *page.ask(FIRST_DOT))
    shown = _until(page, "document.querySelector('[data-chart=front] .hoverlayer').textContent")
    for words in ("Design", "Electric power:", "Disc diameter:", "Turbine efficiency:"):
        assert words in shown


def test_a_clicked_dot_finds_its_row(page: Page, file: Path) -> None:
    page.open(file)
    x, y = page.ask(FIRST_DOT)
    for kind in ("mouseMoved", "mousePressed", "mouseReleased"):
        page.mouse(kind, x, y)
    found = _until(page, "document.querySelector('tr.found')?.id")
    first = page.ask("document.querySelector('[data-chart=front]').data[2].customdata[0][0]")
    assert found == f"design-{first}"


def test_a_head_sorts_by_its_column_with_the_keyboard_alone(
    page: Page, file: Path, run_data: RunData
) -> None:
    page.open(file)
    page.ask("document.querySelectorAll('#front-table thead button')[0].focus()")
    page.press("Tab")
    page.press("Tab")
    page.press("Enter")
    head = "document.querySelectorAll('#front-table thead th')[2]"
    assert page.ask(f"{head}.getAttribute('aria-sort')") == "descending"
    front = run_data.front
    by_margin = sorted(zip(front["safety_margin"], front["design"], strict=True), reverse=True)
    rows = page.ask(ORDER)
    assert rows[0] == f"design-{by_margin[0][1]}"
    assert rows[-1] == f"design-{by_margin[-1][1]}"
    assert "largest first" in page.ask("document.getElementById('sorted').textContent")
    page.press("Enter")
    assert page.ask(f"{head}.getAttribute('aria-sort')") == "ascending"
    assert page.ask(ORDER)[0] == f"design-{by_margin[-1][1]}"


def test_the_download_holds_the_front_and_no_formula(
    page: Page, tmp_path: Path, make_run: Callable[..., RunData]
) -> None:
    run = make_run(words={"governing_mode": '=HYPERLINK("x"),1'})
    page.open(_write(tmp_path, write_report(run)))
    page.ask("URL.createObjectURL = blob => { window.saved = blob; return '#'; }; 0")
    page.ask("document.getElementById('download').click()")
    lines = page.ask("window.saved.text()").splitlines()
    names = lines[0].replace('"', "").split(",")
    assert {"design", "electric_power_W", "gap_mm", "governing_mode"} <= set(names)
    assert len(lines) == 1 + len(run.front["design"])
    assert '"\'=HYPERLINK(""x""),1"' in lines[1]
    best = float(lines[1].split(",")[names.index("electric_power_W")])
    assert best == pytest.approx(run.front["electric_power"].max(), rel=1e-5)


def test_charts_follow_a_change_to_dark(page: Page, file: Path) -> None:
    page.open(file)
    title = "getComputedStyle(document.querySelector('.xtitle')).fill"
    assert page.ask(title) == _rgb(charts.INK)
    dark = [{"name": "prefers-color-scheme", "value": "dark"}]
    page.call("Emulation.setEmulatedMedia", features=dark)
    assert _until(page, f"{title} !== '{_rgb(charts.INK)}' && {title}") == _rgb(
        charts.DARK[charts.INK]
    )


def test_paper_is_light_and_holds_whole_charts(page: Page, file: Path) -> None:
    page.open(file, dark=True)
    assert page.paper().startswith(b"%PDF")
    page.ask("drawForPaper(true)")
    title = "getComputedStyle(document.querySelector('.xtitle')).fill"
    assert page.ask(title) == _rgb(charts.INK)
    widest = page.ask(
        "Math.max(...[...document.querySelectorAll('.chart svg')].map("
        "svg => svg.getBoundingClientRect().right))"
    )
    assert widest <= 182 / 25.4 * 96 + 1


def test_hostile_words_run_nothing(
    page: Page, tmp_path: Path, make_run: Callable[..., RunData]
) -> None:
    attack = "</script><script>window.hit=1</script><img src=x onerror='window.hit=1'>"
    run = make_run(
        title=attack[:120],
        study_text=attack,
        provenance={attack: attack},
        words={"governing_mode": attack, "validity": attack},
    )
    file = _write(tmp_path, write_report(run))
    page.open(file)
    page.mouse("mouseMoved", *page.ask(FIRST_DOT))
    shown = _until(page, "document.querySelector('[data-chart=front] .hoverlayer').textContent")
    assert attack in shown
    assert page.ask("window.hit") is None
    assert page.complaints() == []
    assert page.requests() == [file.as_uri()]


def test_the_policy_stops_a_script_that_got_in(page: Page, tmp_path: Path, file: Path) -> None:
    broken = file.read_text("utf-8").replace("<main>", "<main><script>window.hit = 1</script>")
    page.open(_write(tmp_path, broken))
    assert page.ask("window.hit") is None
    assert any("Content Security Policy" in text for text in page.complaints())


def test_without_scripts_answer_cautions_and_tables_are_there(page: Page, file: Path) -> None:
    page.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        page.open(file)
        text = page.ask("document.body.innerText")
    finally:
        page.call("Emulation.setScriptExecutionDisabled", value=False)
    for words in ("The answer", "overspeed trip", "The charts need JavaScript", "Stored energy"):
        assert words in text
    assert "Download as CSV" not in text


def test_a_page_without_feasible_design_opens_quietly(
    page: Page, tmp_path: Path, make_run: Callable[..., RunData]
) -> None:
    page.open(_write(tmp_path, write_report(make_run(limits={"safety_margin": {"min": 50}}))))
    assert page.complaints() == []
    assert page.ask("document.querySelectorAll('.chart').length") == 0


@pytest.mark.parametrize("width", [703, 400])
def test_a_build_sheet_prints_in_true_scale_and_fits_a_phone(
    page: Page, tmp_path: Path, sheet_data: BuildData, width: int
) -> None:
    page.open(_write(tmp_path, write_sheet(sheet_data)["sheet.html"]), width=width)
    assert page.complaints() == []
    if width > 400:  # A4 less its margins, and a scroll bar; wider, it would be printed smaller
        page.call("Emulation.setEmulatedMedia", media="print")
        assert page.ask("document.querySelector('svg').getBoundingClientRect().width") == (
            pytest.approx(182 / 25.4 * 96, abs=0.5)
        )
    assert page.ask("document.documentElement.scrollWidth") <= width
    page.call("Emulation.setEmulatedMedia", media="")


def _until(page: Page, expression: str) -> Any:
    """Wait until the page gives something; charts draw a frame later."""
    end = time.monotonic() + PATIENCE
    while not (answer := page.ask(expression)):
        assert time.monotonic() < end, expression
        time.sleep(0.05)
    return answer


def _rgb(colour: str) -> str:
    return f"rgb({', '.join(str(int(colour[i : i + 2], 16)) for i in (1, 3, 5))})"
