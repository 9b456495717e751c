"""A rotor held still: evaluated at very low speed, against the flow at exactly zero speed."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.model.bearings import run_bearings
from engine.model.circuit import circuit_of, lanes_of, matched_flow, source_of_lanes
from engine.model.dimensions import dimensions_of
from engine.model.locked_rotor import BREAKAWAY, evaluate_locked
from engine.model.shaft import rotor_line
from engine.model.strength import web_of_build
from engine.physics.arrays import Reason
from engine.physics.flow.match import Level
from tests.support.benchlogs import BUILD, STUDY

PRESSURES = np.array([1.2e5, 2e5, 3e5, 4.5e5, 6e5, 7e5])
LIMIT = 2e-5


def at_rest(level: Level) -> dict[str, NDArray[Any]]:
    """Builds of the bench at pressures from very low to the highest that the fittings allow."""
    lanes = PRESSURES.shape
    return {
        **{key: np.full(lanes, value) for key, value in BUILD.items()},
        "gap": np.array([0.2e-3, 0.3e-3, 0.5e-3, 0.3e-3, 0.4e-3, 0.3e-3]),
        "speed": np.zeros(lanes),
        "supply_pressure": PRESSURES,
        "supply_temperature": np.full(lanes, 293.15),
        "gap_flow": np.full(lanes, level),
    }


@pytest.mark.parametrize("level", ["averaged", "resolved"])
def test_the_low_speed_gives_the_torque_at_rest(level: Level) -> None:
    builds = at_rest(level)
    found = evaluate_locked(STUDY, builds)
    # The same flow at exactly no speed, with torque by the fall of angular momentum (Euler).
    lanes = lanes_of(STUDY, builds | {"speed": np.ones(PRESSURES.shape)})
    source = source_of_lanes(STUDY, lanes)
    dial = np.full(len(lanes["speed"]), source.pressure)
    circuit, status = circuit_of(STUDY, source, lanes, dimensions_of(lanes), dial)
    still = replace(circuit, angular_speed=np.zeros(PRESSURES.shape))
    flow, status = matched_flow(source.fluid, still, status, level)
    assert (status == Reason.MATCHED).all()
    fall = still.rim_radius * flow.ring.swirl - still.bore_radius * flow.gap.exit_swirl
    torque = flow.rotor_flow * fall + flow.ring.edge_torque
    torque = torque + np.maximum(flow.ring.face_torque, 0.0) + flow.web_torque
    assert (torque > 0).all()
    np.testing.assert_allclose(found["shaft_torque"], torque, rtol=LIMIT)
    np.testing.assert_allclose(found["rim_pressure"], flow.rim_pressure, rtol=LIMIT)
    np.testing.assert_allclose(found["mass_flow"], flow.jet.mass_flow, rtol=LIMIT)
    np.testing.assert_allclose(found["gap_exit_pressure"], flow.gap.exit_pressure, rtol=LIMIT)


def test_a_rotor_held_still_gives_no_power_and_does_no_work_on_the_gas() -> None:
    found = evaluate_locked(STUDY, at_rest("averaged"))
    assert (found["speed"] == 0).all()
    assert (found["electric_power"] == 0).all()
    # Without work the gas leaves at the supply temperature, except for the Joule-Thomson effect.
    assert (np.abs(found["exhaust_temperature"] - 293.15) < 2.0).all()


def test_drag_at_rest_is_in_no_reading_and_has_its_own_column() -> None:
    builds = at_rest("averaged")
    usual, dragging = (
        evaluate_locked(STUDY, {**builds, "bearing_factor": np.full(PRESSURES.shape, factor)})
        for factor in (1.0, 3.0)
    )
    np.testing.assert_array_equal(usual["shaft_torque"], dragging["shaft_torque"])
    lanes = lanes_of(STUDY, {**builds, "speed": np.full(PRESSURES.shape, 1e-3)})
    hub = web_of_build(lanes).hub_radius
    line = rotor_line(lanes, height=usual["stack_height"], hub_radius=hub)
    cold = usual["exhaust_temperature"]
    drag = run_bearings(lanes, line, shaft_temperature=cold).drag + lanes["shaft_seal_torque"]
    np.testing.assert_allclose(usual[BREAKAWAY], drag, rtol=1e-3)
    assert (dragging[BREAKAWAY] > usual[BREAKAWAY]).all()


def test_a_rotor_without_operating_point_has_no_torque_at_rest() -> None:
    builds = at_rest("averaged") | {"supply_pressure": np.full(PRESSURES.shape, 1e5)}
    found = evaluate_locked(STUDY, builds)
    assert np.isnan(found["shaft_torque"]).all()
    assert np.isnan(found["electric_power"]).all()
    assert (found["status"] == "bad supply").all()
