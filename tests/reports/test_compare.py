"""Several runs on one page: facts checked by hand, words, and the command."""

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.cli import main
from engine.run.folder import read_state
from engine.run.seals import sealed_text
from engine.study.fit import Fit
from engine.study.reader import parse_study, read_study, starter_text
from reports.compare.chart import LINES, fronts_chart
from reports.compare.differences import differences
from reports.compare.facts import Comparison, RunOfMany, compared, round_levels
from reports.compare.page import MARK, write_comparison
from reports.compare.wording import chart_note, verdict, warnings
from reports.kit.quantities import THIN
from reports.kit.svg import failure
from reports.run.facts import RunData
from reports.run.search_facts import Table
from tests.support.places import STUDIES

MakeRun = Callable[..., RunData]
HOSTILE = "</script><script>alert(1)</script><img src=x onerror=alert(1)>"


def study_text(*changes: tuple[str, str]) -> str:
    text = starter_text("A bench to compare")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def run_with(
    points: list[tuple[float, float]], *changes: tuple[str, str], **told: Any
) -> RunOfMany:
    """A run whose front has these powers [W] and margins, and only what every front has."""
    study = parse_study(study_text(*changes), "told.yaml")
    power, margin = np.array(points or np.empty((0, 2))).T
    front: Table = {
        "design": np.arange(1.0, len(points) + 1),
        "electric_power": power,
        "safety_margin": margin,
        "mass_flow": np.full(len(points), 7e-3),
        "supply_efficiency": power / 2500,
        "governing_mode": np.full(len(points), "yield"),
        **{key: np.full(len(points), float(v.lowest)) for key, v in study.searched().items()},
    }
    usual = {"state": "done", "designs": 1000, "budget": 1000, "model_version": 3}
    return RunOfMany(
        **{"name": "told", "study": study, "study_hash": "5d2c", **usual, **told},
        front=front if points else {},
    )


ONE = [(100.0, 1.5), (80.0, 2.0), (40.0, 3.0)]
TWO = [(90.0, 1.5), (85.0, 2.0), (60.0, 3.0), (10.0, 4.0)]


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


def test_only_what_differs_is_listed_in_drawing_units_with_usual_values() -> None:
    first = parse_study(study_text(), "first.yaml")
    second = parse_study(
        study_text(
            ("pressure: 6 bar gauge", "pressure: 5 bar gauge\n  back_pressure: 0.2 bar gauge"),
            ("  disc_thickness: 1 mm\n", ""),
            ("  nozzle_width: 0.3 mm  ", "  rim_mixing: 90 %  "),
            ("gap: {", "nozzle_width: {choices: [0.2 mm, 0.3 mm]}\n  gap: {"),
            ("speed: {min: 4000 rpm", "speed: {min: 5000 rpm"),
            ("stress_margin: {min: 1.5}", "exhaust_mach: {max: 0.4}"),
            ("seed: 1 ", "seed: 2 "),
        ),
        "second.yaml",
    )  # fmt: skip
    found = {
        (each.section, each.key): tuple(value.replace(THIN, " ") for value in each.values)
        for each in differences([first, second])
    }
    assert found == {
        ("supply", "pressure"): ("6 bar gauge", "5 bar gauge"),
        ("supply", "back_pressure"): ("not stated (usual value 0 bar gauge)", "0.2 bar gauge"),
        ("build", "nozzle_width"): ("0.3 mm", "0.2 mm, 0.3 mm"),
        ("build", "rim_mixing"): ("not stated (usual value 0.95)", "0.9"),
        ("build", "speed"): (
            "4 000 rpm to 30 000 rpm in steps of 500 rpm",
            "5 000 rpm to 30 000 rpm in steps of 500 rpm",
        ),
        ("limits", "stress_margin"): ("at least 1.5", "no limit"),
        ("limits", "exhaust_mach"): ("no limit", "at most 0.4"),
        ("search", "seed"): ("1", "2"),
    }


