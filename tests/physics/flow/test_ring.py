from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.fluids.by_name import gas
from engine.physics.flow.ring import Ring, casing_friction_factor, ring_around_discs
from engine.physics.flow.ring_kernel import (
    FRICTION,
    LEAVING,
    PILING,
    PROFILE,
    PUSHED,
    REACH,
    SLOW_MOUTH,
    THIN_JET,
)
from engine.physics.flow.windage import end_face_torque
from tests.physics.flow.test_rim import PRESSURE, SIZES, TOTAL

AIR = gas("air")
CLOSED = {"exchange_factor": 0.0, "leakage": 0.0}
"""Side chambers without exchange."""


def ring(**changes: Any) -> Ring:
    return ring_around_discs(
        fluid=AIR, total_enthalpy=TOTAL, pressure=PRESSURE, **{**SIZES, **changes}
    )


def friction(speed: float, clearance: float, viscosity: float) -> float:
    reynolds = max(abs(speed), 1e-3) * clearance / viscosity
    return float(max(12 / reynolds, 0.066 * reynolds**-0.25))


@dataclass
class Sector:
    """A ring whose sector is followed by a differential equation solver."""

    into_gaps: float
    with_leakage: float
    edge_torque: float
    end_torque: float
    fast: float
    slow: float


def sector_by_equations(core: float, leakage: float, **changes: Any) -> Sector:
    """Follow one sector, as written in `ring_around_discs`, beside given side chambers."""
    v = {**SIZES, **changes}
    n, c, height, r, m = (
        v[key]
        for key in ("nozzle_count", "rim_clearance", "stack_height", "rim_radius", "mass_flow")
    )
    drawn = float(leakage) / m
    u, w = r * v["angular_speed"], v["jet_speed"] * v["mixing_coefficient"]
    jet = w * np.cos(v["inlet_angle"])
    mouth = AIR.state(pressure=PRESSURE, enthalpy=TOTAL - w**2 / 2)
    flux, mach = w * float(mouth.density), w / float(mouth.sound_speed)
    brought = v["filling_factor"] * m / (n * c * height)
    at_casing = np.arccos(np.cos(v["inlet_angle"]) * r / (r + c))
    leaves = LEAVING * np.sin(at_casing) / (1 + mach**4)
    # What the ring cannot hold meets pressure between the edges; behind it the ring is faster.
    stays, edges = min(flux / brought, 1.0), v["edge_height"] / height
    sine = np.sin(at_casing)
    faster = edges**3 * (1 - stays) / (1 - edges + REACH * sine * stays)
    piled = sine**2 * max(PILING * faster**2 * (1 + edges**2) - 1, 0.0)
    piled *= (mach**4 + SLOW_MOUTH) / (1 + mach**4)
    jet, factor, fast_share = (
        jet / np.sqrt(1 + piled),
        1 / np.sqrt(1 + piled),
        1 - 1 / (1 + mach**4),
    )
    gained = 1 + PUSHED * (1 - factor) * fast_share * stays
    gained *= 1 + fast_share * (1 / factor - 1)
    on_edge, on_ends = (
        FRICTION * v["edge_height"] / height,
        0.022 * v["exchange_factor"] * 2 * c / height,
    )
    mean, edge, face = 0.7 * jet, 0.0, 0.0
    end = fast = slow = rho = held = 0.0
    for _ in range(40):
        total = TOTAL - (edge * v["angular_speed"] + face) / m
        state = {"pressure": PRESSURE, "enthalpy": total - mean**2 / 2}
        rho = float(AIR.density(**state))
        nu = float(AIR.viscosity(**state)) / rho

        def along(_x: float, y: Any, fill: float, nu: float = nu) -> list[float]:
            swirl, slip, over = y[0], PROFILE * y[0] - u, y[0] - core
            on_wall = v["casing_factor"] * FRICTION * (1 + THIN_JET * (1 - fill) ** 2)
            on_wall *= ((r + c) / r) ** 2
            by_edge = on_edge * friction(slip, c, nu) * slip * abs(slip)
            by_end = on_ends * over * abs(over)
            by_wall = on_wall * friction(swirl, c, nu) * swirl**2
            return [-(by_wall + by_edge + by_end) / (2 * c * swirl), by_edge / 2, by_end / 2, swirl]

        def mixed(before: float, rho: float = rho) -> tuple[float, float]:
            # A jet is as thick as its flow asks at its own speed, or at that of a faster ring.
            full = max(flux, rho * before)
            fill, thick = min(brought / full, 1.0), brought / full
            brings = (1 - leaves * thick / (1 + thick)) * jet * gained
            new, old = fill * full, (1 - fill) * rho * before
            after = (new * brings + old * before) / (new + old)
            if rho * after > new + old:
                # More than both bring: the rest comes out of the gaps, with the swirl `before`.
                after = (before + np.sqrt(before**2 + 4 * new * (brings - before) / rho)) / 2
            return float(after), fill

        def behind(before: float) -> float:
            return mixed(before)[0]

        def end_of(before: float) -> Any:
            (after, fill), length = mixed(before), 2 * np.pi * r / n
            return solve_ivp(
                along, (0, length), [after, 0, 0, 0], args=(fill,), rtol=1e-6, atol=1e-6,
                method="LSODA",
            ).y[:, -1]  # fmt: skip

        slow = float(
            brentq(lambda x: end_of(x)[0] - x, 1.0, 1.01 * max(jet * gained, u), xtol=1e-3)
        )
        fast, (_, by_edge, by_end, way) = behind(slow), end_of(slow)
        held = PROFILE * float(way) / (2 * np.pi * r / n)
        edge, end = (n * r * height * rho * float(part) for part in (by_edge, by_end))
        before, mean = mean, (fast + slow) / 2
        if abs(mean - before) < 1e-3:
            break
    lost = n * rho * c * height * (fast**2 - slow**2) / (2 * m)
    # The gaps get no more than the jets bring, and no less than the slowest of the ring.
    together = jet - lost
    most = max(together, jet)
    into = (together - drawn * min(held, most)) / (1 - drawn)
    into = min(max(into, min(together, slow)), most)
    held = (together - (1 - drawn) * into) / drawn if drawn else held
    return Sector(into, held, edge, end, fast, slow)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"nozzle_count": 1.0},
        {"nozzle_count": 12.0},
        {"angular_speed": 4000.0},
        {"mass_flow": 0.003, "angular_speed": 3000.0},
        {"jet_speed": 120.0, "angular_speed": 2500.0},
        {"edge_height": 0.0},
        {"rim_clearance": 3e-3, "mass_flow": 0.05, "nozzle_count": 4.0},
        {"casing_factor": 0.3, "filling_factor": 0.5},
        {"jet_speed": 60.0, "angular_speed": 2500.0},
        {"jet_speed": 40.0, "angular_speed": 2500.0, "nozzle_count": 12.0},
    ],
    ids=str,
)
def test_the_ring_agrees_with_its_differential_equation(changes: dict[str, float]) -> None:
    found = ring(**changes)
    expected = sector_by_equations(float(found.core_speed), float(found.leakage), **changes)
    given = {**SIZES, **changes}
    fastest = max(given["jet_speed"] * 0.95 * np.cos(0.2), given["angular_speed"] * 0.075)
    # Four steps a sector: the share of each friction is less exact than their sum.
    assert_allclose(found.swirl, expected.into_gaps, atol=2e-3 * fastest)
    assert_allclose(found.leakage_swirl, expected.with_leakage, atol=2e-2 * fastest)
    assert_allclose(found.fastest, expected.fast, atol=2e-3 * fastest)
    assert_allclose(found.slowest, expected.slow, atol=5e-3 * fastest)
    moment = given["mass_flow"] * fastest * 0.075
    assert_allclose(found.edge_torque, expected.edge_torque, atol=12e-3 * moment)
    assert_allclose(found.end_torque, expected.end_torque, atol=8e-3 * moment)


