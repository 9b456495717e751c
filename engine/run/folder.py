"""The run folder: its files, and how it is claimed, written and read."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter

from engine.columns import Results
from engine.errors import DamagedError, RunFolderError
from engine.files import (
    locked,
    make_folder,
    refuse_link,
    remove,
    remove_torn,
    replace_folder,
    write_whole,
)
from engine.run.ownership import (
    are_of,
    foreign,
    is_same_study,
    is_to_be_put_back,
    marks_of,
    own_table,
    refuse_misplaced,
    refuse_strangers,
)
from engine.run.parquet import (
    completed,
    count_rows,
    frame_of,
    joined,
    notes_about,
    packed,
    unpacked,
    whole,
)
from engine.run.seals import sealed_text, trust, unsealed
from engine.run.state import Provenance, RunState

if TYPE_CHECKING:
    import pandas as pd

STUDY, STATE, DESIGNS = "study.yaml", "run.json", "designs"
FRONT, CLOSEST, REPORT = "front.parquet", "closest.parquet", "report.html"
LOG, PLANES, RUBBING = "run.log", "planes", "rubbing.json"
BUILD = "build-"
"""Start of the name of a build sheet's folder; the number of the design follows."""
PLAN = "plan-"
"""The same of a bench plan's folder, which `engine.bench` writes."""
LONGEST_NAME = 80
"""Largest number of characters in the name of a run."""

_OWN = (STUDY, STATE, DESIGNS, FRONT, CLOSEST, REPORT, LOG, PLANES, RUBBING)


def run_name(study: Path) -> str:
    """Name of the run of a study file: its stem, without characters that could leave a folder."""
    kept = "".join(c if c.isalnum() or c in " -_." else "_" for c in study.stem)
    return kept.strip(" ._")[:LONGEST_NAME].strip(" ._") or "study"


@dataclass(frozen=True)
class Part:
    """Content of a part file."""

    results: Results
    mark: Mapping[str, Any]
    """State of the search after it."""
    history: Mapping[str, Any]
    """How the front grew during it."""


@dataclass
class RunFolder:
    """A run folder locked by this process; see `claimed`."""

    path: Path
    provenance: Provenance
    state: RunState
    """State in run.json when the folder was claimed."""
    n_parts: int = 0
    """Number of parts, including damaged and missing ones."""

    def write_state(self, state: RunState) -> None:
        """Replace run.json."""
        content = sealed_text(asdict(self.provenance) | asdict(state))
        write_whole(self.path / STATE, content.encode())

    def write_part(self, part: Part, number: int | None = None) -> None:
        """Add a part, or replace the part with this number."""
        place = self.n_parts if number is None else number
        about = asdict(self.provenance) | {"mark": part.mark, "history": part.history}
        about |= {"part": place}
        path = _part(self.path, place)
        write_whole(path, packed(part.results, about))
        trust(path)
        self.n_parts = max(self.n_parts, place + 1)

    def part(self, number: int) -> Part:
        """Read a part.

        Raises
        ------
        DamagedError
            Where it is damaged, missing, or another part of this run.
        RunFolderError
            Where it belongs to another run.
        """
        path = _part(self.path, number)
        notes = notes_about(path)
        if marks_of(notes) != _marks(self.provenance) or "mark" not in notes:
            msg = f"{path}: belongs to another run; delete it and give the same command again: it"
            msg += " is then made again"
            raise RunFolderError(msg)
        refuse_misplaced(path, notes, number)
        history = json.loads(notes.get("history", "{}"))
        return Part(unpacked(path), json.loads(notes["mark"]), history)

    def drop_parts(self, first: int) -> None:
        """Delete the parts from this number on."""
        for number in range(first, self.n_parts):
            remove(_part(self.path, number))
        self.n_parts = first

    def is_whole(self) -> bool:
        """Whether no design is missing, and all designs and the front can be read."""
        try:
            n_designs = sum(len(self.part(n).results["design"]) for n in range(self.n_parts))
            name = FRONT if self.state.front else CLOSEST
            answer = own_table(self.path / name, _marks(self.provenance))
        except DamagedError:
            return False
        n_front = len(answer["design"]) if name == FRONT and "design" in answer else 0
        return (n_designs, n_front) == (self.state.stored, self.state.front) and bool(answer)

    def write_table(self, name: str, results: Results) -> None:
        """Write front.parquet or closest.parquet."""
        write_whole(self.path / name, packed(results, asdict(self.provenance)))

    def remove_table(self, name: str) -> None:
        """Delete a table that is no longer valid."""
        remove(self.path / name)


