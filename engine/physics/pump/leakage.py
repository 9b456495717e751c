"""What leaks from the rim of a pump through side chambers and wear rings back to its eye."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.flow.ring_kernel import CORE_SWIRL

ENDS = 1.5
"""Loss of entry (0.5) and exit (1) of a slit, over the dynamic pressure in it."""
SLIT_PASSES = 8
"""Turns between the speed in a slit and its turbulent friction."""


@dataclass(frozen=True)
class RingLeakage:
    """Wear rings at the eye, one value a lane."""

    leakage: Lanes
    """Through all of them [kg/s]."""
    speed: Lanes
    """In the slit [m/s]."""
    wall_shear: Lanes
    """Shear stress on its walls, by the flow and the turning disc together [Pa]."""
    pressure_drop: Lanes
    """Across the wear ring [Pa]."""


def wear_ring_leakage(
    *,
    density: Array,
    viscosity: Array,
    rim_pressure: Array,
    eye_pressure: Array,
    angular_speed: Array,
    rim_radius: Array,
    ring_radius: Array,
    clearance: Array,
    length: Array,
    ring_count: Array,
    ring_factor: Array,
) -> RingLeakage:
    """Leakage through wear rings, of a pressure behind the rim.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    density, viscosity : Array
        Of the fluid [kg/m3], [Pa s].
    rim_pressure, eye_pressure : Array
        Static, behind the rim and in the eye [Pa].
    angular_speed : Array
        Speed of the discs [rad/s].
    rim_radius, ring_radius : Array
        Of the discs and of the wear rings [m].
    clearance, length : Array
        Radial clearance of a wear ring and its length [m].
    ring_count : Array
        Number of wear rings [-]: open ends of the stack.
    ring_factor : Array
        Factor on the leakage [-]; 1 where nothing better is known.

    Returns
    -------
    RingLeakage
        Flow, speed, stress and pressure drop; none where the eye has the higher pressure.

    Notes
    -----
    The fluid in a side chamber turns at 0.45 of disc speed, which lowers the pressure inward. Slit:
    1.5 rho V^2 / 2 + 12 mu L V / c^2, its friction that of a plane channel where that is turbulent.

    References
    ----------
    Core swirl: Daily and Nece, Trans. ASME J. Basic Eng. 82, 1960, 217-232. Slit: Stepanoff,
    Centrifugal and Axial Flow Pumps, 2nd ed. 1957, ch. 10; turbulent friction: Hirs, J. Lubr.
    Technol. 95, 1973, 137-146 (all from memory).

    Examples
    --------
    A long slit in oil has the flow of a plane channel, c^3 dp / (12 mu L) a metre of its width.

    >>> oil = wear_ring_leakage(density=870.0, viscosity=0.087, rim_pressure=1e5, eye_pressure=0.0,
    ...     angular_speed=0.0, rim_radius=0.05, ring_radius=0.02, clearance=1e-4, length=0.1,
    ...     ring_count=1, ring_factor=1.0)
    >>> slit = 1e-4**3 * 1e5 / (12 * 0.087 * 0.1) * 2 * np.pi * 0.02
    >>> round(float(oil.leakage / (870.0 * slit)), 3)
    1.0

    """
    given = (density, viscosity, rim_pressure, eye_pressure, angular_speed, rim_radius)
    rho, mu, p, low, omega, rim = (np.asarray(value, dtype=float) for value in given)
    radius, clear = np.asarray(ring_radius, dtype=float), np.asarray(clearance, dtype=float)
    drop = p - chamber_fall(density=rho, angular_speed=omega, outer=rim, inner=radius) - low
    drive = np.maximum(drop, 0.0)
    ends, laminar = ENDS * rho / 2, 12 * mu * length / clear**2
    speed, more = np.zeros_like(drive), np.ones_like(drive)
    for _ in range(SLIT_PASSES):
        friction = more * laminar
        speed = 2 * drive / (friction + np.sqrt(friction**2 + 4 * ends * drive) + 1e-300)
        more = np.maximum(1.0, 0.066 / 12 * (rho * speed * clear / mu) ** 0.75)
    leak = ring_factor * ring_count * 2 * np.pi * radius * clear * rho * speed
    stress = np.hypot(6 * mu * speed / clear * more, mu * omega * radius / clear)
    shape = np.broadcast_shapes(np.shape(leak), stress.shape)
    return RingLeakage(*(np.broadcast_to(value, shape) for value in (leak, speed, stress, drop)))


def chamber_fall(*, density: Array, angular_speed: Array, outer: Array, inner: Array) -> Lanes:
    """Fall of pressure in a side chamber between two radii.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Of the fluid [kg/m3].
    angular_speed : Array
        Speed of the discs [rad/s].
    outer, inner : Array
        Radii [m].

    Returns
    -------
    Lanes
        Pressure at the outer less that at the inner radius [Pa].

    References
    ----------
    Solid body at 0.45 of disc speed: Daily and Nece, Trans. ASME J. Basic Eng. 82, 1960, 217-232
    (from memory).

    Examples
    --------
    >>> round(float(chamber_fall(density=1000.0, angular_speed=100.0, outer=0.1, inner=0.0)), 3)
    10125.0

    """
    turned = CORE_SWIRL * np.asarray(angular_speed, dtype=float)
    return np.asarray(density * turned**2 * (np.square(outer) - np.square(inner)) / 2)


def eye_thrust(
    *,
    density: Array,
    rim_pressure: Array,
    eye_pressure: Array,
    angular_speed: Array,
    rim_radius: Array,
    eye_radius: Array,
    shaft_radius: Array,
    suction_ends: Array,
) -> Lanes:
    """Axial force on a stack that takes in at one end, towards that end.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    density : Array
        Of the fluid [kg/m3].
    rim_pressure, eye_pressure : Array
        Static, behind the rim and in the eye [Pa].
    angular_speed : Array
        Speed of the discs [rad/s].
    rim_radius, eye_radius, shaft_radius : Array
        Radii [m].
    suction_ends : Array
        Ends that take in [-], 1 or 2.

    Returns
    -------
    Lanes
        Force [N]; 0 where the stack takes in at both ends.

    Notes
    -----
    Outside the eye both end discs see the same. Inside it the closed end has its side chamber
    outside, the eye inside.

    References
    ----------
    Derived here from the balance of forces.

    Examples
    --------
    >>> force = eye_thrust(density=1000.0, rim_pressure=1e5, eye_pressure=0.0, angular_speed=0.0,
    ...     rim_radius=0.05, eye_radius=0.02, shaft_radius=0.0, suction_ends=1)
    >>> round(float(force), 2)
    125.66

    """
    eye, shaft = np.square(eye_radius), np.square(shaft_radius)
    # Mean pressure over the annulus: that at the mean of the squared radii.
    fall = chamber_fall(
        density=density,
        angular_speed=angular_speed,
        outer=rim_radius,
        inner=np.sqrt((eye + shaft) / 2),
    )
    force = (rim_pressure - fall - eye_pressure) * np.pi * (eye - shaft)
    return np.where(np.asarray(suction_ends) == 1, force, 0.0)
