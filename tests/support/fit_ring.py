"""Fit the constants of the ring to the plane flows of `tests/physics/plane/reference.csv`.

    python -m tests.support.fit_ring

The ring is written here once more, over all builds together and with the constants free, and the
torque of the gaps is read from a table over the swirl. The state is that of the jets' total
enthalpy: work of the edges is left out. Builds of the half `fit` alone are fitted to.
"""

import sys
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares

from engine.fluids.by_name import gas
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap import averaged
from engine.study.reader import read_study
from engine.study.supply import source_of
from tests.physics.plane.make_reference import read
from tests.support.places import ROOT

Numbers = NDArray[np.float64]
START = {
    "PILING": 7.2,
    "REACH": 1.0,
    "SLOW_MOUTH": 0.14,
    "LEAVING": 1.1,
    "FRICTION": 1.0,
    "THIN_JET": 0.8,
    "PROFILE": 1.1,
    "PUSHED": 4.2,
}
USUAL_MIXING = 0.95
SPEED_SCALE, ROTOR_SCALE, CASING_SCALE = 0.02, 0.03, 0.09
"""Relative errors of jet speed, rotor torque and casing torque that weigh as much as each other."""
LIQUID_WEIGHT = 0.5
"""Weight of a liquid's jet speed: the flow of its nozzles moves with the grid."""
PASSES, STEPS = 40, 4


def fluids() -> dict[str, Fluid]:
    """Fluids of the table by the first word of a build's name."""

    def of(name: str) -> Fluid:
        return source_of(read_study(ROOT / "studies" / f"{name}.yaml").supply).fluid

    return {"air": gas("air"), "steam": of("orchard-boiler"), "water": of("mill-race")}


@dataclass(frozen=True)
class Builds:
    """Builds of the table, with what their fluid and gaps do over the swirl."""

    rows: list[dict[str, Any]]
    density: list[CubicSpline]
    viscosity: list[CubicSpline]
    sound: list[CubicSpline]
    gap_torque: list[CubicSpline]

    def of(self, key: str) -> Numbers:
        """A column of the table."""
        return np.array([row[key] for row in self.rows], dtype=float)

    @property
    def is_fitted(self) -> NDArray[np.bool_]:
        """Whether a build is of the half that is fitted to."""
        return np.array([row["half"] == "fit" for row in self.rows])


def at(splines: list[CubicSpline], where: Numbers) -> Numbers:
    """Value of each build's spline."""
    return np.array([float(spline(x)) for spline, x in zip(splines, where, strict=True)])


def builds() -> Builds:
    """Read the table and follow the gaps of each build at some swirls."""
    known, rows = fluids(), read()
    found: tuple[list[CubicSpline], ...] = ([], [], [], [])
    for v in rows:
        fluid, fastest = known[v["name"].split()[0]], v["jet_speed"]
        speed = np.linspace(0.0, 1.1, 40) * fastest
        state = fluid.state(
            pressure=v["ring_pressure"], enthalpy=v["total_enthalpy"] - speed**2 / 2
        )
        sound = np.minimum(np.broadcast_to(state.sound_speed, speed.shape), 1e9)
        swirl = np.linspace(0.1, 1.0, 14) * fastest
        through = v["plane_mass_flow"] - v["plane_leakage_flow"]
        torque = averaged.march(
            fluid=fluid,
            rim_pressure=v["ring_pressure"],
            rim_enthalpy=v["total_enthalpy"] - swirl**2 / 2,
            rim_swirl=swirl,
            mass_flow=through / v["gap_count"],
            gap=v["gap"],
            rim_radius=v["rim_radius"],
            bore_radius=v["bore_radius"],
            angular_speed=v["angular_speed"],
        ).torque
        kept = np.isfinite(torque)
        for splines, values in zip(found, (state.density, state.viscosity, sound), strict=False):
            splines.append(CubicSpline(speed, np.broadcast_to(values, speed.shape)))
        found[3].append(CubicSpline(swirl[kept], np.asarray(torque)[kept] * v["gap_count"]))
    return Builds(rows, *found)


