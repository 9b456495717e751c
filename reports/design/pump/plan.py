"""Bench plan of a pump: a page to print, and the log of head against flow that `fit` reads."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import sample_ranges
from engine.columns import COLUMNS, Builds, Results
from engine.model.evaluation import builds_of
from engine.model.pump.evaluation import DUTY_FLOW, SHUT_SHARES, evaluate_pump
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.plan_logs import log_text
from reports.design.pump import plan_wording
from reports.design.pump.wording import study_of
from reports.kit import quantities
from reports.kit.rendering import render

SPEEDS = (1.0, 0.7)
"""Speeds of the head-flow run, over running speed."""
FLOWS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25)
"""Flows over that of the running point, which goes with speed."""
READ = ("pressure_rise", "rim_rise", "electric_power", "shaft_torque")
"""What is read in each state."""
LOGGED = {
    "speed": ("rpm", "0.3 %"),
    "flow": ("l/min", "2 %"),
    "pressure_rise": ("mbar", "1 %"),
    "rim_rise": ("mbar", "1 %"),
    "electric_power": ("W", "2 %"),
    "shaft_torque": ("", ""),
    "supply_temperature": ("degC", "1 K"),
}
"""Columns of the log, with usual unit and uncertainty; no unit: ignored."""


@dataclass(frozen=True)
class State:
    """One state of the head-flow run, SI."""

    speed: float
    flow: float
    bands: Mapping[str, tuple[float, float, float]]
    """Expected reading and the ends of its band, by key; NaN where it passes no such flow."""


def write_pump_plan(data: BuildData) -> Mapping[str, str]:
    """Make every file of the bench plan of a pump, as text by name; raises NoWebError."""
    facts = build_facts_of(data)
    rounded = (key for key, _, _ in facts.rounding.sizes)
    keys = [key for key in dict.fromkeys((*data.study.searched(), *rounded)) if key != "speed"]
    build = {key: facts.candidate.values[key] for key in keys}
    states = states_of(facts, data.front, data.row)
    page = render(
        "pump_plan.html.j2",
        style="page.css",
        facts=facts,
        words=plan_wording,
        say=quantities,
        columns=COLUMNS,
        read=READ,
        states=states,
    )
    rows: list[dict[str, float | str]] = [
        {"speed": state.speed, "flow": state.flow} for state in states
    ]
    return {
        "plan.html": page,
        "head-flow.csv": log_text(facts, build, "Head against flow", LOGGED, rows, "test: loaded"),
    }


def states_of(facts: BuildFacts, front: Builds, row: int) -> tuple[State, ...]:
    """Expect readings at every speed and flow, with the bands of the study's samples."""
    study = study_of(facts).model_copy(update={"limits": {}, "aims": {}})
    speeds, flows = (
        each.ravel() for each in np.meshgrid(np.array(SPEEDS), np.array(FLOWS), indexing="ij")
    )
    lanes = {
        key: np.repeat(values[row : row + 1], len(speeds))
        for key, values in builds_of(study, front).items()
    }
    at_duty = facts.number("flow")
    asked = at_duty * speeds * flows
    lanes |= {
        "speed": lanes["speed"] * speeds,
        DUTY_FLOW: np.maximum(asked, SHUT_SHARES[0] * at_duty * speeds),
    }

    def evaluated(builds: Builds) -> Results:
        return evaluate_pump(study, builds)

    found = evaluated(lanes)
    ranges = sample_ranges(study, lanes, READ, evaluated)
    return tuple(
        State(
            float(lanes["speed"][place]),
            float(asked[place]),
            {key: _band(found[key], ranges[key], place) for key in READ},
        )
        for place in range(len(speeds))
    )


def _band(
    expected: NDArray[np.float64],
    ends: tuple[NDArray[np.float64], NDArray[np.float64]],
    place: int,
) -> tuple[float, float, float]:
    known = bool(np.isfinite(expected[place]))
    return (
        (float(expected[place]), float(ends[0][place]), float(ends[1][place]))
        if known
        else (np.nan, np.nan, np.nan)
    )
