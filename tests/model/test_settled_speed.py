"""A speed that settles in place of one that is stated: found once, and then like any other."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from engine.columns import Builds
from engine.errors import StudyError
from engine.model.evaluation import builds_of, evaluate, with_recheck, with_trip
from engine.model.limits import MATCHED, SETTLES_NOWHERE, STATUS_MEANING
from engine.model.settle import settled
from engine.run.point import point_of
from engine.search.space import Space
from engine.study.around import study_around
from engine.study.oddities import oddities
from engine.study.reader import parse_overrides, parse_study
from engine.study.study import Study
from engine.study.written import value_text

HEAD = """title: On the shelf
supply: {fluid: air, pressure: 5 bar gauge, temperature: 20 degC}
machine: {generator: spindle-48v, trip_delay: 50 ms}
"""
RANGES = """ranges:
  disc_count: {min: 4, max: 12}
  disc_diameter: {choices: [80 mm, 100 mm]}
  gap: {choices: [0.3 mm, 0.4 mm]}
  inlet_angle: 10 deg
  exhaust_bore: {choices: [36 mm, 90 mm]}
  generator_kv: {choices: [300 rpm/V, 500 rpm/V]}
  drive_ratio: {choices: [1, 1.5]}
  speed: settled
"""
LOADS = """loads:
  voltage: 36 V
  settled_with: [led-lamp, laptop]
  appliances: {led-lamp: 4, laptop: , bench-fan: {needed: no}}
