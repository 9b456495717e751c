"""Runaway speed: the first at which nothing drives the rotor any further."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from engine.columns import Results
from engine.model.driven import driven
from engine.model.evaluation import builds_of, evaluate, with_runaway
from engine.model.runaway import BESIDE, CLOSE, runaway_ratio, torque_told
from engine.model.validity import RUNAWAY, RUNAWAY_BOUND, runaway_told
from engine.physics.arrays import Lanes, Reason
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from engine.search.space import Space
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


def test_a_speed_at_which_torque_is_not_known_is_passed_up_to_the_next_that_brakes() -> None:
    def torque(lane: Any, r: Lanes) -> Lanes:
        # Driven up to 3, not known up to `end`, then without flow; the last lane brakes before.
        end = np.array([4.0, 7.5, np.inf, 4.0])[lane]
        found = np.where(r < 3.0, 3.5 - r, np.where(r < end, np.inf, np.nan))
        return np.asarray(np.where((lane == 3) & (r < 3.0), 2.0 - r, found))

    found = runaway_ratio(torque, torque(np.arange(4), np.ones(4)))
    assert_allclose(found, [4.0, 7.5, HIGHEST_RUNAWAY, 2.0], rtol=CLOSE)
    assert found[2] == HIGHEST_RUNAWAY


def test_no_torque_is_asked_for_twice() -> None:
    asked: list[tuple[int, float]] = []

    def torque(lane: Any, r: Lanes) -> Lanes:
        asked.extend(zip(lane.tolist(), r.tolist(), strict=True))
        return np.asarray(np.array([1.7, 4.0, 9.0])[lane] - r)

    runaway_ratio(torque, np.array([0.7, 3.0, 8.0]))
    assert len(asked) > 20
    assert len(set(asked)) == len(asked)


def test_torque_is_told_as_known_braking_or_perhaps_driving() -> None:
    found = {
        "shaft_torque": np.array([1.0, -1.0, np.nan, np.nan, 1.0, -1.0]),
        "status": np.array([0, 0, Reason.NO_FLOW, Reason.GAP_CHOKED, *[Reason.RIM_BACKFLOW] * 2]),
        "is_bound": np.array([False, False, True, True, True, True]),
    }
    assert_array_equal(torque_told(found), [1.0, -1.0, np.nan, np.inf, np.inf, -1.0])
    notes = runaway_told(np.array(["", "a", "", "a", "", ""]), found | {"shaft_torque": np.ones(6)})
    told = [RUNAWAY_BOUND, f"a; {RUNAWAY_BOUND}"]
    assert notes.tolist()[:2] == ["", "a"]
    assert notes.tolist()[3:5] == [told[1], told[0]]
    again = runaway_told(notes, found)
    assert_array_equal(again[:5], notes[:5])


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


MILL = read_study(STUDIES / "mill-race.yaml")


@pytest.fixture(scope="module")
def thrown() -> Results:
    """Builds in water that throw it out at the rim before they cease to be driven."""
    space = Space.of(MILL)
    start = evaluate(MILL, space.builds(space.draw(400, np.random.default_rng(2))))
    found = with_runaway(MILL, start)
    rows = np.flatnonzero(np.strings.find(found["validity"], RUNAWAY) >= 0)
    assert rows.size > 40
    return {key: values[rows] for key, values in found.items()}


def test_water_thrown_out_at_the_rim_drives_on_below_runaway_speed(thrown: Results) -> None:
    """By the resolved level, which follows what the discs throw out, where it has an answer."""
    n = thrown["speed"].size
    given = builds_of(MILL, thrown) | {"gap_flow": np.full(n, "resolved")}
    ratios = thrown["runaway_ratio"][:, None] * np.array([0.7, 0.9, 1.15])
    torque = torques(MILL, given, np.maximum(ratios, 1.0)) / thrown["shaft_torque"][:, None]
    known = np.isfinite(torque)
    assert known[:, :2].any(axis=1).sum() >= 4
    assert (torque[:, 0][known[:, 0]] > 0.1).all()
    assert (torque[:, 1][known[:, 1]] > 0).all()
    assert not (torque[:, 2] > 0).any()


def test_torque_of_such_builds_changes_sign_at_runaway_speed_alone(thrown: Results) -> None:
    n = thrown["speed"].size
    shares = np.linspace(0.5, 1.1, 13)
    ratios = np.maximum(thrown["runaway_ratio"][:, None] * shares, 1.0).ravel()
    faster = {
        key: np.repeat(values, shares.size) for key, values in builds_of(MILL, thrown).items()
    }
    faster["speed"] = faster["speed"] * ratios
    found = driven(MILL, faster, "beyond")
    torque = found["shaft_torque"].reshape(n, -1) / thrown["shaft_torque"][:, None]
    refused = found["status"].reshape(n, -1) == Reason.RIM_BACKFLOW
    assert (refused[:, shares < 1.01]).any(axis=1).all()
    told = ~found["is_bound"].reshape(n, -1)
    assert (torque[:, shares < 0.99][told[:, shares < 0.99]] > 0).all()
    assert (torque[:, shares > 1.01][told[:, shares > 1.01]] < 0).all()


def test_steam_that_churns_is_followed_and_bounds_are_told() -> None:
    study = read_study(STUDIES / "orchard-boiler.yaml")
    space = Space.of(study)
    start = evaluate(study, space.builds(space.draw(150, np.random.default_rng(2))))
    found = with_runaway(study, start)
    kinds = [np.strings.find(found["validity"], note) >= 0 for note in (RUNAWAY, RUNAWAY_BOUND)]
    assert all(kind.sum() > 2 for kind in kinds)
    # What lies just above is known to brake.
    above = builds_of(study, found)
    above["speed"] = above["speed"] * found["runaway_ratio"] * np.exp(BESIDE)
    beyond = torque_told(driven(study, above, "beyond"))
    ends = found["runaway_ratio"] < HIGHEST_RUNAWAY
    assert not (beyond[ends] > 0).any()


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
