"""Tables that are slow to make, kept on disk; without a place to keep them, made anew."""

import hashlib
import json
import os
import sys
import zipfile
import zlib
from collections.abc import Callable, Mapping
from functools import cache
from importlib import metadata
from io import BytesIO
from pathlib import Path

import numpy as np

from engine.errors import StorageError
from engine.files import make_folder, write_whole
from engine.physics.arrays import Lanes

Arrays = dict[str, Lanes]

RECIPE = 1
"""Raised whenever the same name stands for other arrays."""
_NAME = "name"
version = cache(metadata.version)
"""Version of an installed library, looked up once."""
_DAMAGED = (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile, zlib.error)


def cached(
    name: Mapping[str, object], make: Callable[[], Arrays], *, library: str = "CoolProp"
) -> Arrays:
    """Arrays of this name, from disk if they are whole there, else made and kept.

    The name is all that defines them; the recipe and the version of the library that they come
    from are added to it.
    """
    full = {**name, "recipe": RECIPE, library: version(library)}
    text = json.dumps(full, sort_keys=True)
    path = folder() / f"{hashlib.sha256(text.encode()).hexdigest()[:32]}.npz"
    try:
        with np.load(BytesIO(path.read_bytes()), allow_pickle=False) as stored:
            arrays = {key: stored[key] for key in stored.files}
        if arrays.pop(_NAME).item() == text:
            return arrays
    except _DAMAGED:
        pass  # absent or damaged: made anew
    arrays = make()
    _keep(path, text, arrays)
    return arrays


def folder() -> Path:
    """Where this system keeps what may be deleted at any time."""
    given = os.environ.get("XDG_CACHE_HOME")
    if given:
        home = Path(given)
    elif sys.platform == "win32":
        home = Path(os.environ.get("LOCALAPPDATA") or Path.home())
    elif sys.platform == "darwin":
        home = Path.home() / "Library" / "Caches"
    else:
        home = Path.home() / ".cache"
    return home / "swirlstack"


def _keep(path: Path, text: str, arrays: Arrays) -> None:
    content = BytesIO()
    np.savez(content, allow_pickle=False, **{_NAME: np.array(text), **arrays})
    try:
        make_folder(path.parent)
        write_whole(path, content.getvalue())
    except StorageError:
        return  # nowhere to keep it: the next run makes it again
