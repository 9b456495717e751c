"""The resolved level of the gap flow, through the whole model."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.model.evaluation import evaluate, with_recheck
from engine.model.validity import AVERAGED, DIFFERS, UNSETTLED, rechecked
from engine.study.reader import read_study
from engine.study.study import Study
from tests.support.places import STUDIES

Columns = dict[str, NDArray[Any]]
MakeBuilds = Callable[..., Columns]

STUDY = STUDIES / "lane-workshop.yaml"
SPEEDS = np.array([6_000, 10_000, 14_000, 18_000.0]) * np.pi / 30


@pytest.fixture(scope="module")
def seen(shop_air: Study, builds: MakeBuilds) -> Columns:
    return evaluate(shop_air, builds(speed=SPEEDS, gap=0.3e-3))


@pytest.fixture(scope="module")
def resolved_study(shop_air: Study) -> Study:
    search = shop_air.search.model_copy(update={"flow": "resolved"})
    return shop_air.model_copy(update={"search": search})


def test_both_levels_agree_on_small_shop_air_builds(shop_air: Study, seen: Columns) -> None:
    # Two independent solutions of one flow: modes with friction laws, and boundary-layer equations
    # with an eddy viscosity. The page notes differences above 5 %.
    found = with_recheck(shop_air, seen)
    assert (found["status"] == "matched").all()
    assert_allclose(found["resolved_power"], found["electric_power"], rtol=0.05)
    assert_allclose(
        found["resolved_difference"], found["resolved_power"] / found["electric_power"] - 1
    )
    assert ((found["backflow_share"] >= 0) & (found["backflow_share"] <= 1)).all()


def test_a_study_may_ask_for_the_resolved_level_in_its_search(
    shop_air: Study, resolved_study: Study, builds: MakeBuilds, seen: Columns
) -> None:
    asked = evaluate(resolved_study, builds(speed=SPEEDS, gap=0.3e-3))
    assert_allclose(
        asked["electric_power"], with_recheck(shop_air, seen)["resolved_power"], rtol=1e-12
    )
    assert_allclose(with_recheck(resolved_study, asked)["resolved_difference"], 0.0)
    # Losses and electric power add up to the isentropic power, as at the averaged level.
    assert_allclose(asked["loss_balance"], 0.0, atol=1e-9)
    losses = sum(asked[key] for key in asked if key.startswith("loss_"))
    assert_allclose(losses + asked["electric_power"], asked["isentropic_power"], rtol=1e-12)
    for key in ("loss_gap", "loss_leaving", "loss_leakage"):
        assert (asked[key] > 0).all(), key


def test_a_lane_without_operating_point_has_none_resolved_either(
    shop_air: Study, builds: MakeBuilds
) -> None:
    speed = np.array([10_000, 120_000.0]) * np.pi / 30
    found = with_recheck(shop_air, evaluate(shop_air, builds(speed=speed)))
    assert found["status"][0] == "matched" != found["status"][1]
    assert np.isfinite(found["resolved_power"]).tolist() == [True, False]
    assert found["validity"][1] == ""


def test_wall_friction_is_noted_beyond_the_speed_of_sound(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    found = evaluate(shop_air, random_builds(2000, 3))
    matched = found["status"] == "matched"
    fast = matched & (found["gap_mach"] > 1)
    noted = np.strings.find(found["validity"], "wall friction of the gaps") >= 0
    assert fast.any()
    assert (noted == fast).all()


def test_the_note_on_gap_flow_follows_the_recheck() -> None:
    notes = np.array(
        [AVERAGED, f"end-face drag; {AVERAGED}; plate modes", "", AVERAGED, "plate modes"]
    )
    difference = np.array([0.01, 0.2, -0.06, np.nan, 0.0])
    assert rechecked(notes, difference).tolist() == [
        "",
        f"end-face drag; plate modes; {DIFFERS}",
        DIFFERS,
        UNSETTLED,
        "plate modes",
    ]


def test_slow_wide_gaps_with_backflow_settle() -> None:
    # Few discs, wide gaps, low speed: a tiny change of pressure reverses the flow at a node.
    study = read_study(STUDY)
    speed, bore = np.meshgrid(np.arange(4000, 6600, 500) * np.pi / 30, [0.086, 0.088])
    builds = {
        "disc_count": np.full(speed.size, 8.0),
        "disc_diameter": np.full(speed.size, 0.13),
        "gap": np.full(speed.size, 0.5e-3),
        "inlet_angle": np.full(speed.size, np.radians(6)),
        "exhaust_bore": bore.ravel(),
        "speed": speed.ravel(),
        "nozzle_width": np.full(speed.size, 0.5e-3),
        "nozzle_count": np.full(speed.size, 2),
        "rim_clearance": np.full(speed.size, 0.5e-3),
        "disc_thickness": np.full(speed.size, 0.5e-3),
        "spokes": np.full(speed.size, 3),
        "process": np.full(speed.size, "laser-cut"),
    }
    found = with_recheck(study, evaluate(study, builds))
    assert (found["backflow_share"] > 0).all()
    assert np.isfinite(found["resolved_power"]).all()
    assert not any(UNSETTLED in words for words in found["validity"])
