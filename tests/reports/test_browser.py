"""The page of a run in a real browser: quiet, readable at every width, for everyone, on paper."""

import re
from collections.abc import Callable, Iterator
from importlib import resources
from pathlib import Path

import pytest

from reports.design.drawings.paper import A4
from reports.design.facts import BuildData
from reports.design.sheet import write_sheet
from reports.run.facts import RunData
from reports.run.page import write_report
from tests.support.browser import Page, opened

AXE = resources.files("axe_core_python") / "axe.min.js"
"""The rules of axe-core, Deque Systems, run inside the page."""
SCREENS = {(1400, 900): 4, (390, 844): 10}
"""Most screens that the page takes with its folds closed, by size of the screen."""
MOST_WORDS = 900
MOST_PAGES = 8


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    yield from opened(tmp_path_factory.mktemp("profile"))


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory, run_data: RunData) -> Path:
    return _write(tmp_path_factory.mktemp("report"), write_report(run_data))


def _write(folder: Path, text: str) -> Path:
    path = folder / "report.html"
    path.write_text(text, encoding="utf-8")
    return path


SHIFTED = """new Promise(done => {
  let sum = 0;
  new PerformanceObserver(list => list.getEntries().forEach(each => { sum += each.value; }))
    .observe({type: 'layout-shift', buffered: true});
  setTimeout(() => done(sum), 50);
})"""


@pytest.mark.parametrize("dark", [False, True])
def test_the_page_opens_quietly_and_asks_no_network(page: Page, file: Path, dark: bool) -> None:
    page.open(file, dark=dark)
    assert page.complaints() == []
    assert page.requests() == [file.as_uri()]
    assert page.ask("performance.getEntriesByName('interactive').length") == 1
    assert page.ask(SHIFTED) == 0


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_the_first_screen_answers_and_the_page_is_short(
    page: Page, file: Path, width: int, height: int
) -> None:
    page.open(file, width=width, height=height)
    low = page.ask(
        "Object.fromEntries(['h1', '.lead', '.four', '.musts'].map(each => "
        "[each, document.querySelector(each).getBoundingClientRect().bottom]))"
    )
    assert all(bottom <= height for bottom in low.values()), low
    assert page.ask("document.querySelectorAll('.four li').length") == 4
    whole = page.ask("document.documentElement.scrollHeight")
    assert whole <= SCREENS[width, height] * height
    assert page.ask("document.body.innerText.split(/\\s+/).length") <= MOST_WORDS


@pytest.mark.parametrize("width", [320, 390, 768, 933, 1400])
def test_no_drawnmakes_the_page_scroll_sideways(page: Page, file: Path, width: int) -> None:
    page.open(file, width=width)
    page.ask("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    out = page.ask(
        "[...document.querySelectorAll('svg.drawn')].map(svg => svg.closest('.scroll') || svg)"
        ".filter(box => box.getBoundingClientRect().right >"
        " document.documentElement.clientWidth + 1).length"
    )
    assert out == 0


def test_every_chart_is_shown_once_at_every_width(page: Page, file: Path) -> None:
    for width in (390, 900, 1400):
        page.open(file, width=width)
        shown = page.ask(
            "[...document.querySelectorAll('.at-wide')].map(wide => {"
            " const all = [...wide.parentElement.children].filter("
            "each => /^at-/.test(each.className) && getComputedStyle(each).display !== 'none');"
            " return all.length; })"
        )
        assert len(shown) > 3
        assert set(shown) == {1}, width


def test_letters_of_charts_stay_readable_on_a_phone(page: Page, file: Path) -> None:
    page.open(file, width=390)
    page.ask("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    smallest = page.ask(
        "Math.min(...[...document.querySelectorAll('svg.drawn text')]"
        ".filter(text => text.getClientRects().length).map(text =>"
        " parseFloat(getComputedStyle(text).fontSize) * text.ownerSVGElement.getScreenCTM().a))"
    )
    assert smallest >= 6.5


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("width", "media"), [(1400, ""), (390, ""), (794, "print")])
def test_the_rules_of_accessibility_find_nothing(
    page: Page, file: Path, dark: bool, width: int, media: str
) -> None:
    page.open(file, dark=dark, width=width)
    page.ask("setPins(front.rows.slice(4, 6).map(row => row[0]))")
    page.ask("document.querySelectorAll('details').forEach(each => { each.open = true; })")
    # Three rows of the table stand for all: the rules look at each cell for a while.
    page.ask("drawTable(); entries.slice(3).forEach(each => each.row.remove())")
    if width == 1400 and not dark:
        page.ask("document.getElementById('see-all').checked = true")
    page.ask(AXE.read_text("utf-8") + "; 0")
    only = ", runOnly: ['color-contrast']" if dark else ""  # the scheme changes colours alone
    page.call("Emulation.setEmulatedMedia", media=media)
    try:
        found = page.ask(
            f"axe.run(document, {{resultTypes: ['violations']{only}}})"
            ".then(found => found.violations.map("
            "each => `${each.impact} ${each.id}: "
            "${each.nodes.map(node => node.html).slice(0, 3)}`))"
        )
    finally:
        page.call("Emulation.setEmulatedMedia", media="")
    assert found == [], "\n".join(found)


