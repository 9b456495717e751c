"""Worker processes: the same front with any number of them, even if one dies."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from engine.columns import Builds, Results
from engine.model.evaluation import evaluate
from engine.run.folder import FRONT, LOG, read_designs
from engine.run.runner import run
from engine.run.workers import (
    LARGEST_CHUNK,
    SMALLEST_CHUNK,
    Workers,
    chunked,
    fewest_for,
    starts_at_once,
)
from engine.search.space import Space
from engine.study.reader import parse_study, read_study
from engine.study.study import Study
from tests.support import standin
from tests.support.places import STUDIES, SUPPORT
from tests.support.waiting import wait_until

SCRIPT = str(SUPPORT / "on_workers.py")
ENVIRONMENT = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}


def spawn(path: Path, count: int, how: str = "") -> "subprocess.Popen[str]":
    return subprocess.Popen(  # noqa: S603
        [sys.executable, SCRIPT, str(path), str(count), how],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=ENVIRONMENT,
    )


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("runs") / "whole"
    study, text = standin.study_of(800)
    run(
        study=study,
        study_text=text,
        path=path,
        evaluate=standin.evaluate,
        model_version=1,
        part_designs=80,
    )
    return path


def assert_same(path: Path, whole: Path) -> None:
    assert (path / FRONT).read_bytes() == (whole / FRONT).read_bytes()
    found = read_designs(path)
    for key, values in read_designs(whole).items():
        np.testing.assert_array_equal(found[key], values, err_msg=key)


@pytest.mark.parametrize(("count", "how"), [(3, ""), (2, "killed")])
def test_workers_give_the_run_of_one_process_even_if_one_dies(
    whole: Path, tmp_path: Path, count: int, how: str
) -> None:
    path = tmp_path / "run"
    process = spawn(path, count, how)
    output, errors = process.communicate(timeout=100)
    assert process.returncode == 0, errors
    assert output.split("\n")[-2] == ("done 2" if how else "done 0")
    assert_same(path, whole)
    log = (path / LOG).read_text()
    assert log.count("a worker died; ") == (2 if how else 0)
    assert f"evaluated by {count} processes" in log


def test_a_build_that_kills_every_worker_ends_the_run_with_a_message(tmp_path: Path) -> None:
    process = spawn(tmp_path / "run", 2, "fatal")
    _, errors = process.communicate(timeout=100)
    assert process.returncode == 1
    told = errors.split("\n")[-2]
    assert "workers keep dying, perhaps for lack of memory" in told
    assert "another search.seed passes it by" in told
    assert (tmp_path / "run" / LOG).read_text().count("a worker died") == 3


@pytest.mark.skipif(not Path("/proc").exists(), reason="processes are looked up in /proc")
def test_workers_end_with_a_killed_run_and_another_number_of_them_continues_it(
    whole: Path, tmp_path: Path
) -> None:
    path = tmp_path / "run"
    process = spawn(path, 2)
    assert process.stdout is not None
    workers: list[str] = []
    for line in process.stdout:
        designs, *workers = line.split()
        if int(designs) >= 280:
            break
    assert len(workers) == 1
    process.kill()
    process.communicate()
    wait_until(lambda: not any(is_alive(pid) for pid in workers))  # none outlives its run
    output, errors = spawn(path, 1).communicate(timeout=100)
    assert output.split("\n")[-2] == "done 0", errors
    assert_same(path, whole)


def is_alive(pid: str) -> bool:
    try:
        state = Path("/proc", pid, "stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"  # ended, but its parent has not noticed yet


@pytest.mark.parametrize("n_builds", [1, 31, 32, 33, 400, 5000])
@pytest.mark.parametrize("n_workers", [1, 2, 7])
def test_chunks_contain_every_build_once_and_in_order(n_builds: int, n_workers: int) -> None:
    chunks = chunked({"speed": np.arange(float(n_builds))}, n_workers)
    np.testing.assert_array_equal(
        np.concatenate([each["speed"] for each in chunks]), np.arange(n_builds)
    )
    sizes = [len(each["speed"]) for each in chunks]
    assert max(sizes) <= LARGEST_CHUNK
    assert min(sizes[:-1], default=SMALLEST_CHUNK) >= SMALLEST_CHUNK


def test_few_builds_are_evaluated_without_workers() -> None:
    here: list[int] = []

    def evaluate_here(_: Study, builds: Builds) -> Results:
        here.append(len(builds["speed"]))
        return dict(builds)

    study = read_study(STUDIES / "lane-workshop.yaml")
    with Workers("", 2, evaluate_here, fewest=fewest_for(study)) as workers:
        workers(study, {"speed": np.arange(400.0)})
        assert here == [400]
        assert workers._pool is None


@pytest.mark.parametrize(("count", "at_once"), [(2, False), (1, True)])
def test_no_worker_starts_before_it_is_needed(count: int, at_once: bool) -> None:
    with Workers("", count, evaluate, at_once=at_once) as workers:
        assert workers._pool is None


def test_workers_start_at_once_for_generations_that_are_worth_it() -> None:
    text = (STUDIES / "lane-workshop.yaml").read_text()
    many = parse_study(text.replace("generation: 400", "generation: 1500"), "lane.yaml")
    assert starts_at_once(many, 3)
    assert not starts_at_once(many, 4)
    assert not starts_at_once(parse_study(text, "lane.yaml"), 2)
    with Workers(text, 2, evaluate, at_once=True) as workers:
        (ready,) = workers._starting
        ready.result()


def test_a_generation_in_chunks_gives_the_same_results_to_the_last_bit() -> None:
    """Results of a build do not depend on its neighbours, so any number of workers will do."""
    study = read_study(STUDIES / "lane-workshop.yaml")
    space = Space.of(study)
    builds = space.builds(space.sample(256, np.random.default_rng(5)))
    whole = evaluate(study, builds)
    pieces = [evaluate(study, each) for each in chunked(builds, 5)]
    assert len(pieces) == 5
    for key, values in whole.items():
        joined = np.concatenate([each[key] for each in pieces])
        np.testing.assert_array_equal(joined, values, err_msg=key)