@dataclass(frozen=True)
class Mouths:
    """Jets in front of their mouths, expanded to the ring's pressure and not yet held up."""

    speed: Numbers
    flux: Numbers
    brought: Numbers
    sine: Numbers
    slowness: Numbers
    factor: Numbers


def mouths(b: Builds, speed: Numbers, c: dict[str, float]) -> Mouths:
    """Factor on the speed of jets; see `ring_around_discs`."""
    flux, mach = at(b.density, speed) * speed, speed / at(b.sound, speed)
    ring_area = b.of("nozzle_count") * b.of("rim_clearance") * b.of("stack_height")
    brought = b.of("plane_mass_flow") / ring_area
    casing = b.of("rim_radius") + b.of("rim_clearance")
    sine = np.sin(np.arccos(np.cos(b.of("inlet_angle")) * b.of("rim_radius") / casing))
    slowness = 1 / (1 + mach**4)
    edges = b.of("edge_height") / b.of("stack_height")
    stays = np.minimum(flux / brought, 1.0)
    faster = edges**3 * (1 - stays) / (1 - edges + c["REACH"] * sine * stays)
    piled = sine**2 * np.maximum(c["PILING"] * faster**2 * (1 + edges**2) - 1, 0.0)
    piled *= 1 - (1 - c["SLOW_MOUTH"]) * slowness
    return Mouths(speed, flux, brought, sine, slowness, 1 / np.sqrt(1 + piled))


def unblocked(b: Builds, c: dict[str, float]) -> Numbers:
    """Speed of jets that the mouths bring to the plane's own."""
    speed = b.of("plane_jet_speed")
    for _ in range(30):
        speed = (speed + b.of("plane_jet_speed") / mouths(b, speed, c).factor) / 2
        speed = np.minimum(speed, 1.09 * b.of("jet_speed"))
    return speed


def friction(reynolds: Numbers) -> Numbers:
    """Friction factor of a channel."""
    return np.asarray(np.maximum(12 / reynolds, 0.066 / reynolds**0.25))


def eased(square: Numbers, decay: Numbers, source: Numbers, step: Numbers) -> Numbers:
    """Follow dy/dx = source - decay y over a step."""
    z = np.maximum(decay * step, 1e-12)
    return np.asarray(square * np.exp(-z) - source * step * np.expm1(-z) / z)


