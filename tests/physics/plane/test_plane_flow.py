"""The plane flow of whole builds: against the averaged march, in balance, and over grids."""

import math

import numpy as np
import pytest

from engine.fluids.by_name import gas
from engine.model.plane import matched_build, plane_numbers
from engine.physics.gap.averaged import march
from engine.physics.plane import flux_kernel
from engine.physics.plane.answer import PlaneFlow, Progress
from engine.physics.plane.friction_kernel import CHANNEL, SMOOTH
from engine.physics.plane.grid import GHOSTS, cover_of, grid_around_rim, grid_of, middles, refined
from engine.physics.plane.law import SOLVER_MACH, jet_state, law_of
from engine.physics.plane.march_kernel import advance, to_conserved
from engine.physics.plane.solve import plane_flow
from engine.physics.plane.surroundings import (
    BORE_MASS,
    GAP_TORQUE,
    JET_MASS,
    N_TALLY,
    PRESSURE,
    Mouth,
    Surroundings,
)
from tests.physics.plane.make_reference import Case, build_of, cases, read
from tests.support.parts import from_python

AIR = gas("air")
hllc = from_python(flux_kernel.hllc)


def case_named(name: str) -> Case:
    return next(case for case in cases() if case.name == name)


def flow_of(name: str, fineness: float, **other: float) -> PlaneFlow:
    case = case_named(name)
    fluid, circuit, flow, matched = matched_build(*build_of(case))
    assert matched
    given = plane_numbers(fluid, circuit, flow) | other
    return plane_flow(**given, nozzle_count=int(case.values["nozzle_count"]), fineness=fineness)


def test_flux_between_equal_states_is_that_of_the_state() -> None:
    random = np.random.default_rng(3)
    state = np.stack(
        [
            random.uniform(0.5, 3, 8),
            random.uniform(-900, 900, 8),
            random.uniform(-300, 300, 8),
            random.uniform(5e4, 4e5, 8),
        ]
    )
    flux = np.empty((4, 8))
    hllc(1.3, state, state.copy(), flux)
    rho, u, v, p = state
    energy = u * (p * 1.3 / 0.3 + rho * (u * u + v * v) / 2)
    expected = np.stack([rho * u, rho * u * u + p, rho * u * v, energy])
    np.testing.assert_allclose(flux, expected, rtol=1e-12, atol=1e-9)


def test_flux_keeps_a_shear_layer_that_lies_along_the_face() -> None:
    left = np.tile([[1.0], [0.0], [300.0], [1e5]], 8)
    right = np.tile([[2.0], [0.0], [-50.0], [1e5]], 8)
    flux = np.empty((4, 8))
    hllc(1.4, left, right, flux)
    np.testing.assert_allclose(flux, np.tile([[0.0], [1e5], [0.0], [0.0]], 8), atol=1e-6)


def test_grid_fills_its_space_and_carries_a_field_over() -> None:
    def grid(fineness: float, mouth: float = 4e-3):  # type: ignore[no-untyped-def]
        return grid_around_rim(
            rim_radius=0.045,
            bore_radius=0.021,
            rim_clearance=5e-4,
            stack_height=7.5e-3,
            gap_height=3.5e-3,
            sector=math.pi,
            mouth=mouth,
            fineness=fineness,
        )

    coarse, fine = grid(0.5), grid(1.0)
    for each in (coarse, fine, grid(1.0, mouth=0.2)):
        assert each.faces[0] == 0.021
        assert each.faces[each.n_gap] == pytest.approx(0.045, rel=1e-12)
        assert each.faces[-1] == pytest.approx(0.0455, rel=1e-12)
        assert np.all(np.diff(each.faces) > 0)
        assert each.widths[GHOSTS:-GHOSTS].sum() == pytest.approx(math.pi, rel=1e-12)
        assert (each.widths.size - 2 * GHOSTS) % 8 == 0
        covered = cover_of(grid=each, mouth=0.1)[GHOSTS:-GHOSTS] * each.widths[GHOSTS:-GHOSTS]
        assert covered.sum() == pytest.approx(0.1, rel=1e-12)
    wave = np.sin(2 * middles(grid=coarse)) + coarse.centres[:, None]
    expected = np.sin(2 * middles(grid=fine)) + fine.centres[:, None]
    carried = refined(field=wave, coarse=coarse, fine=fine)
    np.testing.assert_allclose(carried, expected, atol=0.02)