def test_jets_slower_than_the_ring_slow_it_by_what_they_bring() -> None:
    # Were fluid drawn out of the gaps there, the ring would fall to half of its speed.
    jets = np.linspace(2.0, 150.0, 30)
    found = ring(jet_speed=jets, angular_speed=3500.0, mass_flow=0.012 * jets / 400)
    brought = jets * np.cos(0.2) * 0.95
    slower = brought < found.slowest
    assert 10 < slower.sum() < 30
    assert (found.fastest < found.slowest)[slower].all()
    # The ring takes up three quarters at least of what a slow jet brings.
    assert (found.fastest > 0.75 * brought)[slower].all()
    power = found.edge_torque * 3500.0 + found.casing_dissipation + found.edge_dissipation
    into = found.swirl**2 * (0.012 * jets / 400 - found.leakage) / 2
    into += found.leakage_swirl**2 * found.leakage / 2
    power += into + found.chamber_dissipation
    mixed = 0.012 * jets / 400 * (0.95 * jets) ** 2 / 2 - power
    assert (mixed[slower] > 0).all()


def test_angular_momentum_of_the_ring_closes_to_rounding() -> None:
    speed = np.linspace(100.0, 5000.0, 60)
    found = ring(angular_speed=speed, nozzle_count=np.tile([1.0, 2.0, 5.0, 12.0], 15))
    arriving = 0.012 * 400.0 * np.cos(0.2) * 0.95 * found.mouth_factor * 0.075
    assert 0.8 < found.mouth_factor.min() < found.mouth_factor.max() == 1.0
    taken = found.edge_torque + found.casing_torque + found.end_torque
    into = (0.012 - found.leakage) * found.swirl + found.leakage * found.leakage_swirl
    assert_allclose(into * 0.075 + taken, arriving, rtol=1e-9)


