"""Rings on bolts: what fits, drag of washers, and tables against solutions by other means."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.model.strength import tables_of_webs
from engine.physics.machine.bolts import BoltCircle, bolt_circle, washer_drag, washer_place
from engine.physics.machine.disc import rotating_stress
from engine.physics.machine.web import LEAST_SHARE, ROUND_WASHER, web_shape
from engine.physics.machine.web_places import Places
from engine.physics.machine.web_waves import modes_at_rest, peak_stress_ratio, web_waves
from tests.physics.machine.test_web import UNIT, clamped, stored
from tests.support import web_tables, whole_disc
from tests.support.bolted_disc import BoltedSector, BoltedWeb
from tests.support.web_shapes import KEPT
from tests.support.web_stress import peak_stress

Lanes = NDArray[np.float64]
ONE = np.ones(1)
BETWEEN = (
    # Bolts, bore over rim, washer over ring, place of the circle: away from those of the tables
    (3, 0.5, 0.14, 0.35),
    (4, 0.37, 0.09, 0.6),
    (6, 0.47, 0.17, 0.1),
    (6, 0.64, 0.2, 0.55),
    (8, 0.51, 0.12, 0.33),
    (12, 0.51, 0.1, 0.6),
)


def at(web: BoltedWeb, *, wide: float = ROUND_WASHER) -> Places:
    """Place of a ring, whose lengths are over the rim radius.

    Its washer is one of the tables, of the size 1 a round one.
    """
    plates = web_shape(
        shaft_radius=0.1 * web.bore, bore_radius=web.bore * ONE, blockage=0.3, spokes=3
    )
    washer = web.washer / wide * ONE
    bolts = BoltCircle(web.circle * ONE, washer, web.hole * ONE, ONE > 0, ONE > 0)
    return Places.of(
        tables_of_webs(),
        web=replace(plates, fits=ONE > 0),
        spokes=float(web.spokes),
        r_inner=web.bore * ONE,
        r_outer=1.0,
        bolts=bolts,
    )


def speeds(web: BoltedWeb, *, wide: float = ROUND_WASHER) -> Lanes:
    """At which waves stand still, over their scale, by nodal diameters."""
    numbers = {**UNIT, "temperature_difference": 0.0, "fluid_mass": 0.0}
    return np.asarray(
        web_waves(places=at(web, wide=wide), tables=tables_of_webs(), **numbers).speed[0]
    )


# --- shape ---------------------------------------------------------------------------------------


def test_washers_stay_on_the_ring_and_apart() -> None:
    given = {"r_inner": 0.021, "r_outer": 0.045, "bolt": 3e-3}
    circle = np.array([np.nan, 0.066, 0.048, 0.084, 0.0495])
    found = bolt_circle(**given, bolts=6.0, circle=circle, washer=7e-3)  # type: ignore[arg-type]
    assert_allclose(found.circle[:2], 0.033)
    assert found.fits.tolist() == [True, True, False, False, True]
    crowded = bolt_circle(**given, bolts=np.array([8.0, 12.0, 24.0]), circle=0.066, washer=14e-3)  # type: ignore[arg-type]
    assert crowded.fits.tolist() == [True, False, False]
    slim = bolt_circle(**given, bolts=6.0, circle=0.066, washer=np.array([3e-3, 3.1e-3]))  # type: ignore[arg-type]
    assert slim.fits.tolist() == [False, True]


def test_places_run_from_the_bore_to_the_rim() -> None:
    circle = np.array([0.049, 0.066, 0.083])
    bolts = bolt_circle(
        r_inner=0.021, r_outer=0.045, bolts=6.0, circle=circle, bolt=3e-3, washer=7e-3
    )
    wide, out = washer_place(bolts=bolts, r_inner=0.021, r_outer=0.045)
    # What a washer holds is smaller than itself, so none reaches the ends.
    assert_allclose(out, [1 - out[2], 0.5, out[2]])
    assert 0.95 < out[2] < 1.0
    held = ROUND_WASHER * 3.5 / 24
    assert_allclose(wide, np.log(held / 0.05) / np.log(0.4 / 0.05))


# --- drag ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reynolds", "published"), [(100, 1.4), (1e3, 1.0), (1e4, 1.1), (1e5, 1.2)]
)
def test_few_washers_have_the_drag_of_long_cylinders(reynolds: float, published: float) -> None:
    # Wieselsberger, Phys. Z. 22, 1921, as in Schlichting, Boundary-Layer Theory (from memory).
    swirl, washer, density, gap = 10.0, 1e-3, 1.2, 1e-6
    power = washer_drag(
        density=density,
        viscosity=density * swirl * washer / reynolds,
        swirl=swirl,
        flow=1e-4,
        bolts=1.0,
        circle=1e4,
        washer=washer,
        gap=gap,
        gap_count=1.0,
    )
    force = density * swirl**2 / 2 * washer * gap
    assert_allclose(power / (force * swirl), published, rtol=0.2)


def test_washers_never_dissipate_more_than_the_swirl_holds() -> None:
    bolts = np.array([1.0, 6.0, 12.0])
    power = np.asarray(washer_drag(
        density=4.0, viscosity=2e-5, swirl=100.0, flow=0.03, bolts=bolts, circle=0.033,
        washer=7e-3, gap=4e-4, gap_count=29.0,
    ))  # fmt: skip
    assert np.all(np.diff(power) > 0)
    # Swirl, and a little of the radial speed, which many washers raise.
    assert power[0] > 0.3 * 0.03 * 100.0**2 / 2
    assert power[1] < 1.05 * 0.03 * 100.0**2 / 2
    still = washer_drag(
        density=4.0, viscosity=2e-5, swirl=0.0, flow=0.0, bolts=6.0, circle=0.033, washer=7e-3,
        gap=4e-4, gap_count=29.0,
    )  # fmt: skip
    assert still == 0.0


def test_washers_that_fill_their_circle_have_no_drag() -> None:
    power = washer_drag(
        density=4.0, viscosity=2e-5, swirl=10.0, flow=0.03, bolts=30.0, circle=0.033, washer=7e-3,
        gap=4e-4, gap_count=29.0,
    )  # fmt: skip
    assert np.isnan(power)


# --- solver --------------------------------------------------------------------------------------


def test_washers_all_along_their_circle_hold_the_outer_ring_as_a_clamp() -> None:
    # Twelve washers that nearly touch hold a ring as its bore, clamped all round, would.
    web = BoltedWeb(0.3, 12, 0.5, 0.13)
    held = BoltedSector(web, "gripped", web_tables.fineness(12))
    plain = clamped(web.circle + web.half)
    for n in (0, 2, 3):
        found = held.frequencies(n)[0]
        assert 0.85 * plain.frequency[n] < found < 1.02 * plain.frequency[n]


def test_loose_bolts_hold_less_than_tight_ones() -> None:
    web = web_tables.bolted(0.44, 6, 0.13, 0.45)
    tight, loose = (BoltedSector(web, hold, web_tables.fineness(6)) for hold in ("gripped", "hub"))
    for n in range(4):
        assert np.all(loose.frequencies(n)[:3] < tight.frequencies(n)[:3])


def test_a_small_hole_concentrates_stress_as_in_a_sheet_pulled_both_ways() -> None:
    # Kirsch, Z. VDI 42, 1898 (from memory): three times the larger pull less the smaller one.
    web = replace(web_tables.bolted(0.44, 3, 0.12, 0.6), hole=0.004)
    around = rotating_stress(
        r_inner=0.44, r_outer=1.0, density=1.0, speed=1.0, poisson=0.3, radius=web.circle
    )
    plain = (3.3 + 0.7 * 0.44**2) / 4
    found = peak_stress(web, fineness=2.0, holds=("free",)).hub_free
    assert_allclose(found * plain, 3 * around.hoop - around.radial, rtol=0.02)


# --- tables --------------------------------------------------------------------------------------


def test_the_tables_agree_with_whole_discs_of_other_elements() -> None:
    found = stored("bolts")
    assert len(found) == len(whole_disc.BOLTS) >= 6
    for each in found:
        web, _ = whole_disc.bolted(*each["web"])
        ours = speeds(web, wide=1.0)[each["nodal_diameters"] - 1]
        assert_allclose(ours, each["speed"], rtol=0.06, err_msg=str(each))
        sheet = {key: UNIT[key] for key in ("r_outer", "thickness", "density", "poisson")}
        sheet["youngs_modulus"] = UNIT["youngs_modulus"]
        lowest = modes_at_rest(places=at(web, wide=1.0), tables=tables_of_webs(), **sheet).hub[0, 0]
        assert_allclose(lowest, each["frequency"], rtol=0.05, err_msg=str(each))


@pytest.mark.parametrize("place", BETWEEN)
def test_between_their_places_the_tables_follow_the_solver(place: tuple[int, ...]) -> None:
    bolts, bore, washer, circle = place
    web = web_tables.bolted(bore, int(bolts), washer, circle)
    sector = BoltedSector(web, "gripped", web_tables.fineness(web.spokes))
    lowest = [
        min((w.speed for w in sector.waves(n, KEPT) if w.share >= LEAST_SHARE), default=np.inf)
        for n in range(2, 13)
    ]
    assert_allclose(speeds(web)[1:].min(), min(lowest), rtol=0.06)


@pytest.mark.parametrize("place", BETWEEN[:4])
def test_between_their_places_the_tables_of_stress_follow_the_solver(
    place: tuple[int, ...],
) -> None:
    bolts, bore, washer, circle = place
    web = web_tables.bolted(bore, int(bolts), washer, circle)
    web = replace(web, hole=0.47 * web.washer)
    ours = peak_stress_ratio(
        places=at(web), shaft_radius=0.1 * web.bore, r_inner=web.bore, tables=tables_of_webs()
    )
    assert_allclose(ours, peak_stress(web, fineness=1.4, holds=("free",)).hub_free, rtol=0.05)
