"""Machine code on disk that is damaged, poisoned, or in a folder of others."""

import importlib.util
import logging
import os
import pickle
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine import cache
from engine.errors import StudyError
from engine.physics import compiled, machine_code
from engine.private import make_private

KERNEL = "def tripled(x):\n    return 3 * x\n"
DAMAGES = int(os.environ.get("FUZZ_DAMAGES", "16"))
"""Damages tried here; 50 were tried by hand."""
on_posix = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")


class _Poison:
    """Makes a folder when it is unpickled."""

    def __init__(self, trap: Path) -> None:
        self.trap = str(trap)

    def __reduce__(self) -> tuple[Any, ...]:
        return os.mkdir, (self.trap,)


@pytest.fixture(autouse=True)
def no_module_left() -> Iterator[None]:
    """Forget a module of a test after it."""
    yield
    sys.modules.pop("tiny_kernel", None)


@pytest.fixture
def run(tmp_path: Path, place: Path) -> Callable[[], int]:
    """Run a kernel as a new process would; give how often it was read from disk."""
    module = tmp_path / "tiny_kernel.py"
    module.write_text(KERNEL, encoding="utf-8")
    function = loaded(module).tripled

    def once() -> int:
        kernel: Any = compiled.entry(function)
        assert kernel(1.5) == 4.5
        return sum(kernel.stats.cache_hits.values())

    return once


def loaded(module: Path) -> Any:
    """Load a module from a file, as a new process would."""
    spec = importlib.util.spec_from_file_location("tiny_kernel", module)
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = made  # where the names that it uses are looked up
    spec.loader.exec_module(made)
    return made


def files(place: Path) -> list[Path]:
    return sorted(path for path in place.rglob("*") if path.suffix in (".nbi", ".nbc"))


def damage(path: Path, kind: str, random: np.random.Generator, trap: Path) -> None:
    content = bytearray(path.read_bytes())
    if kind == "flipped":
        content[random.integers(len(content))] ^= 1 << random.integers(8)
    elif kind == "cut":
        content = content[: random.integers(len(content))]
    elif kind == "noise":
        content = bytearray(random.bytes(int(random.integers(1, 4000))))
    elif kind == "poison":
        content = bytearray(pickle.dumps(_Poison(trap)))
    if kind == "gone":
        path.unlink()
    elif kind == "folder":
        path.unlink()
        path.mkdir()
    else:
        path.write_bytes(bytes(content if kind != "empty" else b""))


def test_damaged_code_is_made_anew_and_never_run(
    place: Path, run: Callable[[], int], tmp_path: Path
) -> None:
    random = np.random.default_rng(8)
    kinds = ("flipped", "flipped", "cut", "empty", "noise", "poison", "gone", "folder")
    assert run() == 0
    assert run() == 1
    assert len(files(place)) == 2
    for trial in range(DAMAGES):
        kind = kinds[trial % len(kinds)]
        path = files(place)[random.integers(2)]
        damage(path, kind, random, tmp_path / "trap")
        assert run() == 0, (kind, path.name)
        assert not (tmp_path / "trap").exists(), "what was damaged was run"
        if kind == "folder":
            path.rmdir()
            run()
        assert run() == 1, (kind, path.name)


def test_every_index_emptied_is_said_once_with_its_folder(
    place: Path, run: Callable[[], int], caplog: pytest.LogCaptureFixture
) -> None:
    run()
    for path in files(place):
        path.write_bytes(b"")
    with caplog.at_level(logging.WARNING, "swirlstack"):
        run()
        for path in files(place):
            path.write_bytes(b"")
        run()
    (said,) = caplog.messages
    assert str(place) in said
    assert "compiled code is damaged, and is made anew" in said


@on_posix
def test_the_folder_is_closed_to_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("numba.core.config.CACHE_DIR", str(tmp_path))
    made = machine_code.code_folder.__wrapped__()
    assert made is not None
    assert made.parent == tmp_path
    assert stat.S_IMODE(made.stat().st_mode) == 0o700
    made.chmod(0o755)
    assert machine_code.code_folder.__wrapped__() == made
    assert stat.S_IMODE(made.stat().st_mode) == 0o700


