"""The run folder: what is in it, how it is written and read. The only home of pyarrow."""

import io
import json
import os
import platform
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from engine import __version__, safefile
from engine.columns import BY_NAME, COLUMNS, Column
from engine.errors import RunFolderError

if TYPE_CHECKING:
    import pandas as pd

Results = dict[str, NDArray[Any]]
"""Columns by key, SI."""

STUDY, STATE, DESIGNS = "study.yaml", "run.json", "designs"
FRONT, CLOSEST, REPORT = "front.parquet", "closest.parquet", "report.html"
BUILD = "build-"
"""How the folder of a build sheet begins; the number of the design follows."""
LONGEST_NAME = 80
"""Characters of a run's name."""
DIGITS = 12
"""Significant digits of a stored number, so that a gap of 0.3 mm is stored as 0.3."""

_OWN = (STUDY, STATE, DESIGNS, FRONT, CLOSEST, REPORT)
_POWERS = np.array([float(f"1e{exponent}") for exponent in range(301)])
_REDO = "remove it and every later part, and give the same command again: they are made anew"


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
            **{name: version(name) for name in ("numpy", "scipy", "optuna", "pyarrow", "CoolProp")},
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


def run_name(study: Path) -> str:
    """Name of the run of a study file: its stem, without what could lead out of a folder."""
    kept = "".join(c if c.isalnum() or c in " -_." else "_" for c in study.stem)
    return kept.strip(" ._")[:LONGEST_NAME].strip(" ._") or "study"


@dataclass
class RunFolder:
    """A run folder held by this process; see `claimed`."""

    path: Path
    provenance: Provenance
    state: RunState
    """As run.json had it when the folder was claimed."""
    _parts: int = 0

    def write_state(self, state: RunState) -> None:
        """Replace run.json."""
        content = json.dumps(asdict(self.provenance) | asdict(state), indent=2, ensure_ascii=False)
        safefile.write_whole(self.path / STATE, f"{content}\n".encode())

    def write_part(self, results: Results, mark: Mapping[str, Any]) -> None:
        """Add designs as the next part; `mark` is kept with them for the search to go on."""
        path = _part(self.path, self._parts)
        safefile.write_whole(path, _parquet(results, self.provenance, {"mark": mark}))
        self._parts += 1

    def parts(self) -> Iterator[tuple[Results, dict[str, Any]]]:
        """Results and mark of every part, in order.

        Raises
        ------
        RunFolderError
            Where a part is damaged or of another run, by name.
        """
        for number in range(self._parts):
            path = _part(self.path, number)
            table = _read(path, None)
            notes = {k.decode(): v.decode() for k, v in (table.schema.metadata or {}).items()}
            if notes.get("study_hash") != self.provenance.study_hash or "mark" not in notes:
                msg = f"{path}: is of another run; {_REDO}"
                raise RunFolderError(msg)
            yield _results(table), json.loads(notes["mark"])

    def count_designs(self) -> int:
        """Count the stored designs from the ends of the parts alone."""
        return sum(_rows(_part(self.path, number)) for number in range(self._parts))

    def write_table(self, name: str, results: Results) -> None:
        """Write front.parquet or closest.parquet."""
        safefile.write_whole(self.path / name, _parquet(results, self.provenance, {}))

    def remove_table(self, name: str) -> None:
        """Remove a table that no longer holds."""
        safefile.remove(self.path / name)


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
    _refuse_link(path)
    _refuse_strangers(path)
    safefile.make_folder(path)
    with safefile.locked(path):
        for entry in sorted(path.iterdir()):
            _refuse_link(entry)
        safefile.make_folder(path / DESIGNS)
        for each in (path, path / DESIGNS):
            safefile.remove_torn(each)
        n_parts = _count_parts(path)
        folder = RunFolder(path, provenance, _known_state(path, provenance, n_parts), n_parts)
        if not (path / STATE).exists():
            safefile.write_whole(path / STUDY, study_text.encode())
            folder.write_state(folder.state)
        yield folder


