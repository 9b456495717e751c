from typing import Any

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from numpy.testing import assert_allclose
from scipy.integrate import quad

from engine.fluids.by_name import gas
from engine.physics.gap.answer import GapFlow
from engine.physics.gap.averaged import STEPS, march

AIR = gas("air")
RIM, BORE = 0.075, 0.025
WARM = float(AIR.enthalpy(pressure=1.2e5, temperature=293.15))
VISCOSITY = float(AIR.viscosity(pressure=1.2e5, enthalpy=WARM))


def flow(**changes: Any) -> GapFlow:
    """Flow of air at room temperature through a gap, by `reynolds_star` or `mass_flow`."""
    values = {
        "rim_pressure": np.array([1.2e5]),
        "rim_enthalpy": WARM,
        "rim_swirl": 0.0,
        "angular_speed": 0.0,
        "gap": 0.2e-3,
        "rim_radius": RIM,
        "bore_radius": BORE,
        **changes,
    }
    if "reynolds_star" in values:
        # Re* = rho U0 b^2 / (mu ro), mass flow = 2 pi ro b rho U0
        re = values.pop("reynolds_star")
        values["mass_flow"] = 2 * np.pi * RIM**2 * VISCOSITY * re / values["gap"]
    return march(fluid=AIR, **values)


def density(pressure: float = 1.2e5) -> float:
    h = AIR.enthalpy(pressure=pressure, temperature=293.15)
    return float(AIR.density(pressure=pressure, enthalpy=h))


def test_slow_flow_without_swirl_has_poiseuilles_pressure_drop() -> None:
    # tau = 6 mu u / b on both walls, so dp/dr = 12 mu u / b^2 and over the radius
    # dp = 6 mu m ln(ro/ri) / (pi rho b^3).
    mass_flow, gap = 2e-7, 0.1e-3
    found = flow(mass_flow=mass_flow, gap=gap, steps=480)
    expected = 6 * VISCOSITY * mass_flow * np.log(RIM / BORE) / (np.pi * density() * gap**3)
    assert_allclose(1.2e5 - found.exit_pressure, expected, rtol=1e-4)
    assert found.turbulent_share == 0.0


def test_fluid_that_turns_with_the_discs_has_the_pressure_of_a_solid_body() -> None:
    # dp = rho Omega^2 (ro^2 - ri^2) / 2 for constant density
    speed = 200.0
    found = flow(mass_flow=1e-9, angular_speed=speed, rim_swirl=speed * RIM)
    expected = density() * speed**2 * (RIM**2 - BORE**2) / 2
    assert_allclose(1.2e5 - found.exit_pressure, expected, rtol=1e-3)


def test_a_fast_solid_body_of_gas_is_isentropic() -> None:
    # dp/rho = Omega^2 r dr = dh: the exact compressible form of the same limit
    speed = 4000.0
    found = flow(mass_flow=1e-9, angular_speed=speed, rim_swirl=speed * RIM, steps=480)
    end = AIR.isentropic_enthalpy(pressure=1.2e5, enthalpy=WARM, end_pressure=found.exit_pressure)
    assert_allclose(WARM - end, speed**2 * (RIM**2 - BORE**2) / 2, rtol=2e-4)
    assert_allclose(found.exit_enthalpy, end, rtol=1e-4)


def test_slip_of_a_slow_flow_is_that_of_a_uniformly_dragged_channel() -> None:
    # Relative swirl solves mu w'' = 2 rho u Omega with u = 3/2 U (1 - z^2) between still walls:
    # w over its scale is (5 - 6 z^2 + z^4)/8 (the plane channel with uniform wall heating). Its
    # mass-flux mean is Re*/(70/17) of Omega ro^2.
    u = Polynomial([1.5, 0, -1.5])
    w = Polynomial([5.0, 0, -6.0, 0, 1.0]) / 8
    assert_allclose(w.deriv(2)(np.linspace(0, 1, 5)), -u(np.linspace(0, 1, 5)), atol=1e-12)
    bulk = (w * u).integ()(1.0) / 2
    assert_allclose(bulk, 17 / 70)
    speed = 200.0
    for reynolds_star in (0.01, 0.05):
        found = flow(
            reynolds_star=reynolds_star, angular_speed=speed, rim_swirl=speed * RIM, gap=0.1e-3
        )
        slip = BORE * (found.exit_swirl - speed * BORE) / (speed * RIM**2)
        assert_allclose(slip, bulk * reynolds_star, rtol=2e-3)


