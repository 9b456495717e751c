"""Nothing in a run folder is believed that does not fit its run: changed, swapped, damaged."""

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine.errors import RunFolderError, SwirlstackError
from engine.run.folder import FRONT, LOG, STATE, STUDY, read_designs, read_front, read_state
from engine.run.read import read_history, study_of_run
from engine.run.runner import Outcome
from engine.run.seals import sealed_text, unsealed
from tests.support import standin

start: Callable[..., Outcome] = standin.start
assert_same_run: Callable[[Path, Path], None] = standin.assert_same_run
DAMAGES = int(os.environ.get("FUZZ_DAMAGES", "12"))
"""Damages tried here; 500 were tried by hand."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An undisturbed run."""
    path = tmp_path_factory.mktemp("runs") / "whole"
    start(path, designs=240)
    return path


@pytest.fixture
def run(whole: Path, tmp_path: Path) -> Path:
    """A copy of it to damage."""
    return Path(shutil.copytree(whole, tmp_path / "run"))


def begin_again(path: Path) -> None:
    start(path, designs=240)


def test_a_study_is_no_run_folder(tmp_path: Path) -> None:
    (tmp_path / "air.yaml").write_text("title: Air", "utf-8")
    with pytest.raises(
        RunFolderError, match=r"air\.yaml: is a file, not a run folder; .* runs/air"
    ):
        read_state(tmp_path / "air.yaml")


def test_an_edited_study_is_not_believed_and_is_put_back(
    whole: Path, run: Path, caplog: pytest.LogCaptureFixture
) -> None:
    text = (run / STUDY).read_text("utf-8")
    (run / STUDY).write_text(text.replace("min: 1.2", "min: 9"), "utf-8")
    with pytest.raises(RunFolderError, match=r"study\.yaml: was changed after the run began"):
        study_of_run(run)
    begin_again(run)
    assert "study.yaml: was changed or lost, and is put back" in caplog.text
    assert (run / STUDY).read_bytes() == (whole / STUDY).read_bytes()
    assert_same_run(run, whole)


def test_a_lost_study_is_named_and_put_back(whole: Path, run: Path) -> None:
    (run / STUDY).unlink()
    with pytest.raises(RunFolderError, match=r"study\.yaml: cannot be read: .*; give the command"):
        study_of_run(run)
    begin_again(run)
    assert (run / STUDY).read_bytes() == (whole / STUDY).read_bytes()


def test_the_front_of_another_run_is_named_and_made_anew(
    whole: Path, run: Path, tmp_path: Path
) -> None:
    start(tmp_path / "other", designs=240, margin=1.5)
    shutil.copy(tmp_path / "other" / FRONT, run / FRONT)
    with pytest.raises(RunFolderError, match=r"front\.parquet: is not of this run"):
        read_front(run)
    begin_again(run)
    assert_same_run(run, whole)


def test_an_altered_number_of_the_state_is_named_and_counted_again(whole: Path, run: Path) -> None:
    entries = unsealed((run / STATE).read_text("utf-8"))
    (run / STATE).write_text(json.dumps(entries | {"front": 3}), "utf-8")
    with pytest.raises(RunFolderError, match=r"run\.json: is damaged or was changed"):
        read_state(run)
    begin_again(run)
    assert read_state(run)[1].front == read_state(whole)[1].front


@pytest.mark.parametrize(
    "content",
    ["[" * 100_000, "3", "null", '"a"', "{}", '{"digest": 1}', "\ud800", "NaN", "[1, 2]", "{]"],
)
def test_no_text_of_the_state_is_a_traceback(whole: Path, run: Path, content: str) -> None:
    (run / STATE).write_bytes(content.encode("utf-8", "surrogatepass"))
    with pytest.raises(RunFolderError, match=r"run\.json: is damaged or was changed; give the"):
        read_state(run)
    begin_again(run)
    assert_same_run(run, whole)


def test_entries_of_the_state_of_another_kind_are_damage(run: Path) -> None:
    entries = unsealed((run / STATE).read_text("utf-8"))
    for key, value in (("statuses", [1]), ("designs", "many"), ("limits_met", 3), ("front", None)):
        (run / STATE).write_text(sealed_text(entries | {key: value}), "utf-8")
        with pytest.raises(RunFolderError, match=r"run\.json: is damaged"):
            read_state(run)


