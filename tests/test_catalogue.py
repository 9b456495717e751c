from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from engine import catalogue
from engine.catalogue import (
    MaterialState,
    bearing_names,
    bearing_seals,
    bearing_values,
    bearings,
    material_names,
    material_state,
    materials,
    process_names,
    process_values,
    processes,
    state_as_cut,
)

RPM = 2 * np.pi / 60


def test_the_tables_contain_what_a_workshop_would_look_for() -> None:
    assert {
        "stainless-304",
        "stainless-17-4ph-h900",
        "carbon-steel",
        "aluminium-6061-t6",
        "aluminium-7075-t6",
        "titanium-6al-4v",
        "brass",
        "polycarbonate",
        "carbon-fibre-laminate",
        "printed-polymer",
    } <= set(material_names())
    assert {"laser-cut", "ground", "turned", "waterjet", "photo-etched", "printed"} <= set(
        process_names()
    )
    assert {"608", "6001", "6204"} <= set(bearing_names())


@pytest.mark.parametrize("table", ["materials", "processes", "bearings", "bearing-seals"])
def test_every_row_names_its_source(table: str) -> None:
    rows = catalogue.read_table(table)
    for key, row in rows.items():
        source = row["source"]
        assert any(
            word in source for word in ("ISO", "ASTM", "EN ", "data sheets", "no source", "memory")
        ), f"{table}: {key} has no source that can be looked up"


@pytest.mark.parametrize("key", material_names())
def test_strength_falls_with_temperature_and_curves_fit_their_grid(key: str) -> None:
    row = materials()[key]
    assert np.all(np.diff(row.temperature) > 0)
    strengths = (row.yield_strength, row.annealed_strength, row.ultimate_strength)
    for curve in (row.youngs_modulus, *strengths):
        assert len(curve) == len(row.temperature)
        assert np.all(np.diff(curve) <= 0)
    assert np.all(np.less(row.yield_strength, row.ultimate_strength))
    assert np.all(np.less_equal(row.annealed_strength, row.yield_strength))


@pytest.mark.parametrize(
    ("key", "density", "modulus", "poisson", "expansion"),
    [
        # handbook values at room temperature, from memory, second hand apart from the table
        ("stainless-304", 8000, 193e9, 0.29, 17.3e-6),
        ("stainless-17-4ph-h900", 7780, 197e9, 0.272, 10.8e-6),
        ("aluminium-6061-t6", 2700, 68.9e9, 0.33, 23.6e-6),
        ("aluminium-7075-t6", 2810, 71.7e9, 0.33, 23.4e-6),
        ("titanium-6al-4v", 4430, 113.8e9, 0.342, 8.6e-6),
    ],
)
def test_metals_have_their_handbook_constants(
    key: str, density: float, modulus: float, poisson: float, expansion: float
) -> None:
    state = material_state(key, 293.15)
    found = (state.density, state.youngs_modulus, state.poisson, state.expansion)
    assert_allclose(found, (density, modulus, poisson, expansion), rtol=1e-3)


def test_a_laser_takes_the_strength_of_rolling_from_the_edge_that_it_cuts() -> None:
    # ASTM A666: annealed 301 yields at 205 MPa, full hard at 965 MPa (from memory). A skin that
    # yields once stays elastic up to twice its yield strength (Melan's theorem of shakedown).
    sheet, shop = "stainless-301-full-hard", np.array(["laser-cut", "waterjet", "photo-etched"])
    assert_allclose(state_as_cut(sheet, shop, 293.15).yield_strength, [410e6, 965e6, 965e6])
    for key in ("stainless-304", "carbon-steel", "titanium-6al-4v", "stainless-17-4ph-h900"):
        cut, bought = state_as_cut(key, "laser-cut", 293.15), material_state(key, 293.15)
        assert_allclose(cut.yield_strength, bought.yield_strength)
        assert_allclose(cut.ultimate_strength, bought.ultimate_strength)


def test_values_between_entries_are_interpolated_linearly() -> None:
    state = material_state("stainless-304", np.array([293.15, 333.15, 373.15]))
    assert_allclose(state.yield_strength, [205e6, 186.5e6, 168e6])


def test_each_lane_gets_its_own_material_and_temperature() -> None:
    names = np.array([["brass", "stainless-304", "brass"]])
    heat = np.array([[293.15], [5000.0]])
    state = material_state(names, heat)
    assert state.density.shape == (2, 3)
    assert_allclose(state.density[0], [8440, 8000, 8440])
    for field in fields(MaterialState):
        assert np.isnan(getattr(state, field.name)[1]).all()


def test_a_cold_material_keeps_its_room_temperature_values_and_nan_heat_gives_nan() -> None:
    state = material_state("brass", np.array([200.0, np.nan]))
    assert_allclose(state.yield_strength, [260e6, np.nan])


def test_a_thickness_the_process_does_not_make_is_nan() -> None:
    values = process_values(
        np.array(["laser-cut", "printed", "laser-cut"]), np.array([1e-3, 0.5e-3, 9e-3])
    )
    assert_allclose(values.thickness_tolerance, [0.06e-3, np.nan, np.nan])
    assert_allclose(values.flatness, [processes()["laser-cut"].flatness, np.nan, np.nan])


def test_sheet_tolerance_is_that_of_the_standard() -> None:
    # ISO 9445-2, normal tolerance, width to 1000 mm
    found = process_values("laser-cut", np.array([0.3e-3, 0.8e-3, 1.0e-3, 2.0e-3]))
    assert_allclose(found.thickness_tolerance, [0.040e-3, 0.055e-3, 0.060e-3, 0.090e-3])


def test_shields_take_no_speed_and_lips_a_third() -> None:
    # n d_m of grease 5e5 mm/min, with lips two thirds of it; common practice
    limits = {key: row.speed_limit / (1e-3 * RPM) for key, row in bearing_seals().items()}
    assert_allclose([limits["open"], limits["shield"]], 5e5, rtol=1e-3)
    assert_allclose(limits["contact"], 2 / 3 * 5e5, rtol=1e-3)


def test_bearing_lanes_carry_iso_15_sizes() -> None:
    values = bearing_values(np.array(["6001", "608", "6001"]))
    assert_allclose(values.bore, [0.012, 0.008, 0.012])  # ISO 15
    assert_allclose(values.outside_diameter, [0.028, 0.022, 0.028])
    assert_allclose(values.mean_diameter, [0.020, 0.015, 0.020])
    assert bearing_values("608").bore.shape == ()


@pytest.mark.parametrize("key", bearing_names())
def test_bearing_bore_follows_its_bore_code(key: str) -> None:
    # ISO 15 bore codes: 00 10 mm, 01 12, 02 15, 03 17, from 04 five times the code; one digit: mm
    code = int(key[2:])
    bore = code if len(key) == 3 else {0: 10, 1: 12, 2: 15, 3: 17}.get(code, 5 * code)
    assert_allclose(bearings()[key].bore, bore * 1e-3)


def test_an_unknown_name_is_a_key_error() -> None:
    with pytest.raises(KeyError, match="unobtainium"):
        material_state(np.array(["brass", "unobtainium"]), 300.0)
    with pytest.raises(KeyError, match="9999"):
        bearing_values("9999")


def test_an_installed_package_reads_the_tables_inside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "materials.toml").write_text("[only]\ndensity = 1.0\n", encoding="utf-8")
    monkeypatch.setattr("engine.files.resources.files", {"engine": tmp_path}.__getitem__)
    assert catalogue.read_table("materials") == {"only": {"density": 1.0}}
