"""How many matched operating points a second, and against what.

The comparison is a plain scalar implementation of the same equations, one design at a time with
SciPy's solve_ivp and brentq and Python floats. It is written from the equations, not from the array
code, and agrees with it: that test runs with the others, so it is also the independent check of the
march and of the matching. The bench itself runs on demand:

    python -m pytest tests/bench -m bench -s
"""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar

from engine.fluidtables import gas
from engine.model import evaluate
from engine.physics import gap as laws
from engine.physics.gas import Gas
from engine.study import Study

Columns = dict[str, NDArray[Any]]
RATES = (laws.PLUG_RATES[:, 0], laws.PARABOLA_RATES[:, 0])
SHARES = (laws.PLUG_SHARES[:, 0], laws.PARABOLA_SHARES[:, 0])


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
        """Slope with pressure of the temperature, of ln(density), of the viscosity."""
        return horner(getattr(self.fit, fit), (h - self.fit.h_mid) / self.fit.h_half)

    def density(self, p: float, h: float) -> float:
        thin = p / (self.fit.gas_constant * self.temperature(h))
        return thin * (1 + p * self.slope("crowding_fit", h))

    def density_slopes(self, p: float, h: float) -> tuple[float, float]:
        """With pressure and with enthalpy, by differences."""
        by_p = (self.density(1.0001 * p, h) - self.density(0.9999 * p, h)) / (2e-4 * p)
        return by_p, (self.density(p, h + 50) - self.density(p, h - 50)) / 100

    def enthalpy(self, p: float, t: float) -> float:
        half, mid = self.fit.h_half, self.fit.h_mid

        def excess(h: float) -> float:
            return self.temperature(h) + p * self.slope("cooling_fit", h) - t

        return float(brentq(excess, mid - half, mid + half, xtol=1e-6))

    def entropy(self, p: float, h: float) -> float:
        thin = self.temperature(h)
        rest = horner(self.fit.entropy_fit, (h - self.fit.h_mid) / self.fit.h_half)
        departure = self.slope("crowding_fit", h) + self.slope("cooling_fit", h) / thin
        real = self.fit.gas_constant * (p * departure - math.log(p))
        return self.fit.entropy_log * math.log(thin) + rest + real

    def isentropic_end(self, p: float, h: float, end: float) -> float:
        target, low = self.entropy(p, h), self.fit.h_mid - self.fit.h_half
        return float(brentq(lambda x: self.entropy(end, x) - target, low, h + 9.0, xtol=1e-6))

    def critical(self, p: float, h: float) -> float:
        """Largest flux along the isentrope, near where a perfect gas has it."""

        def flux(end: float) -> float:
            after = self.isentropic_end(p, h, end)
            return -self.density(end, after) * math.sqrt(2 * (h - after))

        bounds = (0.48 * p, 0.57 * p)
        return float(minimize_scalar(flux, bounds=bounds, method="bounded").x)


def friction(reynolds: float) -> float:
    return float(max(12 / reynolds, 0.066 * reynolds**-0.25))


def developing(x: float) -> tuple[float, float]:
    """Shah's pressure drop in dynamic heads, and its slope."""
    x = max(x, 1e-12)
    root, a = 3.44 * math.sqrt(x), 1 / (1 + 2.9e-5 / x**2)
    drop = 4 * (root + (24 * x + 0.1685 - root) * a)
    slope_a = a * a * 5.8e-5 / x**3
    slope = root / (2 * x)
    return drop, 4 * (slope + (24 - slope) * a + (24 * x + 0.1685 - root) * slope_a)


