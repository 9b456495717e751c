"""Runs to compare that are told and not computed: fronts of given powers and margins."""

from dataclasses import replace
from typing import Any

import numpy as np

from engine.study.reader import parse_study
from reports.compare.facts import RunOfMany
from reports.run.search_facts import Table
from tests.support.starter import plain_starter


def study_text(*changes: tuple[str, str]) -> str:
    text = plain_starter("A bench to compare")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def run_with(
    points: list[tuple[float, float]], *changes: tuple[str, str], **told: Any
) -> RunOfMany:
    """A run whose front has these powers [W] and margins, and only what every front has."""
    study = parse_study(study_text(*changes), "told.yaml")
    power, margin = np.array(points or np.empty((0, 2))).T
    front: Table = {
        "design": np.arange(1.0, len(points) + 1),
        "electric_power": power,
        "safety_margin": margin,
        "mass_flow": np.full(len(points), 7e-3),
        "supply_efficiency": power / 2500,
        "governing_mode": np.full(len(points), "yield"),
        **{key: np.full(len(points), float(v.lowest)) for key, v in study.searched().items()},
    }
    usual = {"state": "done", "designs": 1000, "budget": 1000, "model_version": 3}
    return RunOfMany(
        **{"name": "told", "study": study, "study_hash": "5d2c", **usual, **told},
        front=front if points else {},
    )


ONE = [(100.0, 1.5), (80.0, 2.0), (40.0, 3.0)]
TWO = [(90.0, 1.5), (85.0, 2.0), (60.0, 3.0), (10.0, 4.0)]


def banded(run: RunOfMany, share: float) -> RunOfMany:
    """The same with a band of the power: eight builds in ten within this share of it."""
    power = run.front["electric_power"]
    ends = {"p10": (1 - share) * power, "p90": (1 + share) * power}
    bands = {f"electric_power_{part}": end for part, end in ends.items()}
    return replace(run, front={**run.front, **bands})
