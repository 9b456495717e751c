"""Damaged and missing parts, parts closed by time, and the log of a run."""

import re
import shutil
import subprocess
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from numpy.typing import NDArray

from engine.columns import Results
from engine.run.folder import FRONT, LOG, STATE, read_designs
from engine.run.generations import Evaluate
from engine.run.runner import Outcome
from engine.study.study import Study
from tests.support import standin

evaluate: Evaluate = standin.evaluate
start: Callable[..., Outcome] = standin.start
spawn_held: Callable[..., "subprocess.Popen[str]"] = standin.spawn_held
assert_same_run: Callable[[Path, Path], None] = standin.assert_same_run


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An undisturbed run."""
    path = tmp_path_factory.mktemp("runs") / "whole"
    start(path)
    return path


@pytest.mark.parametrize("numbers", [[0], [4], [3, 4, 5], [0, 9], [9], range(10)])
def test_damaged_parts_are_named_and_made_again_and_the_others_kept(
    whole: Path, tmp_path: Path, numbers: Sequence[int]
) -> None:
    path = tmp_path / "run"
    shutil.copytree(whole, path)
    parts = sorted((path / "designs").iterdir())
    for number in numbers:
        parts[number].write_bytes(parts[number].read_bytes()[:-9])
    evaluated: list[int] = []

    def counted(study: Study, builds: Mapping[str, NDArray[Any]]) -> Results:
        evaluated.append(len(builds["speed"]))
        return evaluate(study, builds)

    assert start(path, evaluate=counted).state.state == "done"
    assert sum(evaluated) == 80 * len(numbers)
    assert_same_run(path, whole)
    log = (path / LOG).read_text()
    for number in numbers:
        assert f"part-{number:06d}.parquet: cannot be read (damaged)" in log


def test_a_missing_part_and_a_damaged_front_and_state_are_made_again(
    whole: Path, tmp_path: Path
) -> None:
    path = tmp_path / "run"
    shutil.copytree(whole, path)
    (path / "designs" / "part-000002.parquet").unlink()
    (path / STATE).write_text("{")
    (path / FRONT).write_bytes(b"")
    assert start(path).state.designs == 800
    assert_same_run(path, whole)


def test_a_damaged_front_needs_no_evaluation(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "run"
    shutil.copytree(whole, path)
    (path / FRONT).write_bytes(b"PAR1")
    start(path, evaluate=lambda *_: pytest.fail("nothing was to be evaluated"))
    assert_same_run(path, whole)


def test_parts_closed_by_time_change_nothing(whole: Path, tmp_path: Path) -> None:
    start(tmp_path / "run", part_designs=10_000, part_seconds=0.0)
    assert_same_run(tmp_path / "run", whole)
    assert len(list((tmp_path / "run" / "designs").iterdir())) == 20


def test_the_log_records_starts_progress_and_the_end(whole: Path, tmp_path: Path) -> None:
    path = tmp_path / "run"
    process = spawn_held(path, 280)
    process.kill()
    process.communicate()
    stored = len(read_designs(path)["design"])
    with (path / LOG).open("a") as file:
        file.write("a line torn by a power c")
    start(path)
    lines = (path / LOG).read_text().splitlines()
    stamp = r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d[+-]\d\d:\d\d "
    whole_lines = [line for line in lines if not line.startswith("a line torn")]
    assert len(whole_lines) == len(lines) - 1
    for line in whole_lines:
        assert re.match(stamp, line), line
    told = "\n".join(re.sub(stamp, "", line) for line in whole_lines)
    assert f"started, process {process.pid}: study " in told
    assert re.search(
        r"\d+ of 800 designs, \w+, .* feasible, front \d+, best electric_power_W", told
    )
    assert "the start before this one: was killed, or the power failed; where it dies" in told
    assert "another search.seed passes it by" in told
    assert f"continues after {stored} stored designs" in told
    assert re.search(r"done: 800 designs, \d+ inside every limit, \d+ on the front, ", told)


def test_an_error_during_a_run_is_logged_on_one_line(tmp_path: Path) -> None:
    def fail(*_: object) -> Results:
        msg = "first\nsecond"
        raise ValueError(msg)

    with pytest.raises(ValueError, match="first"):
        start(tmp_path / "run", evaluate=fail)
    last = (tmp_path / "run" / LOG).read_text().splitlines()[-1]
    assert last.endswith("stopped by ValueError: first | second")