def test_swirl_decays_at_the_rate_of_graetz() -> None:
    # First eigenvalue of the isothermal plane channel (Shah and London 1978): Nu = 7.5407, so
    # r w falls by exp(-7.5407 (x1^2 - x2^2) / (2 Re*)) between radii x of ro.
    reynolds_star, x = 0.1, np.array([0.92, 0.82])
    found = flow(
        reynolds_star=reynolds_star, bore_radius=x * RIM, rim_swirl=0.5, gap=0.3e-3, steps=480
    )
    moment = x * found.exit_swirl
    rate = np.log(moment[0] / moment[1]) / (x[0] ** 2 - x[1] ** 2) * 2 * reynolds_star
    assert_allclose(rate, 7.5407, rtol=2e-3)


def test_swirl_lost_in_the_entry_is_that_of_simultaneously_developing_channel_flow() -> None:
    # Stephan 1959 (from memory): mean Nusselt number of a plane channel in which speed and
    # temperature both start as plugs, unit Prandtl number, x of hydraulic diameter x Reynolds
    # number: 7.55 + 0.024 x^-1.14 / (1 + 0.0358 x^-0.64).
    for reynolds_star, lost in ((0.5, [0.05, 0.1, 0.2, 0.4]), (2.0, [0.02, 0.05, 0.2, 0.7])):
        fallen = np.array(lost)  # of the square of the radius
        bore = RIM * np.sqrt(1 - fallen)
        found = flow(reynolds_star=reynolds_star, bore_radius=bore, rim_swirl=0.5, gap=0.6e-3)
        x = fallen / (8 * reynolds_star)
        nusselt = 7.55 + 0.024 * x**-1.14 / (1 + 0.0358 * x**-0.64)
        ours = 1 - bore / RIM * found.exit_swirl / 0.5
        assert_allclose(ours, 1 - np.exp(-4 * nusselt * x), rtol=0.03)


def test_pressure_drop_of_the_entry_is_that_of_shah() -> None:
    # Shah 1978 (from memory), a plane channel developing from a plug, in dynamic heads, over
    # x of hydraulic diameter x Reynolds number: stated accuracy 2.4 %. Close to the rim, where
    # the speed hardly changes with the radius.
    reynolds_star, fallen = 8.0, np.array([0.02, 0.03, 0.04])
    found = flow(
        rim_pressure=np.full(3, 1.2e5),
        reynolds_star=reynolds_star,
        bore_radius=RIM * (1 - fallen),
        gap=0.6e-3,
    )
    x = (1 - (1 - fallen) ** 2) / (8 * reynolds_star)
    root = 3.44 * np.sqrt(x)
    heads = 4 * (root + (24 * x + 0.674 / 4 - root) / (1 + 2.9e-5 / x**2))
    speed = reynolds_star * VISCOSITY * RIM / (density() * 0.6e-3**2)
    acceleration = 1 / (1 - fallen) ** 2 - 1
    expected = (heads + acceleration) * density() * speed**2 / 2
    assert_allclose(1.2e5 - found.exit_pressure, expected, rtol=0.05)


@pytest.mark.parametrize("reynolds", [8_000, 15_000, 30_000])
def test_turbulent_friction_is_that_of_dean(reynolds: float) -> None:
    # 0.073 Re^-1/4 with gap and mean speed (Dean 1978, from memory), and the momentum factor 1.02
    # of a turbulent profile on the acceleration. Dense air keeps the flow slow and incompressible.
    pressure, gap = 50e5, 0.2e-3
    h = float(AIR.enthalpy(pressure=pressure, temperature=293.15))
    mu, rho = float(AIR.viscosity(pressure=pressure, enthalpy=h)), density(pressure)
    mass_flow = 2 * np.pi * 0.1 * reynolds * mu / 2
    found = flow(
        rim_pressure=np.array([pressure]),
        rim_enthalpy=h,
        mass_flow=mass_flow,
        gap=gap,
        rim_radius=0.1,
        bore_radius=0.05,
    )

    def speed(r: float) -> float:
        return float(mass_flow / (2 * np.pi * r * gap * rho))

    def slope(r: float) -> float:
        head = rho * speed(r) ** 2 / 2
        return float(0.073 * (gap * rho * speed(r) / mu) ** -0.25 * 2 / gap * head)

    friction = quad(slope, 0.05, 0.1)[0]
    acceleration = 1.02 * rho * (speed(0.05) ** 2 - speed(0.1) ** 2) / 2
    assert friction > 1.5 * acceleration
    assert_allclose(pressure - found.exit_pressure, friction + acceleration, rtol=0.05)
    assert_allclose(found.turbulent_share, 1.0)
    assert_allclose(found.largest_reynolds, 2 * reynolds, rtol=0.01)


