"""Jacobian and linear solver of the march at the resolved level."""

import numpy as np
import pytest

from engine.fluids.by_name import gas
from engine.physics.compiled import QUAD
from engine.physics.gap import elimination_kernel, resolved_room_kernel, resolved_step_kernel
from engine.physics.gap import resolved_change_kernel as change_kernel
from engine.physics.gap import resolved_pull_kernel as pull_kernel
from engine.physics.gap import resolved_sweep_kernel as sweep_kernel
from engine.physics.gap.elimination_kernel import NONE
from engine.physics.gap.resolved import across_of
from engine.physics.gap.resolved_grid import half_gap
from engine.physics.gap.resolved_room_kernel import (
    AHEAD_FLUX,
    AHEAD_SWIRL,
    OLD_ANGULAR,
    OLD_FLUX,
    OLD_MOMENTUM,
    OLD_SWIRL,
    REVERSE,
    Behind,
    Rim,
    Step,
)
from tests.support.parts import from_python

factorise = from_python(elimination_kernel.factorise)
factors_for = from_python(elimination_kernel.factors_for)
substitute = from_python(elimination_kernel.substitute)
substitute_all = from_python(elimination_kernel.substitute_all)
equations = from_python(resolved_step_kernel.equations)
gap_reynolds = from_python(resolved_step_kernel.gap_reynolds)
room_for = from_python(resolved_room_kernel.room_for)
slopes = from_python(resolved_step_kernel.slopes)
begin_trail = from_python(sweep_kernel.begin_trail)
trail_for = from_python(sweep_kernel.trail_for)
changes_of_all = from_python(change_kernel.changes_of_all)
remainder = from_python(change_kernel.remainder)
whole_for = from_python(pull_kernel.whole_for)
ACROSS = across_of(grid=half_gap(n_nodes=8, stretch=1.5))


def in_quads(rows: np.ndarray) -> np.ndarray:
    """Rows with 0 at their ends, so that they are whole quads."""
    return np.pad(rows, ((0, 0), (0, -rows.shape[1] % QUAD)))


