import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.physics.flow.short_duct import (
    DIVERGENCE,
    choked_share,
    divergent_velocity,
    duct_coefficients,
    duct_loss,
    fanno_length,
)

ROUND = {"width": 1.0, "height": 1.0, "sharp_entry": 0.0}
"""A square duct of hydraulic diameter 1, as good as a round one."""


def test_friction_length_is_that_of_the_fanno_table() -> None:
    # Shapiro 1953, vol. 1, table B.4, k = 1.4: Mach number and 4 f L / D.
    table = np.array([(0.2, 14.5333), (0.3, 5.2992), (0.5, 1.06908), (0.8, 0.07229), (1.0, 0.0)])
    found = fanno_length(mach=table[:, 0], exponent=1.4)
    assert_allclose(found, table[:, 1], rtol=1e-4, atol=1e-12)


def test_choked_flow_with_friction_is_that_of_the_fanno_and_area_tables() -> None:
    # The same lengths; A*/A of NACA Report 1135, 1953, table I: 2.9635, 2.0351, 1.3398, 1.0382.
    loss = np.array([14.5333, 5.2992, 1.06908, 0.07229, 0.0])
    area = np.array([2.9635, 2.0351, 1.3398, 1.0382, 1.0])
    assert_allclose(choked_share(loss=loss, exponent=1.4), 1 / area, rtol=1e-4)


@pytest.mark.parametrize("reynolds", [2e4, 1e5, 1e6, 1e7])
def test_a_long_radius_nozzle_has_its_iso_coefficient(reynolds: float) -> None:
    # ISO 5167-3:2003, 5.2.6.2: C = 0.9965 - 0.00653 sqrt(beta 10^6 / Re_D), here by the Reynolds
    # number of the throat, whose length is 0.6 of its diameter.
    loss = duct_loss(land_ratio=0.6, reynolds=reynolds, **ROUND)
    found = duct_coefficients(loss=loss, exponent=np.inf, mach=0.0, thrust_ratio=0.0)
    assert_allclose(found[0], 0.9965 - 6.53 / np.sqrt(reynolds), atol=5e-3)


@pytest.mark.parametrize("reynolds", [2.1e4, 1e5, 1e6, 1e7])
def test_a_sonic_nozzle_without_land_has_its_iso_coefficient(reynolds: float) -> None:
    # ISO 9300:2005, toroidal throat: C = 0.9959 - 2.720 Re^-0.5 from Re = 21,000 on. Its entry is
    # twice as round as that of ISO 5167's nozzle, and thinner boundary layers pass more.
    loss = duct_loss(land_ratio=0.0, reynolds=reynolds, **ROUND)
    found = duct_coefficients(loss=loss, exponent=1.4, mach=1.0, thrust_ratio=0.13)
    assert_allclose(found[0], 0.9959 - 2.72 / np.sqrt(reynolds), atol=9e-3)


def test_a_short_tube_with_a_sharp_entry_passes_four_fifths() -> None:
    # Textbooks of hydraulics: 0.80 to 0.82 for a sharp-edged tube of two to three diameters.
    loss = duct_loss(land_ratio=2.5, reynolds=1e5, width=1.0, height=1.0, sharp_entry=1.0)
    found = duct_coefficients(loss=loss, exponent=np.inf, mach=0.0, thrust_ratio=0.0)
    assert 0.79 < found[0] < 0.82
    assert found[1] == found[0]


def test_a_long_duct_has_the_friction_of_developed_flow() -> None:
    # Between plates: 96 / Re by Poiseuille, 0.3164 Re^-0.25 by Blasius, over the hydraulic
    # diameter, here two widths; what the entry adds is small in so long a duct.
    for reynolds, friction in ((500.0, 96 / 500.0), (1e5, 0.3164 * 1e5**-0.25)):
        loss = duct_loss(
            land_ratio=4000.0, width=1.0, height=1e9, reynolds=reynolds, sharp_entry=0.0
        )
        assert_allclose(loss, friction * 2000.0, rtol=0.01)


