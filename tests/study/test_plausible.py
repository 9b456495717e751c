"""Every number has a plausible range with its reason; what lies outside is told by line."""

import math
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from engine import pump_columns
from engine.bench.fit import COEFFICIENTS
from engine.bench.log_columns import OF_KIND, QUANTITIES
from engine.columns import COLUMNS, SEARCHED
from engine.errors import StudyError, WrongValueError
from engine.study.aims import MEASURED, measured
from engine.study.events import Event, Events
from engine.study.kinds import value_type
from engine.study.loads import Appliance, Loads
from engine.study.machine import Machine, Ranges
from engine.study.plausible import PLAUSIBLE, odd
from engine.study.plausible_rows import Plausible
from engine.study.pump.machine import PumpMachine, PumpRanges
from engine.study.pump.supply import Duty, Suction
from engine.study.pump.uncertainty import PumpUncertainty
from engine.study.reader import parse_overrides, parse_study
from engine.study.search import Search
from engine.study.supply import Supply
from engine.study.uncertainty import Uncertainty
from engine.study.values import Quantity, quantity_of
from tests.study.test_study_errors import GOOD

ROWS = [(section, key, row) for section, part in PLAUSIBLE.items() for key, row in part.items()]


def quantities() -> Iterator[tuple[str, str, Quantity]]:
    """Every number that a study may hold, with what reads it."""
    models: dict[str, list[type[BaseModel]]] = {
        "supply": [Supply, Suction],
        "duty": [Duty],
        "loads": [Loads, Appliance],
        "search": [Search],
        "events": [Events, Event],
    }
    models |= {"uncertainty": [Uncertainty, PumpUncertainty]}
    models |= {"machine": [Machine, PumpMachine]}
    for section, parts in models.items():
        for part in parts:
            for key, field in part.model_fields.items():
                if (quantity := quantity_of(field.rebuild_annotation())) is not None:
                    yield section, key, quantity
    for key in (*Ranges.model_fields, *PumpRanges.model_fields):
        if (quantity := quantity_of(value_type(key))) is not None:
            yield "ranges", key, quantity
    for key in (*MEASURED, *measured("pump")):
        yield "limits", key, Quantity(COLUMNS[key].unit.dimension)
    alone = (("lever", "length"), ("trip_speed", "angular_speed"))
    for key, dimension in (*QUANTITIES.items(), *OF_KIND["pump"].items(), *alone):
        yield "log", key, Quantity(dimension)


def test_every_number_is_bounded_at_both_ends() -> None:
    found = list(quantities())
    assert len(found) > 200
    unbounded = [
        (section, key)
        for section, key, quantity in found
        if key not in PLAUSIBLE.get(section, {})
        and not (
            math.isfinite(max(quantity.above, quantity.least))
            and math.isfinite(min(quantity.below, quantity.most))
        )
    ]
    assert unbounded == []


def test_no_row_is_without_a_key() -> None:
    known = {(section, key) for section, key, _ in quantities()}
    # Of a build typed for `point`.
    known |= {("machine", key) for key in (*SEARCHED, *pump_columns.SEARCHED)}
    assert {(section, key) for section, key, _ in ROWS} - known == set()


def test_each_row_has_ends_in_order_a_reason_and_usual_ends_inside() -> None:
    for section, key, row in ROWS:
        low, high = row.bounds
        assert low < high, (section, key)
        assert row.why
        row.refuse(low)
        row.refuse(high)
        for beyond in (low - abs(low) - 1e-3 * high, 1.01 * high):
            with pytest.raises(WrongValueError, match="is not plausible; expected from"):
                row.refuse(beyond)
        if row.usual is not None:
            inner = Plausible(row.dimension, *row.usual, why=row.why).bounds
            assert low <= inner[0] < inner[1] <= high, (section, key)
            assert not row.is_odd(inner[0])


def test_usual_values_are_usual() -> None:
    models: tuple[tuple[str, Any], ...] = (
        ("machine", Machine), ("supply", Supply), ("uncertainty", Uncertainty), ("loads", Loads),
        ("machine", PumpMachine), ("supply", Suction), ("uncertainty", PumpUncertainty),
    )  # fmt: skip
    for section, part in models:
        for key, field in part.model_fields.items():
            if isinstance(field.default, int | float):
                assert not list(odd(section, key, [field.default])), key


