"""Where the threads of a run take their memory from."""

import ctypes
import sys

_MOST_HEAPS = -8
"""The C library's number for the setting (mallopt(3), M_ARENA_MAX)."""


def share_heap() -> None:
    """Let all threads take memory from one heap, where the C library has one for each.

    What a thread has freed is then there for the others. It is too late once a thread has begun.
    """
    if sys.platform == "linux":
        setting = getattr(ctypes.CDLL(None), "mallopt", None)
        if setting is not None:
            setting(_MOST_HEAPS, 1)
