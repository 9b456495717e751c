from collections.abc import Callable
from functools import cache
from typing import Any

import mpmath  # type: ignore[import-untyped]
import numpy as np
import pytest
import scipy.linalg
import skfem  # type: ignore[import-untyped]
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.catalogue import material_state
from engine.physics.arrays import Array
from engine.physics.machine.disc import burst_speed, yield_speed
from engine.physics.machine.margins import safety_margin
from engine.physics.machine.vibration import mode_chart
from tests.support.clamped_disc import (
    NODAL_DIAMETERS,
    PLATE_RANGE,
    DiscModes,
    disc_modes,
    standing_wave,
)

RPM = 2 * np.pi / 60


def unit_disc(ratio: Array, poisson: Array, heat: float = 0.0) -> DiscModes:
    """Modes of a disc of unit radius, density and rigidity: frequencies are lambda squared.

    `heat` is E alpha dT h r_o^2 / D.
    """
    return disc_modes(
        r_inner=ratio,
        r_outer=1.0,
        thickness=1.0,
        density=1.0,
        youngs_modulus=12 * (1 - np.square(poisson)),
        poisson=poisson,
        expansion=1.0 / (12 * (1 - np.square(poisson))),
        temperature_difference=heat,
    )


# --- exact solution in Bessel functions -----------------------------------------------------


def frequency_determinant(k: Any, ratio: float, poisson: float, n: int) -> Any:
    """Of a plate clamped at `ratio`, free at 1; zero where k^2 is an eigenvalue lambda^2.

    W = sum of A J_n + B Y_n + C I_n + D K_n at k r; free edge: M_r = 0 and Kelvin-Kirchhoff
    shear = 0 (Leissa, NASA SP-160, eqs. 1.11 and 1.13).
    """

    def column(f: Callable[..., Any], sign: int) -> list[Any]:
        # sign: laplacian of the function is sign k^2 times it
        w0, d0 = f(n, k * ratio), k * f(n, k * ratio, derivative=1)
        w, d = f(n, k), k * f(n, k, derivative=1)
        laplacian, laplacian_slope = sign * k**2 * w, sign * k**2 * d
        moment = laplacian - (1 - poisson) * (d - n**2 * w)
        shear = laplacian_slope - (1 - poisson) * n**2 * (d - w)
        return [w0, d0, moment, shear]

    def modified(kind: Callable[..., Any], swap: int) -> Callable[..., Any]:
        def f(n: int, x: Any, derivative: int = 0) -> Any:
            if not derivative:
                return kind(n, x)
            return swap * (kind(n - 1, x) + kind(n + 1, x)) / 2

        return f

    columns = [
        column(mpmath.besselj, -1),
        column(mpmath.bessely, -1),
        column(modified(mpmath.besseli, 1), 1),
        column(modified(mpmath.besselk, -1), 1),
    ]
    return mpmath.det(mpmath.matrix(columns))


@pytest.mark.parametrize(
    ("ratio", "poisson"),
    [(0.06, 0.2), (0.06, 0.4), (0.3, 0.3), (0.5, 0.3), (0.77, 0.2), (0.77, 0.4)],
)
def test_frequencies_are_the_exact_bessel_roots_within_a_thousandth(
    ratio: float, poisson: float
) -> None:
    ours = unit_disc(ratio, poisson).frequency
    for n in range(7):
        k = np.sqrt(ours[n])
        exact = mpmath.findroot(
            lambda k, n=n: frequency_determinant(k, ratio, poisson, n),
            (0.999 * k, 1.001 * k),
            solver="secant",
        )
        assert_allclose(ours[n], float(exact**2), rtol=5e-4)


def test_no_exact_root_lies_below_the_first_frequency() -> None:
    for n in range(7):
        k = np.sqrt(unit_disc(0.3, 0.3).frequency[n])
        below = [frequency_determinant(s * k, 0.3, 0.3, n) for s in np.linspace(0.2, 0.99, 8)]
        above = frequency_determinant(1.01 * k, 0.3, 0.3, n)
        assert len({mpmath.sign(d) for d in below}) == 1
        assert mpmath.sign(above) != mpmath.sign(below[0])


@pytest.mark.parametrize(
    ("ratio", "exact", "leissa"),
    [
        # exact: roots of the Bessel-function equation, found outside this project; leissa: from
        # NASA SP-160 as quoted in handbooks (from memory); for n = 1 at 0.3 the quoted 6.33 is not
        # the root.
        (0.3, [6.660, 6.552, 7.956, 13.276], [6.66, np.nan, 7.96, 13.27]),
        (0.5, [13.024, 13.290, 14.704, 18.562], [13.0, 13.3, 14.7, 18.5]),
    ],
)
def test_frequencies_meet_the_printed_values(
    ratio: float, exact: list[float], leissa: list[float]
) -> None:
    ours = unit_disc(ratio, 0.3).frequency[:4]
    assert_allclose(ours, exact, atol=6e-4)
    known = np.isfinite(leissa)
    assert_allclose(ours[known], np.array(leissa)[known], rtol=5e-3)


