"""Loads that a power carries, worked by hand; wrong lists; the swing of the supply."""

from collections.abc import Callable
from itertools import chain, combinations
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.errors import StudyError
from engine.model.evaluation import evaluate, with_swing
from engine.model.loads import carried, demand, largest_sets, needed
from engine.physics.machine.load import holding_time, lamp_voltage_ratio
from engine.study.loads import Loads, appliances
from engine.study.reader import parse_study, starter_text
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]
LIST: dict[str, Any] = {
    "lamp": {"running": "20 W", "count": 2},
    "fan": {"running": "50 W", "starting": 3, "needed": "no"},
    "drill": {"running": "100 W", "starting": 4},
    "radio": {"running": "10 W", "needed": "no"},
}


def loads(**given: Any) -> Loads:
    return Loads.model_validate({"appliances": given or LIST})


def test_demand_is_all_that_runs_and_the_hardest_start() -> None:
    # Two lamps 40 W, drill 100 W; the drill starts last and takes 300 W more.
    assert demand(needed(loads())) == 440.0
    # The fan takes 100 W more at its start, less than the drill.
    assert demand(loads().listed) == 40 + 100 + 50 + 10 + 300
    assert demand([]) == 0.0


def test_appliances_are_taken_in_order_while_they_fit() -> None:
    power = np.array([39.0, 40.0, 160.0, 440.0, 460.0, 490.0, 500.0, np.nan])
    assert carried(loads(), power).tolist() == [
        "radio",
        "2 lamp",
        "2 lamp, radio",  # the fan would make it 40 + 50 W and 100 W more at its start
        "2 lamp, drill",
        "2 lamp, drill, radio",
        "2 lamp, drill, fan",
        "2 lamp, drill, fan, radio",
        "",
    ]


def test_largest_sets_agree_with_trying_every_set() -> None:
    some = loads().listed
    for power in (5.0, 50.0, 200.0, 470.0, 1000.0):
        every = list(chain.from_iterable(combinations(some, n) for n in range(1, 5)))
        fits = [set(each) for each in every if demand(each) <= power]
        largest = [each for each in fits if not any(each < other for other in fits)]
        found = [set(each) for each in largest_sets(some, power)]
        assert sorted(map(str, found)) == sorted(map(str, largest))


def test_numbers_of_the_table_fill_what_a_line_leaves_out() -> None:
    listed = loads(**{"bench-fan": "3", "laptop": "", "led-lamp": {"running": "5 W"}}).listed
    fan, laptop, lamp = listed
    assert (fan.count, fan.running, fan.surge) == (3, 120.0, 40.0)  # shared/appliances.toml
    assert (laptop.count, laptop.running, laptop.surge) == (1, 50.0, 0.0)
    assert (lamp.running, lamp.surge) == (5.0, 0.0)


def test_every_appliance_of_the_table_has_a_source() -> None:
    assert len(appliances()) >= 10
    for key, row in appliances().items():
        assert row.running > 0, key
        assert row.starting >= 1, key
        assert row.source, key


def test_spare_power_is_what_the_needed_ones_leave(
    shop_air: Study, builds: Callable[..., Columns]
) -> None:
    study = shop_air.model_copy(update={"loads": loads()})
    found = evaluate(study, builds())
    assert_allclose(found["spare_power"], found["electric_power"] - 440.0)
    assert np.isnan(evaluate(shop_air, builds())["spare_power"]).all()


def test_a_swing_is_the_change_between_two_studies_of_other_pressures(
    shop_air: Study, builds: Callable[..., Columns]
) -> None:
    lamps = {"lamp": {"running": "20 W", "count": 20}}
    given = Loads.model_validate({"appliances": lamps, "supply_swing": "10 %", "storage": "1 Wh"})
    study = shop_air.model_copy(update={"loads": given})
    found = with_swing(study, evaluate(study, builds()))
    supply = study.supply
    swing = 0.1 * (supply.pressure - supply.back_pressure)
    low, high = (
        evaluate(
            study.model_copy(
                update={"supply": supply.model_copy(update={"pressure": supply.pressure + by})}
            ),
            builds(),
        )["electric_power"]
        for by in (-swing, swing)
    )
    usual = found["electric_power"]
    # Power of a filament lamp goes with voltage to the 1.6 (IES Lighting Handbook, from memory).
    largest = np.maximum(1 - (low / usual) ** (1 / 1.6), (high / usual) ** (1 / 1.6) - 1)
    assert_allclose(found["lamp_voltage_change"], largest, rtol=1e-6)
    assert_allclose(found["holding_time"], 3600 / (400 - low), rtol=1e-6)


