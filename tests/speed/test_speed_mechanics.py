"""What strength, vibration, shaft, bearings and gap hold cost beside the flow. Run on demand:

python -m pytest tests/speed/test_speed_mechanics.py -m speed -s
"""

import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.model import bearings, gap_hold, rotor, shaft, strength
from engine.model.evaluation import evaluate
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]


def seconds(work: Callable[[], object]) -> float:
    best = np.inf
    for _ in range(3):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return float(best)


@pytest.mark.speed
def test_mechanics_against_the_whole_model(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    n_lanes = 20_000
    builds = random_builds(n_lanes, 5)
    results = evaluate(shop_air, builds)
    gas = gap_hold.RimGas(*(np.full(n_lanes, value) for value in (1.5, 20.0, 1005.0, 5.0)))
    hot = results["disc_temperature"]

    def holding() -> None:
        places = strength.places_of(results)
        line = shaft.rotor_line(
            results, height=results["stack_height"], hub_radius=places.web.hub_radius
        )
        rotor.masses(results, line)
        running = bearings.run_bearings(
            results, line, shaft_temperature=results["exhaust_temperature"]
        )
        bearings.bearing_results(results, running)
        strength.strength(
            results,
            places=places,
            critical_speed=shaft.critical_speed(line, shaft.bearing_stiffness(results, line)),
            disc_temperature=hot,
            rim_hotter_by=results["rim_over_bore"],
            fluid_density=gas.density,
        )
        gap_hold.gap_hold(results, gas=gas, disc_temperature=hot)

    part = seconds(holding) / n_lanes
    whole = seconds(partial(evaluate, shop_air, builds)) / n_lanes
    print(  # noqa: T201  read on the terminal
        f"\nmechanics {part * 1e6:.1f} us a design, the rest {(whole - part) * 1e6:.1f} us: "
        f"{part / (whole - part):.0%}"
    )
