"""Both levels of the gap flow tell the same builds from those that have no operating point.

Most at risk are builds whose fluid enters more slowly than the discs turn, in gaps wider than the
layers on the discs: those layers throw part of the fluid back out at the rim.
"""

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.model.evaluation import evaluate
from engine.model.hose import matched_circuit
from engine.model.validity import AVERAGED
from engine.physics.arrays import Reason
from engine.physics.flow.match import Circuit, flow_at_rim_pressure
from engine.physics.gap import averaged, resolved
from engine.search.space import Space
from engine.study.reader import read_study
from engine.study.study import Study
from tests.support.places import STUDIES

Columns = dict[str, NDArray[Any]]
NAMES = ("lane-workshop", "orchard-boiler", "greenhouse-vapour", "mill-race")
WIDE = 3.0
"""Ekman parameter from which the layers at the two discs are apart."""
TRIED = np.array([0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.97])
"""Rim pressures at which a march is tried: over supply pressure, each less the back pressure."""


def drawn(name: str, n_builds: int) -> tuple[Study, Columns]:
    study = read_study(STUDIES / f"{name}.yaml")
    space = Space.of(study)
    return study, space.builds(space.draw(n_builds, np.random.default_rng(7)))


def slow_builds(name: str, n_drawn: int, n_taken: int) -> tuple[Study, Columns, Columns]:
    """Builds matched at the averaged level whose discs outrun the fluid, and their results."""
    study, builds = drawn(name, n_drawn)
    results = evaluate(study, builds)
    slow = (results["status"] == "matched") & (results["rim_swirl_ratio"] < 1)
    lanes = np.flatnonzero(slow & (results["ekman_number"] > WIDE))[:n_taken]
    assert lanes.size == n_taken
    return study, taken(builds, lanes), taken(results, lanes)


def taken(columns: Columns, lanes: NDArray[np.intp]) -> Columns:
    return {key: values[lanes] for key, values in columns.items()}


def repeated(circuit: Circuit, lanes: NDArray[np.intp], times: int) -> Circuit:
    """Some lanes of a circuit, each several times."""

    def rows(values: object) -> Any:
        return np.repeat(np.asarray(values, dtype=float)[lanes], times)

    n = circuit.gap.size
    wide = {f.name: np.broadcast_to(getattr(circuit, f.name), n) for f in fields(Circuit)[1:]}
    nozzle = {f.name: getattr(circuit.nozzle, f.name) for f in fields(circuit.nozzle)}
    nozzle = {key: rows(np.broadcast_to(values, n)) for key, values in nozzle.items()}
    return replace(
        circuit,
        nozzle=replace(circuit.nozzle, **nozzle),
        **{key: rows(values) for key, values in wide.items()},
    )


def agreement(name: str, n_drawn: int, n_taken: int) -> tuple[float, NDArray[np.float64]]:
    """Share of slow builds that the resolved level matches too, and how far their powers differ.

    The latter over isentropic power.
    """
    study, builds, fast = slow_builds(name, n_drawn, n_taken)
    fine = evaluate(study, builds | {"gap_flow": np.full(n_taken, "resolved")})
    # Never does the resolved level say that such a build pumps against the supply.
    assert not (fine["status"] == "no flow").any()
    same = fine["status"] == "matched"
    moves = (fast["electric_power"] - fine["electric_power"]) / fast["isentropic_power"]
    return float(same.mean()), np.abs(moves[same])


