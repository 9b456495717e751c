import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine.physics.flow.windage import WINDAGE_RANGE, disc_moment_coefficient, end_face_torque

# Daily and Nece 1960, four regimes (equations from memory), values worked by hand from them:
# Reynolds number, gap ratio, then the laws that were worked, by regime number.
WORKED = [
    (1e4, 0.02, {1: 0.03142, 2: 0.02502, 3: 0.01536}),
    (1e5, 0.02, {1: 0.00314, 2: 0.00791, 3: 0.00863}),
    (1e5, 0.10, {1: 0.00063, 2: 0.00929, 3: 0.00660}),
    (1e6, 0.10, {2: 0.00294, 3: 0.00371, 4: 0.00511}),
    (1e7, 0.10, {3: 0.00209, 4: 0.00323}),
]


@pytest.mark.parametrize(("reynolds", "ratio", "laws"), WORKED)
def test_the_largest_of_the_four_regimes_applies(
    reynolds: float, ratio: float, laws: dict[int, float]
) -> None:
    found = disc_moment_coefficient(reynolds=reynolds, side_gap_ratio=ratio)
    assert_allclose(found, max(laws.values()), atol=0.51e-5)


def test_the_coefficient_is_continuous_over_every_change_of_regime() -> None:
    reynolds = np.geomspace(1e3, 1e7, 20_001)
    for ratio in (0.0127, 0.05, 0.217):
        found = disc_moment_coefficient(reynolds=reynolds, side_gap_ratio=ratio)
        assert np.all(np.diff(found) < 0)
        assert np.abs(np.diff(np.log(found))).max() < 1.1 * np.log(reynolds[1] / reynolds[0])


def test_a_turbulent_disc_in_its_casing_drags_about_half_as_much_as_a_free_one() -> None:
    # Free disc, both faces: 0.146 Re^-1/5 (von Karman 1921). The fluid core turns at nearly half
    # of disc speed; the band allows for its dependence on the gap.
    for reynolds in (1e6, 3e6, 1e7):
        free = 0.146 * reynolds**-0.2
        found = disc_moment_coefficient(reynolds=reynolds, side_gap_ratio=np.array([0.02, 0.1]))
        assert np.all((found / free > 0.4) & (found / free < 0.65))


def test_a_laminar_narrow_gap_is_plane_couette_flow() -> None:
    # Shear mu Omega r / s over both faces: M = 2 x pi mu Omega a^4 / (2 s), exactly.
    viscosity, speed, radius, gap = 1.8e-5, 20.0, 0.05, 0.5e-3
    found = end_face_torque(
        density=1.2, viscosity=viscosity, angular_speed=speed, rim_radius=radius, side_gap=gap
    )
    assert_allclose(found, np.pi * viscosity * speed * radius**4 / gap, rtol=1e-12)


def test_torque_is_the_coefficient_times_the_head_of_the_rim() -> None:
    # Worked by hand: Re = 1.2 x 2000 x 0.05^2 / 1.8e-5 = 333,333, s/a = 0.06, regime IV;
    # M = C_m rho Omega^2 a^5 / 2 for both faces.
    coefficient = 0.102 * 0.06**0.1 * 333_333.3**-0.2
    found = end_face_torque(
        density=1.2, viscosity=1.8e-5, angular_speed=2000.0, rim_radius=0.05, side_gap=3e-3
    )
    assert_allclose(found, coefficient * 0.5 * 1.2 * 2000.0**2 * 0.05**5, rtol=1e-6)


def test_the_valid_range_says_where_the_experiments_ended() -> None:
    outside = WINDAGE_RANGE.outside(
        disc_reynolds=np.array([5e2, 1e5, 1e5, 2e7, np.nan]),
        side_gap_ratio=np.array([0.1, 0.1, 0.3, 0.1, 0.1]),
    )
    assert outside.tolist() == [True, False, True, True, True]
