"""Stations of a pump, each against its own limit or a number from outside."""

import numpy as np
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from engine.physics.fluids.liquid import Liquid
from engine.physics.gap.outward import march_outward_rows
from engine.physics.pump.collector import collect
from engine.physics.pump.eye import flow_into_gaps
from engine.physics.pump.gentle import free_passage, shear_in_gaps
from engine.physics.pump.leakage import chamber_fall, eye_thrust, wear_ring_leakage
from engine.physics.pump.mouth import leave_gaps, vaneless_space
from engine.physics.pump.suction import npsh_available, radial_thrust

WATER = Liquid("water", 998.0, 4186.0, 293.15, (float(np.log(1e-3)),), 2340.0)


def test_eye_obeys_bernoulli_with_its_losses() -> None:
    eye = flow_into_gaps(
        fluid=WATER,
        pressure=1e5,
        enthalpy=100.0,
        mass_flow=0.5,
        eye_radius=0.02,
        shaft_radius=0.006,
        suction_ends=1,
        blockage=0.25,
        eye_loss=0.8,
        gap=0.4e-3,
        gap_count=7,
        disc_thickness=1e-3,
        entry_factor=1.0,
        swirl=0.0,
    )
    axial = 0.5 / 998 / (np.pi * (0.02**2 - 0.006**2) * 0.75)
    radial = 0.5 / 998 / (7 * 2 * np.pi * 0.02 * 0.4e-3)
    assert_allclose(eye.axial_speed, axial)
    assert_allclose(1e5 - eye.pressure, 998 / 2 * 1.8 * axial**2)
    lost = 0.8 * axial**2 + 0.5 * (1 - 0.4 / 1.4) * radial**2
    assert_allclose(1e5 - eye.entry_pressure, 998 / 2 * (lost + radial**2))


def test_edges_drag_the_swirl_towards_the_rim_and_momentum_closes() -> None:
    for swirl in (5.0, 15.0, 25.0):
        mouth = leave_gaps(
            density=998.0,
            viscosity=1e-3,
            rim_pressure=2e5,
            rim_swirl=swirl,
            rim_momentum=1.2 * 0.4**2,
            mass_flow=0.3,
            rim_radius=0.05,
            rim_clearance=3e-3,
            gap=0.4e-3,
            gap_count=7,
            disc_thickness=1e-3,
            angular_speed=300.0,
        )
        assert min(swirl, 15.0) <= mouth.swirl <= max(swirl, 15.0)
        assert_allclose(mouth.edge_torque, 0.3 * 0.05 * (mouth.swirl - swirl), atol=1e-12)
        slip = 15.0 - float(mouth.swirl)
        reynolds = max(998 * abs(slip) * 3e-3 / 1e-3, 1e-3)
        friction = max(12 / reynolds, 0.066 * reynolds**-0.25)
        drag = friction * 998 / 2 * slip * abs(slip) * 2 * np.pi * 0.05**2 * 8e-3
        assert_allclose(mouth.edge_torque, drag, rtol=1e-5, atol=1e-12)
        radial = 0.3 / 998 / (2 * np.pi * 0.05 * 10.8e-3)
        expected = 2e5 + 998 * (2.8 / 10.8 * 1.2 * 0.4**2 - radial**2)
        assert_allclose(mouth.pressure, expected)


def test_vaneless_space_follows_its_equations() -> None:
    # d(rv)/dr = -C_f V v r / (H u), dp_t/dr = -C_f rho V^3 / (H u), by SciPy.
    rho, mu, height, flow = 998.0, 1e-3, 10.8e-3, 0.33

    def slopes(r: float, y: np.ndarray) -> list[float]:
        v, u = y[0] / r, flow / (rho * 2 * np.pi * r * height)
        fast = np.hypot(v, u)
        reynolds = rho * fast * height / mu
        friction = max(12 / reynolds, 0.066 * reynolds**-0.25)
        return [-friction * fast * v * r / (height * u), friction * fast**3 / (height * u)]

    for swirl, high in ((15.0, 0.01), (15.0, 0.003), (2.0, 0.01)):
        exact = solve_ivp(slopes, (0.05, 0.05 + high), [0.05 * swirl, 0.0], rtol=1e-9, atol=1e-12)
        v, loss = vaneless_space(
            density=rho,
            viscosity=mu,
            swirl=swirl,
            mass_flow=flow,
            rim_radius=0.05,
            rim_clearance=high,
            height=height,
        )
        assert_allclose(v * (0.05 + high), exact.y[0, -1], rtol=5e-3)
        assert_allclose(loss, exact.y[1, -1], rtol=1e-2)


def test_swirl_that_dies_in_the_ring_loses_its_head_and_no_more() -> None:
    swirl, loss = vaneless_space(
        density=998.0,
        viscosity=1e-3,
        swirl=15.0,
        mass_flow=1e-4,
        rim_radius=0.05,
        rim_clearance=3e-3,
        height=0.01,
    )
    assert swirl < 0.5
    assert_allclose(loss, 15.0**2 / 2, rtol=0.01)


def test_collector_mixes_by_borda_and_carnot() -> None:
    # A stream of 4 m/s from fluid that turns with 10: (10 - 4)^2 / 2, whatever the fluid.
    area = 1e-4
    found = collect(
        density=998.0,
        viscosity=1e-3,
        swirl=10.0,
        radial_speed=0.5,
        mass_flow=998 * 4.0 * area,
        radius=1e3,
        throat_area=area,
        port_diameter=np.sqrt(4 * area / np.pi),
        throat_factor=1.0,
        cone_loss=0.15,
    )
    assert_allclose(found.throat_loss, 0.5**2 / 2 + 6.0**2 / 2, rtol=1e-4)
    assert_allclose(found.cone_loss, 0.0, atol=1e-12)


