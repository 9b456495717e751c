"""Climbing from one build: within ranges and limits, and to where no single step is better."""

import numpy as np
import pytest

from engine.columns import Builds
from engine.errors import StudyError
from engine.model.evaluation import evaluate
from engine.model.limits import feasible, violations, with_standing
from engine.physics.arrays import Mask
from engine.run.nudge import EVALUATIONS, climbed
from engine.search.space import Space
from engine.study.reader import parse_overrides, parse_study
from engine.study.study import Study
from tests.support.starter import plain_starter

START = (
    "disc_count=10", "disc_diameter=100mm", "gap=0.3mm", "inlet_angle=10deg", "exhaust_bore=30mm",
    "speed=14000rpm",
)  # fmt: skip


@pytest.fixture(scope="module")
def study() -> Study:
    return parse_study(plain_starter("climbed"), "climbed.yaml")


def arrays(study: Study, *texts: str) -> Builds:
    return {key: np.array([value]) for key, value in parse_overrides(texts, study).items()}


def meets_all(study: Study, builds: Builds) -> Mask:
    found = evaluate(study, builds)
    return feasible(violations(found, with_standing(study.all_limits)))


def test_a_climb_ends_where_no_single_step_within_the_limits_gives_more(study: Study) -> None:
    climb = climbed(study, arrays(study, *START), "electric_power")
    assert climb.evaluated <= EVALUATIONS
    aims = [step.aim for step in climb.steps]
    assert len(aims) > 3
    last = climb.steps[-1]
    assert last.missed == 0
    free = [step.aim for step in climb.steps if step.missed == 0]
    assert free == sorted(free)
    for before, after in zip(climb.steps, climb.steps[1:], strict=False):
        assert after.missed <= before.missed
        assert after.changed
        for key, value in after.values.items():
            assert (value != before.values[key]) == (key in after.changed)
    for key, given in study.searched().items():
        assert given.values is not None
        assert np.isclose(given.values, last.values[key], rtol=1e-12).any()
    # Evaluated again, and with every neighbour: the exact answer of a small neighbourhood.
    space = Space.of(study)
    end = {key: np.array([value]) for key, value in last.values.items()}
    here = space.index(end)
    assert evaluate(study, space.builds(here))["electric_power"][0] == pytest.approx(last.aim)
    beside = space.builds(space.beside(here))
    kept = meets_all(study, beside)
    assert kept.any()
    assert climb.ended
    assert np.nanmax(evaluate(study, beside)["electric_power"][kept]) <= last.aim


def test_a_build_that_misses_limits_is_mended_first(study: Study) -> None:
    fast = [text for text in START if "speed" not in text]
    start = arrays(study, *fast, "speed=30000rpm", "seal_clearance=0.06mm")
    climb = climbed(study, start, "safety_margin")
    assert climb.steps[0].missed > 0
    assert climb.steps[-1].missed == 0
    # A number that is not searched stays as it was given.
    end = {key: np.array([value]) for key, value in climb.steps[-1].values.items()}
    again = evaluate(study, end | {"seal_clearance": np.array([0.06e-3])})
    assert again["safety_margin"][0] == pytest.approx(climb.steps[-1].aim)


def test_less_of_an_aim_that_is_to_be_small_is_better() -> None:
    text = (
        plain_starter("thrifty")
        .replace("safety_margin: maximise", "mass_flow: minimise")
        .replace("stress_margin: {min: 1.5}", "electric_power: {min: 60 W}")
    )
    study = parse_study(text, "thrifty.yaml")
    climb = climbed(study, arrays(study, *START), "mass_flow")
    assert climb.steps[-1].missed == 0
    assert climb.steps[-1].aim < climb.steps[0].aim


def test_a_word_that_the_study_does_not_search_is_refused() -> None:
    text = (
        plain_starter("words")
        .replace("  process: laser-cut\n", "")
        .replace("ranges: ", "ranges:\n  process: {choices: [laser-cut, waterjet]}\n#")
    )
    study = parse_study(text, "words.yaml")
    with pytest.raises(StudyError, match="process: turned is not one of laser-cut, waterjet"):
        climbed(study, arrays(study, *START, "process=turned"), "electric_power")


def test_a_study_of_one_build_has_nowhere_to_climb() -> None:
    text = plain_starter("one")
    for key, value in (each.split("=") for each in START):
        head, _, rest = text.partition(f"\n  {key}: {{")
        text = f"{head}\n  {key}: {value}\n{rest.partition(chr(10))[2]}"
    study = parse_study(text, "one.yaml")
    climb = climbed(study, arrays(study), "electric_power")
    assert (len(climb.steps), climb.evaluated, climb.ended) == (1, 1, True)