def test_a_lost_state_beside_a_bench_plan_and_notes_is_counted_again(
    whole: Path, run: Path
) -> None:
    (run / STATE).unlink()
    (run / "plan-3").mkdir()
    (run / "notes.txt").write_text("the third design looks best", "utf-8")
    begin_again(run)
    assert_same_run(run, whole)
    assert (run / "notes.txt").exists()


def test_a_lost_state_and_a_lost_study_are_made_again_from_the_parts(
    whole: Path, run: Path
) -> None:
    (run / STATE).unlink()
    (run / STUDY).unlink()
    begin_again(run)
    assert_same_run(run, whole)
    assert (run / STUDY).read_bytes() == (whole / STUDY).read_bytes()


def test_a_log_that_is_a_folder_is_named(run: Path) -> None:
    (run / FRONT).unlink()
    (run / LOG).unlink()
    (run / LOG).mkdir()
    with pytest.raises(RunFolderError, match=r"run\.log: is a folder where the log of the run"):
        begin_again(run)


def test_parts_in_another_order_are_made_anew(whole: Path, run: Path) -> None:
    one, other = sorted((run / "designs").iterdir())[:2]
    one.rename(run / "designs" / "kept")
    other.rename(one)
    (run / "designs" / "kept").rename(other)
    (run / STATE).unlink()
    begin_again(run)
    assert_same_run(run, whole)


def damaged(path: Path, random: np.random.Generator) -> str:
    """Damage one file of a run in one way; says how."""
    files = sorted(each for each in path.rglob("*") if each.is_file() and each.name != ".lock")
    file = files[random.integers(len(files))]
    content = bytearray(file.read_bytes())
    kind = ["flipped", "footer", "cut", "noise", "empty", "gone", "folder", "swapped"][
        random.integers(8)
    ]
    if kind == "flipped":
        content[random.integers(len(content))] ^= 1 << random.integers(8)
    elif kind == "footer":
        content[-1 - random.integers(min(3000, len(content)))] ^= 1 << random.integers(8)
    elif kind == "cut":
        content = content[: random.integers(len(content))]
    elif kind == "noise":
        at = random.integers(len(content))
        content[at : at + 20] = random.bytes(20)
    elif kind == "empty":
        content = bytearray()
    elif kind == "swapped":
        content = bytearray(files[random.integers(len(files))].read_bytes())
    if kind in ("gone", "folder"):
        file.unlink()
        if kind == "folder":
            file.mkdir()
    else:
        file.write_bytes(bytes(content))
    return f"{kind} {file.relative_to(path)}"


def read_whole(path: Path) -> list[np.ndarray[Any, Any]]:
    """What readers believe of a run; empty where a line is told instead."""
    readers: tuple[Callable[[], np.ndarray[Any, Any]], ...] = (
        lambda: read_designs(path)["electric_power"],
        lambda: read_history(path).rows["hypervolume"],
        lambda: read_front(path).get("design", np.zeros(0)),
    )
    found = []
    for read in readers:
        try:
            found.append(read())
        except SwirlstackError:
            found.append(np.zeros(0))
    return found


def refusal(path: Path) -> str:
    """Give the command again; the line that it ends with, '' where it makes all anew."""
    try:
        begin_again(path)
    except SwirlstackError as error:
        return str(error)
    return ""


def test_random_damage_is_made_anew_put_back_or_a_line(whole: Path, tmp_path: Path) -> None:
    random = np.random.default_rng(4)
    right = read_whole(whole)
    for trial in range(DAMAGES):
        run = Path(shutil.copytree(whole, tmp_path / f"run-{trial}"))
        how = damaged(run, random)
        for found, true in zip(read_whole(run), right, strict=True):
            if found.size:
                np.testing.assert_array_equal(found, true, err_msg=how)
        if told := refusal(run):
            assert str(run) in told, how
            assert "folder" in how or "swapped" in how, (how, told)
        else:
            assert_same_run(run, whole)
            assert (run / STUDY).read_bytes() == (whole / STUDY).read_bytes(), how
            assert read_state(run)[1].front == read_state(whole)[1].front
        shutil.rmtree(run)