# --- independent finite elements along the radius -------------------------------------------


def annulus_stress(
    r: NDArray[np.float64], ratio: float, poisson: float, *, warm: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Stress by finite differences of equilibrium and Hooke's law; no closed form used."""
    grid = np.linspace(ratio, 1.0, 501)
    step, size = grid[1] - grid[0], grid.size
    heat = (grid - ratio) / (1 - ratio) if warm else 0 * grid
    heat_slope = np.full(size, 1 / (1 - ratio)) if warm else 0 * grid
    # u'' + u'/r - u/r^2 = (1 + nu) T' - (1 - nu^2) r, E = alpha = density = speed = 1
    system = np.zeros((size, size))
    load = (1 + poisson) * heat_slope - (0 if warm else (1 - poisson**2) * grid)
    inner = np.arange(1, size - 1)
    system[inner, inner - 1] = 1 / step**2 - 1 / (2 * step * grid[inner])
    system[inner, inner] = -2 / step**2 - 1 / grid[inner] ** 2
    system[inner, inner + 1] = 1 / step**2 + 1 / (2 * step * grid[inner])
    for edge, side in ((0, 1), (size - 1, -1)):
        system[edge, edge] = -1.5 * side / step + poisson / grid[edge]
        system[edge, edge + side] = 2 * side / step
        system[edge, edge + 2 * side] = -0.5 * side / step
        load[edge] = (1 + poisson) * heat[edge]
    u = np.linalg.solve(system, load)
    strain = np.asarray(np.gradient(u, grid, edge_order=2))
    ring = u / grid
    radial = (strain + poisson * ring - (1 + poisson) * heat) / (1 - poisson**2)
    hoop = (ring + poisson * strain - (1 + poisson) * heat) / (1 - poisson**2)
    return np.interp(r, grid, radial), np.interp(r, grid, hoop)


@cache
def radial_elements(ratio: float, poisson: float, n: int) -> tuple[NDArray[np.float64], ...]:
    """Bending, mass, spin and heat matrices from cubic Hermite elements, clamp removed."""
    mesh = skfem.MeshLine(ratio + (1 - ratio) * np.linspace(0, 1, 31) ** 1.5)
    basis = skfem.Basis(mesh, skfem.ElementLineHermite(), intorder=8)
    r = np.asarray(basis.global_coordinates())[0]
    spin = annulus_stress(r.ravel(), ratio, poisson, warm=False)
    heat = annulus_stress(r.ravel(), ratio, poisson, warm=True)

    @skfem.BilinearForm
    def bending(u, v, w):  # type: ignore[no-untyped-def]
        r = w.x[0]
        k = [
            (f.hess[0, 0], f.grad[0] / r - n**2 * f / r**2, n * (f.grad[0] / r - f / r**2))
            for f in (u, v)
        ]
        (a, b, t), (c, d, s) = k
        # M_r kappa_r + M_hoop kappa_hoop + 2 M_twist kappa_twist
        return ((a + poisson * b) * c + (b + poisson * a) * d + 2 * (1 - poisson) * t * s) * r

    @skfem.BilinearForm
    def mass(u, v, w):  # type: ignore[no-untyped-def]
        return u * v * w.x[0]

    @skfem.BilinearForm
    def membrane(u, v, w):  # type: ignore[no-untyped-def]
        r = w.x[0]
        return (w.radial * u.grad[0] * v.grad[0] + w.hoop * n**2 * u * v / r**2) * r

    forms = [bending.assemble(basis), mass.assemble(basis)]
    for radial, hoop in (spin, heat):
        fields = {"radial": radial.reshape(r.shape), "hoop": hoop.reshape(r.shape)}
        forms.append(membrane.assemble(basis, **fields))
    kept = basis.complement_dofs(basis.get_dofs(lambda x: np.isclose(x[0], ratio)))
    return tuple(form[kept][:, kept].toarray() for form in forms)


def element_standing_speed(ratio: float, poisson: float, n: int, heat: float = 0.0) -> float:
    """Speed at which the backward wave's own frequency equals n times speed."""
    bending, mass, spin, warm = radial_elements(ratio, poisson, n)

    def surplus(speed: float) -> float:
        square = scipy.linalg.eigh(
            bending + heat * warm + speed**2 * spin, mass, eigvals_only=True, subset_by_index=(0, 0)
        )[0]
        return float(square - n**2 * speed**2)

    return float(brentq(surplus, 1.0, 60.0, rtol=1e-6))


@pytest.mark.parametrize(("ratio", "poisson"), [(0.1, 0.2), (0.27, 0.33), (0.5, 0.2), (0.71, 0.4)])
def test_standing_wave_agrees_with_finite_elements(ratio: float, poisson: float) -> None:
    ours = unit_disc(ratio, poisson)
    wave = standing_wave(frequency=ours.frequency, stiffening=ours.stiffening)
    n = int(wave.nodal_diameters)
    assert_allclose(wave.speed, element_standing_speed(ratio, poisson, n), rtol=1e-3)
    neighbours = [element_standing_speed(ratio, poisson, m) for m in (n - 1, n + 1) if m > 1]
    assert min(neighbours) > float(wave.speed)


@pytest.mark.parametrize(("ratio", "heat"), [(0.2, 15.0), (0.4, 40.0), (0.6, 60.0), (0.3, -30.0)])
def test_a_hot_rim_lowers_the_standing_wave_as_finite_elements_say(
    ratio: float, heat: float
) -> None:
    warm, cold = unit_disc(ratio, 0.3, heat), unit_disc(ratio, 0.3)
    wave = standing_wave(frequency=warm.frequency, stiffening=warm.stiffening)
    calm = standing_wave(frequency=cold.frequency, stiffening=cold.stiffening)
    expected = element_standing_speed(ratio, 0.3, int(wave.nodal_diameters), heat)
    assert_allclose(wave.speed, expected, rtol=2e-3)
    assert abs(float(wave.speed / calm.speed) - 1) > 0.1


def test_a_rim_hot_enough_buckles_the_disc_at_rest() -> None:
    modes = unit_disc(0.2, 0.3, 80.0)
    assert standing_wave(frequency=modes.frequency, stiffening=modes.stiffening).speed == 0.0


def lamb_southwell(n: int, poisson: float) -> float:
    """B of a full membrane without bending stiffness (Lamb and Southwell 1921)."""
    return (n * (n + 2) * (3 + poisson) - n**2 * (1 + 3 * poisson)) / 8


@pytest.mark.parametrize("n", [2, 3, 4])
def test_stiffening_tends_to_lamb_and_southwell_for_a_small_clamp(n: int) -> None:
    # worked from their formula, nu = 0.3: 2.35, 4.05, 6.10. Bending keeps the wave out of the
    # membrane's own shape, so a plate's B stays a little above it: 1 % at n = 2, 3.5 % at n = 4.
    _, mass, spin, _ = radial_elements(0.01, 0.3, n)
    membrane = scipy.linalg.eigh(spin, mass, eigvals_only=True, subset_by_index=(0, 0))[0]
    assert_allclose(membrane, lamb_southwell(n, 0.3), rtol=3e-3)
    ratios = np.array([0.02, 0.05, 0.1, 0.2])
    excess = unit_disc(ratios, 0.3).stiffening[:, n] / lamb_southwell(n, 0.3) - 1
    assert np.all(np.diff(excess) > 0)
    assert 0 < excess[0] < {2: 0.012, 3: 0.022, 4: 0.034}[n]


def test_stiffening_lets_every_wave_stand_still_except_those_that_only_tilt() -> None:
    ratio, poisson = np.meshgrid(np.linspace(0.02, 0.85, 40), np.linspace(0.15, 0.45, 7))
    modes = unit_disc(ratio, poisson)
    assert np.all(NODAL_DIAMETERS[2:] ** 2 - modes.stiffening[..., 2:] > -1e-3)
    assert np.all(modes.stiffening[..., 1] > 1.0)  # 1 exactly for a free disc: it only tilts
    wave = standing_wave(frequency=modes.frequency, stiffening=modes.stiffening)
    assert np.all(np.diff(wave.speed, axis=1) > 0)
    assert np.all(wave.nodal_diameters < NODAL_DIAMETERS[-1] + 1)


def test_a_thin_ring_stands_still_first_with_more_than_six_nodal_diameters() -> None:
    modes = unit_disc(0.8, 0.3)
    wave = standing_wave(frequency=modes.frequency, stiffening=modes.stiffening)
    six = standing_wave(frequency=modes.frequency[:7], stiffening=modes.stiffening[:7])
    assert wave.nodal_diameters > 6
    assert six.speed / wave.speed > 1.1


# --- builds -----------------------------------------------------------------------------------


def plain_stainless_margin(thickness: float, material: str) -> tuple[float, str, float]:
    """Margin at 6,000 rpm, governing mode, and wave over yield speed, of a 150 mm disc."""
    state = material_state(material, 293.15)
    disc: dict[str, Any] = {
        "r_inner": 0.015,
        "r_outer": 0.075,
        "density": state.density,
        "poisson": state.poisson,
    }
    modes = disc_modes(**disc, thickness=thickness, youngs_modulus=state.youngs_modulus)
    wave = standing_wave(frequency=modes.frequency, stiffening=modes.stiffening).speed
    yielding = yield_speed(**disc, yield_strength=state.yield_strength, notch_factor=1.0)
    found = safety_margin(
        speed=6000 * RPM,
        yield_speed=yielding,
        burst_speed=burst_speed(
            density=state.density,
            r_inner=0.015,
            r_outer=0.075,
            ultimate_strength=state.ultimate_strength,
            burst_factor=0.85,
        ),
        wave_speed=wave,
        shaft_speed=np.inf,
        bearing_speed=np.inf,
        generator_speed=np.inf,
        seal_rub_speed=np.inf,
        rub_speed=np.inf,
    )
    return float(found.margin), str(found.mode), float(wave / yielding)


@pytest.mark.parametrize("material", ["stainless-304", "stainless-17-4ph-h900"])
def test_a_thin_stainless_disc_is_limited_by_its_wave_well_below_yield(material: str) -> None:
    _, mode, wave_over_yield = plain_stainless_margin(1e-3, material)
    assert mode == "standing wave"
    assert wave_over_yield < 0.7


def test_thickening_the_disc_moves_the_governing_mode() -> None:
    thin, thick = (plain_stainless_margin(t, "stainless-304") for t in (1e-3, 2.5e-3))
    assert (thin[1], thick[1]) == ("standing wave", "yield")
    assert thick[0] > thin[0]


def test_frequency_scales_with_thickness_and_the_inverse_square_of_size() -> None:
    def first(scale: float, thickness: float) -> NDArray[np.float64]:
        return disc_modes(
            r_inner=0.02 * scale,
            r_outer=0.08 * scale,
            thickness=thickness,
            density=8000.0,
            youngs_modulus=200e9,
            poisson=0.3,
        ).frequency

    assert_allclose(first(1.0, 2e-3), 2 * first(1.0, 1e-3), rtol=1e-12)
    assert_allclose(first(2.0, 1e-3), first(1.0, 1e-3) / 4, rtol=1e-12)


def test_the_backward_wave_of_the_chart_stands_still_at_the_wave_speed() -> None:
    modes = unit_disc(0.4, 0.3)
    wave = standing_wave(frequency=modes.frequency, stiffening=modes.stiffening)
    n = int(wave.nodal_diameters)
    speed = np.array([0.0, 0.9, 1.0, 1.1]) * wave.speed
    chart = mode_chart(frequency=modes.frequency, stiffening=modes.stiffening, speed=speed)
    assert chart.forward.shape == (4, NODAL_DIAMETERS.size)
    assert_allclose(chart.forward[0], chart.backward[0])
    assert np.sign(np.round(chart.backward[:, n], 9)).tolist() == [1, 1, 0, -1]
    assert np.all(np.diff(chart.forward, axis=0) > 0)


def test_lanes_outside_the_table_are_nan_and_leave_the_others_alone() -> None:
    ratio = np.array([0.01, 0.3, 0.9, 0.3, np.nan])
    poisson = np.array([0.3, 0.3, 0.3, 0.6, 0.3])
    modes = unit_disc(ratio, poisson)
    wave = standing_wave(frequency=modes.frequency, stiffening=modes.stiffening)
    assert np.isfinite(wave.speed).tolist() == [False, True, False, False, False]
    assert np.isfinite(wave.nodal_diameters).tolist() == [False, True, False, False, False]
    assert_allclose(modes.frequency[1], unit_disc(0.3, 0.3).frequency)
    assert PLATE_RANGE.outside(
        radius_ratio=ratio, poisson=poisson, thickness_ratio=0.01
    ).tolist() == [True, False, True, True, True]


def test_a_hot_lane_broadcasts_with_one_disc() -> None:
    modes = disc_modes(
        r_inner=0.02,
        r_outer=0.08,
        thickness=1e-3,
        density=8000.0,
        youngs_modulus=200e9,
        poisson=0.3,
        expansion=17e-6,
        temperature_difference=np.array([[0.0, 10.0, 20.0]]),
    )
    assert modes.frequency.shape == modes.stiffening.shape == (1, 3, NODAL_DIAMETERS.size)
    assert np.all(np.diff(modes.frequency[0, :, 3]) < 0)