"""


def study(head: str = HEAD, ranges: str = RANGES, loads: str = LOADS) -> Study:
    return parse_study(head + ranges + loads, "shelf.yaml")


@pytest.fixture(scope="module")
def shelf() -> Study:
    return study()


@pytest.fixture(scope="module")
def drawn(shelf: Study) -> Builds:
    space = Space.of(shelf)
    return space.builds(space.draw(24, np.random.default_rng(1)))


@pytest.fixture(scope="module")
def results(shelf: Study, drawn: Builds) -> Any:
    return evaluate(shelf, drawn)


def test_it_is_no_axis_of_the_search_but_generator_and_belt_are(shelf: Study) -> None:
    keys = [axis.key for axis in Space.of(shelf).axes]
    assert "speed" not in keys
    assert {"generator_kv", "drive_ratio"} <= set(keys)


def test_builds_turn_as_fast_as_they_settle(shelf: Study, results: Any) -> None:
    runs = results["status"] == MATCHED
    assert runs.sum() > 4
    # Independent: the exact settling of builds that have a speed of their own, with all loads that
    # come first in the list, which are the two that are named.
    given = {key: values[runs] for key, values in builds_of(shelf, results).items()}
    found = settled(shelf, evaluate(shelf.unjudged(), given), exact=True)
    assert_allclose(results["speed"][runs], found.speed[:, 2], rtol=1e-3)
    # What it then gives is what the loads take, where no converter cuts in and out.
    steady = ~found.cutting[:, 2]
    taken = found.watts[:, 2].sum(axis=1)
    assert_allclose(results["electric_power"][runs][steady], taken[steady], rtol=5e-3)


def test_a_stated_speed_stays_and_gives_the_same_numbers(shelf: Study, results: Any) -> None:
    again = evaluate(shelf, builds_of(shelf, results))
    runs = results["status"] == MATCHED
    for key in ("electric_power", "safety_margin", "stress_margin", "speed"):
        assert_array_equal(again[key][runs], results[key][runs])


def test_margins_trip_and_recheck_are_those_at_that_speed(shelf: Study, results: Any) -> None:
    row = int(np.flatnonzero(results["status"] == MATCHED)[0])
    one = {key: values[row : row + 1] for key, values in results.items()}
    plain = study(ranges=RANGES.replace("settled", "9000 rpm"), loads=LOADS.replace(
        "  settled_with: [led-lamp, laptop]\n", ""
    ))  # fmt: skip
    same = evaluate(plain, builds_of(plain, one))
    assert_array_equal(same["safety_margin"], one["safety_margin"])
    assert_array_equal(
        with_trip(plain, same)["peak_ratio"], with_trip(shelf, one)["peak_ratio"]
    )  # fmt: skip
    assert_array_equal(
        with_recheck(plain, same)["resolved_power"], with_recheck(shelf, one)["resolved_power"]
    )


def test_what_settles_nowhere_has_no_numbers_and_says_so(shelf: Study, drawn: Builds) -> None:
    """Seals that hold the shaft, beside builds that cannot exist."""
    heavy = {**drawn, "shaft_seal_torque": np.full(24, 5.0)}
    found = evaluate(shelf, heavy)
    nowhere = found["status"] == SETTLES_NOWHERE
    assert nowhere.any()
    assert SETTLES_NOWHERE in STATUS_MEANING
    assert np.isnan(found["electric_power"][nowhere]).all()
    assert np.isnan(found["speed"][nowhere]).all()
    # A bore beyond the disc stays what it is.
    assert (
        found["status"][drawn["exhaust_bore"] >= drawn["disc_diameter"]] == "bad geometry"
    ).all()
    assert found.keys() == evaluate(shelf, drawn).keys()


def test_one_point_settles_too(shelf: Study) -> None:
    texts = ["disc_count=8", "disc_diameter=100mm", "gap=0.4mm", "exhaust_bore=36mm",
             "generator_kv=500rpm/V", "drive_ratio=1"]  # fmt: skip
    point = point_of(shelf, texts)
    assert point.results["status"][0] == MATCHED
    assert_allclose(point.results["speed"][0], point.socket[2].speed, rtol=1e-3)
    held = point_of(shelf, [*texts, "speed=9000rpm"])
    assert_allclose(held.results["speed"][0], 9000 * 2 * np.pi / 60)


@pytest.mark.parametrize(
    ("parts", "line", "words"),
    [
        ({"loads": ""}, 12, "settles without a bus"),
        ({"loads": LOADS.replace("  voltage: 36 V\n", "")}, 12, "settles without a bus"),
        (
            {
                "head": HEAD.replace("generator: spindle-48v, ", ""),
                "ranges": RANGES.replace(
                    "  generator_kv: {choices: [300 rpm/V, 500 rpm/V]}\n", ""
                ),
            },
            11,
            "settles without a generator of known voltage",
        ),
        ({"loads": LOADS.replace("laptop]", "lapptop]")}, 15, "perhaps you meant laptop"),
        ({"ranges": RANGES.replace("settled", "setled")}, 12, "a rotational speed"),
    ],
)  # fmt: skip
def test_mistakes_are_told(parts: dict[str, str], line: int, words: str) -> None:
    with pytest.raises(StudyError, match=words) as caught:
        study(**parts)
    assert caught.value.problems[0].line == line


def test_nothing_is_odd_about_it(tmp_path: Any) -> None:
    path = tmp_path / "shelf.yaml"
    path.write_text(HEAD + RANGES + LOADS, encoding="utf-8")
    assert not [each for each in oddities(path, study()) if "speed" in str(each)]


def test_it_can_be_written_and_searched_around(shelf: Study) -> None:
    text = HEAD + RANGES + LOADS
    build = {
        "disc_count": "8", "disc_diameter": "100 mm", "gap": "0.4 mm", "inlet_angle": "10 deg",
        "exhaust_bore": "36 mm", "generator_kv": "500 rpm/V", "drive_ratio": "1",
        "speed": value_text("speed", np.nan),
    }  # fmt: skip
    assert build["speed"] == "settled"
    assert np.isnan(parse_overrides([f"{k}={v}" for k, v in build.items()], shelf)["speed"])
    around = parse_study(study_around(text, "shelf.yaml", [build]), "around.yaml")
    assert around.speed_settles
    held = study_around(text, "shelf.yaml", [{**build, "speed": "9000 rpm"}])
    assert "9000 rpm" in held
