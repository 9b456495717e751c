"""Waves and peak stress of discs on spokes: tables, limits, and solutions by other means."""

import tomllib
from typing import Any

import numpy as np
import pytest
import scipy.linalg
import skfem  # type: ignore[import-untyped]
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import jv, yv
from skfem.helpers import ddot, dot, eye, sym_grad, trace  # type: ignore[import-untyped]

from engine.model.strength import tables_of_webs
from engine.physics.machine.web import (
    LEAST_SHARE,
    NODAL_DIAMETERS,
    SPOKES,
    WebShape,
    web_shape,
)
from engine.physics.machine.web_places import Places
from engine.physics.machine.web_waves import (
    Hold,
    WebWaves,
    forced_wave,
    modes_at_rest,
    peak_stress_ratio,
    web_waves,
)
from tests.support import web_stress, web_tables, whole_disc
from tests.support.clamped_disc import DiscModes, disc_modes, standing_wave
from tests.support.holed_disc import HoledWeb
from tests.support.web_stress import FilletedWeb, peak_stress
from tests.support.webbed_disc import Sector
from tests.support.webbed_plane import Fineness, Web

Lanes = NDArray[np.float64]
RPM = 2 * np.pi / 60
SHEET: dict[str, float] = {  # half a millimetre of stainless steel
    "thickness": 0.5e-3,
    "density": 7900.0,
    "youngs_modulus": 193e9,
    "poisson": 0.3,
    "expansion": 16e-6,
}
# disc, bore and shaft [mm], three spokes over a quarter
DRAWN = np.array([(90, 42, 8), (130, 90, 8), (80, 36, 8), (120, 50, 12)]) * 1e-3
UNIT: dict[str, Any] = {  # speeds over their scale
    "r_outer": 1.0,
    "thickness": 1.0,
    "density": 1.0,
    "youngs_modulus": 12 * (1 - 0.3**2),
    "poisson": 0.3,
    "expansion": 1 / (12 * (1 - 0.3**2)),
    "gap": 1.0,
}


def shapes(builds: Lanes, spokes: float = 3, blockage: float = 0.25) -> WebShape:
    return web_shape(
        shaft_radius=builds[:, 2] / 2,
        bore_radius=builds[:, 1] / 2,
        blockage=blockage,
        spokes=spokes,
    )


def places(builds: Lanes, spokes: float, blockage: float) -> Places:
    web, radii = shapes(builds, spokes, blockage), builds / 2
    return Places.of(
        tables_of_webs(), web=web, spokes=spokes, r_inner=radii[:, 1], r_outer=radii[:, 0]
    )


def waves(
    builds: Lanes, *, spokes: float = 3, heat: float = 0.0, fluid: float = 0.0, **other: Any
) -> WebWaves:
    return web_waves(
        places=places(builds, spokes, other.pop("blockage", 0.25)),
        r_outer=builds[:, 0] / 2,
        **{**SHEET, **other},
        temperature_difference=heat,
        fluid_mass=fluid,
        gap=0.5e-3,
        tables=tables_of_webs(),
    )


def unit_web(web: Web) -> dict[str, Any]:
    """What `web_waves` needs for a web over the rim radius."""
    one = np.ones(1)
    shape = WebShape(web.hub * one, web.spoke_width * one, 0 * one, one > 0)
    tables, spokes = tables_of_webs(), float(web.spokes)
    at = Places.of(tables, web=shape, spokes=spokes, r_inner=web.bore * one, r_outer=1.0)
    return {"places": at, "tables": tables}


def clamped(ratio: float) -> DiscModes:
    """The plain annulus clamped at its bore."""
    sheet = {key: UNIT[key] for key in ("thickness", "density", "youngs_modulus", "poisson")}
    return disc_modes(r_inner=ratio, r_outer=1.0, **sheet)


# --- limits of the solver ------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [0.3, 0.6])
def test_a_disc_held_all_round_has_the_modes_of_the_clamped_annulus(ratio: float) -> None:
    # The annulus is checked against roots of Bessel functions and NASA SP-160: test_vibration.py.
    plain = disc_modes(
        r_inner=ratio, **{k: UNIT[k] for k in SHEET if k != "expansion"}, r_outer=1.0
    )
    first = int(standing_wave(**vars(plain)).nodal_diameters)
    web = Web(ratio, 6, 0.2 * ratio, 0.3 * ratio, 0.2 * ratio)
    sector = Sector(web, "all round", Fineness(opening=8, flat=3.0))
    for n in (first, first + 1):
        room = n**2 - plain.stiffening[n]
        ours = next(wave for wave in sector.waves(n) if wave.share > 0.9)
        assert_allclose(ours.speed, plain.frequency[n] / np.sqrt(room), rtol=1e-3)


