"""How many matched operating points a second, and against what.

The comparison is a plain scalar implementation of the same equations, one design at a time with
SciPy's solve_ivp and brentq and Python floats. It is written from the equations, not from the array
code, and agrees with it: that test runs with the others, so it is also the independent check of the
march and of the matching. It runs on demand:

    python -m pytest tests/speed -m speed -s
"""

import math
import timeit
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from engine.fluids.by_name import gas
from engine.model.evaluation import evaluate
from engine.model.shaft_layout import collar_radius
from engine.physics.flow.ring import Ring, ring_around_discs
from engine.physics.fluids.gas import Gas
from engine.physics.gap import averaged as laws
from engine.physics.gap import modes
from engine.physics.gap.turbulence_kernel import LAMINAR_BELOW, TURBULENT_ABOVE
from engine.physics.machine.web import web_shape
from engine.study.study import Study

Columns = dict[str, NDArray[Any]]


def horner(coefficients: tuple[float, ...], z: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * z + coefficient
    return total


@dataclass(frozen=True)
class ScalarGas:
    """The fitted gas, one state at a time."""

    fit: Gas

    def temperature(self, h: float) -> float:
        return horner(self.fit.temperature_fit, (h - self.fit.h_mid) / self.fit.h_half)

    def viscosity(self, p: float, h: float) -> float:
        return self.slope("viscosity_fit", h) + p * self.slope("thickening_fit", h)

    def slope(self, fit: str, h: float) -> float:
        return horner(getattr(self.fit, fit), (h - self.fit.h_mid) / self.fit.h_half)

    def density(self, p: float, h: float) -> float:
        thin = p / (self.fit.gas_constant * self.temperature(h))
        return thin * (1 + p * self.slope("crowding_fit", h))

    def density_slopes(self, p: float, h: float) -> tuple[float, float]:
        by_p = (self.density(1.0001 * p, h) - self.density(0.9999 * p, h)) / (2e-4 * p)
        return by_p, (self.density(p, h + 50) - self.density(p, h - 50)) / 100

    def entropy(self, p: float, h: float) -> float:
        thin = self.temperature(h)
        rest = horner(self.fit.entropy_fit, (h - self.fit.h_mid) / self.fit.h_half)
        departure = self.slope("crowding_fit", h) + self.slope("cooling_fit", h) / thin
        real = self.fit.gas_constant * (p * departure - math.log(p))
        return self.fit.entropy_log * math.log(thin) + rest + real

    def isentropic_end(self, p: float, h: float, end: float) -> float:
        target, low = self.entropy(p, h), self.fit.h_mid - self.fit.h_half
        return float(brentq(lambda x: self.entropy(end, x) - target, low, h + 9.0, xtol=1e-6))

    def critical(self, p: float) -> float:
        return 0.527 * p  # real air at 8 bar; flux and thrust are flat there


POINT, WEIGHT = (leggauss(24)[0] + 1) / 2, leggauss(24)[1] / 2
"""Gauss points on half a gap, where profiles are summed as they stand."""
POWER = np.array([2, 4, 10])[:, None]
SHAPE = 1 - POINT**POWER
SLOPE = -POWER * POINT ** (POWER - 1)
AREA = POINT - POINT ** (POWER + 1) / (POWER + 1)
SPAN = SHAPE @ WEIGHT
FLAT = np.linalg.solve((SHAPE * WEIGHT) @ SHAPE.T, SPAN)
FLAT = FLAT / (SPAN @ FLAT)
"""Of the span of 1 - z^2, 1 - z^4 and 1 - z^10, the one of mean 1 with the least mean square."""
NEAR_WALL = 1 - modes.WALL_LAYER ** POWER[:, 0]
PULL = NEAR_WALL / (FLAT @ NEAR_WALL) * float((FLAT @ SHAPE) ** 3 @ WEIGHT)


@dataclass(frozen=True)
class ScalarGap:
    """One gap, as differential equations along eta = (rim^2 - r^2) / 2."""

    fluid: ScalarGas
    gap: float
    flux: float  # radius times radial mass flux
    omega: float
    rothalpy: float

    def state(self, r: float, y: NDArray[np.float64]) -> dict[str, float]:
        """Everything local, with density and radial speed found by repetition."""
        p, phi, turn = float(y[0]), y[1:4] @ SHAPE, y[4:] @ SHAPE
        square, cube = float(phi * turn**2 @ WEIGHT), float(phi**3 @ WEIGHT)
        fixed = self.rothalpy + (self.omega * r) ** 2 / 2 - square / r**2 / 2
        h = fixed
        for _ in range(30):
            u = self.flux / (r * self.fluid.density(p, h))
            before, h = h, fixed - cube * u**2 / 2
            if abs(h - before) < 1e-6:
                break
        rho = self.fluid.density(p, h)
        u, mean = self.flux / (r * rho), float(turn @ WEIGHT)
        mu, speed = self.fluid.viscosity(p, h), math.hypot(u, mean / r)
        return {
            "p": p, "u": u, "h": h, "rho": rho, "mu": mu, "speed": speed, "mean": mean,
            "square": square, "cube": cube, "bulk": float(phi * turn @ WEIGHT),
            "reynolds": 2 * self.gap * rho * speed / mu,
        }  # fmt: skip

    def slopes(self, r: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Derivatives with eta of pressure and of the coefficients of inflow and swirl."""
        s, rules = self.state(r, y), laws.TURBULENCE
        u, rho, mu = s["u"], s["rho"], s["mu"]
        span = math.log(TURBULENT_ABOVE / LAMINAR_BELOW)
        t = min(max(math.log(s["reynolds"] / LAMINAR_BELOW) / span, 0.0), 1.0)
        turbulent = t * t * (3 - 2 * t)
        wall = turbulent * rho * s["speed"] * (s["reynolds"] / 2) ** -0.25
        phi, turn = y[1:4] @ SHAPE, y[4:] @ SHAPE
        viscous = 4 * mu / (self.gap**2 * self.flux) * (1 - (1 - rules.kept_viscosity) * turbulent)
        drag = 2 * rules.shear * wall / (self.gap * self.flux)

        def drawn(means: float, of: NDArray[np.float64]) -> NDArray[np.float64]:
            """Viscosity, mixing and friction on a profile, weighted by each shape."""
            stress = viscous * ((SLOPE * WEIGHT) @ (of @ SLOPE))
            even = rules.mixing * drag * ((SHAPE * WEIGHT) @ ((of - means * FLAT) @ SHAPE))
            return np.asarray(stress + even + drag * means * PULL)

        # phi phi' + W phi_z and phi J' + W J_z, W = -(area under phi'), as matrices on the slopes
        tested = SHAPE * WEIGHT
        phi_z, turn_z = y[1:4] @ SLOPE, y[4:] @ SLOPE
        system = np.zeros((7, 7))
        system[:3, :3] = (tested * phi) @ SHAPE.T - (tested * phi_z) @ AREA.T
        system[3:6, :3] = -(tested * turn_z) @ AREA.T
        system[3:6, 3:6] = (tested * phi) @ SHAPE.T
        system[:3, 6], system[6, :3] = -SPAN, SPAN
        swing = 2 * self.omega * turn + (turn / r) ** 2
        known = np.zeros(7)
        known[:3] = -drawn(1.0, y[1:4]) - tested @ swing / (r * u) ** 2
        known[3:6] = 2 * self.omega * (tested @ phi) - drawn(s["mean"], y[4:])
        rho_slope = 0.0
        found = np.zeros(7)
        for _ in range(6):  # the growth of density widens the profiles, which changes the growth
            widened = known.copy()
            widened[:3] -= (1 / r**2 - rho_slope / rho) * (tested @ phi**2)
            found[1:] = np.linalg.solve(system, widened)[:6]
            found[0], rho_slope = self.along(
                r, s, turbulent=turbulent, wall=wall, y=y, changes=found[1:]
            )
        return found

    def along(
        self, r: float, s: dict[str, float], *, turbulent: float, wall: float,
        y: NDArray[np.float64], changes: NDArray[np.float64],
    ) -> tuple[float, float]:  # fmt: skip
        """Derivatives of pressure and density: momentum, rothalpy and state, all three exactly."""
        rules, u, rho, cube = laws.TURBULENCE, s["u"], s["rho"], s["cube"]
        phi, phi_z, turn = y[1:4] @ SHAPE, y[1:4] @ SLOPE, y[4:] @ SHAPE
        phi_slope, turn_slope = changes[:3] @ SHAPE * r, changes[3:] @ SHAPE * r  # by length
        cube_slope = float(3 * phi**2 * phi_slope @ WEIGHT)
        square_slope = float((phi_slope * turn**2 + 2 * phi * turn * turn_slope) @ WEIGHT)
        laminar = 1 - (1 - rules.kept_friction) * turbulent
        friction = laminar * 4 * s["mu"] / self.gap * float(phi_z**2 @ WEIGHT)
        friction = (friction + 2 * rules.inflow_shear * wall) * u / self.gap
        push = (self.omega * r) ** 2 + 2 * self.omega * s["bulk"] + s["square"] / r**2
        held = rho * (push + cube * u**2) / r + friction + rho * u**2 / 2 * cube_slope
        heat = -(self.omega**2) * r - square_slope / r**2 / 2 - s["square"] / r**3
        heat -= cube_slope * u**2 / 2 + cube * u**2 / r
        by_p, by_h = self.fluid.density_slopes(s["p"], s["h"])
        grown = (by_h * heat - by_p * held) / (1 - by_p * cube * u**2 - by_h * cube * u**2 / rho)
        return (cube * u**2 * grown - held) / r, grown / r


def march_scalar(
    fluid: ScalarGas, *, pressure: float, enthalpy: float, swirl: float, mass_flow: float,
    gap: float, rim: float, bore: float, omega: float, tolerance: float = 1e-6,
) -> tuple[float, float, float]:  # fmt: skip
    """Pressure, static enthalpy and absolute swirl at the bore."""
    flux = mass_flow / (2 * math.pi * gap)
    u = flux / (rim * fluid.density(pressure, enthalpy))
    slip = swirl - omega * rim
    rothalpy = enthalpy + (u**2 + slip**2 - (omega * rim) ** 2) / 2
    channel = ScalarGap(fluid, gap, flux, omega, rothalpy)
    flat = FLAT @ SHAPE
    jump = fluid.density(pressure, enthalpy) * u**2 / 2 * (float(flat**3 @ WEIGHT) - 1)
    start = np.array([pressure - jump, *FLAT, *(FLAT * rim * slip / float(flat**2 @ WEIGHT))])

    def along(root: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        r = rim - root**2  # in the root of the distance, as the layers at the walls begin
        return 2 * max(root, 1e-9) * r * channel.slopes(r, y)

    scale = np.array([pressure, *([1.0] * 3), *([max(rim * abs(slip), 1e-3)] * 3)])
    found = solve_ivp(
        along, (0.0, math.sqrt(rim - bore)), start, "LSODA", rtol=tolerance, atol=tolerance * scale
    )
    last = channel.state(bore, found.y[:, -1])
    return last["p"], last["h"], last["bulk"] / bore + omega * bore


def match_scalar(study: Study, build: dict[str, float], near: float) -> tuple[float, float, float]:
    """Rim pressure, mass flow and rotor power of one build with convergent nozzles.

    It searches near a rim pressure: far from it profiles turn back, and there is no inward march.
    """
    m: Any = study.machine
    fluid = ScalarGas(gas(study.supply.fluid))
    p0, back = study.supply.pressure, study.supply.back_pressure
    h0 = float(fluid.fit.enthalpy(pressure=p0, temperature=study.supply.temperature))
    rim, bore, omega = build["disc_diameter"] / 2, build["exhaust_bore"] / 2, build["speed"]
    gaps, gap = build["disc_count"] - 1, build["gap"]
    height = build["disc_count"] * m.disc_thickness + gaps * gap
    throat, open_share = m.nozzle_count * m.nozzle_width * height, 1 - m.exhaust_blockage
    outlet = m.exhaust_ends * math.pi * (bore**2 - m.shaft_diameter**2 / 4) * open_share
    collar = float(collar_radius(np.asarray(build["exhaust_bore"])))
    sizes = {"shaft_radius": m.shaft_diameter / 2, "bore_radius": bore, "spokes": m.spokes}
    hub = web_shape(blockage=m.exhaust_blockage, **sizes).hub_radius.item()

    def flux(p: float, h: float, behind: float) -> tuple[float, float]:
        end = max(behind, fluid.critical(p))
        enthalpy = fluid.isentropic_end(p, h, end)
        speed = math.sqrt(2 * max(h - enthalpy, 0.0))
        return fluid.density(end, enthalpy) * speed, speed

    def leak_past(p1: float, density: float, total: float, core: float) -> float:
        seal = 2 * math.pi * collar * m.seal_clearance * m.exhaust_ends * m.seal_throttles**-0.5
        before = p1 - density * (core / rim) ** 2 * (rim**2 - collar**2) / 2
        return m.seal_discharge * seal * flux(before, total, back)[0] if before > back else 0.0

    def ring(p1: float, mass_flow: float, jet: float) -> Ring:
        # The ring has a scalar check of its own (tests/physics/flow/test_ring.py).
        first = leak_past(p1, fluid.density(p1, h0 - jet**2 / 4), h0, 0.45 * omega * rim)
        return ring_around_discs(
            fluid=fluid.fit, mass_flow=mass_flow, jet_speed=jet, total_enthalpy=h0, pressure=p1,
            inlet_angle=build["inlet_angle"], mixing_coefficient=m.rim_mixing, rim_radius=rim,
            rim_clearance=m.rim_clearance, stack_height=height, angular_speed=omega,
            edge_height=build["disc_count"] * m.disc_thickness, nozzle_count=m.nozzle_count,
            casing_factor=m.casing_factor, filling_factor=m.filling_factor,
            exchange_factor=m.exchange_factor, side_gap=m.side_gap,
            windage_factor=m.windage_factor, leakage=first, seal_radius=collar, back_pressure=back,
        )  # fmt: skip

    def follow(p1: float) -> tuple[float, float, float]:
        """Pressure left over, mass flow, rotor power."""
        passed, speed = flux(p0, h0, p1)
        critical = fluid.critical(p0)
        speed += max(critical - p1, 0.0) / passed
        mass_flow = m.nozzle_discharge * throat * passed
        around = ring(p1, mass_flow, m.nozzle_velocity * speed)
        swirl, total = float(around.swirl), float(around.total_enthalpy)
        h1 = total - swirl**2 / 2
        through = mass_flow - float(around.leakage)
        if through <= 0:  # all of it leaks: less is needed at the rim
            return p1 - back, mass_flow, 0.0
        rho, per_area = fluid.density(p1, h1), through / gaps / (2 * math.pi * rim * gap)
        lost = u = 0.0
        for _ in range(20):
            u = per_area / rho
            lost = rho * u**2 / 2 * (1 + 0.5 * (1 - gap / (gap + m.disc_thickness)))
            rho = fluid.density(p1 - lost, h1 - u**2 / 2)
        p2, h2, leaving = march_scalar(
            fluid, pressure=p1 - lost, enthalpy=h1 - u**2 / 2, swirl=swirl,
            mass_flow=through / gaps, gap=gap, rim=rim, bore=bore, omega=omega,
        )  # fmt: skip
        # Exhaust: what the spokes take, and the hollow core of the rest.
        rho, share = fluid.density(p2, h2), 1 - 1 / (2 * m.spokes)
        square, axial = (bore**2 + hub**2) / 2, through / (rho * outlet)
        turned = leaving * rho * m.exhaust_ends * math.pi * bore**2 / through
        fills = brentq(lambda f: math.sqrt(2) * (1 - f) / f**1.5 - turned, 1e-9, 1.0)
        axial /= 1 - (1 - share) * (1 - min(1.0, fills / (1 - hub**2 / bore**2)))
        heads = (1 - share) * leaving**2 * fills / (1 - fills)
        heads += share * omega**2 * (bore**2 - square)
        left = p2 - back - rho * (m.exhaust_loss * axial**2 + heads) / 2
        spokes = share * (bore * leaving - omega * square)
        power = through * omega * (spokes + rim * swirl - bore * leaving)
        power += omega * float(around.edge_torque + np.maximum(around.face_torque, 0.0))
        return left, mass_flow, power

    def left_over(p1: float) -> float:
        try:
            return follow(p1)[0]
        except ValueError:  # the pressure is used up inside the gap: more is needed at the rim
            return -back

    low, high = (back + share * (near - back) for share in (0.93, 1.05))
    rim_pressure = float(brentq(left_over, low, high, xtol=1.0))
    return (rim_pressure, *follow(rim_pressure)[1:])


MARCHES = {
    "laminar and slow": {"mass_flow": 0.05e-3, "gap": 0.15e-3, "swirl": 100.0, "omega": 1300.0},
    "laminar and fast": {"mass_flow": 0.25e-3, "gap": 0.2e-3, "swirl": 170.0, "omega": 2300.0},
    "turbulent outside": {"mass_flow": 0.9e-3, "gap": 0.3e-3, "swirl": 260.0, "omega": 1500.0},
    "turbulent": {"mass_flow": 3e-3, "gap": 0.5e-3, "swirl": 350.0, "omega": 1000.0},
    "without swirl": {"mass_flow": 1e-3, "gap": 0.3e-3, "swirl": 0.0, "omega": 0.0},
    "standing discs": {"mass_flow": 0.5e-3, "gap": 0.3e-3, "swirl": 200.0, "omega": 0.0},
}


@pytest.mark.parametrize("case", MARCHES.values(), ids=MARCHES)
def test_the_march_agrees_with_the_differential_equations_one_by_one(
    case: dict[str, float],
) -> None:
    # The march takes the heating along the radius approximately.
    air = gas("air")
    h = float(air.enthalpy(pressure=1.4e5, temperature=285.0))
    pressure, enthalpy, swirl = march_scalar(
        ScalarGas(air), pressure=1.4e5, enthalpy=h, rim=0.075, bore=0.025, **case
    )
    found = laws.march(
        fluid=air, rim_pressure=np.array([1.4e5]), rim_enthalpy=h, rim_swirl=case["swirl"],
        mass_flow=case["mass_flow"], gap=case["gap"], rim_radius=0.075, bore_radius=0.025,
        angular_speed=case["omega"], steps=480,
    )  # fmt: skip
    assert_allclose(1.4e5 - found.exit_pressure, 1.4e5 - pressure, rtol=3e-3)
    assert_allclose(found.exit_enthalpy, enthalpy, atol=60.0)
    moment = case["mass_flow"] * (0.075 * case["swirl"] - 0.025 * swirl)
    assert_allclose(found.torque, moment, rtol=2e-4, atol=1e-12)


def test_matched_points_agree_with_a_scalar_match(
    shop_air: Study, builds: Callable[..., Columns]
) -> None:
    lanes = builds(
        disc_count=np.array([11, 20, 6, 11]),
        gap=np.array([0.2e-3, 0.3e-3, 0.2e-3, 0.15e-3]),
        exhaust_bore=np.array([0.05, 0.03, 0.06, 0.04]),
        speed=np.array([1500.0, 1000.0, 2200.0, 3000.0]),
    )
    found = evaluate(shop_air, lanes)
    for lane in range(lanes["gap"].size):
        build = {key: float(values[lane]) for key, values in lanes.items()}
        near = float(found["rim_pressure"][lane])
        rim_pressure, mass_flow, power = match_scalar(shop_air, build, near)
        assert_allclose(found["rim_pressure"][lane], rim_pressure, rtol=1.5e-3)  # 30 steps
        assert_allclose(found["mass_flow"][lane], mass_flow, rtol=1e-5)
        assert_allclose(found["rotor_power"][lane], power, rtol=1e-3)


@pytest.mark.speed
def test_matched_operating_points_a_second(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    """Print the rates of array calls of several sizes, of single lanes and of the scalar code.

    The last two take lanes where no profile comes near turning back (gas ahead of the rim is not
    thrown out along walls, nor drawn out in mid-gap below b sqrt(Omega/nu) = 6): an inward march
    is ill-posed where one does, and the scalar code flattens none, so it would come to no end.
    """
    keys = ("disc_count", "disc_diameter", "gap", "inlet_angle", "exhaust_bore", "speed")
    pool = {key: values for key, values in random_builds(20_000, 5).items() if key in keys}
    pool["gap"] = np.maximum(pool["gap"], 0.2e-3)
    results = evaluate(shop_air, pool)
    good = results["status"] == "matched"
    inward = (results["rim_swirl_ratio"] > 1) & (results["ekman_number"] < 5)
    few = np.flatnonzero(good & inward)[:4]

    def first(n_lanes: int) -> Columns:
        return {key: values[:n_lanes] for key, values in pool.items()}

    def one_by_one() -> None:
        for lane in few:
            evaluate(shop_air, {key: values[lane : lane + 1] for key, values in pool.items()})

    def scalar() -> None:
        for lane in few:
            build = {key: float(values[lane]) for key, values in pool.items()}
            power = match_scalar(shop_air, build, float(results["rim_pressure"][lane]))[2]
            assert_allclose(power, results["rotor_power"][lane], rtol=1e-3)

    rates = {
        f"array of {n:,}": rate(int(good[:n].sum()), partial(evaluate, shop_air, first(n)))
        for n in (200, 2000, 20_000)
    }
    rates["array code, one lane a call"] = rate(few.size, one_by_one)
    rates["scalar SciPy"] = rate(few.size, scalar, times=1)
    print(f"\n{'matched operating points':<30} {'a second':>10} {'x scalar':>9}")  # noqa: T201
    for name, found in rates.items():
        print(f"{name:<30} {found:>10,.1f} {found / rates['scalar SciPy']:>9,.0f}")  # noqa: T201


def rate(n_points: int, work: Callable[[], object], *, times: int = 3) -> float:
    return n_points / min(timeit.repeat(work, number=1, repeat=times))
