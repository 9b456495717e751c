"""What a comparison says: which builds differ, who leads, whom to believe, what differs and why."""

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.study.fit import Fit
from engine.study.reader import parse_study, read_study
from reports.compare.cautions import warnings
from reports.compare.differences import differences
from reports.compare.facts import compared
from reports.compare.page import write_comparison
from reports.compare.wording import verdict
from reports.kit.quantities import THIN
from tests.support.places import STUDIES
from tests.support.told_runs import ONE, TWO, banded, run_with, study_text


def test_only_what_differs_is_listed_in_drawing_units_with_usual_values() -> None:
    first = parse_study(study_text(), "first.yaml")
    second = parse_study(
        study_text(
            ("pressure: 6 bar gauge", "pressure: 5 bar gauge\n  back_pressure: 0.2 bar gauge"),
            ("  disc_thickness: 0.8 mm\n", ""),
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
        ("build", "disc_thickness"): ("0.8 mm", "not stated (usual value 1 mm)"),
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
    priced = ("disc_thickness: 0.8 mm", "disc_thickness: 0.8 mm\n  build_cost: 900 EUR")
    both = compared([run_with(ONE), run_with(ONE, priced)])
    (cost,) = (each for each in both.differences if each.key == "build_cost")
    assert cost.values[0] == "not stated"
    assert "900" in cost.values[1]
    assert both.builds == ()


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
        second, front={**second.front, "disc_count": np.full(3, 12.0), "gap": np.full(3, 7e-4)}
    )
    told = verdict(compared([first, other]))[0].replace(THIN, " ")
    count, gap = (first.front[key][0] for key in ("disc_count", "gap"))
    assert told.startswith("Electric power is even, but the builds differ: ")
    assert f"discs {count:.0f} against 12" in told
    assert f"gap {1e3 * gap:g} mm against 0.7 mm" in told
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
    thick = ("disc_thickness: 0.8 mm", "disc_thickness: 0.5 mm")
    told = " ".join(verdict(compared([run_with(ONE), run_with(TWO, thick)]))).replace(THIN, " ")
    assert "of 1.2 or more, run 1 gives the most electric power: 100 W, against 90.0 W" in told
    assert "(10.0 W more, 11 %)" in told
    assert "From 1.50 to 3.00 of safety margin, run 2 leads, by up to 20.0 W or 50 %." in told
    assert "From 3.00 to 4.00 of safety margin, only run 2 has a design." in told
    assert "may explain it: disc thickness (0.8 mm against 0.5 mm)." in told


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
