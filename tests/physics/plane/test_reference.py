"""The table of reference cases: what it covers, whether it is sound, and other figures for it."""

import numpy as np
import pytest

from tests.physics.plane.make_reference import FINENESS, cases, read, row_of

ROWS = {row["name"]: row for row in read()}
TRIAL = {
    "air base": (136.5, 36.1),
    "air one-nozzle": (150.7, 21.6),
    "air four-nozzles": (120.2, 49.3),
    "air eight-nozzles": (113.7, 55.2),
    "air near": (152.6, 21.4),
    "air far": (119.5, 46.6),
    "air 15-deg": (132.6, 32.0),
    "air 25-deg": (126.8, 25.6),
    "air many-discs": (178.4, 43.8),
    "air slow": (162.3, 32.9),
    "air fast": (107.2, 41.8),
    "air low-pressure": (13.1, 7.0),
    "air four-near": (135.9, 37.7),
    "air four-15-deg": (128.8, 44.0),
    "air 150-mm": (298.2, 81.7),
    "air eight-far": (110.3, 54.7),
}
"""Torque of rotor and casing [mN m] by an earlier trial of the same equations, written separately,
on a grid with even columns."""


def column(name: str) -> np.ndarray:
    return np.array([row[name] for row in ROWS.values()], dtype=float)


def test_table_has_every_case_and_no_other() -> None:
    assert list(ROWS) == [case.name for case in cases()]
    assert [row["half"] for row in ROWS.values()] == [case.half for case in cases()]


def test_table_covers_what_a_ring_model_must_answer() -> None:
    assert len(ROWS) >= 24
    count, clearance = column("nozzle_count"), column("rim_clearance")
    angle, radius = np.degrees(column("inlet_angle")), column("rim_radius")
    assert (count.min(), count.max()) == (1, 12)
    assert clearance.min() <= 0.2e-3
    assert clearance.max() >= 2e-3
    assert angle.min() <= 4 + 1e-6
    assert angle.max() >= 30 - 1e-6
    assert radius.min() <= 0.03
    assert radius.max() >= 0.125
    mach = column("plane_jet_mach")
    gases = np.array([not name.startswith("water") for name in ROWS])
    assert mach[gases].min() < 0.8
    assert mach[gases].max() > 1.55
    for fluid in ("air", "steam", "water"):
        halves = [row["half"] for name, row in ROWS.items() if name.startswith(fluid)]
        assert {*halves} == {"fit", "test"}
        assert abs(halves.count("fit") - halves.count("test")) <= 2
    # Discs thick against the gap, in both halves.
    closed = column("edge_height") / column("stack_height") > 0.7
    assert closed.sum() >= 20
    assert {
        row["half"] for row, is_closed in zip(ROWS.values(), closed, strict=True) if is_closed
    } == {"fit", "test"}


@pytest.mark.parametrize("name", ROWS)
def test_case_has_settled_and_balances(name: str) -> None:
    row = ROWS[name]
    assert row["plane_settled"] == 1
    assert max(abs(row["plane_mass_residual"]), abs(row["plane_momentum_residual"])) < 5e-3
    # What the jets bring: swirl on the casing's radius, less what casing and leakage take, goes
    # to the edges and into the gaps.
    casing = row["rim_radius"] + row["rim_clearance"]
    swirl = row["plane_jet_speed"] * np.cos(row["plane_casing_angle"])
    brought = row["plane_mass_flow"] * swirl * casing
    into = row["plane_rotor_flow"] * row["plane_inflow_swirl"] * row["rim_radius"]
    rest = brought - row["plane_casing_torque"] - row["plane_edge_torque"] - into
    drawn = row["plane_leakage_flow"] * casing
    # The rest leaves with the leakage, at a speed between none and the jet's.
    assert -0.005 * brought < rest < drawn * swirl + 0.005 * brought


@pytest.mark.parametrize("name", TRIAL)
def test_case_agrees_with_the_trial(name: str) -> None:
    rotor, casing = TRIAL[name]
    assert 1e3 * ROWS[name]["plane_rotor_torque"] == pytest.approx(rotor, rel=0.02)
    assert 1e3 * ROWS[name]["plane_casing_torque"] == pytest.approx(casing, rel=0.05)


def test_generator_gives_a_row_again_on_a_coarse_grid() -> None:
    case = next(case for case in cases() if case.name == "air four-nozzles")
    row = row_of(case, FINENESS / 4)
    assert row.keys() == ROWS[case.name].keys()
    # The ring beside it is that of the model of today.
    assert row["ring_density"] == pytest.approx(ROWS[case.name]["ring_density"], rel=0.05)
    assert row["plane_rotor_torque"] == pytest.approx(
        ROWS[case.name]["plane_rotor_torque"], rel=0.05
    )
