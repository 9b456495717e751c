"""A build led through the events of its study."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.columns import Results
from engine.model.evaluation import evaluate, with_trip
from engine.model.in_time import InTime, can_be_followed, in_time, plant_of
from engine.model.settle import settled
from engine.study.events import Events
from engine.study.loads import Loads
from engine.study.study import Study
from tests.conftest import MakeBuilds
from tests.model.test_settle import LAMPS, SHEET

SCRIPT: Any = {
    "running": "filament-lamp",
    "duration": "9 s",
    "script": [
        {"at": "1 s", "switch_on": ["laptop", "bench-fan"]},
        {"at": "3 s", "supply_pressure": "4 bar absolute", "over": "500 ms"},
        {"at": "5 s", "swing": "5 %", "period": "500 ms"},
        {"at": "7 s", "switch_off": "all", "swing": "0 %"},
    ],
}


@pytest.fixture(scope="module")
def shop(shop_air: Study) -> Study:
    machine = shop_air.machine.model_copy(update=SHEET)
    loads, events = Loads.model_validate(LAMPS), Events.model_validate(SCRIPT)
    return shop_air.model_copy(update={"machine": machine, "loads": loads, "events": events})


@pytest.fixture(scope="module")
def results(shop: Study, builds: MakeBuilds) -> Results:
    """One build whose own speed, above which the trip is set, is that with the lamp alone."""
    known = evaluate(shop.unjudged(), builds())
    speed = settled(shop, known).speed[:, 1]
    row = int(np.flatnonzero(np.isfinite(speed))[0])
    build = {key: known[key][row : row + 1] for key in shop.searched()}
    return evaluate(shop.unjudged(), build | {"speed": speed[row : row + 1]})


@pytest.fixture(scope="module")
def found(shop: Study, results: Results) -> InTime:
    made = in_time(shop, results, 0)
    assert made is not None
    return made


def test_energy_closes_from_the_shaft_to_each_load_along_a_run(found: InTime) -> None:
    energies = found.motion.energies
    assert abs(energies.left) < 1e-6
    assert (energies.loads[[0, 1, 2]] > 0).all()
    assert energies.loads[3] == 0  # the soldering irons were never on


def test_it_starts_where_it_settles(shop: Study, results: Results, found: InTime) -> None:
    exact = settled(shop, results, exact=True)
    assert_allclose(found.motion.speed[0], exact.speed[0, 1], rtol=2e-4)
    assert_allclose(found.motion.voltage[0], exact.voltage[0, 1], rtol=2e-4)
    quiet = found.motion.time < 1.0
    assert np.ptp(found.motion.speed[quiet]) < 1e-6 * found.motion.speed[0]


def test_the_supply_does_as_the_script_says(found: InTime) -> None:
    time, share = found.motion.time, found.motion.share
    low = (4e5 - found.back) / (found.full - found.back)
    assert (share[time < 3.0] == 1).all()
    ramp = (time > 3.6) & (time < 5.0)
    assert_allclose(share[ramp], low, rtol=1e-9)
    swings = share[(time > 5.0) & (time < 7.0)]
    assert_allclose([swings.min(), swings.max()], [low - 0.05, low + 0.05], atol=2e-3)
    assert found.on.tolist()[-1] == [False] * 4
    assert found.on[1].tolist() == [True, True, True, False]


def test_a_lost_load_peaks_as_the_trip_says(shop: Study, results: Results) -> None:
    """All loads go at once, and the trip acts: the peak is `peak_ratio`, of the trip's own way.

    The trip leaves out what a generator brakes by itself, so here it has no loss.
    """
    build = {key: results[key] for key in shop.searched()}
    bare = {"no_load_loss": 1e-6, "trip_delay": 2.0, "valve_closing": 1.0, "hose_volume": 3e-3}
    script = {
        "running": "all", "bus_capacitance": "1 mF", "duration": "40 s",
        "script": [{"at": "0 s", "switch_off": "all"}],
    }  # fmt: skip
    machine = shop.machine.model_copy(update=bare)
    study = shop.model_copy(
        update={"machine": machine, "events": Events.model_validate(script)}
    )  # fmt: skip
    first = evaluate(study.unjudged(), build)
    full = settled(study, first).speed[:, -1]
    # The study's own speed is the settled one, above which the trip is set.
    lost = with_trip(study, evaluate(study.unjudged(), build | {"speed": full}))
    found = in_time(study, lost, 0)
    assert found is not None
    motion = found.motion
    assert_allclose(motion.tripped, lost["trip_time"][0], rtol=0.02)
    peak = motion.speed.max() / full[0]
    assert_allclose(peak, lost["peak_ratio"][0], rtol=1e-3)
    # What it gains beyond the trip is no rounding, and agrees by itself.
    gain = lost["peak_ratio"][0] - lost["trip_factor"][0]
    assert gain > 0.01
    assert_allclose(peak - lost["trip_factor"][0], gain, rtol=0.03)


def test_nothing_is_followed_without_events_or_operating_point(
    shop: Study, shop_air: Study, builds: MakeBuilds
) -> None:
    assert can_be_followed(shop)
    assert not can_be_followed(shop.model_copy(update={"events": None}))
    none = evaluate(shop.unjudged(), builds(exhaust_bore=0.5))
    assert in_time(shop, none, 0) is None
    assert in_time(shop_air, none, 0) is None
    with pytest.raises(ValueError, match="without events"):
        plant_of(shop_air, none)


def test_energy_closes_from_the_supply_to_each_load_along_a_run(
    shop: Study, results: Results, found: InTime
) -> None:
    energies, supply = found.motion.energies, found.motion.energies.supply
    assert supply is not None
    assert abs(energies.left_of_supply) < 1e-6
    # Settled with its lamp alone: each loss is that of the model there, the map between its nodes
    # apart.
    settled_alone = Events.model_validate({**SCRIPT, "script": [{"at": "1 s", "swing": 0}]})
    quiet = in_time(shop.model_copy(update={"events": settled_alone}), results, 0)
    assert quiet is not None
    still = quiet.motion.energies.supply
    assert still is not None
    seconds = float(quiet.motion.time[-1])
    assert_allclose(still.given / seconds, results["isentropic_power"][0], rtol=2e-3)
    assert_allclose(still.shaft / seconds, results["shaft_power"][0], rtol=6e-3)
    for key, joules in still.lost.items():
        here = results[key][0] / results["isentropic_power"][0]
        assert joules / still.given == pytest.approx(here, abs=5e-3), key
    assert supply.lost["loss_gap"] > 0
