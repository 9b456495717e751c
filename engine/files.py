"""Files written completely or not at all, a lock that ends with its holder, and shared files."""

import os
import shutil
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from engine.errors import Problem, RunFolderError, StorageError, StudyError

_TEMPORARY = ".tmp"
_BINARY = getattr(os, "O_BINARY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


def write_whole(path: Path, content: bytes) -> None:
    """Put a file in place in one step: a reader sees the old or the new file, never part of one.

    Raises
    ------
    StorageError
        Where the disk is full or the folder cannot be written to; no partial file is left.
    """
    temporary = path.with_name(f".{path.name}{_TEMPORARY}")
    try:
        try:
            temporary.unlink(missing_ok=True)
            # Only a new file: a link that is already there is not followed.
            handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
            with open(handle, "wb") as file:  # noqa: PTH123  (a handle, not a path)
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            temporary.replace(path)
            _settle(path.parent)
        finally:
            temporary.unlink(missing_ok=True)
    except OSError as error:
        raise storage_error(path, error) from error


def shared_file(name: str) -> Traversable:
    """File of this name in shared/: inside the package once installed, beside it in a checkout."""
    installed = resources.files("engine") / "shared"
    folder = installed if installed.is_dir() else Path(__file__).parents[1] / "shared"
    return folder / name


def refuse_link(path: Path) -> None:
    """Raise RunFolderError for a link, because it could lead out of a folder."""
    if path.is_symlink():
        msg = f"{path}: is a link, which a run does not follow; put the real file or folder there"
        raise RunFolderError(msg)


def refuse_present(path: Path) -> None:
    """Raise StudyError where a file exists already, before the work whose result goes there."""
    if path.exists():
        found = Problem(file=str(path), found="exists already", remedy="choose another name")
        raise StudyError([found])


def remove(path: Path) -> None:
    """Remove a file if it is there."""
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise storage_error(path, error) from error


def remove_torn(folder: Path) -> None:
    """Remove what a killed process left half-written in a folder."""
    for left in folder.glob(f".*{_TEMPORARY}"):
        if left.is_dir() and not left.is_symlink():
            _remove_folder(left)
        else:
            remove(left)


def replace_folder(path: Path, files: Mapping[str, bytes]) -> None:
    """Put a folder of files in place in one step; a folder that is there already is replaced.

    Raises
    ------
    StorageError
        Where the disk is full or the folder cannot be written to; the old folder is then kept.
    """
    new, old = (path.with_name(f".{path.name}.{age}{_TEMPORARY}") for age in ("new", "old"))
    for left in (new, old):
        _remove_folder(left)
    try:
        make_folder(new)
        for name, content in files.items():
            write_whole(new / name, content)
        if path.exists():
            path.rename(old)
        new.rename(path)
        _settle(path.parent)
    except OSError as error:
        if old.exists() and not path.exists():
            old.rename(path)
        raise storage_error(path, error) from error
    finally:
        for left in (new, old):
            _remove_folder(left)


def make_folder(path: Path) -> None:
    """Make a folder and its parents; an existing folder is kept."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise storage_error(path, error) from error


def storage_error(path: Path, error: OSError) -> StorageError:
    """Make the error that says which file could not be written and what to do."""
    why = error.strerror or str(error)
    return StorageError(
        f"{path}: could not be written ({why.lower()}); free some space or allow writing"
        " there, then give the same command again: everything stored before is safe"
    )


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Lock a folder against other processes; the lock ends with this process, even if it is killed.

    Raises
    ------
    RunFolderError
        Where another process holds the lock.
    """
    path = folder / ".lock"
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | _NO_LINK, 0o666)
    except OSError as error:
        raise storage_error(path, error) from error
    try:
        try:
            _lock(handle)
        except OSError as error:
            msg = f"{folder}: is in use by another process; wait until it ends, or stop it first"
            raise RunFolderError(msg) from error
        yield
    finally:
        os.close(handle)


def _remove_folder(path: Path) -> None:
    try:
        if path.exists():
            shutil.rmtree(path)
    except OSError as error:
        raise storage_error(path, error) from error


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

    def _settle(folder: Path) -> None:
        """Do nothing: Windows cannot flush a folder."""

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _settle(folder: Path) -> None:
        """Flush the folder, so that a renamed file survives a power cut."""
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
