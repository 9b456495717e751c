"""A published brake test: fitted on half of its readings, the model predicts the other half.

`python -m pytest tests/bench/test_half_of_a_brake_test.py -s` prints the numbers.

Source: thesis of Universitas Sumatera Utara, Indonesia (author, year and title are not shown in
the readable part), table 4.3, as copied with its gaps into
`tests/published/water_turbine_25disc_250mm.csv`. Stated there: discs, gaps, brake. Missing: the
nozzle, the clearances, head and flow, which are inferred from power and torque. So `fit` would have
nothing to stand on, and this script frees width and angle of a nozzle as high as the stack.

What the comparison cannot tell: whether the nozzle is right, as its two numbers are free; the flow,
as it is inferred from the same torques; anything above 400 rpm. What it tells: with two free
numbers the model follows the torque from 59 to 368 rpm; it misses the fall near 400 rpm, see the
last test.
"""

import csv
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.bench import least_squares
from engine.bench.least_squares import Estimate
from engine.model.evaluation import evaluate
from engine.study.study import Study
from tests.support.places import PUBLISHED

Numbers = NDArray[np.float64]
FILE = PUBLISHED / "water_turbine_25disc_250mm.csv"
RPM = 2 * np.pi / 60
FLOW = 1.0445
"""Inferred from the sister table's torques [kg/s]."""
STUDY = Study.model_validate(
    {
        "title": "water, 25 discs of 250 mm",
        "supply": {"fluid": "water", "pressure": "0.922 bar gauge", "temperature": "27 degC"},
        "machine": {
            "disc_thickness": "2 mm", "shaft_diameter": "17 mm", "bearing": "6203",
            "nozzle_count": 1, "side_gap": "5 mm", "rim_clearance": "2 mm",
        },
        "ranges": {
            "disc_count": 25, "disc_diameter": "250 mm", "gap": "1 mm", "exhaust_bore": "60 mm",
            "inlet_angle": {"min": "2 deg", "max": "80 deg"},
            "speed": {"min": "10 rpm", "max": "2000 rpm"},
            "nozzle_width": {"min": "0.2 mm", "max": "5 mm"},
        },
    }
)  # fmt: skip
"""The head of 9.40 m is inferred; temperature, clearances and one nozzle are assumed."""


