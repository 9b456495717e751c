"""Errors that a user can cause or meet, each with the exit code that the command ends with."""

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

INTERRUPTED = 130
"""Exit code of a command that Ctrl-C ended."""


class WrongValueError(ValueError):
    """One wrong value, while its file and line are not known yet."""

    def __init__(self, found: str, expected: str = "", remedy: str = "") -> None:
        self.found, self.expected, self.remedy = found, expected, remedy
        super().__init__(sentence(found, expected, remedy))


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One fault in a file, with its place and how to correct it."""

    file: str
    line: int | None = None
    key: str = ""
    """Dotted path of the key, '' for the whole file."""
    found: str
    expected: str = ""
    """What would be correct; '' where `found` already says it."""
    remedy: str = ""

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        # A key may be anything that was typed; what cannot be printed is shown by its code.
        shown = self.key if self.key.isprintable() else ascii(self.key)
        key = f" {shown}:" if self.key else ""
        return f"{place}:{key} {sentence(self.found, self.expected, self.remedy)}"


class SwirlstackError(Exception):
    """Base of every error this project raises on purpose."""

    exit_code = 1


class StudyError(SwirlstackError):
    """The study file, or what was typed instead of it, is wrong; holds every problem found."""

    exit_code = 2

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NothingFeasibleError(SwirlstackError):
    """The run ended without a design that meets every limit."""

    exit_code = 3


class RunFolderError(SwirlstackError):
    """The run folder is damaged, in use, or belongs to another study."""

    exit_code = 4


class DamagedError(RunFolderError):
    """A file of a run cannot be read; the run can make it again."""


class WorkerError(SwirlstackError):
    """Processes or machines cannot evaluate builds; everything stored is safe."""

    exit_code = 1


class StorageError(SwirlstackError):
    """A file could not be written (disk full, no permission); everything stored is safe."""

    exit_code = 1


def sentence(found: str, expected: str, remedy: str) -> str:
    """One line that says what was found, what was expected and how to correct it."""
    return "; ".join(part for part in (found, expected and f"expected {expected}", remedy) if part)


def suggestion(word: str, known: Iterable[str]) -> str:
    """Remedy for an unknown word: the known word most like it, or all of them if they are few."""
    known = tuple(known)
    near = nearest(word, known)
    if near:
        return f"perhaps you meant {near}"
    return f"known: {', '.join(known)}" if len(known) <= 12 else ""


def nearest(word: str, known: Iterable[str]) -> str:
    """Find the known word most like this one; '' if none is similar."""
    return next(iter(difflib.get_close_matches(word.lower(), list(known), n=1)), "")