def test_twelve_spokes_over_nine_tenths_vibrate_as_if_held_all_round() -> None:
    web = Web(0.5, 12, 2 * 0.5 * np.sin(0.9 * np.pi / 12), 0.3, 0.2)
    plain = clamped(0.5)
    sector = Sector(web, "gripped", Fineness(ring=8, opening=3))
    for n in (0, 2, 3, 4):
        assert_allclose(sector.frequencies(n)[0], plain.frequency[n], rtol=0.02)


def test_fluid_between_plates_has_the_exact_modes_of_an_annulus_open_at_both_ends() -> None:
    # Cross products of Bessel functions (Abramowitz and Stegun 1964, art. 9.5).
    def open_ends(k: float, n: int) -> float:
        return float(jv(n, 0.4 * k) * yv(n, k) - jv(n, k) * yv(n, 0.4 * k))

    sector = Sector(Web(0.4, 3, 0.1, 0.1, 0.05), "all round", Fineness())
    for n in (0, 2, 4):
        reduced = sector.reduction(n % 3, of_fluid=True)
        flow, swept = (
            (reduced.conj().T @ sector.matrices[name] @ reduced).toarray()
            for name in ("flow", "swept")
        )
        squares = scipy.linalg.eigh(flow, swept, eigvals_only=True)[:8]
        exact = brentq(open_ends, 4.6, 8.5, args=(n,))
        assert np.min(np.abs(np.sqrt(squares) / exact - 1)) < 1e-4


# --- tables --------------------------------------------------------------------------------------


