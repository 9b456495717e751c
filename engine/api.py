"""What a notebook needs: load a study, evaluate builds, run it, read what came out."""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from engine import runner
from engine.columns import BY_NAME, COLUMNS
from engine.errors import Problem, StudyError
from engine.folder import STUDY, read_designs, read_frame, read_front, read_state, run_name
from engine.limits import MATCHED, biting, count_met, violations, with_standing
from engine.loads import carried
from engine.mechanics import StressThrough, stress_through, waves
from engine.model import (
    MODEL_VERSION,
    builds_of,
    inside_one_gap,
    with_recheck,
    with_runaway,
    with_swing,
)
from engine.model import evaluate as evaluate_plainly
from engine.physics.gap_profiles import GapProfiles
from engine.physics.vibration import ModeChart
from engine.sensitivity import Indices
from engine.sensitivity import band_sources as sources_of_band
from engine.space import Space
from engine.study import Limit, Study
from engine.studyfile import parse_overrides, parse_study, read_study
from engine.studytext import read_text
from engine.uncertainty import evaluate as evaluate_builds
from engine.uncertainty import with_bands
from engine.values import Range

if TYPE_CHECKING:
    import pandas as pd

LOOKED_AT = 512
"""Builds sampled by a look at a study."""
SEARCH_SECONDS = 0.1e-3
"""Time that breeding and storing take per design, measured with a generation of 400 [s]."""
REFINED = 8
"""Builds timed at the resolved level, where the search ends there."""
READING_SHARES = (0.2, 0.4, 0.6, 0.8, 1.0)
"""Speeds of the bench readings, over operating speed."""
FREE_STEP = 0.02
"""Step of a range that has none, as a share of it."""
CURVE_POINTS = 60
CURVE_REACH = 1.05
"""How far beyond runaway speed a speed curve goes."""

Table = dict[str, NDArray[Any]]
"""Columns by key, SI, all of one length."""


@dataclass(frozen=True)
class Look:
    """What a few hundred builds tell about a study before its run."""

    size: float
    """Builds in the space; inf where a range has no step."""
    sampled: int
    matched: float
    """Share with an operating point."""
    unmatched: Mapping[str, int]
    """Number of builds by the reason they have none, most frequent first."""
    met: Mapping[str, float]
    """Share of those with an operating point inside each limit, standing limits included."""
    bites: str
    """Limit that most builds miss, '' where every build meets all."""
    feasible: float
    seconds: float
    """Expected time of the whole run."""


@dataclass(frozen=True)
class Point:
    """One build worked through."""

    results: Table
    limits: Mapping[str, Limit[float]]
    missed: tuple[str, ...]
    """Limits it does not meet, or for which it has no number."""


