"""A run with a refine stage, one that ends early, and the front as Optuna's trials."""

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import optuna
import pyarrow.parquet as pq
import pytest
from numpy.typing import NDArray
from optuna.storages import JournalStorage
from optuna.storages.journal import JournalFileBackend

from engine import cli
from engine.errors import RunFolderError, StorageError, StudyError
from engine.files import refuse_present
from engine.run import details
from engine.run.folder import read_designs, read_front, read_state
from engine.run.log import Progress
from engine.run.read import hand_to_optuna
from engine.run.runner import Outcome, run
from engine.run.seals import BLANK, DIGEST, sealed
from engine.study.reader import parse_study
from engine.study.study import Study
from reports.run.inside import is_resolved
from tests.support import standin

SEARCH = """\
search:
  {{designs: {designs}, generation: 40, seed: 3, patience: {patience}, refined: {refined},
    stages: [{stages}]}}
"""
Columns = dict[str, NDArray[Any]]


def study_of(
    *, designs: int = 800, refined: int = 120, patience: int = 1000, stages: str = "evolve, refine"
) -> tuple[Study, str]:
    _, text = standin.study_of()
    search = SEARCH.format(designs=designs, patience=patience, refined=refined, stages=stages)
    text = text[: text.index("search:")] + search
    return parse_study(text, "known.yaml"), text


