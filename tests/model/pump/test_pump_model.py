"""One build of a pump through the whole model: balances, duty, mechanics and what it shares."""

import numpy as np
import pytest

from engine import pump_columns
from engine.columns import Results, columns_of
from engine.model.evaluation import builds_of, evaluate
from engine.model.limits import MATCHED, STANDING, STATUS_MEANING, with_standing
from engine.model.pump.curve import head_curve
from engine.model.pump.duty import LOST, NO_HEAD, RUNS, SHUT
from engine.model.pump.evaluation import SHEAR_COLUMNS, SHUT_COLUMNS, with_shear, with_shut
from engine.model.pump.stack import stack_of
from engine.physics.machine.generator import generator_output
from engine.physics.machine.motor import motor_input
from engine.search.space import Space
from engine.study.pump.study import PumpStudy
from engine.study.reader import parse_study, read_study
from tests.support.places import STUDIES

SYSTEM = """\
title: Water over a wall
kind: pump
supply: {fluid: water, temperature: 20 degC, pressure: 0 bar gauge}
duty: {static_head: 3 m, head_loss: 2 m, flow: 20 l/min}
machine: {seal_clearance: 0.15 mm, motor_power: 370 W}
ranges:
  disc_count: {min: 6, max: 16}
  disc_diameter: {min: 80 mm, max: 120 mm}
  gap: {choices: [0.3 mm, 0.4 mm]}
  eye_diameter: {min: 30 mm, max: 45 mm}
  throat_area: {min: 40 mm2, max: 150 mm2}
  speed: {min: 2000 rpm, max: 3000 rpm}
"""
FLOW = SYSTEM.replace("static_head: 3 m, head_loss: 2 m, ", "")


def study_of(text: str) -> PumpStudy:
    study = parse_study(text, "wall.yaml")
    assert isinstance(study, PumpStudy)
    return study


@pytest.fixture(scope="module")
def system() -> PumpStudy:
    return study_of(SYSTEM)


@pytest.fixture(scope="module")
def some(system: PumpStudy) -> Results:
    space = Space.of(system)
    return evaluate(system, space.builds(space.draw(40, np.random.default_rng(3))))


def working(results: Results) -> Results:
    rows = results["status"] == MATCHED
    assert rows.sum() > 20
    return {key: values[rows] for key, values in results.items()}


def test_it_gives_every_column_of_a_pump_and_none_of_a_turbine(some: Results) -> None:
    assert some.keys() == columns_of("pump").keys()


def test_power_drawn_is_that_in_the_water_and_every_loss(some: Results) -> None:
    found = working(some)
    assert np.abs(found["loss_balance"] / found["electric_power"]).max() < 1e-9
    for key in pump_columns.LOSSES:
        if key != "loss_drive":
            assert (found[key] > 0).all(), key
    lifted = found["flow"] * found["pressure_rise"]
    assert found["hydraulic_power"] == pytest.approx(lifted, rel=1e-6)
    torque = found["shaft_torque"] * found["speed"]
    assert found["shaft_power"] == pytest.approx(torque)


def test_pump_and_pipes_agree_where_it_runs(system: PumpStudy, some: Results) -> None:
    found = working(some)
    assert found["head"] == pytest.approx(system.duty.system_head(found["flow"]), rel=1e-6)


def test_a_flow_that_is_asked_for_is_delivered_with_the_same_head(some: Results) -> None:
    found = {key: values[:6] for key, values in working(some).items()}
    for row in range(6):
        litres = float(found["flow"][row] * 60e3)
        asked = study_of(FLOW.replace("flow: 20 l/min", f"flow: {litres!r} l/min"))
        lane = {key: values[row : row + 1] for key, values in found.items()}
        again = evaluate(asked, builds_of(asked, lane))
        for key in ("flow", "head", "electric_power", "npsh_required", "safety_margin"):
            assert again[key] == pytest.approx(lane[key], rel=2e-5), key


