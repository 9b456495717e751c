"""What a notebook needs: load a study, evaluate builds, run it, read what came out."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from engine import runner
from engine.closeup import (
    Table,
    as_judged,
    disc_stress,
    disc_waves,
    front_so_far,
    gap_profiles,
    runaway_of,
    single_steps,
    speed_curve,
)
from engine.columns import BY_NAME, COLUMNS
from engine.course import Evaluate
from engine.errors import Problem, StudyError
from engine.folder import (
    STUDY,
    read_designs,
    read_frame,
    read_front,
    read_growth,
    read_state,
    run_name,
)
from engine.limits import MATCHED, violations, with_standing
from engine.loads import carried
from engine.look import Look, look
from engine.model import MODEL_VERSION, with_recheck, with_runaway, with_swing
from engine.runlog import Progress
from engine.sensitivity import Indices
from engine.sensitivity import band_sources as sources_of_band
from engine.study import Limit, Study
from engine.studyfile import parse_overrides, parse_study, read_study
from engine.studyfit import read_study_text
from engine.studytext import read_text
from engine.uncertainty import evaluate as evaluate_builds
from engine.uncertainty import with_bands
from engine.workers import Workers

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Growth:
    """How the front of a run grew, generation after generation."""

    reference: Mapping[str, float]
    """Values of the aims [SI] beyond which hypervolume is measured, the worst of the first
    feasible designs; empty where none is feasible."""
    rows: Table
    """'designs', 'seconds' over all starts, 'stage', 'front' (its designs), 'hypervolume' (product
    of the aims' units), and the best of each aim [SI] under its key."""


@dataclass(frozen=True)
class Point:
    """One build worked through."""

    results: Table
    limits: Mapping[str, Limit[float]]
    missed: tuple[str, ...]
    """Limits it does not meet, or for which it has no number."""


__all__ = [
    "Growth",
    "Look",
    "Point",
    "as_judged",
    "band_sources",
    "disc_stress",
    "disc_waves",
    "evaluate",
    "front_so_far",
    "gap_profiles",
    "hand_to_optuna",
    "load_study",
    "look",
    "plain",
    "point",
    "read_designs",
    "read_frame",
    "read_front",
    "read_history",
    "read_state",
    "refuse_present",
    "run",
    "runaway_of",
    "single_steps",
    "speed_curve",
    "study_of_run",
    "to_frame",
]


def load_study(path: str | Path) -> Study:
    """Read a study file; raises StudyError with every problem in it."""
    return read_study(path)


def evaluate(study: Study, builds: "pd.DataFrame") -> "pd.DataFrame":
    """Results of builds, both in drawing units under the names of `engine.columns`.

    Every range of the study needs a column ('disc_diameter_mm', ...); a machine number may be given
    too and then stands in for the study's. Raises KeyError for an unknown column.
    """
    si = {}
    for name in builds.columns:
        column = BY_NAME[str(name)]
        values = builds[name].to_numpy()
        si[column.key] = values if column.is_text else column.to_si(values)
    return to_frame(evaluate_builds(study, si))


def to_frame(table: Table) -> "pd.DataFrame":
    """Table in drawing units, columns named with them."""
    import pandas as pd  # noqa: PLC0415  not before it is needed

    return pd.DataFrame(
        {
            COLUMNS[key].name: values if COLUMNS[key].is_text else COLUMNS[key].to_drawing(values)
            for key, values in table.items()
        }
    )


def point(study: Study, values: list[str]) -> Point:
    """Work through one build given as texts such as 'gap=0.3mm'; raises StudyError."""
    build = {key: np.array([value]) for key, value in parse_overrides(values, study).items()}
    results = _finish(study, evaluate_builds(study, build))
    limits = with_standing(study.all_limits)
    # Each limit by its own number; a design without operating point misses them all otherwise.
    missed = violations(results | {"status": np.array([MATCHED])}, limits)[0] > 0
    return Point(results, limits, tuple(np.array(list(limits))[missed].tolist()))


def run(
    study_path: str | Path,
    folder: str | Path | None = None,
    progress: Callable[[Progress], None] = lambda _: None,
    *,
    workers: int = 1,
    cluster: str = "",
) -> runner.Outcome:
    """Search a study and store everything in its run folder, runs/NAME unless another is given.

    The same call after a kill goes on. Builds are evaluated in this process, in so many worker
    processes, or by the workers of the Dask scheduler at the address `cluster`; the results are
    the same. Raises StudyError, RunFolderError, StorageError, WorkerError.
    """
    path = Path(study_path)
    text = read_study_text(path)
    study = parse_study(text, str(path))
    with _evaluator(text, workers, cluster) as evaluator:
        return runner.run(
            study=study,
            study_text=text,
            path=Path(folder) if folder is not None else Path("runs") / run_name(path),
            evaluate=evaluator,
            model_version=MODEL_VERSION,
            finish=_finish,
            progress=progress,
        )


def _evaluator(text: str, workers: int, cluster: str) -> AbstractContextManager[Evaluate]:
    if cluster:
        from engine.cluster import Cluster  # noqa: PLC0415  (dask takes a second to load)

        return Cluster(text, cluster)
    return Workers(text, workers, evaluate_builds) if workers > 1 else nullcontext(evaluate_builds)


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


def band_sources(study: Study, table: Table, rows: Sequence[int]) -> list[dict[str, Indices]]:
    """Find what the bands of some builds of a table come from; {} each without bands."""
    if "electric_power_p50" not in table:
        return [{} for _ in rows]
    return [sources_of_band(study, table, row) for row in rows]


def _finish(study: Study, results: Table) -> Table:
    """Add what is worth its cost only for a few designs."""
    results = with_swing(study, with_runaway(study, results))
    results = with_bands(study, with_recheck(study, results))
    if study.loads is None:
        return results
    return results | {"loads_carried": carried(study.loads, results["electric_power_p10"])}


def refuse_present(path: Path) -> None:
    """Refuse to write over a file, before the work that would end in it; raises StudyError."""
    if path.exists():
        found = Problem(str(path), None, "", "stands here already", "", "choose another name")
        raise StudyError([found])


def hand_to_optuna(folder: Path, path: Path) -> None:
    """Write the front of a run as a journal file of Optuna; raises StorageError."""
    from engine.trials import write_journal  # noqa: PLC0415  (optuna takes a second to load)

    study, _ = study_of_run(folder)
    front = read_front(folder)
    if front:
        write_journal(path, study, front)


def study_of_run(folder: Path) -> tuple[Study, str]:
    """Study that a run folder holds, and its text."""
    text = read_text(folder / STUDY)
    return parse_study(text, str(folder / STUDY)), text


def plain(point: Point) -> dict[str, Any]:
    """Results of a point in drawing units under their column names; None where there is none."""
    row = {str(name): value for name, value in to_frame(point.results).iloc[0].items()}
    known = {name: value for name, value in row.items() if isinstance(value, str)}
    numbers = {name: float(f"{value:.12g}") for name, value in row.items() if name not in known}
    finite = {name: value if np.isfinite(value) else None for name, value in numbers.items()}
    return {**known, **finite, "missed_limits": list(point.missed)}
