"""No machine gives more than the fluid holds, wherever a search may look."""

import numpy as np
import pytest

from engine.columns import LOSSES
from engine.model.evaluation import evaluate
from engine.model.limits import STATUS_MEANING
from engine.model.second_law import breaks_second_law
from tests.support.wild import SUPPLIES, Columns, study_on, wild_builds

EACH = 1500
"""Builds of each fluid and range in a usual test: some 20,000 together."""


def check(name: str, n_builds: int, *, wild: bool, level: str = "averaged") -> Columns:
    """Evaluate builds and hold those with an operating point to the second law, written out."""
    builds = wild_builds(name, n_builds, 3, wild=wild)
    results = evaluate(study_on(SUPPLIES[name]), builds | {"gap_flow": np.full(n_builds, level)})
    lanes = {key: values[results["status"] == "matched"] for key, values in results.items()}
    whole = lanes["isentropic_power"]
    assert np.isfinite(whole).all()
    assert (whole > 0).all()
    for key in LOSSES:
        assert (lanes[key] >= -1e-9 * whole).all(), key
    assert (lanes["electric_power"] <= whole).all()
    assert (lanes["turbine_efficiency"] <= 1).all()
    assert (lanes["rotor_power"] <= whole).all()
    driven = lanes["rotor_power"] > 0
    assert not (lanes["rotor_efficiency"][driven] > 1).any()
    assert set(results["status"]) <= {"matched", *STATUS_MEANING}
    return results


@pytest.mark.parametrize("wild", [False, True], ids=["plausible", "wild"])
@pytest.mark.parametrize("name", SUPPLIES)
def test_no_averaged_lane_breaks_the_second_law(name: str, wild: bool) -> None:
    results = check(name, EACH, wild=wild)
    matched = (results["status"] == "matched").mean()
    assert matched > (0.4 if wild else 0.5)
    # The gate is for what is left: gaps of 20 to 30 Ekman layers beyond the range of validity, at
    # most 6 of 1,500.
    assert (results["status"] == "breaks second law").mean() <= 0.004


@pytest.mark.parametrize("name", SUPPLIES)
def test_no_resolved_lane_breaks_the_second_law(name: str) -> None:
    results = check(name, 72, wild=True, level="resolved")
    assert (results["status"] == "matched").sum() > 20


@pytest.mark.speed
@pytest.mark.parametrize("level", ["averaged", "resolved"])
def test_no_lane_of_very_many_breaks_the_second_law(level: str) -> None:
    """By hand: 200,000 builds at the averaged level, 20,000 at the resolved one."""
    each = (200_000 if level == "averaged" else 20_000) // (2 * len(SUPPLIES))
    for name in SUPPLIES:
        for wild in (False, True):
            check(name, each, wild=wild, level=level)


def test_the_gate_marks_each_kind_of_impossible_lane() -> None:
    kinds = ["sound", "negative", "no number", "turbine", "rotor", "backward", "pump"]
    n = len(kinds)
    numbers = {key: np.full(n, 5.0) for key in LOSSES} | {
        "isentropic_power": np.full(n, 100.0),
        "rotor_power": np.where(np.array(kinds) == "pump", -20.0, 50.0),
        "turbine_efficiency": np.full(n, 0.4),
        "rotor_efficiency": np.full(n, 0.5),
    }
    numbers["loss_gap"] = np.array([5.0, -1e-6, 5.0, 5.0, 5.0, 5.0, 5.0])
    numbers["loss_entry"] = np.array([-1e-8, 5.0, np.nan, 5.0, 5.0, 5.0, 5.0])
    numbers["turbine_efficiency"][3] = 1.01
    # A pump's work may be more than the fluid gains.
    numbers["rotor_efficiency"][[4, 6]] = 1.2
    out = np.array([10.0, 10.0, 10.0, 10.0, 10.0, -1.0, 10.0])
    found = breaks_second_law(numbers, swirl_in=np.full(n, 100.0), swirl_out=out)
    assert found.tolist() == [False, True, True, True, True, True, False]
