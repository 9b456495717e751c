"""Runaway speed: the first at which nothing drives the rotor any further."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from engine.columns import Results
from engine.model.evaluation import builds_of, evaluate, with_runaway
from engine.model.runaway import CLOSE, runaway_ratio
from engine.physics.arrays import Lanes
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from engine.study.reader import read_study
from engine.study.study import Study
from tests.support.places import STUDIES

Columns = dict[str, NDArray[Any]]
MakeBuilds = Callable[..., dict[str, Any]]


def cubic(*roots: list[float]) -> Callable[[Any, Lanes], Lanes]:
    """Torque of lanes that falls, rises and falls through zero at three ratios."""
    first, second, third = np.array(roots).T
    return lambda lane, r: (first[lane] - r) * (second[lane] - r) * (third[lane] - r)


def test_of_several_roots_the_first_is_found() -> None:
    torque = cubic([1.3, 4.0, 9.0], [2.0, 3.0, 19.0], [5.0, 7.0, 8.0], [1.0001, 2.0, 4.0])
    found = runaway_ratio(torque, torque(np.arange(4), np.ones(4)))
    assert_allclose(found, [1.3, 2.0, 5.0, 1.0001], rtol=CLOSE)


def test_the_end_of_all_operating_points_is_a_root_even_if_there_are_some_beyond() -> None:
    found = runaway_ratio(lambda _, r: np.where((r < 3.3) | (r > 6), 1.0, np.nan), np.ones(1))
    assert_allclose(found, 3.3, rtol=CLOSE)


def test_what_drives_at_the_highest_ratio_has_that_and_what_drives_nothing_has_none() -> None:
    found = runaway_ratio(lambda _, r: np.ones_like(r), np.array([2.0, 0.0, -1.0, np.nan]))
    assert_array_equal(found, [HIGHEST_RUNAWAY, np.nan, np.nan, np.nan])


def test_torque_that_brakes_just_above_operating_speed_ends_there() -> None:
    """As where another flow model says that the build hardly drives its shaft."""
    found = runaway_ratio(lambda _, r: -np.ones_like(r), np.full(1, 1e-3))
    assert_allclose(found, 1.0, rtol=2 * CLOSE)


def torques(study: Study, builds: Columns, ratios: Lanes) -> Lanes:
    """Torque of every build at ratios (build, ratio) to its speed, by whole evaluations."""
    shape = ratios.shape
    faster = {key: np.repeat(values, shape[1]) for key, values in builds.items()}
    faster["speed"] = faster["speed"] * ratios.ravel()
    found: Lanes = evaluate(study, faster)["shaft_torque"].reshape(shape)
    return found


def test_a_fine_scan_of_random_builds_changes_sign_there_and_nowhere_before(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    lanes = random_builds(60, 4)
    found = with_runaway(shop_air, evaluate(shop_air, lanes))["runaway_ratio"]
    ends = (found > 1.001) & (found < HIGHEST_RUNAWAY)
    assert ends.sum() > 30
    some, end = {key: values[ends] for key, values in lanes.items()}, found[ends, None]
    below = torques(shop_air, some, end ** np.linspace(0.0, 1.0, 60)[None] / (1 + 2 * CLOSE))
    assert (below > 0).all()
    assert not (torques(shop_air, some, end * (1 + 2 * CLOSE)) > 0).any()


def test_company_and_order_of_builds_change_no_digit(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    start = evaluate(shop_air, random_builds(12, 4))
    whole = with_runaway(shop_air, start)["runaway_ratio"]
    assert np.isfinite(whole).sum() > 6

    def of(rows: Any) -> Lanes:
        return with_runaway(shop_air, {key: values[rows] for key, values in start.items()})[
            "runaway_ratio"
        ]

    assert_array_equal(of(np.arange(12)[::-1]), whole[::-1])
    assert_array_equal(np.concatenate([of([row]) for row in range(12)]), whole)


LANE = read_study(STUDIES / "lane-workshop.yaml")
THROTTLED: Columns = {
    "disc_count": np.array([5, 5]),
    "disc_diameter": np.array([0.105, 0.11]),
    "gap": np.array([0.6e-3, 0.6e-3]),
    "inlet_angle": np.deg2rad([7, 6]),
    "exhaust_bore": np.array([0.058, 0.064]),
    "speed": np.array([21_000, 5_500]) * np.pi / 30,
    "disc_thickness": np.array([1.5e-3, 1.5e-3]),
    "process": np.array(["waterjet", "waterjet"]),
    "nozzle_width": np.array([0.25e-3, 0.25e-3]),
    "nozzle_count": np.array([3, 3]),
    "spokes": np.array([12, 6]),
    "rim_clearance": np.array([0.3e-3, 0.3e-3]),
}
"""Builds whose resolved flow has no answer at many a speed between running and runaway."""


@pytest.fixture(scope="module")
def resolved() -> Results:
    return evaluate(LANE, {**THROTTLED, "gap_flow": np.full(2, "resolved")})


def test_resolved_flow_where_it_has_an_answer_drives_below_and_brakes_above(
    resolved: Results,
) -> None:
    """It has none at many speeds below, where a rotor is not braked."""
    found = with_runaway(LANE, resolved)["runaway_ratio"]
    shares = np.array([*np.linspace(0.88, 0.98, 11), 1.015, 1.03])
    given = builds_of(LANE, resolved) | {"gap_flow": resolved["gap_flow"]}
    torque = torques(LANE, given, found[:, None] * shares)
    below, above = torque[:, :-2], torque[:, -2:]
    assert np.isnan(below).any(axis=1).all()
    assert np.isfinite(below).any(axis=1).all()
    assert not (below < 0).any()
    assert not (above > 0).any()


def test_both_levels_give_one_runaway_speed(resolved: Results) -> None:
    averaged = evaluate(LANE, builds_of(LANE, resolved))
    assert (averaged["gap_flow"] == "averaged").all()
    assert (averaged["shaft_torque"] != resolved["shaft_torque"]).all()
    one, other = (with_runaway(LANE, each)["runaway_ratio"] for each in (averaged, resolved))
    assert_allclose(one, other, rtol=2 * CLOSE)
