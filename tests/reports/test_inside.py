"""Recheck, validity record, gap and waves of a candidate, against numbers worked out by hand."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from engine.model.validity import RUNAWAY_BOUND
from engine.physics.gap.averaged import AVERAGED_RANGE, FRICTION_RANGE
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from reports.kit.quantities import THIN, bare, duration
from reports.kit.svg import Drawing
from reports.run.candidate_wording import (
    cell,
    flow_cell,
    flow_range,
    load_loss,
    path_text,
    stress_text,
    wave_text,
)
from reports.run.charts.gap import STATIONS, gap_charts
from reports.run.charts.speeds import speed_charts, stress_charts, wave_charts
from reports.run.facts import Candidate, Facts, RunData, facts_of
from reports.run.inside import flow_numbers, recheck_of
from reports.run.page import write_report
from reports.run.wording import not_drawn, recheck_text

MakeRun = Callable[..., RunData]

RPM = 2 * math.pi / 60


@pytest.fixture(scope="module")
def facts(run_data: RunData) -> Facts:
    return facts_of(run_data)


@pytest.fixture(scope="module")
def best(facts: Facts) -> Candidate:
    return facts.candidates[0]


def _rechecked(run: RunData, difference: Sequence[float]) -> Facts:
    """Facts of the run with these differences at the head of its front, and 1 % for the rest."""
    n_front = len(run.front["design"])
    every = np.full(n_front, 0.01)
    every[: len(difference)] = difference
    return facts_of(replace(run, front={**run.front, "resolved_difference": every}))


def test_the_recheck_counts_what_differs_and_what_did_not_converge() -> None:
    found = recheck_of({"resolved_difference": np.array([0.008, -0.051, 0.05, math.nan, 0.09])})
    assert found is not None
    assert (found.designs, found.lowest, found.highest) == (5, -0.051, 0.09)
    assert (found.differ, found.unconverged) == (2, 1)
    assert recheck_of({}) is None


def test_the_page_says_how_far_the_search_was_off(run_data: RunData) -> None:
    text = recheck_text(_rechecked(run_data, [0.034, 0.06, math.nan, -0.02])).replace(THIN, " ")
    n_front = len(run_data.front["design"])
    assert text == (
        "The search used gap flow averaged across the gap; the front was rechecked with it "
        f"resolved. Power then differs by −2.0 to +6.0 %, 1 of {n_front} by more than 5 %; 1 did "
        "not converge."
    )
    calm = recheck_text(_rechecked(run_data, [0.034])).replace(THIN, " ")
    assert f"+1.0 to +3.4 %, none of {n_front} by more than 5 %; all converged." in calm
    lost = _rechecked(run_data, [math.nan] * n_front)
    assert recheck_text(lost).endswith("which converged for none of its designs.")


def test_a_search_on_resolved_flow_says_so_and_shows_one_power(run_data: RunData) -> None:
    search = run_data.study.search.model_copy(update={"flow": "resolved"})
    run = replace(run_data, study=run_data.study.model_copy(update={"search": search}))
    text = recheck_text(facts_of(run))
    assert text == "Power comes from gap flow resolved across the gap, in the search itself too."
    page = write_report(run)
    assert text in page
    assert "Checked power" not in page.split("What you build")[0].split("What it gives")[1]


def test_a_front_that_was_not_rechecked_says_nothing_of_it(run_data: RunData) -> None:
    front = {key: v for key, v in run_data.front.items() if not key.startswith("resolved")}
    run = replace(run_data, front=front)
    assert recheck_text(facts_of(run)) == ""
    assert "Checked power" not in write_report(run)


@pytest.mark.parametrize(
    ("difference", "text", "remark", "outside"),
    [
        (0.034, "103", "+3.4 %", False),
        (-0.05, "103", "−5.0 %", False),
        (0.056, "103", "+5.6 %: more than 5 % off", True),
        (math.nan, "–", "did not converge", True),
    ],
)
def test_resolved_power_is_flagged_in_words_beyond_five_percent(
    difference: float, text: str, remark: str, outside: bool
) -> None:
    made = cell("resolved_power", {"resolved_power": 103.4, "resolved_difference": difference})
    assert (made.text, made.remark.replace(THIN, " "), made.outside) == (text, remark, outside)


def test_unbalance_is_compared_with_the_permissible() -> None:
    made = cell("raw_unbalance", {"raw_unbalance": 20e-6, "permissible_unbalance": 0.5e-6})
    assert (made.text, made.remark, made.bad) == ("20.0", "40 times permissible", False)


def test_each_number_of_the_gap_flow_is_beside_its_range() -> None:
    values: Mapping[str, float | str] = {
        "gap_reynolds": 2e5,
        "turbulent_share": 0.25,
        "ekman_number": 7.5,
        "rim_swirl_ratio": 4.0,
        "gap_mach": 0.4,
        "backflow_share": 0.1,
    }
    found = {entry.key: entry for entry in flow_numbers(values)}
    # 7.5 x root(4) = 15, beyond 14; x (1 - 0.25) = 11.25, beyond 10.
    assert found["faster_ekman_number"].value == pytest.approx(15.0)
    assert found["laminar_ekman_number"].value == pytest.approx(11.25)
    assert {key for key, entry in found.items() if entry.outside} == {
        "gap_reynolds",
        "faster_ekman_number",
        "laminar_ekman_number",
        "backflow_share",
    }
    assert found["gap_mach"].bounds == FRICTION_RANGE.bounds["gap_mach"]
    assert found["gap_reynolds"].bounds == AVERAGED_RANGE.bounds["gap_reynolds"]
    ranges = {key: flow_range(entry).replace(THIN, " ") for key, entry in found.items()}
    assert ranges == {
        "gap_reynolds": "up to 100 000",
        "turbulent_share": "any",
        "ekman_number": "any",
        "faster_ekman_number": "up to 14",
        "laminar_ekman_number": "up to 10",
        "gap_mach": "up to 1",
        "backflow_share": "none",
    }
    assert flow_cell(found["laminar_ekman_number"]).remark == "outside"
    told = flow_cell(found["backflow_share"])
    assert (told.text, told.outside) == (f"10.0{THIN}%", True)
    assert told.remark == f"outside; resolved, the pressure drop may be 1{THIN}% off"
    assert flow_cell(found["gap_mach"]).remark == ""
    assert flow_cell(found["turbulent_share"]).text == f"25.0{THIN}%"


def test_backflow_is_unknown_where_the_resolved_flow_did_not_converge() -> None:
    (entry,) = flow_numbers({"backflow_share": math.nan})
    assert not entry.outside
    assert (flow_cell(entry).text, flow_cell(entry).remark) == ("–", "did not converge")


def test_the_path_of_the_gas_is_given_in_turns_and_time(best: Candidate) -> None:
    # The invented path makes two turns while the discs turn once.
    time = duration(2 * math.pi / float(best.values["speed"]))
    assert path_text(best) == (
        f"2.00 turns from rim to bore in {time}; seen from the disc 1.0 turns."
    )


NUMBER = r"(-?[\d.]+) (-?[\d.]+)"


def curves(drawing: Drawing) -> dict[str, list[tuple[float, float]]]:
    """Points of each named curve of a drawing, in the units of its axes."""
    root = ET.fromstring(drawing.svg())  # noqa: S314  # ours
    scales = [[float(n) for n in root.attrib[f"data-{axis}"].split(" ")[:4]] for axis in "xy"]
    found = {}
    for path in root.iter("path"):
        if "data-name" in path.attrib:
            points = re.findall(NUMBER, path.attrib["d"])
            found[path.attrib["data-name"]] = [
                (_value(float(right), *scales[0]), _value(float(down), *scales[1]))
                for right, down in points
            ]
    return found


def _value(place: float, low: float, high: float, start: float, end: float) -> float:
    return low + (place - start) * (high - low) / (end - start)


def _points(drawing: Drawing, look: str) -> list[tuple[float, float]]:
    root = ET.fromstring(drawing.svg())  # noqa: S314  # ours
    (path,) = [p for p in root.iter("path") if p.get("class") == f"curve {look}"]
    return [(float(x), float(y)) for x, y in re.findall(NUMBER, path.attrib["d"])]


def test_the_path_runs_counterclockwise_from_the_top_of_the_rim_to_the_bore(
    best: Candidate,
) -> None:
    path, _, _ = gap_charts([best])["pick"]
    points = np.array(_points(path, "air")) - [path.width / 2, path.height / 2]
    x, y = points.T * [[1], [-1]]  # places in a drawing count downward
    share = float(best.values["exhaust_bore"]) / float(best.values["disc_diameter"])
    rim = math.hypot(x[0], y[0])
    assert (x[0], y[0]) == (pytest.approx(0, abs=0.1), pytest.approx(rim))
    assert x[1] < 0
    assert math.hypot(x[-1], y[-1]) == pytest.approx(share * rim, rel=1e-2)
    angle = np.unwrap(np.arctan2(y, x))
    assert angle[-1] - angle[0] == pytest.approx(4 * math.pi, rel=1e-2)


def test_profiles_show_inflow_and_swirl_past_the_discs(best: Candidate) -> None:
    _, profiles, _ = gap_charts([best])["pick"]
    root = ET.fromstring(profiles.svg())  # noqa: S314  # ours
    assert len([p for p in root.iter("path") if "data-name" in p.attrib]) == 2 * len(STATIONS)
    # Mid-gap is 1.5 times the mean: 5 m/s times rim over bore; the swirl begins 150 m/s faster.
    widening = float(best.values["disc_diameter"]) / float(best.values["exhaust_bore"])
    assert f"inflow up to {7.5 * widening:.1f}{THIN}m/s" in profiles.says


def test_pressure_and_swirl_are_drawn_along_the_radius_beside_the_discs(best: Candidate) -> None:
    _, _, chart = gap_charts([best])["pick"]
    drawn = curves(chart)
    rim_speed = float(best.values["speed"]) * float(best.values["disc_diameter"]) / 2
    rim = max(drawn["disc"])
    assert rim[1] == pytest.approx(rim_speed, rel=1e-2)
    assert max(drawn["fluid"])[1] - rim[1] == pytest.approx(150, abs=2)
    assert f"pressure from 1.30{THIN}bar to 1.10{THIN}bar" in chart.says


def test_a_gap_whose_flow_was_lost_is_named_and_not_drawn(run_data: RunData) -> None:
    (role, gap), *others = run_data.gaps.items()
    holed = replace(gap, inflow=np.where(gap.radius[..., None] < 0.03, math.nan, gap.inflow))
    made = facts_of(replace(run_data, gaps={role: holed, **dict(others)}))
    assert role not in gap_charts(made.candidates)
    assert not_drawn(made) == "Not drawn: the pick, whose flow did not converge."
    assert not_drawn(facts_of(run_data)) == ""


def test_waves_are_drawn_in_hertz_down_to_where_the_governing_one_stands_still(
    best: Candidate,
) -> None:
    named = curves(wave_charts([best])["pick"])
    # Waves of three nodal diameters, no stiffening: 3 x standing speed at rest.
    still = float(best.values["wave_speed"])
    governs = named["backward, 3 nodal diameters"]
    assert governs[0][0] == pytest.approx(0, abs=60)
    assert governs[0][1] == pytest.approx(3 * still / (2 * math.pi), rel=0.01)
    assert "forward, 3 nodal diameters" in named
    assert wave_text(best).startswith("The wave of 3 nodal diameters stands still at")
    assert "1 or 3 nozzles force it; so does anything uneven" in wave_text(best)


def test_stress_is_drawn_with_its_peak_or_not_at_all(best: Candidate) -> None:
    chart = stress_charts([best])["pick"]
    # Invented: 60 MPa at the bore, 1.3 times that at trip, twice that at a notch.
    drawn = curves(chart)
    assert drawn["hoop, at trip speed"][0][1] == pytest.approx(78, abs=0.5)
    assert drawn["hoop, at running speed"][0][1] == pytest.approx(60, abs=0.5)
    assert "at the bore is 78.0 MPa, 156 MPa where it peaks" in stress_text(best).replace(THIN, " ")
    unknown = replace(best, inside=replace(best.inside, stress=None))
    assert stress_charts([unknown]) == {}
    assert stress_text(unknown) == ""


def test_power_is_drawn_against_speed_through_the_point_that_was_picked(best: Candidate) -> None:
    drawn = curves(speed_charts([best])["pick"])["Electric power"]
    rpm = float(best.values["speed"]) / RPM
    x, y = np.array(drawn).T
    power = float(best.values["electric_power"])
    assert np.interp(rpm, x, y) == pytest.approx(power, rel=0.02)
    assert speed_charts([replace(best, curve={})]) == {}


def test_the_wave_that_equal_nozzles_force_is_told_too(best: Candidate) -> None:
    higher = {"forced_wave_speed": 2.0 * float(best.values["wave_speed"])}
    more = replace(best, values={**best.values, **higher, "forced_wave_nodal_diameters": 4.0})
    text = wave_text(more)
    assert "so does anything uneven: nozzles that are not alike" in text
    assert "Equal nozzles of this number force that of 4 nodal diameters" in text
    free = replace(best, values={**more.values, "forced_wave_speed": math.inf})
    assert "Equal nozzles" not in wave_text(free)


def test_a_governing_wave_of_more_nodal_diameters_is_drawn_too(best: Candidate) -> None:
    more = replace(best, values={**best.values, "wave_nodal_diameters": 9.0})
    assert any("9 nodal" in name for name in curves(wave_charts([more])["pick"]))


def test_runaway_that_is_an_upper_bound_reads_at_most(facts: Facts) -> None:
    best = facts.candidates[0]
    values: dict[str, Any] = {**best.values, "runaway_ratio": 3.2, "safety_margin": 1.5}
    assert "it races to 3.20 times" in load_loss(replace(best, values=values))
    bound = replace(best, values={**values, "validity": f"plate modes; {RUNAWAY_BOUND}"})
    assert "it races to at most 3.20 times" in load_loss(bound)
    endless = replace(bound, values={**bound.values, "runaway_ratio": HIGHEST_RUNAWAY})
    assert "it races to perhaps 20 times running speed" in load_loss(endless)


def test_a_disc_without_standing_wave_says_so(best: Candidate) -> None:
    never = {"wave_speed": math.inf, "forced_wave_speed": math.inf}
    chart = wave_charts([replace(best, values={**best.values, **never})])["pick"]
    assert "No wave stands still." in chart.says
    assert "stands still" not in "".join(chart.parts)


def test_runaway_at_the_end_of_the_search_for_it_reads_at_least(facts: Facts) -> None:
    assert bare("runaway_ratio", HIGHEST_RUNAWAY) == f"≥{THIN}20"
    assert bare("runaway_ratio", 19.5) == "19.5"
    best = facts.candidates[0]
    wild: dict[str, Any] = {**best.values, "runaway_ratio": HIGHEST_RUNAWAY, "safety_margin": 1.5}
    wild_one = replace(best, values=wild)
    assert load_loss(wild_one) == (
        "If the load drops off, it races to at least 20 times running speed, and the first failure "
        "comes at 1.50 times. Only a trip that acts in time saves it."
    )
    held = replace(best, values={**wild, "safety_margin": 25.0})
    assert "beyond what is computed; the first failure comes at 25.0 times" in load_loss(held)
