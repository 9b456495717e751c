"""The trip against what can be solved on paper."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.physics.machine.trip import (
    BLOW_DOWN,
    TorqueMap,
    Valve,
    course_of_trip,
    equivalent_delay,
    peak_bound,
    speed_time_constant,
    time_to_speed,
)

INERTIA, START, FLOW, STORED, KAPPA = 1e-3, 3000.0, 0.012, 0.0016, 1.4


def torque_map(*torque: float, top: float = 6000.0, lanes: int = 1) -> TorqueMap:
    """Rotors; torque at equal steps from 2000 rad/s to the top, in proportion to pressure."""
    share = np.array([0.0, 1.0])
    speed = np.tile(np.linspace(2000.0, top, len(torque)), (lanes, 1))
    whole = np.tile(torque, (lanes, 1, 1)) * share[None, :, None]
    flow = np.full(whole.shape, FLOW) * share[None, :, None]
    return TorqueMap(speed, share, whole, flow)


def valve(**changes: Any) -> Valve:
    given: dict[str, Any] = {
        "delay": 0.0, "closing": 0.0, "stored": 0.0, "exponent": KAPPA, "back_share": 0.0,
        "liquid": False,
    } | changes  # fmt: skip
    lanes = np.broadcast_arrays(*map(np.atleast_1d, given.values()))
    return Valve(**dict(zip(given, lanes, strict=True)))


def peaks(found: TorqueMap, steps: int = 60, **changes: Any) -> NDArray[np.float64]:
    course = course_of_trip(
        torque_map=found, inertia=INERTIA, start=START, valve=valve(**changes), steps=steps
    )
    return course.peak


def peak(found: TorqueMap, steps: int = 60, **changes: Any) -> float:
    return float(peaks(found, steps, **changes)[0])


def test_a_constant_torque_gains_speed_in_proportion_to_time() -> None:
    assert_allclose(peak(torque_map(0.1, 0.1), delay=0.3), START + 0.1 * 0.3 / INERTIA, rtol=1e-12)


def test_a_torque_linear_in_speed_gains_speed_exponentially() -> None:
    delays = np.array([0.5, 5.0, 20.0, 200.0])
    found = torque_map(0.2, 0.0, lanes=4)  # none is left at 6000 rad/s
    rate = 0.2 / 4000 / INERTIA
    exact = 6000 - (6000 - START) * np.exp(-rate * delays)
    assert_allclose(peaks(found, delay=delays), exact, rtol=3e-5)
    assert_allclose(peaks(found, delay=delays, steps=2000), exact, rtol=1e-10)
    assert_allclose(peak(torque_map(0.2, 0.0), delay=np.inf), 6000, rtol=1e-8)


def test_without_delay_closing_and_hose_the_peak_is_the_speed_of_the_trip() -> None:
    assert_allclose(peak(torque_map(0.2, 0.1)), START, rtol=1e-12)


def test_a_hose_blows_down_as_an_adiabatic_vessel_through_a_choked_nozzle() -> None:
    course = course_of_trip(
        torque_map=torque_map(0.1, 0.1),
        inertia=INERTIA,
        start=START,
        valve=valve(stored=STORED),
        steps=400,
    )
    rate, time = FLOW / STORED, course.time[0]
    exact = (1 + (KAPPA - 1) / 2 * rate * time) ** (-2 * KAPPA / (KAPPA - 1))
    assert_allclose(course.share[0], exact, atol=3e-9)
    assert_allclose(time[-1], BLOW_DOWN / rate)
    # the torque is that of the pressure; its impulse, integrated in closed form, is the speed
    power = 2 * KAPPA / (KAPPA - 1) - 1
    pressed = (1 - (1 + (KAPPA - 1) / 2 * rate * time) ** -power) / (power * (KAPPA - 1) / 2 * rate)
    assert_allclose(course.speed[0], START + 0.1 * pressed / INERTIA, rtol=1e-8)


def test_a_liquid_stores_nothing_and_its_pressure_follows_the_square_of_its_flow() -> None:
    found = peak(torque_map(0.1, 0.1), liquid=True, delay=0.1, closing=0.3, stored=5.0)
    assert_allclose(found, START + 0.1 * (0.1 + 0.3 / 3) / INERTIA, rtol=1e-9)


def test_halving_the_step_hardly_moves_the_peak() -> None:
    falling = torque_map(0.16, 0.13, 0.11, 0.05, -0.02)
    cases: tuple[dict[str, Any], ...] = (
        {"delay": 0.05, "closing": 0.1, "stored": STORED},
        {"delay": 1.0, "closing": 0.001, "stored": 10 * STORED},
        {"delay": 0.0, "closing": 2.0, "stored": 0.0},
        {"delay": 5.0, "closing": 5.0, "stored": 100 * STORED},
        {"delay": 5.0, "closing": 5.0, "liquid": True},
    )
    for changes in cases:
        fine = peak(falling, steps=120, **changes)
        assert_allclose(peak(falling, **changes), fine, rtol=1e-4)
        # few steps are never on the wrong side by more, whatever the hose
        assert fine * (1 - 1e-4) <= peak(falling, steps=24, **changes) < fine * 1.05


def test_the_peak_lies_between_two_steps_where_drag_takes_over() -> None:
    """Torque linear in pressure less a steady drag, so the peak is where both are equal."""
    speed, share = np.array([[2000.0, 6000.0]]), np.array([0.0, 1.0])
    torque = np.array([[[-0.02, -0.02], [0.1, 0.1]]])
    flow = np.array([[[0.0, 0.0], [FLOW, FLOW]]])
    course = course_of_trip(
        torque_map=TorqueMap(speed, share, torque, flow),
        inertia=INERTIA,
        start=START,
        valve=valve(stored=STORED),
    )
    rate, power = FLOW / STORED * (KAPPA - 1) / 2, 2 * KAPPA / (KAPPA - 1)
    ends = ((0.12 / 0.02) ** (1 / power) - 1) / rate
    pressed = (1 - (1 + rate * ends) ** (1 - power)) / ((power - 1) * rate)
    assert_allclose(course.peak_time[0], ends, rtol=1e-3)
    assert_allclose(course.peak[0], START + (0.12 * pressed - 0.02 * ends) / INERTIA, rtol=1e-6)
    assert course.speed[0, -1] < course.peak[0]


def test_time_to_a_speed_is_that_of_constant_and_of_linear_torque() -> None:
    def time(found: TorqueMap, end: float) -> float:
        return float(time_to_speed(torque_map=found, inertia=INERTIA, start=START, end=end)[0])

    assert_allclose(time(torque_map(0.1, 0.1), 4000.0), INERTIA * 1000 / 0.1, rtol=1e-12)
    rate = 0.2 / 4000 / INERTIA
    assert_allclose(time(torque_map(0.2, 0.0), 5000.0), np.log(3000 / 1000) / rate, rtol=1e-12)
    assert time(torque_map(0.2, 0.0), 6500.0) == np.inf
    assert time(torque_map(0.2, 0.0), 2500.0) == 0
    assert np.isnan(time(torque_map(np.nan, np.nan), 4000.0))


@pytest.mark.parametrize("closing", [0.01, 0.1, 1.0])
@pytest.mark.parametrize("stored", [0.0, STORED, 5 * STORED])
def test_the_bound_is_never_passed_and_the_equivalent_delay_is_nearer(
    closing: float, stored: float
) -> None:
    falling = torque_map(0.16, 0.13, 0.11, 0.05, -0.02)
    delay = equivalent_delay(delay=0.05, closing=closing, stored=stored, flow=FLOW)
    at_start, _ = falling.at(np.array([START]), np.ones(1))
    bound = peak_bound(speed=START, trip_factor=1.0, torque=at_start, inertia=INERTIA, delay=delay)[
        0
    ]
    found = peak(falling, delay=0.05, closing=closing, stored=stored) / START
    full = peak(falling, delay=float(delay)) / START
    assert 1 < found <= full * (1 + 1e-3 * closing) <= bound * (1 + 1e-3 * closing)
    assert found - 1 > 0.5 * (full - 1)  # and it is not far above either


def test_a_loaded_rotor_follows_its_supply_as_a_filter_of_first_order() -> None:
    """Against the rotor itself, with falling torque and a load by the square of speed."""
    slope, speed = -0.1 / 1500, 1000.0
    tau = float(speed_time_constant(inertia=INERTIA, speed=speed, torque=0.1, slope=slope))
    swing, step = 1.0, 1e-3  # 1 Hz
    time = np.arange(0, 60, step)
    rates = 0.1 * (1 + 1e-4 * np.sin(2 * np.pi * swing * time))
    found: NDArray[np.float64] = np.empty_like(time)
    now = speed
    for place, driving in enumerate(rates.tolist()):
        found[place] = now
        now += step * (driving + slope * (now - speed) - 0.1 * now / speed) / INERTIA
    lasting = 1e-4 * 0.1 / (0.1 / speed - slope)
    seen = np.ptp(found[-2000:]) / 2
    assert_allclose(seen, lasting / np.hypot(1, 2 * np.pi * swing * tau), rtol=5e-3)
