"""A robust search samples only what may count, and comes to the front of one that samples all."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from numpy.typing import NDArray

from engine.bands.results import UNSAMPLED
from engine.columns import CHANCE_ALL
from engine.model.evaluation import builds_of
from engine.model.lanes import rows_of
from engine.model.limits import MATCHED
from engine.run import sampled
from engine.run.folder import LOG, read_designs, read_front, read_state
from engine.run.generations import Evaluate
from engine.run.parquet import joined
from engine.run.runner import Outcome, run
from engine.search.space import Space
from engine.study.reader import parse_study
from engine.study.study import Study
from tests.support import standin

Columns = dict[str, NDArray[Any]]
RPM = 2 * np.pi / 60
DESIGNS = 1600


def study_of() -> tuple[Study, str]:
    _, text = standin.study_of(DESIGNS)
    text = text.replace("seed: 3}", "seed: 3, robust: true}")
    return parse_study(text, "known.yaml"), text


def evaluate(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
    """What `evaluate_judged` is to the model, for the stand-in; shares kept differ by build."""
    given = {key: values for key, values in builds.items() if key != UNSAMPLED}
    level = given.get("gap_flow", np.full(len(given["speed"]), "averaged"))
    found = given if "status" in given else standin.evaluate(study, given) | {"gap_flow": level}
    if UNSAMPLED in builds:
        return found
    kept = 0.85 + 0.05 * np.sin(1e4 * found["gap"] + found["speed"] / 300)
    bands = {
        "electric_power_p10": kept * found["electric_power"],
        "safety_margin_p10": (0.97 - 0.02 * np.cos(found["speed"])) * found["safety_margin"],
        "mass_flow_p90": 1.02 * found["mass_flow"],
        CHANCE_ALL: np.full(len(kept), 0.9),
    }
    works = found["status"] == MATCHED
    return found | {key: np.where(works, values, np.nan) for key, values in bands.items()}


def start(path: Path, *, evaluate: Evaluate = evaluate, **given: Any) -> Outcome:
    study, text = study_of()
    usual: dict[str, Any] = {"part_designs": 200} | given
    return run(study=study, study_text=text, path=path, evaluate=evaluate, model_version=1, **usual)


def sampling_all(patch: pytest.MonkeyPatch) -> None:
    """Let each design be sampled, as without the choice."""

    def whole(study: Study, builds: Columns, *, evaluate: Evaluate, **_: object) -> Columns:
        return evaluate(study, builds)

    patch.setattr(sampled, "evaluated", whole)


@pytest.fixture(scope="module")
def ended(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("runs") / "some"
    assert start(path).state.state == "done"
    return path


@pytest.fixture(scope="module")
def all_sampled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("runs") / "all"
    with pytest.MonkeyPatch.context() as patch:
        sampling_all(patch)
        assert start(path).state.unsampled == 0
    return path


def bare(designs: Columns) -> NDArray[np.bool_]:
    return np.asarray((designs["status"] == MATCHED) & np.isnan(designs[CHANCE_ALL]))


def assert_same(found: Columns, expected: Columns) -> None:
    assert found.keys() == expected.keys()
    for key, values in expected.items():
        assert_array_equal(found[key], values, err_msg=key)


def test_the_front_and_what_is_sampled_are_those_of_a_search_that_samples_all(
    ended: Path, all_sampled: Path
) -> None:
    assert_same(read_front(ended), read_front(all_sampled))
    found, whole = read_designs(ended), read_designs(all_sampled)
    assert len(found["design"]) == len(whole["design"])
    kept = ~bare(found)
    assert_same(rows_of(found, kept), rows_of(whole, kept))


def test_a_design_that_is_not_sampled_has_no_band_is_counted_and_never_feasible(
    ended: Path,
) -> None:
    found, (_, state) = read_designs(ended), read_state(ended)
    some = rows_of(found, bare(found))
    assert len(some["design"]) == state.unsampled > DESIGNS / 5
    for key in ("electric_power_p10", "safety_margin_p10", "mass_flow_p90"):
        assert np.isnan(some[key]).all(), key
    assert np.isfinite(some["electric_power"]).all()
    assert not some["feasible"].any()
    assert (some["violation"] >= 1).all()
    assert not np.isin(read_front(ended)["design"], some["design"]).any()
    # Those that miss a limit as drawn are told by how much.
    far = some["safety_margin"] < 1.2
    assert len(np.unique(some["violation"][far])) > 1
    assert f"evaluated as drawn only: {state.unsampled} designs" in (ended / LOG).read_text()


def test_a_stop_or_a_kill_changes_nothing(ended: Path, tmp_path: Path) -> None:
    seen = 0

    def dies(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
        nonlocal seen
        seen += 1
        if seen == 31:
            raise KeyboardInterrupt
        return evaluate(study, builds)

    with pytest.raises(KeyboardInterrupt):
        start(tmp_path / "run", evaluate=dies)
    stopped = start(tmp_path / "run", stop=lambda: seen > 30)
    assert stopped.state.state == "interrupted"
    assert start(tmp_path / "run").state.state == "done"
    standin.assert_same_run(tmp_path / "run", ended)


def test_a_damaged_part_is_made_again_as_it_was(ended: Path, tmp_path: Path) -> None:
    stopped = start(tmp_path / "run", stop=lambda: True, part_designs=40)
    assert stopped.state.state == "interrupted"
    start(tmp_path / "run")
    second = sorted((tmp_path / "run").glob("**/part-*"))[1]
    second.write_bytes(second.read_bytes()[:100])
    (tmp_path / "run" / "front.parquet").unlink()
    start(tmp_path / "run")
    standin.assert_same_run(tmp_path / "run", ended)


def test_how_builds_are_cut_into_calls_changes_nothing(ended: Path, tmp_path: Path) -> None:
    def in_pieces(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
        pieces = np.array_split(np.arange(len(builds["speed"])), 3)
        whole = {key: np.asarray(values) for key, values in builds.items()}
        return joined(evaluate(study, rows_of(whole, rows)) for rows in pieces if rows.size)

    start(tmp_path / "run", evaluate=in_pieces)
    standin.assert_same_run(tmp_path / "run", ended)


def test_what_a_fallen_design_had_beaten_is_sampled_then(tmp_path: Path) -> None:
    """At the best angle nothing settles when resolved, so builds at the next angles come back."""

    def fails(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
        found = evaluate(study, builds)
        at_best = np.abs(np.degrees(found["inlet_angle"]) - 10) < 0.5
        lost = at_best & (found["gap_flow"] == "resolved")
        return found | {"status": np.where(lost, "not converged", found["status"])}

    def recheck(study: Study, front: Columns) -> Columns:
        builds = builds_of(study, front) | {"gap_flow": np.full(len(front["speed"]), "resolved")}
        stands = fails(study, builds)["status"] == MATCHED
        return front | {"resolved_difference": np.where(stands, 0.0, np.nan)}

    outcome = start(tmp_path / "some", evaluate=fails, recheck=recheck)
    with pytest.MonkeyPatch.context() as patch:
        sampling_all(patch)
        start(tmp_path / "all", evaluate=fails, recheck=recheck)
    assert len(outcome.state.fallen) >= 3
    space = Space.of(study_of()[0])
    found, whole = read_front(tmp_path / "some"), read_front(tmp_path / "all")
    assert_array_equal(space.index(found), space.index(whole))
    designs = read_designs(tmp_path / "some")
    index = space.index(designs)
    again = designs["design"] > outcome.state.searched
    twice = [
        number
        for number in np.flatnonzero(again)
        if (index[:number] == index[number]).all(axis=1).any()
    ]
    assert twice  # first as drawn, then with samples
    assert not bare(rows_of(designs, np.array(twice))).any()
