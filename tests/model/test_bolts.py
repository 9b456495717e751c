"""Builds whose discs bolts hold: their balance, masses, margins, and what is said of them."""

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.columns import LOSSES
from engine.model.bolts import STIFFER, bolts_of_build
from engine.model.evaluation import evaluate
from engine.model.shaft_layout import shaft_layout, stage_distance
from engine.model.strength import places_of, tables_of_webs
from engine.model.tapped import tapped_disc
from engine.model.validity import NO_BOLTS, SOFT_PLATES
from engine.physics.machine.web_waves import peak_stress_ratio
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]
HOLDS = np.array(["spokes", "bolts", "bolts", "bolts", "bolts"])
BUILD = {
    "disc_count": 20.0, "disc_diameter": 0.09, "gap": 0.4e-3, "inlet_angle": 0.2,
    "exhaust_bore": 0.042, "speed": 1800.0, "disc_thickness": 0.8e-3, "spokes": 6.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def found(shop_air: Study) -> Columns:
    """Spokes; bolts midway, near the bore, off the ring, and with thick discs."""
    builds = {key: np.full(HOLDS.size, value) for key, value in BUILD.items()}
    builds["hold"] = HOLDS
    builds["bolt_circle"] = np.array([np.nan, np.nan, 0.052, 0.086, np.nan])
    builds["disc_thickness"][4] = 3e-3
    return evaluate(shop_air, builds)


def test_washers_take_power_that_spokes_do_not(found: Columns) -> None:
    assert (found["status"] == "matched").all()
    total = found["electric_power"] + sum(found[key] for key in LOSSES)
    assert_allclose(total, found["isentropic_power"], rtol=1e-12)
    assert found["loss_bolts"][0] == 0.0
    assert np.all(found["loss_bolts"][1:3] > 0.01 * found["isentropic_power"][1:3])
    # Nothing else in the flow knows of them.
    assert_allclose(found["loss_gap"][1:3], found["loss_gap"][0], rtol=1e-12)


def test_rims_of_end_clamps_brake_beside_the_casing(shop_air: Study) -> None:
    # The same flow with spokes, with bolts, and with bolts in a casing that is wider by far.
    builds = {key: np.full(3, value) for key, value in BUILD.items()}
    builds |= {"hold": np.array(["spokes", "bolts", "bolts"]), "speed": np.array([3e3, 3e3, 0.9e3])}
    found = evaluate(shop_air, builds)
    more = found["loss_windage"][1] - found["loss_windage"][0]
    assert_allclose(found["rotor_power"][1], found["rotor_power"][0], rtol=1e-12)
    # Both rims with fluid that stands still before them, with the friction of air at 1 bar or more.
    rim, area = 3e3 * 0.045, 2 * 5e-3 * 2 * np.pi * 0.045
    still = 0.5 * 0.006 * 1.9 * rim**3 * area
    assert 0.02 * still < more < 0.5 * still
    # At the slower speed the ring runs ahead and drives them, which is not given to the shaft.
    assert found["loss_windage"][2] == 0.0


def test_end_clamps_yield_with_their_web_and_rings_at_their_holes(shop_air: Study) -> None:
    # Rings alone, by the tables of bolts; end clamps as wide as a disc on the same spokes.
    builds = {key: np.full(4, value) for key, value in BUILD.items()}
    builds |= {"hold": np.repeat(["spokes", "bolts"], 2), "spokes": np.full(4, 3.0)}
    builds["exhaust_bore"] = np.array([0.042, 0.068, 0.042, 0.068])
    found = evaluate(shop_air, builds)
    build = {key: found[key] for key in (*shop_air.fixed(), *BUILD, "bolt_circle", "hold")}
    rings = np.asarray(
        peak_stress_ratio(
            places=places_of(build),
            shaft_radius=build["shaft_diameter"] / 2,
            r_inner=build["exhaust_bore"] / 2,
            tables=tables_of_webs(),
        )
    )
    spoked, bolted = found["peak_stress_ratio"].reshape(2, 2)
    assert_allclose(bolted, np.maximum(spoked, rings[2:]), rtol=1e-12)
    assert rings[2] < spoked[0]
    assert rings[3] > spoked[1]
    # Of the same metal, what yields first yields at the same speed as a disc on those spokes.
    yields = found["yield_speed"].reshape(2, 2)
    assert_allclose(yields[1, 0], yields[0, 0], rtol=1e-12)
    assert yields[1, 1] < yields[0, 1]


def test_a_notch_factor_that_is_stated_counts_for_rings_and_end_clamps(shop_air: Study) -> None:
    stated = {**BUILD, "hold": "bolts", "notch_factor": 1.5}
    found = evaluate(shop_air, {key: np.array([value]) for key, value in stated.items()})
    assert found["peak_stress_ratio"][0] == 1.5


def test_end_plates_as_wide_as_the_discs_weigh(found: Columns) -> None:
    # Two plates of 5 mm steel between 42 and 90 mm, less the webs of the stack.
    plates = 2 * 5e-3 * np.pi / 4 * (0.09**2 - 0.042**2) * 7900
    gained = found["rotor_mass"][1] - found["rotor_mass"][0]
    assert 0.6 * plates < gained < 1.2 * plates
    assert found["stored_energy"][1] < found["stored_energy"][0]


def test_end_plates_stand_between_stack_and_side_gap(shop_air: Study, found: Columns) -> None:
    # Both bearings stand off by a plate of 5 mm more, and the shaft bends sooner.
    build = {key: found[key][:2] for key in (*shop_air.fixed(), *BUILD, "bolt_circle")}
    layout = shaft_layout(build, height=found["stack_height"][:2])
    assert_allclose(np.diff(layout.bearing_distance), 5e-3)
    assert_allclose(np.diff(layout.collar_length), 0.0, atol=1e-12)
    assert_allclose(np.diff(stage_distance(build)), 10e-3)
    assert found["shaft_critical_speed"][1] < 0.95 * found["shaft_critical_speed"][0]


def test_what_does_not_fit_or_hold_is_said(found: Columns) -> None:
    told = [NO_BOLTS in note for note in found["validity"]]
    assert told == [False, False, False, True, False]
    assert np.isnan(found["safety_margin"][3])
    soft = [SOFT_PLATES in note for note in found["validity"]]
    assert soft == [False, False, False, False, True]
    assert 20 * 0.8**3 < 2 * 5**3 / STIFFER < 20 * 3.0**3


def test_a_lane_on_spokes_is_the_same_beside_lanes_on_bolts(
    shop_air: Study, found: Columns
) -> None:
    alone = evaluate(shop_air, {key: np.full(1, value) for key, value in BUILD.items()})
    for key in ("electric_power", "wave_speed", "peak_stress_ratio", "shaft_critical_speed"):
        assert_allclose(alone[key], found[key][:1], rtol=1e-12)


def test_a_bolt_that_is_loose_lets_the_disc_ring_lower(shop_air: Study) -> None:
    build = {**shop_air.fixed(), **BUILD, "hold": "bolts"}
    disc = tapped_disc(build)
    assert np.isfinite(disc.frequency).all()
    assert_allclose(disc.radius[[0, -1]], [1.5e-3, 3.5e-3])
    assert np.all(np.diff(disc.frequency, axis=0) >= 0)
    assert np.all(np.diff(disc.frequency, axis=1) >= 0)
    assert disc.frequency[0, 0] < 0.95 * disc.frequency[-1, 0]


def test_a_bolt_needs_its_diameter_of_thread_in_steel_and_half_more_in_aluminium(
    shop_air: Study,
) -> None:
    # End clamps are 5 mm thick. Common practice, no source.
    sizes = {"stainless-301-full-hard": (5.0, 6.0), "aluminium-6061-t6": (3.0, 4.0)}
    fits = {}
    for material, diameters in sizes.items():
        build = {key: np.full(2, value) for key, value in (shop_air.fixed() | BUILD).items()}
        build |= {"hold": np.full(2, "bolts"), "material": np.full(2, material)}
        build |= {"bolt_diameter": 1e-3 * np.array(diameters), "washer_diameter": np.full(2, 12e-3)}
        bolts = bolts_of_build(build)
        assert bolts is not None
        fits[material] = bolts.fits.tolist()
    assert all(fit == [True, False] for fit in fits.values())


def test_wide_end_clamps_are_as_strong_as_the_sheet_they_are_cut_from(shop_air: Study) -> None:
    # Strip of 301 is not sold 5 mm thick: end clamps are of 304, and with bolts as wide as discs.
    builds = {key: np.full(4, value) for key, value in BUILD.items()}
    builds["hold"] = np.array(["spokes", "bolts", "spokes", "bolts"])
    builds["material"] = np.repeat(["stainless-304", "stainless-301-full-hard"], 2)
    builds["process"] = np.full(4, "waterjet")
    found = evaluate(shop_air, builds)
    spokes, bolts = found["stress_margin"].reshape(2, 2).T
    assert spokes[1] > 4 * spokes[0]
    assert_allclose(bolts[1], bolts[0], rtol=0.03)
    burst = found["burst_speed"].reshape(2, 2).T
    assert burst[0, 1] > 1.5 * burst[0, 0]
    assert_allclose(burst[1, 1], burst[1, 0], rtol=0.02)
    # On spokes the clamps only weigh more: 8000 over 7900 kg/m3.
    assert found["rotor_mass"][2] > 7900 / 8000 * found["rotor_mass"][0]