def torques(b: Builds, c: dict[str, float]) -> tuple[Numbers, Numbers]:
    """Torque of the rotor, and of the casing, with the plane's own jets and flow [N m]."""
    jet = mouths(b, unblocked(b, c), c)
    count, clearance, height = (b.of(k) for k in ("nozzle_count", "rim_clearance", "stack_height"))
    rim, flow = b.of("rim_radius"), b.of("plane_mass_flow")
    edges, speed = b.of("edge_height") / height, b.of("angular_speed") * rim
    incoming = jet.speed * jet.factor * np.cos(b.of("inlet_angle"))
    fast_share, stays = 1 - jet.slowness, np.minimum(jet.flux / jet.brought, 1.0)
    gained = 1 + c["PUSHED"] * (1 - jet.factor) * fast_share * stays
    gained *= 1 + fast_share * (1 / jet.factor - 1)
    outside, step = (rim + clearance) / rim, 2 * np.pi * rim / (count * STEPS)
    slow, mean = 0.5 * np.maximum(incoming, speed), 0.7 * incoming
    drags, held, density = np.zeros((2, rim.size)), slow, slow
    wall = sink = source = np.zeros(rim.size)
    swirl = slow
    for k in range(PASSES):
        density = at(b.density, mean)
        scale = density * clearance / at(b.viscosity, mean)
        full = np.maximum(jet.flux, density * slow)
        fill = np.minimum(jet.brought / full, 1.0)
        left = c["LEAVING"] * jet.sine * jet.slowness * jet.brought / (full + jet.brought)
        taken, new, old = (1 - left) * incoming * gained, full * fill, density * slow * (1 - fill)
        pull = slow**2 + 4 * new * np.maximum(taken - slow, 0.0) / density
        fast = np.minimum((new * taken + old * slow) / (new + old), (slow + np.sqrt(pull)) / 2)
        square, drags, way = fast**2, np.zeros((2, rim.size)), np.zeros(rim.size)
        thin = 1 + c["THIN_JET"] * (1 - fill) ** 2
        for _ in range(STEPS):
            here = square
            for part in (step / 2, step):
                swirl = np.sqrt(here)
                slip = c["PROFILE"] * swirl - speed
                wall = c["FRICTION"] * thin * outside**2 / clearance * friction(scale * swirl)
                edge = c["FRICTION"] * edges / clearance * slip * np.abs(slip)
                edge *= friction(scale * np.maximum(np.abs(slip), 1e-3))
                sink, source = np.maximum(edge, 0.0) / here, -np.minimum(edge, 0.0)
                here = np.maximum(eased(square, wall + sink, source, part), 1e-6)
            decayed = (square - here + source * step) / (wall + sink)
            drags += np.array([wall * decayed, sink * decayed - source * step])
            way, square = way + swirl, here
        share = 0.5 if k < PASSES / 2 else 0.7
        held = c["PROFILE"] * way / STEPS
        slow, mean = slow + share * (np.sqrt(square) - slow), mean + (fast + slow - 2 * mean) / 4
    on_casing, on_edges = drags * density * clearance * height * count / 2 * rim
    together = incoming - (on_casing + on_edges) / (flow * rim)
    drawn, most = b.of("plane_leakage_flow") / flow, np.maximum(together, incoming)
    into = (together - drawn * np.minimum(held, most)) / (1 - drawn)
    into = np.clip(into, np.minimum(together, slow), most)
    return at(b.gap_torque, into) + on_edges, on_casing


def errors(b: Builds, c: dict[str, float]) -> tuple[Numbers, Numbers]:
    """Relative errors of rotor torque and casing torque."""
    rotor, casing = torques(b, c)
    return rotor / b.of("plane_rotor_torque") - 1, casing / b.of("plane_casing_torque") - 1


def fitted(b: Builds) -> dict[str, float]:
    """Constants of mouth and ring together, rounded as the kernel has them."""
    chosen, names = b.is_fitted, list(START)
    liquid = np.array([row["name"].startswith("water") for row in b.rows])
    weight = np.where(liquid, LIQUID_WEIGHT, 1.0) / SPEED_SCALE
    mixing = b.of("plane_jet_speed") / b.of("jet_speed")

    def off(x: Numbers) -> Numbers:
        c = dict(zip(names, x[1:], strict=True))
        speed = x[0] * b.of("jet_speed")
        slower = (x[0] * mouths(b, speed, c).factor - mixing) * weight
        rotor, casing = errors(b, c)
        return np.concatenate(
            [slower[chosen], rotor[chosen] / ROTOR_SCALE, casing[chosen] / CASING_SCALE]
        )

    # Robust: a few builds are far from what any such law can follow.
    start = [USUAL_MIXING, *START.values()]
    found = least_squares(
        off,
        start,
        x_scale=np.abs(start),
        loss="soft_l1",
        diff_step=np.full(len(start), 1e-3),
        max_nfev=40,
    )
    sys.stdout.write(f"jets of open rims: {found.x[0]:.3f} of the speed by the nozzle\n")
    return {key: round(float(x), 2) for key, x in zip(names, found.x[1:], strict=True)}


def main() -> None:
    b = builds()
    c = fitted(b)
    sys.stdout.write(f"{c}\n")
    rotor, casing = 100 * np.array(errors(b, c))
    for row, x, y in zip(b.rows, rotor, casing, strict=True):
        share = row["edge_height"] / row["stack_height"]
        sys.stdout.write(f"{row['name']:24} {row['half']:5} {share:.3f} {x:6.1f} {y:6.1f}\n")


if __name__ == "__main__":
    main()
