"""How fast other fluids are against air. It runs on demand:

    python -m pytest tests/speed -m speed -s

Required: a real fluid at a third of the speed of air at least.
"""

import math
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.model.evaluation import evaluate
from engine.physics.arrays import Reason
from engine.physics.flow.match import (
    Circuit,
    Throughflow,
    flow_at_rim_pressure,
    match_rim_pressure,
)
from engine.physics.flow.match_averaged_kernel import COARSE_STEPS
from engine.physics.gap.averaged import STEPS, march
from engine.study.study import Study
from engine.study.supply import Supply, source_of

Columns = dict[str, NDArray[Any]]
SUPPLIES: dict[str, tuple[dict[str, str], float]] = {
    #  supply, and speeds over those for air
    "air": ({"fluid": "air", "pressure": "6 bar gauge", "temperature": "20 degC"}, 1.0),
    "saturated steam": ({"fluid": "steam", "pressure": "6 bar gauge", "quality": "1"}, 1.0),
    "superheated steam": ({"fluid": "steam", "pressure": "6 bar gauge", "superheat": "60 K"}, 1.0),
    "R245fa": (
        {
            "fluid": "R245fa",
            "pressure": "8 bar absolute",
            "superheat": "5 K",
            "back_pressure": "2 bar absolute",
        },
        0.5,
    ),
    "water": ({"fluid": "water", "pressure": "0.5 bar gauge", "temperature": "12 degC"}, 0.05),
}
SIZES = (400, 2000, 20_000)
"""The first is a generation; there a single build that chokes, and so is searched long, shows."""


@pytest.mark.speed
def test_matched_operating_points_a_second_by_fluid(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    lines = [f"\n{'matched a second':<20}" + "".join(f"{n:>16,}" for n in SIZES)]
    air: dict[int, float] = {}
    for name, (supply, speeds) in SUPPLIES.items():
        made = shop_air.model_copy(update={"supply": Supply.model_validate(supply)})
        row = f"{name:<20}"
        for n in SIZES:
            builds = random_builds(n, 5)
            builds["speed"] = builds["speed"] * speeds
            found = rate(made, builds)
            air.setdefault(n, found)
            row += f"{found:>9,.0f} {found / air[n]:>5.2f} "
        lines.append(row)
    print("\n".join(lines))  # noqa: T201  read on the terminal


@pytest.mark.speed
def test_where_an_averaged_match_spends_its_time(
    shop_air: Study,
    random_builds: Callable[[int, int], Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
    entry_of: Callable[[Circuit, Throughflow], Columns],
) -> None:
    """Print lanes a second of the match alone, and what one try takes before and in the gaps."""
    lines = [f"\n{'averaged match':<20}{'lanes/s':>10}{'matched/s':>11}{'us: before gaps':>17}"]
    lines[0] += f"{'coarse march':>14}{'march':>8}"
    for name, (supply, speeds) in SUPPLIES.items():
        made = shop_air.model_copy(update={"supply": Supply.model_validate(supply)})
        builds = random_builds(2000, 5)
        builds["speed"] = builds["speed"] * speeds
        circuit, fluid = circuit_of(made, builds), source_of(made.supply).fluid
        n, status = circuit.gap.size, np.zeros(circuit.gap.size, dtype=np.int64)
        flow, found = match_rim_pressure(fluid=fluid, circuit=circuit, status=status)
        into = entry_of(circuit, flow)

        def spent(work: Callable[[], object], lanes: int = n) -> float:
            """Least processor time of ten calls [us a lane]."""
            with np.errstate(all="ignore"):
                return min(processor_time(work) for _ in range(10)) / lanes * 1e6

        at: dict[str, Any] = {"fluid": fluid, "circuit": circuit}
        whole = spent(partial(match_rim_pressure, **at, status=status))
        marches = [
            spent(partial(march, fluid=fluid, steps=steps, **into))
            for steps in (COARSE_STEPS, STEPS)
        ]
        once = partial(flow_at_rim_pressure, **at, march=march, rim_pressure=flow.rim_pressure)
        before = spent(once) - marches[1]
        matched = (found == Reason.MATCHED).mean()
        row = f"{name:<20}{1e6 / whole:>10,.0f}{1e6 / whole * matched:>11,.0f}{before:>17.2f}"
        lines.append(row + f"{marches[0]:>14.2f}{marches[1]:>8.2f}")
    print("\n".join(lines))  # noqa: T201  read on the terminal


def processor_time(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def rate(study: Study, builds: Columns) -> float:
    matched = (evaluate(study, builds)["status"] == "matched").sum()
    best = math.inf
    for _ in range(3):
        start = time.perf_counter()
        evaluate(study, builds)
        best = min(best, time.perf_counter() - start)
    return float(np.divide(matched, best))