@contextmanager
def claimed(path: Path, study_text: str, provenance: Provenance) -> Iterator[RunFolder]:
    """Lock a run folder until the end of the block; it is made if missing.

    Raises
    ------
    RunFolderError
        Where another process has locked it, it belongs to another study, is damaged, or is not a
        run folder.
    StorageError
        Where it cannot be made.
    """
    refuse_link(path)
    _refuse_other_folder(path)
    make_folder(path)
    with locked(path):
        for entry in sorted(path.iterdir()):
            refuse_link(entry)
        make_folder(path / DESIGNS)
        for each in (path, path / DESIGNS):
            remove_torn(each)
        n_parts = _count_parts(path)
        state = _known_state(path, study_text, provenance, n_parts)
        folder = RunFolder(path, provenance, state, n_parts)
        is_new = not (path / STATE).exists()
        if is_new or is_to_be_put_back(path / STUDY, study_text, provenance.study_hash):
            write_whole(path / STUDY, study_text.encode())
        if is_new:
            folder.write_state(folder.state)
        yield folder


def write_text(path: Path, name: str, text: str) -> Path:
    """Write a page into a run folder, completely or not at all; give its path."""
    write_whole(path / name, text.encode())
    return path / name


def write_build(path: Path, design: int, files: Mapping[str, str | bytes]) -> Path:
    """Write the files of a build sheet into a run folder, all or none; give their folder.

    Raises
    ------
    RunFolderError
        Where the run folder is in use, or the sheet's folder has other files in it.
    StorageError
        Where it cannot be written; an older sheet is then kept.
    """
    folder = path / f"{BUILD}{design}"
    with locked(path):
        refuse_link(folder)
        found = {entry.name for entry in folder.iterdir()} if folder.is_dir() else set()
        if others := found - set(files):
            msg = f"{folder / min(others)}: is not part of this sheet and would be lost;"
            msg += " move it to another place"
            raise RunFolderError(msg)
        written = {n: made.encode() if isinstance(made, str) else made for n, made in files.items()}
        replace_folder(folder, written)
    return folder


def read_state(path: str | Path) -> tuple[Provenance, RunState]:
    """Read run.json of a run folder; raises RunFolderError where it is missing or damaged."""
    path = Path(path)
    if path.is_file():
        msg = f"{path}: is a file, not a run folder; give the folder of a run, such as"
        msg += f" runs/{run_name(path)}"
        raise RunFolderError(msg)
    try:
        entries = unsealed((path / STATE).read_text(encoding="utf-8"))
        provenance = {key: entries.pop(key) for key in Provenance.__dataclass_fields__}
        return (
            TypeAdapter(Provenance).validate_python(provenance),
            TypeAdapter(RunState).validate_python(entries),
        )
    except FileNotFoundError as error:
        msg = f"{path}: is not a run folder: {STATE} is missing; give the folder of a run"
        raise RunFolderError(msg) from error
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        msg = f"{path / STATE}: is damaged or was changed; give the command of its run again: it is"
        msg += " then made again"
        raise DamagedError(msg) from error


