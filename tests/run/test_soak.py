"""Runs killed at random times or stopped by a power cut: the same front, and nothing lost.

The long form, fifty kills, is run with `python -m pytest tests/run/test_soak.py -m soak`.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from engine.run.folder import FRONT, read_designs, read_state
from tests.support.places import SUPPORT

SCRIPT = SUPPORT / "standin.py"
DESIGNS = 800
KILLED = -9
"""Exit code of a killed process; Windows has no signal of that name."""


def spawn(path: Path, pause: float) -> "subprocess.Popen[str]":
    return subprocess.Popen(  # noqa: S603
        [sys.executable, str(SCRIPT), str(path), str(DESIGNS), str(pause)],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )


def parts_of(path: Path) -> dict[Path, bytes]:
    """Parts that are complete."""
    parts = {part: part.read_bytes() for part in sorted((path / "designs").glob("part-*"))}
    return {part: content for part, content in parts.items() if content.endswith(b"PAR1")}


def killed(path: Path, generator: np.random.Generator) -> bool:
    """Start a run and kill it at a random time; give whether it was still running."""
    process = spawn(path, 0.004)
    assert process.stdout is not None
    if generator.random() < 0.2:
        # In the first moments, while the folder is made and claimed.
        while not path.exists() and process.poll() is None:
            time.sleep(0.001)
    else:
        done = read_state(path)[1].designs if (path / "run.json").exists() else 0
        wanted = generator.integers(done, DESIGNS + 1)
        for line in process.stdout:
            if line.strip().isdigit() and int(line) >= wanted:
                break
    time.sleep(float(generator.random() * 0.02))
    process.kill()
    process.communicate()
    return process.returncode == KILLED


def cut_power(path: Path, generator: np.random.Generator) -> Path | None:
    """Do what a power cut may do: shorten the last file, and leave a file half-written."""
    parts = list(parts_of(path))
    (path / "designs").mkdir(parents=True, exist_ok=True)
    (path / "designs" / f".part-{len(parts):06d}.parquet.tmp").write_bytes(b"PAR1 half")
    (path / ".run.json.tmp").write_bytes(b"{")
    if not parts:
        return None
    content = parts[-1].read_bytes()
    parts[-1].write_bytes(content[: int(generator.integers(0, len(content)))])
    return parts[-1]


@pytest.mark.parametrize(("n_kills", "seed"), [(3, 1), pytest.param(50, 2, marks=pytest.mark.soak)])
def test_kills_and_power_cuts_do_not_change_the_front(
    tmp_path: Path, n_kills: int, seed: int
) -> None:
    generator = np.random.default_rng(seed)
    quiet = tmp_path / "quiet"
    assert spawn(quiet, 0.0).communicate()[0].split()[-1] == "done"
    kills = cuts = 0
    for night in range(10 * n_kills):
        if kills >= n_kills:
            break
        path = tmp_path / f"night-{night}"
        stored: dict[Path, bytes] = {}
        for _ in range(int(generator.integers(1, 6))):
            if not killed(path, generator):
                break
            kills += 1
            kept = parts_of(path)
            if generator.random() < 0.5:
                cuts += 1
                cut = cut_power(path, generator)
                kept = {part: content for part, content in kept.items() if part != cut}
                stored = {part: content for part, content in stored.items() if part != cut}
            stored.update(kept)
        assert spawn(path, 0.0).communicate()[0].split()[-1] == "done"
        for part, content in stored.items():
            assert part.read_bytes() == content, "a stored part was lost"
        assert (path / FRONT).read_bytes() == (quiet / FRONT).read_bytes()
        found = read_designs(path)
        for key, values in read_designs(quiet).items():
            np.testing.assert_array_equal(found[key], values, err_msg=key)
        assert not list(path.rglob("*.tmp"))
    assert kills >= n_kills
    assert cuts > 0
    print(f"{kills} kills, {cuts} of them power cuts, {night} nights")  # noqa: T201