@cache
def readings() -> tuple[Numbers, Numbers]:
    """Speed [rad/s] and torque [N m] of the eleven loaded rows."""
    lines = [line for line in FILE.read_text("utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    loaded = [row for row in rows if float(row["speed_rpm"]) and float(row["torque_N_m"])]
    speed, torque = (
        np.array([float(row[key]) for row in loaded]) for key in ("speed_rpm", "torque_N_m")
    )
    return speed * RPM, torque


def predicted(points: Numbers, speed: Numbers, packing: float = 1e-3) -> tuple[Numbers, Numbers]:
    """Torque [N m] and flow [kg/s] at these speeds for widths [m] and angles [rad]."""
    n, rows = len(points), speed.size
    build = {
        key: np.full(n * rows, float(values.lowest)) for key, values in STUDY.searched().items()
    }
    build |= {
        "nozzle_width": np.repeat(points[:, 0], rows),
        "inlet_angle": np.repeat(points[:, 1], rows),
        "speed": np.tile(speed, n),
        "shaft_seal_torque": np.full(n * rows, packing),
    }
    found = evaluate(STUDY, build)
    return (
        found["shaft_torque"].reshape(n, rows),
        found["mass_flow"].reshape(n, rows),
    )


def fitted(half: slice, packing: float = 1e-3) -> Estimate:
    """Width and angle of the nozzle from half of the readings, and the flow."""
    speed, torque = readings()
    speed, torque = speed[half], torque[half]

    def off(points: Numbers) -> Numbers:
        found, flow = predicted(points, speed, packing)
        return np.hstack([(found - torque) / (0.03 * torque.max()), (flow - FLOW) / (0.03 * FLOW)])

    # From one start alone it may end in a lesser minimum.
    found = [
        least_squares.fit(
            off,
            start=np.array([1e-3, np.radians(degrees)]),
            lower=np.array([0.2e-3, np.radians(2)]),
            upper=np.array([5e-3, np.radians(80)]),
            width=np.array([0.5e-3, np.radians(15)]),
        )
        for degrees in (15, 30, 60)
    ]
    return min(found, key=lambda each: float(np.square(off(each.values[None])).sum()))


HALVES = {"odd rows": slice(0, None, 2), "even rows": slice(1, None, 2)}
STEEP = 375 * RPM
"""Above it the brake's torque falls from 0.34 N m to nothing within 15 rpm."""


@pytest.mark.parametrize("name", HALVES)
def test_half_of_the_readings_predicts_the_other_half(name: str) -> None:
    speed, torque = readings()
    other = np.ones(speed.size, dtype=bool)
    other[HALVES[name]] = False
    found = fitted(HALVES[name])
    off = predicted(found.values[None], speed[other])[0][0] - torque[other]
    below = speed[other] < STEEP
    whole, steady = (float(np.sqrt(np.square(each).mean())) for each in (off, off[below]))
    plain = float(np.sqrt(np.square(torque[other] - torque[HALVES[name]].mean()).mean()))
    width, angle = found.values[0] * 1e3, np.degrees(found.values[1])
    said = f"nozzle {width:.2f} mm at {angle:.0f} deg; off by {whole:.3f} N m rms in all, "
    said += f"{steady:.3f} below {STEEP / RPM:.0f} rpm; {plain:.3f} for the mean of the fitted half"
    print(f"\n{name} fitted: {said}")  # noqa: T201  read with -s
    # Up to 0.14 N m of 1.02 in all, and 0.07 below 375 rpm.
    assert whole < 0.16, said
    assert steady < 0.08, said
    assert whole < 0.7 * plain, said


@pytest.mark.parametrize("name", HALVES)
def test_drag_of_a_packing_explains_part_of_what_is_off_below_the_fall(name: str) -> None:
    # Nothing was read of the seals of that shaft. A packing drags with 5 to 400 mN m
    # (tests/published/sampled.toml); with 150 the nozzle stands at 24 and 43 degrees instead of 56,
    # and what is off falls from 0.044 to 0.029 and from 0.074 to 0.056 N m. Loads in steps of
    # 0.085 N m and speeds that scatter by 3 % tell no more, nor which angle it was: with 25 degrees
    # the even rows are fitted nearly as well. So it is no constant of the model to move.
    speed, torque = readings()
    other = (np.arange(speed.size) % 2 != list(HALVES).index(name)) & (speed < STEEP)

    def off(packing: float) -> float:
        nozzle = fitted(HALVES[name], packing).values[None]
        missed = predicted(nozzle, speed[other], packing)[0][0] - torque[other]
        return float(np.sqrt(np.square(missed).mean()))

    assert off(0.15) < 0.8 * off(1e-3) < 0.08


def test_both_halves_find_the_same_nozzle() -> None:
    one, other = (fitted(half) for half in HALVES.values())
    apart = np.abs(one.values - other.values) / np.hypot(one.standard, other.standard)
    assert (apart < 1).all(), apart
    # The flow, of which no row tells, comes out as inferred: 1.00 to 1.10 kg/s over all speeds.
    flow = predicted(one.values[None], readings()[0])[1][0]
    assert np.abs(flow / FLOW - 1).max() < 0.07


def test_the_fall_near_400_rpm_is_a_miss() -> None:
    # At 393 rpm the brake read 0.085 and 0.255 N m, the model gives 0.33 and turns on: drag that
    # the model does not know, of a casing full of water, or slip of the brake at small loads. No
    # width and no angle mends it, so the model is no guide to this rig's speed without load.
    speed, torque = readings()
    found = fitted(slice(None))
    near = speed > 390 * RPM
    model = predicted(found.values[None], speed[near])[0][0]
    assert near.sum() == 2
    assert (model > torque[near] + 0.05).all(), model