def read_designs(
    path: str | Path, keys: Sequence[str] | None = None, most: int | None = None
) -> Results:
    """Read stored designs of a run, SI by key; all columns or those of `keys`.

    Of a run with more than `most` designs only every second, third, ... is read, so that there are
    not more. Only one whole part is in memory at a time.
    """
    paths = _parts(path)
    counts = [count_rows(each) for each in paths] if most else []
    step = max(1, -(-sum(counts) // most)) if most else 1
    found, first = [], 0
    for number, each in enumerate(paths):
        results = whole(each, keys)
        if step > 1:
            # Copied, because a view would keep the whole part in memory.
            results = {key: values[-first % step :: step].copy() for key, values in results.items()}
            first += counts[number]
        found.append(results)
    return joined(found)


def each_part(path: str | Path, keys: Sequence[str]) -> Iterator[Results]:
    """Give some columns of the stored designs of a run, one part at a time, SI by key."""
    for each in _parts(path):
        yield whole(each, keys)


def read_front(path: str | Path, name: str = FRONT) -> Results:
    """Front of a run (or its closest designs), SI by key; empty if there is none."""
    known, state = read_state(path)
    found = own_table(Path(path) / name, _marks(known)) if (Path(path) / name).exists() else {}
    wrong = name == FRONT and state.state == "done" and len(found.get("design", ())) != state.front
    if wrong:
        raise foreign(Path(path) / name)
    return completed(found)


def read_frame(path: str | Path, name: str = FRONT) -> "pd.DataFrame":
    """Front of a run as a data frame in drawing units; with name 'designs' every design."""
    known, _ = read_state(path)
    if name == DESIGNS:
        return frame_of(_parts(path))
    own_table(Path(path) / name, _marks(known))
    return frame_of([Path(path) / name])


def read_growth(path: str | Path) -> list[dict[str, Any]]:
    """How the front grew in each part of a run, in order, as stored by the run."""
    return [json.loads(notes_about(each).get("history", "{}")) for each in _parts(path)]


def _marks(known: Provenance) -> tuple[str, str]:
    """Give what the notes of every file of a run say of it."""
    return known.study_hash, str(known.model_version)


def _parts(path: str | Path) -> list[Path]:
    """Give the files of all parts; raises DamagedError for one that is not in its place."""
    known, state = read_state(path)
    paths = [_part(Path(path), number) for number in range(_count_parts(Path(path)))]
    refuse_strangers(Path(path) / DESIGNS, paths, _marks(known), state.stored)
    return paths


def _part(path: Path, number: int) -> Path:
    return path / DESIGNS / f"part-{number:06d}.parquet"


def _count_parts(path: Path) -> int:
    """Count the parts up to the last one present; some before it may be missing."""
    number = -1
    for entry in sorted((path / DESIGNS).glob("[!.]*")):
        refuse_link(entry)
        digits = entry.name.removeprefix("part-").removesuffix(".parquet")
        number = int(digits) if digits.isdecimal() else -1
        if entry != _part(path, number):
            msg = f"{entry}: is not part of this run; move it to another place"
            raise RunFolderError(msg)
    return number + 1


def _refuse_other_folder(path: Path) -> None:
    """Raise RunFolderError for an existing folder that was not made by a run."""
    if not path.exists() or (path / STATE).exists():
        return
    if not path.is_dir():
        msg = f"{path}: is a file where the run folder should be; move it to another place"
        raise RunFolderError(msg)
    others = [e for e in path.iterdir() if e.name[0] != "." and not _is_own(e.name)]
    if others and not any((path / DESIGNS).glob("part-*.parquet")):
        msg = f"{path}: is not a run folder: it contains {min(others).name}; choose another folder"
        raise RunFolderError(msg)


def _is_own(name: str) -> bool:
    sheets = (name.removeprefix(start) for start in (BUILD, PLAN) if name.startswith(start))
    return name in _OWN or any(rest.isdecimal() for rest in sheets)


def _known_state(path: Path, study_text: str, provenance: Provenance, n_parts: int) -> RunState:
    """State of the run so far; raises RunFolderError if study or model is another one."""
    if not (path / STATE).exists() and not n_parts:
        return RunState()
    try:
        known, state = read_state(path)
    except RunFolderError:
        parts = (_part(path, number) for number in range(n_parts))
        if not (is_same_study(path / STUDY, study_text) or are_of(parts, _marks(provenance))):
            raise
        # The numbers in run.json are counted again from the parts, which name their study.
        return RunState()
    if known.study_hash != provenance.study_hash:
        msg = f"{path}: belongs to another study, {known.title!r}, or to an earlier version of"
        msg += " this one; rename the study file, or move the folder to another place"
        raise RunFolderError(msg)
    if known.model_version != provenance.model_version:
        msg = f"{path}: was made by model version {known.model_version}, but this is version"
        msg += f" {provenance.model_version}, which gives other numbers; move the folder to another"
        msg += " place"
        raise RunFolderError(msg)
    return state