def stored(results: Mapping[str, NDArray[Any]]) -> Results:
    """Results as a reader of their file will see them: rounded in drawing units."""
    return {
        key: np.asarray(values, dtype=str)
        if COLUMNS[key].is_text
        else COLUMNS[key].to_si(_drawn(COLUMNS[key], values))
        for key, values in results.items()
    }


def write_text(path: Path, name: str, text: str) -> Path:
    """Write a page into a run folder, whole or not at all, and give its path."""
    safefile.write_whole(path / name, text.encode())
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
    with safefile.locked(path):
        _refuse_link(folder)
        found = {entry.name for entry in folder.iterdir()} if folder.is_dir() else set()
        if strangers := found - set(files):
            msg = f"{folder / min(strangers)}: is not of this sheet and would be lost; move it away"
            raise RunFolderError(msg)
        safefile.replace_folder(folder, {name: text.encode() for name, text in files.items()})
    return folder


def read_state(path: Path) -> tuple[Provenance, RunState]:
    """Read run.json of a run folder.

    Raises
    ------
    RunFolderError
        Where it is missing or damaged.
    """
    try:
        entries = json.loads((path / STATE).read_text(encoding="utf-8"))
        provenance = {key: entries.pop(key) for key in Provenance.__dataclass_fields__}
        return Provenance(**provenance), RunState(**entries)
    except FileNotFoundError as error:
        msg = f"{path}: is no run folder, {STATE} is missing; give the folder of a run"
        raise RunFolderError(msg) from error
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        msg = f"{path / STATE}: is damaged; move the folder away and run the study anew"
        raise RunFolderError(msg) from error


def read_designs(path: Path, keys: Sequence[str] | None = None) -> Results:
    """Every stored design of a run, SI by key; all columns or those of `keys`."""
    read_state(path)
    names = None if keys is None else [COLUMNS[key].name for key in keys]
    parts = [_results(_read(_part(path, number), names)) for number in range(_count_parts(path))]
    return joined(parts)


def read_front(path: Path, name: str = FRONT) -> Results:
    """Front of a run (or its closest designs), SI by key; empty where there is none."""
    read_state(path)
    return _results(_read(path / name, None)) if (path / name).exists() else {}


def read_frame(path: Path, name: str = FRONT) -> "pd.DataFrame":
    """Front, closest designs or, as 'designs', every design of a run, in drawing units."""
    read_state(path)
    if name == DESIGNS:
        tables = [_read(_part(path, number), None) for number in range(_count_parts(path))]
    else:
        tables = [_read(path / name, None)]
    frame: pd.DataFrame = pa.concat_tables(tables).unify_dictionaries().to_pandas()
    return frame


def joined(results: Iterable[Results]) -> Results:
    """Rows of several results, one after the other; the columns are those of the first."""
    each = list(results)
    return {key: np.concatenate([one[key] for one in each]) for key in each[0]} if each else {}


def _part(path: Path, number: int) -> Path:
    return path / DESIGNS / f"part-{number:06d}.parquet"


def _count_parts(path: Path) -> int:
    found = sorted((path / DESIGNS).glob("[!.]*"))
    for number, entry in enumerate(found):
        _refuse_link(entry)
        wanted = _part(path, number)
        if entry != wanted and entry.name > wanted.name and entry.match("part-*.parquet"):
            msg = f"{wanted}: is missing while later parts are there; remove those, and give the"
            msg += " same command again: they are made anew"
            raise RunFolderError(msg)
        if entry != wanted:
            msg = f"{entry}: is not of this run; move it away"
            raise RunFolderError(msg)
    return len(found)


def _refuse_link(path: Path) -> None:
    if path.is_symlink():
        msg = f"{path}: is a link, which a run does not follow; put the thing itself there"
        raise RunFolderError(msg)


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


