import numpy as np
from numpy.testing import assert_allclose
from scipy.integrate import dblquad

from engine.model.casing import BOLT_AREAS, PROOF_STRESS
from engine.physics.machine.containment import (
    PERFORATION,
    bolt_force,
    end_plate_thickness,
    fragment_energy,
    fragment_radius,
    perforation_thickness,
    ring_thickness,
    shell_thickness,
    wall_hoop_stress,
)

FOOT_POUND, INCH, PSI = 1.3558179483, 0.0254, 6894.757293


def test_the_centre_of_a_third_is_that_of_its_area() -> None:
    inner, outer, half = 0.02, 0.05, np.pi / 3
    moment, _ = dblquad(lambda r, a: r * r * np.cos(a), -half, half, inner, outer)
    area = half * (outer**2 - inner**2)
    assert_allclose(fragment_radius(r_inner=inner, r_outer=outer), moment / area, rtol=1e-9)


def test_thirds_of_a_full_disc_take_0_608_of_its_energy_with_them() -> None:
    radius = fragment_radius(r_inner=0.0, r_outer=1.0)
    assert_allclose(radius, np.sqrt(3) / np.pi, rtol=1e-12)  # (2/3) sin 60/(pi/3)
    share = 3 * fragment_energy(mass=1 / 3, speed=1.0, radius=radius) / 0.25
    assert_allclose(share, 6 / np.pi**2, rtol=1e-12)


def test_perforation_is_the_formula_in_inches_and_foot_pounds() -> None:
    """BRL in BC-TOP-9A, from memory: T = E^(2/3)/(672 D), E in ft lbf, T and D in inches."""
    inches = 1000.0 ** (2 / 3) / (672 * 1.0)
    found = perforation_thickness(energy=1000.0 * FOOT_POUND, diameter=INCH)
    assert_allclose(found / INCH, inches, rtol=2e-3)
    assert_allclose(PERFORATION, 17_400 * FOOT_POUND / INCH**3, rtol=1e-3)


def test_a_ring_holds_the_energy_in_its_volume() -> None:
    wall = ring_thickness(energy=3000.0, radius=0.05, height=0.02, stress=400e6, strain=0.1)
    volume = np.pi * ((0.05 + wall) ** 2 - 0.05**2) * 0.02
    assert_allclose(volume * 400e6 * 0.1, 3000.0, rtol=1e-12)


def test_a_shell_meets_the_worked_example_of_the_code() -> None:
    """ASME PTB-4, example of a 90 in shell: 356 psi, corroded R 45.125 in, S 20,000 psi, E 1.

    Required: 0.8119 in (from memory).
    """
    wall = shell_thickness(pressure=356 * PSI, radius=45.125 * INCH, stress=20_000 * PSI, joint=1.0)
    assert_allclose(wall / INCH, 0.8119, atol=5e-5)


def test_a_thick_wall_is_in_balance_and_a_thin_one_is_a_boiler() -> None:
    """The mean of Lame's hoop stress over the wall carries the pressure on the bore."""
    inner, outer, pressure = 0.046, 0.066, 6e5
    radius = np.linspace(inner, outer, 200_001)
    hoop = pressure * inner**2 / (outer**2 - inner**2) * (1 + (outer / radius) ** 2)
    found = wall_hoop_stress(pressure=pressure, r_inner=inner, r_outer=outer)
    assert_allclose(found, hoop[0], rtol=1e-12)
    assert_allclose(np.trapezoid(hoop, radius), pressure * inner, rtol=1e-8)
    thin = wall_hoop_stress(pressure=1e5, r_inner=1.0, r_outer=1.0001)
    assert_allclose(thin, 1e5 / 1e-4, rtol=1e-3)


def test_a_flat_end_by_ug_34() -> None:
    """t = d sqrt(C P/S): 0.3 x 100 psi on 10 in with 20,000 psi is 0.3873 in."""
    wall = end_plate_thickness(pressure=100 * PSI, diameter=10 * INCH, stress=20_000 * PSI)
    assert_allclose(wall / INCH, 10 * np.sqrt(0.3 * 100 / 20_000), rtol=1e-12)


def test_bolts_share_the_force_and_have_the_proof_loads_of_the_standard() -> None:
    """ISO 898-1, class 8.8, coarse thread, from memory [N]."""
    assert_allclose(bolt_force(pressure=1e6, diameter=0.1, bolts=6), 1e6 * np.pi * 0.0025 / 6)
    table = {"M5": 8_230, "M6": 11_600, "M8": 21_200, "M10": 33_700}
    for size, area in BOLT_AREAS.items():
        assert_allclose(PROOF_STRESS * area, table[size], rtol=6e-3)
