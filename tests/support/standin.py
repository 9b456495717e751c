"""A stand-in for the model with a front known beforehand, and a run of it for other processes.

The best gap is 0.3 mm, the best bore 0.4 of the diameter and the best angle 10 degrees; power
grows with the speed and the number of discs, and the safety margin falls with the speed. The flow
limit allows 14 discs at that gap. So the front is one design a speed, with everything else fixed.
"""

import os
import subprocess
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.run.folder import FRONT, read_designs
from engine.run.generations import Evaluate
from engine.run.log import Progress
from engine.run.runner import Outcome, run
from engine.study.reader import parse_study
from engine.study.study import Study

TEXT = """\
title: Known front
supply: {{pressure: 6 bar gauge, temperature: 20 degC, available_flow: 14 g/s}}
ranges:
  disc_count: {{min: 2, max: 30}}
  disc_diameter: 100 mm
  gap: {{choices: [0.2 mm, 0.3 mm, 0.4 mm, 0.5 mm]}}
  inlet_angle: {{min: 6 deg, max: 20 deg, step: 1 deg}}
  exhaust_bore: {{min: 20 mm, max: 90 mm, step: 2 mm}}
  speed: {{min: 5000 rpm, max: 30000 rpm, step: 1000 rpm}}
limits:
  safety_margin: {{min: {margin}}}
search: {{designs: {designs}, generation: 40, seed: 3}}
"""
RPM = 2 * np.pi / 60
FRONT_SPEEDS = np.arange(5000, 25001, 1000)
"""Speeds on the front [rpm]: the margin, 30000 rpm over the speed, must be at least 1.2."""


def study_of(designs: int = 800, margin: float = 1.2) -> tuple[Study, str]:
    text = TEXT.format(designs=designs, margin=margin)
    return parse_study(text, "known.yaml"), text


def evaluate(study: Study, builds: Mapping[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
    bore_ratio = builds["exhaust_bore"] / builds["disc_diameter"]
    off = (
        8 * ((builds["gap"] - 0.3e-3) / 0.3e-3) ** 2
        + (bore_ratio - 0.4) ** 2
        + (builds["inlet_angle"] - np.radians(10)) ** 2
    )
    power = builds["disc_count"] * builds["speed"] / (1000 * RPM) * (1 - 0.5 * off)
    stuck = bore_ratio > 0.85
    numbers = {
        "electric_power": power,
        "safety_margin": 30000 * RPM / builds["speed"],
        "mass_flow": builds["disc_count"] * builds["gap"] / 0.3e-3 * 1e-3,
    }
    return (
        dict(builds)
        | {key: np.where(stuck, np.nan, values) for key, values in numbers.items()}
        | {
            "status": np.where(stuck, "no flow", "matched"),
            "bore_ratio": bore_ratio,
            "bore_wall": (builds["exhaust_bore"] - builds["shaft_diameter"]) / 2,
            "mouth_depth": np.full(len(builds["speed"]), 1e-3),
            "nozzle_footprint": np.full(len(power), 0.2),
            "casing_angle": builds["inlet_angle"] + np.radians(2),
        }
    )


def start(
    path: Path,
    *,
    designs: int = 800,
    margin: float = 1.2,
    evaluate: Evaluate = evaluate,
    part_designs: int = 80,
    **given: Any,
) -> Outcome:
    study, text = study_of(designs, margin)
    return run(
        study=study,
        study_text=text,
        path=path,
        evaluate=evaluate,
        model_version=1,
        part_designs=part_designs,
        **given,
    )


def spawn_held(path: Path, designs: int) -> "subprocess.Popen[str]":
    """Start a run that waits once it has so many designs, until its input is closed."""
    process = subprocess.Popen(  # noqa: S603
        [sys.executable, __file__, str(path), "800", "0", str(designs)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path), "PYTHONHASHSEED": "random"},
    )
    assert process.stdout is not None
    for line in process.stdout:
        if line.strip().isdigit() and int(line) >= designs:
            return process
    msg = "the run ended before it was to be stopped"
    raise AssertionError(msg)


def assert_same_run(path: Path, whole: Path) -> None:
    assert (path / FRONT).read_bytes() == (whole / FRONT).read_bytes()
    found, expected = read_designs(path), read_designs(whole)
    for key, values in expected.items():
        np.testing.assert_array_equal(found[key], values, err_msg=key)


def main(path: str, designs: str, pause: str, held: str = "inf") -> None:
    study, text = study_of(int(designs))

    def slowly(study: Study, builds: Mapping[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
        time.sleep(float(pause))
        return evaluate(study, builds)

    def tell(now: Progress) -> None:
        print(now.designs, flush=True)  # noqa: T201
        if now.designs >= float(held):
            sys.stdin.read()

    outcome = run(
        study=study,
        study_text=text,
        path=Path(path),
        evaluate=slowly,
        model_version=1,
        progress=tell,
        part_designs=80,
    )
    print(outcome.state.state, flush=True)  # noqa: T201


if __name__ == "__main__":
    main(*sys.argv[1:])
