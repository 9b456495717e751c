"""Folders that only their owner may write to, because what lies there is believed or run."""

import os
import stat
import sys
from pathlib import Path

OTHERS = "belongs to another user"


def make_private(folder: Path) -> str:
    """Make a folder that only this user may enter; say why it is not to be trusted, '' if it is.

    An existing folder of this user is closed to others. One that belongs to another user, or that
    others may write to, is left as it is: what lies there may be theirs. On Windows neither owner
    nor mode is checked, as a folder below the user's own is private there unless it was shared.
    Raises OSError where it cannot be made.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if sys.platform == "win32":
        return ""
    known = folder.lstat()
    if stat.S_ISLNK(known.st_mode):
        return "is a link"
    if known.st_uid != os.geteuid():
        return OTHERS
    if known.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
        return "may be written to by others"
    if stat.S_IMODE(known.st_mode) & 0o077:
        folder.chmod(0o700)
    return ""


def mistrust(folder: Path, why: str) -> str:
    """Say that a folder is not used, and what to do."""
    return f"{folder}: {why}, so that nothing in it is believed or kept; delete this folder"


def cache_folder() -> Path:
    """Folder in which this system keeps files that may be deleted at any time."""
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
