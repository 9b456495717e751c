from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.physics.flow.outlet import Outlet, exhaust_speed, swirling_exhaust
from tests.support.sector_exhaust import sector_flow

BORE, HUB, DENSITY, FLOW = 0.021, 0.006, 1.1, 0.0118
SQUARE = (BORE**2 + HUB**2) / 2
OPEN = np.pi * (BORE**2 - HUB**2)


def outlet(**changes: Any) -> Outlet:
    given: dict[str, Any] = {
        "mass_flow": FLOW,
        "density": DENSITY,
        "swirl": 126.0,
        "angular_speed": 2827.0,
        "bore_radius": BORE,
        "hub_radius": HUB,
        "area": 2 * 0.75 * OPEN,
        "exhaust_ends": 2.0,
        "spokes": 3.0,
        "web_factor": 1.0,
        "core_factor": 1.0,
    }
    return swirling_exhaust(**{**given, **changes})


@pytest.mark.parametrize(
    ("spokes", "swirl", "inflow", "hub"),
    [(3, 2.1, 0.115, 0.3), (3, 1.2, 0.115, 0.3), (3, 2.1, 0.3, 0.6), (6, 2.1, 0.115, 0.3),
     (12, 2.1, 0.115, 0.3)],
)  # fmt: skip
def test_the_spokes_take_what_the_flow_between_two_of_them_loses(
    spokes: int, swirl: float, inflow: float, hub: float
) -> None:
    solved = sector_flow(spokes=spokes, swirl=swirl, inflow=inflow, hub=hub)
    lost = swirl - solved.leaving
    # Of the solution itself: what the fluid loses is what presses on the walls, on a coarse grid.
    assert_allclose(solved.torque, lost, rtol=0.1)
    share = lost / (swirl - (1 + hub**2) / 2)
    # Two standard uncertainties of `web_factor`.
    assert_allclose(outlet(spokes=float(spokes)).caught, share, rtol=0.3)


def test_slower_fluid_is_taken_along_too_but_less() -> None:
    solved = sector_flow(spokes=6, swirl=0.3, inflow=0.115, hub=0.3)
    share = (0.3 - solved.leaving) / (0.3 - (1 + 0.3**2) / 2)
    assert solved.torque < 0  # the spokes are braked
    assert 0.5 < share < outlet(spokes=6.0).caught


def test_without_web_and_core_the_exhaust_is_an_empty_annulus() -> None:
    found = outlet(web_factor=0.0, core_factor=0.0)
    plain = exhaust_speed(mass_flow=FLOW, density=DENSITY, area=2 * 0.75 * OPEN)
    assert [found.caught, found.filled, found.axial_speed, found.swirl_head] == [0, 1, plain, 0]


@pytest.mark.parametrize("swirl", [5.0, 30.0, 126.0])
def test_a_free_vortex_leaves_the_core_at_which_most_flow_passes(swirl: float) -> None:
    # Abramovich's condition, found by search: of all cores of a vortex under one total head, that
    # with the largest flow. Head over the pressure behind: core swirl and axial speed.
    found = outlet(swirl=swirl, web_factor=0.0, hub_radius=1e-9, area=2 * np.pi * BORE**2)
    core = BORE * np.sqrt(1 - found.filled)
    around, axial = swirl * BORE / core, float(found.axial_speed)
    head = (around**2 + axial**2) / 2

    tried = np.linspace(swirl * BORE / np.sqrt(2 * head), BORE, 100_001)
    left = np.maximum(2 * head - (swirl * BORE / tried) ** 2, 0.0)
    best = tried[np.argmax((BORE**2 - tried**2) * np.sqrt(left))]
    assert_allclose(core, best, rtol=1e-4)
    assert_allclose(found.swirl_head, DENSITY * (head - axial**2 / 2 - swirl**2 / 2), rtol=1e-6)
    assert_allclose(DENSITY * found.filled * 2 * np.pi * BORE**2 * axial, FLOW, rtol=1e-9)


def test_filling_of_a_swirl_nozzle_is_as_published() -> None:
    # Abramovich 1953, from memory: A = sqrt(2) (1 - f) / f^1.5 is 2 where half is filled, and 0.994
    # at 0.64; A is swirl at the wall over mean axial speed.
    for ratio, share in ((2.0, 0.5), (0.9943, 0.64)):
        mean = FLOW / (2 * DENSITY * np.pi * BORE**2)
        found = outlet(
            swirl=ratio * mean, web_factor=0.0, hub_radius=1e-9, area=2 * np.pi * BORE**2
        )
        assert_allclose(found.filled, share, rtol=1e-3)


def test_what_turns_with_the_spokes_has_the_head_of_a_solid_body() -> None:
    # rho W^2 (rb^2 - k^2) / 2; a factor so large that all is caught.
    found = outlet(web_factor=1e3)
    assert found.caught == 1
    assert found.filled == 1
    assert_allclose(found.swirl_head, DENSITY * 2827.0**2 * (BORE**2 - SQUARE) / 2, rtol=1e-12)


def test_nan_gives_nan_and_still_fluid_in_an_empty_bore_turns_nothing() -> None:
    assert np.isnan(outlet(swirl=np.nan).swirl_head)
    still = outlet(swirl=0.0, web_factor=0.0)
    assert [still.filled, still.swirl_head] == [1, 0]
