"""A few builds looked at more closely than a search does: curves, steps, profiles, stresses."""

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.folder import each_part
from engine.front import merits, nondominated
from engine.mechanics import StressThrough, stress_through, waves
from engine.model import builds_of, inside_one_gap, with_runaway
from engine.model import evaluate as evaluate_plainly
from engine.physics.gap_profiles import GapProfiles
from engine.physics.vibration import ModeChart
from engine.resultfile import joined
from engine.study import Study
from engine.uncertainty import evaluate as evaluate_builds
from engine.values import Range

FREE_STEP = 0.02
"""Step of a range that has none, as a share of it."""
RECHECKED = ("resolved_power", "resolved_difference")
"""Columns that only a finished front has."""
CURVE_POINTS = 60
CURVE_REACH = 1.05
"""How far beyond runaway speed a speed curve goes."""

Table = dict[str, NDArray[Any]]
"""Columns by key, SI, all of one length."""


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


def as_judged(study: Study, front: Table) -> Study:
    """Study with the level of gap flow at which a front of it was judged."""
    levels = np.unique(front.get("gap_flow", np.array([], dtype=str))).tolist()
    return with_flow(study, levels[0]) if len(levels) == 1 else study


def with_flow(study: Study, level: str) -> Study:
    """Study with another level of gap flow."""
    return study.model_copy(update={"search": study.search.model_copy(update={"flow": level})})


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


def disc_waves(table: Table, row: int) -> tuple[NDArray[np.float64], ModeChart]:
    """Speeds [rad/s] up to beyond the standing wave, and frequencies of a disc's waves there."""
    lane = {key: values[row : row + 1] for key, values in table.items()}
    reach = lane["speed"] if np.isinf(lane["wave_speed"]) else lane["wave_speed"]
    speed = np.linspace(0.0, 1.2 * np.maximum(reach, lane["speed"]), CURVE_POINTS, axis=1)
    return speed[0], waves(lane, speed=speed)


def disc_stress(table: Table, row: int) -> StressThrough:
    """Stress through the disc of one build of a table, an axis of one lane first."""
    return stress_through({key: values[row : row + 1] for key, values in table.items()})


def front_so_far(study: Study, folder: Path) -> Table:
    """Front of the designs that a running run has stored, without what only its end adds.

    A part is read at a time, in few columns; the few designs of the front are then worked through
    once more. See `runaway_of` for their runaway; the recheck with the gap flow resolved is left to
    the end.
    """
    front: Table = {}
    keys = tuple(dict.fromkeys((*study.aims, *study.searched(), "design", "feasible", "gap_flow")))
    for part in each_part(folder, keys):
        more = {key: values[part["feasible"] == 1] for key, values in part.items()}
        front = joined([front, more]) if front else more
        # Where the search has come to the closer level, that alone counts.
        closer = front["gap_flow"] == "resolved"
        merit = merits(front, study.aims)
        if closer.any():
            merit[~closer] = np.nan
        front = {key: values[nondominated(merit)] for key, values in front.items()}
    if not front or not len(front["design"]):
        return {}
    order = np.lexsort((front["design"], *-merits(front, study.aims).T[::-1]))
    front = {key: values[order] for key, values in front.items()}
    given = {key: front[key] for key in (*study.searched(), "gap_flow")}
    rank = {"rank": np.arange(1.0, len(order) + 1)}
    full = {**evaluate_builds(study, given), **front, **rank}
    return {key: values for key, values in full.items() if key not in RECHECKED}


def runaway_of(study: Study, table: Table, rows: Sequence[int]) -> Table:
    """Table with the runaway of some of its rows worked out, the others as they are."""
    if not rows:
        return table
    at = list(rows)
    found = with_runaway(study, {key: values[at] for key, values in table.items()})
    filled = {key: table[key].copy() for key in ("runaway_ratio", "survives_load_loss")}
    for key, values in filled.items():
        values[at] = found[key]
    return table | filled


def _next_values(given: Range[Any], value: float) -> list[float]:
    if given.values is None:
        step = FREE_STEP * (given.highest - given.lowest)
        found = [value - step, value + step]
        return [each for each in found if given.lowest <= each <= given.highest]
    listed = np.array(given.values, dtype=float)
    here = int(np.argmin(np.abs(listed - value)))
    return [float(listed[at]) for at in (here - 1, here + 1) if 0 <= at < len(listed)]


def _at_speeds(study: Study, table: Table, row: int, shares: NDArray[np.float64]) -> Table:
    build = {
        key: np.repeat(values[row : row + 1], shares.size)
        for key, values in builds_of(study, table).items()
    }
    return build | {"speed": table["speed"][row] * shares}
