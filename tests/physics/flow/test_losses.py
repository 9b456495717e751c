from collections.abc import Callable
from dataclasses import fields, replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.physics.flow.losses import (
    FlowAccount,
    account_of_flow,
    account_of_stages,
    handed_on,
)
from engine.physics.flow.match import Circuit, Throughflow, match_rim_pressure
from engine.study.study import Study

AIR = gas("air")
BACK, SUPPLY = 101_325.0, 701_325.0
Columns = dict[str, NDArray[Any]]


@pytest.fixture(scope="module")
def circuit(
    shop_air: Study,
    builds: Callable[..., Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
) -> Circuit:
    return circuit_of(shop_air, three(builds))


@pytest.fixture(scope="module")
def gentle(
    shop_air: Study,
    builds: Callable[..., Columns],
    circuit_of: Callable[[Study, Columns], Circuit],
) -> Circuit:
    """The same builds on 1.6 bar absolute, where no nozzle chokes."""
    supply = shop_air.supply.model_copy(update={"pressure": 1.6e5})
    return circuit_of(shop_air.model_copy(update={"supply": supply}), three(builds))


def three(builds: Callable[..., Columns]) -> Columns:
    return builds(speed=np.array([300.0, 1000.0, 1600.0]), gap=np.array([0.3, 0.2, 0.15]) * 1e-3)


def account(circuit: Circuit) -> tuple[Throughflow, FlowAccount]:
    status = np.zeros(circuit.gap.shape, dtype=np.int64)
    flow, status = match_rim_pressure(fluid=AIR, circuit=circuit, status=status)
    assert not status.any()
    return flow, of_flow(circuit, flow)


def of_flow(circuit: Circuit, flow: Throughflow) -> FlowAccount:
    return account_of_flow(
        fluid=AIR,
        flow=flow,
        supply_pressure=circuit.nozzle.stagnation_pressure,
        nozzle_pressure=circuit.nozzle.stagnation_pressure,
        supply_enthalpy=circuit.nozzle.stagnation_enthalpy,
        back_pressure=BACK,
        bore_radius=circuit.bore_radius,
        angular_speed=circuit.angular_speed,
    )


def test_losses_and_rotor_power_add_up_to_the_isentropic_power(circuit: Circuit) -> None:
    found = account(circuit)[1]
    parts = [
        f.name for f in fields(found) if f.name not in ("isentropic", "disc_efficiency", "web")
    ]
    total = np.sum([getattr(found, name) for name in parts], axis=0)
    assert_allclose(total, found.isentropic, rtol=1e-12)


def test_isentropic_power_is_the_power_law_of_a_nearly_perfect_gas(circuit: Circuit) -> None:
    # cp T0 (1 - (p/p0)^((k-1)/k)) with k = 1.4 and R = 287.05: 125.0 kJ/kg; air is within 0.6 %.
    flow, found = account(circuit)
    drop = 3.5 * 287.05 * 293.15 * (1 - (BACK / SUPPLY) ** (0.4 / 1.4))
    assert_allclose(found.isentropic / flow.jet.mass_flow, drop, rtol=6e-3)


def test_a_loss_is_the_entropy_it_makes_times_the_end_temperature(circuit: Circuit) -> None:
    # Gouy and Stodola: lost work = T ds m for small losses, T that of the end state, along the
    # isobar of the back pressure. Entropy written out for a perfect gas.
    flow, found = account(circuit)

    def entropy(pressure: NDArray[np.float64], enthalpy: NDArray[np.float64]) -> Any:
        t = AIR.temperature(pressure=pressure, enthalpy=enthalpy)
        return 3.5 * 287.05 * np.log(t) - 287.05 * np.log(pressure)

    made = entropy(flow.gap.exit_pressure, flow.gap.exit_enthalpy)
    made = made - entropy(flow.entry.pressure, flow.entry.enthalpy)
    end = AIR.isentropic_enthalpy(
        pressure=flow.gap.exit_pressure, enthalpy=flow.gap.exit_enthalpy, end_pressure=BACK
    )
    before = AIR.isentropic_enthalpy(
        pressure=flow.entry.pressure, enthalpy=flow.entry.enthalpy, end_pressure=BACK
    )
    t = AIR.temperature(pressure=BACK, enthalpy=(end + before) / 2)
    assert_allclose(found.gap, flow.rotor_flow * t * made, rtol=0.02)


def test_nozzle_loss_follows_from_the_velocity_coefficient(gentle: Circuit) -> None:
    # Without under-expansion the loss is (1 - phi^2) of the jet's ideal energy, times the ratio
    # of temperatures at the end and at the rim.
    flow, found = account(gentle)
    assert not flow.jet.choked.any()
    ideal = flow.jet.speed**2 / 0.95**2 / 2
    lost = (1 - 0.95**2) * ideal * flow.jet.mass_flow
    at_rim = AIR.temperature(pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy)
    at_end = AIR.temperature(
        pressure=BACK,
        enthalpy=AIR.isentropic_enthalpy(
            pressure=flow.rim_pressure, enthalpy=flow.jet.enthalpy, end_pressure=BACK
        ),
    )
    assert_allclose(found.nozzle, lost * at_end / at_rim, rtol=0.01)


def test_perfect_nozzles_at_their_own_pressure_lose_nothing(gentle: Circuit) -> None:
    flow, found = account(replace(gentle, nozzle_velocity=np.ones(3)))
    assert not flow.jet.choked.any()
    assert_allclose(found.nozzle / found.isentropic, 0.0, atol=1e-9)


def test_mixing_loses_nothing_where_a_tangential_jet_keeps_its_swirl(circuit: Circuit) -> None:
    # no angle, no mixing loss, no walls to rub on: the ring is the jet
    free = replace(
        circuit,
        inlet_angle=np.zeros(3),
        rim_mixing=np.ones(3),
        stack_height=np.full(3, 1e-12),
        disc_thickness=np.full(3, 1e-12),
        exchange_factor=np.zeros(3),
    )
    found = account(free)[1]
    assert_allclose(found.mixing / found.isentropic, 0.0, atol=1e-6)
    assert_allclose(found.casing / found.isentropic, 0.0, atol=1e-6)


def test_closed_seals_leak_no_power(circuit: Circuit) -> None:
    flow, found = account(replace(circuit, seal_clearance=np.zeros(3), exchange_factor=np.zeros(3)))
    assert_allclose(found.leakage, 0.0, atol=1e-12)
    assert_allclose(flow.rotor_flow, flow.jet.mass_flow, rtol=1e-12)


def test_leaving_loss_is_at_least_the_motion_of_the_swirl_that_leaves(circuit: Circuit) -> None:
    flow, found = account(circuit)
    behind = found.leaving + found.incidence + found.web
    assert np.all(behind > flow.rotor_flow * flow.gap.exit_swirl**2 / 2)
    assert np.all(found.leaving > flow.rotor_flow * flow.outlet_swirl**2 / 4)


def test_disc_efficiency_is_work_over_the_drop_offered(circuit: Circuit) -> None:
    flow, found = account(circuit)
    driven = flow.ring.edge_torque + np.maximum(flow.ring.face_torque, 0.0)
    work = found.rotor - (driven + flow.web_torque) * circuit.angular_speed
    end = AIR.isentropic_enthalpy(
        pressure=flow.entry.pressure,
        enthalpy=flow.entry.enthalpy,
        end_pressure=flow.gap.exit_pressure,
    )
    offered = flow.rotor_flow * (flow.ring.total_enthalpy - end)
    assert_allclose(found.disc_efficiency, work / offered, rtol=1e-12)
    assert np.all((found.disc_efficiency > 0) & (found.disc_efficiency < 1))


def test_two_ideal_stages_give_the_textbook_work_and_lose_nothing() -> None:
    # Cengel and Boles, Thermodynamics, ch. 7, work of compressors: 900 kPa and 100 kPa, 300 K at
    # the low end, ideal gas with k = 1.4, isentropic: 263.2 kJ/kg; best split at 300 kPa. From
    # memory. Run backward here, without cooling between; real heat capacity differs by 1 %.
    air = gas("air")
    ends = [np.array([p]) for p in (9e5, 3e5, 1e5)]
    hot = np.array([air.enthalpy(pressure=9e5, temperature=300.0 * 9 ** (0.4 / 1.4))])
    none, one = np.zeros(1), np.ones(1)
    accounts = []
    enthalpy = hot
    for start, end in pairwise(ends):
        out = air.isentropic_enthalpy(pressure=start, enthalpy=enthalpy, end_pressure=end)
        ring = SimpleNamespace(
            enthalpy=enthalpy,
            total_enthalpy=enthalpy,
            leakage_swirl=none,
            casing_dissipation=none,
            edge_dissipation=none,
            chamber_dissipation=none,
            face_torque=none,
            edge_torque=none,
        )
        gap = SimpleNamespace(
            exit_pressure=end, exit_enthalpy=out, exit_total_enthalpy=out, exit_swirl=none
        )
        flow: Any = SimpleNamespace(
            ring=ring,
            gap=gap,
            entry=SimpleNamespace(pressure=start, enthalpy=enthalpy),
            jet=SimpleNamespace(mass_flow=one, enthalpy=enthalpy),
            rim_pressure=start,
            rotor_flow=one,
            leakage=none,
            web_torque=none,
            caught=none,
        )
        account = account_of_flow(
            fluid=air,
            flow=flow,
            supply_pressure=start,
            nozzle_pressure=start,
            supply_enthalpy=enthalpy,
            back_pressure=ends[-1],
            bore_radius=0.02,
            angular_speed=1000.0,
        )
        accounts.append(
            handed_on(
                fluid=air,
                account=account,
                flow=flow,
                passing=0.0,
                nozzle_pressure=start,
                nozzle_enthalpy=enthalpy,
                angular_speed=1000.0,
                next_flow=1.0,
                next_pressure=end,
                next_enthalpy=out,
                back_pressure=ends[-1],
            )
        )
        enthalpy = out
    whole = account_of_stages(accounts=accounts)
    assert_allclose(whole.isentropic, 263.2e3, rtol=0.012)
    assert_allclose(whole.rotor, whole.isentropic, rtol=1e-9)
    for name in ("nozzle", "mixing", "entry", "gap", "incidence", "leaving", "leakage"):
        assert_allclose(getattr(whole, name) / whole.isentropic, 0.0, atol=1e-9, err_msg=name)
    assert_allclose(whole.disc_efficiency, 1.0, rtol=1e-9)
    # The textbook's split gives both stages alike by ratio of temperatures.
    temperatures = [
        air.temperature(pressure=p, enthalpy=h)
        for p, h in ((ends[0], hot), (ends[1], hot - accounts[0].rotor), (ends[2], enthalpy))
    ]
    assert_allclose(temperatures[0] / temperatures[1], temperatures[1] / temperatures[2], rtol=0.01)
