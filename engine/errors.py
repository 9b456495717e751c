"""What can go wrong at the edges, each with the exit code the command ends with."""

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


class WrongValueError(ValueError):
    """One wrong value, before it is known in which file and line it stands."""

    def __init__(self, found: str, expected: str = "", remedy: str = "") -> None:
        self.found, self.expected, self.remedy = found, expected, remedy
        super().__init__(sentence(found, expected, remedy))


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong in a file, with where it stands and how to mend it."""

    file: str
    line: int | None = None
    key: str = ""
    """Dotted path of the key, '' for the whole file."""
    found: str
    expected: str = ""
    """What would be right; '' where `found` says it already."""
    remedy: str = ""

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        key = f" {self.key}:" if self.key else ""
        return f"{place}:{key} {sentence(self.found, self.expected, self.remedy)}"


class SwirlstackError(Exception):
    """Base of every error this project raises on purpose."""

    exit_code = 1


class StudyError(SwirlstackError):
    """The study file (or what was typed instead of it) is wrong; carries every problem found."""

    exit_code = 2

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NothingFeasibleError(SwirlstackError):
    """The run ended without one design inside every limit."""

    exit_code = 3


class RunFolderError(SwirlstackError):
    """The run folder is damaged, in use, or belongs to another study."""

    exit_code = 4


class DamagedError(RunFolderError):
    """A file of a run cannot be read; the run can make it anew."""


class WorkerError(SwirlstackError):
    """Processes or machines that were to evaluate builds cannot; what was stored is whole."""

    exit_code = 1


class StorageError(SwirlstackError):
    """A file could not be written (disk full, no permission); what was stored before is whole."""

    exit_code = 1


def sentence(found: str, expected: str, remedy: str) -> str:
    """One line out of what was found, what was expected and how to mend it."""
    return "; ".join(part for part in (found, expected and f"expected {expected}", remedy) if part)


def suggestion(word: str, known: Iterable[str]) -> str:
    """Remedy for a word that is none of the known ones: the nearest, or all if they are few."""
    known = tuple(known)
    near = nearest(word, known)
    if near:
        return f"perhaps you meant {near}"
    return f"known: {', '.join(known)}" if len(known) <= 12 else ""


def nearest(word: str, known: Iterable[str]) -> str:
    """Find the known word that looks most like this one; '' where none does."""
    return next(iter(difflib.get_close_matches(word.lower(), list(known), n=1)), "")
