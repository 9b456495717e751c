"""Choosing in the page, in a real browser: pins, filter, map, and eyes and hands of every kind."""

import json
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from reports.run.facts import RunData
from reports.run.page import write_report
from tests.support import browser
from tests.support.browser import Page, opened, until

AXE = resources.files("axe_core_python") / "axe.min.js"
"""The rules of axe-core, Deque Systems, run inside the page."""
ROWS = "[...document.querySelectorAll('#front-table tbody tr')]"
SHOWN = f"{ROWS}.filter(row => !row.hidden).map(row => row.id)"
HEADS = "[...document.querySelectorAll('#pin-table thead th')].map(head => head.innerText)"
RINGS = "document.querySelector('[data-chart=front]').data.at(-1).text"


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


def _click(page: Page, place: int) -> int:
    """Click a dot of the first mode's trace; give its design."""
    until(page, "waiting.length === 0")
    x, y, design = page.ask(
        f"""(() => {{
          const box = document.querySelector('[data-chart=front]');
          box.scrollIntoView({{block: 'center'}});
          const trace = box.querySelectorAll('.scatterlayer .trace')[2];
          const dot = trace.querySelectorAll('.point')[{place}];
          const at = dot.getBoundingClientRect();
          return [at.x + at.width / 2, at.y + at.height / 2, +box.data[2].customdata[{place}][0]];
        }})()"""
    )
    # The drawing library takes two clicks in a short time for a double one.
    page.ask("new Promise(done => setTimeout(done, 2 * boxes[0]._context.doubleClickDelay))")
    for kind in ("mouseMoved", "mousePressed", "mouseReleased"):
        page.mouse(kind, x, y)
    return int(design)


def test_clicked_dots_are_shown_side_by_side_and_can_be_unpinned(page: Page, file: Path) -> None:
    page.open(file)
    first = _click(page, 0)
    until(page, f"document.querySelector('#design-{first}').classList.contains('found')")
    second = _click(page, 1)
    heads = until(page, f"({HEADS}).length === 2 && {HEADS}")
    assert [str(first) in heads[0], str(second) in heads[1]] == [True, True]
    assert page.ask(RINGS) == [f"<b>{first}</b>", f"<b>{second}</b>"]
    _click(page, 0)
    heads = until(page, f"({HEADS}).length === 1 && {HEADS}")
    assert str(second) in heads[0]
    assert page.complaints() == []


def test_a_pinned_build_shows_the_numbers_of_its_row_and_its_losses(
    page: Page, file: Path, designs: list[int], run_data: RunData
) -> None:
    page.open(file, part=_pinned([designs[1]]))
    row = run_data.front["design"].tolist().index(designs[1])
    cells = page.ask(
        "Object.fromEntries([...document.querySelectorAll('#pin-table tr[data-key]')]"
        ".map(row => [row.dataset.key, row.cells[1].firstChild.textContent]))"
    )
    assert float(cells["electric_power"]) == pytest.approx(
        run_data.front["electric_power"][row], rel=5e-3
    )
    assert float(cells["gap"]) == pytest.approx(run_data.front["gap"][row] * 1e3)
    assert float(cells["loss_nozzle"]) == pytest.approx(
        run_data.front["loss_nozzle"][row], rel=5e-3
    )


def _pinned(designs: list[int]) -> str:
    return f"pins={','.join(map(str, designs))}"


def test_the_address_keeps_the_pins_and_knows_no_foreign_ones(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file, part=_pinned([designs[2], 10**7, designs[0], designs[2]]))
    heads = page.ask(HEADS)
    assert [str(designs[2]) in heads[0], str(designs[0]) in heads[1]] == [True, True]
    assert len(heads) == 2
    page.ask("document.getElementById('unpin').click()")
    assert page.ask("location.hash") == ""
    assert page.ask("document.getElementById('pin-region').hidden")
    page.ask(f"document.querySelector('#design-{designs[3]} input').click()")
    assert page.ask("location.hash") == f"#pins={designs[3]}"
    page.ask(f"location.hash = '#pins={designs[4]}'")
    until(page, f"({HEADS})[0].includes('{designs[4]}')")


def test_going_to_a_section_keeps_the_pins_in_the_address(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file, part=_pinned([designs[0]]))
    page.ask("document.querySelector('.contents a[href=\"#losses\"]').click()")
    assert page.ask("location.hash") == f"#{_pinned([designs[0]])}"
    assert page.ask("document.activeElement.id") == "losses"
    assert page.ask("scrollY") > 0
    assert len(page.ask(HEADS)) == 1