@on_posix
def test_a_folder_that_others_may_write_to_is_refused_with_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("numba.core.config.CACHE_DIR", str(tmp_path))
    made = machine_code.code_folder.__wrapped__()
    assert made is not None
    made.chmod(0o777)
    with caplog.at_level(logging.WARNING, "swirlstack"):
        assert machine_code.code_folder.__wrapped__() is None
    assert f"{made}: may be written to by others, so that nothing in it" in caplog.text
    assert "delete this folder" in caplog.text
    shutil.rmtree(made)
    assert machine_code.code_folder.__wrapped__() == made


@on_posix
def test_a_folder_of_another_user_or_a_link_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert make_private(tmp_path / "own") == ""
    (tmp_path / "link").symlink_to(tmp_path / "own")
    assert make_private(tmp_path / "link") == "is a link"
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert make_private(tmp_path / "own") == "belongs to another user"


@on_posix
def test_code_lies_in_the_folder_of_the_user_that_no_other_may_write_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("numba.core.config.CACHE_DIR", "")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    made = machine_code.code_folder.__wrapped__()
    assert made is not None
    assert made.parent == tmp_path / "swirlstack"
    made.parent.chmod(0o777)
    assert machine_code.code_folder.__wrapped__() is None


def test_the_folders_used_last_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("numba.core.config.CACHE_DIR", "")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    home = tmp_path / "swirlstack"
    old = [home / f"{machine_code.NAME}{number:02}" for number in range(15)]
    for age, place in enumerate(reversed(old)):
        make_private(place)
        (place / "code").touch()
        os.utime(place, (2e9 - age, 1e9 - age))
    (home / "table.npz").touch()
    made = machine_code.code_folder.__wrapped__()
    left = old[-machine_code.MOST_KEPT + 1 :]
    assert {*home.iterdir()} == {made, *left, home / "table.npz"}


def test_environments_of_a_user_share_code(tmp_path: Path, place: Path) -> None:
    hits = []
    for name in ("one", "other"):
        module = tmp_path / name / "machine" / "tiny_kernel.py"
        module.parent.mkdir(parents=True)
        module.write_text(KERNEL, encoding="utf-8")
        kernel: Any = compiled.entry(loaded(module).tripled)
        assert kernel(1.5) == 4.5
        hits.append(sum(kernel.stats.cache_hits.values()))
    assert hits == [0, 1]
    assert {file.parent for file in files(place)} == {place / "machine"}


@pytest.mark.parametrize("changed", ["CPU_NAME", "CPU_FEATURES"])
def test_another_processor_has_code_of_its_own(
    changed: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = Path(machine_code.__file__).parent
    ours = machine_code._digest(here)
    monkeypatch.setattr(f"numba.core.config.{changed}", "another")
    assert machine_code._digest(here) != ours


@on_posix
def test_tables_in_a_folder_of_others_are_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    made = {"numbers": np.arange(3.0)}
    cache.cached({"of": "others"}, lambda: made)
    assert stat.S_IMODE((tmp_path / "swirlstack").stat().st_mode) == 0o700
    (tmp_path / "swirlstack").chmod(0o777)
    cache._is_private.cache_clear()
    other = {"numbers": np.arange(4.0)}
    with caplog.at_level(logging.WARNING, "swirlstack"):
        assert cache.cached({"of": "others"}, lambda: other) is other
    assert "may be written to by others" in caplog.text
    cache._is_private.cache_clear()


@pytest.mark.parametrize("given", ["abc", "0", "-2", "1.5", "99999"])
def test_a_number_of_threads_that_is_none_is_told(
    given: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWIRLSTACK_THREADS", given)
    with pytest.raises(StudyError, match=r"SWIRLSTACK_THREADS: .* is not a number of threads"):
        compiled.on_every_core(lambda *_: None, n_lanes=8)
