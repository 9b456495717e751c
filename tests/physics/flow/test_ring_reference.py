"""The ring against the flow in the plane of the discs, build by build (tests/physics/plane).

Mouth pressure is the plane's affair, so the ring is given the plane's own flow and jet speed.
"""

import csv
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from engine.fluids.by_name import gas
from engine.physics.flow.ring import RING_RANGE, ring_around_discs
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap import averaged
from engine.study.reader import read_study
from engine.study.supply import source_of
from tests.support.places import ROOT

TABLE = ROOT / "tests" / "physics" / "plane" / "reference.csv"
Row = dict[str, Any]


def fluids() -> dict[str, Fluid]:
    def of(name: str) -> Fluid:
        return source_of(read_study(ROOT / "studies" / f"{name}.yaml").supply).fluid

    return {"air": gas("air"), "steam": of("orchard-boiler"), "water": of("mill-race")}


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """Rows of the table, with relative errors of rotor torque and casing torque."""
    known, found = fluids(), []
    lines = [x for x in TABLE.read_text("utf-8").splitlines() if not x.startswith("#")]
    for line in csv.DictReader(lines):
        texts = ("name", "half")
        v: Row = {key: text if key in texts else float(text) for key, text in line.items()}
        fluid = known[v["name"].split()[0]]
        ring = ring_around_discs(
            fluid=fluid,
            mass_flow=v["plane_mass_flow"],
            jet_speed=v["jet_speed"],
            total_enthalpy=v["total_enthalpy"],
            pressure=v["ring_pressure"],
            mixing_coefficient=v["plane_jet_speed"] / v["jet_speed"],
            casing_factor=1.0,
            filling_factor=1.0,
            exchange_factor=0.0,
            side_gap=3e-3,
            windage_factor=1.0,
            leakage=v["plane_leakage_flow"],
            seal_radius=v["bore_radius"],
            back_pressure=0.5 * v["ring_pressure"],
            **{
                key: v[key]
                for key in (
                    "inlet_angle",
                    "rim_radius",
                    "rim_clearance",
                    "stack_height",
                    "edge_height",
                    "angular_speed",
                    "nozzle_count",
                )
            },
        )
        flow = averaged.march(
            fluid=fluid,
            rim_pressure=v["ring_pressure"],
            rim_enthalpy=ring.enthalpy,
            rim_swirl=ring.swirl,
            mass_flow=(v["plane_mass_flow"] - v["plane_leakage_flow"]) / v["gap_count"],
            gap=v["gap"],
            rim_radius=v["rim_radius"],
            bore_radius=v["bore_radius"],
            angular_speed=v["angular_speed"],
        )
        torque = float(flow.torque * v["gap_count"] + ring.edge_torque)
        v["torque"] = torque
        v["off"] = torque / v["plane_rotor_torque"] - 1
        v["casing_off"] = float(ring.casing_torque) / v["plane_casing_torque"] - 1
        v["mach"] = v["plane_jet_mach"]
        found.append(v)
    return found


def rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def slow(row: Row) -> bool:
    return bool(row["mach"] < 1)


@pytest.mark.parametrize("half", ["fit", "test"])
def test_torque_of_rotor_and_casing_follows_the_plane(rows: list[Row], half: str) -> None:
    chosen = [row for row in rows if row["half"] == half]
    assert len(chosen) >= 16
    assert rms([row["off"] for row in chosen]) < 0.05
    assert max(abs(row["off"]) for row in chosen) < 0.10
    assert rms([row["casing_off"] for row in chosen]) < 0.12


def test_slower_jets_and_liquids_follow_it_as_well(rows: list[Row]) -> None:
    chosen = [row for row in rows if slow(row) and row["half"] == "test"]
    assert len(chosen) >= 5
    assert rms([row["off"] for row in chosen]) < 0.05
    assert abs(np.mean([row["off"] for row in chosen])) < 0.03


def edge_share(row: Row) -> float:
    return float(row["edge_height"] / row["stack_height"])


def test_range_of_the_ring_is_that_of_the_builds_to_which_it_is_held(rows: list[Row]) -> None:
    for row in rows:
        outside = RING_RANGE.outside(edge_share=edge_share(row))
        assert bool(outside) == (row["half"] == "thick"), row["name"]


def test_thick_discs_are_a_miss_as_stated(rows: list[Row]) -> None:
    # A known limit, not agreement: `ring_around_discs` and the note of such a build say so.
    chosen = [row for row in rows if row["half"] == "thick"]
    assert len(chosen) >= 7
    assert 0.15 < max(row["off"] for row in chosen) < 0.25
    assert min(row["off"] for row in chosen) > -0.06
    # The jets are slower than `rim_mixing` makes them, too.
    whole = [row["model_rotor_torque"] / row["plane_rotor_torque"] - 1 for row in chosen]
    assert 0.3 < max(whole) < 0.45
    assert min(whole) > -0.1


SAME = ("gap_count", "rim_radius", "bore_radius", "gap", "inlet_angle", "angular_speed")


def differing_only_in(rows: list[Row], key: str) -> list[list[Row]]:
    """Rows of equal fluid, supply and sizes, by `key`; groups of one are left out."""
    groups: dict[tuple[Any, ...], list[Row]] = {}
    other = "rim_clearance" if key == "nozzle_count" else "nozzle_count"
    for row in rows:
        fixed = (*SAME, "supply_pressure", "throat_area", other)
        place = (row["name"].split()[0], *(float(f"{row[k]:.4g}") for k in fixed))
        groups.setdefault(place, []).append(row)
    found = [sorted(group, key=lambda row: row[key]) for group in groups.values()]
    return [group for group in found if len(group) > 1]


@pytest.mark.parametrize("key", ["nozzle_count", "rim_clearance"])
def test_number_of_nozzles_and_clearance_rank_as_in_the_plane(rows: list[Row], key: str) -> None:
    # Fewer nozzles of the same area and a tighter casing gain, where the plane says so.
    pairs = [
        (row, after)
        for group in differing_only_in(rows, key)
        for row, after in pairwise(group)
        if abs(row["plane_rotor_torque"] / after["plane_rotor_torque"] - 1) > 0.02
    ]
    assert len(pairs) >= 4
    for row, after in pairs:
        gain = row["torque"] / after["torque"] - 1
        in_plane = row["plane_rotor_torque"] / after["plane_rotor_torque"] - 1
        assert gain * in_plane > 0, (row["name"], after["name"], gain, in_plane)
