"""Load, warmth, drag and life of a build's bearings."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.bands.inputs import inputs
from engine.catalogue import bearings
from engine.model.bearings import ROOM, Running, bearing_results, limit_speed, run_bearings
from engine.model.circuit import lanes_of
from engine.model.dimensions import dimensions_of
from engine.model.evaluation import evaluate
from engine.model.shaft import GRAVITY, RotorLine, rotor_line
from engine.model.strength import web_of_build
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]
N = 3


@pytest.fixture(scope="module")
def build(shop_air: Study) -> Columns:
    """One build on 6001 bearings, three times."""
    sizes = {
        "disc_count": 10.0,
        "disc_diameter": 0.12,
        "gap": 0.3e-3,
        "inlet_angle": 0.15,
        "exhaust_bore": 0.05,
        "speed": 2000.0,
    }
    found = lanes_of(shop_air, {key: np.full(N, value) for key, value in sizes.items()})
    return found | {"bearing": np.full(N, "6001")}


def line_of(build: Columns) -> RotorLine:
    height = dimensions_of(build)["stack_height"]
    return rotor_line(build, height=height, hub_radius=web_of_build(build).hub_radius)


def run(build: Columns, **given: Any) -> Running:
    return run_bearings(build, line_of(build), **({"shaft_temperature": ROOM} | given))


def test_loads_are_those_of_weight_unbalance_preload_and_thrust(build: Columns) -> None:
    line = line_of(build)
    found = run(build, thrust=np.array([0.0, 50.0, -50.0]))
    pull = line.total * (GRAVITY + build["balance_grade"] * build["speed"])  # m g, and G m w
    assert_allclose(found.radial.sum(axis=0), pull)
    assert_allclose(found.light.sum(axis=0), GRAVITY * line.total)
    assert_allclose(found.axial, [[20.0, 70.0, 70.0], [20.0, 20.0, 20.0]])


def test_a_belt_leans_on_the_bearing_beside_it(build: Columns) -> None:
    belt = build | {"drive_ratio": np.full(N, 0.5)}
    torque = np.array([0.0, 0.2, 0.4])
    line = line_of(belt)
    still, pulled = run(belt), run(belt, torque=torque)
    more = pulled.radial - still.radial
    # Both reactions in balance: the pull is 1.5 times 2 T/d, its moment about the free bearing
    pull = 1.5 * 2 * torque / line.layout.pulley
    assert_allclose(more[1] - more[0], pull)
    assert_allclose(more[1] * line.layout.span, pull * (line.layout.span + line.layout.overhang))
    assert_allclose(run(build, torque=torque).radial, run(build).radial)  # a coupling pulls nothing


def test_life_and_least_load_follow_the_more_and_the_less_loaded_bearing(build: Columns) -> None:
    usual = bearing_results(build, run(build))
    pushed = bearing_results(build, run(build, thrust=300.0))
    # By hand for 6001: 8 balls of 4.762 mm, Fa/(Z D^2) = 20/181.4 = 0.11, so Y = 2.3 (ISO 281)
    running = run(build)
    by_hand = 0.56 * running.radial.max(axis=0) + 2.3 * 20.0
    assert_allclose(usual["bearing_load"], by_hand, rtol=1e-6)
    turns = 1e6 * (bearings()["6001"].dynamic_rating / by_hand) ** 3
    assert_allclose(usual["bearing_life"], turns / (build["speed"] / (2 * np.pi)), rtol=1e-6)
    assert (pushed["bearing_life"] < 0.02 * usual["bearing_life"]).all()
    assert_allclose(pushed["least_load_ratio"], usual["least_load_ratio"], rtol=0.02)
    light = 0.56 * running.light.min(axis=0) + 2.3 * 20.0
    assert_allclose(usual["least_load_ratio"], light / 54.0, rtol=1e-6)


def test_lips_brake_warm_and_take_a_third_of_the_speed(build: Columns) -> None:
    lips = build | {"bearing_seal": np.full(N, "contact")}
    rubbed, plain = run(lips), run(build)
    # 6001: d = 12 + 0.31 x 16 = 16.96 mm, 0.028 d^2.25 + 2 = 18.3 N mm for each bearing, by hand
    assert_allclose(rubbed.lips * 1e3, 18.34, atol=0.05)
    assert (rubbed.temperature > plain.temperature).all()
    assert (rubbed.grease < plain.grease).all()  # warmer grease is thinner
    assert (rubbed.drag > 1.5 * plain.drag).all()
    assert_allclose(limit_speed(lips), limit_speed(build) * 34.9 / 52.4)
    half = run(lips | {"bearing_seal_factor": np.full(N, 0.5)})
    assert_allclose(half.lips, rubbed.lips / 2)


def test_a_cold_exhaust_stiffens_the_grease_but_the_drag_warms_it_again(build: Columns) -> None:
    cold = run(build, shaft_temperature=np.array([ROOM, 250.0, 220.0]))
    assert (np.diff(cold.drag) > 0).all()
    assert (np.diff(cold.temperature, axis=1) < 0).all()
    fall = cold.temperature[:, 0] - cold.temperature[:, 2]
    # At rest it would fall by the share of the shaft's side, some 43 of 73 K
    assert ((fall > 5) & (fall < 40)).all()


def test_a_stated_viscosity_stands_over_the_computed_one(build: Columns) -> None:
    stated = run(build | {"bearing_viscosity": np.array([np.nan, 10e-6, 40e-6])})
    assert_allclose(stated.viscosity[:, 1:], [[10e-6, 40e-6]] * 2)
    assert_allclose(stated.viscosity[:, 0], run(build).viscosity[:, 0])
    assert stated.drag[1] < stated.drag[2]
    scaled = run(build | {"bearing_factor": np.full(N, 2.0)})
    assert_allclose(scaled.grease, 2 * run(build).grease)


def test_drag_warms_a_bearing_as_the_balance_of_heat_says(build: Columns) -> None:
    # ISO 15312 by hand for a 6001: 320 W/(m2 K) x pi x 8 mm x (12 + 28) mm = 0.3217 W/K
    found = run(build)
    assert_allclose(found.temperature - ROOM, 2000.0 * found.grease / 0.3217, rtol=1e-3)


def test_the_model_gives_the_numbers_of_its_bearings(shop_air: Study) -> None:
    sizes = {
        "disc_count": 10.0,
        "disc_diameter": 0.12,
        "gap": 0.3e-3,
        "inlet_angle": 0.15,
        "exhaust_bore": 0.05,
        "speed": 1500.0,
    }
    given: Columns = {key: np.full(2, value) for key, value in sizes.items()}
    given |= {"bearing": np.full(2, "6001")}
    found = evaluate(shop_air, given | {"bearing_seal": np.array(["shield", "contact"])})
    assert (found["status"] == "matched").all()
    saved, lost = found["shaft_power"], found["loss_bearing"]
    assert_allclose(saved[0] - saved[1], lost[1] - lost[0])  # what lips take is off the shaft
    # Two times 18.3 mN m at 1500 rad/s are 55 W, less what warmer grease saves of 23 W
    assert 33.0 < lost[1] - lost[0] < 54.0
    assert (found["bearing_temperature"] > found["exhaust_temperature"]).all()
    assert found["bearing_limit_speed"][1] < found["bearing_limit_speed"][0]


def test_what_changes_nothing_is_no_uncertain_input(shop_air: Study) -> None:
    always = {"bearing_factor", "bearing_cooling", "support_factor", "pack_factor"}
    machine = shop_air.machine
    assert always <= set(inputs(shop_air))
    assert not {"belt_pull", "bearing_seal_factor"} & set(inputs(shop_air))
    other = machine.model_copy(update={"bearing_seal": "contact", "drive_ratio": 0.5})
    assert {"belt_pull", "bearing_seal_factor"} <= set(
        inputs(shop_air.model_copy(update={"machine": other}))
    )