def test_turbulent_swirl_loses_what_the_wall_shear_takes() -> None:
    # Hirs 1973 (from memory): shear 0.033 rho V w Re_b^-1/4 on both walls of a swirling stream;
    # a tenth of the laminar shear 6 mu w / b stays on top.
    found = flow(mass_flow=8e-3, gap=0.5e-3, rim_swirl=100.0, bore_radius=0.998 * RIM)
    radial = 8e-3 / (2 * np.pi * RIM * 0.5e-3 * density())
    relative = np.hypot(radial, 100.0)
    shear = (
        0.033 * density() * relative * 100.0 * (relative * 0.5e-3 * density() / VISCOSITY) ** -0.25
    )
    torque = 2 * shear * 2 * np.pi * RIM * (0.002 * RIM) * RIM
    assert_allclose(found.torque, torque, rtol=0.05)


SHOP = {
    "mass_flow": np.array([0.4e-3, 1.2e-3, 1.0e-3, 0.2e-3]),
    "gap": np.array([0.2e-3, 0.3e-3, 0.5e-3, 0.15e-3]),
    "rim_swirl": np.array([180.0, 260.0, 120.0, 150.0]),
    "angular_speed": np.array([1500.0, 1800.0, 1000.0, 2500.0]),
    "bore_radius": np.array([0.025, 0.02, 0.04, 0.03]),
}


def test_total_enthalpy_falls_by_the_work_of_the_torque() -> None:
    found = flow(**SHOP)
    mass_flow, speed = SHOP["mass_flow"], SHOP["angular_speed"]
    radial = mass_flow / (2 * np.pi * RIM * SHOP["gap"] * density())
    before = WARM + (radial**2 + SHOP["rim_swirl"] ** 2) / 2
    drop = before - found.exit_total_enthalpy
    assert_allclose(drop, speed * found.torque / mass_flow, rtol=1e-9)
    swirl_in, swirl_out = RIM * SHOP["rim_swirl"], SHOP["bore_radius"] * found.exit_swirl
    assert_allclose(found.torque, mass_flow * (swirl_in - swirl_out), rtol=1e-12)


def test_total_enthalpy_at_the_exit_is_static_enthalpy_and_kinetic_energy() -> None:
    # The flux mean of the squared speeds of real profiles exceeds that of the means by up to 9 %
    # of relative swirl and 54 % of radial speed (see the moments above).
    found = flow(**SHOP)
    state = AIR.density(pressure=found.exit_pressure, enthalpy=found.exit_enthalpy)
    radial = SHOP["mass_flow"] / (2 * np.pi * SHOP["bore_radius"] * SHOP["gap"] * state)
    motion = found.exit_total_enthalpy - found.exit_enthalpy
    least = (radial**2 + found.exit_swirl**2) / 2
    slip = found.exit_swirl - SHOP["angular_speed"] * SHOP["bore_radius"]
    assert np.all(motion >= least * (1 - 1e-3))
    assert np.all(motion <= least + 0.55 * radial**2 / 2 + 0.10 * slip**2 / 2 + 1e-3 * least)


def test_tenfold_refinement_moves_torque_by_less_than_1e_4_and_pressure_drop_by_2e_3() -> None:
    coarse, fine = flow(**SHOP), flow(**SHOP, steps=10 * STEPS)
    assert_allclose(coarse.torque, fine.torque, rtol=1e-4)
    assert_allclose(1.2e5 - coarse.exit_pressure, 1.2e5 - fine.exit_pressure, rtol=2e-3)


def test_error_falls_faster_than_the_length_of_the_steps() -> None:
    # Second order, less for the layers of the entry, which grow with the root of the distance, and
    # down to 1e-5 of the drop, where the limit on reversal comes and goes from step to step.
    finest = flow(**SHOP, steps=1536).exit_pressure
    off = [np.abs(flow(**SHOP, steps=n).exit_pressure - finest) for n in (96, 384)]
    assert np.all(off[1] < np.maximum(off[0] / 4, 1e-5 * (1.2e5 - finest)))


