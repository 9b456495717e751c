"""The run folder: what is in it, how it is claimed, written and read."""

import json
import platform
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from engine import __version__
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
from engine.run.parquet import count_rows, frame_of, joined, notes_about, packed, unpacked
from engine.study.reader import study_text_hash

if TYPE_CHECKING:
    import pandas as pd

STUDY, STATE, DESIGNS = "study.yaml", "run.json", "designs"
FRONT, CLOSEST, REPORT = "front.parquet", "closest.parquet", "report.html"
LOG = "run.log"
BUILD = "build-"
"""How the folder of a build sheet begins; the number of the design follows."""
LONGEST_NAME = 80
"""Characters of a run's name."""

LIBRARIES = ("numpy", "scipy", "numba", "optuna", "pyarrow", "CoolProp", "SALib")
"""Those whose numbers a run and its report hold."""

_OWN = (STUDY, STATE, DESIGNS, FRONT, CLOSEST, REPORT, LOG)


@dataclass(frozen=True)
class Provenance:
    """Where the numbers of a run come from."""

    title: str
    study_hash: str
    seed: int
    model_version: int
    versions: Mapping[str, str] = field(
        default_factory=lambda: {
            "swirlstack": __version__,
            "python": platform.python_version(),
            **{name: version(name) for name in LIBRARIES},
        }
    )


@dataclass(frozen=True)
class RunState:
    """How far a run has come."""

    state: Literal["running", "interrupted", "done"] = "running"
    budget: int = 0
    designs: int = 0
    feasible: int = 0
    front: int = 0
    statuses: Mapping[str, int] = field(default_factory=dict)
    """Designs by status."""
    limits_met: Mapping[str, int] = field(default_factory=dict)
    """Designs inside each limit among those with an operating point, by key."""
    started: str = ""
    """Date and time of the first start."""
    seconds: float = 0.0
    """Time spent, over all starts."""

    @property
    def ended_early(self) -> bool:
        """Whether the search ended before its budget because the front grew no more."""
        return self.state == "done" and self.front > 0 and self.designs < self.budget


def run_name(study: Path) -> str:
    """Name of the run of a study file: its stem, without what could lead out of a folder."""
    kept = "".join(c if c.isalnum() or c in " -_." else "_" for c in study.stem)
    return kept.strip(" ._")[:LONGEST_NAME].strip(" ._") or "study"


@dataclass(frozen=True)
class Part:
    """What a part file holds."""

    results: Results
    mark: Mapping[str, Any]
    """Where the search stood after it."""
    history: Mapping[str, Any]
    """How the front grew in it."""


@dataclass
class RunFolder:
    """A run folder held by this process; see `claimed`."""

    path: Path
    provenance: Provenance
    state: RunState
    """As run.json had it when the folder was claimed."""
    n_parts: int = 0
    """Parts stored, damaged and missing ones among them."""

    def write_state(self, state: RunState) -> None:
        """Replace run.json."""
        content = json.dumps(asdict(self.provenance) | asdict(state), indent=2, ensure_ascii=False)
        write_whole(self.path / STATE, f"{content}\n".encode())

    def write_part(self, part: Part, number: int | None = None) -> None:
        """Add a part, or replace the one of this number."""
        place = self.n_parts if number is None else number
        about = asdict(self.provenance) | {"mark": part.mark, "history": part.history}
        write_whole(_part(self.path, place), packed(part.results, about))
        self.n_parts = max(self.n_parts, place + 1)

    def part(self, number: int) -> Part:
        """Read a part.

        Raises
        ------
        DamagedError
            Where it is damaged or missing.
        RunFolderError
            Where it is of another run.
        """
        path = _part(self.path, number)
        notes = notes_about(path)
        known = (self.provenance.study_hash, str(self.provenance.model_version))
        if (notes.get("study_hash"), notes.get("model_version")) != known or "mark" not in notes:
            msg = f"{path}: is of another run; remove it, and give the same command again: it is"
            msg += " made anew"
            raise RunFolderError(msg)
        history = json.loads(notes.get("history", "{}"))
        return Part(unpacked(path), json.loads(notes["mark"]), history)

    def drop_parts(self, first: int) -> None:
        """Remove the parts from this number on."""
        for number in range(first, self.n_parts):
            remove(_part(self.path, number))
        self.n_parts = first

    def is_whole(self) -> bool:
        """Whether every stored design and the front can be read, and none is missing."""
        try:
            n_designs = sum(len(self.part(n).results["design"]) for n in range(self.n_parts))
            answer = unpacked(self.path / (FRONT if self.state.front else CLOSEST))
        except DamagedError:
            return False
        return n_designs == self.state.designs and bool(answer)

    def write_table(self, name: str, results: Results) -> None:
        """Write front.parquet or closest.parquet."""
        write_whole(self.path / name, packed(results, asdict(self.provenance)))

    def remove_table(self, name: str) -> None:
        """Remove a table that no longer holds."""
        remove(self.path / name)


@contextmanager
def claimed(path: Path, study_text: str, provenance: Provenance) -> Iterator[RunFolder]:
    """Hold a run folder, made where missing, until the end of the block.

    Raises
    ------
    RunFolderError
        Where another process holds it, it belongs to another study, is damaged, or is no run
        folder at all.
    StorageError
        Where it cannot be made.
    """
    refuse_link(path)
    _refuse_strangers(path)
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
        if not (path / STATE).exists():
            write_whole(path / STUDY, study_text.encode())
            folder.write_state(folder.state)
        yield folder


def write_text(path: Path, name: str, text: str) -> Path:
    """Write a page into a run folder, whole or not at all, and give its path."""
    write_whole(path / name, text.encode())
    return path / name


