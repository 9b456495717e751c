"""The plane flow against exact solutions, worked out here without the solver's code."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.physics.plane.friction_kernel import SMOOTH
from engine.physics.plane.grid import GHOSTS, Grid, grid_of
from engine.physics.plane.law import Law
from engine.physics.plane.march_kernel import advance, to_conserved
from engine.physics.plane.surroundings import (
    BORE_MASS,
    BORE_MOMENTUM,
    DENSITY,
    JET_MASS,
    JET_MOMENTUM,
    N_TALLY,
    PRESSURE,
    RADIAL,
    SWIRL,
    Mouth,
    Surroundings,
)

Lanes = NDArray[np.float64]
K = 1.4
AIR = Law(K, 0.0, 0.0, 1.0, 1.0, 0.0, 0.0, is_liquid=False)
"""Air of unit density and pressure, without viscosity."""


def bare(grid: Grid, bore_pressure: float) -> Surroundings:
    """No friction, no leakage."""
    return Surroundings(
        angular_speed=0.0,
        gap=1e-3,
        transition=1.0,
        clearance=1e-3,
        edge_share=0.0,
        entry_loss=1.0,
        leakage_share=0.0,
        bore_pressure=bore_pressure,
        closure=SMOOTH,
        discs_rub=False,
        lengths=np.zeros(grid.faces.size),
    )


def marched(
    law: Law,
    grid: Grid,
    around: Surroundings,
    mouth: Mouth,
    field: Lanes,
    *,
    time_step: float = 0.0,
    steps: int,
) -> tuple[Lanes, Lanes]:
    field = np.pad(field, ((0, 0), (0, 0), (GHOSTS, GHOSTS)), mode="wrap")
    held, tally = np.zeros_like(field), np.zeros(N_TALLY)
    entering = np.zeros((3, field.shape[2]))
    to_conserved(law, grid, field, held)
    # The sums are means over a call: those of the last step are wanted.
    for part in (steps - 1, 1):
        advance(law, grid, around, mouth, held, field, entering, tally, 0.7, time_step, part)
    return field[:, :, GHOSTS:-GHOSTS], tally


def closed(grid: Grid) -> Mouth:
    return Mouth(np.zeros(grid.widths.size), 0.0, 0.0, 0.0, 0.0)


def sod(place: Lanes) -> Lanes:
    """Density of Sod's tube at places over time: left state (1, 0, 1), right (0.125, 0, 0.1).

    The exact solution of Riemann's problem (Toro, Riemann Solvers, 3rd ed. 2009, ch. 4, from
    memory); the pressure between the waves by a general root finder.
    """
    (dl, pl), (dr, pr) = (1.0, 1.0), (0.125, 0.1)
    al, ar = math.sqrt(K * pl / dl), math.sqrt(K * pr / dr)

    def by_fan(p: float) -> float:
        return float(2 * al / (K - 1) * ((p / pl) ** ((K - 1) / (2 * K)) - 1))

    def by_shock(p: float) -> float:
        return float(p - pr) * math.sqrt(2 / ((K + 1) * dr) / (p + (K - 1) / (K + 1) * pr))

    p = float(brentq(lambda x: by_fan(x) + by_shock(x), 0.1, 1.0, xtol=1e-14))
    assert p == pytest.approx(0.30313, abs=5e-6)  # Toro, table 4.2, test 1 (from memory)
    u = by_shock(p)
    behind_fan = dl * (p / pl) ** (1 / K)
    after_shock = dr * (p / pr + (K - 1) / (K + 1)) / ((K - 1) / (K + 1) * p / pr + 1)
    shock = ar * math.sqrt((K + 1) / (2 * K) * p / pr + (K - 1) / (2 * K))
    head, tail = -al, u - al * (p / pl) ** ((K - 1) / (2 * K))
    in_fan = dl * np.abs(2 / (K + 1) - (K - 1) / (K + 1) / al * place) ** (2 / (K - 1))
    zones = [place < head, place < tail, place < u, place < shock]
    return np.select(zones, [dl, in_fan, behind_fan, after_shock], dr)


def along_radius(n: int) -> float:
    """Mean error of density in a tube along the radius, so far out that it is straight."""
    grid = grid_of(
        faces=1e4 + np.linspace(0.0, 1.0, n + 1),
        heights=np.ones(n),
        widths=np.full(8, 1e-5),
        n_gap=n,
    )
    place = grid.centres - 1e4 - 0.5
    left = (place < 0)[:, None] * np.ones(8)
    field = np.stack([0.125 + 0.875 * left, 0 * left, 0 * left, 0.1 + 0.9 * left])
    steps = 2 * n
    found, _ = marched(
        AIR, grid, bare(grid, 1.0), closed(grid), field, time_step=0.2 / steps, steps=steps
    )
    assert np.ptp(found[DENSITY], axis=1).max() < 1e-12  # all columns are alike
    return float(np.abs(found[DENSITY, :, 0] - sod(place / 0.2)).mean())


def along_angle(n: int) -> float:
    """The same along the angle: a tube from -0.5 to 0.5 with a second, turned one behind it."""
    radius, n_around = 1e4, 2 * n
    grid = grid_of(
        faces=radius + np.linspace(0.0, 4.0, 5),
        heights=np.ones(4),
        widths=np.full(n_around, 1 / n / radius),
        n_gap=4,
    )
    place = (np.arange(n_around) + 0.5) / n - 0.5
    left = np.ones((4, 1)) * ((place < 0) | (place > 1))
    field = np.stack([0.125 + 0.875 * left, 0 * left, 0 * left, 0.1 + 0.9 * left])
    steps = 2 * n
    found, _ = marched(
        AIR, grid, bare(grid, 1.0), closed(grid), field, time_step=0.2 / steps, steps=steps
    )
    first = place < 0.5
    # The row at the casing: that at the bore feels the pressure there.
    return float(np.abs(found[DENSITY, 3, first] - sod(place[first] / 0.2)).mean())


@pytest.mark.parametrize("along", [along_radius, along_angle])
def test_shock_tube(along: Callable[[int], float]) -> None:
    coarse, fine = along(96), along(192)
    assert coarse < 0.007
    # First order at the shock and the contact, so the mean error falls by about a half.
    assert fine < 0.65 * coarse


def spiral(law: Law, n: int, *, swirl: float, inflow: float, content: float) -> dict[str, Any]:
    """Frictionless inflow from a circle at 2 m to one at 1 m, and its exact solution.

    Angular momentum, total enthalpy and entropy are conserved, and mass flow. `content` is P / rho
    at the outer circle.
    """
    k = law.exponent
    pressure, density = law.density * content, law.density
    total = k / (k - 1) * content + (swirl**2 + inflow**2) / 2

    def speed(r: float) -> float:
        """Inward speed: root of the mass flow on the subsonic side."""

        def excess(u: float) -> float:
            here = (k - 1) / k * (total - (u**2 + (2 * swirl / r) ** 2) / 2)
            return float(density * (here / content) ** (1 / (k - 1)) * u * r - 2 * density * inflow)

        sound = math.sqrt((k - 1) * (total - (2 * swirl / r) ** 2 / 2) * 2 / (k + 1))
        return float(brentq(excess, 0.0, sound, xtol=1e-13))

    grid = grid_of(
        faces=np.linspace(1.0, 2.0, n + 1), heights=np.ones(n), widths=np.full(8, 0.01), n_gap=n
    )
    exact = np.array([speed(r) for r in grid.centres])
    exact_swirl = 2 * swirl / grid.centres
    here = (k - 1) / k * (total - (exact**2 + exact_swirl**2) / 2)
    exact_pressure = pressure * (here / content) ** (k / (k - 1))
    at_bore = (k - 1) / k * (total - (speed(1.0) ** 2 + (2 * swirl) ** 2) / 2)
    bore_pressure = pressure * (at_bore / content) ** (k / (k - 1))
    mouth = Mouth(np.ones(8 + 2 * GHOSTS), density * inflow, -inflow, swirl, total)
    start = np.stack(
        [
            np.full((n, 8), density),
            np.full((n, 8), -inflow),
            np.full((n, 8), swirl),
            np.full((n, 8), pressure),
        ]
    )
    found, tally = marched(law, grid, bare(grid, bore_pressure), mouth, start, steps=20_000)
    assert tally[BORE_MASS] == pytest.approx(tally[JET_MASS], rel=1e-5)
    assert tally[BORE_MOMENTUM] == pytest.approx(tally[JET_MOMENTUM], rel=3e-3)
    return {
        "swirl": np.abs(found[SWIRL, :, 0] / exact_swirl - 1).max(),
        "inflow": np.abs(-found[RADIAL, :, 0] / exact - 1).max(),
        "pressure": np.abs(found[PRESSURE, 1:, 0] - exact_pressure[1:]).max()
        / (pressure - bore_pressure),
        "found": found,
        "radii": grid.centres,
    }


def test_frictionless_spiral_inflow_is_exact() -> None:
    unit = AIR._replace(density=1.2, pressure=1e5)
    coarse, fine = (spiral(unit, n, swirl=120.0, inflow=40.0, content=1e5 / 1.2) for n in (32, 64))
    for key, most in (("swirl", 4e-3), ("inflow", 1e-2), ("pressure", 5e-3)):
        assert fine[key] < most
        assert fine[key] < coarse[key]


def test_liquid_spirals_by_bernoulli() -> None:
    """At Mach 0.2 density varies by 2 %, and with it the drop of pressure."""
    content = (30.0 / 0.2) ** 2 / 1.05
    water = Law(1.05, 0.0, 0.0, 1000.0, 1000.0 * content, 0.0, 0.0, is_liquid=True)
    found = spiral(water, 32, swirl=15.0, inflow=5.0, content=content)
    assert found["pressure"] < 0.02
    r, field = found["radii"], found["found"]
    speed2 = (30.0 / r) ** 2 + (10.0 / r) ** 2
    drop = (1000.0 * content - field[PRESSURE, :, 0]) / 500.0
    # The row at the bore is of first order.
    np.testing.assert_allclose(drop[1:], speed2[1:] - 250.0, atol=0.03 * 750.0)
