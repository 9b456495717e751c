"""Whether what lies in a run folder belongs to its run."""

import logging
from collections.abc import Iterable, Sequence
from pathlib import Path

from engine.columns import Results
from engine.errors import DamagedError
from engine.run.parquet import count_rows, notes_about, unpacked
from engine.study.reader import study_text_hash

LOGGER = logging.getLogger("swirlstack")
Marks = tuple[str, str]
"""Hash of the study and version of the model, as the notes of every file of a run give them."""


def marks_of(notes: dict[str, str]) -> tuple[str | None, str | None]:
    """Give what the notes of a file say of its run."""
    return notes.get("study_hash"), notes.get("model_version")


def own_table(file: Path, marks: Marks) -> Results:
    """Read a table of a run; raises DamagedError where it is that of another run."""
    if marks_of(notes_about(file)) != marks:
        raise foreign(file)
    return unpacked(file)


def foreign(file: Path) -> DamagedError:
    """Make the error of a table that does not fit its run."""
    msg = f"{file}: is not of this run; give the command of its run again: only this file is made"
    return DamagedError(f"{msg} again")


def refuse_misplaced(file: Path, notes: dict[str, str], number: int) -> None:
    """Raise DamagedError for a part that lies where another part of its run belongs."""
    if notes.get("part") != str(number):
        msg = f"{file}: cannot be read (it is another part of this run); give the command of its"
        msg += " run again: only this file is made again"
        raise DamagedError(msg)


def refuse_strangers(folder: Path, parts: Sequence[Path], marks: Marks, designs: int) -> None:
    """Raise DamagedError where parts are not all of one run, in order, with all its designs."""
    for number, part in enumerate(parts):
        notes = notes_about(part)
        if marks_of(notes) != marks:
            raise foreign(part)
        refuse_misplaced(part, notes, number)
    found = sum(map(count_rows, parts))
    if found < designs:
        msg = f"{folder}: holds {found} designs of {designs}; give the command of the run"
        msg += " again: the others are made again"
        raise DamagedError(msg)


def are_of(parts: Iterable[Path], marks: Marks) -> bool:
    """Whether the first part that can be read is of this study and model."""
    for part in parts:
        try:
            return marks_of(notes_about(part)) == marks
        except DamagedError:
            continue
    return False


def is_to_be_put_back(path: Path, study_text: str, study_hash: str) -> bool:
    """Whether the study in a run folder is not the one that is run; says so."""
    is_own = study_text_hash(study_text) == study_hash
    if not is_own or is_same_study(path, study_text):
        return False
    LOGGER.warning("%s: was changed or lost, and is put back as the run began with it", path)
    return True


def is_same_study(path: Path, study_text: str) -> bool:
    """Whether a file holds the text of a study."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return False
    return study_text_hash(text) == study_text_hash(study_text)
