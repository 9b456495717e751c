"""The tables in shared/, found alike in a checkout and in an installation."""

import tomllib
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any


def shared_file(name: str) -> Traversable:
    """File of this name in shared/: inside the package once installed, beside it in a checkout."""
    installed = files("engine") / "shared"
    folder = installed if installed.is_dir() else Path(__file__).parents[1] / "shared"
    return folder / name


def read_table(name: str) -> dict[str, Any]:
    """Rows of `shared/NAME.toml` by key, in the order of the file."""
    return tomllib.loads(shared_file(f"{name}.toml").read_text(encoding="utf-8"))