def stored(kind: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tomllib.loads(whole_disc.FILE.read_text("utf-8"))[kind]
    return found


def unit_waves(web: Web, hold: str) -> WebWaves:
    """Waves over their scale, of a web held in one way."""
    held: Hold = "hub" if hold == "hub" else "web"
    numbers = {**UNIT, "temperature_difference": 0.0, "fluid_mass": 0.0}
    return web_waves(**unit_web(web), **numbers, hold=held)


@pytest.mark.parametrize(
    ("kind", "web_of", "at"),
    [("webs", whole_disc.web_at, "places"), ("between", whole_disc.web_between, "web")],
)
def test_the_tables_agree_with_whole_discs_of_other_elements(
    kind: str, web_of: Any, at: str
) -> None:
    found = stored(kind)
    assert len(found) == len(whole_disc.WEBS if kind == "webs" else whole_disc.BETWEEN) >= 6
    for each in found:
        web, hold = web_of(*each[at])
        speed = unit_waves(web, hold).speed[0, each["nodal_diameters"] - 1]
        assert_allclose(speed, each["speed"], rtol=0.03, err_msg=str(each))
        if kind == "webs":
            sheet = {key: UNIT[key] for key in SHEET if key != "expansion"}
            modes = modes_at_rest(**unit_web(web), **sheet, r_outer=1.0)
            lowest = (modes.hub if hold == "hub" else modes.web)[0, 0]
            assert_allclose(lowest, each["frequency"], rtol=0.02, err_msg=str(each))


@pytest.mark.parametrize(
    ("web", "hold"),
    [
        (Web(0.4667, 3, 0.1310, 0.1310, 0.0889), "gripped"),
        (Web(0.4667, 3, 0.1310, 0.1310, 0.0889), "hub"),
        (Web(0.65, 6, 0.1, 0.16, 0.08), "gripped"),
    ],
)
def test_between_their_places_the_tables_follow_the_solver(web: Web, hold: Any) -> None:
    sector = Sector(web, hold, web_tables.fineness(web.spokes))
    found = unit_waves(web, hold)
    for n in (2, 3, 4, 5, 6):
        every = sector.waves(n, 40)
        counted = next(wave for wave in every if wave.share >= LEAST_SHARE)
        lower = [wave.share for wave in every if wave.speed < counted.speed]
        if counted.speed > 20 or LEAST_SHARE - max(lower, default=0.0) < 0.03:
            continue  # far above any disc's speed, or a wave that nearly counts is below
        assert_allclose(found.speed[0, n - 1], counted.speed, rtol=0.03)


def test_a_web_that_slides_in_its_plane_is_no_worse_than_one_that_is_gripped() -> None:
    for bore, width in ((0.4667, 0.131), (0.69, 0.178), (0.3, 0.1)):
        web = Web(bore, 3, width, width, 0.7 * width)
        low = {
            hold: min(
                next(wave.speed for wave in sector.waves(n, 40) if wave.share >= 0.1)
                for n in (2, 4)
            )
            for hold in ("gripped", "slipping")
            for sector in [Sector(web, hold, web_tables.fineness(3))]
        }
        assert low["slipping"] > 0.99 * low["gripped"]


def test_discs_of_a_finite_element_trial_made_before_these_tables() -> None:
    # Trial with Morley triangles, elastic spokes, hub held: lowest wave of two nodal diameters of
    # the first two discs 16,700 and 9,200 rpm; gripped over its bore 18,200 (three diameters or
    # more) and 8,500. The hub alone is never far above the lower end of both.
    found = waves(DRAWN[:2])
    speed = found.speed[:, 1] / RPM
    assert np.all(speed < 1.02 * np.array([16_700, 8_500]))
    assert np.all(speed > 0.85 * np.array([12_100, 8_200]))  # solved anew, gripped


def test_a_hot_rim_and_heavy_fluid_lower_the_waves() -> None:
    cold = waves(DRAWN).speed[:, 1]
    assert np.all(waves(DRAWN, heat=5.0).speed[:, 1] < cold)
    wet = waves(DRAWN, fluid=np.array([1e-3, 1e-2, 0.1, 0.5])).speed[:, 1]  # type: ignore[arg-type]
    assert np.all(np.diff(wet / cold) < 0)


@pytest.mark.parametrize(("moved", "within"), [(30.0, 0.02), (200.0, 0.08)])
def test_fluid_lowers_a_wave_as_the_solver_says(moved: float, within: float) -> None:
    web = Web(0.44, 3, 0.2 * 0.44, 0.3 * 0.44, 0.05)
    sector = Sector(web, "gripped", web_tables.fineness(3))
    given = {**unit_web(web), **UNIT, "temperature_difference": 0.0}
    dry = web_waves(**given, fluid_mass=0.0)
    wet = web_waves(**given, fluid_mass=moved / 2)
    for n in (4, 7):
        exact = [
            next(wave.speed for wave in sector.waves(n, 40, fluid) if wave.share >= 0.1)
            for fluid in (0.0, moved)
        ]
        ratio = float(wet.speed[0, n - 1] / dry.speed[0, n - 1])
        assert_allclose(ratio, exact[1] / exact[0], rtol=within)


def test_lanes_outside_the_tables_are_nan_and_leave_the_others_alone() -> None:
    builds = np.array([(90, 42, 8), (90, 85, 8), (200, 14, 8), (90, 42, 8)]) * 1e-3
    found = waves(builds, spokes=np.array([3.0, 3.0, 3.0, 7.0]))  # type: ignore[arg-type]
    assert np.isnan(found.speed).all(axis=1).tolist() == [False, True, True, True]
    assert_allclose(found.speed[0], waves(builds[:1]).speed[0], rtol=1e-12)


def test_a_share_that_no_web_fills_is_told() -> None:
    assert not shapes(DRAWN[:1], 12, 0.1).fits[0]
    assert shapes(DRAWN[:1], 3, 0.25).fits[0]
    assert np.isnan(web_shape(shaft_radius=2.0, bore_radius=1.0, blockage=0.2, spokes=3).hub_radius)


# --- forcing -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("nozzles", "speed", "nodal"),
    [(1, 100.0, 3), (2, 200.0, 6), (3, 100.0, 3), (4, 300.0, 8), (5, 500.0, 10), (16, 100.0, 3)],
)
def test_nozzles_force_their_multiples_only(nozzles: int, speed: float, nodal: int) -> None:
    speeds = np.full((1, NODAL_DIAMETERS.size), 900.0)
    for n, low in ((3, 100.0), (6, 200.0), (8, 300.0), (10, 500.0)):
        speeds[0, n - 1] = low
    found = forced_wave(speed=speeds, nozzle_count=float(nozzles))
    assert (found.speed[0], found.nodal_diameters[0]) == (speed, nodal)
    assert (found.any_speed[0], found.any_nodal_diameters[0]) == (100.0, 3)


def test_one_lobe_is_forced_whatever_the_number_of_nozzles() -> None:
    speeds = np.full((1, NODAL_DIAMETERS.size), np.inf)
    speeds[0, 0] = 50.0
    assert forced_wave(speed=speeds, nozzle_count=5.0).speed[0] == 50.0


def test_an_unknown_wave_makes_the_lowest_unknown() -> None:
    speeds = np.full((2, NODAL_DIAMETERS.size), 900.0)
    speeds[1, 4] = np.nan
    found = forced_wave(speed=speeds, nozzle_count=2.0)
    assert np.isnan(found.speed).tolist() == [False, True]
    assert np.isnan(found.nodal_diameters).tolist() == [False, True]


# --- peak stress ---------------------------------------------------------------------------------


def peaks(builds: Lanes, spokes: float = 3, blockage: float = 0.25) -> Lanes:
    return np.asarray(
        peak_stress_ratio(
            places=places(builds, spokes, blockage),
            shaft_radius=builds[:, 2] / 2,
            r_inner=builds[:, 1] / 2,
            tables=tables_of_webs(),
        )
    )


