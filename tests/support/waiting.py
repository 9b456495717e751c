"""Waiting for a thing to happen, however slow the machine is."""

import subprocess
import time
from collections.abc import Callable

PATIENCE = 600.0
"""Time after which something that should have happened is taken as hung [s]."""


def wait_until(
    happened: Callable[[], object], process: "subprocess.Popen[bytes] | None" = None
) -> None:
    """Wait for something that a process brings about; fails where it ends without."""
    end = time.monotonic() + PATIENCE
    while not happened():
        assert process is None or process.poll() is None, "the process ended before"
        assert time.monotonic() < end, "nothing happened"
        time.sleep(0.02)
