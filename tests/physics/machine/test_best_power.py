"""A converter that holds the speed of best power, against closed forms and scipy's own search."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq, minimize_scalar

from engine.physics.machine.best_power import best_power_points, current_for_power
from engine.physics.machine.permanent_magnet import DataSheet, bus_voltage
from engine.physics.machine.settle import Coupled, TorqueCurve

RPM = 2 * np.pi / 60
TOP, STALL, KV = 60_000 * RPM, 0.2, 500 * RPM
SHARE = np.linspace(0.0, 1.0, 31)


def coupled(**changes: float) -> Coupled:
    given = {
        "speed_constant": KV, "resistance": 1e-12, "commutation": 0.0, "drop": 0.0, "loss": 0.0,
        "loss_speed": TOP, **changes,
    }  # fmt: skip
    ratio, efficiency = given.pop("ratio", 1.0), given.pop("efficiency", 1.0)
    line = (STALL * (1 - SHARE))[None]
    curve = TorqueCurve.of(top=np.full(1, TOP), share=SHARE, torque=line)
    sheet = DataSheet(**{key: np.full(1, value) for key, value in given.items()})
    return Coupled(curve, sheet, np.full(1, ratio), np.full(1, efficiency))


def test_a_straight_line_of_torque_gives_most_at_half_its_speed() -> None:
    # P = T0 w (1 - w/wr): most is T0 wr/4, and a demand below it is met at the larger root.
    most = STALL * TOP / 4
    demand = np.array([0.0, 0.3, 0.9, 1.5]) * most
    found = best_power_points(coupled=coupled(), demand=demand)
    speed = found.speed[0, :, 0]
    exact = TOP / 2 * (1 + np.sqrt(np.maximum(1 - demand / most, 0.0)))
    assert_allclose(speed[:3], exact[:3], rtol=1e-9)
    assert_allclose(speed[3], TOP / 2, rtol=1e-3)  # flat there: the power tells more
    given = found.voltage[0, :, 0] * found.current[0, :, 0]
    assert_allclose(given, [*demand[:3], most], atol=1e-6)
    assert found.stable[0, :, 0].all()
    assert not found.stable[0, :, 1:].any()


def test_with_every_loss_it_agrees_with_search_and_bracketing() -> None:
    losses = {"resistance": 0.5, "commutation": 3e-5, "drop": 1.5, "loss": 40.0}
    some = coupled(**losses, ratio=1.6, efficiency=0.93)

    def power(speed: float) -> float:
        # Shaft power after the drive becomes w/k I - c w I^2 and the no-load loss.
        turns = speed / 1.6
        turned = 0.93 * STALL * (1 - speed / TOP) * speed - 40 * (turns / TOP) ** 1.3
        volts, c = turns / KV, 3e-5 * turns
        amps = (volts - np.sqrt(volts**2 - 4 * c * turned)) / (2 * c)
        return float(amps * (volts - 1.5 - (0.5 + c) * amps))

    best = minimize_scalar(lambda w: -power(w), bounds=(0.2 * TOP, 0.9 * TOP), method="bounded")
    demand = np.array([100.0, 1e4])
    found = best_power_points(coupled=some, demand=demand)
    exact = brentq(lambda w: power(w) - 100.0, best.x, 0.99 * TOP, xtol=1e-9)
    assert_allclose(found.speed[0, 0, 0], exact, rtol=1e-8)
    given = found.voltage[0, :, 0] * found.current[0, :, 0]
    assert_allclose(given, [100.0, -best.fun], rtol=1e-7)
    volts = bus_voltage(
        sheet=some.sheet, speed=found.speed[0, :, 0] / 1.6, current=found.current[0, :, 0]
    )  # fmt: skip
    assert_allclose(volts, found.voltage[0, :, 0], rtol=1e-12)


@pytest.mark.parametrize("torque", [STALL, -STALL, np.nan])
def test_what_races_brakes_or_is_not_known_has_no_point(torque: float) -> None:
    flat = coupled()
    curve = TorqueCurve.of(top=np.array([TOP]), share=SHARE, torque=np.full((1, 31), torque))
    pushed = Coupled(curve, flat.sheet, flat.ratio, flat.efficiency)
    assert np.isnan(best_power_points(coupled=pushed, demand=np.array([1.0])).speed).all()


def test_current_for_a_power_gives_that_power() -> None:
    sheet = coupled(resistance=0.4, commutation=2e-5, drop=1.4).sheet
    speed, power = 20_000 * RPM, np.array([0.0, 50.0, 250.0])
    amps = current_for_power(sheet=sheet, speed=speed, power=power)
    volts = bus_voltage(sheet=sheet, speed=speed, current=amps)
    assert_allclose(volts * amps, power, atol=1e-9)
    assert np.isnan(current_for_power(sheet=sheet, speed=1000 * RPM, power=500.0)).all()
