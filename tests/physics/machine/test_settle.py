"""Where turbine, generator and loads meet, against closed forms and motion followed in time."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.physics.machine.load_law import LAWS, Bus, lamp_light, load_current
from engine.physics.machine.permanent_magnet import DataSheet, bus_voltage, input_power
from engine.physics.machine.settle import Coupled, MeetingPoints, TorqueCurve, meeting_points

RPM = 2 * np.pi / 60
TOP, STALL = 60_000 * RPM, 0.2
SHARE = np.linspace(0.0, 1.0, 31)


def bus(*loads: Sequence[Any]) -> Bus:
    """Loads as (law, watts, volts, lowest, starting); the last two may be left out."""
    rows = [(*each, *(1e-3, 1.0)[len(each) - 3 :]) for each in loads]
    law, *numbers = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    return Bus(
        np.array([LAWS.index(each) for each in law], int), *(np.array(n, float) for n in numbers)
    )


def coupled(torque: Any = None, **changes: Any) -> Coupled:
    """One turbine whose torque falls in a straight line, unless another is given."""
    given = {
        "speed_constant": 500 * RPM, "resistance": 0.4, "commutation": 0.0, "drop": 0.0,
        "loss": 0.0, "loss_speed": TOP, **changes,
    }  # fmt: skip
    ratio = np.array([given.pop("ratio", 1.0)])
    efficiency = np.array([given.pop("efficiency", 1.0)])
    line = STALL * (1 - SHARE) if torque is None else torque
    curve = TorqueCurve.of(top=np.array([TOP]), share=SHARE, torque=np.array([line]))
    sheet = DataSheet(**{key: np.array([value]) for key, value in given.items()})
    return Coupled(curve, sheet, ratio, efficiency)


def points(some: Coupled, loads: Bus) -> MeetingPoints:
    return meeting_points(coupled=some, bus=loads, switched=np.ones((1, len(loads.law)), bool))


def found(some: MeetingPoints) -> list[tuple[Any, bool]]:
    """Each point as rpm and whether it is stable."""
    known = np.isfinite(some.speed[0, 0])
    return [
        (float(speed / RPM), bool(stable))
        for speed, stable in zip(some.speed[0, 0, known], some.stable[0, 0, known], strict=True)
    ]


@pytest.mark.parametrize("ratio", [1.0, 2.5])
def test_a_straight_line_of_torque_meets_a_heater_in_closed_form(ratio: float) -> None:
    # T = T0 (1 - w/wr) and, behind a drive of ratio r and efficiency e, the generator asks for
    # w / (e r^2 k^2 (R + Rload)): both linear in w.
    some = coupled(ratio=ratio, efficiency=0.95)
    heater = 48.0**2 / 200
    asks = 1 / (0.95 * ratio**2 * (500 * RPM) ** 2 * (0.4 + heater))
    speed = STALL / (STALL / TOP + asks)
    got = points(some, bus(("heater", 200.0, 48.0)))
    assert_allclose(got.speed[0, 0, 0], speed, rtol=1e-10)
    volts = speed / ratio / (500 * RPM) * heater / (heater + 0.4)
    assert_allclose(got.voltage[0, 0, 0], volts, rtol=1e-10)
    assert found(got) == [(pytest.approx(speed / RPM), True)]


def test_without_load_it_turns_until_the_no_load_loss_takes_all() -> None:
    got = points(coupled(loss=50.0, drop=1.4), bus())

    def left(speed: float) -> float:
        return float(STALL * (1 - speed / TOP) - 50 * (speed / TOP) ** 1.3 / speed)

    assert found(got) == [(pytest.approx(brentq(left, 1.0, TOP) / RPM, rel=1e-9), True)]
    assert got.current[0, 0, 0] == 0.0


def test_energy_closes_at_a_point_with_every_loss() -> None:
    some = coupled(commutation=3e-5, drop=1.4, loss=40.0, efficiency=0.9, ratio=1.7)
    loads = bus(("lamp", 60.0, 24.0), ("constant-power", 50.0, 24.0, 15.0), ("heater", 40.0, 24.0))
    got = points(some, loads)
    speed, volts, amps = (each[0, 0, 0] for each in (got.speed, got.voltage, got.current))
    taken = load_current(bus=loads, voltage=volts, running=np.array([True] * 3)) * volts
    lost = 0.4 * amps**2 + 1.4 * amps + 40 * (speed / 1.7 / TOP) ** 1.3
    given = STALL * (1 - speed / TOP) * speed * 0.9
    assert_allclose(given, taken.sum() + lost, rtol=1e-9)
    # And the bus is where the generator's own equations put it.
    assert_allclose(bus_voltage(sheet=some.sheet, speed=speed / 1.7, current=amps), volts)


def straight_bus() -> tuple[Coupled, Bus]:
    """Two converters, on from 12 and 50 V: each can hold the machine at a slow and a fast speed."""
    return coupled(resistance=0.05), bus(
        ("constant-power", 160.0, 30.0, 12.0), ("constant-power", 148.0, 80.0, 50.0)
    )


def test_two_stable_and_two_unstable_points_are_told_apart() -> None:
    some, loads = straight_bus()
    got = points(some, loads)
    known = np.flatnonzero(np.isfinite(got.speed[0, 0]))
    stable = got.stable[0, 0, known]
    assert np.count_nonzero(stable) >= 2
    assert np.count_nonzero(~stable) >= 2
    # Independent: the motion itself, from a per mille beside each point on either side. A converter
    # is on above its lowest voltage; between the speeds at which it can be on or off, it cuts in
    # and out so that the bus stays there.
    inertia = 1e-3

    def torque_left(_time: float, state: Any) -> Any:
        speed = float(state[0])
        return [(STALL * (1 - speed / TOP) - asked(speed)) / inertia]

    def asked(speed: float) -> float:
        volts = speed / (500 * RPM)

        def over(bus_volts: float) -> float:
            on = np.asarray(loads.lowest <= bus_volts)
            amps = load_current(bus=loads, voltage=bus_volts, running=on).sum()
            return volts - 0.05 * float(amps) - bus_volts

        # The highest voltage that is consistent, or the cut-out voltage where none is.
        grid = np.concatenate([np.linspace(0.01, volts, 400), loads.lowest])
        grid = np.sort(grid[grid <= volts])
        signs = np.array([over(each) for each in grid])
        last = int(np.flatnonzero(signs >= 0)[-1])
        high = grid[min(last + 1, len(grid) - 1)]
        bus_volts = high
        if signs[last] > 0 > over(high):
            bus_volts = brentq(over, grid[last], high, xtol=1e-10)
        amps = (volts - bus_volts) / 0.05
        return float(input_power(sheet=some.sheet, speed=speed, current=amps)[0]) / speed

    for place in known:
        speed, is_stable = float(got.speed[0, 0, place]), bool(got.stable[0, 0, place])
        for push in (-1e-3, 1e-3):
            rate = torque_left(0.0, [speed * (1 + push)])[0]
            assert (rate * push < 0) == is_stable, (speed / RPM, push)


def test_a_constant_power_load_has_hysteresis() -> None:
    """Switched on at speed it runs; from rest the same load holds the machine below its need."""
    some, loads = coupled(resistance=0.2), bus(("constant-power", 200.0, 48.0, 12.0))
    got = points(some, loads)
    slow, there = got.settled(from_rest=True)
    fast, _ = got.settled(from_rest=False)
    assert there.all()
    assert got.cutting[0, 0, slow[0, 0]]
    assert not got.cutting[0, 0, fast[0, 0]]
    assert got.voltage[0, 0, fast[0, 0]] > 48.0
    # Closed form: without resistance 200 W = T0 (1 - w/wr) w has its two roots here; 0.2 ohm loses
    # I^2 R more.
    roots = np.sort(np.roots([-STALL / TOP, STALL, -200.0]))
    assert_allclose(got.speed[0, 0, fast[0, 0]], roots[1], rtol=0.01)

    # Independent: follow the motion in time from rest and from above. Off below 12 V of the open
    # generator, on above it.
    def rate(_time: float, state: Any) -> Any:
        speed = float(state[0])
        volts = speed / (500 * RPM)
        inner = volts**2 - 4 * 0.2 * 200
        bus_volts = (volts + np.sqrt(max(inner, 0.0))) / 2
        is_on = inner >= 0 and bus_volts >= 12
        amps = 200 / bus_volts if is_on else max(0.0, (volts - 12) / 0.2)
        return [(STALL * (1 - speed / TOP) - volts * amps / speed) / 1e-3]

    for start, place in ((1.0, slow), (0.9 * TOP, fast)):
        end = solve_ivp(rate, (0, 300), [start], method="LSODA", rtol=1e-8).y[0, -1]
        assert_allclose(end, got.speed[0, 0, place[0, 0]], rtol=2e-3)


def test_a_load_beyond_what_the_turbine_gives_leaves_only_a_starved_point() -> None:
    most = STALL * TOP / 4  # of a straight line, at half its speed
    got = points(coupled(), bus(("constant-power", 1.2 * most, 48.0, 30.0)))
    (place,), _ = got.settled(from_rest=False)[0], None
    assert got.cutting[0, 0, place[0]]


def test_a_turbine_that_still_drives_at_the_end_of_its_curve_has_no_point() -> None:
    got = points(coupled(torque=np.full(31, STALL)), bus(("heater", 1.0, 48.0)))
    assert np.isnan(got.speed).all()
    assert not got.stable.any()


def test_a_lane_without_torque_leaves_the_others_alone() -> None:
    line = STALL * (1 - SHARE)
    torque = np.array([line, np.full(31, np.nan), line / 2])
    curve = TorqueCurve.of(top=np.full(3, TOP), share=SHARE, torque=torque)
    some = coupled()
    three = Coupled(
        curve, DataSheet(*(np.full(3, v) for v in (500 * RPM, 0.4, 0, 0, 0, TOP))),
        np.ones(3), np.ones(3),
    )  # fmt: skip
    loads = bus(("heater", 200.0, 48.0))
    got = meeting_points(coupled=three, bus=loads, switched=np.array([[True], [False]]))
    assert np.isnan(got.speed[1]).all()
    assert got.speed[0, 0, 0] == points(some, loads).speed[0, 0, 0]
    assert got.speed[2, 0, 0] < got.speed[0, 0, 0]


def test_a_dump_resistor_holds_the_speed_of_a_lost_load() -> None:
    free = points(coupled(), bus(("heater", 1e-6, 48.0)))
    held = points(coupled(), bus(("dump", 400.0, 60.0)))
    assert free.speed[0, 0, 0] > 0.99 * TOP
    assert 60.0 < held.voltage[0, 0, 0] < 72.0
    assert held.stable[0, 0, 0]


def test_loads_behave_as_their_laws_say() -> None:
    loads = bus(
        ("lamp", 40.0, 24.0), ("heater", 60.0, 24.0), ("constant-power", 50.0, 24.0, 15.0),
        ("motor", 48.0, 24.0, 12.0, 4.0), ("battery", 100.0, 24.0), ("dump", 300.0, 30.0),
    )  # fmt: skip
    volts = np.array([10.0, 24.0, 26.4, 33.0])
    on = loads.lowest <= volts[:, None]
    watts = load_current(bus=loads, voltage=volts, running=on) * volts[:, None]
    # Rated power at rated voltage; IES: 92 % at 95 % voltage; a heater by the square.
    assert_allclose(watts[1], [40, 60, 50, 48, 0, 0])
    assert_allclose(watts[2, :2], [40 * 1.1**1.6, 60 * 1.1**2])
    # Converter off and motor standing below their lowest voltage.
    assert watts[0, 2] == 0.0
    assert_allclose(watts[0, 3], 4 * 48 * (10 / 24) ** 2)
    assert_allclose(watts[2, 3:5], [48 * 1.1, 100])
    assert_allclose(watts[3, 5], 300 * 1.1**2)
    assert_allclose(lamp_light(voltage_ratio=0.95), 0.84, atol=0.01)  # IES, as above
