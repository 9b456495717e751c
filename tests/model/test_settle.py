"""Builds that settle with their generator and the loads of a study."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.columns import Results
from engine.model.evaluation import evaluate, with_trip
from engine.model.settle import Settled, coupled_of, settled
from engine.model.wired import can_settle
from engine.physics.machine.permanent_magnet import input_power
from engine.study.loads import Loads
from engine.study.study import Study
from tests.conftest import MakeBuilds

RPM = 2 * np.pi / 60
SHEET = {
    "generator_kv": 500 * RPM, "winding_resistance": 0.45, "winding_inductance": 1.2e-4,
    "pole_pairs": 2, "no_load_loss": 28.0, "generator_speed": 30_000 * RPM,
    "rectifier_drop": 1.6, "generator_current": 9.0,
}  # fmt: skip
LAMPS: Any = {
    "voltage": "48 V",
    "appliances": {
        "filament-lamp": {"running": "40 W"}, "laptop": "", "bench-fan": {"needed": "no"},
        "soldering-iron": {"needed": "no", "count": 4},
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def wired_shop(shop_air: Study) -> Study:
    machine = shop_air.machine.model_copy(update=SHEET)
    return shop_air.model_copy(update={"machine": machine, "loads": Loads.model_validate(LAMPS)})


@pytest.fixture(scope="module")
def case(wired_shop: Study, builds: MakeBuilds) -> tuple[Study, Results, Settled]:
    results = evaluate(wired_shop.unjudged(), builds())
    return wired_shop, results, settled(wired_shop, results, exact=True)


def test_energy_closes_from_the_shaft_to_each_load(case: tuple[Study, Results, Settled]) -> None:
    study, results, found = case
    known = np.isfinite(found.speed)
    assert known.any()
    lane, chosen = np.nonzero(known)
    there = {key: values[lane] for key, values in results.items() if key in study.searched()}
    true = evaluate(study.unjudged(), there | {"speed": found.speed[known]})
    amps, turns = found.current[known], found.speed[known] / true["drive_ratio"]
    hot = 0.45 * (1 + 3.93e-3 * 60)  # copper at 80 °C
    lost = 28.0 * (turns / (30_000 * RPM)) ** 1.3 + 1.6 * amps + hot * amps**2
    given = true["shaft_power"] * true["drive_efficiency"]
    assert_allclose(found.watts.sum(axis=2)[known] + lost, given, rtol=1e-9)
    # And from the supply to the shaft: the losses of the flow add up there too.
    assert_allclose(true["loss_balance"] / true["isentropic_power"], 0.0, atol=1e-9)
    # Nothing goes to a load that is off.
    off = ~found.wired.sets[chosen]
    assert (found.watts[known][off] == 0).all()


def test_a_search_finds_the_same_from_few_speeds(case: tuple[Study, Results, Settled]) -> None:
    study, results, exact = case
    few = settled(study, results)
    assert_allclose(few.speed, exact.speed, rtol=0.01)


def test_without_load_it_turns_where_the_model_and_the_no_load_loss_meet(
    case: tuple[Study, Results, Settled],
) -> None:
    study, results, found = case
    lane = int(np.flatnonzero(np.isfinite(found.speed[:, 0]))[0])
    build = {key: results[key][lane : lane + 1] for key in study.searched()}

    def left(speed: float) -> float:
        at = evaluate(study.unjudged(), build | {"speed": np.array([speed])})
        turns = speed / float(at["drive_ratio"][0])
        asked = 28.0 * (turns / (30_000 * RPM)) ** 1.3 / float(at["drive_efficiency"][0])
        return float(at["shaft_power"][0] - asked)

    speed = found.speed[lane, 0]
    assert_allclose(brentq(left, 0.97 * speed, 1.02 * speed, xtol=1e-7), speed, rtol=1e-7)


def test_more_load_means_less_speed_and_voltage(case: tuple[Study, Results, Settled]) -> None:
    _, _, found = case
    assert (np.diff(found.speed, axis=1)[np.isfinite(found.speed[:, 1:])] < 0).all()
    assert (np.diff(found.voltage, axis=1)[np.isfinite(found.speed[:, 1:])] < 0).all()
    # A fan that starts pulls the bus down further than one that runs.
    running = found.voltage[:, 3]
    known = np.isfinite(found.dip[:, 3]) & np.isfinite(running)
    assert known.any()
    assert (found.dip[known, 3] < found.voltage[known, 2]).all()


def test_a_study_without_data_sheet_or_voltage_does_not_settle(
    shop_air: Study, wired_shop: Study
) -> None:
    assert can_settle(wired_shop)
    assert not can_settle(shop_air)
    plain = Loads.model_validate({"appliances": {"laptop": ""}})
    assert not can_settle(wired_shop.model_copy(update={"loads": plain}))
    assert not can_settle(shop_air.model_copy(update={"loads": wired_shop.loads}))


def test_a_build_without_operating_point_settles_nowhere(
    wired_shop: Study, builds: MakeBuilds
) -> None:
    results = evaluate(wired_shop.unjudged(), builds(exhaust_bore=0.5))
    found = settled(wired_shop, results)
    assert np.isnan(found.speed).all()


def test_a_step_from_full_load_to_none_agrees_with_the_trip(
    case: tuple[Study, Results, Settled],
) -> None:
    """The settled machine loses all loads at once: followed by scipy along the torque curve."""
    study, results, found = case
    lane = int(np.flatnonzero(np.isfinite(found.speed[:, -1]))[0])
    build = {key: results[key][lane : lane + 1] for key in study.searched()}
    # The study's own speed is the settled one, so that the trip is set above that. Shut at once
    # after a delay, with no hose: full torque until then.
    shut = {"trip_delay": 0.6, "valve_closing": 0.0, "hose_volume": 0.0}
    given = study.model_copy(update={"machine": study.machine.model_copy(update=shut)})
    full = found.speed[lane : lane + 1, -1]
    lost = with_trip(given, evaluate(given.unjudged(), build | {"speed": full}))
    inertia = float(2 * lost["stored_energy"][0] / full[0] ** 2)
    coupled = coupled_of(given, lost, 40)
    first = np.zeros(1, dtype=np.int64)

    def followed(share_of_no_load_loss: float) -> float:
        def gains(_time: float, state: Any) -> Any:
            asked = input_power(sheet=coupled.sheet, speed=state, current=0.0) / state
            torque = coupled.curve.at(np.atleast_1d(state), first)
            return (torque - share_of_no_load_loss * asked) / inertia

        trip = 1.15 * float(full[0])

        def reaches(_time: float, state: Any) -> float:
            return float(state[0]) - trip

        reaches.terminal = True  # type: ignore[attr-defined]
        to_trip = solve_ivp(gains, (0, 60), full, events=reaches, rtol=1e-8)
        if not share_of_no_load_loss:
            assert_allclose(to_trip.t[-1], lost["trip_time"][0], rtol=0.02)
        return float(solve_ivp(gains, (0, 0.6), [trip], rtol=1e-8).y[0, -1] / full[0])

    assert_allclose(followed(0.0), lost["peak_ratio"][0], rtol=1e-3)
    # The trip leaves out what the generator itself brakes: it is on the safe side.
    assert 1.15 < followed(1.0) <= lost["peak_ratio"][0] + 1e-3


def test_behind_a_converter_energy_closes_and_all_loads_have_the_same_share(
    wired_shop: Study, builds: MakeBuilds
) -> None:
    lamps = {**LAMPS, "converter_efficiency": "92 %"}
    study = wired_shop.model_copy(update={"loads": Loads.model_validate(lamps)})
    results = evaluate(study.unjudged(), builds())
    found = settled(study, results, exact=True)
    known = np.isfinite(found.speed)
    lane, chosen = np.nonzero(known)
    assert lane.size
    there = {key: values[lane] for key, values in results.items() if key in study.searched()}
    true = evaluate(study.unjudged(), there | {"speed": found.speed[known]})
    amps, turns = found.current[known], found.speed[known] / true["drive_ratio"]
    hot = 0.45 * (1 + 3.93e-3 * 60)
    lost = 28.0 * (turns / (30_000 * RPM)) ** 1.3 + 1.6 * amps + hot * amps**2
    given = true["shaft_power"] * true["drive_efficiency"]
    taken = found.watts.sum(axis=2)[known]
    # What the converter loses is 8 % of what comes in; nothing else is left over.
    assert_allclose(taken / 0.92 + lost, given, rtol=1e-9, atol=1e-7)
    asked = found.wired.sets[chosen] * found.wired.bus.power
    share = taken / np.where(chosen > 0, asked.sum(axis=1), 1.0)
    assert_allclose(found.watts[known], asked * share[:, None], rtol=1e-12)
    assert (share[chosen > 0] <= 1 + 1e-9).all()
