"""Several runs on one page: facts checked by hand, words, and the command."""

import json
import math
import re
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.cli import main
from engine.run.folder import read_state
from engine.run.seals import sealed_text
from reports.compare.chart import LINES, fronts_chart
from reports.compare.facts import Comparison, compared, round_levels
from reports.compare.page import MARK, write_comparison
from reports.compare.wording import chart_note, verdict
from reports.kit.svg import failure
from reports.run.facts import RunData
from tests.support.told_runs import ONE, TWO, banded, run_with, study_text

MakeRun = Callable[..., RunData]
HOSTILE = "</script><script>alert(1)</script><img src=x onerror=alert(1)>"


@pytest.fixture
def two() -> Comparison:
    return compared([run_with(ONE, name="one"), run_with(TWO, name="two")])


def test_each_level_holds_the_best_power_of_every_front(two: Comparison) -> None:
    found = {reach.level: reach.values for reach in two.reaches}
    assert found[1.2] == (100.0, 90.0)
    assert found[2.0] == (80.0, 85.0)
    assert found[2.5] == (40.0, 60.0)
    assert found[4.0][1] == 10.0
    assert np.isnan(found[4.0][0])
    assert [reach.level for reach in two.reaches if reach.required] == [1.2]


def test_leads_change_where_the_stairs_cross(two: Comparison) -> None:
    told = [(lead.low, lead.high, lead.leader, lead.gain, lead.alone) for lead in two.leads]
    assert told == [
        (1.2, 1.5, 0, 10.0, False),
        (1.5, 3.0, 1, 20.0, False),
        (3.0, 4.0, 1, 0.0, True),
    ]
    assert two.leads[1].ratio == pytest.approx(0.5)


def test_volume_is_the_area_each_stair_covers_of_all(two: Comparison) -> None:
    # By hand, from the corner 10 W and 1.5: of the first (80-10)*0.5 + (40-10)*1.0,
    # of the second (85-10)*0.5 + (60-10)*1.0, of both together the larger at each level.
    assert dict(two.reference) == {"electric_power": 10.0, "safety_margin": 1.5}
    assert [side.volume for side in two.sides] == pytest.approx([65 / 87.5, 1.0])


def test_coverage_counts_designs_that_the_other_equals_or_beats(two: Comparison) -> None:
    assert two.coverage.tolist() == [[1.0, 0.25], [2 / 3, 1.0]]


def test_best_design_is_that_at_the_hardest_level_any_study_asks_for() -> None:
    strict = run_with(TWO, ("safety_margin: {min: 1.2}", "safety_margin: {min: 1.8}"))
    both = compared([run_with(ONE), strict])
    assert both.aims[1].required == 1.8
    assert [side.best["electric_power"] for side in both.sides if side.best] == [80.0, 85.0]


def test_an_aim_to_minimise_is_compared_downward() -> None:
    aims = ("electric_power: maximise\n  safety_margin: maximise",)
    change = (aims[0], "mass_flow: minimise\n  electric_power: maximise")
    runs = [run_with(ONE, change), run_with(TWO, change)]
    both = compared(
        [
            replace(run, front={**run.front, "mass_flow": np.array(flow)})
            for run, flow in zip(
                runs, ([5e-3, 4e-3, 3e-3], [6e-3, 4.5e-3, 2e-3, 1e-3]), strict=True
            )
        ]
    )
    assert not both.aims[0].maximise
    at = {round(reach.level): reach.values for reach in both.reaches}
    assert at[60] == pytest.approx((4e-3, 2e-3))
    assert "gives the least mass flow: 1.00" in " ".join(verdict(both))


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (1.2, 3.1, [1.5, 2, 2.5, 3]),
        (0, 60, [0, 10, 20, 30, 40, 50, 60]),
        (2, 2, []),
        (-3, 3, [-3, -2, -1, 0, 1, 2, 3]),
    ],
)
def test_levels_are_round(low: float, high: float, expected: list[float]) -> None:
    assert round_levels(low, high) == expected


def test_runs_without_feasible_design_have_a_page_too() -> None:
    one = compared([run_with(ONE), run_with([])])
    page = write_comparison(one)
    assert "Run 2 has no design that meets every limit" in page
    assert "Run 2 has no design there." in page
    none = write_comparison(compared([run_with([]), run_with([])]))
    assert "None of these runs has found a design" in none
    assert "<svg" not in none
    assert "<script" not in none


