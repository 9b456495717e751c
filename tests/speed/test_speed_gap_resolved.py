"""Convergence and speed of the resolved gap, by hand: python -m pytest tests/speed -m speed."""

import sys
import time
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.model.evaluation import evaluate, with_recheck
from engine.model.limits import feasible, violations, with_standing
from engine.physics.gap.resolved import GRID, N_STEPS, march
from engine.physics.gap.resolved_grid import half_gap
from engine.search.front import merits, ranks
from engine.search.space import Space
from engine.study.reader import read_study

Lanes = NDArray[np.float64]
STEPS = (25, 50, 100, 200)
NODES = (6, 8, 10, 14, 20)
AIR = gas("air")


def lanes(*, n_lanes: int, turbulent: bool) -> dict[str, Any]:
    """Shop-air builds (150 mm rotor), or the same at a fifth of the speed and half the pressure."""
    random = np.random.default_rng(11)
    speed = random.uniform(1000, 3000, n_lanes) * (1 if turbulent else 0.2)
    gap = random.uniform(0.2e-3, 0.4e-3, n_lanes)
    re_star = random.uniform(0.7, 3, n_lanes)
    return {
        "fluid": AIR,
        "rim_pressure": random.uniform(1.5e5, 3.5e5, n_lanes) * (1 if turbulent else 0.5),
        "rim_enthalpy": float(AIR.enthalpy(pressure=2e5, temperature=290.0)),
        "rim_swirl": np.minimum(speed * 0.075 * random.uniform(1.05, 1.5, n_lanes), 320),
        "mass_flow": re_star * 1.8e-5 * 2 * np.pi * 0.075**2 / gap,
        "gap": gap,
        "rim_radius": 0.075,
        "bore_radius": 0.03,
        "angular_speed": speed,
    }


def errors(arguments: dict[str, Any], variants: list[dict[str, Any]], best: Any) -> Lanes:
    """Mean relative error of torque and pressure drop, (variant, 2), lanes without backflow."""
    exact = march(**arguments, **best)
    use = exact.settled & (exact.backflow_share == 0)
    assert use.sum() > 0.5 * use.size
    table = []
    for variant in variants:
        flow = march(**arguments, **variant)
        torque = np.abs(flow.torque / exact.torque - 1)
        fall = arguments["rim_pressure"] - flow.exit_pressure
        pressure = np.abs(fall / (arguments["rim_pressure"] - exact.exit_pressure) - 1)
        table.append([torque[use].mean(), pressure[use].mean()])
    return np.array(table)


def report(capsys: pytest.CaptureFixture[str], title: str, rows: list[str]) -> None:
    with capsys.disabled():
        sys.stdout.write("\n".join(["", title, *rows, ""]))


@pytest.mark.speed
@pytest.mark.parametrize("turbulent", [False, True])
def test_step_convergence(capsys: pytest.CaptureFixture[str], turbulent: bool) -> None:
    best = {"n_steps": 1200}
    found = errors(lanes(n_lanes=24, turbulent=turbulent), [{"n_steps": n} for n in STEPS], best)
    order = np.log2(found[:-1] / found[1:])
    rows = ["steps  torque     order  pressure   order"]
    for n, error, slope in zip(STEPS, found, [(np.nan, np.nan), *order], strict=True):
        rows.append(f"{n:5d}  {error[0]:.2e}  {slope[0]:5.2f}  {error[1]:.2e}  {slope[1]:5.2f}")
    report(capsys, f"Steps from rim to bore, turbulent {turbulent}", rows)
    assert np.all(order[:2].mean(axis=0) > 1.8)


@pytest.mark.speed
@pytest.mark.parametrize("turbulent", [False, True])
def test_node_convergence(capsys: pytest.CaptureFixture[str], turbulent: bool) -> None:
    grids = [{"grid": half_gap(n_nodes=n, stretch=1.75)} for n in NODES]
    found = errors(
        lanes(n_lanes=24, turbulent=turbulent), grids, {"grid": half_gap(n_nodes=36, stretch=1.75)}
    )
    rows = ["nodes  torque    pressure"]
    rows += [f"{n:5d}  {e[0]:.2e}  {e[1]:.2e}" for n, e in zip(NODES, found, strict=True)]
    report(capsys, f"Nodes across the half gap, turbulent {turbulent}", rows)
    assert np.all(found[-1] < 1e-3)


@pytest.mark.speed
@pytest.mark.parametrize("turbulent", [False, True])
@pytest.mark.parametrize("n_lanes", [1, 16, 64, 512])
def test_marches_per_second(
    capsys: pytest.CaptureFixture[str], n_lanes: int, turbulent: bool
) -> None:
    arguments = lanes(n_lanes=n_lanes, turbulent=turbulent)
    march(**lanes(n_lanes=1, turbulent=turbulent))  # compiles
    start = time.perf_counter()
    flow = march(**arguments)
    spent = time.perf_counter() - start
    title = f"{n_lanes} lanes, {GRID.n_nodes} nodes, {N_STEPS} steps, turbulent {turbulent}"
    backflow = int(np.sum(flow.backflow_share > 0))
    report(capsys, title, [f"{spent / n_lanes * 1e3:.2f} ms a lane, {backflow} with backflow"])
    assert flow.torque.size == n_lanes


@pytest.mark.speed
@pytest.mark.parametrize("threads", ["1", "2"])
def test_matched_points_per_second(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, threads: str
) -> None:
    """Builds at and near the front of the bundled study, as its end or a refinement has them."""
    monkeypatch.setenv("SWIRLSTACK_THREADS", threads)
    study = read_study("studies/lane-workshop.yaml")
    space = Space.of(study)
    seen = evaluate(study, space.builds(space.sample(20_000, np.random.default_rng(5))))
    good = feasible(violations(seen, with_standing(study.all_limits)))
    few = {key: values[good] for key, values in seen.items()}
    nearest = np.argsort(ranks(merits(few, study.aims)), kind="stable")[:300]
    chosen = {key: values[nearest] for key, values in few.items()}
    with_recheck(study, {key: values[:2] for key, values in chosen.items()})  # compiles
    start, used = time.perf_counter(), time.process_time()
    found = with_recheck(study, chosen)
    spent, used = time.perf_counter() - start, time.process_time() - used
    n = len(found["speed"])
    share = np.isfinite(found["resolved_power"]).mean()
    rows = [f"{n / spent:.0f} matched points a second, {used / n * 1e3:.2f} ms of a core each"]
    rows += [f"{share:.1%} settled; {np.mean(found['backflow_share'] > 0):.0%} with backflow"]
    report(capsys, f"Matching at the resolved level, {n} builds, {threads} threads", rows)
    assert n >= 100
    assert share > 0.8