@pytest.mark.parametrize(
    ("radial_speed", "plug", "drag", "is_turbulent", "either"),
    [
        (20.0, 2.0, 8.0, False, False),
        (20.0, 2.0, 8.0, False, True),
        (30.0, 5.0, 6.0, True, False),
        (30.0, 5.0, 0.1, True, False),
    ],
)
def test_jacobian_is_the_difference_quotient_of_the_residual(
    radial_speed: float, plug: float, drag: float, is_turbulent: bool, either: bool
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
        transition=0.8,
        way=1.0,
    )
    nodes = 1 - ACROSS.wall_distance[1:]
    shape = 1.4 * (1 - nodes**4) * random.uniform(0.9, 1.1, n)
    state = np.concatenate(
        [shape, 2 * plug * shape, [5.0, 0.9, rim.pressure, rim.enthalpy, 0.0, drag, 0.8]]
    )
    behind = Behind(density=37.0, pressure=7.8e6, braking=1.0)
    step = Step(0.8, 40.0, drag, -50.0, either, behind)
    room = room_for(n)
    carried = {
        OLD_FLUX: 39 * shape,
        OLD_MOMENTUM: 38 * shape**2,
        OLD_ANGULAR: 38 * shape**2,
        OLD_SWIRL: 37 * shape,
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
        return np.asarray(room.residual[: 2 * n + 2].copy())

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


@pytest.mark.parametrize("size", [18, 26, 27, 30])
@pytest.mark.parametrize(("first", "swaps"), [(8.0, False), (0.0, True), (1e-9, True)])
def test_elimination_agrees_with_lapack(size: int, first: float, swaps: bool) -> None:
    random = np.random.default_rng(8)
    matrix, factors = random.normal(size=(size, size)) + 8 * np.eye(size), factors_for(size)
    matrix[0, 0] = first  # a small one needs another pivot
    # Twice with the same room: nothing of one matrix is left in the other.
    for again in (matrix[::-1].copy(), matrix):
        values = random.normal(size=size)
        expected = np.linalg.solve(again, values)
        padded, values = in_quads(again), in_quads(values[None])[0]
        assert factorise(padded, factors)
        substitute(factors, values)
        np.testing.assert_allclose(values[:size], expected, rtol=1e-9)
        assert np.array_equal(padded, in_quads(again))
    assert (factors.order[0] != NONE) == swaps


@pytest.mark.parametrize("wrong", [0.0, np.nan, np.inf])
def test_a_singular_matrix_is_reported(wrong: float) -> None:
    assert not factorise(np.full((3, 4), wrong), factors_for(3))


@pytest.mark.parametrize("first", [0.0, 8.0])
def test_many_right_hand_sides_are_solved_as_one_each(first: float) -> None:
    random = np.random.default_rng(3)
    matrix, right = random.normal(size=(12, 12)) + 8 * np.eye(12), random.normal(size=(13, 12))
    matrix[0, 0] = first  # 0 needs another pivot
    given, factors = right.copy(), factors_for(12)
    expected = np.linalg.solve(matrix, right[:12])
    assert factorise(matrix, factors)
    substitute_all(factors, right, 8)
    np.testing.assert_allclose(right[:12, :8], expected[:, :8], rtol=1e-9)
    assert np.array_equal(right[:, 8:], given[:, 8:])
    assert np.array_equal(right[12], given[12])


@pytest.mark.parametrize(
    ("outward", "share"), [(range(1, 8), 0.05), (range(3, 4), 0.005), (range(0), -1.0)]
)
def test_the_change_of_all_stations_undoes_their_residual_by_its_difference_quotients(
    outward: range, share: float
) -> None:
    n, n_steps = ACROSS.weights.size, 7
    size = 2 * n + 3
    record, room, whole = gas("air").record, room_for(n), whole_for(n_steps, n)
    scales = {"spin": 3.0, "plug": 2.0, "radius": 0.08, "span": 0.6, "gap": 4e-4}
    rim = Rim(2e5, 4e5, 2.4, 5.0, **scales, transition=1.0, way=1.0)
    random = np.random.default_rng(2)
    trail = trail_for(n_steps, n)
    begin_trail(record, rim, ACROSS, trail[0])
    nodes = 1 - ACROSS.wall_distance[1:]
    for k, state in enumerate(trail[1:], 1):
        # Outward near mid-gap, and near zero at some nodes, so that every share occurs.
        least = -0.4 if k in outward else 0.25
        state[:n] = 2 * np.abs(nodes) + least + random.uniform(-0.2, 0.2, n)
        state[n : 2 * n] = 3 * (1 - nodes**4) * random.uniform(0.9, 1.1, n)
        state[2 * n :] = [5.0, random.uniform(0.8, 1), 1.9e5, 4e5, 0.0, 0.0, 0.0]

    def residual(at: np.ndarray) -> np.ndarray:
        remainder(record, rim, ACROSS, at, whole, room)
        return np.asarray(whole.residual.copy())

    columns = []
    for k in range(1, n_steps + 1):
        for j in range(size):
            moved, step = [], 1e-6 * (rim.pressure if j == size - 1 else 1)
            for sign in (-1, 1):
                other = trail.copy()
                other[k, j] += sign * step
                moved.append(residual(other))
            columns.append((moved[1] - moved[0]) / 2e-6)
    known = residual(trail)
    assert changes_of_all(record, rim, ACROSS, trail, whole, room)[0]
    change = whole.change.copy()
    jacobian = np.stack(columns, axis=1)
    scale = np.abs(jacobian) @ np.abs(change)
    # The drag follows the state behind, which the change leaves out.
    np.testing.assert_allclose(jacobian @ change / scale, known / scale, atol=1e-3)
    # Without what comes from the bore side it is another change.
    behind = np.kron(np.tril(np.ones((n_steps, n_steps))), np.ones((size, size)))
    far = np.linalg.solve(jacobian * behind, known)
    assert np.abs(far - change).max() > share * np.abs(change).max()