def test_moments_on_the_fluid_of_the_side_chambers_balance() -> None:
    # Written out with the plain law at the slip of each wall (Daily and Nece 1960).
    found = ring(angular_speed=np.array([300.0, 1500.0, 4000.0]), leakage=0.4e-3)
    omega = np.array([300.0, 1500.0, 4000.0])
    middle = (found.fastest + found.slowest) / 2
    enthalpy = found.total_enthalpy - middle**2 / 2

    def drag(turning: Any) -> Any:
        return end_face_torque(
            density=AIR.density(pressure=PRESSURE, enthalpy=enthalpy),
            viscosity=AIR.viscosity(pressure=PRESSURE, enthalpy=enthalpy),
            angular_speed=turning / 0.075,
            rim_radius=0.075,
            side_gap=3e-3,
        )

    slip = omega * 0.075 - found.core_speed
    on_faces = np.sign(slip) * drag(np.abs(slip) / 0.55)
    assert np.all(found.leakage <= 0.4e-3 * 1.05)
    brought = found.leakage * (found.leakage_swirl * 0.075 - found.core_speed * 0.03**2 / 0.075)
    assert_allclose(brought + found.end_torque + on_faces, drag(found.core_speed / 0.45), rtol=1e-6)
    assert_allclose(found.face_torque, -on_faces, rtol=1e-6)


def test_chambers_without_exchange_turn_and_drag_as_in_the_plain_law() -> None:
    omega = np.array([500.0, 1500.0, 4000.0])
    found = ring(angular_speed=omega, **CLOSED)
    assert_allclose(found.core_speed, 0.45 * omega * 0.075, rtol=1e-9)
    middle = (found.fastest + found.slowest) / 2
    state: dict[str, Any] = {
        "pressure": PRESSURE,
        "enthalpy": found.total_enthalpy - middle**2 / 2,
    }
    plain = end_face_torque(
        density=AIR.density(**state),
        viscosity=AIR.viscosity(**state),
        angular_speed=omega,
        rim_radius=0.075,
        side_gap=3e-3,
    )
    assert_allclose(found.face_torque, -plain, rtol=1e-7)


def test_a_fast_ring_drives_the_outer_faces_of_slow_discs_and_pays_for_it() -> None:
    speed = np.array([50.0, 4500.0])
    found = ring(angular_speed=speed, leakage=1e-3)
    assert found.face_torque[0] > 0 > found.face_torque[1]
    given = found.edge_torque * speed + np.maximum(found.face_torque, 0) * speed
    assert_allclose(0.012 * (TOTAL - found.total_enthalpy), given, rtol=1e-9)
    assert np.all(found.chamber_dissipation > 0)


def test_without_casing_friction_only_edges_and_mixing_lower_the_swirl() -> None:
    found = ring(casing_factor=0.0, **CLOSED)
    jets = 400.0 * np.cos(0.2) * 0.95
    assert_allclose(found.casing_torque, 0.0, atol=1e-15)
    assert_allclose(found.swirl, jets - found.edge_torque / (0.012 * 0.075), rtol=1e-12)
    bare = ring(casing_factor=0.0, edge_height=0.0, **CLOSED)
    assert_allclose(bare.swirl, jets, rtol=1e-12)


def test_many_nozzles_tend_to_a_ring_of_even_swirl() -> None:
    # Balance of that ring by itself: flow times loss of swirl is friction at that swirl.
    found = ring(nozzle_count=np.array([300.0, 1000.0]), edge_height=0.0, **CLOSED)
    spread = (found.fastest - found.slowest) / found.swirl
    assert spread[1] < spread[0] / 2 < 0.01
    swirl = float(found.swirl[1])
    state = {"pressure": PRESSURE, "enthalpy": TOTAL - swirl**2 / 2}
    rho, nu = float(AIR.density(**state)), float(AIR.viscosity(**state) / AIR.density(**state))
    wall = FRICTION * (1 + THIN_JET) * friction(swirl, 0.5e-3, nu) * rho / 2 * swirl**2
    torque = wall * 2 * np.pi * 0.0755**2 * 14e-3
    assert_allclose(0.012 * 0.075 * (400 * np.cos(0.2) * 0.95 - swirl), torque, rtol=5e-3)