def shown_to_pump(name: str, n_drawn: int, n_most: int) -> tuple[int, float]:
    """Builds without inward flow, tried at many rim pressures; the share that can be followed.

    Where a resolved march settles it leaves too little pressure, as the averaged one does at every
    rim pressure.
    """
    study, builds = drawn(name, n_drawn)
    fluid, circuit, _, status = matched_circuit(study, builds, "averaged")
    lanes = np.flatnonzero(status == Reason.NO_FLOW)[:n_most]
    many = repeated(circuit, lanes, TRIED.size)
    whole = many.nozzle.stagnation_pressure - many.back_pressure
    tried: dict[str, Any] = {
        "fluid": fluid,
        "circuit": many,
        "rim_pressure": many.back_pressure + np.tile(TRIED, lanes.size) * whole,
    }
    fast = flow_at_rim_pressure(**tried, march=averaged.march)
    fine = flow_at_rim_pressure(**tried, march=resolved.march)
    followed = fine.gap.settled.reshape(-1, TRIED.size)
    assert (fast.mismatch < 0).all()
    assert (fine.mismatch[fine.gap.settled] < 0).all()
    return lanes.size, float(followed.any(axis=1).mean())


@pytest.mark.parametrize("name", ["lane-workshop", "mill-race"])
def test_fluid_slower_than_the_discs_has_the_same_operating_point_at_both_levels(name: str) -> None:
    share, moves = agreement(name, 2000, 30)
    assert share >= 0.6
    assert np.median(moves) < 3e-3


def test_what_pumps_against_the_supply_has_no_operating_point_at_the_resolved_level() -> None:
    n_lanes, followed = shown_to_pump("mill-race", 200, 6)
    assert n_lanes == 6
    assert followed > 0.3


@pytest.mark.speed
@pytest.mark.parametrize("name", NAMES)
def test_levels_agree_on_two_hundred_builds(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: python -m pytest tests/model/test_both_levels.py -m speed -s."""
    share, moves = agreement(name, 20_000, 200)
    lanes, followed = shown_to_pump(name, 20_000, 200)
    with capsys.disabled():
        spread = np.percentile(moves, [50, 90, 100])
        print(f"\n{name}: {share:.1%} of 200 slow builds matched at both levels; power differs by")  # noqa: T201
        print(f"  {spread} of the isentropic power (50, 90, 100 of 100)")  # noqa: T201
        print(f"  {lanes} builds without inward flow, {followed:.1%} followed when resolved")  # noqa: T201
    assert share >= 0.6


def test_a_finer_mesh_finds_what_the_usual_one_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    study = read_study(STUDIES / "lane-workshop.yaml")
    space = Space.of(study)
    builds = space.builds(space.draw(1000, np.random.default_rng(3)))
    lanes = np.array([188, 432, 631, 972])
    few = taken(builds, lanes) | {"gap_flow": np.full(lanes.size, "resolved")}
    finer = evaluate(study, few)
    assert (finer["status"] == "matched").sum() >= 3
    fast = evaluate(study, taken(builds, lanes))["electric_power"]
    both = finer["status"] == "matched"
    np.testing.assert_allclose(finer["electric_power"][both], fast[both], rtol=5e-2)
    monkeypatch.setattr(resolved, "FINER_GRID", resolved.GRID)
    monkeypatch.setattr(resolved, "FINER_STEPS", resolved.N_STEPS)
    usual = evaluate(study, few)
    assert (usual["status"] == "matched").sum() < both.sum()


def test_gaps_that_are_turbulent_throughout_are_not_too_wide_by_a_last_digit() -> None:
    # The share is added up along the radius, and is no last digit above 1.
    study = read_study(STUDIES / "orchard-boiler.yaml")
    space = Space.of(study)
    found = evaluate(study, space.builds(space.sample(600, np.random.default_rng(1))))
    whole = found["turbulent_share"] > 1 - 1e-12
    assert whole.sum() > 5
    assert found["turbulent_share"][whole].max() <= 1
    valid = (found["gap_reynolds"] <= 1e5) & (found["rim_swirl_ratio"] >= 1)
    faster = found["ekman_number"] * np.sqrt(np.maximum(found["rim_swirl_ratio"], 1))
    checked = whole & valid & (faster < 13.9)
    assert checked.any()
    assert not any(AVERAGED in note for note in found["validity"][checked])
