"""The page in a real browser."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reports.design.facts import BuildData
from reports.design.sheet import write_sheet
from reports.kit import charts
from reports.run.facts import RunData
from reports.run.page import write_report
from tests.support.browser import Page, opened, rgb, until


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
    until(page, f"{drawn}.every(each => each)")
    assert len(page.ask(drawn)) > 30
    assert page.complaints() == []


@pytest.mark.parametrize("width", [320, 375, 768, 1400])
def test_no_width_makes_the_page_scroll_sideways(page: Page, file: Path, width: int) -> None:
    page.open(file, width=width)
    assert page.ask("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert page.ask(
        "[...document.querySelectorAll('.chart svg')].every(svg =>"
        " svg.getBoundingClientRect().right <= document.documentElement.clientWidth)"
    )


def test_on_a_phone_captions_stay_in_sight_though_their_tables_scroll(
    page: Page, file: Path
) -> None:
    page.open(file, width=390)
    assert page.ask("document.querySelectorAll('.scroll caption:not(.unseen)').length") > 3
    ends = """[...document.querySelectorAll('.scroll')].flatMap(box => {
      box.scrollLeft = 120;
      return [...box.querySelectorAll('caption:not(.unseen)')].map(caption => {
        const range = document.createRange();
        range.selectNodeContents(caption);
        const {left, right} = range.getBoundingClientRect();
        return [caption.textContent.slice(0, 40), left, right];
      });
    })"""
    out = [end for end in page.ask(ends) if end[1] < 0 or end[2] > 390]
    assert out == []


def test_a_touched_dot_shows_its_build(page: Page, file: Path) -> None:
    page.open(file)
    page.mouse("mouseMoved", *page.ask(FIRST_DOT))
    shown = until(page, "document.querySelector('[data-chart=front] .hoverlayer').textContent")
    for words in ("Design", "Electric power:", "Disc diameter:", "Turbine efficiency:"):
        assert words in shown


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


XTITLE = "getComputedStyle(document.querySelector('.xtitle')).fill"


def test_charts_follow_a_change_to_dark(page: Page, file: Path) -> None:
    page.open(file)
    assert page.ask(XTITLE) == rgb(charts.INK)
    dark = [{"name": "prefers-color-scheme", "value": "dark"}]
    page.call("Emulation.setEmulatedMedia", features=dark)
    assert until(page, f"{XTITLE} !== '{rgb(charts.INK)}' && {XTITLE}") == rgb(
        charts.DARK[charts.INK]
    )


READ_TAKES_THE_EVENT = """
const scheme = {dark: false, known: false, tell: null};
window.matchMedia = (query) => query.includes('color-scheme') ? {
  get matches() { scheme.known = scheme.dark; return scheme.dark; },
  addEventListener: (_, listener) => { scheme.tell = listener; },
} : {matches: false};
"""
"""As the browser has it: who reads a query after a change gets no event of that change."""


def test_a_chart_drawn_between_a_change_and_its_event_does_not_hide_it(
    page: Page, file: Path
) -> None:
    script = page.call("Page.addScriptToEvaluateOnNewDocument", source=READ_TAKES_THE_EVENT)
    try:
        page.open(file)
        page.ask(
            "scheme.dark = true; drawBox(boxes.at(-1));"
            "if (scheme.known !== scheme.dark) scheme.tell({matches: true}); 0"
        )
        assert page.ask(XTITLE) == rgb(charts.DARK[charts.INK])
    finally:
        page.call("Page.removeScriptToEvaluateOnNewDocument", identifier=script["identifier"])


def test_paper_is_light_and_holds_whole_charts(page: Page, file: Path) -> None:
    page.open(file, dark=True)
    assert page.paper().startswith(b"%PDF")
    page.ask("drawForPaper(true)")
    title = "getComputedStyle(document.querySelector('.xtitle')).fill"
    assert page.ask(title) == rgb(charts.INK)
    widest = page.ask(
        "Math.max(...[...document.querySelectorAll('.chart svg')].map("
        "svg => svg.getBoundingClientRect().right))"
    )
    assert widest <= 182 / 25.4 * 96 + 1


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
    page.mouse("mouseMoved", *page.ask(FIRST_DOT))
    shown = until(page, "document.querySelector('[data-chart=front] .hoverlayer').textContent")
    assert attack in shown
    page.ask("pin(front.rows.slice(0, 2).map(row => row[0]))")
    assert attack in page.ask("document.getElementById('pin-table').textContent")
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