def test_what_a_fit_may_find_is_plausible() -> None:
    for key in COEFFICIENTS.keys() & PLAUSIBLE["machine"].keys():
        unknown = COEFFICIENTS[key]
        low, high = PLAUSIBLE["machine"][key].bounds
        assert low <= unknown.lower < unknown.upper <= high, key


# What is changed in GOOD: line, key, found, the end that it crosses.
BEYOND = {
    "discs of 80 to 160 m": (
        "{min: 80 mm, max: 200 mm, step: 5 mm}", "{min: 80 m, max: 160 m}", 11,
        "ranges.disc_diameter.min", "80000 mm is not plausible", "up to 3 m",
    ),
    "a gap of 0.3 m": (
        "max: 0.6 mm\n    step: 0.1 mm", "max: 0.3 m", 14, "ranges.gap.max",
        "300 mm is not plausible", "up to 50 mm",
    ),
    "discs 10 km thick": (
        "nozzle_count: 4", "disc_thickness: 10 km", 7, "machine.disc_thickness",
        "1e+07 mm is not plausible", "up to 100 mm",
    ),
    "a hundred million nozzles": (
        "nozzle_count: 4", "nozzle_count: 100000000", 7, "machine.nozzle_count",
        "is not plausible", "up to 500",
    ),
    "a compressor of 1e9": (
        "available_flow: 600 l/min", "specific_power: 1e9 kW/(m3/min)", 5,
        "supply.specific_power", "is not plausible", "up to 200 kW/(m3/min)",
    ),
    "a tolerance of 0.01 km": (
        "search:", "uncertainty: {nozzle_width: 0.01 km}\nsearch:", 26,
        "uncertainty.nozzle_width", "10000 mm is not plausible", "up to 10 mm",
    ),
    "a load below zero": (
        "stress_margin: {min: 1.5}", "generator_load: {max: -10 %}", 21,
        "limits.generator_load.max", "-0.1 is not plausible", "from 0 up to 20",
    ),
    "more than the whole gap": (
        "stress_margin: {min: 1.5}", "gap_hold: {min: 2}", 21, "limits.gap_hold.min",
        "2 is not plausible", "from 0 up to 1",
    ),
    "surviving twice": (
        "stress_margin: {min: 1.5}", "survives_load_loss: {min: 2}", 21,
        "limits.survives_load_loss.min", "2 is not plausible", "from 0 up to 1",
    ),
    "one choice of two": (
        "[0.6 mm, 0.8 mm]", "[0.6 mm, 0.8 m]", 19, "ranges.nozzle_width.choices",
        "800 mm is not plausible", "up to 200 mm",
    ),
    "a lamp of a power station": (
        "search:", "loads: {appliances: {led-lamp: {running: 3 GW}}}\nsearch:", 26,
        "loads.appliances.led-lamp.running", "is not plausible", "up to 1 MW",
    ),
}  # fmt: skip


@pytest.mark.parametrize("row", BEYOND.values(), ids=BEYOND)
def test_a_number_that_no_workshop_can_mean_is_told(
    row: tuple[str, str, int, str, str, str],
) -> None:
    old, new, line, key, found, end = row
    assert GOOD.count(old) == 1
    with pytest.raises(StudyError) as caught:
        parse_study(GOOD.replace(old, new), "night.yaml")
    problem = caught.value.problems[0]
    assert (problem.line, problem.key) == (line, key)
    assert found in str(problem)
    assert end in str(problem)
    assert problem.remedy == "check number and unit"


def test_a_build_may_lie_outside_the_study_but_not_outside_what_is_plausible() -> None:
    study = parse_study(GOOD, "night.yaml")
    build = ["disc_count=8", "gap=0.5mm", "inlet_angle=6deg", "exhaust_bore=42mm"]
    build += ["nozzle_width=0.5mm"]
    assert parse_overrides([*build, "disc_diameter=400mm"], study)["disc_diameter"] == 0.4
    with pytest.raises(StudyError, match="disc_diameter: 40000 mm is not plausible"):
        parse_overrides([*build, "disc_diameter=40m"], study)
