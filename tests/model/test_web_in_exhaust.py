"""The spokes in the exhaust, in whole builds: what they take, and that nothing is lost."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.columns import LOSSES
from engine.model.evaluation import evaluate
from engine.model.hose import matched_circuit
from engine.model.second_law import ROUNDING
from engine.model.validity import RUNNER
from engine.physics.arrays import Reason
from engine.physics.flow.match import Level
from engine.study.study import Study
from tests.support.wild import SUPPLIES, study_on, wild_builds

Columns = dict[str, NDArray[Any]]
N_LANES = {"averaged": 24, "resolved": 12}


@pytest.fixture(scope="module", params=["air", "wet steam", "R245fa", "water"])
def lanes(request: pytest.FixtureRequest) -> tuple[Study, Level, Columns]:
    """Builds of a fluid; those in air and water are followed across the gap."""
    level: Level = "resolved" if request.param in ("air", "water") else "averaged"
    lanes = wild_builds(request.param, N_LANES[level], 5, wild=False)
    lanes["spokes"] = np.resize([3, 6, 12], N_LANES[level])
    return study_on(SUPPLIES[request.param]), level, lanes


def test_energy_closes_and_no_loss_is_a_gain(lanes: tuple[Study, Level, Columns]) -> None:
    study, level, given = lanes
    found = evaluate(study, given | {"gap_flow": np.full(N_LANES[level], level)})
    some = found["status"] == "matched"
    assert some.mean() > 0.4
    whole = found["isentropic_power"][some]
    assert_allclose(found["loss_balance"][some] / whole, 0.0, atol=1e-12)
    for key in LOSSES:
        assert np.all(found[key][some] >= -ROUNDING * whole), key


def test_spokes_take_the_angular_momentum_that_the_exhaust_loses(
    lanes: tuple[Study, Level, Columns],
) -> None:
    _, circuit, flow, status = matched_circuit(lanes[0], lanes[2], lanes[1])
    some = status == Reason.MATCHED
    square = (circuit.bore_radius**2 + circuit.hub_radius**2) / 2
    brought = circuit.bore_radius * flow.gap.exit_swirl
    left = np.sqrt(square) * flow.outlet_swirl
    assert_allclose((left + flow.web_torque / flow.rotor_flow)[some], brought[some], rtol=1e-12)
    # Faster fluid drives, slower fluid brakes, by 1 - 1 / (2 spokes) of the difference.
    ahead = brought - circuit.angular_speed * square
    share = 1 - 1 / (2 * circuit.spokes)
    assert_allclose((brought - left)[some], (share * ahead)[some], rtol=1e-9)


def test_a_build_whose_spokes_work_more_than_its_discs_is_noted() -> None:
    # Rings so narrow, and gaps so wide, that water keeps most of its swirl up to the bore.
    lanes: Columns = {
        "disc_count": np.array([36, 36]),
        "disc_diameter": np.array([0.15, 0.15]),
        "gap": np.array([1e-3, 3e-3]),
        "inlet_angle": np.radians([10.0, 10.0]),
        "exhaust_bore": np.array([0.06, 0.12]),
        "speed": np.array([60.0, 84.0]),
        "nozzle_width": np.array([2e-3, 8e-3]),
        "spokes": np.array([3, 12]),
    }
    found = evaluate(study_on(SUPPLIES["water"]), lanes)
    assert list(found["status"]) == ["matched", "matched"]
    assert [RUNNER in note for note in found["validity"]] == [False, True]
    assert found["web_power"][1] > 0.45 * found["rotor_power"][1]


def test_an_exhaust_without_walls_takes_nothing_and_its_core_costs_power(
    lanes: tuple[Study, Level, Columns],
) -> None:
    study, _, given = lanes
    few = {key: values[:8] for key, values in given.items()}
    none, one = np.zeros(8), np.ones(8)
    empty, core = (
        evaluate(study, few | {"web_factor": none, "core_factor": factor}) for factor in (none, one)
    )
    both = (empty["status"] == "matched") & (core["status"] == "matched")
    assert both.any()
    assert np.all(empty["web_power"][both] == 0)
    assert np.all(empty["exhaust_fill"][both] == 1)
    assert np.all(core["exhaust_fill"][both] <= 1)
    assert np.all(core["gap_exit_pressure"][both] >= empty["gap_exit_pressure"][both])
