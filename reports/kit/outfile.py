"""Files that a command writes outside a run folder."""

from pathlib import Path

from engine.errors import Problem, StudyError
from engine.files import write_whole

LOOKED_AT = 4096
"""Number of bytes at the beginning of a file in which its mark is looked for."""


def write_own(path: Path, content: bytes, mark: str) -> None:
    """Write a file, whole or not at all; replace only an earlier one of the same kind.

    Parameters
    ----------
    path
        Where to.
    content
        What to write.
    mark
        Words near the beginning of every file of this kind.

    Raises
    ------
    StudyError
        Where there is another file of this name.
    StorageError
        Where it cannot be written.
    """
    if path.is_dir() or path.is_symlink() or (path.exists() and not _is_own(path, mark)):
        found = (
            "is a folder" if path.is_dir() else "is there already and was not made by this command"
        )
        problem = Problem(file=str(path), found=found, remedy="choose another name with --output")
        raise StudyError([problem])
    write_whole(path, content)


def _is_own(path: Path, mark: str) -> bool:
    try:
        with path.open("rb") as file:
            return mark.encode() in file.read(LOOKED_AT)
    except OSError:
        return False
