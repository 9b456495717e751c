import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.physics.machine.rotor import (
    annulus_mass,
    fit_clearance,
    permissible_unbalance,
    polar_inertia,
    raw_unbalance,
    stored_energy,
)

RPM = 2 * np.pi / 60


@pytest.mark.parametrize(
    ("grade", "mass", "rpm", "gram_millimetres"),
    [
        # ISO 21940-11 worked example: 2 kg, G 6.3, 10,000 rpm gives 12 g mm (exactly 12.032)
        (6.3e-3, 2.0, 10_000, 12.032),
        (2.5e-3, 2.0, 20_000, 2.3873),  # worked by hand from the same formula
    ],
)
def test_permissible_unbalance_meets_the_worked_values(
    grade: float, mass: float, rpm: float, gram_millimetres: float
) -> None:
    found = permissible_unbalance(balance_grade=grade, mass=mass, speed=rpm * RPM)
    assert_allclose(found / 1e-6, gram_millimetres, rtol=1e-4)


def test_a_rotor_at_rest_has_no_permissible_unbalance() -> None:
    found = permissible_unbalance(balance_grade=2.5e-3, mass=1.0, speed=np.array([0.0, 100.0]))
    assert np.isfinite(found).tolist() == [False, True]


def test_one_tapered_off_centre_disc_has_the_unbalance_of_its_moment() -> None:
    # First moment of mass by summing small pieces of the disc, taper and offset at right angles
    r_inner, r_outer, thickness, taper, offset = 0.02, 0.08, 1e-3, 30e-6, 40e-6
    x = np.linspace(-0.0801, 0.0801, 1603)
    grid_x, grid_y = np.meshgrid(x, x)
    rim = grid_x**2 + (grid_y - offset) ** 2 <= r_outer**2
    solid = rim & (grid_x**2 + grid_y**2 >= r_inner**2)
    area = (x[1] - x[0]) ** 2
    local = 8000.0 * (thickness + taper * grid_x / (2 * r_outer)) * solid * area
    expected = np.hypot(np.sum(local * grid_x), np.sum(local * grid_y))
    found = raw_unbalance(
        disc_count=1,
        density=8000.0,
        thickness=thickness,
        r_inner=r_inner,
        r_outer=r_outer,
        taper=taper,
        eccentricity=offset,
    )
    assert_allclose(found, expected, rtol=5e-3)


def test_discs_at_random_angles_add_up_by_the_root_of_their_number() -> None:
    one, stack = (
        raw_unbalance(
            disc_count=count,
            density=8000.0,
            thickness=1e-3,
            r_inner=0.02,
            r_outer=0.08,
            taper=20e-6,
            eccentricity=50e-6,
        )
        for count in (1, 30)
    )
    angle = np.random.default_rng(7).uniform(0, 2 * np.pi, (20_000, 30))
    sums = np.abs(np.sum(np.exp(1j * angle), axis=1))
    assert_allclose(stack / one, np.sqrt(np.mean(sums**2)), rtol=0.02)


def test_weight_and_energy_of_a_full_disc_meet_the_textbook() -> None:
    # m r^2 / 2 and I w^2 / 2; 10 mm steel disc of 200 mm: 2.4662 kg, at 1,000 rad/s 6.17 kJ
    mass = annulus_mass(density=7850.0, thickness=0.01, r_inner=0.0, r_outer=0.1)
    inertia = polar_inertia(mass=mass, r_inner=0.0, r_outer=0.1)
    assert_allclose(mass, 2.4662, atol=5e-5)
    assert_allclose(stored_energy(inertia=inertia, speed=1000.0), 6165.4, atol=0.1)


def test_inertia_of_an_annulus_is_the_outer_disc_less_the_inner() -> None:
    def full(radius: float) -> float:
        mass = annulus_mass(density=7850.0, thickness=1e-3, r_inner=0.0, r_outer=radius)
        return float(polar_inertia(mass=mass, r_inner=0.0, r_outer=radius))

    ring = annulus_mass(density=7850.0, thickness=1e-3, r_inner=0.03, r_outer=0.1)
    found = polar_inertia(mass=ring, r_inner=0.03, r_outer=0.1)
    assert_allclose(found, full(0.1) - full(0.03), rtol=1e-12)


@pytest.mark.parametrize(
    ("size", "hole", "shaft"),
    [
        # IT7 and IT6 of ISO 286-1 as printed, rounded to whole micrometres; from memory
        (5, 12, 8),
        (8, 15, 9),
        (12, 18, 11),
        (20, 21, 13),
        (40, 25, 16),
        (100, 35, 22),
    ],
)
def test_the_largest_clearance_of_a_fit_is_that_of_the_table(
    size: float, hole: float, shaft: float
) -> None:
    found = fit_clearance(diameter=size * 1e-3)
    assert_allclose(found * 1e6, hole + shaft, atol=1.0)
