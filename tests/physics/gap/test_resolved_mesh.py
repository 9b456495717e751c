"""A march carried from a coarse mesh to a finer one, and sums of rows."""

import numpy as np
import pytest

from engine.physics import compiled
from engine.physics.arrays import Lanes
from engine.physics.gap import resolved_mesh_kernel
from engine.physics.gap.resolved import across_of
from engine.physics.gap.resolved_grid import carried, half_gap
from engine.physics.gap.resolved_mesh_kernel import Effort
from tests.support.parts import from_python

mesh_for = from_python(resolved_mesh_kernel.mesh_for)
carry = from_python(resolved_mesh_kernel.carry)


@compiled.entry
def summed(matrix: Lanes, values: Lanes, out: Lanes, width: int) -> None:
    compiled.sum_rows(matrix, values, 1, 2, 9, out, 3, width)


@compiled.entry
def taken_off(target: Lanes, source: Lanes, width: int) -> None:
    compiled.less(target, 3, 2, source, 1, 1.5, 0, width)


def test_a_march_of_smooth_profiles_is_carried_to_a_finer_mesh() -> None:
    grids, effort = (half_gap(n_nodes=8), half_gap(n_nodes=14)), Effort(1, 1e-3, 1e-7)
    coarse, fine = (
        mesh_for(across_of(grid=grid), steps, effort)
        for grid, steps in zip(grids, (25, 50), strict=True)
    )

    def fill(nodes: np.ndarray, steps: int) -> np.ndarray:
        # A cubic along the march and a polynomial across it: both are carried without loss.
        place = np.linspace(0, 1, steps + 1)[:, None]
        across, growth = 1 - nodes**2, 1 + place - 0.5 * place**3
        single = [growth * (k + 2) for k in range(5)]
        return np.hstack([growth * across, growth * across * (1 + nodes**2), *single])

    coarse.trail[:, : 2 * 8 + 5] = fill(grids[0].nodes[1:], 25)
    carry(coarse, carried(source=grids[0], target=grids[1]), fine)
    expected = fill(grids[1].nodes[1:], 50)
    np.testing.assert_allclose(fine.trail[1:, : 2 * 14 + 5], expected[1:], atol=1e-12)


@pytest.mark.parametrize(("spans", "width"), [(16, 4), (16, 28), (32, 16)])
def test_rows_are_summed_in_spans_and_taken_off_in_quads(spans: int, width: int) -> None:
    random = np.random.default_rng(1)
    matrix, values, out = (
        random.normal(size=(9, 32)),
        random.normal(size=(3, 12)),
        np.zeros((4, 40)),
    )
    summed(matrix, values, out, spans)
    np.testing.assert_allclose(out[3, :spans], values[1, 2:11] @ matrix[:, :spans], rtol=1e-13)
    assert not out[:3].any()
    assert not out[3, spans:].any()
    before = out.copy()
    taken_off(out, matrix, width)
    np.testing.assert_array_equal(
        out[3, 2 : 2 + width], before[3, 2 : 2 + width] - 1.5 * matrix[1, :width]
    )
    np.testing.assert_array_equal(out[3, 2 + width :], before[3, 2 + width :])


def test_rows_that_do_not_lie_together_are_refused() -> None:
    with pytest.raises(Exception, match="do not lie together"):
        taken_off(np.zeros((8, 8)).T, np.zeros((8, 8)), 4)