def test_reversed_flow_and_hardly_any_flow_have_finite_answers_without_a_warning() -> None:
    # Far outside the range of the modes: wide gaps, fluid slower than the discs, almost no flow.
    random = np.random.default_rng(6)
    n_lanes = 2000
    rim = random.uniform(0.03, 0.15, n_lanes)
    wall = random.uniform(5, 200, n_lanes)
    found = flow(
        rim_pressure=np.full(n_lanes, 3e5),
        mass_flow=10 ** random.uniform(-11, -4, n_lanes),
        gap=10 ** random.uniform(-4.3, -2.7, n_lanes),
        rim_radius=rim,
        bore_radius=rim * random.uniform(0.2, 0.8, n_lanes),
        angular_speed=wall / rim,
        rim_swirl=wall * random.uniform(0.0, 3.0, n_lanes),
    )
    assert found.choked.mean() < 0.002
    good = ~found.choked
    assert np.all(np.isfinite(found.exit_swirl[good]))
    assert np.all((found.exit_pressure[good] > 0) & (found.exit_pressure[good] < 3.001e5))


def wide_turbulent(n_gaps: int, n_places: int) -> dict[str, Any]:
    """Random wide gaps in air that turn back, each at several rim pressures near by."""
    random = np.random.default_rng(1)

    def drawn(low: Any, high: Any) -> Any:
        return np.repeat(random.uniform(low, high, n_gaps), n_places)

    rim = drawn(0.04, 0.08)
    bore, gap, omega = rim * drawn(0.4, 0.7), drawn(4e-4, 8e-4), drawn(1000, 3000)
    swirl, speed = np.minimum(drawn(1, 4) * omega * rim, 450), drawn(2, 12)
    pressure = 1.3e5 * (1 + np.tile(np.linspace(-1e-4, 1e-4, n_places), n_gaps))
    return {
        "fluid": AIR,
        "rim_pressure": pressure,
        "rim_enthalpy": np.full_like(pressure, -7e4),
        "rim_swirl": swirl,
        "mass_flow": 2 * np.pi * rim * gap * speed * 1.9,
        "gap": gap,
        "rim_radius": rim,
        "bore_radius": bore,
        "angular_speed": omega,
    }


def test_exit_pressure_does_not_jump_where_wide_turbulent_gaps_turn_back() -> None:
    """Before, a push without effect or an inflow through infinity made steps of 290 and 1,260."""
    found = march(**wide_turbulent(400, 400))
    steps = np.abs(np.diff(found.exit_pressure.reshape(400, 400), axis=1))
    assert (steps.max(axis=1) < 1.05 * np.median(steps, axis=1)).all()


def test_a_march_does_not_multiply_a_last_digit_where_it_turns_back() -> None:
    """With a least determinant instead of firm equations one of these multiplied it by 25."""
    gaps = wide_turbulent(20_000, 1)
    one = march(**gaps)
    two = march(**gaps | {"rim_swirl": gaps["rim_swirl"] * (1 + 1e-10)})
    moves = np.abs(two.exit_pressure - one.exit_pressure)
    assert (moves / (gaps["rim_pressure"] - one.exit_pressure)).max() < 6e-10


def test_a_flow_that_chokes_is_flagged_and_nan_in_that_lane_only() -> None:
    found = flow(mass_flow=np.array([1e-3, 3e-2, 1e-3, 5.0]))
    assert found.choked.tolist() == [False, True, False, True]
    for values in (found.exit_pressure, found.torque, found.exit_swirl, found.largest_mach):
        assert np.isfinite(values).tolist() == [True, False, True, False]


@pytest.mark.parametrize("bore", [0.01, 0.03])
def test_flow_is_refused_before_it_could_pass_sonic_speed(bore: float) -> None:
    # The most that continuity allows through the bore: choked flux at the entry's stagnation state.
    mass_flow = np.geomspace(1e-4, 1e-1, 400)
    found = flow(mass_flow=mass_flow, bore_radius=bore, gap=1e-3)
    most = 0.0404149 * 1.25e5 / np.sqrt(293.15) * 2 * np.pi * bore * 1e-3
    passed = mass_flow[~found.choked]
    assert 0.2 * most < passed.max() < most
    # choked at every larger flow
    assert np.all(np.diff(found.choked.astype(int)) >= 0)
    assert np.all(np.diff(found.exit_pressure[~found.choked]) < 0)
