"""What tests of code that is kept on disk share."""

from pathlib import Path

import pytest

from engine.physics import machine_code
from engine.private import make_private


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder in which code is kept."""
    place = tmp_path / "code"
    make_private(place)
    monkeypatch.setattr(machine_code, "code_folder", lambda: place)
    machine_code._tell_damaged.cache_clear()
    return place
