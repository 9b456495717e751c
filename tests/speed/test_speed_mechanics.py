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

from engine.catalogue import state_as_cut
from engine.model import bearings, gap_hold, rotor, shaft, strength
from engine.model.evaluation import evaluate
from engine.physics.machine.web_waves import forced_wave
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


HELD: dict[str, dict[str, Any]] = {
    "spokes": {"spokes": 6.0, "exhaust_blockage": 0.25},
    "holes": {"spokes": 5.0, "exhaust_blockage": 0.6},
    "bolts": {"spokes": 6.0, "exhaust_blockage": 0.25},
}


@pytest.mark.speed
@pytest.mark.parametrize("hold", HELD)
def test_what_a_disc_costs(
    hold: str, shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    """Modes, stress and holding of a design, in processor time."""
    n_lanes = 20_000
    builds = random_builds(n_lanes, 5)
    shape = {"hold": hold, **HELD[hold]}
    results = evaluate(shop_air, {**builds, **{k: np.full(n_lanes, v) for k, v in shape.items()}})
    metal = state_as_cut(results["material"], results["process"], results["disc_temperature"])

    def disc() -> None:
        places = strength.places_of(results)
        strength.notch_factor(results, places)
        waves = strength._waves(
            results, places, metal, results["rim_over_bore"], results["gap_fluid_mass"]
        )
        forced_wave(speed=waves.speed, nozzle_count=results["nozzle_count"])

    disc()
    best = min(_processor_time(disc) for _ in range(7)) / n_lanes
    known = np.isfinite(results["wave_speed"]).mean()
    print(  # noqa: T201  read on the terminal
        f"\ndisc on {hold}: {best * 1e6:.2f} us a design ({known:.0%} inside the tables)"
    )


def _processor_time(work: Callable[[], None]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start