def test_a_flow_differs_in_what_the_meter_of_the_supply_shows() -> None:
    # Free air at 1 bar and 20 °C (ISO 1217): 500 l/min times 1.1884 kg/m³ are 9.90 g/s.
    studies = [
        parse_study(
            study_text(("available_flow: 400 l/min", f"available_flow: {flow}")), "told.yaml"
        )
        for flow in ("600 l/min", "500 l/min")
    ]
    (found,) = differences(studies)
    assert [value.replace(THIN, " ") for value in found.values] == [
        "600 l/min of free air (11.9 g/s)",
        "500 l/min of free air (9.90 g/s)",
    ]


def test_a_vapour_has_absolute_pressures_and_loads_are_told_in_short() -> None:
    boiler, shop = (
        read_study(STUDIES / f"{name}.yaml") for name in ("orchard-boiler", "lane-workshop")
    )
    found = {each.key: each.values for each in differences([boiler, shop])}
    assert found["pressure"][0].endswith("bar absolute")
    assert found["pressure"][1].replace(THIN, " ") == "6 bar gauge"
    assert found["available_flow"][0].endswith("g/s")
    assert (
        found["appliances"][1] == "led-lamp count 4, laptop, bench-fan needed no, radio needed no"
    )


def test_a_price_of_the_build_differs_and_is_no_dimension_of_it() -> None:
    priced = ("disc_thickness: 1 mm", "disc_thickness: 1 mm\n  build_cost: 900 EUR")
    both = compared([run_with(ONE), run_with(ONE, priced)])
    (cost,) = (each for each in both.differences if each.key == "build_cost")
    assert cost.values[0] == "not stated"
    assert "900" in cost.values[1]
    assert both.builds == ()


def banded(run: RunOfMany, share: float) -> RunOfMany:
    """The same with a band of the power: eight builds in ten within this share of it."""
    power = run.front["electric_power"]
    ends = {"p10": (1 - share) * power, "p90": (1 + share) * power}
    bands = {f"electric_power_{part}": end for part, end in ends.items()}
    return replace(run, front={**run.front, **bands})


def test_a_lead_inside_the_bands_is_even_and_one_beyond_them_is_not() -> None:
    # 100 W less 8 % and 90 W plus 8 %: sqrt(8.0² + 7.2²) = 10.8 W, more than the lead of 10 W;
    # with 7 %: sqrt(7.0² + 6.3²) = 9.4 W, less than it.
    wide, close = (
        compared([banded(run_with(ONE), share), banded(run_with(TWO), share)])
        for share in (0.08, 0.07)
    )
    assert [side.even for side in wide.sides] == [True, True]
    assert [side.even for side in close.sides] == [True, False]
    assert wide.leads[0].leader is None
    assert close.leads[0].leader == 0
    told = verdict(wide)
    assert "run 1 and run 2 are even in electric power: 100 W" in told[1].replace(THIN, " ")
    assert "(eight builds in ten: 92.0 to 108)" in told[1]
    assert "lies inside the bands" in told[1]
    page = write_comparison(wide)
    assert "<small>even</small>" in page


def test_the_verdict_first_says_whether_the_builds_differ_though_the_power_does_not() -> None:
    first, second = run_with(ONE), run_with(ONE)
    same = verdict(compared([first, second]))[0]
    assert same == "The best builds are the same, and so is their electric power."
    other = replace(
        second, front={**second.front, "disc_count": np.full(3, 12.0), "gap": np.full(3, 3e-4)}
    )
    told = verdict(compared([first, other]))[0].replace(THIN, " ")
    count, gap = (first.front[key][0] for key in ("disc_count", "gap"))
    assert told.startswith("Electric power is even, but the builds differ: ")
    assert f"discs {count:.0f} against 12" in told
    assert f"gap {1e3 * gap:g} mm against 0.3 mm" in told
    slow = replace(second, front={**second.front, "speed": np.full(3, 900.0)})
    told = verdict(compared([first, slow]))[0]
    assert told.startswith("One stack at different speeds, electric power even: running speed")
    weak = replace(other, front={**other.front, "electric_power": np.array([70.0, 50.0, 20.0])})
    assert verdict(compared([first, weak]))[0].startswith("Electric power differs, and so do")