def test_three_aims_are_measured_in_three_and_drawn_in_two() -> None:
    third = ("  safety_margin: maximise", "  safety_margin: maximise\n  mass_flow: minimise")
    points = [*ONE, (70.0, 1.9)]  # beaten in the first two aims, kept for its flow
    runs = [run_with(points, third), run_with(TWO, third)]
    runs[0] = replace(
        runs[0], front={**runs[0].front, "mass_flow": np.array([7e-3, 7e-3, 7e-3, 1e-3])}
    )
    both = compared(runs)
    assert list(both.judged) == ["electric_power", "safety_margin", "mass_flow"]
    assert len(both.sides[0].reached["design"]) == 3
    assert both.coverage[1, 0] == 2 / 4
    assert "best only by a third aim are not shown" in write_comparison(both)


def test_eight_runs_differ_in_their_line_and_carry_their_names() -> None:
    runs = [run_with([(p + 9 * k, m) for p, m in ONE], name=f"bench{k}") for k in range(8)]
    assert len(set(LINES)) == len(LINES) == 8
    wide, *_, narrow = drawings(fronts_chart(compared(runs)))
    for drawing in (wide, narrow):
        assert [line for line in LINES if f'class="curve {line}"' not in drawing] == []
    bold = re.findall(r'<text class="halo b"[^>]*>([^<]*)</text>', wide)
    assert bold == [f"{k + 1} bench{k}" for k in range(8)]
    assert re.findall(r'<text class="halo b"[^>]*>([^<]*)</text>', narrow) == list("12345678")


def drawings(chart: str) -> list[str]:
    return re.findall(r"<svg.*?</svg>", chart, flags=re.DOTALL)


def test_a_label_stands_by_its_own_line_or_leads_back_to_it() -> None:
    # Ten designs each, a watt apart: any label is nearer to the uppermost line than to its own.
    bundle = [(200.0 * 0.8**n, 1.2 * 1.25**n) for n in range(10)]
    runs = [run_with([(p + 2 * k, m) for p, m in bundle], name=f"bench{k}") for k in range(4)]
    # And one that leaves the others at its end: its label stands there.
    runs += [run_with([*bundle[:5], (190.0, 4.0), (180.0, 9.0)][4:], name="away")]
    for chart in drawings(fronts_chart(compared(runs))):
        size = float(re.findall(r'font-size="([\d.]+)"', chart)[0])
        lines = [way(d) for d in re.findall(r'<path class="curve [^"]*"[^>]* d="([^"]+)"', chart)]
        named = re.findall(r'<text class="halo b" x="([\d.]+)" y="([\d.]+)">([^<]*)', chart)
        leads = [way(d) for d in re.findall(r'<path class="leader" d="([^"]+)"', chart)]
        assert [words[0] for _, _, words in named] == list("12345")
        for (left, down, words), own in zip(named, lines, strict=True):
            x, y = float(left), float(down)
            wide = len(words) * size * 0.6
            box = np.array([x, y - size, x + wide, y + 0.3 * size])
            nearest = min(lines, key=lambda line: off(box, line))
            led = [lead for lead in leads if off(box, lead[-1:]) < 3]
            if led:  # from a design of its own
                starts = [off(np.array([*each[0], *each[0]]), own) for each in led]
                assert min(starts) < 2.5, words
            else:
                assert nearest is own, words
        assert leads


def way(d: str) -> list[tuple[float, float]]:
    """Points along a path of straight pieces, close together."""
    corners = list[tuple[float, float]]()
    for kind, given in re.findall("([MLHV])([^MLHV]+)", d):
        first, last = float(given.split()[0]), float(given.split()[-1])
        if kind in "ML":
            corners.append((first, last))
        else:
            corners.append((first, corners[-1][1]) if kind == "H" else (corners[-1][0], first))
    found = corners[:1]
    for (x1, y1), (x2, y2) in pairwise(corners):
        shares = np.linspace(0, 1, 1 + math.ceil(math.hypot(x2 - x1, y2 - y1)))[1:]
        found += [(x1 + (x2 - x1) * s, y1 + (y2 - y1) * s) for s in shares.tolist()]
    return found


def off(box: NDArray[np.float64], points: Sequence[tuple[float, float]]) -> float:
    """Distance from a box (left, top, right, bottom) to the nearest of some points."""
    x, y = np.array(points).T
    across = np.maximum(np.maximum(box[0] - x, x - box[2]), 0)
    down = np.maximum(np.maximum(box[1] - y, y - box[3]), 0)
    return float(np.hypot(across, down).min())


