"""Discs with round holes: shape, limits, and solutions by other means."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.model.strength import tables_of_webs
from engine.physics.machine.disc import rotating_stress
from engine.physics.machine.web import HOLES, WebShape, web_shape, widest_wall
from engine.physics.machine.web_places import Places
from engine.physics.machine.web_waves import modes_at_rest, peak_stress_ratio, web_waves
from tests.physics.machine.test_web import UNIT, clamped, stored, triangles_peak
from tests.support import web_stress, web_tables, whole_disc
from tests.support.holed_disc import HoledSector, HoledWeb
from tests.support.web_stress import peak_stress
from tests.support.webbed_plane import Fineness

Lanes = NDArray[np.float64]
ONE = np.ones(1)


def at(web: HoledWeb) -> Places:
    """Place of a web, whose lengths are over the rim radius."""
    shape = WebShape(web.hub * ONE, web.spoke_width * ONE, web.hole * ONE, ONE > 0, ONE > 0)
    spokes = float(web.spokes)
    return Places.of(
        tables_of_webs(), web=shape, spokes=spokes, r_inner=web.bore * ONE, r_outer=1.0
    )


# --- shape ---------------------------------------------------------------------------------------


def test_holes_leave_the_share_that_is_asked_and_touch_bore_and_hub() -> None:
    web = web_shape(shaft_radius=0.004, bore_radius=0.018, blockage=0.5 * ONE, spokes=6, holes=True)
    open_area = 6 * np.pi * web.fillet**2
    assert_allclose(open_area / (np.pi * (0.018**2 - 0.004**2)), 0.5, rtol=1e-12)
    drawn = HoledWeb(18.0, 6, 1e3 * float(web.spoke_width[0]))
    assert_allclose([drawn.hole, drawn.hub], 1e3 * np.array([web.fillet[0], web.hub_radius[0]]))
    # Neighbouring middles stand two radii and the wall apart.
    apart = 2 * drawn.pitch * np.sin(np.pi / 6)
    assert_allclose(apart, 2 * drawn.hole + drawn.spoke_width)
    assert web.fits.all()


def test_walls_and_hub_bound_the_holes() -> None:
    share = np.array([0.3, 0.44, 0.46, 0.9])  # six holes with walls of 2 mm leave 0.554
    holes = web_shape(shaft_radius=0.004, bore_radius=0.018, blockage=share, spokes=6, holes=True)
    assert holes.fits.tolist() == [False, True, True, True]
    assert np.all(holes.spoke_width > 0.002 - 1e-9)
    few = web_shape(shaft_radius=0.012, bore_radius=0.018, blockage=0.5, spokes=3, holes=True)
    assert not few.fits
    assert_allclose(few.hub_radius, 0.0135)


def test_spokes_beside_holes_are_what_they_are_alone() -> None:
    given = {"shaft_radius": 0.004, "bore_radius": 0.018, "blockage": np.full(2, 0.5), "spokes": 6}
    alone = web_shape(**given)  # type: ignore[arg-type]
    mixed = web_shape(**given, holes=np.array([True, False]))  # type: ignore[arg-type]
    for key in ("hub_radius", "spoke_width", "fillet", "fits"):
        assert getattr(mixed, key)[1] == getattr(alone, key)[1]
    assert mixed.holes.tolist() == [True, False]  # type: ignore[union-attr]


# --- limits of the solver ------------------------------------------------------------------------


def test_small_holes_gripped_between_wide_arms_vibrate_as_if_held_all_round() -> None:
    web = HoledWeb(0.5, 12, 0.92 * 2 * 0.5 * np.sin(np.pi / 12))
    sector = HoledSector(web, "gripped", Fineness(ring=8, opening=3))
    plain = clamped(0.5)
    for n in (0, 2, 3, 4):
        assert_allclose(sector.frequencies(n)[0], plain.frequency[n], rtol=0.02)


def test_small_holes_leave_a_disc_clamped_at_its_hub() -> None:
    web = HoledWeb(0.5, 12, 0.97 * 2 * 0.5 * np.sin(np.pi / 12))
    sector = HoledSector(web, "hub", Fineness(ring=8, opening=3))
    plain = clamped(web.hub)
    for n in (0, 2, 3, 4):
        assert_allclose(sector.frequencies(n)[0], plain.frequency[n], rtol=0.02)


def test_a_small_hole_concentrates_stress_as_in_a_sheet_pulled_both_ways() -> None:
    # Kirsch, Z. VDI 42, 1898 (from memory): three times the larger pull less the smaller one.
    hole, bore = 0.01, 0.5
    wall = 2 * ((bore - hole) * np.sin(np.pi / 3) - hole)
    web = replace(HoledWeb(bore, 3, wall), shaft=0.2)
    assert_allclose(web.hole, hole)
    around = rotating_stress(
        r_inner=0.2, r_outer=1.0, density=1.0, speed=1.0, poisson=0.3, radius=web.pitch
    )
    nodes, elements = web_stress._holed(web, 3.0)
    stress = web_stress._stress(web, nodes, elements, 0.3, held=False)
    # The shaft hole, far away, is stressed too.
    beside = np.hypot(*nodes) > web.hub * (1 - 1e-9)
    assert_allclose(stress[beside].max(), 3 * around.hoop - around.radial, rtol=0.05)


# --- tables --------------------------------------------------------------------------------------


def test_the_tables_agree_with_whole_discs_of_other_elements() -> None:
    found = stored("holes")
    assert len(found) == len(whole_disc.HOLES) >= 6
    for each in found:
        web, hold = whole_disc.holed(*each["web"])
        held: Any = "hub" if hold == "hub" else "web"
        numbers = {**UNIT, "temperature_difference": 0.0, "fluid_mass": 0.0}
        waves = web_waves(places=at(web), tables=tables_of_webs(), hold=held, **numbers)
        ours = waves.speed[0, each["nodal_diameters"] - 1]
        assert_allclose(ours, each["speed"], rtol=0.03, err_msg=str(each))
        sheet = {key: UNIT[key] for key in ("r_outer", "thickness", "density", "poisson")}
        sheet["youngs_modulus"] = UNIT["youngs_modulus"]
        modes = modes_at_rest(places=at(web), tables=tables_of_webs(), **sheet)
        lowest = (modes.hub if hold == "hub" else modes.web)[0, 0]
        assert_allclose(lowest, each["frequency"], rtol=0.02, err_msg=str(each))


@pytest.mark.parametrize("spokes", HOLES)
def test_peak_stress_agrees_with_triangles_of_another_library(spokes: int) -> None:
    web = HoledWeb(0.44, spokes, 0.44 * float(web_tables.widths(spokes, "holes")[1]))
    web = replace(web, shaft=0.6 * web.hub)
    ours = peak_stress(web, fineness=1.4, holds=("free",)).hub_free
    # Points of integration lie just inside the edge where the stress peaks.
    assert 0.97 * ours < triangles_peak(web) < 1.01 * ours


@pytest.mark.parametrize(
    ("spokes", "bore", "wall"),
    [(3, 0.51, 0.25), (5, 0.37, 0.14), (6, 0.38, 0.111), (6, 0.65, 0.12), (4, 0.51, 0.15)],
)
def test_between_their_places_the_tables_of_stress_follow_the_solver(
    spokes: int, bore: float, wall: float
) -> None:
    web = HoledWeb(bore, spokes, wall * bore)
    web = replace(web, shaft=0.6 * web.hub)
    found = peak_stress(web, fineness=1.4)
    ours = peak_stress_ratio(
        places=at(web), shaft_radius=web.shaft, r_inner=bore, tables=tables_of_webs()
    )
    assert_allclose(ours, max(found.hub_free, found.hub_held), rtol=0.03)


def test_holes_of_the_tables_end_where_they_leave_too_little() -> None:
    for spokes in HOLES:
        web = HoledWeb(1.0, spokes, float(widest_wall(spokes=spokes)))
        assert_allclose(spokes * web.hole**2, 0.15)
        assert HoledWeb(1.0, spokes, 0.06).hub > 0.1
