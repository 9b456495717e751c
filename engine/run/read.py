"""Reading a run folder: its study, and how its front grew."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from engine.columns import Results
from engine.errors import RunFolderError, StudyError
from engine.run.folder import STUDY, read_front, read_growth, read_state
from engine.study.reader import parse_study, study_text_hash
from engine.study.study import Study
from engine.study.yaml_text import read_text


@dataclass(frozen=True)
class Growth:
    """How the front of a run grew, generation by generation."""

    reference: Mapping[str, float]
    """Values of the aims [SI] from which hypervolume is measured: the worst of the first feasible
    designs; empty if no design is feasible."""
    rows: Results
    """'designs', 'seconds' over all starts, 'stage', 'front' (number of designs), 'hypervolume'
    (product of the aims' units), and the best value of each aim [SI] under its key."""


def read_history(folder: str | Path) -> Growth:
    """Read how the front of a run grew; raises RunFolderError."""
    study, _ = study_of_run(Path(folder))
    noted = [each for each in read_growth(folder) if each]
    worst: list[float] = next(
        (each["reference"] for each in reversed(noted) if each["reference"]), []
    )
    signs = [1.0 if way == "maximise" else -1.0 for way in study.aims.values()]
    rows = [row for each in noted for row in each["rows"]]
    table = {
        key: np.array([row[key] for row in rows], dtype=str if key == "stage" else float)
        for key in ("designs", "seconds", "stage", "front", "hypervolume")
    }
    bests = {key: np.array([row["best"][key] for row in rows], dtype=float) for key in study.aims}
    values = [sign * merit for sign, merit in zip(signs, worst, strict=False)]
    return Growth(dict(zip(study.aims, values, strict=False)), table | bests)


def study_of_run(folder: Path) -> tuple[Study, str]:
    """Study stored in a run folder, and its text; raises RunFolderError where it is another."""
    known, _ = read_state(folder)
    remedy = "give the command of the run again, with the study as it was: it is put back"
    try:
        text = read_text(folder / STUDY)
    except StudyError as error:
        msg = f"{error.problems[0]}; {remedy}"
        raise RunFolderError(msg) from error
    if study_text_hash(text) != known.study_hash:
        msg = f"{folder / STUDY}: was changed after the run began, and no longer says what was"
        msg += f" searched; {remedy}"
        raise RunFolderError(msg)
    return parse_study(text, str(folder / STUDY)), text


def hand_to_optuna(folder: Path, path: Path) -> None:
    """Write the front of a run as an Optuna journal file; raises StorageError."""
    from engine.search.refine import write_journal  # noqa: PLC0415  (optuna takes a second to load)

    study, _ = study_of_run(folder)
    front = read_front(folder)
    if front:
        write_journal(path, study, front)