@dataclass(frozen=True)
class ScalarGap:
    """One gap, as differential equations along the radius."""

    fluid: ScalarGas
    gap: float
    flux: float  # radius times radial mass flux
    omega: float
    rothalpy: float

    def state(self, r: float, y: NDArray[np.float64]) -> dict[str, float]:
        """Everything local, with density and radial speed found by repetition."""
        p, x, w = float(y[0]), float(y[1]), float(np.sum(y[2:])) / r
        developed = min(max((developing(x)[0] - 96 * x) / laws.DEVELOPED_DEFECT, 0.0), 1.0)
        fixed = self.rothalpy + (self.omega * r) ** 2 / 2
        fixed -= (1 + laws.FLUX_SQUARE_OVER_BULK * developed) * w**2 / 2
        cube = 1 + laws.RADIAL_CUBE * developed
        h = fixed
        for _ in range(30):
            u = self.flux / (r * self.fluid.density(p, h))
            before, h = h, fixed - cube * u**2 / 2
            if abs(h - before) < 1e-6:
                break
        rho = self.fluid.density(p, h)
        u = self.flux / (r * rho)
        mu, speed = self.fluid.viscosity(p, h), math.hypot(u, w)
        return {
            "p": p, "x": x, "w": w, "u": u, "h": h, "rho": rho, "mu": mu, "speed": speed,
            "developed": developed, "cube": cube, "reynolds": 2 * self.gap * rho * speed / mu,
        }  # fmt: skip

    def slopes(self, r: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Derivatives with distance inward of pressure, development and the four moments."""
        s = self.state(r, y)
        p, w, u, rho, mu = s["p"], s["w"], s["u"], s["rho"], s["mu"]
        span = math.log(laws.TURBULENT_ABOVE / laws.LAMINAR_BELOW)
        t = min(max(math.log(s["reynolds"] / laws.LAMINAR_BELOW) / span, 0.0), 1.0)
        turbulent = t * t * (3 - 2 * t)
        wall = 0.033 * rho * s["speed"] * (s["reynolds"] / 2) ** -0.25
        onward = mu * r / (4 * self.gap**2 * self.flux)
        rates, shares = (a + (b - a) * s["developed"] for a, b in (RATES, SHARES))
        decay = (1 - turbulent) * 4 * onward * rates
        decay = decay + turbulent * 2 * wall * r / (self.gap * self.flux)
        moments = shares * 2 * self.omega * r - decay * y[2:]
        # Radial momentum, with the density's own slope eliminated between continuity, the
        # rothalpy and the state (all three differentiated along the radius, outward).
        full = s["developed"] * (1 - turbulent) + laws.TURBULENT_FULLNESS * turbulent
        momentum, spin = 1 + laws.RADIAL_SQUARE * full, self.omega * r
        square = spin**2 + 2 * spin * w / (1 + laws.BULK_OVER_MEAN * full)
        square += (1 + laws.SQUARE_OVER_BULK * full) * w**2
        drag = 2 * turbulent * wall * u / self.gap
        drag += (1 - turbulent) * rho * u**2 / 2 * developing(s["x"])[1] * onward
        held = rho * (square + momentum * u**2) / r + drag
        by_p, by_h = self.fluid.density_slopes(p, s["h"])
        w_slope = -float(np.sum(moments)) / r - w / r
        heat = self.omega * spin - (1 + laws.FLUX_SQUARE_OVER_BULK * s["developed"]) * w * w_slope
        heat += s["cube"] * u**2 / r
        rho_slope = (by_p * held + by_h * heat) / (
            1 - by_h * s["cube"] * u**2 / rho - by_p * momentum * u**2
        )
        return np.array([-(held + momentum * u**2 * rho_slope), onward, *moments])


def march_scalar(
    fluid: ScalarGas,
    *,
    pressure: float,
    enthalpy: float,
    swirl: float,
    mass_flow: float,
    gap: float,
    rim: float,
    bore: float,
    omega: float,
    tolerance: float = 1e-7,
) -> tuple[float, float, float]:
    """Pressure, static enthalpy and absolute swirl at the bore."""
    flux = mass_flow / (2 * math.pi * gap)
    u = flux / (rim * fluid.density(pressure, enthalpy))
    slip = swirl - omega * rim
    rothalpy = enthalpy + (u**2 + slip**2 - (omega * rim) ** 2) / 2
    channel = ScalarGap(fluid, gap, flux, omega, rothalpy)
    start = np.array([pressure, 0.0, *(laws.ENTRY_SHARES[:, 0] * rim * slip)])

    def along(root: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        # In the root of the distance, where the entry's friction has no singularity.
        return 2 * max(root, 1e-9) * channel.slopes(rim - root**2, y)

    scale = np.array([pressure, 0.1, *([max(rim * abs(slip), rim**2 * omega, 1e-3)] * 4)])
    found = solve_ivp(
        along, (0.0, math.sqrt(rim - bore)), start, "LSODA", rtol=tolerance, atol=tolerance * scale
    )
    last = channel.state(bore, found.y[:, -1])
    return last["p"], last["h"], last["w"] + omega * bore


def match_scalar(study: Study, build: dict[str, float]) -> tuple[float, float, float]:
    """Rim pressure, mass flow and rotor power of one build with convergent nozzles."""
    m: Any = study.machine
    fluid = ScalarGas(gas(study.supply.fluid))
    p0, back = study.supply.pressure, study.supply.back_pressure
    h0 = fluid.enthalpy(p0, study.supply.temperature)
    rim, bore, omega = build["disc_diameter"] / 2, build["exhaust_bore"] / 2, build["speed"]
    gaps, gap = build["disc_count"] - 1, build["gap"]
    height = build["disc_count"] * m.disc_thickness + gaps * gap
    throat = m.nozzle_count * m.nozzle_width * height
    outlet = m.exhaust_ends * math.pi * (bore**2 - m.shaft_diameter**2 / 4)
    outlet *= 1 - m.exhaust_blockage

    def flux(p: float, h: float, behind: float) -> tuple[float, float]:
        end = max(behind, fluid.critical(p, h))
        enthalpy = fluid.isentropic_end(p, h, end)
        speed = math.sqrt(2 * max(h - enthalpy, 0.0))
        return fluid.density(end, enthalpy) * speed, speed

    def ring(p1: float, mass_flow: float, jet: float) -> tuple[float, float, float]:
        """Swirl, total enthalpy and edge torque."""
        arriving = jet * math.cos(build["inlet_angle"]) * m.rim_mixing
        outer, edges = rim + m.rim_clearance, build["disc_count"] * m.disc_thickness

        def torques(v: float) -> tuple[float, float]:
            edge = rho = scale = 0.0
            for _ in range(30):
                h = h0 - edge * omega / mass_flow - v**2 / 2
                rho = fluid.density(p1, h)
                scale, slip = rho * m.rim_clearance / fluid.viscosity(p1, h), v - omega * rim
                shear = friction(max(abs(slip), 1e-3) * scale) * rho / 2 * slip * abs(slip)
                before, edge = edge, shear * 2 * math.pi * rim**2 * edges
                if abs(edge - before) < 1e-12:
                    break
            wall = friction(v * scale) * rho / 2 * v**2 * 2 * math.pi * outer**2 * height
            return edge, wall

        def off(v: float) -> float:
            return float(mass_flow * (arriving - v) * rim - sum(torques(v)))

        swirl = float(brentq(off, 1e-2, 1.001 * max(arriving, omega * rim), xtol=1e-9))
        edge = torques(swirl)[0]
        return swirl, h0 - edge * omega / mass_flow, edge

    def follow(p1: float) -> tuple[float, float, float]:
        """Pressure left over, mass flow, rotor power."""
        passed, speed = flux(p0, h0, p1)
        critical = fluid.critical(p0, h0)
        speed += max(critical - p1, 0.0) / passed
        mass_flow = m.nozzle_discharge * throat * passed
        swirl, total, edge = ring(p1, mass_flow, m.nozzle_velocity * speed)
        h1 = total - swirl**2 / 2
        fall = fluid.density(p1, h1) * (0.45 * omega) ** 2 * (rim**2 - bore**2) / 2
        seal = 2 * math.pi * bore * m.seal_clearance * m.exhaust_ends / math.sqrt(m.seal_throttles)
        before = p1 - fall
        leak = m.seal_discharge * seal * flux(before, total, back)[0] if before > back else 0.0
        through = mass_flow - leak
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
        axial = through / (fluid.density(p2, h2) * outlet)
        left = p2 - back - m.exhaust_loss * fluid.density(p2, h2) * axial**2 / 2
        power = through * omega * (rim * swirl - bore * leaving) + edge * omega
        return left, mass_flow, power

    def left_over(p1: float) -> float:
        try:
            return follow(p1)[0]
        except ValueError:  # the pressure is used up inside the gap: more is needed at the rim
            return -back

    rim_pressure = float(brentq(left_over, 1.01 * back, 0.93 * p0, xtol=1.0))
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
    # The march takes the heating along the radius approximately and steps 48 times.
    air = gas("air")
    h = float(air.enthalpy(pressure=1.4e5, temperature=285.0))
    pressure, enthalpy, swirl = march_scalar(
        ScalarGas(air), pressure=1.4e5, enthalpy=h, rim=0.075, bore=0.025, **case
    )
    found = laws.march(
        fluid=air,
        rim_pressure=np.array([1.4e5]),
        rim_enthalpy=h,
        rim_swirl=case["swirl"],
        mass_flow=case["mass_flow"],
        gap=case["gap"],
        rim_radius=0.075,
        bore_radius=0.025,
        angular_speed=case["omega"],
        steps=480,
    )
    assert_allclose(1.4e5 - found.exit_pressure, 1.4e5 - pressure, rtol=3e-3)
    assert_allclose(found.exit_enthalpy, enthalpy, atol=60.0)
    moment = case["mass_flow"] * (0.075 * case["swirl"] - 0.025 * swirl)
    assert_allclose(found.torque, moment, rtol=2e-4, atol=1e-12)


def test_matched_points_agree_with_a_scalar_match(
    shop_air: Study, builds: Callable[..., Columns]
) -> None:
    lanes = builds(
        disc_count=np.array([11, 20, 6, 11]),
        gap=np.array([0.2e-3, 0.3e-3, 0.4e-3, 0.15e-3]),
        exhaust_bore=np.array([0.05, 0.03, 0.06, 0.04]),
        speed=np.array([1500.0, 1000.0, 2200.0, 3000.0]),
    )
    found = evaluate(shop_air, lanes)
    for lane in range(4):
        build = {key: float(values[lane]) for key, values in lanes.items()}
        rim_pressure, mass_flow, power = match_scalar(shop_air, build)
        assert_allclose(found["rim_pressure"][lane], rim_pressure, rtol=2e-4)
        assert_allclose(found["mass_flow"][lane], mass_flow, rtol=1e-5)
        assert_allclose(found["rotor_power"][lane], power, rtol=5e-4)


@pytest.mark.bench
def test_matched_operating_points_a_second(
    shop_air: Study, random_builds: Callable[[int, int], Columns]
) -> None:
    """Print the rates of array calls of several sizes, of single lanes and of the scalar code."""
    keys = ("disc_count", "disc_diameter", "gap", "inlet_angle", "exhaust_bore", "speed")
    pool = {key: values for key, values in random_builds(20_000, 5).items() if key in keys}
    pool["gap"] = np.maximum(pool["gap"], 0.2e-3)
    good = evaluate(shop_air, pool)["status"] == "matched"

    def first(n_lanes: int) -> Columns:
        return {key: values[:n_lanes] for key, values in pool.items()}

    def one_by_one() -> None:
        for lane in matched:
            evaluate(shop_air, {key: values[lane : lane + 1] for key, values in pool.items()})

    def scalar() -> None:
        for lane in matched:
            match_scalar(shop_air, {key: float(values[lane]) for key, values in pool.items()})

    matched = np.flatnonzero(good)[:8]
    rates = {
        f"array of {n:,}": rate(int(good[:n].sum()), partial(evaluate, shop_air, first(n)))
        for n in (200, 2000, 20_000)
    }
    rates["array code, one lane a call"] = rate(matched.size, one_by_one)
    rates["scalar SciPy"] = rate(matched.size, scalar)
    lines = [f"\n{'matched operating points':<30} {'a second':>10} {'x scalar':>9}"]
    for name, found in rates.items():
        lines.append(f"{name:<30} {found:>10,.0f} {found / rates['scalar SciPy']:>9,.1f}")
    print("\n".join(lines))  # noqa: T201  the bench is read on the terminal


def rate(n_points: int, work: Callable[[], object]) -> float:
    best = math.inf
    for _ in range(3):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return n_points / best
