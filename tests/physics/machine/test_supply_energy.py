"""The work of the supply along a run, against closed forms of an ideal gas."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad

from engine.physics.machine.in_time import follow
from engine.physics.machine.plant import Plant, Receiver
from engine.physics.machine.supply_energy import SupplyEnergies, SupplySide, Worth
from tests.physics.machine.test_in_time import (
    FREE,
    LOADS,
    NODES,
    RPM,
    SHARES,
    WHOLE,
    plant,
    run,
    stage,
)

BACK, K, HEAT = 0.15, 1.4, 2.94e5
"""Back pressure over the full one, exponent, and cp T of air [J/kg]."""
PRESSURE = BACK + np.square(np.linspace(0, 1, 300)) * (1.5 - BACK)


def ideal(pressure: float) -> float:
    """Work of a kilogram that expands without loss: any textbook of thermodynamics."""
    return float(HEAT * (1 - (BACK / pressure) ** ((K - 1) / K)))


WORTH = Worth.of(pressure=PRESSURE, work=np.array([ideal(each) for each in PRESSURE]))


def side(*shares: float) -> SupplySide:
    split = np.array(shares)[:, None, None] + np.zeros((len(shares), len(SHARES), len(NODES)))
    names = tuple(f"loss {place}" for place in range(len(shares)))
    return SupplySide(WORTH, names, split)


def followed(some: Plant, end: float, *, speed: float, voltage: float = 0.0) -> SupplyEnergies:
    energies = run(some, end, speed=speed, voltage=voltage).energies
    assert energies.supply is not None
    assert abs(energies.left_of_supply) < 1e-6
    return energies.supply


def test_a_receiver_holds_what_its_gas_would_give_bit_by_bit() -> None:
    exact, _ = quad(ideal, BACK, 1.3)
    assert_allclose(WORTH.held(1.3), exact, rtol=1e-6)
    assert WORTH.held(0.9 * BACK) == 0


def test_a_hose_holds_what_its_gas_gives_as_it_blows_down() -> None:
    # Mass over that at full pressure goes as p^(1/k), its temperature as p^((k-1)/k). What leaves
    # gives cp (T - T_end), T_end = T (back/p)^((k-1)/k).
    start = 0.9

    def given(p: float) -> float:
        leaves = start * (p / start) ** (1 / K) / K / p  # for each step of pressure
        warmth = (p / start) ** ((K - 1) / K)
        return float(leaves * warmth * ideal(p))

    exact, _ = quad(given, BACK, start)
    assert_allclose(WORTH.blown(start, K), exact, rtol=1e-6)
    assert_allclose(WORTH.blown(BACK, K), 0.0, atol=1e-6)


def test_all_that_comes_is_drawn_lost_stored_or_served() -> None:
    tank = Receiver(mass=0.5, full=1.4, delivered=0.006)
    trips = replace(FREE, trip_speed=36_000 * RPM, delay=0.1, closing=0.2, stored=0.002)
    some = plant(
        *LOADS, sheet=WHOLE, ratio=1.6, efficiency=0.93, hose=trips, receiver=tank,
        side=side(0.5, 0.3, 0.2),
    )  # fmt: skip
    on = np.array([True, True, False, False, True])
    stages = [
        stage(some, 2.5, on=on),
        stage(some, 6.0, start=2.5, swing=(0.1, 0.7, 2.5), delivers=False),
        stage(some, 8.0, start=6.0, ramp=(6.0, 7.0, 1.0, 0.6)),
        stage(some, 14.0, start=8.0, on=np.zeros(5, bool)),
    ]
    found = follow(plant=some, stages=stages, speed=0.0, voltage=0.0)
    energies, supply = found.energies, found.energies.supply
    assert supply is not None
    assert np.isfinite(found.tripped)
    # The receiver's own state tells what left it; the sums over time must agree.
    assert_allclose(supply.came + supply.receiver, supply.drawn, rtol=1e-6)
    assert abs(energies.left_of_supply) < 1e-6
    assert_allclose(supply.shaft, energies.shaft, rtol=1e-5)
    # Nothing throttled gives work, and there was a receiver above the regulator.
    assert supply.valve > 0
    assert supply.regulator > 0
    assert supply.receiver > 0
    losses = np.array(list(supply.lost.values()))
    assert_allclose(losses / losses.sum(), [0.5, 0.3, 0.2], rtol=1e-9)


@pytest.mark.parametrize("closing", [0.0, 0.3])
def test_a_shut_hose_gives_the_work_that_its_gas_held(closing: float) -> None:
    """With the valve shut at once nothing is throttled: all that the hose held comes out.

    Its state in time is followed by pressure and temperature, what it held is a closed form.
    """
    hose = replace(FREE, trip_speed=30_000 * RPM, stored=0.02, closing=closing)
    found = followed(
        plant(hose=hose, side=side(1.0)), 60.0, speed=30_001 * RPM, voltage=30_001 * RPM / 52.36
    )
    assert found.hose > 0.9 * 0.02 * WORTH.blown(1.0, K)
    if closing == 0:
        assert found.came == pytest.approx(0, abs=1e-9)
        assert abs(found.valve) < 1e-5 * found.hose
    else:
        assert found.valve > 1e-3 * found.hose


def test_a_supply_without_end_is_drawn_at_its_pressure() -> None:
    some = plant(("heater", 150.0, 24.0), side=side(1.0))
    found = followed(some, 5.0, speed=30_000 * RPM, voltage=40.0)
    assert_allclose(found.drawn, 5.0 * 0.01 * ideal(1.0), rtol=1e-6)
    assert found.came == found.drawn
    assert found.regulator == pytest.approx(0, abs=1e-6)
    assert run(plant(), 1.0, speed=30_000 * RPM).energies.supply is None
