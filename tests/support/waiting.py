"""Waiting for a thing to happen, however slow the machine is."""

import subprocess
import time
from collections.abc import Callable
from typing import Any

PATIENCE = 600.0
"""Time after which something that should have happened is taken as hung [s]."""


def wait_until(happened: Callable[[], Any], process: "subprocess.Popen[Any] | None" = None) -> Any:
    """Wait for something, and give it; fails where the process that brings it about ends before."""
    end = time.monotonic() + PATIENCE
    while not (found := happened()):
        assert process is None or process.poll() is None, "the process ended before"
        assert time.monotonic() < end, "nothing happened"
        time.sleep(0.02)
    return found
