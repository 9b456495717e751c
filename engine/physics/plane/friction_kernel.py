"""Shear stress of the walls on the fluid, averaged over the height; see `solve.plane_flow`."""

import math

from engine.physics.compiled import inlined, root
from engine.physics.flow.ring_kernel import casing_friction
from engine.physics.gap.turbulence_kernel import turbulent_weight

SMOOTH, WALL_FUNCTION, CHANNEL = 0, 1, 2
"""Closures of the casing and the disc edges: no friction; the 1/7-power law on the cell at the
wall; the friction of a channel as high as the clearance, on the mean speed of the ring."""
DEAN = 0.073
"""Friction factor of a smooth plane channel, times the fourth root of 2 b V / nu."""
POWER_LAW = 8.3
"""Factor of the 1/7-power law of the wall, u+ = 8.3 (y+)^(1/7)."""
STILL = 1e-9
"""Keeps a divisor from being 0 [m/s]."""


@inlined
def disc_stress(
    density: float, viscosity: float, speed: float, gap: float, transition: float
) -> float:
    """Stress of one disc on the mean speed in a gap: laminar, turbulent, or between the two."""
    reynolds = 2 * gap * speed * density / viscosity
    laminar = 6 * viscosity * speed / gap
    turbulent = 0.5 * DEAN / root(root(reynolds)) * density * speed * speed
    return laminar + turbulent_weight(reynolds / transition) * (turbulent - laminar)


@inlined
def wall_stress(density: float, viscosity: float, speed: float, distance: float) -> float:
    """Stress of a smooth wall on a speed at a distance, by the 1/7-power law or a laminar layer."""
    v = abs(speed) + STILL
    friction = (v / POWER_LAW) ** 1.75 * root(root(viscosity / (density * distance)))
    return max(density * friction, viscosity * v / distance)


@inlined
def ring_stress(density: float, viscosity: float, speed: float, clearance: float) -> float:
    """Stress of the casing on the mean speed of the ring, as in a channel of that height."""
    reynolds = (abs(speed) + STILL) * clearance * density / viscosity
    return 0.5 * density * speed * speed * casing_friction(reynolds)


@inlined
def stress_on(
    closure: int,
    density: float,
    viscosity: float,
    speed: float,
    mean_speed: float,
    distance: float,
    clearance: float,
) -> float:
    """Stress of casing or edges, with the sign of the speed on which it acts."""
    if closure == WALL_FUNCTION:
        return math.copysign(wall_stress(density, viscosity, speed, distance), speed)
    if closure == CHANNEL:
        return math.copysign(ring_stress(density, viscosity, mean_speed, clearance), mean_speed)
    return 0.0