def test_a_run_with_a_fitted_model_is_to_be_believed_before_one_without() -> None:
    plain, fitted = run_with(ONE), run_with(TWO)
    fit = Fit(
        {"generator_efficiency": 0.72},
        {"generator_efficiency": 0.01},
        np.eye(1),
        logs={"loaded-run.csv": "5d2c"},
    )
    fitted = replace(fitted, study=fitted.study.model_copy(update={"fit": fit}))
    (told,) = (line for line in verdict(compared([plain, fitted])) if line.startswith("Go by"))
    assert "Go by run 2: its model is fitted to bench logs (loaded-run.csv), run 1 rests" in told
    usual = plain.study.machine.generator_efficiency
    assert "generator efficiency 0.72" in told or "generator efficiency 72" in told
    assert f"not {usual:g}" in told or f"not {100 * usual:g}" in told
    (found,) = compared([plain, fitted]).differences
    assert found.label == "Fit"
    assert found.values == ("none", f"generator efficiency 72.0{THIN}%, from loaded-run.csv")
    for alike in ([plain, plain], [fitted, fitted]):
        assert not any(line.startswith("Go by") for line in verdict(compared(alike)))


def test_the_verdict_says_which_run_gives_more_where_by_how_much_and_why() -> None:
    thick = ("disc_thickness: 1 mm", "disc_thickness: 2 mm")
    told = " ".join(verdict(compared([run_with(ONE), run_with(TWO, thick)]))).replace(THIN, " ")
    assert "of 1.2 or more, run 1 gives the most electric power: 100 W, against 90.0 W" in told
    assert "(10.0 W more, 11 %)" in told
    assert "From 1.50 to 3.00 of safety margin, run 2 leads, by up to 20.0 W or 50 %." in told
    assert "From 3.00 to 4.00 of safety margin, only run 2 has a design." in told
    assert "may explain it: disc thickness (1 mm against 2 mm)." in told


def test_close_runs_are_even_and_the_same_study_is_said_to_be_the_same() -> None:
    almost = [(power * 1.004, margin) for power, margin in ONE]
    told = " ".join(verdict(compared([run_with(ONE), run_with(almost)])))
    assert "run 2 and run 1 are even in electric power" in told
    assert "; within 1" in told
    assert "The studies are the same" in told
    assert "run 2 equals or beats every design of run 1's front" in told.replace("Run", "run")


def test_runs_that_differ_only_in_their_search_are_named_so() -> None:
    told = verdict(compared([run_with(ONE), run_with(TWO, ("seed: 1 ", "seed: 7 "))]))
    assert "The studies differ only in the search" in told[-1]


def test_a_lead_that_changes_often_is_summed_up() -> None:
    zigzag = [[(100.0 - 5 * k, 1.5 + k / 10 + side / 20) for k in range(12)] for side in (0, 1)]
    zigzag[0] = [(p + (8 if k % 2 else 0), m) for k, (p, m) in enumerate(zigzag[0])]
    told = " ".join(verdict(compared([run_with(points) for points in zigzag])))
    assert re.search(r"of safety margin: (the best .* of it; )?run 1 leads over", told)


@pytest.mark.parametrize(
    ("change", "told", "words"),
    [
        (("seed: 1 ", "seed: 2 "), {"model_version": 2}, "different versions of the model"),
        (("seed: 1 ", "seed: 2 "), {"state": "interrupted", "designs": 900}, "unfinished: 900 of"),
        (("pressure: 6 bar gauge", "pressure: 7 bar gauge"), {}, "supplies differ (pressure)"),
        (("safety_margin: maximise", "mass_flow: minimise"), {}, "have different aims"),
        (("stress_margin: {min: 1.5}", "stress_margin: {min: 1.6}"), {}, "limits differ"),
        (("seed: 1 ", "seed: 2 "), {"designs": 100_000}, "for that reason alone"),
    ],
)  # fmt: skip
def test_what_makes_runs_hard_to_compare_is_said(
    change: tuple[str, str], told: dict[str, Any], words: str
) -> None:
    fair = " ".join(warnings(compared([run_with(ONE), run_with(TWO, ("seed: 1 ", "seed: 2 "))])))
    assert words not in fair
    found = " ".join(warnings(compared([run_with(ONE), run_with(TWO, change, **told)])))
    assert words in found


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