def test_pins_are_set_and_taken_with_the_keyboard_alone(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file, part=_pinned([]))
    page.ask(f"document.querySelector('#design-{designs[0]} input').focus()")
    page.press(" ")
    page.press("Tab")
    page.press(" ")
    until(page, f"({HEADS}).length === 2")
    assert page.ask("document.getElementById('pin-status').textContent") == (
        f"Pinned: {designs[0]}, {designs[1]}."
    )
    page.ask("document.querySelector('#pin-table thead button').focus()")
    page.press("Enter")
    until(page, f"({HEADS}).length === 1")
    assert page.ask("document.activeElement !== document.body")


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
    page.ask("document.getElementById('filters').open = true")
    front = run_data.front
    middle = float(f"{sorted(front['electric_power'])[len(front['design']) // 2]:.4g}")
    _fill(page, "Electric power", "from", str(middle))
    _fill(page, "Governing mode", "words", "BEARING")
    wanted = (front["electric_power"] >= middle) & (front["governing_mode"] == "bearing limit")
    assert 0 < wanted.sum() < len(wanted)
    assert set(page.ask(SHOWN)) == {f"design-{each}" for each in front["design"][wanted]}
    assert f"{wanted.sum()} of {len(wanted)} designs" in page.ask(
        "document.getElementById('shown').textContent"
    )
    page.ask("URL.createObjectURL = blob => { window.saved = blob; return '#'; }; 0")
    page.ask("document.getElementById('download').click()")
    lines = page.ask("window.saved.text()").splitlines()
    assert len(lines) == 1 + wanted.sum()
    faint = page.ask(
        "document.querySelector('[data-chart=front]').data.filter(trace => trace.customdata)"
        ".flatMap(trace => trace.marker.opacity).filter(each => each < 1).length"
    )
    assert faint == len(wanted) - wanted.sum()
    page.ask("document.getElementById('clear').click()")
    assert len(page.ask(SHOWN)) == len(wanted)


def test_the_map_shows_the_chosen_pair_and_swaps_axes(page: Page, file: Path) -> None:
    page.open(file)
    chart = "document.querySelector('[data-chart=map]')"
    until(page, f"!!{chart}.querySelector('.hm')")
    choose = (
        "(id, label) => { const of = document.getElementById(id);"
        " of.value = [...of.options].find(each => each.text === label).value;"
        " of.dispatchEvent(new Event('change', {bubbles: true})); }"
    )
    page.ask(f"({choose})('map-across', 'Gap')")
    until(page, f"{chart}.layout.xaxis.title.text === 'Gap [mm]'")
    upright = page.ask(f"{chart}.data[0].z")
    assert [len(upright), len(upright[0])] == page.ask(
        f"[{chart}.data[0].y.length, {chart}.data[0].x.length]"
    )
    page.ask(f"({choose})('map-up', 'Gap')")  # takes the place of what stood across
    until(page, f"{chart}.layout.yaxis.title.text === 'Gap [mm]'")
    assert page.ask(f"{chart}.layout.xaxis.title.text") == "Disc diameter [mm]"
    turned = page.ask(f"{chart}.data[0].z")
    assert [list(row) for row in zip(*turned, strict=True)] == upright
    assert page.complaints() == []


@pytest.mark.parametrize(("width", "dark"), [(1400, False), (390, True)])
def test_the_rules_of_accessibility_find_nothing(
    page: Page, file: Path, designs: list[int], width: int, dark: bool
) -> None:
    page.open(file, dark=dark, width=width, part=_pinned(designs[:2]))
    page.ask("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    until(page, "waiting.length === 0")
    page.ask(AXE.read_text("utf-8") + "; 0")
    found = page.ask(
        "axe.run(document, {resultTypes: ['violations']}).then(found => found.violations.map("
        "each => `${each.impact} ${each.id}: ${each.nodes.map(node => node.html).slice(0, 3)}`))"
    )
    assert found == [], "\n".join(found)


def test_a_zoom_of_150_percent_scrolls_no_page_sideways(page: Page, file: Path) -> None:
    page.open(file, width=round(1400 / 1.5), height=600)
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_paper_holds_pinned_builds_and_no_control(
    page: Page, file: Path, designs: list[int]
) -> None:
    page.open(file, part=_pinned(designs[:3]))
    page.ask("drawForPaper(true)")
    page.call("Emulation.setEmulatedMedia", media="print")
    try:
        visible = "each => each.getClientRects().length > 0"
        assert page.ask(f"[...document.querySelectorAll('input, select, button')].filter({visible})"
                        ".map(each => each.outerHTML)") == []  # fmt: skip
        assert page.ask("document.getElementById('pin-region').getClientRects().length") == 1
        width = page.ask("document.getElementById('pin-table').getBoundingClientRect().right")
        assert width <= 182 / 25.4 * 96 + 1
    finally:
        page.call("Emulation.setEmulatedMedia", media="")


@pytest.mark.parametrize(("ci", "outcome"), [("true", pytest.fail), ("", pytest.skip)])
def test_without_a_browser_a_user_skips_and_the_server_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ci: str, outcome: Any
) -> None:
    monkeypatch.setattr(browser, "BROWSER", None)
    monkeypatch.setenv("CI", ci)
    with pytest.raises(outcome.Exception, match="no Chromium found"):
        next(opened(tmp_path))
