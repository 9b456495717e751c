"""Parts of the compiled code, for a test to call one alone."""

from typing import Any

from engine.physics.compiled import entry


def from_python(part: Any) -> Any:
    """Compile a function that only compiled functions call so that Python may call it."""
    return entry(part.py_func)