def test_a_mark_says_what_fails_first_and_bands_stand_upright_on_it() -> None:
    run = run_with(ONE)
    modes = np.array(["bearing limit", "yield", "standing wave"])
    run = banded(replace(run, front={**run.front, "governing_mode": modes}), 0.1)
    both = compared([run, run_with(TWO, name="two")])
    wide, *_ = drawings(fronts_chart(both))
    for mode in modes.tolist():
        shape, words = failure(mode)
        assert words in wide
        assert shape in {"disc", "ring", "diamond"}
    assert wide.count("data-says") == len(ONE) + len(TWO)
    uprights = re.findall(r'class="leader" d="M[\d.]+ [\d.]+V', wide)
    assert len(uprights) == len(ONE)
    assert "what eight builds in ten give" in chart_note(both)
    assert "what eight builds in ten" not in chart_note(compared([run_with(ONE), run_with(TWO)]))


def test_hostile_text_stays_text() -> None:
    runs = [run_with(ONE, ("A bench to compare", HOSTILE[:100].replace('"', "")), name=HOSTILE)] * 2
    page = write_comparison(compared(runs))
    assert page.count("<script") == 1
    assert "<img" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_the_page_refers_to_nothing_outside_itself_and_is_the_same_every_time(
    two: Comparison,
) -> None:
    page = write_comparison(two)
    assert not re.search(r"(https?|wss?|ftp):|url\(|@import|src=|href=\"[^#]", page)
    assert len(page.encode()) < 100_000
    assert page == write_comparison(two)
    assert f'content="{MARK}"' in page


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("finished")
    for name, pressure in (("one", "6 bar gauge"), ("two", "5 bar gauge")):
        text = study_text(("designs: 20000", "designs: 300"), ("6 bar gauge", pressure))
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
        assert main(["run", str(folder / f"{name}.yaml"), "--into", str(folder / name)]) == 0
    return folder


@pytest.fixture
def here(finished: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(finished, tmp_path / "own")
    monkeypatch.chdir(tmp_path / "own")
    return tmp_path / "own"


def test_the_command_writes_one_page_here_and_sums_it_up(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", "one", "two"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "The supplies differ (pressure)" in told
    assert "Read compare.html" in told
    assert "Pressure" in (here / "compare.html").read_text("utf-8")
    assert main(["compare", "two", "one"]) == 0  # over its own page


def test_a_file_of_another_is_not_written_over(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "compare.html").write_text("a letter", encoding="utf-8")
    assert main(["compare", "one", "two"]) == 2
    assert "is there already and was not made by this command" in capsys.readouterr().err
    assert (here / "compare.html").read_text("utf-8") == "a letter"
    assert main(["compare", "one", "two", "--output", "other.html"]) == 0
    assert main(["compare", "one", "two", "--output", str(here / "one")]) == 2
    assert "is a folder" in capsys.readouterr().err


def test_too_few_runs_and_no_run_end_with_2_and_4(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", "one", "../own/one"]) == 2
    assert "1 different run; expected 2 to 8" in capsys.readouterr().err
    assert main(["compare", "one", str(here)]) == 4
    assert "is not a run folder" in capsys.readouterr().err


def test_folders_of_one_name_are_told_apart(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(here / "one", here / "more" / "one")
    assert main(["compare", "one", "more/one"]) == 0
    page = (here / "compare.html").read_text("utf-8")
    assert "more/one" in page
    assert "own/one" in page


def test_a_run_that_goes_on_is_compared_by_what_it_has_stored(here: Path) -> None:
    going = (here / "two" / "run.json").read_text("utf-8").replace('"done"', '"running"')
    going = sealed_text(json.loads(going))
    (here / "two" / "run.json").write_text(going, encoding="utf-8")
    (here / "two" / "front.parquet").unlink()
    assert read_state(here / "two")[1].state == "running"
    before = {path: path.stat().st_mtime_ns for path in (here / "two").rglob("*")}
    assert main(["compare", "one", "two"]) == 0
    page = (here / "compare.html").read_text("utf-8")
    assert "Run 2 is unfinished" in page
    assert {path: path.stat().st_mtime_ns for path in (here / "two").rglob("*")} == before
