"""Sobol indices against functions whose indices are known."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray

from engine.bands.inputs import inputs
from engine.bands.sources import EXPLAINED, band_sources, sobol_indices
from engine.model.evaluation import evaluate
from engine.study.study import Study

Floats = NDArray[np.float64]
A, B = 7.0, 0.1


def ishigami(unit: Floats) -> Floats:
    """Ishigami and Homma 1990, "An importance quantification technique in uncertainty analysis for
    computer models", ISUMA '90, 398-403: inputs flat from -pi to pi."""
    x = np.pi * (2 * unit - 1)
    return np.asarray(
        np.sin(x[:, :1]) + A * np.sin(x[:, 1:2]) ** 2 + B * x[:, 2:] ** 4 * np.sin(x[:, :1])
    )


def test_indices_of_the_ishigami_function_are_the_analytic_ones() -> None:
    # Parts of its variance, from the same paper (from memory, and checked by hand).
    alone_1 = (1 + B * np.pi**4 / 5) ** 2 / 2
    alone_2 = A**2 / 8
    pair_13 = B**2 * np.pi**8 * (1 / 18 - 1 / 50)
    whole = alone_1 + alone_2 + pair_13
    (found,) = sobol_indices(ishigami, ("a", "b", "c"), samples=4096, seed=1)
    assert_allclose(found.first, np.array([alone_1, alone_2, 0.0]) / whole, atol=0.01)
    total = np.array([alone_1 + pair_13, alone_2, pair_13]) / whole
    assert_allclose(found.total, total, atol=0.01)
    # 0.3139, 0.4424, 0 and 0.5576, 0.4424, 0.2437 as usually quoted.
    assert_allclose(found.total.round(2), [0.56, 0.44, 0.24], atol=0.011)


@pytest.mark.parametrize("seed", [1, 2])
def test_256_samples_are_enough_for_a_linear_answer(seed: int) -> None:
    weights = np.array([3.0, 2.0, 1.0, 0.0])
    (found,) = sobol_indices(lambda u: u @ weights[:, None], tuple("abcd"), samples=256, seed=seed)
    wanted = weights**2 / (weights**2).sum()
    assert_allclose(found.first, wanted, atol=0.02)
    assert_allclose(found.total, wanted, atol=0.02)


def test_an_answer_that_does_not_vary_has_indices_of_zero() -> None:
    found = sobol_indices(
        lambda u: np.column_stack([u[:, 0], np.ones(len(u))]), ("a",), samples=16, seed=1
    )
    assert_array_equal(found[1].total, 0.0)
    assert found[0].total > 0.9


def test_the_band_of_power_comes_from_the_uncertain_inputs(
    shop_air: Study, builds: Callable[..., dict[str, Any]]
) -> None:
    results = evaluate(shop_air, builds())
    found = band_sources(shop_air, results, 0)
    assert tuple(found) == EXPLAINED
    power, margin = found["electric_power"], found["safety_margin"]
    assert power.inputs == margin.inputs == inputs(shop_air)
    assert 0.8 < power.first.sum() < 1.1
    # What does not act on the discs cannot change the speed at which they fail.
    flow = [power.inputs.index(key) for key in ("drive_efficiency", "generator_efficiency")]
    assert_allclose(margin.total[flow], 0.0, atol=1e-12)
    assert (power.total[flow] > 1e-4).all()