def test_of_two_flows_with_one_head_it_runs_at_the_larger(system: PumpStudy, some: Results) -> None:
    found = working(some)
    curve = head_curve(system, builds_of(system, found), 0)
    beyond = curve["flow"] > 1.001 * found["flow"][0]
    assert beyond.any()
    over = curve["head"] - system.duty.system_head(curve["flow"])
    assert (over[beyond] < 0).all()


def test_a_gap_that_turns_turbulent_near_the_duty_delays_no_build_for_ever() -> None:
    # The slope of what is delivered changes there, and five marches do not settle these.
    study = read_study(STUDIES / "blood-analogue.yaml")
    keys = (
        *("disc_count", "disc_diameter", "gap", "eye_diameter", "throat_area", "speed"),
        *("disc_thickness", "spokes"),
    )
    rows = (
        (13, 0.060, 1.0e-3, 0.040, 75e-6, 314.159265359, 1.0e-3, 3),
        (15, 0.075, 1.0e-3, 0.045, 70e-6, 267.035375555, 1.5e-3, 6),
        (4, 0.090, 1.0e-3, 0.040, 65e-6, 287.979326579, 2.0e-3, 12),
        (13, 0.050, 1.0e-3, 0.045, 85e-6, 277.507351067, 1.5e-3, 6),
        (10, 0.060, 0.6e-3, 0.030, 75e-6, 314.159265359, 1.0e-3, 3),
    )
    builds = dict(zip(keys, np.array(rows).T, strict=True))
    assert builds.keys() == study.searched().keys()
    found = evaluate(study, builds)
    assert (found["status"] == RUNS).all()
    assert found["flow"] == pytest.approx(5 / 60e3, rel=2e-6)
    for row in range(len(rows)):
        alone = evaluate(study, {key: values[row : row + 1] for key, values in builds.items()})
        for key, values in found.items():
            assert alone[key].tobytes() == values[row : row + 1].tobytes(), key


def test_more_lift_than_the_pump_has_is_told(some: Results) -> None:
    tall = study_of(SYSTEM.replace("static_head: 3 m", "static_head: 60 m"))
    found = evaluate(tall, builds_of(tall, some))
    assert set(found["status"]) == {SHUT}
    assert np.isnan(found["head"]).all()
    assert np.isfinite(found["stress_margin"]).any()  # strength needs no duty
    much = study_of(FLOW.replace("20 l/min", "400 l/min"))
    assert set(evaluate(much, builds_of(much, some))["status"]) <= {NO_HEAD, LOST}
    assert {NO_HEAD, SHUT, LOST} <= STATUS_MEANING.keys()
    assert RUNS == MATCHED


def test_a_shaft_thicker_than_the_eye_cannot_be(system: PumpStudy, some: Results) -> None:
    build = builds_of(system, some) | {"shaft_diameter": np.full(40, 50e-3)}
    found = evaluate(system, build)
    assert set(found["status"]) == {"bad geometry"}
    assert np.isnan(found["safety_margin"]).all()


def test_lanes_do_not_know_each_other(system: PumpStudy, some: Results) -> None:
    alone = {key: values[7:8] for key, values in builds_of(system, some).items()}
    found = evaluate(system, alone)
    for key, values in found.items():
        if values.dtype.kind == "U":
            assert values[0] == some[key][7], key
        else:  # sums over more lanes may round the last digit otherwise
            np.testing.assert_allclose(values, some[key][7:8], rtol=1e-13, err_msg=key)


def test_suction_leaves_half_a_metre_above_boiling_in_every_study() -> None:
    limits = with_standing({}, "pump")
    assert limits["npsh_margin"].min == 0.5
    assert limits.keys() <= columns_of("pump").keys()
    turbine = with_standing({})
    assert turbine.keys() == STANDING.keys() - {"eye_ratio", "eye_width", "npsh_margin"}


