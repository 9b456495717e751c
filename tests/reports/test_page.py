"""The page as text: whole without a network, safe with hostile words, the same every time."""

import base64
import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from engine.columns import COLUMNS
from reports.kit.quantities import bare, inline_label, number
from reports.run.facts import RunData, shown
from reports.run.listed import MOST_LISTED
from reports.run.page import write_report

MakeRun = Callable[..., RunData]

HOSTILE = "</script><script>alert(1)</script><!--<img src=x onerror=alert(1)> & 'x' \"y\" {{ 7*7 }}"
LARGEST_PAGE = 400e3
LARGEST_FRONT = 400


class Elements(HTMLParser):
    """Every element with its attributes and the text up to the next tag."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.inside = False
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        self.texts.append("")
        self.inside = True

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002  # as the base class has it
        self.inside = False

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.texts[-1] += data

    def of(self, tag: str) -> list[tuple[dict[str, str | None], str]]:
        both = zip(self.found, self.texts, strict=True)
        return [(attrs, text) for (found, attrs), text in both if found == tag]

    def data(self, name: str) -> Any:
        (text,) = [text for attrs, text in self.of("script") if attrs.get("id") == name]
        return json.loads(text)


@pytest.fixture(scope="module")
def page(run_data: RunData) -> str:
    return write_report(run_data)


@pytest.fixture(scope="module")
def elements(page: str) -> Elements:
    return Elements(page)


@pytest.fixture
def hostile(make_run: MakeRun) -> str:
    return write_report(
        make_run(
            title=HOSTILE[:120],
            study_text=HOSTILE,
            provenance={HOSTILE: HOSTILE},
            words={"governing_mode": HOSTILE, "validity": HOSTILE},
        )
    )


def test_the_page_refers_to_nothing_outside_itself(page: str, elements: Elements) -> None:
    assert not re.search(r"(https?|wss?|ftp):|url\(|@import", page)
    loading = {"src", "srcset", "href", "action", "data", "poster", "background", "ping"}
    loaded = [found for found in elements.found if loading & set(found[1])]
    places = {found[1]["id"] for found in elements.found if "id" in found[1]}
    links = [given["href"] for tag, given in loaded if tag == "a"]
    assert len(loaded) == len(links) > 1
    assert all(link and link[0] == "#" and link[1:] in places for link in links)
    assert not elements.of("link")


def test_the_policy_allows_the_scripts_of_the_page_and_no_network(elements: Elements) -> None:
    (policy,) = [
        attrs["content"] or ""
        for attrs, _ in elements.of("meta")
        if attrs.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    run = [text for attrs, text in elements.of("script") if "type" not in attrs]
    hashes = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in run]
    assert rules["default-src"] == "'none'"
    assert rules["script-src"].split() == [f"'sha256-{each}'" for each in hashes]
    assert not {"connect-src", "font-src", "frame-src"} & set(rules)
    assert rules["img-src"] == "data: blob:"


def test_text_of_the_study_stays_text(hostile: str) -> None:
    elements = Elements(hostile)
    assert len(elements.of("script")) == 2
    assert not elements.of("img")
    ((_, title),) = elements.of("title")
    assert title == HOSTILE[:120]
    ((_, study),) = elements.of("pre")
    assert study == HOSTILE
    assert "alert(1)" in hostile
    assert not re.search(r"<(script|img)[^>]*>\s*alert", hostile)


def test_words_inside_the_data_of_the_page_come_out_unchanged(hostile: str) -> None:
    elements = Elements(hostile)
    front = elements.data("front-data")
    place = front["names"].index("governing_mode")
    assert front["columns"][place] == {"kinds": [HOSTILE], "of": 0}
    for attrs, text in elements.of("script"):
        if "type" in attrs:
            assert not re.search(r"[<>&\u2028\u2029]", text)


def test_the_same_run_gives_the_same_page(run_data: RunData, page: str) -> None:
    assert write_report(run_data) == page


def test_the_page_of_a_night_of_designs_stays_small(make_run: MakeRun) -> None:
    run = make_run(n_designs=20_000)
    times = -(-LARGEST_FRONT // len(run.front["design"]))
    front = {key: np.tile(column, times) for key, column in run.front.items()}
    n_front = len(front["design"])
    off = np.random.default_rng(1).uniform(0.8, 1.25, (len(front), n_front))
    numbers = (key for key in front if np.issubdtype(front[key].dtype, np.floating))
    front |= {key: front[key] * off[row] for row, key in enumerate(numbers)}
    page = write_report(replace(run, front=front | {"design": 10_000 + np.arange(n_front)}))
    assert len(page.encode()) < LARGEST_PAGE
    # Every design listed is a dot, at both widths; a few lie on others where it is narrow.
    dots = re.findall(r'<(?:circle|path)[^>]* data-design="(\d+)"', page)
    assert 1.8 * MOST_LISTED < len(dots) <= 2 * MOST_LISTED
    listed = Elements(page).data("front-data")["columns"][0]["all"]
    assert len(listed) == MOST_LISTED
    assert set(map(int, dots)) <= set(listed)
    assert f"Of {n_front} builds this table and the chart above show {MOST_LISTED}" in page


def test_headings_descend_without_a_gap(elements: Elements) -> None:
    levels = [int(tag[1]) for tag, _ in elements.found if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_tables_have_captions_and_every_head_a_scope(elements: Elements) -> None:
    assert len(elements.of("table")) == len(elements.of("caption")) > 5
    assert all(attrs.get("scope") for attrs, _ in elements.of("th"))
    (language,) = [attrs.get("lang") for attrs, _ in elements.of("html")]
    assert language == "en"


def test_labels_point_at_what_is_there_and_no_name_is_used_twice(elements: Elements) -> None:
    names = [attrs["id"] for _, attrs in elements.found if "id" in attrs]
    assert len(names) == len(set(names))
    pointed = {
        attrs["aria-labelledby"] for _, attrs in elements.found if "aria-labelledby" in attrs
    }
    assert pointed <= set(names)


def test_every_chart_has_words_for_those_who_cannot_see_it(elements: Elements) -> None:
    charts = [attrs for tag, attrs in elements.found if tag == "svg"]
    assert len(charts) > 20
    spoken = [attrs for attrs in charts if attrs.get("aria-hidden") != "true"]
    assert all(attrs.get("role") in ("img", "group") for attrs in spoken)
    assert all(len(attrs["aria-label"] or "") > 20 for attrs in spoken)


def test_folds_are_closed_and_hold_every_section(elements: Elements) -> None:
    folds = [attrs for attrs, _ in elements.of("details") if "fold" in (attrs["class"] or "")]
    assert [attrs["id"] for attrs in folds] == [
        "care", "room", "speeds", "gap", "bounds", "all", "trust", "cautions",
    ]  # fmt: skip
    assert not any("open" in attrs for attrs in folds)


def test_the_table_of_choice_has_twelve_rows_at_most(page: str) -> None:
    table = page[page.index('id="choice"') : page.index("</table>", page.index('id="choice"'))]
    assert 8 <= table.count("<tr>") - 1 <= 12


def test_every_failing_speed_of_a_candidate_is_listed(run_data: RunData, page: str) -> None:
    best = shown(run_data.study, run_data.front)["pick"]
    table = page[page.index("Failing speeds, in rpm") :]
    for key in ("yield_speed", "bearing_limit_speed", "rub_speed"):
        speed = float(run_data.front[key][best])
        cells = (
            f"<td>{bare(key, speed)}</td>",
            f"<td>{number(speed / run_data.front['speed'][best])}</td>",
        )
        row = table[table.index(COLUMNS[key].label) :].split("</tr>")[0]
        assert all(cell in row for cell in cells)


def test_a_run_without_feasible_design_has_limits_and_closest_designs_but_no_chart(
    make_run: MakeRun,
) -> None:
    run = make_run(limits={"safety_margin": {"min": 50}})
    page = write_report(run)
    elements = Elements(page)
    assert "None of the 600 builds meets every limit." in page
    assert "safety margin at least 50" in page
    assert not elements.of("svg")
    assert "The closest builds" in page
    assert "Do not run it without" in page


@pytest.mark.parametrize(
    "aims",
    [
        {"turbine_efficiency": "maximise", "safety_margin": "maximise"},
        {"mass_flow": "minimise", "electric_power": "maximise"},
        {"electric_power": "maximise", "mass_flow": "minimise", "safety_margin": "maximise"},
    ],
)
def test_the_axes_follow_the_first_two_aims(make_run: MakeRun, aims: dict[str, str]) -> None:
    page = write_report(make_run(aims=aims))
    first, second, *third = aims
    (front, _) = [
        attrs["aria-label"] or ""
        for attrs, _ in Elements(page).of("svg")
        if attrs.get("role") == "group"
    ]
    named = "first failure over" if second == "safety_margin" else inline_label(second)
    assert front.startswith(f"Chart of {inline_label(first)} against {named}")
    assert ("no other beats in every aim." in page) == bool(third)


def test_machine_numbers_that_are_searched_too_are_shown_and_drawn(make_run: MakeRun) -> None:
    run = make_run(
        ranges={
            "disc_thickness": {"choices": ["0.8 mm", "1 mm"]},
            "material": {"choices": ["brass", "stainless-304"]},
        },
        words={"material": "brass"},
        numbers={"disc_thickness": 1e-3},
    )
    elements = Elements(write_report(run))
    names = elements.data("front-data")["names"]
    assert {"disc_thickness_mm", "material"} <= set(names)