def write_build(path: Path, design: int, files: Mapping[str, str]) -> Path:
    """Write the files of a build sheet into a run folder, whole or not at all; give their folder.

    Raises
    ------
    RunFolderError
        Where the run folder is in use, or the sheet's folder holds something else too.
    StorageError
        Where it cannot be written; an older sheet is then still there.
    """
    folder = path / f"{BUILD}{design}"
    with locked(path):
        refuse_link(folder)
        found = {entry.name for entry in folder.iterdir()} if folder.is_dir() else set()
        if strangers := found - set(files):
            msg = f"{folder / min(strangers)}: is not of this sheet and would be lost; move it away"
            raise RunFolderError(msg)
        replace_folder(folder, {name: text.encode() for name, text in files.items()})
    return folder


def read_state(path: str | Path) -> tuple[Provenance, RunState]:
    """Read run.json of a run folder.

    Raises
    ------
    RunFolderError
        Where it is missing or damaged.
    """
    path = Path(path)
    try:
        entries = json.loads((path / STATE).read_text(encoding="utf-8"))
        provenance = {key: entries.pop(key) for key in Provenance.__dataclass_fields__}
        return Provenance(**provenance), RunState(**entries)
    except FileNotFoundError as error:
        msg = f"{path}: is no run folder, {STATE} is missing; give the folder of a run"
        raise RunFolderError(msg) from error
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        msg = f"{path / STATE}: is damaged; give the command of its run again: it is made anew"
        raise DamagedError(msg) from error


def read_designs(
    path: str | Path, keys: Sequence[str] | None = None, most: int | None = None
) -> Results:
    """Read stored designs of a run, SI by key; all columns or those of `keys`.

    Of a run of more than `most` designs every second, third, ... is read, so that there are no
    more; only a part at a time is held in memory whole.
    """
    paths = _parts(path)
    counts = [count_rows(each) for each in paths] if most else []
    step = max(1, -(-sum(counts) // most)) if most else 1
    found, first = [], 0
    for number, each in enumerate(paths):
        results = unpacked(each, keys)
        if step > 1:
            # Copied, or each row would hold the whole part in memory.
            results = {key: values[-first % step :: step].copy() for key, values in results.items()}
            first += counts[number]
        found.append(results)
    return joined(found)


def each_part(path: str | Path, keys: Sequence[str]) -> Iterator[Results]:
    """Give the stored designs of a run a part at a time, some columns, SI by key."""
    for each in _parts(path):
        yield unpacked(each, keys)


def read_front(path: str | Path, name: str = FRONT) -> Results:
    """Front of a run (or its closest designs), SI by key; empty where there is none."""
    read_state(path)
    file = Path(path) / name
    return unpacked(file) if file.exists() else {}


def read_frame(path: str | Path, name: str = FRONT) -> "pd.DataFrame":
    """Front, closest designs or, as 'designs', every design of a run, in drawing units."""
    read_state(path)
    return frame_of(_parts(path) if name == DESIGNS else [Path(path) / name])


def read_growth(path: str | Path) -> list[dict[str, Any]]:
    """How the front grew in each part of a run, in order, as the run noted it."""
    return [json.loads(notes_about(each).get("history", "{}")) for each in _parts(path)]


def _parts(path: str | Path) -> list[Path]:
    read_state(path)
    return [_part(Path(path), number) for number in range(_count_parts(Path(path)))]


def _part(path: Path, number: int) -> Path:
    return path / DESIGNS / f"part-{number:06d}.parquet"


def _count_parts(path: Path) -> int:
    """Count the parts up to the last that is there; others may be missing."""
    number = -1
    for entry in sorted((path / DESIGNS).glob("[!.]*")):
        refuse_link(entry)
        digits = entry.name.removeprefix("part-").removesuffix(".parquet")
        number = int(digits) if digits.isdecimal() else -1
        if entry != _part(path, number):
            msg = f"{entry}: is not of this run; move it away"
            raise RunFolderError(msg)
    return number + 1


def _refuse_strangers(path: Path) -> None:
    """Refuse a folder that is there already and was not made by a run."""
    if not path.exists() or (path / STATE).exists():
        return
    if not path.is_dir():
        msg = f"{path}: is a file where the run folder should be; move it away"
        raise RunFolderError(msg)
    strangers = [e for e in path.iterdir() if e.name[0] != "." and not _is_own(e.name)]
    if strangers:
        msg = f"{path}: is no run folder, it holds {min(strangers).name}; choose another folder"
        raise RunFolderError(msg)


def _is_own(name: str) -> bool:
    return name in _OWN or (name.startswith(BUILD) and name.removeprefix(BUILD).isdecimal())


def _known_state(path: Path, study_text: str, provenance: Provenance, n_parts: int) -> RunState:
    """State of the run so far; refuses one of another study or another model."""
    if not (path / STATE).exists() and not n_parts:
        return RunState()
    try:
        known, state = read_state(path)
    except RunFolderError:
        if not _is_same_study(path / STUDY, study_text):
            raise
        # What run.json said is counted anew from the parts, which tell whose they are.
        return RunState()
    if known.study_hash != provenance.study_hash:
        msg = f"{path}: belongs to another study, {known.title!r}, or to an earlier form of this"
        msg += " one; rename the study file, or move the folder away"
        raise RunFolderError(msg)
    if known.model_version != provenance.model_version:
        msg = f"{path}: was made by model version {known.model_version}, and this is version"
        msg += f" {provenance.model_version}: their numbers do not mix; move the folder away"
        raise RunFolderError(msg)
    return state


def _is_same_study(path: Path, study_text: str) -> bool:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return False
    return study_text_hash(text) == study_text_hash(study_text)
