"""The front of a finished run holds only designs that stand when the gap flow is resolved."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.model.evaluation import builds_of
from engine.model.limits import MATCHED
from engine.run.finish import finished
from engine.run.folder import FRONT, LOG, read_designs, read_front, read_state
from engine.run.proof import BEATEN, MISSES, UNSETTLED
from engine.run.runner import Outcome
from engine.search.front import merits, nondominated
from engine.study.study import Study
from tests.support import standin

Columns = dict[str, NDArray[Any]]
RPM = 2 * np.pi / 60
DESIGNS = 800


def fast(builds: Mapping[str, NDArray[Any]]) -> NDArray[np.bool_]:
    """Whether the averaged level flatters a build, by a third, at 18,000 to 20,500 rpm."""
    speed = builds["speed"] / RPM
    return np.asarray((speed > 17_500) & (speed < 20_500))


def evaluate(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
    """The stand-in, flattered at the averaged level; at 18,000 rpm resolved flow never settles."""
    level = builds.get("gap_flow", np.full(len(builds["speed"]), "averaged"))
    results: Columns = standin.evaluate(study, builds) | {"gap_flow": level}
    resolved, lucky = level == "resolved", fast(builds)
    power = results["electric_power"] * np.where(lucky & ~resolved, 1.33, 1.0)
    lost = resolved & (np.abs(builds["speed"] / RPM - 18_000) < 1)
    return results | {
        "electric_power": np.where(lost, np.nan, power),
        "status": np.where(lost, "not converged", results["status"]),
    }


def recheck(study: Study, front: Columns) -> Columns:
    builds = builds_of(study, front) | {"gap_flow": np.full(len(front["speed"]), "resolved")}
    power = evaluate(study, builds)["electric_power"]
    difference = power / front["electric_power"] - 1
    return front | {"resolved_power": power, "resolved_difference": difference}


def start(path: Path, **given: Any) -> Outcome:
    return standin.start(path, designs=DESIGNS, evaluate=evaluate, recheck=recheck, **given)


@pytest.fixture(scope="module")
def ended(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("runs") / "proved"
    assert start(path).state.state == "done"
    return path


def test_no_flattered_design_is_left_and_those_it_had_beaten_are_back(ended: Path) -> None:
    front = read_front(ended)
    # A design judged by its resolved power may stay, and then has it.
    true = front["electric_power"]
    assert_allclose(true, front["resolved_power"])
    assert (front["gap_flow"][fast(front)] == "resolved").all()
    study, _ = standin.study_of(DESIGNS)
    assert nondominated(merits(front, study.aims)).all()
    # Written out: of all stored designs, judged by their true power, none beats the front.
    designs = read_designs(ended)
    designs = {key: values[designs["feasible"] == 1] for key, values in designs.items()}
    truth = standin.evaluate(study, designs)["electric_power"]
    lost = np.abs(designs["speed"] / RPM - 18_000) < 1
    best = {
        speed: truth[~lost & np.isclose(designs["speed"], speed)].max()
        for speed in np.unique(designs["speed"][~lost])
    }
    for speed, power in zip(front["speed"], true, strict=True):
        faster = [each for other, each in best.items() if other <= speed + 1e-9]
        assert power >= max(faster) * (1 - 1e-9)


def test_what_fell_is_counted_and_named(ended: Path) -> None:
    _, state = read_state(ended)
    assert state.fallen
    assert set(state.fallen.values()) <= {UNSETTLED, MISSES, BEATEN}
    assert UNSETTLED in state.fallen.values()
    front = read_front(ended)
    assert state.front == len(front["design"])
    assert not {*map(int, state.fallen)} & {*front["design"].astype(int).tolist()}
    assert_allclose(front["rank"], np.arange(1, state.front + 1))
    log = (ended / LOG).read_text("utf-8")
    assert f"taken off the front after the recheck: {len(state.fallen)}" in log
    for number, reason in state.fallen.items():
        assert f"design {number}: {reason}" in log


def test_builds_beside_what_fell_are_tried_once(ended: Path) -> None:
    designs = read_designs(ended)
    assert len(designs["design"]) > DESIGNS
    keys = ("disc_count", "gap", "inlet_angle", "exhaust_bore", "speed")
    builds = np.stack([designs[key] for key in keys], axis=1)
    assert len(np.unique(builds, axis=0)) == len(builds)
    _, state = read_state(ended)
    assert state.designs == len(builds)


def test_a_run_stopped_before_its_proof_ends_with_the_same_front(
    ended: Path, tmp_path: Path
) -> None:
    class StoppedError(Exception):
        """The power fails while the front is judged."""

    calls = []

    def fails(study: Study, front: Columns) -> Columns:
        calls.append(len(front["design"]))
        if len(calls) == 2:
            raise StoppedError
        return recheck(study, front)

    path = tmp_path / "proved"
    with pytest.raises(StoppedError):
        standin.start(path, designs=DESIGNS, evaluate=evaluate, recheck=fails)
    assert read_state(path)[1].state == "running"
    assert start(path).state.state == "done"
    found, expected = read_front(path), read_front(ended)
    for key, values in expected.items():
        np.testing.assert_array_equal(found[key], values, err_msg=key)
    assert (path / FRONT).exists()


def test_without_a_recheck_nothing_is_judged(tmp_path: Path) -> None:
    outcome = standin.start(tmp_path / "run", designs=DESIGNS, evaluate=evaluate)
    assert not outcome.state.fallen
    assert outcome.state.designs == DESIGNS
    assert fast(read_front(tmp_path / "run")).any()
    assert set(read_front(tmp_path / "run")["status"]) == {MATCHED}


def test_designs_of_both_levels_are_finished_a_level_at_a_time(
    shop_air: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[list[str]] = []

    def one(_: Study, some: Columns) -> Columns:
        seen.append(np.unique(some["gap_flow"]).tolist())
        return some | {"twice": 2 * some["speed"]}

    monkeypatch.setattr("engine.run.finish._of_one_level", one)
    level = np.array(["averaged", "resolved", "averaged"])
    both = {"speed": np.array([1.0, 2.0, 3.0]), "gap_flow": level}
    found = finished(shop_air, both)
    assert seen == [["averaged"], ["resolved"]]
    assert found["twice"].tolist() == [2.0, 4.0, 6.0]
    assert found["gap_flow"].tolist() == level.tolist()


def test_a_front_on_which_nothing_stands_is_empty(tmp_path: Path) -> None:
    def never(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
        found = evaluate(study, builds)
        lost = found["gap_flow"] == "resolved"
        return found | {"status": np.where(lost, "not converged", found["status"])}

    def unsure(_: Study, front: Columns) -> Columns:
        return front | {"resolved_difference": np.full(len(front["design"]), np.nan)}

    outcome = standin.start(
        tmp_path / "run", designs=DESIGNS, evaluate=never, recheck=unsure, part_designs=10_000
    )
    assert outcome.state.front == 0
    assert outcome.state.fallen
    assert not (tmp_path / "run" / FRONT).exists()
