import errno
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.columns import Results
from engine.errors import RunFolderError, StorageError
from engine.model.limits import with_standing
from engine.run.folder import CLOSEST, FRONT, read_designs, read_frame, read_front, read_state
from engine.run.generations import Evaluate
from engine.run.log import Progress
from engine.run.runner import Outcome, run
from engine.run.summary import CLOSEST_DESIGNS, Summary
from engine.search.front import merits, nondominated
from engine.study.reader import parse_study
from engine.study.study import Study
from tests.support import standin
from tests.support.places import SUPPORT

SCRIPT = SUPPORT / "standin.py"
study_of: Callable[..., tuple[Study, str]] = standin.study_of
evaluate: Evaluate = standin.evaluate
start: Callable[..., Outcome] = standin.start
spawn_held: Callable[..., "subprocess.Popen[str]"] = standin.spawn_held
assert_same_run: Callable[[Path, Path], None] = standin.assert_same_run
RPM = 2 * np.pi / 60
KILLED = -9
"""Exit code of a killed process; Windows has no signal of that name."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An undisturbed run."""
    path = tmp_path_factory.mktemp("runs") / "whole"
    start(path)
    return path


def test_the_known_front_is_found(tmp_path: Path) -> None:
    outcome = start(tmp_path / "run", designs=4000)
    front = read_front(tmp_path / "run")
    np.testing.assert_allclose(front["speed"][::-1] / RPM, standin.FRONT_SPEEDS)
    np.testing.assert_allclose(front["gap"], 0.3e-3)
    np.testing.assert_allclose(front["disc_count"], 14)
    np.testing.assert_allclose(front["exhaust_bore"], 0.040)
    np.testing.assert_allclose(front["inlet_angle"], np.radians(10))
    assert outcome.state.front == len(standin.FRONT_SPEEDS)
    assert outcome.state.state == "done"
    assert not outcome.exhausted


def test_no_feasible_design_beats_the_front_and_every_limit_is_kept(whole: Path) -> None:
    study, _ = study_of()
    designs, front = read_designs(whole), read_front(whole)
    assert len(designs["design"]) == 800
    np.testing.assert_array_equal(designs["design"], np.arange(1, 801))
    inside = (
        (designs["status"] == "matched")
        & (designs["mass_flow"] <= 0.014 * (1 + 1e-9))
        & (designs["safety_margin"] >= 1.2 * (1 - 1e-9))
        & (designs["bore_ratio"] <= 0.8 * (1 + 1e-9))
        & (designs["bore_wall"] >= 1e-3 * (1 - 1e-9))
    )
    np.testing.assert_array_equal(designs["feasible"], inside)
    np.testing.assert_array_equal(designs["violation"] == 0, inside)
    best = nondominated(
        merits({key: values[inside] for key, values in designs.items()}, study.aims)
    )
    assert sorted(front["design"]) == sorted(designs["design"][inside][best])
    assert (front["feasible"] == 1).all()


def test_the_front_is_ranked_by_its_first_aim(whole: Path) -> None:
    front = read_front(whole)
    assert front["rank"].tolist() == list(range(1, len(front["rank"]) + 1))
    assert (np.diff(front["electric_power"]) <= 0).all()


def test_front_rows_are_rows_of_the_designs(whole: Path) -> None:
    front = read_frame(whole).set_index("design").drop(columns=["rank", "front_kind"])
    designs = read_frame(whole, "designs").set_index("design").loc[front.index]
    for name in front:
        np.testing.assert_array_equal(front[name].to_numpy(), designs[name].to_numpy())


def test_the_same_study_gives_the_same_run(whole: Path, tmp_path: Path) -> None:
    start(tmp_path / "again")
    assert_same_run(tmp_path / "again", whole)


def test_the_size_of_parts_changes_nothing(whole: Path, tmp_path: Path) -> None:
    start(tmp_path / "large", part_designs=10_000)
    assert_same_run(tmp_path / "large", whole)
    assert len(list((tmp_path / "large" / "designs").iterdir())) == 1
    assert len(list((whole / "designs").iterdir())) == 10


