"""Convergence and speed of the resolved gap, by hand: python -m pytest tests/bench -m bench."""

import sys
import time
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from engine.physics.gap_lanes import GRID, N_STEPS
from numpy.typing import NDArray

from engine.physics.fluid import FluidState
from engine.physics.gap_grid import half_gap
from engine.physics.gap_resolved import march

Lanes = NDArray[np.float64]
STEPS = (25, 50, 100, 200)
NODES = (6, 8, 10, 14, 20)


@dataclass(frozen=True)
class Air:
    """Ideal gas of constant heat capacity and viscosity."""

    mu: float = 1.8e-5

    def density(self, *, pressure: Lanes, enthalpy: Lanes) -> Lanes:
        return np.asarray(pressure * 1005 / (287.05 * enthalpy))

    def state(self, *, pressure: Lanes, enthalpy: Lanes) -> FluidState:
        density = self.density(pressure=pressure, enthalpy=enthalpy)
        viscosity = self.viscosity(pressure=pressure, enthalpy=enthalpy)
        sound = self.sound_speed(pressure=pressure, enthalpy=enthalpy)
        return FluidState(density, density / pressure, -density / enthalpy, viscosity, sound)

    def viscosity(self, *, pressure: Lanes, enthalpy: Lanes) -> Lanes:
        return np.asarray(self.mu + 0 * pressure * enthalpy)

    def sound_speed(self, *, pressure: Lanes, enthalpy: Lanes) -> Lanes:
        return np.sqrt(0.4 * enthalpy + 0 * pressure)


def lanes(*, n_lanes: int, turbulent: bool) -> dict[str, Any]:
    """Shop-air builds (150 mm rotor), or the same at a fifth of the speed and half the pressure."""
    random = np.random.default_rng(11)
    speed = random.uniform(1000, 3000, n_lanes) * (1 if turbulent else 0.2)
    gap = random.uniform(0.2e-3, 0.4e-3, n_lanes)
    re_star = random.uniform(0.7, 3, n_lanes)
    return {
        "fluid": Air(),
        "rim_pressure": random.uniform(1.5e5, 3.5e5, n_lanes) * (1 if turbulent else 0.5),
        "rim_enthalpy": 1005.0 * 290,
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


@pytest.mark.bench
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


@pytest.mark.bench
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


@pytest.mark.bench
@pytest.mark.parametrize("turbulent", [False, True])
@pytest.mark.parametrize("n_lanes", [1, 16, 64, 512])
def test_marches_per_second(
    capsys: pytest.CaptureFixture[str], n_lanes: int, turbulent: bool
) -> None:
    arguments = lanes(n_lanes=n_lanes, turbulent=turbulent)
    start = time.perf_counter()
    flow = march(**arguments)
    spent = time.perf_counter() - start
    title = f"{n_lanes} lanes, {GRID.n_nodes} nodes, {N_STEPS} steps, turbulent {turbulent}"
    backflow = int(np.sum(flow.backflow_share > 0))
    report(capsys, title, [f"{spent / n_lanes * 1e3:.2f} ms a lane, {backflow} with backflow"])
    assert flow.torque.size == n_lanes