def test_head_shut_and_shear_are_filled_where_asked_for(system: PumpStudy, some: Results) -> None:
    found = {key: values[:4] for key, values in working(some).items()}
    assert all(np.isnan(found[key]).all() for key in (*SHUT_COLUMNS, *SHEAR_COLUMNS))
    full = with_shear(system, with_shut(system, found))
    assert (full["shutoff_head"] > 0.7 * full["head"]).all()
    assert ((full["head_droop"] >= 0) & (full["head_droop"] < 0.5)).all()
    assert (full["shear_median"] > 0).all()
    assert (full["share_above_150_pa"] <= full["share_above_50_pa"]).all()
    aimed = study_of(f"{SYSTEM}aims: {{shear_median: minimise, wire_to_water: maximise}}\n")
    again = evaluate(aimed, builds_of(aimed, found))
    assert again["shear_median"] == pytest.approx(full["shear_median"])
    assert np.isnan(again["shutoff_head"]).all()


def test_the_fluid_beside_thin_discs_slows_their_waves(system: PumpStudy, some: Results) -> None:
    # Mass moved beside the discs grows as the gap closes; in air hardly any moves.
    found = {key: values[:1] for key, values in working(some).items()}
    wide, narrow = (
        evaluate(system, builds_of(system, found) | {"gap": np.array([gap])})
        for gap in (8e-4, 3e-4)
    )
    assert wide["wave_speed"] > narrow["wave_speed"]
    assert narrow["gap_fluid_mass"] == pytest.approx(2 * 998.2 * 3e-4 / (7900 * 1e-3), rel=0.02)


def test_a_stack_has_the_same_mechanics_by_either_kinds_names(some: Results) -> None:
    stack = stack_of(some)
    assert (stack["exhaust_bore"] == some["eye_diameter"]).all()
    assert (stack["trip_factor"] == some["overspeed_factor"]).all()
    assert (stack["rim_over_bore"] == 0).all()
    turbine = {"speed": np.ones(2), "exhaust_bore": np.ones(2)}
    assert stack_of(turbine) == turbine


def test_sideways_force_and_thrust_load_the_bearings(system: PumpStudy, some: Results) -> None:
    found = {key: values[:1] for key, values in working(some).items()}
    both = evaluate(system, builds_of(system, found) | {"suction_ends": np.array([2.0])})
    assert both["axial_thrust"] == 0
    assert found["axial_thrust"] > 0
    preload = found["bearing_preload"][0]
    load = found["axial_load_ratio"] * (both["bearing_preload"] / both["axial_load_ratio"])
    assert load == pytest.approx(found["axial_thrust"] + preload)
    assert found["bearing_load"] > found["radial_thrust"] / 2


def test_a_motor_has_its_rated_efficiency_and_is_best_where_its_losses_are_equal() -> None:
    # Both are textbook facts of loss that is constant and loss that grows with the square of load
    # (Fitzgerald, Electric Machinery, from memory).
    rated = {"rated_power": 370.0, "rated_speed": 300.0, "rated_efficiency": 0.75}
    load = np.linspace(0.05, 1.5, 2901)
    drawn = motor_input(output_power=load * 370, speed=300.0, iron_share=0.36, **rated)
    efficiency = load * 370 / drawn
    assert efficiency[np.argmin(np.abs(load - 1))] == pytest.approx(0.75)
    assert load[np.argmax(efficiency)] == pytest.approx(np.sqrt(0.36 / 0.64), abs=1e-3)


def test_a_motor_loses_what_a_generator_of_the_same_torque_loses() -> None:
    # A generator rated by its terminals; at rated speed its copper loss goes with what it gives.
    gives = generator_output(
        input_power=500.0, speed=300.0, rated_power=400.0, rated_speed=300.0,
        rated_efficiency=0.8, iron_share=0.4,
    )  # fmt: skip
    takes = motor_input(
        output_power=float(gives), speed=300.0, rated_power=400.0, rated_speed=300.0,
        rated_efficiency=0.8, iron_share=0.4,
    )  # fmt: skip
    assert takes == pytest.approx(500.0)
