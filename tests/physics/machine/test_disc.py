import numpy as np
import pytest
import skfem  # type: ignore[import-untyped]
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from skfem.helpers import ddot, dot, eye, sym_grad, trace  # type: ignore[import-untyped]

from engine.physics.arrays import Array
from engine.physics.machine.disc import (
    bore_hoop_stress,
    burst_speed,
    elastic_growth,
    mean_hoop_stress,
    rotating_stress,
    rub_speed,
    thermal_growth,
    thermal_stress,
    yield_speed,
)

RPM = 2 * np.pi / 60
STEEL = {"density": 8000.0, "poisson": 0.29}
RADII = {"r_inner": 0.02, "r_outer": 0.08}


def plane_stress_quarter(
    *, speed: float, warming: float, modulus: float, expansion: float
) -> tuple[NDArray[np.float64], ...]:
    """Radius, radial and hoop stress at the quadrature points of a quarter annulus.

    Quadratic finite elements in x and y, free edges, rotating, its temperature rising linearly by
    `warming` from bore to rim.
    """
    r_inner, r_outer = RADII["r_inner"], RADII["r_outer"]
    density, poisson = STEEL["density"], STEEL["poisson"]
    unit = skfem.MeshQuad.init_tensor(np.linspace(0, 1, 25), np.linspace(0, np.pi / 2, 17))
    radius = r_inner * (r_outer / r_inner) ** unit.p[0]
    mesh = skfem.MeshQuad2.from_mesh(unit)
    ring = r_inner * (r_outer / r_inner) ** mesh.doflocs[0]
    mesh = skfem.MeshQuad2(
        ring * np.array([np.cos(mesh.doflocs[1]), np.sin(mesh.doflocs[1])]), mesh.t
    )
    assert radius.max() == pytest.approx(r_outer)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()), intorder=5)
    shear, lame = modulus / (2 * (1 + poisson)), modulus * poisson / (1 - poisson**2)

    def stress(strain: NDArray[np.float64], heat: NDArray[np.float64]) -> NDArray[np.float64]:
        free = (modulus / (1 - poisson)) * expansion * heat
        total: NDArray[np.float64] = 2 * shear * strain + eye(lame * trace(strain) - free, 2)
        return total

    def heat_at(x: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(warming * (np.hypot(x[0], x[1]) - r_inner) / (r_outer - r_inner))

    @skfem.BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        return ddot(stress(sym_grad(u), 0 * w.x[0]), sym_grad(v))

    @skfem.LinearForm
    def load(v, w):  # type: ignore[no-untyped-def]
        pull = density * speed**2 * dot(w.x, v)
        return pull - ddot(stress(0 * sym_grad(v), heat_at(w.x)), sym_grad(v))

    fixed = np.concatenate(
        [
            basis.get_dofs(lambda x: np.abs(x[1]) < 1e-9).all("u^2"),
            basis.get_dofs(lambda x: np.abs(x[0]) < 1e-9).all("u^1"),
        ]
    )
    moved = skfem.solve(*skfem.condense(stiffness.assemble(basis), load.assemble(basis), D=fixed))
    x = np.asarray(basis.global_coordinates())
    found = stress(sym_grad(basis.interpolate(moved)), heat_at(x))
    r = np.hypot(x[0], x[1])
    along, across = x / r, np.array([-x[1], x[0]]) / r
    radial = np.einsum("iet,ijet,jet->et", along, found, along)
    hoop = np.einsum("iet,ijet,jet->et", across, found, across)
    return r.ravel(), radial.ravel(), hoop.ravel()


def test_rotating_stress_agrees_with_finite_elements_within_a_thousandth() -> None:
    speed = 2094.0
    r, radial, hoop = plane_stress_quarter(speed=speed, warming=0.0, modulus=193e9, expansion=0.0)
    ours = rotating_stress(**STEEL, **RADII, speed=speed, radius=r)
    largest = float(bore_hoop_stress(**STEEL, **RADII, speed=speed))
    assert_allclose(ours.radial, radial, atol=1e-3 * largest)
    assert_allclose(ours.hoop, hoop, rtol=1e-3)


def test_thermal_stress_agrees_with_finite_elements_within_a_thousandth() -> None:
    r, radial, hoop = plane_stress_quarter(speed=0.0, warming=40.0, modulus=193e9, expansion=17e-6)
    ours = thermal_stress(
        youngs_modulus=193e9, expansion=17e-6, temperature_difference=40.0, **RADII, radius=r
    )
    largest = np.max(np.abs(hoop))
    assert_allclose(ours.radial, radial, atol=1e-3 * largest)
    assert_allclose(ours.hoop, hoop, atol=1e-3 * largest)


# Worked by hand from Timoshenko and Goodier's formulas, outside this code; MPa and um.
WORKED = [
    ((8000.0, 0.29, 0.020, 0.080, 193e9, 20_000), (187.215, 51.954, 98.257, 51.410, 21.310)),
    ((2810.0, 0.33, 0.0132, 0.025, 71.7e9, 30_000), (15.240, 1.607, 10.439, 6.926, 2.415)),
]


@pytest.mark.parametrize(("disc", "expected"), WORKED)
def test_worked_discs_agree_to_the_last_digit(
    disc: tuple[float, ...], expected: tuple[float, ...]
) -> None:
    density, poisson, r_inner, r_outer, modulus, rpm = disc
    spin = {"density": density, "speed": rpm * RPM, "r_inner": r_inner, "r_outer": r_outer}
    middle = rotating_stress(**spin, poisson=poisson, radius=np.sqrt(r_inner * r_outer))
    rim = rotating_stress(**spin, poisson=poisson, radius=r_outer)
    found = (
        bore_hoop_stress(**spin, poisson=poisson) / 1e6,
        middle.radial / 1e6,
        mean_hoop_stress(**spin) / 1e6,
        rim.hoop / 1e6,
        elastic_growth(**spin, poisson=poisson, youngs_modulus=modulus) * 1e6,
    )
    assert_allclose(np.stack(found), np.array(expected), atol=5.1e-4)


def test_radial_stress_peaks_at_the_geometric_mean_radius() -> None:
    # Timoshenko and Goodier, art. 32
    radius = np.linspace(0.02, 0.08, 6001)
    radial = np.asarray(rotating_stress(**STEEL, **RADII, speed=2000.0, radius=radius).radial)
    assert radius[np.argmax(radial)] == pytest.approx(0.04, abs=1e-5)
    assert_allclose(radial[[0, -1]], 0.0, atol=1e-6)


def test_mean_hoop_stress_is_the_average_of_the_distribution() -> None:
    radius = np.linspace(0.02, 0.08, 20_001)
    hoop = np.asarray(rotating_stress(**STEEL, **RADII, speed=2000.0, radius=radius).hoop)
    average = np.trapezoid(hoop, radius) / 0.06
    assert_allclose(mean_hoop_stress(density=8000.0, **RADII, speed=2000.0), average, rtol=1e-7)


def test_thin_ring_limit_is_rho_v_squared() -> None:
    ring = {"density": 7800.0, "speed": 500.0, "r_inner": 0.0999999, "r_outer": 0.1}
    assert_allclose(bore_hoop_stress(**ring, poisson=0.3), 7800.0 * (500.0 * 0.1) ** 2, rtol=1e-5)
    assert_allclose(mean_hoop_stress(**ring), 7800.0 * (500.0 * 0.1) ** 2, rtol=1e-5)


def test_bore_of_a_pin_hole_carries_twice_the_stress_of_a_full_disc() -> None:
    # Timoshenko and Goodier, art. 32; centre of a full disc: (3 + nu)/8 rho w^2 r^2
    full = (3 + 0.29) / 8 * 8000.0 * (2000.0 * 0.08) ** 2
    hole = bore_hoop_stress(**STEEL, speed=2000.0, r_inner=1e-9, r_outer=0.08)
    assert_allclose(hole, 2 * full, rtol=1e-9)


def test_burst_speed_meets_the_worked_values() -> None:
    # worked by hand from Robinson's mean hoop stress: 515 MPa, burst factor 1, 0.85 and 0.75
    found = burst_speed(
        density=8000.0,
        **RADII,
        ultimate_strength=515e6,
        burst_factor=np.array([1.0, 0.85, 0.75]),
    )
    assert_allclose(found / RPM, [45_788, 42_214, 39_653], atol=0.51)


def test_at_yield_speed_the_notched_bore_with_its_thermal_stress_is_at_yield() -> None:
    spin = yield_speed(
        **STEEL, **RADII, yield_strength=205e6, notch_factor=2.0, thermal_stress=30e6
    )
    stress = 2.0 * (bore_hoop_stress(**STEEL, **RADII, speed=spin) + 30e6)
    assert_allclose(stress, 205e6, rtol=1e-12)


def test_compression_at_the_bore_is_not_credited_and_tension_beyond_yield_leaves_no_speed() -> None:
    spin = yield_speed(
        **STEEL,
        **RADII,
        yield_strength=205e6,
        notch_factor=2.0,
        thermal_stress=np.array([0.0, -50e6, 103e6]),
    )
    assert np.isfinite(spin).all()
    assert_allclose(spin, np.array([1.0, 1.0, 0.0]) * np.max(spin))


def test_at_rub_speed_elastic_and_thermal_growth_fill_the_clearance() -> None:
    disc = {**STEEL, **RADII, "youngs_modulus": 193e9}
    warm = thermal_growth(expansion=17.3e-6, r_outer=0.08, temperature_rise=60.0)
    spin = rub_speed(
        growth=elastic_growth(**disc, speed=2000.0),
        speed=2000.0,
        clearance=0.2e-3,
        thermal_growth=warm,
    )
    assert_allclose(elastic_growth(**disc, speed=spin) + warm, 0.2e-3, rtol=1e-12)


def test_heat_that_closes_the_clearance_leaves_no_speed() -> None:
    spin = rub_speed(growth=20e-6, speed=2000.0, clearance=0.1e-3, thermal_growth=0.2e-3)
    assert spin == 0.0


def test_radii_out_of_order_are_nan_in_that_lane_only() -> None:
    bad: dict[str, Array] = {"r_inner": np.array([0.02, 0.2, 0.0]), "r_outer": 0.1}
    spin: dict[str, Array] = {"density": 7800.0, "speed": 500.0, **bad}
    for found in (
        bore_hoop_stress(**spin, poisson=0.3),
        mean_hoop_stress(**spin),
        rotating_stress(**spin, poisson=0.3, radius=0.1).hoop,
        rotating_stress(**spin, poisson=0.3, radius=bad["r_inner"]).radial,
        elastic_growth(**spin, poisson=0.3, youngs_modulus=200e9),
        burst_speed(density=7800.0, **bad, ultimate_strength=500e6, burst_factor=0.85),
        yield_speed(density=7800.0, **bad, poisson=0.3, yield_strength=200e6, notch_factor=1.0),
        thermal_stress(
            youngs_modulus=200e9,
            expansion=12e-6,
            temperature_difference=10.0,
            **bad,
            radius=0.1,
        ).hoop,
    ):
        assert np.isfinite(found).tolist() == [True, False, False]


def test_a_radius_outside_the_disc_is_nan() -> None:
    found = rotating_stress(
        **STEEL, **RADII, speed=2000.0, radius=np.array([0.019, 0.02, 0.08, 0.081])
    )
    assert np.isfinite(found.hoop).tolist() == [False, True, True, False]
