"""Threads of a run share one heap."""

import platform
import subprocess
import sys

import pytest

TOLD = """
import ctypes, threading
from engine.run.heap import share_heap
if {shares}:
    share_heap()
met = threading.Barrier(3)
def take():
    taken = [bytes(1000) for _ in range(100)]
    met.wait()
threads = [threading.Thread(target=take) for _ in range(3)]
for each in threads:
    each.start()
for each in threads:
    each.join()
ctypes.CDLL(None).malloc_stats()
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="one heap for each thread is glibc's")
@pytest.mark.parametrize("shares", [True, False])
def test_threads_take_memory_from_one_heap_when_told_so(shares: bool) -> None:
    command = [sys.executable, "-c", TOLD.format(shares=shares)]
    told = subprocess.run(command, capture_output=True, text=True, check=True)  # noqa: S603
    assert ("Arena 1:" not in told.stderr) == shares
    assert "Arena 0:" in told.stderr