def test_a_run_killed_several_times_ends_like_an_undisturbed_one(
    whole: Path, tmp_path: Path
) -> None:
    path = tmp_path / "run"
    for designs in (120, 280, 520):
        process = spawn_held(path, designs)
        process.kill()
        process.communicate()
        assert process.returncode == KILLED
        assert read_state(path)[1].state == "running"
    assert 0 < len(read_designs(path)["design"]) < 800
    outcome = start(path)
    assert outcome.state.designs == 800
    assert_same_run(path, whole)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_a_run_with_everything_stored(
    whole: Path, tmp_path: Path, number: signal.Signals
) -> None:
    path = tmp_path / "run"
    process = spawn_held(path, 120)
    process.send_signal(number)
    output, _ = process.communicate(timeout=20)
    assert process.returncode == 0
    assert output.split()[-1] == "interrupted"
    state = read_state(path)[1]
    assert state.state == "interrupted"
    assert 120 <= state.designs < 800
    assert len(read_designs(path)["design"]) == state.designs
    assert len(read_front(path)["rank"]) == state.front > 0
    assert start(path).state.state == "done"
    assert_same_run(path, whole)


def test_a_stop_ends_a_run_and_the_same_call_continues_it(whole: Path, tmp_path: Path) -> None:
    seen: list[Progress] = []
    outcome = start(tmp_path / "run", progress=seen.append, stop=lambda: len(seen) == 3)
    assert outcome.state.state == "interrupted"
    assert outcome.state.designs == 120
    assert start(tmp_path / "run").state.state == "done"
    assert_same_run(tmp_path / "run", whole)


def test_signal_handlers_are_restored_after_a_run(tmp_path: Path) -> None:
    before = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    start(tmp_path / "run", designs=40)
    assert [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)] == before


def test_a_run_works_outside_the_main_thread(tmp_path: Path) -> None:
    outcomes: list[Outcome] = []
    thread = threading.Thread(target=lambda: outcomes.append(start(tmp_path / "run", designs=40)))
    thread.start()
    thread.join()
    assert outcomes[0].state.state == "done"


def test_a_second_process_is_refused(tmp_path: Path) -> None:
    process = spawn_held(tmp_path / "run", 40)
    with pytest.raises(RunFolderError, match="run: is in use by another process"):
        start(tmp_path / "run")
    process.kill()
    process.communicate()
    assert start(tmp_path / "run").state.state == "done"


def test_another_study_is_refused_in_the_same_folder(whole: Path) -> None:
    with pytest.raises(RunFolderError, match="belongs to another study"):
        start(whole, margin=1.3)


def test_a_completed_run_is_not_run_again(whole: Path) -> None:
    def never(*_: object) -> Results:
        pytest.fail("nothing was left to evaluate")

    before = (whole / FRONT).stat().st_mtime_ns
    outcome = start(whole, evaluate=never)
    assert outcome.state == read_state(whole)[1]
    assert (whole / FRONT).stat().st_mtime_ns == before


