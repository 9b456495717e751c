from typing import Any

import numpy as np
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from engine.fluids.by_name import gas
from engine.physics.flow.geometry import exhaust_area
from engine.physics.flow.nozzle import isentropic_flux
from engine.physics.flow.outlet import collar_leakage, exhaust_pressure_drop, exhaust_speed

AIR = gas("air")
BACK = 101_325.0
RING: dict[str, Any] = {
    "ring_pressure": 1.4e5,
    "ring_enthalpy": float(AIR.enthalpy(pressure=1.4e5, temperature=293.15)),
    "ring_density": 1.66,
    "core_speed": 0.45 * 1500.0 * 0.075,
    "rim_radius": 0.075,
    "seal_radius": 0.025,
    "seal_clearance": 0.1e-3,
    "seal_count": 2.0,
    "throttles": 1.0,
    "discharge_coefficient": 0.7,
}


def leakage(**changes: Any) -> NDArray[np.float64]:
    values = {"back_pressure": BACK, **RING, **changes}
    return collar_leakage(fluid=AIR, **values)


def test_exhaust_drop_is_that_of_a_sharp_entry_and_a_free_end() -> None:
    # Borda and Carnot: 0.5 for a sharp entry and the whole head lost on leaving. Worked by hand:
    # 12 g/s of 1.2 kg/m3 through 200 mm2 is 50 m/s; 1.5 x 1.2 x 50^2 / 2 = 2250 Pa.
    speed = exhaust_speed(mass_flow=0.012, density=1.2, area=200e-6)
    assert_allclose(speed, 50.0)
    drop = exhaust_pressure_drop(axial_speed=speed, density=1.2, loss_coefficient=0.5 + 1.0)
    assert_allclose(drop, 2250.0)


def test_half_the_area_costs_four_times_the_pressure() -> None:
    # Consequence of continuity and the square law: too small a bore builds back pressure.
    area = exhaust_area(
        bore_radius=np.array([0.02, np.sqrt((0.02**2 + 0.006**2) / 2)]),
        shaft_radius=0.006,
        exhaust_ends=2,
        blockage=0.25,
    )
    assert_allclose(area[1], area[0] / 2)
    speed = exhaust_speed(mass_flow=0.012, density=1.2, area=area)
    drop = exhaust_pressure_drop(axial_speed=speed, density=1.2, loss_coefficient=1.5)
    assert_allclose(drop[1], 4 * drop[0])


def test_leakage_at_rest_is_that_of_an_orifice_between_ring_and_exhaust() -> None:
    # Saint-Venant and Wantzel at 1.4 to 1.01325 bar for k = 1.4: mass flux is
    # p0 sqrt(2k/((k-1) R T0) (x^(2/k) - x^((k+1)/k))); Cd 0.7 over two collars.
    x = BACK / 1.4e5
    flux = 1.4e5 * np.sqrt(2 * 1.4 / (0.4 * 287.05 * 293.15) * (x ** (2 / 1.4) - x ** (2.4 / 1.4)))
    area = 2 * 2 * np.pi * 0.025 * 0.1e-3
    assert_allclose(leakage(core_speed=0.0), 0.7 * flux * area, rtol=1e-3)


def test_turning_lowers_the_pressure_at_the_seal_by_the_core_of_the_side_chamber() -> None:
    # Core at 0.45 of disc speed (Daily and Nece 1960, from memory): solid-body pressure
    # rho (0.45 Omega)^2 (ro^2 - rs^2) / 2 = 1.66 x 675^2 x 0.005 / 2 = 1890.8 Pa, by hand.
    slow = leakage(ring_pressure=1.4e5 - 1890.8, core_speed=0.0)
    assert_allclose(leakage(), slow, rtol=1e-5)


def test_throttles_in_series_divide_the_flow_by_the_root_of_their_number() -> None:
    # Stodola 1927 (from memory)
    assert_allclose(leakage(throttles=np.array([1.0, 4.0, 9.0])) / leakage(), [1, 1 / 2, 1 / 3])


def test_a_seal_chokes_at_the_flow_of_its_upstream_pressure() -> None:
    # 0.0404149 p0 A / sqrt(T0) for a perfect gas (NACA Report 1135); air departs by 0.1 % here.
    found = leakage(ring_pressure=6e5, core_speed=0.0, back_pressure=np.array([1e5, 2e5]))
    assert found[0] == found[1]
    area = 2 * 2 * np.pi * 0.025 * 0.1e-3
    assert_allclose(found, 0.7 * 0.0404149 * 6e5 * area / np.sqrt(293.15), rtol=1e-3)


def test_closed_seals_and_a_chamber_that_pumps_let_nothing_out() -> None:
    assert leakage(seal_clearance=0.0) == 0.0
    # 1.66 x (0.45 x 10,000)^2 x 0.005 / 2 = 84 kPa, more than ring over exhaust: nothing comes out
    assert leakage(core_speed=0.45 * 10_000.0 * 0.075) == 0.0


def test_leakage_grows_with_clearance_and_pressure() -> None:
    assert_allclose(leakage(seal_clearance=0.2e-3), 2 * leakage())
    assert np.all(np.diff(leakage(ring_pressure=np.linspace(1.05e5, 6e5, 20))) > 0)


def test_leakage_agrees_with_the_nozzles_flux_per_area() -> None:
    flux = isentropic_flux(
        fluid=AIR, pressure=1.4e5, enthalpy=RING["ring_enthalpy"], back_pressure=BACK
    )
    area = 2 * 2 * np.pi * 0.025 * 0.1e-3
    assert_allclose(leakage(core_speed=0.0), 0.7 * area * flux, rtol=1e-12)
