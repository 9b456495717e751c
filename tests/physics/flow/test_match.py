from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.fluids.by_name import gas
from engine.physics.arrays import Reason
from engine.physics.flow.match import (
    EXHAUST_CHOKED_MACH,
    RESIDUAL,
    Circuit,
    Throughflow,
    flow_at_rim_pressure,
    match_rim_pressure,
)
from engine.physics.flow.outlet import swirling_exhaust
from engine.physics.gap.averaged import STEPS, march
from engine.study.study import Study
from tests.support.lanes import take_lanes

AIR = gas("air")
Columns = dict[str, NDArray[Any]]


@pytest.fixture(scope="module")
def random_circuit(
    shop_air: Study,
    random_builds: Callable[[int, int], Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
) -> Circuit:
    return circuit_of(shop_air, random_builds(400, 11))


@pytest.fixture(scope="module")
def middling(
    shop_air: Study,
    builds: Callable[..., Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
) -> Circuit:
    return circuit_of(shop_air, builds())


def match(
    circuit: Circuit, family: NDArray[np.float64] | None = None
) -> tuple[Throughflow, NDArray[np.int64]]:
    status = np.zeros(circuit.gap.shape, dtype=np.int64)
    return match_rim_pressure(fluid=AIR, circuit=circuit, status=status, family=family)


def same_but(circuit: Circuit, **changes: Any) -> Circuit:
    """One circuit in as many lanes as the changed quantities have."""
    n_lanes = max(np.size(value) for value in changes.values())
    spread = take_lanes(circuit=circuit, lane=np.zeros(n_lanes, dtype=np.int64))
    lanes: Any = {k: np.broadcast_to(np.asarray(v, float), (n_lanes,)) for k, v in changes.items()}
    return replace(spread, **lanes)


def test_tenfold_refinement_moves_the_torque_of_a_matched_lane_by_2e_4_without_backflow(
    shop_air: Study,
    random_builds: Callable[[int, int], Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
    entry_of: Callable[[Circuit, Throughflow], Columns],
) -> None:
    # Left out: discs faster than the gas and wide gaps, where fluid moves outward at the walls and
    # the march limits it; and fast flow, which changes little within the gap.
    circuit = circuit_of(shop_air, random_builds(3000, 12))
    flow, status = match(circuit)
    lanes = entry_of(circuit, flow)
    speed, nu = flow.entry.radial_speed, flow.ring.viscosity / flow.ring.density
    ekman = circuit.gap * np.sqrt(circuit.angular_speed / nu)
    by_swirl = circuit.gap * np.sqrt(flow.ring.swirl / circuit.rim_radius / nu)
    ahead = flow.ring.swirl > circuit.angular_speed * circuit.rim_radius
    slow = speed * circuit.gap**2 / (nu * circuit.rim_radius) < 5
    use = (status == Reason.MATCHED) & ahead & (ekman < 6) & (by_swirl < 10) & slow
    assert use.sum() > 800
    coarse, fine = (
        march(fluid=AIR, **{key: each[use] for key, each in lanes.items()}, steps=steps)
        for steps in (STEPS, 10 * STEPS)
    )
    off = np.abs(coarse.torque / fine.torque - 1)
    assert np.isfinite(off).mean() > 0.998  # a lane near choking may choke with other steps
    off = off[np.isfinite(off)]
    assert np.mean(off < 2e-4) > 0.97
    assert off.max() < 1e-3


def test_matched_lanes_close_to_a_millionth_of_the_pressure_drop(random_circuit: Circuit) -> None:
    flow, status = match(random_circuit)
    matched = status == Reason.MATCHED
    assert matched.mean() > 0.9
    assert np.abs(flow.mismatch[matched]).max() <= 1e-6
    # written out: the pressure behind the exhaust, after its loss, is the back pressure
    gap, c = flow.gap, random_circuit
    density = AIR.density(pressure=gap.exit_pressure, enthalpy=gap.exit_enthalpy)
    out = swirling_exhaust(
        mass_flow=flow.rotor_flow,
        density=density,
        swirl=gap.exit_swirl,
        area=c.exhaust_area,
        exhaust_ends=c.seal_count,
        **{key: getattr(c, key) for key in ("angular_speed", "bore_radius", "hub_radius")},
        **{key: getattr(c, key) for key in ("spokes", "web_factor", "core_factor")},
    )
    axial = flow.rotor_flow / density / c.exhaust_area / out.filled
    behind = gap.exit_pressure - c.exhaust_loss * density * axial**2 / 2 - out.swirl_head
    assert_allclose(behind[matched], 101_325.0, atol=1e-6 * 6e5)


def test_rim_pressure_is_that_of_a_bracketed_search_one_lane_at_a_time(
    random_circuit: Circuit,
) -> None:
    flow, status = match(random_circuit)
    for lane in np.flatnonzero(status == Reason.MATCHED)[:6]:
        one = take_lanes(circuit=random_circuit, lane=np.array([lane]))

        def off(pressure: float, one: Circuit = one) -> float:
            found = flow_at_rim_pressure(
                fluid=AIR, circuit=one, march=march, rim_pressure=np.array([pressure])
            )
            return float(found.mismatch[0])

        with np.errstate(all="ignore"):
            top = flow.rim_pressure[lane] + 0.3 * (701_325.0 - flow.rim_pressure[lane])
            expected = brentq(off, 101_326.0, top, xtol=1e-3)
        assert_allclose(flow.rim_pressure[lane], expected, atol=3.0)


def test_mismatch_rises_with_rim_pressure(middling: Circuit) -> None:
    # So there is one matched point only.
    pressure = np.linspace(1.02e5, 7.0e5, 300)
    many = take_lanes(circuit=middling, lane=np.zeros(300, dtype=np.int64))
    with np.errstate(all="ignore"):
        found = flow_at_rim_pressure(fluid=AIR, circuit=many, march=march, rim_pressure=pressure)
    assert np.all(np.diff(found.mismatch) > 0)


def test_the_slope_found_is_the_difference_quotient_of_the_mismatch(middling: Circuit) -> None:
    flow, _ = match(middling)
    by = 1e-5 * flow.rim_pressure
    low, high = (
        flow_at_rim_pressure(fluid=AIR, circuit=middling, march=march, rim_pressure=pressure)
        for pressure in (flow.rim_pressure - by, flow.rim_pressure + by)
    )
    assert_allclose(flow.slope, (high.mismatch - low.mismatch) / (2 * by), rtol=0.02)
    assert np.all(np.isnan(high.slope))


def test_a_resolved_match_is_the_same_with_and_without_the_slope(middling: Circuit) -> None:
    status, (near, _) = np.zeros(1, dtype=np.int64), match(middling)
    found = [
        match_rim_pressure(
            fluid=AIR,
            circuit=middling,
            status=status,
            level="resolved",
            guess=near.rim_pressure,
            slope=slope,
        )[0]
        for slope in (None, near.slope, near.slope * 1e3, -near.slope)
    ]
    # A slope a thousand times too steep or falling is no help, and is not gone by.
    for flow in found:
        assert np.all(np.abs(flow.mismatch) <= RESIDUAL)
        assert_allclose(flow.rim_pressure, found[0].rim_pressure, rtol=1e-6)
    assert np.array_equal(found[2].rim_pressure, found[0].rim_pressure)
    assert np.array_equal(found[3].rim_pressure, found[0].rim_pressure)


def test_lanes_that_start_from_the_first_of_their_family_match_as_they_do_alone(
    random_circuit: Circuit,
) -> None:
    # Families of eight with gaps and speeds up to a tenth apart.
    each = take_lanes(circuit=random_circuit, lane=np.repeat(np.arange(400), 8))
    by = 1 + 0.1 * np.random.default_rng(1).uniform(-1, 1, size=(2, each.gap.size))
    near = replace(each, gap=each.gap * by[0], angular_speed=each.angular_speed * by[1])
    alone, status = match(near)
    flow, found = match(near, np.repeat(np.arange(400.0), 8))
    assert_array_equal(found, status)
    matched = status == Reason.MATCHED
    assert matched.sum() > 1000
    assert np.abs(flow.mismatch[matched]).max() <= RESIDUAL
    # Where the mismatch is not monotone there are two roots, up to a hundredth apart.
    off = np.abs(flow.rim_pressure / alone.rim_pressure - 1)[matched]
    assert np.mean(off < 2e-5) > 0.995
    assert off.max() < 0.02
    assert_array_equal(flow.rim_pressure[::8], alone.rim_pressure[::8])


def test_lanes_far_from_the_first_of_their_family_are_searched_as_any_other(
    random_circuit: Circuit,
) -> None:
    alone, status = match(random_circuit)
    flow, found = match(random_circuit, np.zeros(400))
    assert_array_equal(found, status)
    matched = status == Reason.MATCHED
    off = np.abs(flow.rim_pressure / alone.rim_pressure - 1)[matched]
    assert np.mean(off < 2e-5) > 0.98
    assert off.max() < 0.05


def test_a_stack_that_pumps_against_the_supply_has_no_flow(middling: Circuit) -> None:
    # At rest pressure of a solid body, rho Omega^2 (ro^2 - ri^2)/2, above the supply no flow can
    # come in; here 8.3 kg/m3 x 20,000^2 x 0.0025 = 8.3 MPa by hand.
    flow, status = match(same_but(middling, angular_speed=[1500.0, 20_000.0]))
    assert status.tolist() == [Reason.MATCHED, Reason.NO_FLOW]
    assert flow.rotor_flow[0] > 1e-3


def test_edges_that_churn_more_than_they_pass_are_flagged(middling: Circuit) -> None:
    throat = middling.throat_area * np.array([1.0, 0.005])
    narrow = same_but(middling, throat_area=throat, angular_speed=3e3, seal_clearance=0.0)
    assert match(narrow)[1].tolist() == [Reason.MATCHED, Reason.CHURNING]


def test_a_stack_whose_seals_take_all_flow_has_no_operating_point(middling: Circuit) -> None:
    leaky = same_but(middling, seal_clearance=[0.05e-3, 20e-3])
    status = match(leaky)[1]
    assert status[0] == Reason.MATCHED
    assert status[1] in {Reason.NO_FLOW, Reason.NOT_CONVERGED}


def test_a_narrow_exhaust_chokes_before_its_speed_reaches_sound(middling: Circuit) -> None:
    flow, status = match(same_but(middling, exhaust_area=middling.exhaust_area * [1, 0.3, 0.001]))
    mach = flow.exhaust_speed / flow.exhaust_sound
    assert status[0] == Reason.MATCHED
    assert status[2] == Reason.EXHAUST_CHOKED
    assert mach[0] < EXHAUST_CHOKED_MACH < mach[2]


def test_gaps_too_few_for_the_flow_choke(middling: Circuit) -> None:
    few = same_but(middling, gap=[0.2e-3, 0.2e-3], gap_count=[10.0, 1.0], throat_area=[8e-6, 60e-6])
    assert match(few)[1].tolist() == [Reason.MATCHED, Reason.GAP_CHOKED]


def test_less_exhaust_area_raises_the_rim_pressure(middling: Circuit) -> None:
    area = middling.exhaust_area * np.array([1.0, 0.5, 0.2, 0.1])
    pressure = match(same_but(middling, exhaust_area=area))[0].rim_pressure
    assert np.all(np.diff(pressure) > 0)


def test_lanes_already_refused_keep_their_reason_and_are_not_searched(middling: Circuit) -> None:
    pair = take_lanes(circuit=middling, lane=np.zeros(2, dtype=np.int64))
    given = np.array([int(Reason.BAD_SUPPLY), int(Reason.MATCHED)])
    flow, status = match_rim_pressure(fluid=AIR, circuit=pair, status=given)
    assert status.tolist() == [Reason.BAD_SUPPLY, Reason.MATCHED]
    assert np.isnan(flow.rim_pressure[0])
    assert given.tolist() == [Reason.BAD_SUPPLY, Reason.MATCHED]


def test_no_lane_to_search_is_no_error(middling: Circuit) -> None:
    status = np.array([int(Reason.BAD_GEOMETRY)])
    assert match_rim_pressure(fluid=AIR, circuit=middling, status=status)[1] == status