@pytest.mark.parametrize(("loss", "within"), [(0.05, 0.004), (0.2, 0.011), (0.7, 0.022)])
def test_coefficients_between_liquid_and_choked_are_those_of_the_fanno_line(
    loss: float, within: float
) -> None:
    # Stations solved one by one: entry Mach number so that the duct ends at the pressure at which
    # an isentropic expansion has the Mach number `ideal`.
    k = 1.4

    def temperature(mach: float) -> float:
        return 1 / (1 + (k - 1) / 2 * mach**2)

    def flow(mach: float) -> float:
        return float(mach * temperature(mach) ** ((k + 1) / (2 * (k - 1))))

    def end(entry: float) -> float:
        rest = float(fanno_length(mach=entry, exponent=k)) - loss
        return float(brentq(lambda m: float(fanno_length(mach=m, exponent=k)) - rest, entry, 1.0))

    choking = float(brentq(lambda m: float(fanno_length(mach=m, exponent=k)) - loss, 0.01, 1.0))
    for ideal in (0.2, 0.5, 0.8, 0.95):
        pressure = temperature(ideal) ** (k / (k - 1))

        def off(entry: float, pressure: float = pressure) -> float:
            # Along the Fanno line p is as sqrt(T) / M; before it the flow is isentropic.
            last = end(entry)
            fall = entry / last * np.sqrt(temperature(last) / temperature(entry))
            return float(temperature(entry) ** (k / (k - 1)) * fall - pressure)

        entry = float(brentq(off, 1e-3, choking * (1 - 1e-9)))
        last = end(entry)
        speed = last * np.sqrt(temperature(last)) / (ideal * np.sqrt(temperature(ideal)))
        found = duct_coefficients(loss=loss, exponent=k, mach=ideal, thrust_ratio=1 / k)
        assert_allclose(found, (flow(entry) / flow(ideal), speed), rtol=within)


@pytest.mark.parametrize(
    ("area_ratio", "exponent", "reynolds", "within"),
    [
        (1.15, 1.13, 1e5, 0.05),
        (1.3, 1.4, 5e4, 0.05),
        (1.3, 1.4, 2e6, 0.05),
        (2.0, 1.4, 1e5, 0.05),
        (3.0, 1.3, 1e5, 0.1),
    ],
)
def test_friction_behind_the_throat_is_that_of_the_equations_integrated(
    area_ratio: float, exponent: float, reynolds: float, within: float
) -> None:
    # Shapiro 1953, ch. 8: change of the square of the Mach number with area and with friction, in
    # the wedge that is drawn, from the throat on; then jets by their stream thrust.
    k, width, height = exponent, 0.4e-3, 12e-3
    friction, tan = 0.3164 * reynolds**-0.25, np.tan(DIVERGENCE)

    def jet(friction: float) -> tuple[float, float]:
        """Stream thrust less that of the pressure behind, and pressure at the exit times area."""

        def along(area: float, square: NDArray[np.float64]) -> NDArray[np.float64]:
            m2, wide = square[0], area * width
            length = width / tan  # for each unit of area
            diameter = 2 * wide * height / (wide + height)
            drive = -2 / area + k * m2 * friction * length / diameter
            return np.array([m2 * (1 + (k - 1) / 2 * m2) / (1 - m2) * drive])

        first = 1 + 1e-5
        start = (1 + np.sqrt((first - 1) * (k + 1) / 2)) ** 2
        found = solve_ivp(
            along, (first, area_ratio), [start], rtol=1e-9, atol=1e-12, method="LSODA"
        )
        mach = float(np.sqrt(found.y[0, -1]))
        # Flow, total temperature and gas constant 1: speed, and pressure by continuity.
        speed = mach * np.sqrt(k / (1 + (k - 1) / 2 * mach**2))
        pushed = speed / (k * mach**2)  # p A = m R T / V
        return speed, pushed

    (speed, pushed), (rubbed, pushed_rubbed) = jet(0.0), jet(friction)
    for over in (0.0, 0.7, 1.3):  # pressure behind the nozzle over that at its exit
        ideal = speed + pushed * (1 - over)
        lost = ideal - (rubbed + pushed_rubbed - pushed * over)
        found = divergent_velocity(
            area_ratio=area_ratio,
            width=width,
            height=height,
            reynolds=reynolds,
            exponent=k,
            thrust_ratio=pushed / ideal,
        )
        assert 0.0005 < lost / ideal < 0.05
        assert_allclose(1 - found, lost / ideal, rtol=within)


def test_a_convergent_nozzle_and_a_liquid_have_no_friction_behind_the_throat() -> None:
    given = {"width": 3e-4, "height": 0.01, "reynolds": 1e5, "thrust_ratio": 0.3}
    found = divergent_velocity(
        area_ratio=np.array([1.0, 1.3, 1.3]), exponent=np.array([1.4, 2e4, np.nan]), **given
    )
    assert_allclose(found, [1.0, 1.0, np.nan])


def test_without_loss_nothing_is_lost_and_a_bad_value_stays_bad() -> None:
    found = duct_coefficients(
        loss=0.0,
        exponent=np.array([1.13, 1.4, 1e4]),
        mach=np.array([1.0, 0.4, 0.0]),
        thrust_ratio=0.2,
    )
    assert_allclose(found, 1.0, rtol=1e-6)
    lost = duct_coefficients(loss=np.nan, exponent=1.4, mach=1.0, thrust_ratio=0.2)
    assert np.isnan(lost).all()
