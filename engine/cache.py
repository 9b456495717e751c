"""Tables that take long to make, kept on disk; made each time where nothing can be kept."""

import hashlib
import json
import logging
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
from engine.private import cache_folder, make_private, mistrust

Arrays = dict[str, Lanes]

RECIPE = 1
"""Raised by one whenever the same name comes to mean other arrays."""
_NAME = "name"
version = cache(metadata.version)
"""Version of an installed library, read once."""
_DAMAGED = (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile, zlib.error)


def cached(
    name: Mapping[str, object], make: Callable[[], Arrays], *, library: str = "CoolProp"
) -> Arrays:
    """Arrays of this name, read from disk if they are there and undamaged, else made and kept.

    The name holds everything that the arrays depend on. The recipe, and the version of the library
    that they are made with, are added to it.
    """
    full = {**name, "recipe": RECIPE, library: version(library)}
    text = json.dumps(full, sort_keys=True)
    if not _is_private(cache_folder()):
        return make()
    path = cache_folder() / f"{hashlib.sha256(text.encode()).hexdigest()[:32]}.npz"
    try:
        with np.load(BytesIO(path.read_bytes()), allow_pickle=False) as stored:
            arrays = {key: stored[key] for key in stored.files}
        if arrays.pop(_NAME).item() == text:
            return arrays
    except _DAMAGED:
        pass  # missing or damaged: made again
    arrays = make()
    _keep(path, text, arrays)
    return arrays


@cache
def _is_private(place: Path) -> bool:
    """Whether nobody else writes to the folder; says so once where somebody may."""
    try:
        why = make_private(place)
    except OSError:
        return True  # there is none, and nothing can be kept
    if why:
        logging.getLogger("swirlstack").warning("%s", mistrust(place, why))
    return not why


def _keep(path: Path, text: str, arrays: Arrays) -> None:
    content = BytesIO()
    np.savez(content, allow_pickle=False, **{_NAME: np.array(text), **arrays})
    try:
        make_folder(path.parent)
        write_whole(path, content.getvalue())
    except StorageError:
        return  # it cannot be kept here; the next run makes it again
