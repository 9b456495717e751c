"""Memory and time of a sweep of ten million designs, and of the page made from it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("sweep_of_standin.py")
READER = (
    "import resource, sys, time; from engine.run.folder import read_designs;"
    "t = time.perf_counter();"
    "n = len(read_designs(sys.argv[1], ['electric_power', 'speed', 'status'], 200000)['speed']);"
    "m = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024;"
    "print(f'{n} rows read in {time.perf_counter() - t:.1f} s, at most {m:.0f} MiB')"
)


@pytest.mark.speed
@pytest.mark.parametrize("designs", [10_000_000])
def test_a_sweep_keeps_its_memory_and_its_pace(tmp_path: Path, designs: int) -> None:
    run = tmp_path / "run"
    told = _output(str(SCRIPT), str(run), str(designs), str(designs // 10))
    rows = [[float(each) for each in line.split()] for line in told.splitlines()]
    before = [0.0, 0.0]
    for done, seconds, memory in rows:
        pace = 1e6 * (seconds - before[1]) / (done - before[0])
        print(f"{done:12,.0f} designs: {pace:5.1f} us a design, {memory:4.0f} MiB at most")  # noqa: T201
        before = [done, seconds]
    print(_output("-c", READER, str(run)).strip())  # noqa: T201


def _output(*arguments: str) -> str:
    return subprocess.run(  # noqa: S603
        [sys.executable, *arguments],
        check=True,
        text=True,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    ).stdout
