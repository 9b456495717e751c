"""Writes fits and bench plans: completely or not at all, and never over a filled-in log."""

import re
from collections.abc import Mapping, Sequence
from hashlib import sha256
from pathlib import Path

from engine.errors import Problem, RunFolderError, StudyError
from engine.files import locked, make_folder, write_whole

PLAN = "plan-"
"""How the folder of a bench plan begins; the number of the design follows."""

_STAMP = re.compile(r"(?<=^---\n)# handed out as ([0-9a-f]{16})\n")


def fit_files(study: Path, logs: Sequence[Path]) -> list[Path]:
    """Give the fit file of some logs and the page of each, beside the study."""
    first, *_ = logs
    pages = [study.parent / f"{log.stem}.fit.html" for log in logs]
    return [study.parent / f"{first.stem}.fit.yaml", *pages]


def refuse_written(study: Path, logs: Sequence[Path], *, may_replace: bool) -> None:
    """Raise StudyError where a fit of these logs would replace a file, or cannot be named."""
    for path in (study, *logs):
        try:
            str(path).encode()
        except UnicodeEncodeError as error:
            found = "its name is not UTF-8"
            problem = Problem(file=ascii(str(path)), found=found, remedy="rename the file")
            raise StudyError([problem]) from error
    present = [path for path in fit_files(study, logs) if path.exists()]
    if present and not may_replace:
        found = "exists already and would be replaced"
        remedy = "give --replace, or rename the log"
        raise StudyError([Problem(file=str(present[0]), found=found, remedy=remedy)])


def write_fit(
    study: Path, logs: Sequence[Path], text: str, pages: Mapping[Path, str]
) -> list[Path]:
    """Write the fit file of some logs, and pages, beside the study that can then name it."""
    fit, *_ = fit_files(study, logs)
    contents = {fit: text} | {fit_files(study, [log])[1]: page for log, page in pages.items()}
    for path, content in contents.items():
        write_whole(path, content.encode())
    return [*contents]


def write_plan(run: Path, design: int, files: Mapping[str, str]) -> Path:
    """Write a bench plan into its run folder; raises RunFolderError if a log there is filled in."""
    folder = run / f"{PLAN}{design}"
    with locked(run):
        if folder.is_symlink():
            msg = f"{folder}: is a link, which is not followed; put a real folder there"
            raise RunFolderError(msg)
        make_folder(folder)
        logs = [folder / name for name in files if name.endswith(".csv")]
        for path in logs:
            if path.exists() and not _is_as_handed_out(path.read_bytes()):
                msg = f"{path}: was filled in and would be lost; move it to another place"
                raise RunFolderError(msg)
        for name, text in files.items():
            whole = _stamped(text) if folder / name in logs else text
            write_whole(folder / name, whole.encode())
    return folder


def _stamped(log: str) -> str:
    """Add a comment to the head of a log, by which a filled-in log is recognised later."""
    return log.replace("---\n", f"---\n# handed out as {_digest(log)}\n", 1)


def _is_as_handed_out(content: bytes) -> bool:
    """Whether a log is unchanged, also if an earlier version of swirlstack wrote it."""
    log = content.decode("utf-8", errors="replace")
    stamp = _STAMP.search(log)
    return stamp is not None and stamp[1] == _digest(_STAMP.sub("", log, count=1))


def _digest(log: str) -> str:
    return sha256(log.encode()).hexdigest()[:16]
