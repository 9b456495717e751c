"""How fast other fluids are against air. It runs on demand:

    python -m pytest tests/speed -m speed -s

Required: a real fluid at a third of the speed of air at least.
"""

import math
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.model.evaluation import evaluate
from engine.study.study import Study
from engine.study.supply import Supply

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


def rate(study: Study, builds: Columns) -> float:
    matched = (evaluate(study, builds)["status"] == "matched").sum()
    best = math.inf
    for _ in range(3):
        start = time.perf_counter()
        evaluate(study, builds)
        best = min(best, time.perf_counter() - start)
    return float(np.divide(matched, best))
