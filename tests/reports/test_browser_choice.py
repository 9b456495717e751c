"""Choosing in the page, in a real browser: pins, brush, filter, sorting, with mouse and keys."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from reports.run.facts import RunData, shown
from reports.run.page import write_report
from tests.support import browser
from tests.support.browser import Page, opened, until

ROWS = "[...document.querySelectorAll('#front-table tbody tr')]"
SHOWN = f"{ROWS}.filter(row => !row.hidden).map(row => row.id)"
HEADS = "[...document.querySelectorAll('#choice thead th')].slice(3).map(head => head.innerText)"
CHART = "[...document.querySelectorAll('#front-chart svg')].find(e => e.getClientRects().length)"
OPEN = "document.getElementById('all').open = true; drawTable(); 0"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    yield from opened(tmp_path_factory.mktemp("profile"))


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory, run_data: RunData) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(write_report(run_data), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def designs(run_data: RunData) -> list[int]:
    """Numbers of the front, best power first."""
    front = run_data.front
    return [int(front["design"][row]) for row in (-front["electric_power"]).argsort()]


def _centre(page: Page, design: int) -> tuple[float, float]:
    x, y = page.ask(
        f"""(() => {{
          const dot = {CHART}.querySelector('[data-design="{design}"]');
          dot.scrollIntoView({{block: 'center'}});
          const at = dot.getBoundingClientRect();
          return [at.x + at.width / 2, at.y + at.height / 2];
        }})()"""
    )
    return x, y


def _click(page: Page, design: int) -> None:
    at = _centre(page, design)
    for kind in ("mouseMoved", "mousePressed", "mouseReleased"):
        page.mouse(kind, *at)


def _pins(page: Page) -> list[int]:
    found: list[int] = page.ask("pins")
    return found


@pytest.mark.parametrize("width", [1400, 390])
def test_a_click_on_the_centre_of_a_marked_dot_pins_that_build(
    page: Page, file: Path, run_data: RunData, width: int
) -> None:
    page.open(file, width=width)
    rows = dict.fromkeys(shown(run_data.study, run_data.front).values())
    marked = [int(run_data.front["design"][row]) for row in rows]
    for place, design in enumerate(marked):
        _click(page, design)
        assert _pins(page) == marked[: place + 1]
    assert [head.split()[1] for head in page.ask(HEADS)] == [str(each) for each in marked]
    for design in marked:
        _click(page, design)
    assert _pins(page) == []
    assert page.complaints() == []


def test_the_pointer_says_which_build_a_dot_is_and_what_a_bar_holds(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file)
    page.mouse("mouseMoved", *_centre(page, designs[3]))
    said = page.ask("document.querySelector('.pointed').innerText")
    assert said.startswith(f"Build {designs[3]}")
    assert "Electric power" in said
    bar = page.ask(
        "(() => { const bar = [...document.querySelectorAll('rect[data-says]')]"
        ".find(each => each.getClientRects().length); bar.scrollIntoView({block: 'center'});"
        " const at = bar.getBoundingClientRect(); return [at.x + 5, at.y + 5]; })()"
    )
    page.mouse("mouseMoved", *bar)
    assert "terminals" in page.ask("document.querySelector('.pointed').innerText")


def test_the_pointer_reads_a_curve(page: Page, file: Path, run_data: RunData) -> None:
    page.open(file)
    page.ask("document.getElementById('speeds').open = true")
    at = page.ask(
        "(() => { const curve = document.querySelector('#speeds .of-pick .curve.runs');"
        " curve.scrollIntoView({block: 'center'}); const place = curve.getPointAtLength("
        "curve.getTotalLength() * 0.3); const to = curve.getScreenCTM();"
        " return [to.e + to.a * place.x, to.f + to.d * place.y]; })()"
    )
    page.mouse("mouseMoved", *at)
    said = page.ask("document.querySelector('.pointed').innerText")
    assert said.startswith("Electric power\n")
    assert "rpm" in said


def test_a_pinned_build_is_a_column_with_the_numbers_of_its_row(
    page: Page, file: Path, designs: list[int], run_data: RunData
) -> None:
    page.open(file, part=f"pins={designs[1]}")
    row = run_data.front["design"].tolist().index(designs[1])
    cells = page.ask(
        "Object.fromEntries([...document.querySelectorAll('#choice tbody tr')]"
        ".map(row => [row.cells[0].innerText, row.cells[4].innerText]))"
    )
    assert float(cells["Power, W"]) == pytest.approx(
        run_data.front["electric_power"][row], rel=5e-3
    )
    diameter = 1e3 * run_data.front["disc_diameter"][row]
    assert f"× {diameter:.0f}," in cells["Discs × diameter, gap, mm"]


def test_the_address_keeps_the_pins_names_unknown_ones_and_back_unpins(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file, part=f"pins={designs[2]},{10**7},{designs[0]},{designs[2]}")
    assert _pins(page) == [designs[2], designs[0]]
    status = page.ask("document.getElementById('pin-status').textContent")
    assert status == f"Pinned: {designs[2]}, {designs[0]}. Not among these builds: {10**7}."
    _click(page, designs[5])
    assert page.ask("location.hash") == f"#pins={designs[2]},{designs[0]},{designs[5]}"
    page.ask("history.back()")
    until(page, "pins.length === 2")
    page.ask("document.getElementById('unpin').click()")
    assert (page.ask("location.hash"), _pins(page)) == ("", [])


def test_a_link_inside_the_page_opens_its_fold_and_keeps_the_pins(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file, part=f"pins={designs[0]}")
    page.ask("document.querySelector('.musts a').click()")
    assert page.ask("document.getElementById('cautions').open")
    assert page.ask("location.hash") == f"#pins={designs[0]}"
    assert page.ask("document.activeElement.tagName") == "SUMMARY"


def test_the_whole_way_with_the_keyboard_alone(
    page: Page, file: Path, designs: list[int], run_data: RunData
) -> None:
    """Skip link, along the front, pin, unpin, a fold, sort, pin in the table."""
    page.open(file)
    page.press("Tab")
    assert page.ask("document.activeElement.className") == "skip"
    page.press("Enter")
    assert page.ask("document.activeElement.id") == "build"
    pick = int(run_data.front["design"][shown(run_data.study, run_data.front)["pick"]])
    for _ in range(8):
        page.press("Tab")
        if page.ask("document.activeElement.dataset.design ?? ''"):
            break
    assert page.ask("+document.activeElement.dataset.design") == pick
    page.press("ArrowRight")
    second = page.ask("+document.activeElement.dataset.design")
    assert designs.index(second) == designs.index(pick) + 1  # less power, more margin
    assert str(second) in page.ask("document.querySelector('.pointed').innerText")
    page.press("Enter")
    assert _pins(page) == [second]
    assert page.ask("document.activeElement.getAttribute('aria-pressed')") == "true"
    page.press("Tab")
    page.press("Tab")
    assert page.ask("document.activeElement.getAttribute('aria-label')") == f"Unpin build {second}"
    page.press("Enter")
    assert _pins(page) == []
    assert page.ask("document.activeElement !== document.body")
    page.ask("document.querySelector('#all summary').focus()")
    page.press("Enter")
    until(page, f"{ROWS}.length === {len(designs)}")
    page.ask("document.querySelectorAll('#front-table thead button')[0].focus()")
    page.press("Tab")
    page.press("Tab")
    page.press("Enter")
    head = "document.querySelectorAll('#front-table thead th')[2]"
    assert page.ask(f"{head}.getAttribute('aria-sort')") == "descending"
    front = run_data.front
    by_margin = sorted(zip(front["safety_margin"], front["design"], strict=True), reverse=True)
    assert page.ask(f"{ROWS}[0].id") == f"design-{by_margin[0][1]}"
    assert "largest first" in page.ask("document.getElementById('sorted').textContent")
    page.press("Enter")
    assert page.ask(f"{ROWS}[0].id") == f"design-{by_margin[-1][1]}"
    page.ask(f"document.querySelector('#design-{designs[0]} input').focus()")
    page.press(" ")
    assert _pins(page) == [designs[0]]


def test_a_drag_across_the_chart_keeps_what_lies_between(
    page: Page, file: Path, designs: list[int], run_data: RunData
) -> None:
    page.open(file)
    page.ask(OPEN)
    (x0, y0), (x1, _) = _centre(page, designs[4]), _centre(page, designs[9])
    page.mouse("mousePressed", x0 - 1, y0 - 40)
    for x in (x0 + 12, x1 + 1):
        page.call("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y0 - 40, button="left",
                  buttons=1)  # fmt: skip
    page.mouse("mouseReleased", x1 + 1, y0 - 40)
    front = run_data.front
    margin = dict(zip(front["design"].tolist(), front["safety_margin"].tolist(), strict=True))
    low, high = sorted((margin[designs[4]], margin[designs[9]]))
    kept = {f"design-{each}" for each in designs if low <= margin[each] <= high}
    assert set(page.ask(SHOWN)) == kept
    dots = (
        "[...{}.querySelectorAll('[data-design]{}')].map(each => `design-${{each.dataset.design}}`)"
    )
    drawn, out = (set(page.ask(dots.format(CHART, which))) for which in ("", ".out"))
    assert out == drawn - kept
    assert f"{len(kept)} of {len(designs)} builds." in page.ask(
        "document.getElementById('brushed').textContent"
    )
    assert _pins(page) == []
    pick = front["design"][shown(run_data.study, front)["pick"]]
    dimmed = page.ask("[...document.querySelectorAll('g.out')].map(each => +each.dataset.of)")
    assert (int(pick) in dimmed) == (f"design-{pick}" not in kept)
    page.ask("document.querySelector('#brushed button').click()")
    assert page.ask("document.querySelectorAll('.out').length") == 0
    assert len(page.ask(SHOWN)) == len(designs)


def _fill(page: Page, label: str, end: str, text: str) -> None:
    page.ask(
        f"""(() => {{
          const of = [...document.querySelectorAll('#filters fieldset')]
            .find(each => each.querySelector('legend').innerText.startsWith({json.dumps(label)}));
          const input = of.querySelector('[data-end={end}]');
          input.value = {json.dumps(text)};
          input.dispatchEvent(new Event('input', {{bubbles: true}}));
        }})()"""
    )


def test_the_filter_keeps_what_lies_inside_and_the_download_follows(
    page: Page, file: Path, run_data: RunData
) -> None:
    page.open(file)
    page.ask(OPEN)
    page.ask("document.getElementById('filters').open = true")
    until(page, "document.querySelectorAll('#filters fieldset').length > 5")
    front = run_data.front
    middle = float(f"{sorted(front['electric_power'])[len(front['design']) // 2]:.4g}")
    _fill(page, "Electric power", "from", str(middle))
    _fill(page, "Governing mode", "words", "BEARING")
    wanted = (front["electric_power"] >= middle) & (front["governing_mode"] == "bearing limit")
    assert 0 < wanted.sum() < len(wanted)
    assert set(page.ask(SHOWN)) == {f"design-{each}" for each in front["design"][wanted]}
    assert f"{wanted.sum()} of {len(wanted)} builds" in page.ask(
        "document.getElementById('shown').textContent"
    )
    page.ask("URL.createObjectURL = blob => { window.saved = blob; return '#'; }; 0")
    page.ask("document.getElementById('download').click()")
    assert len(page.ask("window.saved.text()").splitlines()) == 1 + wanted.sum()
    page.ask("document.getElementById('clear').click()")
    _fill(page, "Turbine efficiency", "from", "10")  # in percent, as the table shows it
    some = {f"design-{each}" for each in front["design"][front["turbine_efficiency"] >= 0.1]}
    assert set(page.ask(SHOWN)) == some


def test_the_download_holds_the_front_and_no_formula(
    page: Page, tmp_path: Path, make_run: Callable[..., RunData]
) -> None:
    run = make_run(words={"governing_mode": '=HYPERLINK("x"),1'})
    path = tmp_path / "report.html"
    path.write_text(write_report(run), encoding="utf-8")
    page.open(path)
    page.ask("URL.createObjectURL = blob => { window.saved = blob; return '#'; }; 0")
    page.ask("document.getElementById('download').click()")
    lines = page.ask("window.saved.text()").splitlines()
    names = lines[0].replace('"', "").split(",")
    assert {"design", "electric_power_W", "gap_mm", "governing_mode"} <= set(names)
    assert len(lines) == 1 + len(run.front["design"])
    assert '"\'=HYPERLINK(""x""),1"' in lines[1]
    best = float(lines[1].split(",")[names.index("electric_power_W")])
    assert best == pytest.approx(run.front["electric_power"].max(), rel=1e-4)


@pytest.mark.parametrize(("ci", "outcome"), [("true", pytest.fail), ("", pytest.skip)])
def test_without_a_browser_a_user_skips_and_the_server_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ci: str, outcome: Any
) -> None:
    monkeypatch.setattr(browser, "BROWSER", None)
    monkeypatch.setenv("CI", ci)
    with pytest.raises(outcome.Exception, match="no Chromium found"):
        next(opened(tmp_path))
