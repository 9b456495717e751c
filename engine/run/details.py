"""Details of a few builds, beyond the search: curves, steps, profiles, waves and stresses."""

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import evaluate_judged
from engine.columns import COLUMNS, Results
from engine.model.evaluation import builds_of, evaluate, inside_one_gap
from engine.model.pump.curve import head_curve
from engine.model.pump.stack import stack_of
from engine.model.socket import AtSocket, at_socket
from engine.model.strength import StressThrough, stress_through, waves
from engine.model.wired import can_settle
from engine.physics.gap.profiles import GapProfiles
from engine.physics.machine.vibration import ModeChart
from engine.stage_columns import is_idle
from engine.study.pump.study import PumpStudy
from engine.study.study import Study
from engine.study.values import Range

FREE_STEP = 0.02
"""Step in a range without steps, as a share of the range."""
CURVE_POINTS = 60
CURVE_REACH = 1.05
"""Upper end of a speed curve, over runaway speed."""


def speed_curve(study: Study, table: Results, row: int) -> Results:
    """One build of a table at many speeds, from almost zero to just above runaway speed.

    That of a pump is at its own speed and many flows, from nearly shut to where no head is left.
    """
    if isinstance(study, PumpStudy):
        return head_curve(study, builds_of(study, table), row)
    runaway = np.nan_to_num(table["runaway_ratio"][row], nan=2.0)
    shares = np.linspace(0.02, CURVE_REACH * runaway, CURVE_POINTS)
    return evaluate(study, _at_speeds(study, table, row, shares))


def single_steps(study: Study, table: Results, row: int) -> Results:
    """One build of a table with each variable in turn one step lower and one step higher.

    A step goes to the next value of the study's range, or by `FREE_STEP` in a range without steps.
    No step goes out of a range. The column 'moved' of the results names the variable.
    """
    moves = [
        (key, value)
        for key, given in study.searched().items()
        if not COLUMNS[key].is_text and not given.is_fixed
        if not is_idle(key, float(table["stage_count"][row]) if "stage_count" in table else 1.0)
        for value in _next_values(given, float(table[key][row]))
    ]
    build = {
        key: np.repeat(values[row : row + 1], len(moves))
        for key, values in builds_of(study, table).items()
    }
    for lane, (key, value) in enumerate(moves):
        build[key][lane] = value
    if study.speed_settles:
        build["speed"] = np.full(len(moves), np.nan)
    moved = np.array([key for key, _ in moves], dtype=str)
    return (evaluate_judged(study, build) if moves else build) | {"moved": moved}


def as_judged(study: Study, front: Results) -> Study:
    """Study with the gap flow, averaged or resolved, with which its front was evaluated."""
    levels = np.unique(front.get("gap_flow", np.array([], dtype=str))).tolist()
    if len(levels) != 1:
        return study
    return study.model_copy(update={"search": study.search.model_copy(update={"flow": levels[0]})})


def gap_profiles(
    study: Study, table: Results, rows: Sequence[int], *, stage: int = 1
) -> list[GapProfiles]:
    """Profiles inside one gap of a stage of some builds of a table, resolved across the gap."""
    if not rows or study.kind == "pump":
        return []
    some = {key: values[list(rows)] for key, values in table.items()}
    lanes = inside_one_gap(study, some, stage=stage)
    names = [field.name for field in fields(GapProfiles)]
    return [
        GapProfiles(**{name: getattr(lanes, name)[lane : lane + 1] for name in names})
        for lane in range(len(rows))
    ]


def disc_waves(table: Results, row: int) -> tuple[NDArray[np.float64], ModeChart]:
    """Speeds [rad/s] to above the standing wave, and the frequencies of a disc's waves at them."""
    lane = stack_of({key: values[row : row + 1] for key, values in table.items()})
    reach = lane["speed"] if np.isinf(lane["wave_speed"]) else lane["wave_speed"]
    speed = np.linspace(0.0, 1.2 * np.maximum(reach, lane["speed"]), CURVE_POINTS, axis=1)
    return speed[0], waves(lane, speed=speed)


def disc_stress(table: Results, row: int) -> StressThrough:
    """Stress through the disc of one build of a table; the first axis has one lane."""
    return stress_through(stack_of({key: values[row : row + 1] for key, values in table.items()}))


def _next_values(given: Range[Any], value: float) -> list[float]:
    if given.values is None:
        step = FREE_STEP * (given.highest - given.lowest)
        found = [value - step, value + step]
        return [each for each in found if given.lowest <= each <= given.highest]
    listed = np.array(given.values, dtype=float)
    here = int(np.argmin(np.abs(listed - value)))
    return [float(listed[at]) for at in (here - 1, here + 1) if 0 <= at < len(listed)]


def _at_speeds(study: Study, table: Results, row: int, shares: NDArray[np.float64]) -> Results:
    build = {
        key: np.repeat(values[row : row + 1], shares.size)
        for key, values in builds_of(study, table).items()
    }
    return build | {"speed": table["speed"][row] * shares}


def at_sockets(study: Study, table: Results, rows: Sequence[int]) -> list[AtSocket | None]:
    """Where some builds of a table settle; None where the study says too little for that."""
    if not can_settle(study):
        return [None] * len(rows)
    return [at_socket(study, table, row) for row in rows]