def test_a_full_disk_during_a_run_loses_only_what_was_not_stored(
    whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, real = tmp_path / "run", os.fsync
    calls = iter(range(1000))

    def fill_up(handle: int) -> None:
        if next(calls) > 13:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(handle)

    monkeypatch.setattr(os, "fsync", fill_up)
    with pytest.raises(StorageError, match=r"part-00000\d\.parquet: could not be written"):
        start(path)
    monkeypatch.undo()
    assert not list(path.rglob("*.tmp"))
    assert 0 < len(read_designs(path)["design"]) < 800
    assert start(path).state.state == "done"
    assert_same_run(path, whole)


@pytest.mark.skipif(sys.platform == "win32", reason="no file size limit there")
def test_a_file_that_grows_past_the_size_limit_of_its_process_is_named(tmp_path: Path) -> None:
    code = (
        "import resource, runpy, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (9000, 9000));"
        f"sys.argv = ['x', {str(tmp_path / 'run')!r}, '400', '0'];"
        f"runpy.run_path({str(SCRIPT)!r}, run_name='__main__')"
    )
    process = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert "StorageError" in process.stderr
    assert "part-000000.parquet: could not be written (file too large)" in process.stderr
    assert not list((tmp_path / "run").rglob("*.tmp"))
    assert start(tmp_path / "run", designs=400).state.state == "done"


def test_nothing_feasible_keeps_the_closest_and_names_the_limits(tmp_path: Path) -> None:
    path = tmp_path / "run"
    outcome = start(path, margin=9.0)
    assert outcome.state.feasible == outcome.state.front == 0
    assert outcome.biting[0] == "safety_margin"
    assert outcome.state.limits_met["safety_margin"] == 0
    assert outcome.state.statuses["matched"] < 800 == sum(outcome.state.statuses.values())
    closest = read_front(path, CLOSEST)
    assert len(closest["design"]) == CLOSEST_DESIGNS
    designs = read_designs(path)
    nearest = np.sort(designs["violation"])[:CLOSEST_DESIGNS]
    np.testing.assert_array_equal(closest["violation"], nearest)
    # The search goes towards the limit: 5000 rpm gives the largest margin, 6 of 9.
    assert closest["speed"][0] == pytest.approx(5000 * RPM)
    assert not (path / FRONT).exists()


def test_closest_designs_are_deleted_once_a_feasible_one_is_found(tmp_path: Path) -> None:
    path = tmp_path / "run"
    first = start(path, designs=2000, margin=5.9, stop=lambda: True)
    assert first.state.feasible == 0, "the first generation must hold nothing feasible"
    assert (path / CLOSEST).exists()
    last = start(path, designs=2000, margin=5.9)
    assert last.state.feasible > 0
    assert (path / FRONT).exists()
    assert not (path / CLOSEST).exists()


def test_a_space_smaller_than_the_budget_is_evaluated_whole(tmp_path: Path) -> None:
    text = study_of(10**6)[1]
    for wide, single in (
        ("{min: 6 deg, max: 20 deg, step: 1 deg}", "10 deg"),
        ("{min: 20 mm, max: 90 mm, step: 2 mm}", "40 mm"),
    ):
        assert wide in text
        text = text.replace(wide, single)
    outcome = run(
        study=parse_study(text, "small.yaml"),
        study_text=text,
        path=tmp_path / "run",
        evaluate=evaluate,
        model_version=1,
    )
    assert outcome.exhausted
    assert outcome.state.designs == 29 * 4 * 26
    front = read_front(tmp_path / "run")
    np.testing.assert_allclose(front["speed"][::-1] / RPM, standin.FRONT_SPEEDS)


def test_finish_adds_columns_only_to_the_front(tmp_path: Path) -> None:
    def with_runaway(_: Study, front: Results) -> Results:
        return front | {"runaway_ratio": 1.5 * front["safety_margin"]}

    start(tmp_path / "run", designs=200, finish=with_runaway)
    front = read_front(tmp_path / "run")
    np.testing.assert_allclose(front["runaway_ratio"], 1.5 * front["safety_margin"])
    assert "runaway_ratio" not in read_designs(tmp_path / "run")


def test_a_design_whose_aim_is_not_a_number_is_not_feasible(tmp_path: Path) -> None:
    def patchy(study: Study, builds: Mapping[str, NDArray[Any]]) -> Results:
        found = evaluate(study, builds)
        slow = builds["speed"] < 20000 * RPM
        return found | {"electric_power": np.where(slow, np.nan, found["electric_power"])}

    start(tmp_path / "run", designs=400, evaluate=patchy)
    designs = read_designs(tmp_path / "run")
    unknown = np.isnan(designs["electric_power"])
    assert unknown.any()
    assert (designs["feasible"][unknown] == 0).all()
    assert read_front(tmp_path / "run")["speed"].min() >= 20000 * RPM * (1 - 1e-9)


def test_progress_reports_counts_and_times(tmp_path: Path) -> None:
    seen: list[Progress] = []
    start(tmp_path / "run", designs=400, progress=seen.append)
    assert [now.designs for now in seen] == list(range(40, 401, 40))
    assert {now.budget for now in seen} == {400}
    last = seen[-1]
    assert last.remaining == 0 < last.elapsed
    assert seen[4].remaining > 0
    state = read_state(tmp_path / "run")[1]
    assert last.feasible_share == state.feasible / 400
    assert last.front == state.front
    assert last.best == pytest.approx(read_front(tmp_path / "run")["electric_power"][0])


def test_stored_designs_are_those_the_search_was_given(tmp_path: Path) -> None:
    outcome = start(tmp_path / "run", designs=200)
    study = study_of()[0]
    recalled = Summary(study.aims, with_standing(study.all_limits))
    recalled.add(read_designs(tmp_path / "run"))
    assert recalled.feasible == outcome.state.feasible
    assert dict(recalled.limits_met) == outcome.state.limits_met
    front = read_front(tmp_path / "run")
    assert set(front.pop("front_kind").tolist()) == {"nominal"}
    for key, values in front.items():
        np.testing.assert_array_equal(recalled.ranked_front()[key], values)
