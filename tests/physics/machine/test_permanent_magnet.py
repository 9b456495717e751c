"""A generator by its data sheet, against a textbook's machine and plain algebra."""

from typing import Any

import numpy as np
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.optimize import brentq

from engine.physics.machine.permanent_magnet import (
    DataSheet,
    bus_current,
    bus_voltage,
    commutation_constant,
    hot_resistance,
    input_power,
    no_load_loss,
    sheet_output,
    speed_of_bus,
)

RPM = 2 * np.pi / 60


def sheet(**changes: Any) -> DataSheet:
    given = {
        "speed_constant": 500 * RPM,
        "resistance": 0.4,
        "commutation": 2e-5,
        "drop": 1.4,
        "loss": 30.0,
        "loss_speed": 30_000 * RPM,
    }
    return DataSheet(**{key: np.asarray(value) for key, value in {**given, **changes}.items()})


def test_the_worked_example_of_a_textbook() -> None:
    # Fitzgerald, Kingsley and Umans 2003, "Electric Machinery", 6th edition, example 7.6 (from
    # memory): a machine with permanent magnets and 1.03 ohm takes 1.25 A from 50 V and turns at
    # 2100 r/min without load. So its constant is 0.22 V/(rad/s) and its loss there 61 W. At
    # 1700 r/min from 48 V it takes 8.54 A, turns 335 W into work and gives 274 W at its shaft. The
    # book goes on with the rounded 0.22 and keeps the loss of 61 W at both
    # speeds. As a generator the currents are below zero.
    constant = (50 - 1.25 * 1.03) / (2100 * RPM)
    assert_allclose(constant, 0.22, atol=0.003)
    loss = 1.25 * (50 - 1.25 * 1.03)
    assert_allclose(loss, 61.0, atol=0.5)
    book = sheet(
        speed_constant=1 / 0.22, resistance=1.03, commutation=0.0, drop=0.0, loss=loss,
        loss_speed=1700 * RPM,
    )  # fmt: skip
    amps = -8.54
    assert_allclose(bus_voltage(sheet=book, speed=1700 * RPM, current=amps), 48.0, atol=0.15)
    assert_allclose(input_power(sheet=book, speed=1700 * RPM, current=amps), -274.0, atol=2.0)


def test_the_worked_example_of_a_generator() -> None:
    # The same book, example 7.1 (from memory): a machine of 25 kW, 125 V and 0.02 ohm turns at
    # 3000 r/min with the field that gives 125 V without load. At 128 V it is a motor: 150 A,
    # 19.20 kW, of which 18.75 kW become work, 59.7 N m. At 124 V it is a generator: 50 A, 6.20 kW
    # at its terminals, 6.25 kW of work, 19.9 N m.
    speed = 3000 * RPM
    book = sheet(speed_constant=speed / 125, resistance=0.02, commutation=0.0, drop=0.0, loss=0.0)
    amps = np.array([-150.0, 50.0])
    volts = bus_voltage(sheet=book, speed=speed, current=amps)
    assert_allclose(volts, [128.0, 124.0], rtol=1e-12)
    assert_allclose(volts * amps, [-19_200.0, 6_200.0], rtol=1e-12)
    taken = input_power(sheet=book, speed=speed, current=amps)
    assert_allclose(taken, [-18_750.0, 6_250.0], rtol=1e-12)
    assert_allclose(taken / speed, [-59.7, 19.9], atol=0.05)
    assert_allclose(bus_current(sheet=book, input_power=6250.0, speed=speed), 50.0, rtol=1e-12)
    assert_allclose(sheet_output(sheet=book, input_power=6250.0, speed=speed), 6200.0, rtol=1e-12)
    assert_allclose(speed_of_bus(sheet=book, voltage=124.0, current=50.0), speed, rtol=1e-12)


def test_the_bridge_gives_the_mean_of_six_pulses() -> None:
    # The mean over sixty degrees of the highest of three line voltages is 3/pi of its amplitude,
    # 1.35 times its effective value: any textbook of power electronics, and integrated here. Six
    # steps of a motor see the same mean, so one constant holds for both.
    mean, _ = quad(np.cos, -np.pi / 6, np.pi / 6)
    assert_allclose(mean / (np.pi / 3), 3 / np.pi, rtol=1e-12)
    assert_allclose(np.sqrt(2) * 3 / np.pi, 1.35, atol=0.001)


def test_overlapping_diodes_lower_the_voltage_by_the_area_that_the_current_needs() -> None:
    # Six times in a turn of the field the current I changes from one phase to the next. Each time
    # the inductance of a phase takes the area L I [V s] off the voltage, so the mean falls by
    # 6 f L I: that is 3/pi w L I.
    inductance, pairs, speed, amps = 40e-6, 7, 900.0, 12.0
    frequency = pairs * speed / (2 * np.pi)
    lost = commutation_constant(inductance=inductance, pole_pairs=pairs) * speed * amps
    assert_allclose(lost, 6 * frequency * inductance / 2 * amps, rtol=1e-12)


def test_current_of_a_shaft_power_is_that_of_the_equations_solved_by_bracketing() -> None:
    some, speed = sheet(), 20_000 * RPM
    watts = np.array([50.0, 200.0, 350.0])

    def asked(amps: float, want: float) -> float:
        return float(input_power(sheet=some, speed=speed, current=amps) - want)

    by_hand = [brentq(asked, 0.0, 12.0, args=(want,), xtol=1e-13) for want in watts]
    found = bus_current(sheet=some, input_power=watts, speed=speed)
    assert_allclose(found, by_hand, rtol=1e-10)
    volts = bus_voltage(sheet=some, speed=speed, current=found)
    assert_allclose(speed_of_bus(sheet=some, voltage=volts, current=found), speed, rtol=1e-12)
    assert_allclose(
        sheet_output(sheet=some, input_power=watts, speed=speed), volts * found, rtol=1e-10
    )


def test_power_in_is_power_out_and_three_losses() -> None:
    some, speed, amps = sheet(), 25_000 * RPM, 6.0
    out = bus_voltage(sheet=some, speed=speed, current=amps) * amps
    lost = no_load_loss(sheet=some, speed=speed) + 1.4 * amps + 0.4 * amps**2
    assert_allclose(input_power(sheet=some, speed=speed, current=amps), out + lost, rtol=1e-12)


def test_a_shaft_that_does_not_cover_the_no_load_loss_gives_nothing() -> None:
    some, speed = sheet(), 30_000 * RPM
    assert_allclose(sheet_output(sheet=some, input_power=20.0, speed=speed), -10.0)
    assert bus_current(sheet=some, input_power=20.0, speed=speed) == 0.0


def test_more_than_the_overlap_leaves_is_no_number() -> None:
    some, speed = sheet(), 1000 * RPM
    most = (speed / some.speed_constant) ** 2 / (4 * some.commutation * speed)
    above = most + no_load_loss(sheet=some, speed=speed) + np.array([-1e-6, 1e-6])
    assert np.isfinite(sheet_output(sheet=some, input_power=above, speed=speed)).tolist() == [
        True,
        False,
    ]
    assert speed_of_bus(sheet=some, voltage=1.0, current=1e6) == np.inf


def test_copper_at_120_degrees_has_the_resistance_of_the_standard() -> None:
    # IEC 60034-1 corrects copper by (235 + hot) / (235 + cold), from memory: 1.392 from 20 to 120.
    found = hot_resistance(resistance=1.0, temperature=120 + 273.15)
    assert_allclose(found, (235 + 120) / (235 + 20), rtol=2e-3)