__all__ = [
    "READING_SHARES",
    "Look",
    "Point",
    "as_judged",
    "band_sources",
    "bench_readings",
    "disc_stress",
    "disc_waves",
    "evaluate",
    "gap_profiles",
    "hand_to_optuna",
    "load_study",
    "look",
    "plain",
    "point",
    "read_designs",
    "read_frame",
    "read_front",
    "read_state",
    "refuse_present",
    "run",
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


def look(study: Study) -> Look:
    """Sample the space and time the model, before a night is spent on it."""
    space = Space.of(study)
    builds = space.builds(space.sample(LOOKED_AT, np.random.default_rng(study.search.seed)))
    # What is made once, tables and fits, is not to be charged to every design.
    evaluate_builds(study, {key: values[:1] for key, values in builds.items()})
    start = time.perf_counter()
    results = evaluate_builds(study, builds)
    seconds = (time.perf_counter() - start) / LOOKED_AT + SEARCH_SECONDS
    seconds *= min(study.search.designs, space.size)
    if "refine" in study.search.stages:
        start = time.perf_counter()
        few = {key: values[:REFINED] for key, values in builds.items()}
        evaluate_builds(_with_flow(study, "resolved"), few)
        seconds += (time.perf_counter() - start) / REFINED * study.search.refined
    limits = with_standing(study.all_limits)
    violation = violations(results, limits)
    status = results["status"]
    n_matched = int((status == MATCHED).sum())
    met = count_met(results, violation, limits)
    bites = biting(met, n_matched)
    reasons, counts = np.unique(status[status != MATCHED], return_counts=True)
    return Look(
        size=space.size,
        sampled=LOOKED_AT,
        matched=n_matched / LOOKED_AT,
        unmatched={str(reasons[i]): int(counts[i]) for i in np.argsort(-counts, kind="stable")},
        met={key: met[key] / max(n_matched, 1) for key in limits},
        bites=next(iter(bites), ""),
        feasible=float((violation == 0).all(axis=1).mean()),
        seconds=seconds,
    )


def speed_curve(study: Study, table: Table, row: int) -> Table:
    """One build of a table at many speeds, from near standstill to just beyond runaway."""
    runaway = np.nan_to_num(table["runaway_ratio"][row], nan=2.0)
    shares = np.linspace(0.02, CURVE_REACH * runaway, CURVE_POINTS)
    return evaluate_plainly(study, _at_speeds(study, table, row, shares))


def single_steps(study: Study, table: Table, row: int) -> Table:
    """One build of a table with one variable at a time a step lower, then a step higher.

    A step leads to the next value of the study's range, or by `FREE_STEP` of a range without
    values; no step leads out of a range. Results, with the key of the variable under 'moved'.
    """
    moves = [
        (key, value)
        for key, given in study.searched().items()
        if not COLUMNS[key].is_text and not given.is_fixed
        for value in _next_values(given, float(table[key][row]))
    ]
    build = {
        key: np.repeat(values[row : row + 1], len(moves))
        for key, values in builds_of(study, table).items()
    }
    for lane, (key, value) in enumerate(moves):
        build[key][lane] = value
    moved = np.array([key for key, _ in moves], dtype=str)
    return (evaluate_builds(study, build) if moves else build) | {"moved": moved}


def _next_values(given: Range[Any], value: float) -> list[float]:
    if given.values is None:
        step = FREE_STEP * (given.highest - given.lowest)
        found = [value - step, value + step]
        return [each for each in found if given.lowest <= each <= given.highest]
    listed = np.array(given.values, dtype=float)
    here = int(np.argmin(np.abs(listed - value)))
    return [float(listed[at]) for at in (here - 1, here + 1) if 0 <= at < len(listed)]


def bench_readings(study: Study, table: Table, row: int) -> tuple[Table, Table]:
    """One build of a table at `READING_SHARES` of its speed: averaged and resolved gap flow."""
    build = _at_speeds(study, table, row, np.array(READING_SHARES))
    averaged, resolved = (
        evaluate_plainly(_with_flow(study, level), build) for level in ("averaged", "resolved")
    )
    return averaged, resolved


def _at_speeds(study: Study, table: Table, row: int, shares: NDArray[np.float64]) -> Table:
    build = {
        key: np.repeat(values[row : row + 1], shares.size)
        for key, values in builds_of(study, table).items()
    }
    return build | {"speed": table["speed"][row] * shares}


def as_judged(study: Study, front: Table) -> Study:
    """Study with the level of gap flow at which a front of it was judged."""
    levels = np.unique(front.get("gap_flow", np.array([], dtype=str))).tolist()
    return _with_flow(study, levels[0]) if len(levels) == 1 else study


def _with_flow(study: Study, level: str) -> Study:
    return study.model_copy(update={"search": study.search.model_copy(update={"flow": level})})


def run(
    study_path: str | Path,
    folder: str | Path | None = None,
    progress: Callable[[runner.Progress], None] = lambda _: None,
) -> runner.Outcome:
    """Search a study and store everything in its run folder, runs/NAME unless another is given.

    The same call after a kill goes on. Raises StudyError, RunFolderError, StorageError.
    """
    path = Path(study_path)
    text = read_text(path)
    return runner.run(
        study=parse_study(text, str(path)),
        study_text=text,
        path=Path(folder) if folder is not None else Path("runs") / run_name(path),
        evaluate=evaluate_builds,
        model_version=MODEL_VERSION,
        finish=_finish,
        progress=progress,
    )


def gap_profiles(study: Study, table: Table, rows: Sequence[int]) -> list[GapProfiles]:
    """Look inside one gap of each of some builds of a table, resolved across the gap."""
    if not rows:
        return []
    lanes = inside_one_gap(study, {key: values[list(rows)] for key, values in table.items()})
    names = [field.name for field in fields(GapProfiles)]
    return [
        GapProfiles(**{name: getattr(lanes, name)[lane : lane + 1] for name in names})
        for lane in range(len(rows))
    ]


def band_sources(study: Study, table: Table, rows: Sequence[int]) -> list[dict[str, Indices]]:
    """Find what the bands of some builds of a table come from; {} each without bands."""
    if "electric_power_p50" not in table:
        return [{} for _ in rows]
    return [sources_of_band(study, table, row) for row in rows]


def disc_waves(table: Table, row: int) -> tuple[NDArray[np.float64], ModeChart]:
    """Speeds [rad/s] up to beyond the standing wave, and frequencies of a disc's waves there."""
    lane = {key: values[row : row + 1] for key, values in table.items()}
    reach = lane["speed"] if np.isinf(lane["wave_speed"]) else lane["wave_speed"]
    speed = np.linspace(0.0, 1.2 * np.maximum(reach, lane["speed"]), CURVE_POINTS, axis=1)
    return speed[0], waves(lane, speed=speed)


def disc_stress(table: Table, row: int) -> StressThrough:
    """Stress through the disc of one build of a table, an axis of one lane first."""
    return stress_through({key: values[row : row + 1] for key, values in table.items()})


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