def test_paper_opens_the_folds_and_holds_no_control(page: Page, file: Path) -> None:
    page.open(file, dark=True)
    pages = re.findall(rb"/Type\s*/Page\b", page.paper())
    assert 2 <= len(pages) <= MOST_PAGES
    page.ask("dispatchEvent(new Event('beforeprint'))")
    page.call("Emulation.setEmulatedMedia", media="print")
    try:
        visible = "each => each.getClientRects().length > 0"
        controls = "[...document.querySelectorAll('input, select, button')]"
        assert page.ask(f"{controls}.filter({visible}).map(each => each.outerHTML)") == []
        assert page.ask("document.querySelectorAll('.fold[open]').length") == 8
        colour = page.ask("getComputedStyle(document.body).color")
        assert colour == "rgb(23, 33, 43)"
    finally:
        page.call("Emulation.setEmulatedMedia", media="")
        page.ask("dispatchEvent(new Event('afterprint'))")
    assert page.ask("document.querySelectorAll('.fold[open]').length") == 0


def test_the_switch_shows_one_build_or_all(page: Page, file: Path) -> None:
    page.open(file)
    page.ask("document.getElementById('speeds').open = true")
    sets = (
        "[...document.querySelectorAll('#speeds .set')].filter(each =>"
        " each.getClientRects().length).map(each => each.className)"
    )
    assert page.ask(sets) == ["set of-pick"]
    page.ask("document.getElementById('see-calmest').click()")
    assert page.ask(sets) == ["set of-calmest"]
    page.ask("document.getElementById('see-all').click()")
    assert page.ask(sets) == ["set of-pick", "set of-calmer", "set of-calmest"]


def test_hostile_text_runs_nothing(
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
    page.ask("document.getElementById('all').open = true; drawTable(); setPins([front.rows[0][0]])")
    assert attack in page.ask("document.getElementById('front-table').textContent")
    assert page.ask("window.hit") is None
    assert page.complaints() == []
    assert page.requests() == [file.as_uri()]


def test_the_policy_stops_a_script_that_got_in(page: Page, tmp_path: Path, file: Path) -> None:
    broken = file.read_text("utf-8").replace("<main>", "<main><script>window.hit = 1</script>")
    page.open(_write(tmp_path, broken))
    assert page.ask("window.hit") is None
    assert any("Content Security Policy" in text for text in page.complaints())


def test_without_scripts_build_charts_cautions_and_folds_are_there(page: Page, file: Path) -> None:
    page.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        page.open(file)
        text = page.ask("document.body.innerText")
        charts = page.ask(
            "[...document.querySelectorAll('svg')].filter(e => e.getClientRects().length).length"
        )
    finally:
        page.call("Emulation.setScriptExecutionDisabled", value=False)
    for words in ("Do not run it without", "an overspeed trip", "How close to failure"):
        assert words in text
    assert "Download as CSV" not in text
    assert charts >= 5


def test_a_page_without_feasible_design_opens_quietly(
    page: Page, tmp_path: Path, make_run: Callable[..., RunData]
) -> None:
    page.open(_write(tmp_path, write_report(make_run(limits={"safety_margin": {"min": 50}}))))
    assert page.complaints() == []
    assert "The closest builds" in page.ask("document.body.innerText")


@pytest.mark.parametrize("width", [703, 400])
def test_a_build_sheet_prints_in_true_scale_and_fits_a_phone(
    page: Page, tmp_path: Path, sheet_data: BuildData, width: int
) -> None:
    page.open(_write(tmp_path, str(write_sheet(sheet_data)["sheet.html"])), width=width)
    assert page.complaints() == []
    if width > 400:  # A4 less its margins, and a scroll bar; wider, it would be printed smaller
        page.call("Emulation.setEmulatedMedia", media="print")
        drawn = "document.querySelector('figure.sheet svg').getBoundingClientRect().width"
        assert page.ask(drawn) == pytest.approx(A4.width / 25.4 * 96, abs=0.5)
    assert page.ask("document.documentElement.scrollWidth") <= width
    page.call("Emulation.setEmulatedMedia", media="")
