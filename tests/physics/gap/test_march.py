"""Jacobian and linear solver of the march at the resolved level."""

import numpy as np
import pytest

from engine.fluids.by_name import gas
from engine.physics.gap.elimination_kernel import factorise, substitute
from engine.physics.gap.resolved import across_of
from engine.physics.gap.resolved_grid import half_gap
from engine.physics.gap.resolved_step_kernel import (
    AHEAD_FLUX,
    AHEAD_SWIRL,
    OLD_ANGULAR,
    OLD_FLUX,
    OLD_MOMENTUM,
    REVERSE,
    Behind,
    Rim,
    Step,
    equations,
    gap_reynolds,
    room_for,
    slopes,
)

ACROSS = across_of(grid=half_gap(n_nodes=8, stretch=1.5))


@pytest.mark.parametrize(
    ("radial_speed", "plug", "drag", "is_turbulent"),
    [(20.0, 2.0, 8.0, False), (30.0, 5.0, 6.0, True), (30.0, 5.0, 0.1, True)],
)
def test_jacobian_is_the_difference_quotient_of_the_residual(
    radial_speed: float, plug: float, drag: float, is_turbulent: bool
) -> None:
    n, record = ACROSS.weights.size, gas("air").record
    random = np.random.default_rng(4)
    rim = Rim(
        pressure=2e5,
        enthalpy=4e5,
        density=2.4,
        radial_speed=radial_speed,
        spin=3.0,
        plug=plug,
        radius=0.08,
        span=0.6,
        gap=4e-4,
    )
    nodes = 1 - ACROSS.wall_distance[1:]
    shape = 1.4 * (1 - nodes**4) * random.uniform(0.9, 1.1, n)
    state = np.concatenate(
        [shape, 2 * plug * shape, [5.0, 0.9, rim.pressure, rim.enthalpy, 0.0, drag, 0.8]]
    )
    step = Step(0.8, 40.0, drag, -50.0, Behind(density=37.0, pressure=7.8e6, braking=1.0))
    room = room_for(n)
    carried = {
        OLD_FLUX: 39 * shape,
        OLD_MOMENTUM: 38 * shape**2,
        OLD_ANGULAR: 38 * shape**2,
        REVERSE: (random.random(n) < 0.5) * 1.0,
        AHEAD_FLUX: 45 * shape,
        AHEAD_SWIRL: 44 * shape,
    }
    for row, values in carried.items():
        room.nodes[row, :n] = values
    assert (gap_reynolds(rim, ACROSS, state) > 2300) == is_turbulent
    assert 0 < room.nodes[REVERSE].sum() < n

    def residual(at: np.ndarray) -> np.ndarray:
        equations(record, rim, ACROSS, step, at, room)
        return room.residual.copy()

    residual(state)
    slopes(record, rim, ACROSS, step, state, room)
    jacobian = room.matrix.copy()
    scale = np.abs(jacobian).max(axis=1)
    for j in range(2 * n + 2):
        ends = []
        for sign in (-1, 1):
            moved = state.copy()
            moved[j] += sign * 1e-6
            ends.append(residual(moved))
        quotient = (ends[1] - ends[0]) / 2e-6
        np.testing.assert_allclose(quotient / scale, jacobian[:, j] / scale, atol=1e-6)


def test_elimination_agrees_with_lapack() -> None:
    random = np.random.default_rng(8)
    matrix, values = random.normal(size=(30, 30)), random.normal(size=30)
    matrix[0, 0] = 0.0  # needs pivoting
    expected = np.linalg.solve(matrix, values)
    order = np.zeros(30)
    assert factorise(matrix, order)
    substitute(matrix, order, values)
    np.testing.assert_allclose(values, expected, rtol=1e-9)


@pytest.mark.parametrize("wrong", [0.0, np.nan, np.inf])
def test_a_singular_matrix_is_reported(wrong: float) -> None:
    assert not factorise(np.full((3, 3), wrong), np.zeros(3))
