from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.columns import columns_of
from engine.model.limits import (
    STANDING,
    biting,
    count_met,
    feasible,
    matched,
    violations,
    with_standing,
)
from engine.study.values import Limit

NAN = float("nan")


def columns(**values: Any) -> dict[str, NDArray[Any]]:
    arrays = {key: np.asarray(given) for key, given in values.items()}
    n_designs = len(next(iter(arrays.values())))
    return {"status": np.full(n_designs, "matched")} | arrays


def test_a_met_limit_has_no_violation_and_a_missed_one_grows_with_its_bound() -> None:
    results = columns(stress_margin=[2.0, 1.5, 1.2, 0.75], mass_flow=[0.010, 0.014, 0.021, 0.028])
    limits = {"stress_margin": Limit[float](min=1.5), "mass_flow": Limit[float](max=0.014)}
    # Overshoot over bound x: 0.2, 0.5 below 1.5 and 0.5, 1.0 above 14 g/s; x/(1+x) by hand.
    expected = [[0.0, 0.0], [0.0, 0.0], [0.2 / 1.2, 0.5 / 1.5], [0.5 / 1.5, 0.5]]
    np.testing.assert_allclose(violations(results, limits), expected, rtol=1e-12)
    np.testing.assert_array_equal(feasible(violations(results, limits)), [True, True, False, False])


def test_rounding_of_a_number_on_its_bound_is_allowed() -> None:
    wall = (0.019 - 0.017) / 2
    assert wall < 1e-3, "the number shows nothing if it is not below its bound by rounding"
    assert violations(columns(bore_wall=[wall]), {"bore_wall": Limit[float](min=1e-3)})[0, 0] == 0
    short = columns(bore_wall=[0.99999e-3])
    assert violations(short, {"bore_wall": Limit[float](min=1e-3)})[0, 0] > 0


def test_a_bound_of_zero_is_measured_in_drawing_units() -> None:
    results = columns(electric_power=[1.0, -1.0, -3.0], shaft_torque=[0.0, -1e-3, 0.0])
    limits = {"electric_power": Limit[float](min=0.0), "shaft_torque": Limit[float](min=0.0)}
    # 1 W and 3 W, and 1 mN m, below zero.
    np.testing.assert_allclose(
        violations(results, limits), [[0.0, 0.0], [0.5, 0.5], [0.75, 0.0]], rtol=1e-12
    )


def test_both_sides_of_one_limit_are_kept() -> None:
    results = columns(bore_ratio=[0.2, 0.3, 0.5, 0.75])
    limit = {"bore_ratio": Limit[float](min=0.25, max=0.5)}
    np.testing.assert_allclose(
        violations(results, limit)[:, 0], [0.2 / 1.2, 0.0, 0.0, 0.5 / 1.5], rtol=1e-12
    )


def test_any_design_with_an_operating_point_is_better_than_any_without() -> None:
    awful = columns(
        status=["matched", "no flow", "no flow", "bad geometry"],
        stress_margin=[-1e300, 9.0, 1.0, NAN],
        mass_flow=[1e300, NAN, NAN, NAN],
    )
    limits = {"stress_margin": Limit[float](min=1.5), "mass_flow": Limit[float](max=0.014)}
    total = violations(awful, limits).sum(axis=1)
    assert total[0] < total[1:].min()
    assert np.isfinite(total).all()
    assert (violations(awful, limits)[1:] >= 1).all()


def test_a_design_without_operating_point_is_graded_by_what_is_known() -> None:
    results = columns(
        status=["bad geometry"] * 4, bore_ratio=[0.7, 0.9, 1.5, NAN], mass_flow=[NAN] * 4
    )
    limits = with_standing({"mass_flow": Limit[float](max=0.014)})
    results |= {"nozzle_footprint": np.full(4, 0.5), "bore_wall": np.full(4, 5e-3)}
    results |= {"mouth_depth": np.full(4, 1e-3)}
    each = violations(results, limits)
    assert each[0, 1] < each[1, 1] < each[2, 1]
    assert np.isfinite(each).all()


def test_an_unknown_number_in_a_matched_design_misses_its_limit() -> None:
    each = violations(columns(runaway_ratio=[NAN, 1.0]), {"runaway_ratio": Limit[float](max=2.0)})
    np.testing.assert_array_equal(feasible(each), [False, True])
    assert each[0, 0] == 1


def test_infinity_past_a_bound_is_finite_and_inside_it_is_met() -> None:
    results = columns(safety_margin=[np.inf, -np.inf])
    each = violations(results, {"safety_margin": Limit[float](min=1.2)})
    assert each[0, 0] == 0
    assert 0.99 < each[1, 0] <= 1


def test_standing_limits_come_first_and_the_tighter_bound_holds() -> None:
    merged = with_standing(
        {
            "stress_margin": Limit[float](min=1.5),
            "bore_ratio": Limit[float](min=0.1, max=0.6),
            "bore_wall": Limit[float](min=0.5e-3),
        }
    )
    of_turbines = [key for key in STANDING if key in columns_of("turbine")]
    assert list(merged) == [*of_turbines, "stress_margin"]
    assert set(with_standing({}, "pump")) > set(with_standing({}, "pump")) & set(merged)
    assert (merged["bore_ratio"].min, merged["bore_ratio"].max) == (0.1, 0.6)
    assert merged["bore_wall"].min == STANDING["bore_wall"].min
    assert STANDING["bore_ratio"].max == 0.8


def test_the_limit_that_most_designs_miss_is_named_first() -> None:
    results = columns(
        status=["matched", "matched", "matched", "no flow"],
        stress_margin=[1.0, 1.0, 2.0, 2.0],
        mass_flow=[0.02, 0.01, 0.01, NAN],
        bore_ratio=[0.3, 0.3, 0.3, 0.3],
    )
    limits = {
        "bore_ratio": Limit[float](max=0.8),
        "mass_flow": Limit[float](max=0.014),
        "stress_margin": Limit[float](min=1.5),
    }
    met = count_met(results, violations(results, limits), limits)
    assert met == {"bore_ratio": 3, "mass_flow": 2, "stress_margin": 1}
    assert biting(met, int(matched(results).sum())) == ["stress_margin", "mass_flow"]


def test_a_limit_needs_a_known_column() -> None:
    with pytest.raises(KeyError, match="gap_hold"):
        violations(columns(bore_ratio=[0.3]), {"gap_hold": Limit[float](min=0.5)})
