"""A lost load in the whole model: limits of the trip, and against an integration of its own."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from engine.columns import Results
from engine.model.evaluation import evaluate, with_runaway, with_trip, with_trip_decided
from engine.model.load_loss import TRIP_COLUMNS, SupplyState, survives_by_bound
from engine.study.study import Study
from engine.study.supply import source_of
from engine.study.values import Limit

RPM = 2 * np.pi / 60
MakeBuilds = Callable[..., dict[str, Any]]
NONE = {"trip_delay": 0.0, "valve_closing": 0.0, "hose_volume": 0.0}
SPEEDS = np.array([8_000, 12_000, 18_000]) * RPM


@pytest.fixture(scope="module")
def usual(shop_air: Study, builds: MakeBuilds) -> Results:
    return with_trip(shop_air, with_runaway(shop_air, evaluate(shop_air, builds(speed=SPEEDS))))


def tripped(study: Study, usual: Results, **changes: float) -> Results:
    """Results of the same builds with another shut-off."""
    return with_trip(study, usual | {key: np.full(3, value) for key, value in changes.items()})


def test_without_delay_closing_and_hose_the_peak_is_the_trip_factor(
    shop_air: Study, usual: Results
) -> None:
    found = tripped(shop_air, usual, **NONE)
    assert_allclose(found["peak_ratio"], 1.15, rtol=1e-9)
    assert_allclose(found["peak_time"], found["trip_time"], rtol=1e-9)


def test_a_trip_that_comes_too_late_lets_it_run_away(shop_air: Study, usual: Results) -> None:
    found = tripped(shop_air, usual, trip_delay=1e9)
    assert_allclose(found["peak_ratio"], usual["runaway_ratio"], rtol=1e-3)
    late = tripped(shop_air, usual, trip_factor=9.0)
    assert_allclose(late["peak_ratio"], usual["runaway_ratio"])
    assert np.isinf(late["trip_time"]).all()
    assert (late["survives_trip"] == usual["survives_load_loss"]).all()


def test_full_torque_during_a_delay_is_that_of_the_model_itself(
    shop_air: Study, usual: Results, builds: MakeBuilds
) -> None:
    """Delay only, so that nothing is blown down; scipy asks the model for torque at each step."""
    found = tripped(shop_air, usual, **{**NONE, "trip_delay": 1.0})
    inertia = 2 * usual["stored_energy"] / SPEEDS**2

    def gains(_: float, speed: Any) -> Any:
        return evaluate(shop_air, builds(speed=speed))["shaft_torque"] / inertia

    end = solve_ivp(gains, (0.0, 1.0), 1.15 * SPEEDS, rtol=1e-4, max_step=0.25).y[:, -1]
    assert_allclose(found["peak_ratio"], end / SPEEDS, rtol=1e-3)


def test_more_of_anything_makes_the_peak_higher_and_the_bound_is_above_it(
    shop_air: Study, usual: Results
) -> None:
    state = SupplyState.of(source_of(shop_air.supply), shop_air.supply.back_pressure, 3)
    for key, more in (("trip_delay", 0.5), ("valve_closing", 1.0), ("hose_volume", 2e-3)):
        found = tripped(shop_air, usual, **{key: more})
        assert (found["peak_ratio"] > usual["peak_ratio"]).all()
        assert (found["hose_allowed"] <= usual["hose_allowed"]).all()
        yes = survives_by_bound(found, state)[0] == 1
        assert (found["survives_trip"][yes] == 1).all()
    # a hose as large as is allowed ends below the first failure, and not far below
    firm = with_trip(shop_air, usual | {"safety_margin": np.full(3, 1.2)})
    just = with_trip(shop_air, firm | {"hose_volume": firm["hose_allowed"]})
    assert (just["peak_ratio"] <= 1.2).all()
    gained = (just["peak_ratio"] - 1.15) / (1.2 - 1.15)
    assert (gained > 0.25).all()


def test_a_limit_on_survival_alone_is_decided_like_the_trip_followed(
    shop_air: Study, usual: Results
) -> None:
    margins = usual["peak_ratio"] + np.array([-0.001, 0.001, 0.5])
    near = usual | {"safety_margin": margins}
    decided = with_trip_decided(shop_air, near)
    assert decided["survives_trip"].tolist() == [0, 1, 1]
    assert with_trip(shop_air, near)["survives_trip"].tolist() == [0, 1, 1]
    early = with_trip_decided(shop_air, usual | {"safety_margin": np.full(3, 1.1)})
    assert early["survives_trip"].tolist() == [0, 0, 0]


def test_the_columns_are_filled_only_where_a_limit_names_them(
    shop_air: Study, builds: MakeBuilds, usual: Results
) -> None:
    assert np.isnan(evaluate(shop_air, builds())["peak_ratio"]).all()
    limited = shop_air.model_copy(update={"limits": {"peak_ratio": Limit[float](max=1.3)}})
    found = evaluate(limited, builds(speed=SPEEDS))
    for key in TRIP_COLUMNS:
        assert_allclose(found[key], usual[key], rtol=1e-9)


def test_a_build_that_does_not_drive_its_shaft_has_no_trip(
    shop_air: Study, builds: MakeBuilds
) -> None:
    start = evaluate(shop_air, builds(speed=np.array([90_000, 15_000]) * RPM))
    assert not start["shaft_torque"][0] > 0
    found = with_trip(shop_air, start)
    for key in TRIP_COLUMNS:
        assert np.isfinite(found[key]).tolist() == [False, True], key


def test_start_and_trip_take_as_long_as_their_torque_says(usual: Results) -> None:
    """Between the torque at the ends: it falls with speed, and the trip is not far."""
    inertia = 2 * usual["stored_energy"] / SPEEDS**2
    least = inertia * 0.15 * SPEEDS / usual["shaft_torque"]
    assert (least < usual["trip_time"]).all()
    assert (usual["trip_time"] < 1.5 * least).all()
    assert (usual["start_time"] < inertia * SPEEDS / usual["shaft_torque"]).all()
