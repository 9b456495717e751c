"""The linear algebra below the resolved march."""

from typing import Any

import numpy as np
from engine.physics.gap_state import Rim, State, gap_reynolds

from engine.physics import gap_march
from engine.physics.fluid import FluidState
from engine.physics.gap_grid import half_gap


class Vapour:
    """Made-up smooth properties that depend on both pressure and enthalpy."""

    def density(self, *, pressure: Any, enthalpy: Any) -> Any:
        return 2 * (pressure / 1e5) ** 0.9 * (3e5 / enthalpy) ** 1.2

    def state(self, *, pressure: Any, enthalpy: Any) -> FluidState:
        density = self.density(pressure=pressure, enthalpy=enthalpy)
        none = np.full_like(density, np.nan)
        return FluidState(density, 0.9 * density / pressure, -1.2 * density / enthalpy, none, none)

    def viscosity(self, *, pressure: Any, enthalpy: Any) -> Any:
        return 1.5e-5 + 0 * pressure * enthalpy

    def sound_speed(self, *, pressure: Any, enthalpy: Any) -> Any:
        return 340.0 + 0 * pressure * enthalpy


def unknowns(state: State) -> Any:
    return np.hstack([state.flux, state.swirl, state.forcing, state.density])


def test_jacobian_is_the_difference_quotient_of_the_residual() -> None:
    grid, fluid = half_gap(n_nodes=8, stretch=1.5), Vapour()
    n_lanes, n = 3, grid.n_nodes
    random = np.random.default_rng(4)
    column = np.ones((n_lanes, 1))
    rim = Rim(
        pressure=1e5 * column,
        enthalpy=3e5 * column,
        density=2 * column,
        radial_speed=column * [[20.0], [30.0], [5.0]],
        spin=3 * column,
        plug=column * [[2.0], [5.0], [0.5]],
        radius=0.08 * column,
        span=0.6 * column,
        gap=4e-4 * column,
    )
    shape = 1.4 * (1 - grid.nodes[1:] ** 4) * random.uniform(0.9, 1.1, (n_lanes, n))
    state = State(
        flux=shape,
        swirl=2 * rim.plug * shape,
        forcing=5 * column,
        density=0.9 * column,
        pressure=rim.pressure,
        enthalpy=rim.enthalpy,
        braking=0 * column,
        drag=column * [[0.2], [0.1], [2.0]],
        ratio=0.8 * column,
    )
    step = gap_march._Step(
        ratio=state.ratio,
        rate=40 * column,
        drag=state.drag,
        old=gap_march._Carried(
            flux=39 * shape,
            momentum=38 * shape**2,
            angular=38 * shape**2,
            density=37 * column,
            pressure=3.9e6 * column,
            braking=column,
        ),
        ahead=gap_march._Ahead(
            reverse=random.random((n_lanes, n)) < 0.3,
            rate=-50 * column,
            flux=45 * shape,
            swirl=44 * shape,
        ),
    )
    common: dict[str, Any] = {"rim": rim, "fluid": fluid, "grid": grid, "step": step}
    reynolds = gap_reynolds(rim=rim, grid=grid, state=state)
    assert reynolds.min() < 2300 < reynolds.max()
    _, jacobian = gap_march._equations(**common, state=state)
    point = unknowns(state)
    for j in range(point.shape[1]):
        ends = []
        for sign in (-1, 1):
            moved = point.copy()
            moved[:, j] += sign * 1e-6
            changed = state._replace(
                flux=moved[:, :n],
                swirl=moved[:, n:-2],
                forcing=moved[:, -2:-1],
                density=moved[:, -1:],
            )
            ends.append(gap_march._equations(**common, state=changed)[0])
        quotient = (ends[1] - ends[0]) / 2e-6
        scale = np.abs(jacobian).max(axis=2)
        np.testing.assert_allclose(quotient / scale, jacobian[:, :, j] / scale, atol=1e-6)


def test_a_singular_lane_is_lost_alone() -> None:
    matrices = np.stack([np.eye(3), np.zeros((3, 3)), 2 * np.eye(3)])
    change = gap_march._solve(matrices, np.ones((3, 3)))
    np.testing.assert_array_equal(change[:, 0], [1, np.nan, 0.5])