def test_a_lamp_dims_as_the_published_exponents_say() -> None:
    # At 95 % of its voltage a lamp takes 92 % of its power (0.95^1.6), IES as above.
    assert_allclose(lamp_voltage_ratio(power=0.92, usual_power=1.0), 0.95, atol=0.001)
    assert np.isnan(lamp_voltage_ratio(power=1.0, usual_power=0.0))
    assert lamp_voltage_ratio(power=-5.0, usual_power=10.0) == 0.0


def test_stored_energy_lasts_until_the_shortfall_has_used_it_up() -> None:
    # 1 Wh for 36 W that are missing: 100 s.
    assert_allclose(holding_time(stored_energy=3600.0, demand=100.0, power=64.0), 100.0)
    assert holding_time(stored_energy=1.0, demand=50.0, power=50.0) == np.inf


BROKEN: dict[str, tuple[str, str, str, str]] = {
    "unknown appliance": (
        "led-lmap: 2", "loads.appliances.led-lmap", "has no power", "perhaps you meant led-lamp",
    ),
    "own appliance without power": (
        "kiln: {count: 2}", "loads.appliances.kiln", "has no power", "add running: 40 W",
    ),
    "no unit": (
        "kiln: {running: 40}", "loads.appliances.kiln.running", "'40' has no unit", "as in 250 W",
    ),
    "starts with less": (
        "led-lamp: {starting: 0.5}", "loads.appliances.led-lamp.starting", "out of bounds",
        "from 1",
    ),
    "no yes or no": (
        "led-lamp: {needed: perhaps}", "loads.appliances.led-lamp.needed", "neither yes nor no",
        "true or false",
    ),
    "misspelled key": (
        "led-lamp: {cuont: 2}", "loads.appliances.led-lamp.cuont", "unknown key",
        "perhaps you meant count",
    ),
    "half an appliance": (
        "led-lamp: 1.5", "loads.appliances.led-lamp", "1.5", "whole number",
    ),
    "a comma in a name": (
        '"a, b": {running: 5 W}', "loads.appliances.a, b", "is not a name of an appliance",
        "without a comma",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_list_is_told_with_line_key_and_remedy(case: str) -> None:
    entry, key, found, remedy = BROKEN[case]
    text = starter_text("broken").rstrip()
    text = text.partition("\nloads:")[0] + f"\nloads:\n  appliances:\n    {entry}\n"
    line = next(n for n, row in enumerate(text.splitlines(), 1) if entry in row)
    with pytest.raises(StudyError) as caught:
        parse_study(text, "broken.yaml")
    (problem,) = caught.value.problems
    assert problem.line == line
    assert problem.key == key
    assert found in str(problem)
    assert remedy in str(problem)


@pytest.mark.parametrize(
    ("section", "key", "found"),
    [
        ("loads:\n  supply_swing: 5 %\n", "loads.appliances", "missing"),
        ("loads:\n  appliances: {}\n", "loads.appliances", "no appliance"),
        (
            "uncertainty:\n  rim_mixin: 5 %\n",
            "uncertainty.rim_mixin",
            "perhaps you meant rim_mixing",
        ),
        ("uncertainty:\n  nozzle_width: 3\n", "uncertainty.nozzle_width", "has no unit"),
        ("uncertainty:\n  rim_mixing: -1 %\n", "uncertainty.rim_mixing", "out of bounds"),
        ("uncertainty:\n  samples: 3\n", "uncertainty.samples", "out of bounds"),
    ],
)
def test_broken_sections_are_told_at_their_key(section: str, key: str, found: str) -> None:
    text = starter_text("broken").partition("\nloads:")[0].partition("\nuncertainty:")[0]
    with pytest.raises(StudyError) as caught:
        parse_study(f"{text.rstrip()}\n{section}", "broken.yaml")
    (problem,) = caught.value.problems
    assert problem.key == key
    assert found in str(problem)
