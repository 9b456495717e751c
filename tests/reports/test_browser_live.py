"""A build tried live in a real browser, on the pages of a run that has ended."""

import csv
import io
import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.cli import main
from engine.model.evaluation import evaluate
from engine.model.limits import with_standing
from engine.run.point import Point, point_of
from engine.run.read import study_of_run
from engine.study.reader import parse_overrides, parse_study
from engine.study.study import Study
from reports.kit.quantities import quantity
from reports.run.opening import figures_of
from reports.run.search_facts import Values, row_of
from tests.support.browser import Page, opened, unfit, until
from tests.support.live import HOSTILE, live_study
from tests.support.places import ROOT
from tests.support.waiting import PATIENCE

READY = "!document.querySelector('.turns').disabled"
SHOWN = "byId('answers').dataset.shown === queryOf(build)"
WHOLE = "byId('answers').dataset.whole === queryOf(build)"
TURN = """((key, by) => {
  const slider = document.querySelector(`[data-key=${key}] input[type=range]`);
  slider.value = Number(slider.value) + (Number(slider.value) + by > Number(slider.max) ? -by : by);
  slider.dispatchEvent(new Event('input'));
})"""
TYPE = """((key, text) => {
  const field = document.querySelector(`[data-key=${key}] input[type=text]`);
  field.value = text;
  field.dispatchEvent(new Event('change'));
})"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    yield from opened(tmp_path_factory.mktemp("profile"))


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tried")
    assert main(["run", str(live_study(folder)), "--into", str(folder / "bench")]) == 0
    return folder / "bench"


@pytest.fixture(scope="module")
def study(run: Path) -> Study:
    return study_of_run(run)[0]


@pytest.fixture(scope="module")
def served(run: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    process = subprocess.Popen(  # noqa: S603  # fixed words
        [sys.executable, "-m", "engine.cli", "try", str(run)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert process.stdout is not None
    address = re.search(r"http://\S+", process.stdout.readline())
    assert address is not None
    yield process, address[0]
    process.kill()
    process.communicate()


@pytest.fixture
def fresh(page: Page, served: tuple[subprocess.Popen[str], str]) -> Page:
    go(page, served[1])
    return page


def go(page: Page, address: str, *, width: int = 1400, dark: bool = False) -> None:
    """Open the page and wait until it shows its build."""
    page.call(
        "Emulation.setDeviceMetricsOverride",
        width=width,
        height=900,
        deviceScaleFactor=1,
        mobile=False,
    )
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    page.call("Emulation.setEmulatedMedia", media="", features=[scheme])
    page._go("about:blank")  # a new # alone would load nothing
    page._go(address)
    until(page, f"{READY} && {SHOWN}")


def do(page: Page, script: str, *given: Any) -> None:
    page.ask(f"{script}({', '.join(map(json.dumps, given))})")


def shown(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.ask("""({
      texts: Object.fromEntries(build),
      figures: [...document.querySelectorAll('#figures b')].map(each => each.textContent),
      words: [...document.querySelectorAll('#figures span')].map(each => each.textContent),
      limits: [...document.querySelectorAll('#limits tr')].map(each =>
        [each.cells[1].textContent, each.cells[2].textContent]),
    })""")
    return found


def point_at(study: Study, texts: dict[str, str]) -> Point:
    return point_of(study, [f"{key}={text}" for key, text in texts.items()])


def values_at(study: Study, texts: dict[str, str]) -> Values:
    """What one evaluation gives: test_live.py holds it against `point`."""
    build = parse_overrides([f"{key}={text}" for key, text in texts.items()], study)
    arrays = {key: np.array([value]) for key, value in build.items()}
    return row_of(evaluate(study.unjudged(), arrays), 0)


def agrees(told: dict[str, Any], study: Study) -> None:
    """Compare the four numbers, and those beside the limits."""
    values = values_at(study, told["texts"])
    assert told["figures"] == [each.value for each in figures_of(study, values)]
    for key, (here, held) in zip(with_standing(study.all_limits), told["limits"], strict=True):
        if key != "survives_trip":  # comes later
            assert here == quantity(key, values[key])
            assert held in ("yes", "no")


def test_each_knob_changes_the_numbers_to_those_of_point(fresh: Page, study: Study) -> None:
    seen = shown(fresh)
    for key in study.searched():
        do(fresh, TURN, key, 1)
        until(fresh, SHOWN)
        told = shown(fresh)
        changed = {k for k, text in told["texts"].items() if text != seen["texts"][k]}
        assert changed == {key}
        assert (told["figures"], told["limits"]) != (seen["figures"], seen["limits"])
        agrees(told, study)
        seen = told
    until(fresh, WHOLE)
    told, point = shown(fresh), point_at(study, seen["texts"])
    figures = figures_of(study, row_of(point.results, 0))
    assert told["figures"] == [each.value for each in figures]
    assert told["words"] == [f"{each.words}." for each in figures]
    assert any("eight builds in ten" in words for words in told["words"])
    assert told["limits"] == [
        [quantity(key, point.results[key][0]), "no" if key in point.missed else "yes"]
        for key in point.limits
    ]
    assert fresh.complaints() == []
    assert fresh.ask("window.hit") is None
    assert HOSTILE in fresh.ask("document.querySelector('header').innerText")


def test_a_number_is_typed_between_the_steps_or_refused(fresh: Page, study: Study) -> None:
    before = shown(fresh)
    do(fresh, TYPE, "gap", "0.35")
    until(fresh, SHOWN)
    told = shown(fresh)
    assert told["texts"]["gap"] == "0.35 mm"
    agrees(told, study)
    do(fresh, TYPE, "gap", "3 bar")
    words = until(fresh, "byId('trouble').textContent")
    assert "gap: '3 bar' is a pressure" in words
    assert shown(fresh)["figures"] == told["figures"]
    assert fresh.ask("byId('answers').classList.contains('stale')")
    do(fresh, TYPE, "gap", before["texts"]["gap"])
    until(fresh, f"{SHOWN} && !byId('trouble').textContent")
    # A machine number in the fold is one more value of the build.
    do(fresh, TYPE, "rim_clearance", "0.8")
    until(fresh, SHOWN)
    told = shown(fresh)
    assert told["texts"]["rim_clearance"] == "0.8 mm"
    agrees(told, study)
    do(fresh, TYPE, "rim_clearance", "0.5 mm")  # the usual value: no change any more
    until(fresh, SHOWN)
    assert "rim_clearance" not in shown(fresh)["texts"]
    do(fresh, TYPE, "disc_thickness", "1 mm")  # taller nozzles pass more than the supply gives
    until(fresh, SHOWN)
    heading = fresh.ask("byId('answer').textContent")
    assert "Mass flow at most" in heading or re.fullmatch(r"It misses \d+ limits\.", heading)


def test_kept_builds_stand_side_by_side_on_the_front_and_in_files(
    fresh: Page, study: Study, run: Path, tmp_path: Path
) -> None:
    fresh.ask("window.saved = {}; window.save = (name, text) => { saved[name] = text; }; 0")
    builds = []
    for _ in range(2):
        fresh.ask("byId('keep').click()")
        assert fresh.ask("byId('keep').disabled")
        builds.append(shown(fresh)["texts"])
        do(fresh, TURN, "speed", 2)
        until(fresh, SHOWN)
    until(fresh, "kept.every(each => answers.get(each)?.plain)")
    rows = fresh.ask("[...byId('kept').rows].map(row => [...row.cells].map(c => c.textContent))")
    assert [len(row) for row in rows] == [3] * len(rows)
    by_label = {row[0]: row[1:] for row in rows}
    points = [point_at(study, texts) for texts in builds]
    for label, key in (("Electric power", "electric_power"), ("Running speed", "speed")):
        assert by_label[label] == [quantity(key, each.results[key][0]) for each in points]
    marks = "[...document.querySelectorAll('#front .at-wide text.now')].map(m => m.textContent)"
    assert fresh.ask(marks) == ["1", "2"]
    fresh.ask("byId('csv').click()")
    text = next(iter(until(fresh, "Object.keys(saved).length && saved").values()))
    table = list(csv.DictReader(io.StringIO(text)))
    assert [row["build"] for row in table] == ["1", "2"]
    for row, point in zip(table, points, strict=True):
        plain = point.as_plain()
        assert row.keys() - {"build"} == plain.keys()
        assert float(row["electric_power_W"]) == plain["electric_power_W"]
    fresh.ask("byId('as-study').click()")
    yaml = until(fresh, "!byId('yaml').hidden && byId('yaml').textContent")
    assert yaml in fresh.ask("Object.values(saved)")
    around = parse_study(yaml, "around.yaml")
    for texts in builds:
        point_at(around, texts)
    speeds = around.searched()["speed"].values
    assert speeds is not None
    assert len(speeds) == 2 * 2 + 3
    # `run` takes it as it is.
    (tmp_path / "around.yaml").write_text(yaml, encoding="utf-8")
    assert main(["check", str(tmp_path / "around.yaml")]) == 0


def test_the_address_holds_the_build_and_those_kept(
    fresh: Page, served: tuple[subprocess.Popen[str], str]
) -> None:
    fresh.ask("byId('keep').click()")
    do(fresh, TURN, "disc_count", 1)
    do(fresh, TYPE, "pressure", "5 bar gauge")
    until(fresh, SHOWN)
    told, kept = shown(fresh), fresh.ask("kept")
    address = until(fresh, "location.hash === addressOf() && location.href")
    go(fresh, address)
    again = shown(fresh)
    assert (again["texts"], again["figures"]) == (told["texts"], told["figures"])
    assert fresh.ask("kept") == kept
    assert "'supply_pressure=5 bar gauge'" in fresh.ask("byId('command').textContent")
    assert fresh.ask("document.querySelector('[data-key=pressure]').className") == "knob changed"
    # Links within the page leave it as it is.
    for click, to in (
        ("document.querySelector('.musts a')", "cautions"),
        ("byId('to-kept')", "kept-builds"),
    ):
        fresh.ask(f"{click}.click()")
        assert fresh.ask("location.hash === addressOf() && document.activeElement.id") == to
    assert fresh.ask("kept") == kept
    assert shown(fresh)["texts"] == told["texts"]


def test_a_climb_shows_its_steps_and_can_be_undone(fresh: Page, study: Study) -> None:
    do(fresh, TURN, "disc_count", 3)
    do(fresh, TURN, "gap", 1)
    until(fresh, SHOWN)
    before = shown(fresh)
    fresh.ask("document.querySelector('.nudge[data-to=electric_power]').click()")
    until(fresh, f"byId('steps').children.length && {SHOWN}")
    told = shown(fresh)
    steps = fresh.ask("[...byId('steps').children].map(each => each.textContent)")
    assert all("→" in step for step in steps)
    power = values_at(study, told["texts"])["electric_power"]
    assert steps[-1].endswith(f": {quantity('electric_power', power)}")
    assert all(held != "no" for _, held in told["limits"])
    fresh.ask("history.back()")
    until(fresh, f"build.get('gap') === {json.dumps(before['texts']['gap'])} && {SHOWN}")
    assert shown(fresh)["texts"] == before["texts"]
    assert shown(fresh)["figures"] == before["figures"]


def test_a_curve_stands_under_its_knob_one_at_a_time(fresh: Page) -> None:
    sweep = "document.querySelector('[data-key={}] .sweep').click()"
    open_ = "[...document.querySelectorAll('.swept:not([hidden])')]"
    curves = f"{open_}.map(each => each.parentElement.dataset.key)"
    fresh.ask(sweep.format("gap"))
    until(fresh, "!!document.querySelector('[data-key=gap] .swept svg .now')")
    fresh.ask(sweep.format("speed"))
    until(fresh, "!!document.querySelector('[data-key=speed] .swept svg .now')")
    assert fresh.ask(curves) == ["speed"]
    place = "document.querySelector('[data-key=speed] .swept svg .now').getAttribute('d')"
    before = fresh.ask(place)
    do(fresh, TURN, "speed", 4)
    until(fresh, f"{place} !== {json.dumps(before)}")
    fresh.ask(sweep.format("speed"))
    assert fresh.ask(curves) == []


def test_two_pages_are_turned_at_once(
    fresh: Page, served: tuple[subprocess.Popen[str], str], study: Study, tmp_path: Path
) -> None:
    for other in opened(tmp_path):
        go(other, served[1])
        for by in (1, 2, 3):
            do(fresh, TURN, "disc_count", by)
            do(other, TURN, "speed", by)
        for each in (fresh, other):
            until(each, SHOWN)
            told = shown(each)
            agrees(told, study)
            assert each.complaints() == []


@pytest.mark.parametrize(("dark", "width"), [(False, 1400), (True, 390)])
def test_it_meets_the_rules_of_accessibility(
    page: Page, served: tuple[subprocess.Popen[str], str], dark: bool, width: int
) -> None:
    go(page, served[1], dark=dark, width=width)
    page.ask("byId('keep').click(); document.querySelector('[data-key=gap] .sweep').click()")
    page.ask("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    until(page, "kept.every(each => answers.get(each)?.plain)")
    until(page, "!!document.querySelector('[data-key=gap] .swept svg')")
    assert unfit(page) == []
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_the_keyboard_turns_and_paper_holds_the_kept_builds(fresh: Page) -> None:
    before = shown(fresh)["texts"]
    fresh.ask("document.querySelector('[data-key=disc_count] input[type=range]').focus()")
    fresh.press("ArrowLeft")
    until(fresh, SHOWN)
    assert int(shown(fresh)["texts"]["disc_count"]) == int(before["disc_count"]) - 1
    fresh.ask("byId('keep').click()")
    assert fresh.paper().startswith(b"%PDF")
    fresh.call("Emulation.setEmulatedMedia", media="print")
    seen = "document.querySelector('{}').getClientRects().length"
    assert fresh.ask(seen.format("#kept"))
    assert not fresh.ask(seen.format(".turns"))


def test_ctrl_c_ends_it_with_0_and_the_page_says_so(
    fresh: Page, served: tuple[subprocess.Popen[str], str]
) -> None:
    process, _ = served
    process.send_signal(signal.SIGINT)
    told, _ = process.communicate(timeout=PATIENCE)
    assert (told, process.returncode) == ("Stopped.\n", 0)
    do(fresh, TURN, "speed", 1)
    until(fresh, "byId('trouble').textContent.includes('the command has ended')")
