import numpy as np
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from engine.physics.machine.fatigue import MOST_CYCLES, cycles_to_crack


def product(cycles: float, ultimate: float, modulus: float, *, light: bool) -> float:
    """Smith, Watson and Topper's product by the uniform material law, its table from memory."""
    soft = 1.0 if light else min(1.0, 1.375 - 125 * ultimate / modulus)
    factor, b, ductility, c = (
        (1.67, -0.095, 0.35, -0.69) if light else (1.5, -0.087, 0.59 * soft, -0.58)
    )
    strength, reversals = factor * ultimate, 2 * cycles
    elastic = strength**2 / modulus * reversals ** (2 * b)
    return float(elastic + strength * ductility * reversals ** (b + c))


def test_cycles_solve_the_law_of_steels_and_of_light_alloys() -> None:
    for stress, ultimate, modulus, light in (
        (600e6, 600e6, 200e9, False),
        (900e6, 1275e6, 185e9, False),
        (250e6, 290e6, 68.9e9, True),
        (2000e6, 515e6, 193e9, False),
    ):
        wanted = stress**2 / (2 * modulus)
        exact = brentq(
            lambda log, u=ultimate, e=modulus, w=wanted, a=light: (
                product(np.exp(log), u, e, light=a) - w
            ),
            np.log(0.1),
            np.log(1e12),
            xtol=1e-12,
        )
        found = cycles_to_crack(
            peak_stress=stress,
            ultimate_strength=ultimate,
            youngs_modulus=modulus,
            light_alloy=light,
        )
        assert_allclose(found, np.exp(exact), rtol=1e-6)


def test_the_range_ends_where_the_law_does() -> None:
    found = cycles_to_crack(
        peak_stress=np.array([0.0, 1e6, 50e9, np.nan]),
        ultimate_strength=600e6,
        youngs_modulus=200e9,
        light_alloy=False,
    )
    assert_allclose(found, [MOST_CYCLES, MOST_CYCLES, 0.5, np.nan])