def triangles_peak(web: FilletedWeb | HoledWeb) -> float:
    """Peak stress with the hub free, by six-node triangles of another library, over the plain."""
    nodes, elements = (
        web_stress._holed(web, 2.4) if isinstance(web, HoledWeb) else web_stress._mesh(web, 2.4)
    )
    corners = np.vstack([elements[:, [0, 6, 8]], elements[:, [0, 8, 2]]])
    middles = np.vstack([elements[:, [3, 7, 4]], elements[:, [4, 5, 1]]])
    used, place = np.unique(corners, return_inverse=True)
    plain = skfem.MeshTri(nodes[:, used], place.reshape(corners.shape).T)
    mesh = skfem.MeshTri2.from_mesh(plain)
    halfway = {
        frozenset((int(a), int(b))): m
        for tri, mids in zip(corners, middles, strict=True)
        for a, b, m in zip(tri, np.roll(tri, -1), mids, strict=True)
    }
    for facet, (a, b) in enumerate(used[plain.facets].T):
        at = nodes[:, halfway[frozenset((int(a), int(b)))]]
        mesh.doflocs[:, plain.p.shape[1] + facet] = at
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementTriP2()), intorder=4)
    shear, lame = 1 / 2.6, 0.3 / 0.91

    @skfem.BilinearForm
    def stiffness(u, v, _):  # type: ignore[no-untyped-def]
        e = sym_grad(u)
        return ddot(lame * eye(trace(e), 2) + 2 * shear * e, sym_grad(v))

    @skfem.LinearForm
    def spin(v, w):  # type: ignore[no-untyped-def]
        return w.x[0] * v[0] + w.x[1] * v[1]

    @skfem.BilinearForm
    def mirror(u, v, w):  # type: ignore[no-untyped-def]
        return dot(u, w.n) * dot(v, w.n)

    edge = np.pi / web.spokes
    lines = mesh.facets_satisfying(
        lambda x: (np.abs(np.arctan2(x[1], x[0]) - edge) < 1e-7) | (np.abs(x[1]) < 1e-9),
        boundaries_only=True,
    )
    sides = skfem.FacetBasis(mesh, basis.elem, facets=lines, intorder=4)
    u = skfem.solve(stiffness.assemble(basis) + 1e7 * mirror.assemble(sides), spin.assemble(basis))
    e = sym_grad(basis.interpolate(u))
    s = np.asarray(lame * eye(trace(e), 2) + 2 * shear * e)
    mises = np.sqrt(s[0, 0] ** 2 - s[0, 0] * s[1, 1] + s[1, 1] ** 2 + 3 * s[0, 1] ** 2)
    return float(mises.max() / ((3.3 + 0.7 * web.bore**2) / 4))


@pytest.mark.parametrize("spokes", SPOKES)
def test_peak_stress_agrees_with_triangles_of_another_library(spokes: int) -> None:
    width = float(web_tables.widths(spokes)[2])
    web, _ = whole_disc.web_at(spokes, 3, 2, 0)
    web = Web(web.bore, spokes, width * web.bore, web.hub, web.shaft)
    shaped = whole_disc.filleted(web)
    # Points of integration lie just inside the edge where the stress peaks.
    ours = peak_stress(shaped, fineness=1.6, holds=("free",)).hub_free
    assert 0.97 * ours < triangles_peak(shaped) < 1.01 * ours


def test_peak_stresses_of_a_finite_element_trial_made_before_these_tables() -> None:
    # The larger of hub free and hub held, by plane stress on fine meshes.
    assert_allclose(peaks(DRAWN), [2.79, 2.36, 3.11, 4.01], rtol=0.08)


@pytest.mark.parametrize("place", whole_disc.BETWEEN)
def test_between_their_places_the_tables_of_stress_follow_the_solver(place: Any) -> None:
    spokes, ratio, width, hub, _ = place
    web, _ = whole_disc.web_between(spokes, ratio, width, hub or 0.45)
    shape = whole_disc.filleted(web)
    found = peak_stress(shape, fineness=1.4)
    one = np.ones(1)
    cut = WebShape(web.hub * one, web.spoke_width * one, shape.fillet * one, one > 0)
    tables = tables_of_webs()
    at = Places.of(tables, web=cut, spokes=float(spokes), r_inner=ratio * one, r_outer=1.0)
    ours = peak_stress_ratio(places=at, shaft_radius=shape.shaft, r_inner=ratio, tables=tables)
    assert_allclose(ours, max(found.hub_free, found.hub_held), rtol=0.03)


def test_a_web_outside_the_tables_has_no_peak_stress() -> None:
    assert np.isnan(peaks(np.array([(90, 85, 8), (90, 42, 8)]) * 1e-3)).tolist() == [True, False]