def test_wear_ring_passes_what_its_pressure_drop_drives() -> None:
    found = wear_ring_leakage(
        density=998.0,
        viscosity=1e-3,
        rim_pressure=1.5e5,
        eye_pressure=0.9e5,
        angular_speed=np.array([0.0, 314.0]),
        rim_radius=0.05,
        ring_radius=0.02,
        clearance=0.15e-3,
        length=5e-3,
        ring_count=2,
        ring_factor=1.1,
    )
    fall = chamber_fall(density=998.0, angular_speed=314.0, outer=0.05, inner=0.02)
    assert_allclose(found.pressure_drop, [0.6e5, 0.6e5 - fall])
    assert_allclose(fall, 998 / 2 * (0.45 * 314) ** 2 * (0.05**2 - 0.02**2))
    V, reynolds = found.speed, 998.0 * found.speed * 0.15e-3 / 1e-3
    friction = np.maximum(12 / reynolds, 0.066 * reynolds**-0.25)
    drop = 998 / 2 * V**2 * (1.5 + friction * 2 * 5e-3 / 0.15e-3)
    assert_allclose(drop, found.pressure_drop, rtol=1e-4)
    passage = 2 * 2 * np.pi * 0.02 * 0.15e-3
    assert_allclose(found.leakage, 1.1 * passage * 998 * V)
    assert (
        wear_ring_leakage(
            density=998.0,
            viscosity=1e-3,
            rim_pressure=0.9e5,
            eye_pressure=1e5,
            angular_speed=0.0,
            rim_radius=0.05,
            ring_radius=0.02,
            clearance=1e-4,
            length=5e-3,
            ring_count=1,
            ring_factor=1.0,
        ).leakage
        == 0.0
    )


def test_axial_thrust_is_the_integral_of_the_pressures() -> None:
    r = np.linspace(0.006, 0.02, 20001)
    beside = 1.5e5 - chamber_fall(density=998.0, angular_speed=314.0, outer=0.05, inner=r)
    expected = np.trapezoid((beside - 0.9e5) * 2 * np.pi * r, r)
    force = eye_thrust(
        density=998.0,
        rim_pressure=1.5e5,
        eye_pressure=0.9e5,
        angular_speed=314.0,
        rim_radius=0.05,
        eye_radius=0.02,
        shaft_radius=0.006,
        suction_ends=np.array([1, 2]),
    )
    assert_allclose(force, [expected, 0.0], rtol=1e-6)


def test_radial_thrust_vanishes_at_the_best_flow() -> None:
    values = {"density": 998.0, "head": 9.0, "disc_diameter": 0.1, "stack_height": 0.011}
    assert radial_thrust(flow=4e-4, best_flow=4e-4, **values) == 0
    # K = 0.36 at shut-off (Stepanoff 1957, from memory).
    shut = radial_thrust(flow=0.0, best_flow=4e-4, **values)
    assert_allclose(shut, 0.36 * 998 * 9.80665 * 9 * 0.1 * 0.011)


def test_boiling_leaves_no_head_available() -> None:
    # Water at 100 degrees C under one atmosphere.
    assert npsh_available(density=958.0, total_pressure=101325.0, vapour_pressure=101325.0) == 0


def test_shear_of_a_slow_flow_is_that_of_a_parabola() -> None:
    # Discs at rest: stress 6 mu u z / b at z, and the line that carries the share s of the flow
    # lies where z (3 - z^2) / 2 = s. The speed is largest at the eye, past the entry.
    viscosity, gap, eye = 0.05, 0.4e-3, 0.02
    liquid = Liquid("thick", 1000.0, 4186.0, 293.15, (float(np.log(viscosity)),), 0.0)
    flow = 2e-3
    _, trail = march_outward_rows(
        fluid=liquid,
        eye_pressure=1e6,
        eye_enthalpy=1e3,
        eye_swirl=0.0,
        mass_flow=flow,
        gap=gap,
        eye_radius=eye,
        rim_radius=0.05,
        angular_speed=0.0,
    )
    speed = flow / (1000 * 2 * np.pi * eye * gap)
    at = np.roots([1, 0, -3, 2 * 0.5])
    middle = float(at[(at > 0) & (at < 1)][0].real)
    found = shear_in_gaps(trail=trail, gap=gap, thresholds=(6 * viscosity * speed / gap * middle,))
    assert_allclose(found.median, 6 * viscosity * speed / gap * middle, rtol=0.03)
    assert_allclose(found.share_above[0], 0.5, atol=0.02)
    whole = shear_in_gaps(trail=trail, gap=gap, thresholds=(0.0, 1e9))
    assert whole.share_above[0] == 1
    assert whole.share_above[1] == 0


def test_the_narrowest_way_is_the_free_passage() -> None:
    ways = {"gap": 1e-3, "eye_width": 5e-3, "spoke_distance": 8e-3, "port_diameter": 0.016}
    assert free_passage(throat_area=1e-4, **ways) == 1e-3
    assert_allclose(free_passage(throat_area=np.pi / 4 * 0.5e-3**2, **ways), 0.5e-3)
