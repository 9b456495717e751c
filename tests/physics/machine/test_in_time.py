"""A machine in time, against closed forms, the trip, and the points at which it settles."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.linalg import expm

from engine.physics.machine.in_time import Motion, follow
from engine.physics.machine.load_law import LAWS, Bus
from engine.physics.machine.permanent_magnet import DataSheet
from engine.physics.machine.pipe import receiver_time
from engine.physics.machine.plant import Hose, Plant, Receiver, Stage
from engine.physics.machine.settle import Coupled, TorqueCurve, meeting_points
from engine.physics.machine.trip import TorqueMap, Valve, course_of_trip

RPM = 2 * np.pi / 60
TOP, STALL, INERTIA, FLOW = 60_000 * RPM, 0.2, 2e-4, 0.01
NODES, SHARES = np.linspace(0, 1, 31), np.array([0.0, 0.5, 1.0])
KV, OHMS, FARADS = 500 * RPM, 0.4, 5e-3
FREE = Hose(
    stored=0.0, exponent=1.4, back_share=0.15, trip_speed=np.inf, delay=0.0, closing=0.0
)  # fmt: skip
ENDLESS = Receiver(np.inf, 1.0, 0.0)


def curve(line: Any) -> TorqueCurve:
    """In proportion to the pressure."""
    return TorqueCurve.of(
        top=np.full(3, TOP), share=NODES, torque=SHARES[:, None] * np.asarray(line)
    )


def plant(*loads: Sequence[Any], line: Any = None, **changes: Any) -> Plant:
    """One turbine whose torque falls in a straight line; loads as (law, W, V, lowest, starting)."""
    rows = [(*each, *(1e-3, 1.0)[len(each) - 3 :]) for each in loads]
    law, *numbers = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    bus = Bus(
        np.array([LAWS.index(each) for each in law], int), *(np.array(n, float) for n in numbers)
    )
    sheet = {"commutation": 0.0, "drop": 0.0, "loss": 0.0, **changes.pop("sheet", {})}
    given: dict[str, Any] = {
        "share": SHARES,
        "torque": curve(STALL * (1 - NODES) if line is None else line),
        "flow": curve(FLOW + 0 * NODES),
        "inertia": INERTIA,
        "sheet": DataSheet(
            speed_constant=np.array(KV), resistance=np.array(OHMS), loss_speed=np.array(TOP),
            **{key: np.array(value) for key, value in sheet.items()},
        ),
        "ratio": 1.0, "efficiency": 1.0, "bus": bus, "capacitance": FARADS, "hose": FREE,
        "receiver": ENDLESS,
    }  # fmt: skip
    return Plant(**(given | changes))


def stage(some: Plant, end: float, *, start: float = 0.0, **changes: Any) -> Stage:
    n_loads = len(some.bus.law)
    every = {"on": np.ones(n_loads, bool), "since": np.full(n_loads, -np.inf)}
    return Stage(start, end, **(every | changes))


def run(some: Plant, end: float, *, speed: float, voltage: float = 0.0, **changes: Any) -> Motion:
    return follow(
        plant=some, stages=[stage(some, end, **changes)], speed=speed, voltage=voltage
    )  # fmt: skip


def test_a_constant_torque_alone_makes_a_straight_line() -> None:
    # The capacitor charges along with the speed, so it adds C/k^2 to the inertia. It lags by R C.
    some, start = plant(line=STALL + 0 * NODES), 300.0
    found = run(some, 1.0, speed=start, voltage=start / KV)
    whole = INERTIA + FARADS / KV**2
    late = found.time > 0.1
    lag = (found.speed - start - STALL * found.time / whole)[late]
    assert_allclose(lag, lag[-1], rtol=1e-5)
    assert 0 < lag[-1] < 2e-3 * found.speed[-1]


def test_a_straight_line_with_a_heater_is_a_linear_system() -> None:
    # I dw/dt = T0 (1 - w/wr) - i/k and C dv/dt = i - v/Rl with i = (w/k - v)/R: solved by the
    # exponential of its matrix.
    heater = 24.0**2 / 150
    some, start = plant(("heater", 150.0, 24.0)), np.array([20_000 * RPM, 35.0])
    found = run(some, 1.0, speed=start[0], voltage=start[1])
    matrix = np.array([
        [(-STALL / TOP - 1 / (KV**2 * OHMS)) / INERTIA, 1 / (KV * OHMS) / INERTIA],
        [1 / (KV * OHMS) / FARADS, -(1 / OHMS + 1 / heater) / FARADS],
    ])  # fmt: skip
    settled = np.linalg.solve(matrix, -np.array([STALL / INERTIA, 0.0]))
    for place in (40, len(found.time) // 2, -1):
        exact = settled + expm(matrix * found.time[place]) @ (start - settled)
        assert_allclose([found.speed[place], found.voltage[place]], exact, rtol=1e-6)


LOADS = (
    ("lamp", 40.0, 36.0, 27.0), ("constant-power", 60.0, 36.0, 29.0),
    ("motor", 50.0, 36.0, 20.0, 5.0), ("battery", 40.0, 34.0), ("dump", 300.0, 44.0),
)  # fmt: skip
WHOLE = {"commutation": 3e-5, "drop": 1.5, "loss": 40.0}


def test_it_comes_to_where_the_torques_meet() -> None:
    some = plant(*LOADS, sheet=WHOLE, ratio=1.6, efficiency=0.93)
    found = run(some, 60.0, speed=36_000 * RPM, voltage=30.0)
    at_full = TorqueCurve.of(
        top=np.array([TOP]), share=NODES, torque=np.array([STALL * (1 - NODES)])
    )
    coupled = Coupled(at_full, some.sheet.of(None), np.array([1.6]), np.array([0.93]))
    points = meeting_points(coupled=coupled, bus=some.bus, switched=np.ones((1, 5), bool))
    place, _ = points.settled(from_rest=False)
    assert_allclose(found.speed[-1], points.speed[0, 0, place[0, 0]], rtol=1e-6)
    assert_allclose(found.voltage[-1], points.voltage[0, 0, place[0, 0]], rtol=1e-6)


def test_energy_closes_along_a_run_with_everything_in_it() -> None:
    tank = Receiver(mass=0.5, full=1.4, delivered=0.02)
    trips = replace(FREE, trip_speed=36_000 * RPM, delay=0.1, closing=0.2, stored=0.002)
    some = plant(
        *LOADS, sheet=WHOLE, ratio=1.6, efficiency=0.93, hose=trips, receiver=tank
    )  # fmt: skip
    on = np.array([True, True, False, False, True])
    begun = np.array([-np.inf, -np.inf, 2.0, 2.0, -np.inf])
    stages = [
        stage(some, 2.0, on=on),
        stage(some, 2.5, start=2.0, since=begun),
        stage(some, 6.0, start=2.5, since=begun, swing=(0.1, 0.7, 2.5), delivers=False),
        stage(some, 8.0, start=6.0, since=begun, ramp=(6.0, 7.0, 1.0, 0.6), delivers=False),
        stage(some, 14.0, start=8.0, on=np.zeros(5, bool)),
    ]
    found = follow(plant=some, stages=stages, speed=0.0, voltage=0.0)
    assert np.isfinite(found.tripped)
    assert abs(found.energies.left) < 1e-6
    # And by the trapezium rule on the points themselves, less exactly.
    assert_allclose(
        np.trapezoid(found.watts, found.time, axis=0), found.energies.loads, rtol=2e-3
    )  # fmt: skip
    assert found.energies.rotor == pytest.approx(INERTIA / 2 * found.speed[-1] ** 2)
    # It was worth following: loads were served, and the stack came down again.
    assert (found.energies.loads[:4] > 1).all()
    assert found.share[-1] < 1e-3


@pytest.mark.parametrize(("stored", "closing"), [(0.0, 0.0), (0.004, 0.15), (0.02, 0.3)])
def test_a_lost_load_goes_as_the_trip_says(stored: float, closing: float) -> None:
    """Without any load or loss of the generator it is the motion of `course_of_trip`."""
    trip, delay = 30_000 * RPM, 0.1
    hose = Hose(
        stored=stored, exponent=1.4, back_share=0.15, trip_speed=trip, delay=delay, closing=closing
    )
    some = plant(hose=hose)
    found = run(some, 1.5 if not stored else 12.0, speed=28_000 * RPM, voltage=28_000 * RPM / KV)
    line = STALL * (1 - np.linspace(0, 1, 241))
    tables = SHARES[:, None] * line
    course = course_of_trip(
        torque_map=TorqueMap(
            np.linspace(0, TOP, 241)[None],
            SHARES,
            tables[None],
            0 * tables[None] + FLOW * SHARES[:, None],
        ),
        inertia=INERTIA + FARADS / KV**2,  # the capacitor goes with the speed
        start=np.array([trip]),
        valve=Valve(
            delay=np.array([delay]),
            closing=np.array([closing]),
            stored=np.array([stored]),
            exponent=np.array([1.4]),
            back_share=np.array([0.15]),
            liquid=np.array([stored == 0]),
        ),
        steps=400,
    )
    # No gain of speed may hide in the speed of the trip itself.
    gain = course.peak[0] - trip
    assert_allclose(found.speed.max() - trip, gain, rtol=2e-3)


def test_a_receiver_without_compressor_lasts_as_long_as_its_gas() -> None:
    tank = Receiver(mass=0.6, full=1.5, delivered=FLOW)
    some = plant(("heater", 150.0, 24.0), receiver=tank)
    found = run(some, 40.0, speed=30_000 * RPM, voltage=40.0, delivers=False)
    # Densities in proportion to pressure; a volume of 0.6 kg at full pressure.
    lasts = receiver_time(volume=0.6, full_density=1.5, end_density=1.0, flow=FLOW)
    short = found.time[np.flatnonzero(found.share < 1 - 1e-9)[0]]
    assert_allclose(short, lasts, rtol=0.02)
    assert found.share[-1] < 1
    # With its compressor it stays just below full.
    held = run(some, 40.0, speed=30_000 * RPM, voltage=40.0)
    assert_allclose(held.receiver[-1], 1.5, rtol=0.011)
    assert (held.share == 1).all()


def test_a_dip_of_the_supply_leaves_a_constant_power_load_starved() -> None:
    """What comes back after the dip is not what was before: hysteresis, seen in time."""
    some = plant(("constant-power", 230.0, 48.0, 12.0), sheet={"loss": 0.0})
    stages = [
        stage(some, 2.0),
        stage(some, 22.0, start=2.0, ramp=(2.0, 2.0, 1.0, 0.2)),
        stage(some, 40.0, start=22.0, ramp=(22.0, 22.0, 0.2, 1.0)),
    ]
    found = follow(plant=some, stages=stages, speed=42_000 * RPM, voltage=75.0)
    before, after = (found.watts[found.time <= at][-1, 0] for at in (2.0, 40.0))
    assert_allclose(before, 230.0)
    assert after < 0.9 * 230.0
    assert found.voltage[-1] < 12.2


def test_a_starting_motor_dips_the_bus_and_lets_go() -> None:
    some = plant(("lamp", 40.0, 36.0, 27.0), ("motor", 60.0, 36.0, 15.0, 6.0))
    on, since = np.array([True, False]), np.array([-np.inf, 40.0])
    parts = [
        stage(some, 40.0, on=on),
        stage(some, 40.5, start=40.0, since=since),
        stage(some, 60.0, start=40.5, since=since),
    ]
    found = follow(plant=some, stages=parts, speed=36_000 * RPM, voltage=60.0)
    early = found.voltage[(found.time > 40.0) & (found.time < 40.2)].min()
    started = found.voltage[found.time > 40.55][0]
    assert early < started < found.voltage[found.time <= 40.0][-1]
    # At first it is a resistance that takes six times 60 W at 36 V.
    volts = found.voltage[found.time > 40.02][0]
    watts = found.watts[found.time > 40.02][0, 1]
    assert_allclose(watts, 6 * 60 * (volts / 36) ** 2, rtol=0.06)


def test_standing_still_without_pressure_it_stays_so() -> None:
    some = plant(("heater", 150.0, 24.0), line=0 * NODES)
    found = run(some, 1.0, speed=0.0, ramp=(0.0, 0.0, 0.0, 0.0))
    assert (found.speed == 0).all()
    assert (found.voltage == 0).all()