def evaluate(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
    """The stand-in; with resolved gap flow a twentieth more flow and a tenth less power."""
    level = builds.get("gap_flow", np.full(len(builds["speed"]), "averaged"))
    results: Columns = standin.evaluate(study, builds) | {"gap_flow": level}
    resolved = level == "resolved"
    results["mass_flow"] = np.where(resolved, 1.05, 1.0) * results["mass_flow"]
    results["electric_power"] = np.where(resolved, 0.9, 1.0) * results["electric_power"]
    return results


def search(
    path: Path, *, part: int = 80, stop_after: int = 10**9, **keys: Any
) -> tuple[Outcome, list[Progress]]:
    study, text = study_of(**keys)
    seen: list[Progress] = []
    outcome = run(
        study=study,
        study_text=text,
        path=path,
        evaluate=evaluate,
        model_version=1,
        progress=seen.append,
        stop=lambda: len(seen) >= stop_after,
        part_designs=part,
    )
    return outcome, seen


def test_the_front_of_a_refined_run_has_resolved_gap_flow(tmp_path: Path) -> None:
    outcome, seen = search(tmp_path / "run")
    designs, front = read_designs(tmp_path / "run"), read_front(tmp_path / "run")
    assert outcome.state.designs == 920 == outcome.state.budget
    assert not outcome.stalled
    assert [each.stage for each in seen[18:]] == ["evolve", *["refine"] * 4, ""]
    assert (designs["gap_flow"] == "resolved").sum() == 120
    assert (designs["gap_flow"][:800] == "averaged").all()
    assert set(front["gap_flow"].tolist()) == {"resolved"}
    # With resolved gap flow 14 discs draw too much, and 13 are allowed.
    assert front["disc_count"].max() == 13
    assert (front["mass_flow"] <= 14e-3 * (1 + 1e-9)).all()
    averaged = (designs["feasible"][:800] == 1) & (designs["gap"][:800] > 0.29e-3)
    assert designs["disc_count"][:800][averaged].max() == 14


def test_a_refined_run_stopped_after_any_generation_ends_the_same(tmp_path: Path) -> None:
    search(tmp_path / "whole")
    whole, front = read_designs(tmp_path / "whole"), read_front(tmp_path / "whole")
    for stop_after in (1, 7, 19, 20, 21, 22):
        path = tmp_path / f"stopped-{stop_after}"
        outcome, seen = search(path, stop_after=stop_after)
        assert outcome.state.state == "interrupted"
        assert len(seen) == stop_after
        outcome, _ = search(path)
        assert outcome.state.state == "done"
        for table, again in ((whole, read_designs(path)), (front, read_front(path))):
            for key, values in table.items():
                np.testing.assert_array_equal(values, again[key], err_msg=key)


def test_where_nothing_is_feasible_with_resolved_flow_the_averaged_front_is_kept(
    tmp_path: Path,
) -> None:
    study, text = study_of()

    def never(study: Study, builds: Mapping[str, NDArray[Any]]) -> Columns:
        results = evaluate(study, builds)
        return results | {
            "mass_flow": np.where(results["gap_flow"] == "resolved", 1.0, results["mass_flow"])
        }

    outcome = run(
        study=study,
        study_text=text,
        path=tmp_path / "run",
        evaluate=never,
        model_version=1,
    )
    assert outcome.state.designs == 920
    assert set(read_front(tmp_path / "run")["gap_flow"].tolist()) == {"averaged"}


def test_a_run_that_ended_early_says_so_at_every_start(tmp_path: Path) -> None:
    keys: Mapping[str, Any] = {"designs": 20_000, "patience": 5, "stages": "evolve, polish"}
    for _ in range(2):
        outcome, _ = search(tmp_path / "run", **keys)
        assert outcome.stalled
        assert not outcome.exhausted
        assert outcome.state.state == "done"
        assert outcome.state.designs < 15_000
    outcome, _ = search(tmp_path / "whole", designs=80, stages="evolve")
    assert not outcome.stalled


def test_a_front_shows_with_which_gap_flow_it_was_evaluated() -> None:
    study, _ = study_of()
    levels = {level: {"gap_flow": np.array([level] * 2)} for level in ("averaged", "resolved")}
    assert is_resolved(study, levels["resolved"])
    assert not is_resolved(study, levels["averaged"])
    assert not is_resolved(study, {})
    assert details.as_judged(study, levels["resolved"]).search.flow == "resolved"
    assert details.as_judged(study, levels["averaged"]).search.flow == "averaged"
    assert details.as_judged(study, {}).search.flow == "averaged"


def test_a_front_is_exported_to_optuna_in_drawing_units(tmp_path: Path) -> None:
    search(tmp_path / "run", stages="evolve")
    journal = tmp_path / "front.log"
    hand_to_optuna(tmp_path / "run", journal)
    storage = JournalStorage(JournalFileBackend(str(journal)))
    handed = optuna.load_study(study_name="Known front", storage=storage)
    front = read_front(tmp_path / "run")
    assert len(handed.trials) == len(handed.best_trials) == len(front["design"])
    assert handed.metric_names == ["electric_power_W", "safety_margin"]
    for trial, speed, design in zip(handed.trials, front["speed"], front["design"], strict=True):
        assert trial.params["speed_rpm"] == pytest.approx(speed * 60 / (2 * np.pi), rel=1e-9)
        assert trial.user_attrs["design"] == design
        assert "disc_diameter_mm" not in trial.params  # not searched
    with pytest.raises(StudyError, match=r"front.log: exists already; choose another name"):
        refuse_present(journal)
    with pytest.raises(StorageError, match="nowhere"):
        hand_to_optuna(tmp_path / "run", tmp_path / "nowhere" / "front.log")


def test_an_existing_file_is_refused_before_the_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    _, text = study_of()
    (tmp_path / "a.yaml").write_text(text)
    (tmp_path / "front.log").write_text("mine")
    assert cli.main(["run", "a.yaml", "--optuna", "front.log"]) == StudyError.exit_code
    assert "exists already" in capsys.readouterr().err
    assert (tmp_path / "front.log").read_text() == "mine"
    assert not (tmp_path / "runs").exists()


@pytest.mark.parametrize(
    ("stages", "message"),
    [
        (
            "[evolv]",
            "search.stages: 'evolv'; expected screen or evolve or polish or refine",
        ),
        ("[]", "search.stages: no stage; expected one at least; leave the key out"),
        ("[evolve, evolve]", "search.stages: a stage is given twice; keep it once"),
        ("evolve", "search.stages: no list; expected a list such as [one, another]; put it"),
    ],
)
def test_wrong_stages_are_named_with_their_line(stages: str, message: str) -> None:
    _, text = study_of()
    text = text[: text.index("search:")] + f"search:\n  stages: {stages}\n"
    with pytest.raises(StudyError) as caught:
        parse_study(text, "known.yaml")
    found = str(caught.value)
    assert f"known.yaml:{text.count(chr(10))}: {message}" in found
    assert found.count("\n") == 0


def test_a_refine_stage_is_refused_where_all_stages_are_resolved() -> None:
    _, text = study_of()
    search = "search: {flow: resolved, stages: [evolve, refine]}\n"
    with pytest.raises(StudyError, match=r"refine with flow: resolved; leave out refine"):
        parse_study(text[: text.index("search:")] + search, "known.yaml")


def test_a_run_of_an_earlier_version_of_the_search_is_refused(tmp_path: Path) -> None:
    search(tmp_path / "run", stop_after=4)
    old = {"generation": 4, "parents": [1, 2], "children": 2}
    for part in sorted((tmp_path / "run" / "designs").iterdir()):
        table = pq.read_table(part)
        notes = {**table.schema.metadata, b"mark": json.dumps(old).encode()}
        notes[DIGEST.encode()] = BLANK.encode()
        pq.write_table(table.replace_schema_metadata(notes), part)
        part.write_bytes(sealed(part.read_bytes()))
    with pytest.raises(RunFolderError, match="was started by an earlier version of the search"):
        search(tmp_path / "run")


def test_a_state_knows_its_budget(tmp_path: Path) -> None:
    search(tmp_path / "run")
    _, state = read_state(tmp_path / "run")
    assert replace(state, seconds=0.0).budget == 920