def test_few_nozzles_and_a_tight_casing_keep_the_swirl() -> None:
    # The plane flow around the rim says so (tests/physics/plane/reference.csv).
    sizes = {"rim_radius": 0.045, "edge_height": 7e-3}
    by_count = ring(nozzle_count=np.array([1.0, 2.0, 4.0, 8.0]), **sizes)
    assert np.all(np.diff(by_count.swirl) < 0)
    by_clearance = ring(rim_clearance=np.array([0.25e-3, 0.5e-3, 1e-3]), **sizes)
    assert np.all(np.diff(by_clearance.swirl) < 0)


def test_edges_drive_the_discs_when_the_ring_is_faster_and_brake_them_when_it_is_slower() -> None:
    found = ring(angular_speed=np.array([500.0, 6000.0]))
    assert found.swirl[0] > 500.0 * 0.075
    assert found.edge_torque[0] > 0
    assert found.fastest[1] < 6000.0 * 0.075
    assert found.edge_torque[1] < 0
    assert np.all(found.edge_dissipation > 0)


def test_swirl_is_continuous_where_the_edges_change_from_drag_to_drive() -> None:
    speed = np.linspace(1500.0, 5000.0, 20_001)
    found = ring(angular_speed=speed)
    assert np.sign(found.edge_torque[[0, -1]]).tolist() == [1.0, -1.0]
    assert np.abs(np.diff(found.swirl)).max() < 0.05


def test_a_taller_stack_loses_more_swirl_to_the_casing() -> None:
    # The area of the casing grows with the stack: common practice, no source.
    height = np.array([5e-3, 10e-3, 20e-3, 40e-3, 80e-3])
    found = ring(stack_height=height, edge_height=0.5 * height, mass_flow=0.03, nozzle_count=6.0)
    assert np.all(np.diff(found.swirl) < 0)
    assert found.swirl[-1] < 0.75 * found.swirl[0]


def test_thick_jets_are_held_up_before_a_closed_rim_and_speed_the_ring_behind() -> None:
    open_rim = {"edge_height": 2e-3, "nozzle_count": 1.0, "mass_flow": 0.02}
    thin = ring(**{**open_rim, "mass_flow": 1e-3})
    assert float(thin.mouth_factor) == 1.0
    shares = np.array([0.5, 0.8, 0.9])
    found = ring(**{**open_rim, "edge_height": shares * SIZES["stack_height"]})
    assert np.all(np.diff(found.mouth_factor) < 0)
    # Held up, a fast jet lends the ring behind it more speed than it keeps itself.
    jets = 400.0 * 0.95 * np.cos(0.2) * found.mouth_factor
    assert np.all(found.fastest > 0.9 * jets)
    assert np.all(np.diff(found.fastest / jets) > 0)
    # The gaps still get no more than the jets bring.
    assert np.all(found.swirl <= jets)
    # More nozzles of the same area are thinner and not held up.
    count = ring(**{**open_rim, "edge_height": 11e-3, "nozzle_count": np.array([1.0, 4.0, 12.0])})
    assert 0.5 < count.mouth_factor[0] < 0.9
    assert count.mouth_factor[1:].tolist() == [1.0, 1.0]


def test_no_flow_leaves_a_ring_that_the_edges_turn() -> None:
    found = ring(mass_flow=np.array([1e-9, 0.0]), jet_speed=np.array([100.0, 0.0]))
    assert np.all(found.slowest < 1500 * 0.075)
    assert np.all(found.slowest > 0.2 * 1500 * 0.075)


def test_friction_changes_law_where_laminar_and_turbulent_cross() -> None:
    # 12/Re = 0.066 Re^-0.25 at Re = (12/0.066)^(4/3), about 1030 (laminar channel; Hirs 1973).
    crossing = (12 / 0.066) ** (4 / 3)
    assert_allclose(crossing, 1030, atol=0.1)
    factor = casing_friction_factor(reynolds=np.array([500.0, crossing, 4000.0]))
    assert_allclose(factor, [12 / 500.0, 12 / crossing, 0.066 * 4000.0**-0.25], rtol=1e-9)
    below, above = casing_friction_factor(reynolds=crossing * np.array([0.999, 1.001]))
    assert_allclose(below * 0.999, above * 1.001**0.25, rtol=1e-9)


def test_turbulent_friction_is_near_that_of_a_smooth_pipe_of_equal_hydraulic_diameter() -> None:
    # Blasius 1913: 0.0791 Re^-1/4 on the hydraulic diameter, twice the height; 1 % apart.
    found = casing_friction_factor(reynolds=np.array([3e3, 1e4, 5e4]))
    assert_allclose(found, 0.0791 * (2 * np.array([3e3, 1e4, 5e4])) ** -0.25, rtol=0.01)


def test_edges_that_overheat_a_small_flow_are_flagged() -> None:
    found = ring(mass_flow=np.array([0.012, 1e-5]), angular_speed=3000.0)
    assert found.churning.tolist() == [False, True]
    assert np.isfinite(found.swirl).all()
