"""The comparison and the watched run in a real browser."""

import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.cli import main
from tests.support.browser import Page, opened, unfit, until
from tests.support.places import ROOT
from tests.support.starter import plain_starter
from tests.support.waiting import PATIENCE, wait_until

HOSTILE = "<script>window.hit=1</script><img src=x onerror=window.hit=1>"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    yield from opened(tmp_path_factory.mktemp("profile"))


def study(folder: Path, name: str, *changes: tuple[str, str]) -> Path:
    text = plain_starter("told").replace('"told"', json.dumps(HOSTILE))
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder / f"{name}.yaml"


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("compared")
    few = ("designs: 20000", "designs: 250")
    three = ("  safety_margin: maximise", "  safety_margin: maximise\n  mass_flow: minimise")
    none = ("safety_margin: {min: 1.2}", "safety_margin: {min: 90}")
    kinds = {"plain": (few,), "three": (few, three), "none": (few, none)}
    for name, changes in kinds.items():
        main(["run", str(study(folder, name, *changes)), "--into", str(folder / name)])
    runs = [str(folder / name) for name in kinds]
    assert main(["compare", *runs, "--output", str(folder / "compare.html")]) == 0
    return folder / "compare.html"


@pytest.mark.parametrize("dark", [False, True])
def test_a_comparison_opens_quietly_and_asks_no_network(
    page: Page, compared: Path, dark: bool
) -> None:
    page.open(compared, dark=dark)
    assert page.complaints() == []
    assert page.requests() == [compared.as_uri()]
    assert page.ask("window.hit") is None
    assert HOSTILE in page.ask("document.querySelector('header').innerText")
    ink = page.ask("getComputedStyle(document.querySelector('.drawn')).fill")
    assert ink == page.ask("getComputedStyle(document.body).color")
    assert (sum(map(int, re.findall(r"\d+", ink))) > 3 * 128) is dark
    assert page.ask("document.querySelectorAll('.at-wide text.b').length") == 2


@pytest.mark.parametrize("width", [320, 768, 1400])
def test_no_width_makes_a_comparison_scroll_sideways(
    page: Page, compared: Path, width: int
) -> None:
    page.open(compared, width=width)
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_a_touched_design_of_a_comparison_shows_its_build(page: Page, compared: Path) -> None:
    page.open(compared)
    first = """(() => {
      const dot = document.querySelector('.at-wide [data-says]');
      dot.scrollIntoView({block: 'center'});
      const box = dot.getBoundingClientRect();
      return [box.x + box.width / 2, box.y + box.height / 2];
    })()"""
    page.mouse("mouseMoved", *page.ask(first))
    shown = until(page, "document.querySelector('.pointed').textContent")
    for words in ("design", "Electric power:", "Disc diameter:"):
        assert words in shown


def test_a_comparison_prints_light_and_whole(page: Page, compared: Path) -> None:
    page.open(compared, dark=True)
    assert page.paper().startswith(b"%PDF")
    page.call("Emulation.setEmulatedMedia", media="print")
    ink = page.ask("getComputedStyle(document.querySelector('.drawn')).fill")
    assert sum(map(int, re.findall(r"\d+", ink))) < 3 * 128
    shown = "[...document.querySelectorAll('[class^=at-]')].filter(each => each.clientWidth)"
    assert page.ask(f"{shown}.map(each => each.className)") == ["at-middle"]


@pytest.mark.parametrize(("dark", "width"), [(False, 1400), (True, 1400), (False, 375)])
def test_a_comparison_meets_the_rules_of_accessibility(
    page: Page, compared: Path, dark: bool, width: int
) -> None:
    page.open(compared, dark=dark, width=width)
    assert unfit(page) == []


def start(*words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(  # noqa: S603  # fixed words
        [sys.executable, "-m", "engine.cli", *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def end(process: subprocess.Popen[str]) -> str:
    process.send_signal(signal.SIGINT)
    told, _ = process.communicate(timeout=PATIENCE)
    return told


@pytest.mark.slow
def test_a_run_in_another_process_is_watched_until_ctrl_c(page: Page, tmp_path: Path) -> None:
    endless = ("designs: 20000", "designs: 30000000\n  patience: 1000000000")
    run = tmp_path / "bench"
    running = start("run", str(study(tmp_path, "bench", endless)), "--into", str(run))
    watching = None
    try:
        wait_until((run / "run.json").exists, running)
        watching = start("watch", str(run))
        assert watching.stdout is not None
        address = re.search(r"http://\S+", watching.stdout.readline())
        assert address is not None
        page._go("about:blank")  # a page watched before would still ask for its run
        page._go(address[0])
        assert "designs" in page.ask("document.getElementById('status').textContent")
        # The page may put a new report into its frame at any moment.
        inside = "document.getElementById('report').contentDocument"
        until(page, f"!!{inside}?.querySelector('#front-chart [data-design]')")
        title = until(page, f"{inside}?.querySelector('.title-block b')?.textContent")
        assert title == HOSTILE
        until(page, "document.getElementById('status').textContent.includes('ends about')")
        assert page.ask("window.hit") is None
        assert page.complaints() == []
        host = address[0].rstrip("/")
        assert set(page.requests()) <= {f"{host}/", f"{host}/report", f"{host}/state", "data:,"}
        assert unfit(page) == []
        assert running.poll() is None
        assert not (run / "report.html").exists()
        assert end(watching).endswith("Stopped watching.\n")
        assert watching.returncode == 0
        until(page, "document.getElementById('status').textContent.includes('No longer')")
    finally:
        for each in filter(None, (watching, running)):
            each.kill()
            each.communicate()
