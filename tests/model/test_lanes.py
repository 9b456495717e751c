"""A lane is a design: its results do not depend on the other lanes of a call."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.evaluation import RECHECK_COLUMNS, evaluate, with_runaway
from engine.model.load_loss import TRIP_COLUMNS
from engine.model.loads import SWING_COLUMNS
from engine.stage_columns import LATE as EVENNESS_COLUMNS
from engine.stage_columns import OF_LATER_STAGES
from engine.study.study import Study
from tests.support.lanes import UNKNOWN_OF_GENERATORS

Columns = dict[str, NDArray[Any]]
MakeBuilds = Callable[..., Columns]


def chosen(lanes: Columns, rows: Any) -> Columns:
    return {key: values[rows] for key, values in lanes.items()}


def assert_same(found: Columns, expected: Columns) -> None:
    """Equal except for the last digits, which vector instructions may round differently."""
    assert found.keys() == expected.keys()
    for key, values in expected.items():
        if values.dtype.kind in "US":
            assert_array_equal(found[key], values, err_msg=key)
        else:
            # The balance is rounding only.
            of = expected["isentropic_power"] if key == "loss_balance" else values
            scale = np.nanmax(np.abs(of), initial=1e-300)
            assert_allclose(found[key], values, rtol=1e-8, atol=1e-9 * scale, err_msg=key)


@pytest.fixture(scope="module")
def some(random_builds: Callable[[int, int], Columns]) -> Columns:
    lanes = random_builds(40, 3)
    lanes["speed"][[2, 5, 30]] = [8000.0, 15_000.0, -1.0]
    return lanes


def test_a_batch_gives_what_its_designs_give_one_by_one(shop_air: Study, some: Columns) -> None:
    batch = evaluate(shop_air, some)
    assert len(set(batch["status"].tolist())) >= 3
    for lane in (0, 1, 2, 5, 30):
        one = slice(lane, lane + 1)
        assert_same(evaluate(shop_air, chosen(some, one)), chosen(batch, one))


def test_the_order_of_the_designs_does_not_matter(shop_air: Study, some: Columns) -> None:
    order = np.random.default_rng(0).permutation(40)
    shuffled = evaluate(shop_air, chosen(some, order))
    assert_same(shuffled, chosen(evaluate(shop_air, some), order))


BAD: dict[str, list[Any]] = {
    "disc_count": [1, 0],
    "gap": [-0.2e-3, 0.0, np.nan, 1e-9],
    "disc_diameter": [0.0, -0.1, np.nan, 1e3],
    "exhaust_bore": [0.2, 0.005, np.nan, 0.15],
    "inlet_angle": [0.0, 1e-6, np.nan, np.pi / 2],
    "speed": [0.0, -100.0, np.nan, np.inf, 1e6],
    "nozzle_width": [0.0, np.nan, 1.0],
    "disc_thickness": [0.0, np.nan],
    "seal_clearance": [np.nan, 0.05],
    "rim_clearance": [np.nan],
}


def test_a_bad_lane_is_reported_and_changes_no_other(shop_air: Study, builds: MakeBuilds) -> None:
    faults = [(key, value) for key, values in BAD.items() for value in values]
    fixed = {key: shop_air.fixed()[key] for key in BAD if key not in builds()}
    lanes = {
        key: np.full(len(faults) + 2, values, dtype=float)
        for key, values in builds(**fixed).items()
    }
    for lane, (key, value) in enumerate(faults, start=1):
        lanes[key][lane] = value
    found = evaluate(shop_air, lanes)
    good = evaluate(shop_air, builds(**fixed))
    for lane in (0, -1):
        assert good["status"] == "matched"
        assert_same(chosen(found, [lane]), good)
    for lane, fault in enumerate(faults, start=1):
        matched = found["status"][lane] == "matched"
        assert matched == np.isfinite(found["electric_power"][lane]), fault
        assert not matched or np.isfinite(fault[1]), fault


def test_only_what_cannot_be_known_is_nan_in_a_refused_lane(
    shop_air: Study, builds: MakeBuilds
) -> None:
    found = evaluate(shop_air, builds(speed=np.array([1500.0, 8000.0])))
    assert found["status"].tolist() == ["matched", "no flow"]
    for key in ("electric_power", "rim_pressure", "loss_gap", "mass_flow"):
        assert np.isfinite(found[key]).tolist() == [True, False], key
    for key in ("stack_height", "rotor_mass", "bore_stress", "yield_speed", "safety_margin"):
        assert np.isfinite(found[key]).all(), key


def test_a_matched_lane_has_every_number_it_should_have(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    found = with_runaway(shop_air, evaluate(shop_air, random_builds(8, 8)))
    matched = found["status"] == "matched"
    makes_power = found["electric_power"] > 0
    turns = found["shaft_power"] > 0
    for key, values in found.items():
        # The recheck is not asked for here, see test_recheck.py. Air does not cavitate, and this
        # study lists no loads.
        empty = (
            *RECHECK_COLUMNS,
            *SWING_COLUMNS,
            *EVENNESS_COLUMNS,
            "spare_power",
            *TRIP_COLUMNS,
            "cavitation_margin",
            "notch_factor",
            "bolt_circle",
            "hose_volume",
            "bearing_viscosity",
            "receiver_time",
            "closing_surge",
            "creep_temperature",
            *OF_LATER_STAGES,
            *UNKNOWN_OF_GENERATORS,
        )
        if values.dtype.kind not in "US" and key not in empty:
            known = matched & turns if key in ("runaway_ratio", "survives_load_loss") else matched
            known = known & makes_power if key == "specific_consumption" else known
            assert np.isfinite(values[known]).all(), key


def test_ten_thousand_lanes_give_what_one_gives(shop_air: Study, builds: MakeBuilds) -> None:
    one = evaluate(shop_air, builds())
    many = evaluate(shop_air, builds(speed=np.full(10_000, builds()["speed"][0])))
    first = chosen(many, slice(0, 1))
    assert_same(first, one)
    for key, values in many.items():
        assert_array_equal(values, np.broadcast_to(first[key], values.shape), err_msg=key)


def test_no_lanes_at_all_give_empty_columns(shop_air: Study, builds: MakeBuilds) -> None:
    found = evaluate(shop_air, chosen(builds(), slice(0, 0)))
    assert {len(values) for values in found.values()} == {0}


def test_runaway_is_the_speed_at_which_the_torque_vanishes(
    shop_air: Study, builds: MakeBuilds
) -> None:
    start = evaluate(shop_air, builds(speed=np.array([800.0, 1500.0, 2200.0])))
    ratio = with_runaway(shop_air, start)["runaway_ratio"]
    for share, sign in ((0.999, 1.0), (1.001, -1.0)):
        beside = builds(speed=start["speed"] * ratio * share)
        assert np.all(np.sign(evaluate(shop_air, beside)["shaft_torque"]) == sign)
    # one machine has one runaway speed, from any operating speed
    assert_allclose(start["speed"] * ratio, start["speed"][0] * ratio[0], rtol=1e-3)


def test_every_column_of_the_model_stands_in_the_table(shop_air: Study, some: Columns) -> None:
    found = evaluate(shop_air, some)
    assert list(found) == [key for key in COLUMNS if key in found]
    assert {values.shape for values in found.values()} == {(40,)}
