import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.physics.arrays import Array
from engine.physics.machine.disc import bore_hoop_stress, yield_speed
from engine.physics.machine.margins import MODES, safety_margin, stress_margin

SPEEDS: dict[str, Array] = {
    "yield_speed": 2500.0,
    "burst_speed": 4000.0,
    "wave_speed": 2300.0,
    "shaft_speed": 2400.0,
    "bearing_speed": 2618.0,
    "rub_speed": 5000.0,
    "generator_speed": 2513.0,
    "seal_rub_speed": 4000.0,
}


@pytest.mark.parametrize(("argument", "mode"), list(zip(SPEEDS, MODES, strict=True)))
def test_the_lowest_failing_speed_governs_under_its_own_name(argument: str, mode: str) -> None:
    found = safety_margin(speed=1000.0, **{**SPEEDS, argument: 1100.0})
    assert_allclose(found.margin, 1.1)
    assert str(found.mode) == mode


@pytest.mark.parametrize("argument", list(SPEEDS))
def test_an_unknown_failing_speed_leaves_no_margin_in_that_lane_only(argument: str) -> None:
    found = safety_margin(speed=1000.0, **{**SPEEDS, argument: np.array([np.nan, 9000.0])})
    assert np.isnan(found.margin).tolist() == [True, False]
    assert found.mode[0] == ""
    assert found.mode[1] in MODES


def test_a_wave_that_never_stands_still_does_not_govern() -> None:
    found = safety_margin(speed=1000.0, **{**SPEEDS, "wave_speed": np.inf})
    assert str(found.mode) == "shaft bending"


def test_a_build_at_rest_has_no_margin() -> None:
    found = safety_margin(speed=np.array([0.0, -1.0, 1000.0]), **SPEEDS)
    assert np.isnan(found.margin).tolist() == [True, True, False]
    assert found.mode.tolist() == ["", "", "standing wave"]


def test_a_disc_that_heat_alone_yields_has_margin_zero() -> None:
    found = safety_margin(speed=1000.0, **{**SPEEDS, "yield_speed": 0.0})
    assert found.margin == 0.0
    assert str(found.mode) == "yield"


def test_lanes_broadcast_and_keep_their_order() -> None:
    found = safety_margin(speed=np.array([[1000.0], [2000.0]]), **SPEEDS)
    assert_allclose(found.margin, [[2.3], [1.15]])


def test_stress_margin_is_one_at_the_trip_that_yields() -> None:
    disc: dict[str, Array] = {
        "density": 8000.0,
        "r_inner": 0.02,
        "r_outer": 0.08,
        "poisson": 0.29,
    }
    strength: dict[str, Array] = {"yield_strength": 205e6, "notch_factor": 2.0}
    spin = yield_speed(**disc, **strength, thermal_stress=20e6)
    found = stress_margin(
        bore_stress=bore_hoop_stress(**disc, speed=spin / 1.15),
        **strength,
        trip_factor=1.15,
        thermal_stress=20e6,
    )
    assert_allclose(found, 1.0, rtol=1e-12)


def test_stress_margin_falls_with_the_square_of_the_trip_factor() -> None:
    def margin(trip_factor: float) -> Array:
        return stress_margin(
            bore_stress=50e6, yield_strength=200e6, notch_factor=2.0, trip_factor=trip_factor
        )

    assert_allclose(margin(1.0), 2.0)
    assert_allclose(margin(1.2), 2.0 / 1.44)