def _known_state(path: Path, provenance: Provenance, n_parts: int) -> RunState:
    """State of the run so far; refuses one of another study or another model."""
    if not (path / STATE).exists() and not n_parts:
        return RunState()
    known, state = read_state(path)
    if known.study_hash != provenance.study_hash:
        msg = f"{path}: belongs to another study, {known.title!r}, or to an earlier form of this"
        msg += " one; rename the study file, or move the folder away"
        raise RunFolderError(msg)
    if known.model_version != provenance.model_version:
        msg = f"{path}: was made by model version {known.model_version}, and this is version"
        msg += f" {provenance.model_version}: their numbers do not mix; move the folder away"
        raise RunFolderError(msg)
    return state


def _drawn(column: Column, values: NDArray[Any]) -> NDArray[np.float64]:
    """Values in the drawing unit, rounded to DIGITS significant digits."""
    drawing = column.to_drawing(np.asarray(values, dtype=float))
    with np.errstate(divide="ignore", invalid="ignore"):
        places = DIGITS - 1 - np.floor(np.log10(np.abs(drawing)))
    places = np.where(np.isfinite(places), places, 0).clip(-300, 300).astype(int)
    # Powers of ten must be right to the last bit, or 0.3 would come out as its neighbour.
    up, down = _POWERS[np.maximum(places, 0)], _POWERS[np.maximum(-places, 0)]
    return np.asarray(np.rint(drawing * up / down) / up * down)


def _field(column: Column) -> pa.Field:
    kind = (
        pa.dictionary(pa.int32(), pa.string())
        if column.is_text
        else (pa.int64() if column.is_count else pa.float64())
    )
    notes = {"unit": column.unit.symbol, "label": column.label, "description": column.meaning}
    return pa.field(column.name, kind, metadata=notes)


def _array(column: Column, values: NDArray[Any]) -> pa.Array:
    if column.is_text:
        return pa.array(np.asarray(values, dtype=str).tolist(), pa.string()).dictionary_encode()
    drawing = _drawn(column, values)
    if not column.is_count:
        return pa.array(drawing)
    missing = ~np.isfinite(drawing)
    return pa.array(np.where(missing, 0, drawing).astype(np.int64), mask=missing)


def _parquet(results: Results, provenance: Provenance, notes: Mapping[str, Any]) -> bytes:
    """Parquet file of results, in the order of the column table."""
    columns = [column for key, column in COLUMNS.items() if key in results]
    about = {**asdict(provenance), **notes}
    schema = pa.schema(
        [_field(column) for column in columns],
        metadata={
            key: value if isinstance(value, str) else json.dumps(value)
            for key, value in about.items()
        },
    )
    arrays = [_array(column, results[column.key]) for column in columns]
    buffer = io.BytesIO()
    pq.write_table(
        pa.Table.from_arrays(arrays, schema=schema),
        buffer,
        compression="zstd",
        use_dictionary=[column.name for column in columns if column.is_text or column.is_count],
        use_byte_stream_split=[
            column.name for column in columns if not (column.is_text or column.is_count)
        ],
        write_page_checksum=True,
    )
    return buffer.getvalue()


def _read(path: Path, names: Sequence[str] | None) -> pa.Table:
    with _opened(path) as file:
        return file.read(columns=names)


def _rows(path: Path) -> int:
    with _opened(path) as file:
        return int(file.metadata.num_rows)


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    _refuse_link(path)
    try:
        with pq.ParquetFile(path, page_checksum_verification=True) as file:
            yield file
    except (OSError, pa.ArrowException) as error:
        why = os.strerror(error.errno) if isinstance(error, OSError) and error.errno else "damaged"
        msg = f"{path}: cannot be read ({why.lower()}); {_REDO}"
        raise RunFolderError(msg) from error


def _results(table: pa.Table) -> Results:
    results: Results = {}
    for name in table.column_names:
        column = BY_NAME[name]
        if column.is_text:
            results[column.key] = np.array(table[name].cast(pa.string()).to_pylist(), dtype=str)
        else:
            drawing = table[name].cast(pa.float64()).to_numpy()
            results[column.key] = column.to_si(drawing)
    return results