@pytest.mark.parametrize(
    ("rpm", "gap", "most"), [(27_000, 5e-4, 0.04), (13_000, 5e-4, 0.04), (27_000, 2e-4, 0.04)]
)
def test_even_inflow_gives_the_torque_of_the_averaged_march(
    rpm: float, gap: float, most: float
) -> None:
    """The march has profiles across the gap and another law of friction: a few per cent."""
    omega, rim, bore, swirl, flow = rpm * math.pi / 30, 0.045, 0.021, 300.0, 1.5e-3
    flow *= gap / 5e-4
    enthalpy = float(AIR.enthalpy(pressure=1.3e5, temperature=247.0))
    averaged = march(
        fluid=AIR,
        rim_pressure=1.3e5,
        rim_enthalpy=enthalpy,
        rim_swirl=swirl,
        mass_flow=flow,
        gap=gap,
        rim_radius=rim,
        bore_radius=bore,
        angular_speed=omega,
    )
    law = law_of(fluid=AIR, pressure=1.3e5, enthalpy=enthalpy, fastest=swirl)
    inward = flow / (2 * math.pi * rim * gap * law.density)
    n = 40
    grid = grid_of(
        faces=bore + (rim - bore) * np.linspace(0, 1, n + 1) ** 0.8,
        heights=np.full(n, gap),
        widths=np.full(8, 2 * math.pi / 8),
        n_gap=n,
    )
    around = Surroundings(
        angular_speed=omega,
        gap=gap,
        transition=1.0,
        clearance=gap,
        edge_share=0.0,
        entry_loss=1.0,
        leakage_share=0.0,
        bore_pressure=float(averaged.exit_pressure),
        closure=SMOOTH,
        discs_rub=True,
        lengths=np.zeros(n + 1),
    )
    total = enthalpy - law.datum + (inward**2 + swirl**2) / 2
    area = 2 * math.pi * rim * gap
    mouth = Mouth(np.ones(8 + 2 * GHOSTS), flow / area, -inward, swirl, total)
    start = np.stack([np.full((n, 12), x) for x in (law.density, -inward, swirl, law.pressure)])
    held, field, tally = np.zeros_like(start), start.copy(), np.zeros(N_TALLY)
    to_conserved(law, grid, start, held)
    entering = np.zeros((3, 12))
    for _ in range(5):
        advance(law, grid, around, mouth, held, field, entering, tally, 0.7, 0.0, 2000)
    assert tally[BORE_MASS] == pytest.approx(tally[JET_MASS], rel=1e-5)
    assert tally[GAP_TORQUE] == pytest.approx(float(averaged.torque), rel=most)
    # No profile across the gap here, so pressure drop agrees less well.
    drop = field[PRESSURE, -1, 5] - around.bore_pressure
    assert drop == pytest.approx(1.3e5 - float(averaged.exit_pressure), rel=0.2)


def test_whole_builds_balance_and_converge_over_grids() -> None:
    seen: list[Progress] = []
    case = case_named("air base")
    given = plane_numbers(*matched_build(*build_of(case))[:3])
    flows = [
        plane_flow(**given, nozzle_count=2, fineness=f, progress=seen.append)
        for f in (0.25, 0.35, 0.5)
    ]
    for flow in flows:
        assert flow.settled
        residuals = (flow.mass_residual, flow.momentum_residual, flow.energy_residual)
        assert np.abs(residuals).max() < 1e-3
        assert flow.rotor_flow + flow.leakage_flow == pytest.approx(flow.mass_flow, rel=1e-3)
        # What the jets bring goes to rotor, casing, leakage and bore; all are positive here.
        assert min(flow.gap_torque, flow.edge_torque, flow.casing_torque) > 0
        assert math.degrees(flow.casing_angle) == pytest.approx(10.4, abs=0.05)
    torques = np.array([flow.rotor_torque for flow in flows])
    finest = next(row for row in read() if row["name"] == case.name)["plane_rotor_torque"]
    errors = np.abs(torques / finest - 1)
    assert errors[0] > errors[2]
    assert errors[2] < 0.03
    shares = [each.share for each in seen]
    assert max(shares) <= 1


def test_closures_change_the_casing_and_hardly_the_gaps() -> None:
    usual = flow_of("air base", 0.25)
    channel = flow_of("air base", 0.25, closure=CHANNEL)
    smooth = flow_of("air base", 0.25, closure=SMOOTH)
    assert channel.casing_torque == pytest.approx(usual.casing_torque, rel=0.2)
    assert channel.rotor_torque == pytest.approx(usual.rotor_torque, rel=0.04)
    assert smooth.casing_torque == smooth.edge_torque == 0
    assert smooth.rotor_torque > usual.rotor_torque


def test_water_flows_like_a_liquid() -> None:
    flow = flow_of("water base", 0.25)
    assert flow.settled
    assert flow.largest_mach < 0.35
    assert np.ptp(flow.field.density) < 0.08 * flow.field.density.mean()
    assert abs(flow.mass_residual) < 1e-3
    assert abs(flow.momentum_residual) < 1e-3


def test_law_has_the_density_enthalpy_and_sound_of_the_fluid() -> None:
    enthalpy = float(AIR.enthalpy(pressure=1.4e5, temperature=250.0))
    law = law_of(fluid=AIR, pressure=1.4e5, enthalpy=enthalpy, fastest=400.0)
    assert not law.is_liquid
    there = float(AIR.isentropic_enthalpy(pressure=1.4e5, enthalpy=enthalpy, end_pressure=1e5))
    speed = math.sqrt(2 * (enthalpy - there))
    density, total = jet_state(law=law, pressure=1e5, enthalpy=enthalpy, speed=speed)
    assert total == pytest.approx(enthalpy - law.datum)
    exact = float(AIR.density(pressure=1e5, enthalpy=there))
    assert density == pytest.approx(exact, rel=1e-3)
    sound = float(AIR.sound_speed(pressure=1.4e5, enthalpy=enthalpy))
    assert math.sqrt(law.exponent * law.pressure / law.density) == pytest.approx(sound)
    colder = float(AIR.viscosity(pressure=1e5, enthalpy=there))
    ratio = (1e5 / density) * law.density / law.pressure
    assert law.viscosity * ratio**law.viscosity_power == pytest.approx(colder, rel=2e-3)


def test_law_of_a_liquid_has_the_wanted_mach_number() -> None:
    case = case_named("water base")
    fluid, circuit, flow, _ = matched_build(*build_of(case))
    given = plane_numbers(fluid, circuit, flow)
    law = law_of(
        fluid=fluid,
        pressure=given["ring_pressure"],
        enthalpy=given["ring_enthalpy"],
        fastest=8.0,
    )
    assert law.is_liquid
    sound = math.sqrt(law.exponent * law.pressure / law.density)
    assert sound == pytest.approx(8.0 / SOLVER_MACH)
    density, _ = jet_state(law=law, pressure=given["ring_pressure"] + 2e4, enthalpy=0.0, speed=8.0)
    # dp = a^2 d(rho)
    assert density - law.density == pytest.approx(2e4 / sound**2, rel=0.02)
