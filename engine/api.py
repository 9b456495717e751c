"""What a notebook needs: load a study, evaluate builds, run it, read what came out."""

import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.columns import BY_NAME, COLUMNS
from engine.limits import MATCHED, biting, share_met, violations, with_standing
from engine.model import evaluate as evaluate_builds
from engine.model import with_runaway
from engine.space import Space
from engine.study import Limit, Study
from engine.studyfile import parse_overrides, read_study

LOOKED_AT = 512
"""Builds sampled by a look at a study."""
SEARCH_SECONDS = 0.8e-3
"""Time that breeding takes per design, measured with a generation of 200 [s]."""
CURVE_POINTS = 60
CURVE_REACH = 2.2
"""How far beyond operating speed a speed curve goes."""

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
    """Share inside each limit, standing limits included."""
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
    """Limits it does not meet."""


def load_study(path: str | Path) -> Study:
    """Read a study file; raises StudyError with every problem in it."""
    return read_study(path)


def evaluate(study: Study, builds: pd.DataFrame) -> pd.DataFrame:
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


def to_frame(table: Table) -> pd.DataFrame:
    """Table in drawing units, columns named with them."""
    return pd.DataFrame(
        {
            COLUMNS[key].name: values if COLUMNS[key].is_text else COLUMNS[key].to_drawing(values)
            for key, values in table.items()
        }
    )


def point(study: Study, values: list[str]) -> Point:
    """Work through one build given as texts such as 'gap=0.3mm'; raises StudyError."""
    build = {key: np.array([value]) for key, value in parse_overrides(values, study).items()}
    results = with_runaway(study, evaluate_builds(study, build))
    limits = with_standing(study.all_limits)
    missed = violations(results, limits)[0] > 0
    return Point(results, limits, tuple(np.array(list(limits))[missed].tolist()))


def look(study: Study) -> Look:
    """Sample the space and time the model, before a night is spent on it."""
    space = Space.of(study)
    builds = space.builds(space.sample(LOOKED_AT, np.random.default_rng(study.search.seed)))
    start = time.perf_counter()
    results = evaluate_builds(study, builds)
    seconds = (time.perf_counter() - start) / LOOKED_AT + SEARCH_SECONDS
    limits = with_standing(study.all_limits)
    violation = violations(results, limits)
    bites = biting(violation, limits)
    status = results["status"]
    reasons, counts = np.unique(status[status != MATCHED], return_counts=True)
    return Look(
        size=space.size,
        sampled=LOOKED_AT,
        matched=float((status == MATCHED).mean()),
        unmatched={str(reasons[i]): int(counts[i]) for i in np.argsort(-counts, kind="stable")},
        met=share_met(violation, limits),
        bites=bites[0] if bites else "",
        feasible=float((violation == 0).all(axis=1).mean()),
        seconds=seconds * min(study.search.designs, space.size),
    )


def speed_curve(study: Study, table: Table, row: int) -> Table:
    """One build of a table at many speeds, from near standstill to well beyond its own."""
    keys = (*study.searched(), *study.fixed())
    build = {key: np.repeat(table[key][row : row + 1], CURVE_POINTS) for key in keys}
    build["speed"] = table["speed"][row] * np.linspace(0.05, CURVE_REACH, CURVE_POINTS)
    return evaluate_builds(study, build)
