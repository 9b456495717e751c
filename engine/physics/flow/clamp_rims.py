"""Rims of end clamps as wide as the discs, which turn beside the ring of fluid around these."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.flow.ring import casing_friction_factor
from engine.physics.flow.ring_kernel import MIXING_LAYER

HALVINGS = 50
"""Of the bracket in which the speed of the fluid is looked for: beyond the last digit."""
SLOWEST = 1e-3
"""Least speed against a wall for its friction factor [m/s]."""


@dataclass(frozen=True)
class ClampRims:
    """The fluid around the rim of one clamp."""

    speed: Lanes
    """Circumferential speed [m/s]."""
    torque: Lanes
    """Braking torque on the rim; below 0 where the fluid drives it [N m]."""


def clamp_rims(
    *,
    density: Array,
    viscosity: Array,
    ring_swirl: Array,
    leakage: Array,
    leakage_swirl: Array,
    core_speed: Array,
    angular_speed: Array,
    rim_radius: Array,
    rim_clearance: Array,
    width: Array,
    casing_factor: Array,
    exchange_factor: Array,
) -> ClampRims:
    """Find the drag on the rim of one end clamp that is as wide as the discs.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    density, viscosity : Array
        Density [kg/m3] and dynamic viscosity [Pa s] of the fluid there.
    ring_swirl : Array
        Swirl of the ring of fluid around the discs beside it, in the mean [m/s].
    leakage : Array
        Flow past this rim to the seal [kg/s], 0 or more.
    leakage_swirl : Array
        Swirl with which that leaves the ring [m/s].
    core_speed : Array
        Speed of the fluid in the side chamber beyond, at the rim [m/s].
    angular_speed : Array
        Speed of the clamp [rad/s].
    rim_radius, rim_clearance : Array
        Radius of the clamp [m], and from there to the casing [m].
    width : Array
        Length of the rim along the shaft [m].
    casing_factor, exchange_factor : Array
        Factors on the friction at the casing and on the shear with what is beside [-]; 1 where
        nothing better is known.

    Returns
    -------
    ClampRims
        Speed of the fluid [m/s] and torque [N m]; NaN where an argument is.

    Notes
    -----
    Nozzles are as high as the stack, so jets meet no clamp. The fluid around its rim is dragged by
    ring and side chamber, as mixing layers drag, and turned by what leaks past. It rubs on casing
    and rim, as the ring does, each by its own slip. It turns so that these moments agree.

    Were it filled from the ring so evenly that both turn alike, its casing alone would ask the ring
    for 0.5 f rho V^2 over the width, some 0.015 mm rho V^2 of a clamp of 5 mm with f = 0.006. A
    mixing layer as wide as a clearance of 0.5 mm bears 0.0055 mm rho V^2, even beside fluid at
    rest. So it cannot be. What the pressure in front of the mouths pushes into this space and back
    is not counted, here as beside every stack.

    With no ring and no leakage the drag is that between two cylinders: 1.0 to 2.3 times what Bilgen
    and Boulos give where the clearance is up to a hundredth of the radius, 0.8 to 1.4 times at
    three hundredths.

    References
    ----------
    Derived here from the moments. Friction and mixing layers: `ring.ring_around_discs`. Cylinders:
    Bilgen and Boulos, Trans. ASME J. Fluids Eng. 95, 1973, 122-126 (from memory).

    Examples
    --------
    With no ring, no leakage and a thin space it turns half as fast as the rim.

    >>> found = clamp_rims(density=2.0, viscosity=1.8e-5, ring_swirl=0.0, leakage=0.0,
    ...     leakage_swirl=0.0, core_speed=0.0, angular_speed=2000.0, rim_radius=0.05,
    ...     rim_clearance=1e-7, width=5e-3, casing_factor=1.0, exchange_factor=0.0)
    >>> round(float(found.speed), 2)
    50.0

    """
    given, shape = as_lanes(
        density,
        viscosity,
        ring_swirl,
        leakage,
        leakage_swirl,
        core_speed,
        angular_speed,
        rim_radius,
        rim_clearance,
        width,
        casing_factor,
        exchange_factor,
    )
    rho, mu, ring, leak, leaving, core, omega, radius, clearance, long, on_casing, shear = given
    rim = omega * radius
    face = np.pi * rho * np.square(radius)
    wall, opening = face * long, shear * MIXING_LAYER * face * clearance
    with np.errstate(invalid="ignore"):
        outer = on_casing * np.square(1 + clearance / radius) * wall
        scale = rho * clearance / mu

        def on_rim(speed: Lanes) -> Lanes:
            """Torque with which the rim drags the fluid along [N m]."""
            return wall * _friction(rim - speed, scale)

        def gained(speed: Lanes) -> Lanes:
            """Moment that the fluid gains at a speed [N m]: the faster it is, the less."""
            dragged = opening * (_signed_square(ring - speed) + _signed_square(core - speed))
            brought = leak * radius * (leaving - speed)
            return dragged + brought + on_rim(speed) - outer * _friction(speed, scale)

        high = np.maximum.reduce([ring, leaving, core, rim])
        low, middle = 0.0 * high, high / 2
        for _ in range(HALVINGS):
            faster = gained(middle) > 0
            low, high = np.where(faster, middle, low), np.where(faster, high, middle)
            middle = (low + high) / 2
        # What is NaN stays so.
        speed = middle + 0.0 * gained(middle)
        return ClampRims(speed.reshape(shape), on_rim(speed).reshape(shape))


def _signed_square(speed: Lanes) -> Lanes:
    return speed * np.abs(speed)


def _friction(slip: Lanes, scale: Lanes) -> Lanes:
    """Friction factor of a wall times the square of the slip along it [m2/s2]."""
    factor = casing_friction_factor(reynolds=np.maximum(np.abs(slip), SLOWEST) * scale)
    return factor * _signed_square(slip)
