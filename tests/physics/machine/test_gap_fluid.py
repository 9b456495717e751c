"""Mass of the fluid beside a disc: unbounded, against Lamb 1920, and how narrow a gap must be."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import jv


def moved(n: int, gap: float | None) -> float:
    """Integral of shape times potential beside a plane disc in a rigid wall, over that of shape^2.

    The shape is r^n (1 - r^2)^2 cos(n angle), rim radius 1. Its Hankel transform is
    8 J_{n+3}(k) / k^3 (Watson, Theory of Bessel Functions, 12.11, Sonine's first integral). A wave
    of number k has the potential 1 / k in unbounded fluid, coth(k gap / 2) / k before a neighbour
    that moves against it, `gap` away; None for unbounded fluid.
    """

    def density(k: float) -> float:
        share = 1.0 if gap is None else 1 / np.tanh(k * gap / 2)
        return float(share * (8 * jv(n + 3, k) / k**3) ** 2)

    shape = quad(lambda r: (r**n * (1 - r**2) ** 2) ** 2 * r, 0, 1)[0]
    return quad(density, 1e-9, 60, limit=400)[0] / shape


def narrow(n: int, gap: float) -> float:
    """The same by the law of a narrow gap: the Laplacian of the potential is -w / (gap / 2)."""
    shape = quad(lambda r: (r**n * (1 - r**2) ** 2) ** 2 * r, 0, 1)[0]
    flat = quad(lambda k: 2 / (k * gap) * (8 * jv(n + 3, k) / k**3) ** 2, 1e-9, 60, limit=400)[0]
    return flat / shape


def test_a_disc_in_unbounded_water_has_the_mass_that_lamb_found() -> None:
    # H. Lamb, On the vibrations of an elastic plate in contact with water, Proc. R. Soc. A 98,
    # 1920: the disc clamped in a wall, water on one side, moves as (1 - r^2)^2, and the water adds
    # 0.6689 (density of water) (radius) / (mass of the disc for unit area).
    assert moved(0, None) == pytest.approx(0.6689, abs=2e-4)


@pytest.mark.parametrize("n", [1, 2, 4, 8])
def test_the_law_of_a_narrow_gap_is_its_limit_and_good_where_gaps_are_narrow(n: int) -> None:
    off = [moved(n, gap) / narrow(n, gap) - 1 for gap in (0.1, 0.05, 0.025)]
    assert off[0] > off[1] > off[2] > 0
    # Second order in gap times wave number.
    assert off[0] / off[1] == pytest.approx(4, rel=0.1)
    assert off[1] / off[2] == pytest.approx(4, rel=0.1)
    # At a gap of a twentieth of the radius; speeds are off by half of it at most.
    assert off[1] < 0.03
