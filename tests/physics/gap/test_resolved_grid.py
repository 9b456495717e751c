"""The matrices of the half gap on functions whose calculus is known."""

import numpy as np
import pytest

from engine.physics.gap.resolved_grid import carried, half_gap


@pytest.mark.parametrize(("stretch", "tolerance"), [(0.0, 1e-10), (1.75, 1e-5)])
def test_calculus_of_an_even_function_that_vanishes_at_the_wall(
    stretch: float, tolerance: float
) -> None:
    grid = half_gap(n_nodes=14, stretch=stretch)
    place, quarter = grid.nodes, np.pi / 2
    inside = np.cos(quarter * place[1:])
    np.testing.assert_allclose(
        grid.slope @ inside, -quarter * np.sin(quarter * place), atol=tolerance
    )
    np.testing.assert_allclose(grid.second @ inside, -(quarter**2) * inside, atol=100 * tolerance)
    np.testing.assert_allclose(
        grid.integral @ inside, np.sin(quarter * place[1:]) / quarter, atol=tolerance
    )
    assert grid.weights @ inside == pytest.approx(2 / np.pi, abs=tolerance)
    assert grid.middle @ inside == pytest.approx(1, abs=tolerance)


def test_divergence_of_an_odd_function_counts_its_value_at_the_wall() -> None:
    grid = half_gap(n_nodes=14, stretch=1.75)
    np.testing.assert_allclose(
        grid.divergence @ np.sin(grid.nodes), np.cos(grid.nodes[1:]), atol=1e-5
    )


def test_stretching_moves_nodes_to_the_wall() -> None:
    plain, stretched = half_gap(n_nodes=14), half_gap(n_nodes=14, stretch=1.75)
    assert plain.nodes[0] == stretched.nodes[0] == pytest.approx(1, abs=1e-15)
    assert np.all(stretched.nodes[1:] > plain.nodes[1:])
    assert plain.n_nodes == plain.nodes.size - 1 == 14


@pytest.mark.parametrize("stretch", [0.0, 1.75])
def test_a_polynomial_is_carried_to_another_grid_without_loss(stretch: float) -> None:
    coarse, fine = half_gap(n_nodes=6, stretch=stretch), half_gap(n_nodes=11, stretch=stretch)

    def shape(nodes: np.ndarray) -> np.ndarray:
        # Even in the coordinate of the polynomials, and 0 at the wall.
        y = np.arctanh(nodes * np.tanh(stretch)) / stretch if stretch > 0 else nodes
        return np.asarray((1 - y**2) * (2 + y**2 - 0.7 * y**8))

    there = carried(source=coarse, target=fine) @ shape(coarse.nodes[1:])
    np.testing.assert_allclose(there, shape(fine.nodes[1:]), atol=1e-13)


def test_grids_with_different_stretch_are_not_carried() -> None:
    with pytest.raises(ValueError, match=r"stretch 1\.0 and 2\.0"):
        carried(source=half_gap(n_nodes=6, stretch=1.0), target=half_gap(n_nodes=6, stretch=2.0))
