"""Steps aside, stress, nearly equal builds and what holds the front, by hand."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.columns import SEARCHED
from engine.run import details
from engine.run.point import point_of
from engine.study.study import Study
from reports.run.charts.along import bounds_chart, room_strips
from reports.run.charts.care import reach_of, rows_of, step_chart
from reports.run.facts import Candidate, Facts, RunData, aims_of, facts_of
from reports.run.page import write_report
from reports.run.search_facts import row_of
from reports.run.steps import Step, steps_of

MakeRun = Callable[..., RunData]
Table = dict[str, Any]
POINT = ("11", "150 mm", "0.2 mm", "10 deg", "50 mm", "15000 rpm")


@pytest.fixture(scope="module")
def facts(run_data: RunData) -> Facts:
    return facts_of(run_data)


@pytest.fixture(scope="module")
def best(facts: Facts) -> Candidate:
    return facts.candidates[0]


@pytest.fixture(scope="module")
def stepped_study(shop_air: Study) -> Study:
    """The small stack with a list of gaps, a stepped bore, a free diameter, the rest fixed."""
    given = {
        "disc_count": 11,
        "disc_diameter": {"min": "80 mm", "max": "200 mm"},
        "gap": {"choices": ["0.1 mm", "0.2 mm", "0.4 mm"]},
        "inlet_angle": "10 deg",
        "exhaust_bore": {"min": "50 mm", "max": "60 mm", "step": "2 mm"},
        "speed": "15000 rpm",
    }
    ranges = type(shop_air.ranges).model_validate(given)
    return shop_air.model_copy(update={"ranges": ranges})


@pytest.fixture(scope="module")
def build(stepped_study: Study) -> Table:
    texts = ["disc_diameter=150 mm", "gap=0.2 mm", "exhaust_bore=50 mm"]
    return point_of(stepped_study, _all(texts)).results


def _all(texts: list[str]) -> list[str]:
    fixed = ["disc_count=11", "inlet_angle=10 deg", "speed=15000 rpm"]
    return [*texts, *fixed]


def test_a_step_goes_to_the_next_value_and_not_out_of_the_range(
    stepped_study: Study, build: Table
) -> None:
    steps = details.single_steps(stepped_study, build, 0)
    went = {
        key: sorted(steps[key][steps["moved"] == key].round(6).tolist())
        for key in ("disc_diameter", "gap", "exhaust_bore")
    }
    assert went == {
        "disc_diameter": [0.1476, 0.1524],  # a fiftieth of 120 mm each way
        "gap": [0.0001, 0.0004],
        "exhaust_bore": [0.052],  # 50 mm is the smallest
    }
    assert set(steps["moved"].tolist()) == set(went)


def test_a_step_changes_one_variable_and_gives_what_a_point_gives(
    stepped_study: Study, build: Table
) -> None:
    steps = details.single_steps(stepped_study, build, 0)
    lane = int(np.flatnonzero(steps["gap"] == 0.4e-3)[0])
    texts = _all(["disc_diameter=150 mm", "gap=0.4 mm", "exhaust_bore=50 mm"])
    alone = point_of(stepped_study, texts).results
    assert steps["electric_power"][lane] == pytest.approx(alone["electric_power"][0], rel=1e-9)
    assert steps["disc_diameter"][lane] == build["disc_diameter"][0]


def test_a_build_with_nothing_to_step_has_no_steps(stepped_study: Study, build: Table) -> None:
    fixed = {**stepped_study.ranges.model_dump(), "gap": "0.2 mm"}
    fixed |= {"disc_diameter": "150 mm", "exhaust_bore": "50 mm"}
    fixed |= {"disc_count": 11, "inlet_angle": "10 deg", "speed": "15000 rpm"}
    given = {key: value for key, value in fixed.items() if value is not None}
    ranges = type(stepped_study.ranges).model_validate(given)
    still = stepped_study.model_copy(update={"ranges": ranges})
    steps = details.single_steps(still, build, 0)
    assert steps["moved"].size == 0
    assert steps_of(still, row_of(build, 0), aims_of(still), steps) == ()


def test_stress_in_the_disc_has_its_known_end_values(build: Table) -> None:
    stress = details.disc_stress(build, 0)
    # A free edge carries no radial stress; the bore is where the model's own columns stand.
    for of in (stress.running, stress.tripped):
        assert np.abs(np.asarray(of.radial)[0, [0, -1]]).max() < 1e-6 * np.asarray(of.hoop).max()
    bore = build["bore_stress"][0] + build["thermal_stress"][0]
    assert np.asarray(stress.running.hoop)[0, 0] == pytest.approx(bore, rel=1e-9)
    assert stress.yield_strength / stress.notched == pytest.approx(build["stress_margin"])


def test_stress_in_the_middle_of_the_disc_is_that_of_timoshenko(build: Table) -> None:
    stress = details.disc_stress(build, 0)
    # Timoshenko and Goodier 1970, art. 32: radial stress of a spinning ring is largest at
    # sqrt(a b), and there (3 + nu) / 8 rho w^2 (b - a)^2; by hand from 150 mm, 50 mm, 15000 rpm.
    spin = {**build, "rim_over_bore": np.zeros(1), "thermal_stress": np.zeros(1)}
    cold = details.disc_stress(spin, 0)
    radial = np.asarray(cold.running.radial)[0]
    peak = stress.radius[0][np.argmax(radial)]
    assert peak == pytest.approx(np.sqrt(0.025 * 0.075), abs=0.00125)
    assert radial.max() == pytest.approx(
        _spin_factor(build) * (15_000 * np.pi / 30) ** 2 * 0.05**2, rel=2e-3
    )


def _spin_factor(build: Table) -> float:
    """(3 + nu) / 8 rho, from the hoop stress at the bore, which the same article gives."""
    nu = 0.29  # of steel; the bore term carries the rest
    bore = build["bore_stress"][0] / (15_000 * np.pi / 30) ** 2
    rho = 4 * bore / ((3 + nu) * 0.075**2 + (1 - nu) * 0.025**2)
    return float((3 + nu) / 8 * rho)


def test_a_step_is_given_as_a_share_of_the_value_before(facts: Facts, best: Candidate) -> None:
    speed = [step for step in best.steps if step.key == "speed"]
    assert [step.larger for step in speed] == [False, True]
    # The stand-in's bearing margin goes as 1 / speed; its others are above where it governs.
    margins = [1 + step.changes[1] for step in speed if step.works]
    assert all(0.8 < ratio < 1.3 for ratio in margins)
    assert margins == sorted(margins, reverse=True)


def test_a_step_that_misses_a_limit_or_has_no_flow_says_so(run_data: RunData, facts: Facts) -> None:
    study, values = run_data.study, facts.candidates[0].values
    table: Table = {
        "moved": np.array(["gap", "gap"]),
        "gap": np.array([0.1e-3, 1e-3]),
        "electric_power": np.array([np.nan, 2 * float(values["electric_power"])]),
        "safety_margin": np.array([1.0, 1.1]),
        "status": np.array(["no flow", "matched"]),
    }
    lost, weak = steps_of(study, values, facts.aims, table)
    assert (lost.works, lost.missed) == (False, ())
    assert weak.missed == ("safety_margin",)
    assert weak.changes[0] == pytest.approx(1.0)


def test_variables_stand_in_one_order_and_a_missed_limit_is_red(
    facts: Facts, best: Candidate
) -> None:
    steps = (
        Step("gap", 0.3e-3, True, (0.02, 0.0), ()),
        Step("speed", 1000.0, True, (-0.30, 0.1), ("safety_margin",)),
        Step("disc_count", 9.0, False, (np.nan, np.nan), ()),
    )
    build = replace(best, steps=steps, sources={})
    aims = facts.aims[:2]
    rows = rows_of([build])
    assert rows == ["gap", "speed", "disc_count"]
    assert reach_of([build], aims) == [pytest.approx(0.33), pytest.approx(0.11)]
    drawn = step_chart(build, aims, rows, reach_of([build], aims)).svg()
    assert drawn.count("does not run") == 1
    assert "misses the limit of safety margin" in drawn
    assert len(re.findall(r'class="full fails"', drawn)) == 2
    assert len(re.findall(r'class="full air"', drawn)) == 2


def test_limits_are_drawn_where_the_front_reaches_them(facts: Facts) -> None:
    chart = bounds_chart(facts, 1240)
    assert chart is not None
    rows = sum(bool(fact.binding) for fact in facts.limits) + len(facts.range_ends)
    assert str(chart.svg()).count('class="stroke') == rows > 1
    assert bounds_chart(replace(facts, limits=(), range_ends=()), 1240) is None


def test_nearly_equal_builds_lose_next_to_nothing_in_either_aim(
    run_data: RunData, facts: Facts
) -> None:
    near, pick = facts.near, facts.pick.values
    for key in ("electric_power", "safety_margin"):
        assert near[key].min() >= 0.97 * float(pick[key])
    good = run_data.designs["feasible"] == 1
    for key in ("electric_power", "safety_margin"):
        good = good & (run_data.designs[key] >= 0.97 * float(pick[key]))
    assert near["design"].tolist() == run_data.designs["design"][good].tolist()
    strips, same = room_strips(facts)
    assert len(strips) + len(same) == len(facts.spans)


def test_a_study_of_one_build_has_a_whole_page(make_run: MakeRun) -> None:
    texts = (12, "120 mm", "0.3 mm", "10 deg", "40 mm", "16000 rpm")
    fixed = dict(zip(SEARCHED, texts, strict=True))
    run = make_run(n_designs=1, ranges=fixed, limits={})
    assert run.designs["feasible"].all()
    page = write_report(run)
    assert "Build twelve 120" in page
    assert "One to choose from" in page
    assert "No other build that was tried comes within" in page
