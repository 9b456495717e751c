"""From the gaps of a pump into the space around its discs, and through that to the collector."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, ValidRange
from engine.physics.flow.ring import casing_friction_factor

EDGE_PASSES = 8
"""Turns between the swirl behind the rim and the drag of the edges, which hardly changes it."""
RING_STEPS = 8
"""Steps from the rim to the collector."""
VANELESS_RANGE = ValidRange(
    source="vaneless diffusers of compressors, whose flow leaves at 10 degrees or more; below 5 "
    "the law is far outside of what it was measured for",
    bounds={"discharge_angle": (np.radians(5.0), np.radians(90.0))},
)


@dataclass(frozen=True)
class MouthFlow:
    """Behind the rim, the streams of all gaps mixed, one value a lane."""

    pressure: Lanes
    """Static [Pa]."""
    swirl: Lanes
    """Circumferential speed [m/s]."""
    radial_speed: Lanes
    """Over the whole height of the stack [m/s]."""
    edge_torque: Lanes
    """Of all disc edges on the fluid [N m]."""
    edge_loss: Lanes
    """Friction power at the edges [W]."""


def leave_gaps(
    *,
    density: Array,
    viscosity: Array,
    rim_pressure: Array,
    rim_swirl: Array,
    rim_momentum: Array,
    mass_flow: Array,
    rim_radius: Array,
    rim_clearance: Array,
    gap: Array,
    gap_count: Array,
    disc_thickness: Array,
    angular_speed: Array,
) -> MouthFlow:
    """Mix the streams of all gaps behind the rim, with the drag of the disc edges.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    density, viscosity : Array
        At the rim [kg/m3], [Pa s].
    rim_pressure : Array
        Static pressure just inside the gaps [Pa].
    rim_swirl : Array
        Mass-flux mean of the circumferential speed there [m/s].
    rim_momentum : Array
        Mean of the squared radial speed there [m2/s2].
    mass_flow : Array
        Flow through all gaps [kg/s].
    rim_radius, rim_clearance : Array
        Radius of the discs and distance from there to the collector [m].
    gap, disc_thickness : Array
        Distance between discs and their thickness [m].
    gap_count : Array
        Number of gaps [-], one less than discs.
    angular_speed : Array
        Speed of the discs [rad/s].

    Returns
    -------
    MouthFlow
        Pressure by the balance of radial momentum, swirl by that of moment of momentum.

    Notes
    -----
    Static pressure acts on gaps and edges alike. The friction factor of the edges is that of a
    channel as high as the rim clearance, as at the rim of a turbine.

    References
    ----------
    Derived here from the balances of momentum; friction as in `flow.ring`.

    Examples
    --------
    Thin discs change nothing.

    >>> mouth = leave_gaps(density=1000.0, viscosity=1e-3, rim_pressure=2e5, rim_swirl=9.0,
    ...     rim_momentum=1.0, mass_flow=2 * 3.141592653589793 * 0.05 * 1e-3 * 1000.0,
    ...     rim_radius=0.05, rim_clearance=3e-3, gap=1e-3, gap_count=1, disc_thickness=0.0,
    ...     angular_speed=200.0)
    >>> round(float(mouth.pressure), 3), round(float(mouth.swirl), 3)
    (200000.0, 9.0)

    """
    given = (density, viscosity, rim_pressure, rim_swirl, rim_momentum, mass_flow, rim_radius)
    rho, mu, p, v, squared, flow, rim = (np.asarray(value, dtype=float) for value in given)
    width, thick = np.asarray(gap, dtype=float), np.asarray(disc_thickness, dtype=float)
    gaps, omega = np.asarray(gap_count, dtype=float), np.asarray(angular_speed, dtype=float)
    edges = (gaps + 1) * thick
    height = gaps * width + edges
    radial = flow / (rho * 2 * np.pi * rim * height)
    pressure = p + rho * (gaps * width / height * squared - radial**2)
    # Swirl: a quadratic equation in the slip of the edges, its friction factor repeated.
    surface = 2 * np.pi * rim * edges
    slip = omega * rim - v
    factor = np.zeros_like(slip)
    left = slip
    for _ in range(EDGE_PASSES):
        reynolds = np.maximum(rho * np.abs(left) * rim_clearance / mu, 1e-3)
        factor = casing_friction_factor(reynolds=reynolds) * rho / 2 * surface / flow
        left = 2 * slip / (1 + np.sqrt(1 + 4 * factor * np.abs(slip)))
    swirl = v + factor * left * np.abs(left)
    torque = flow * rim * (swirl - v)
    loss = torque * (omega - swirl / rim)
    shape = np.broadcast_shapes(pressure.shape, swirl.shape)
    found = (pressure, swirl, radial, torque, loss)
    return MouthFlow(*(np.broadcast_to(value, shape) for value in found))


def vaneless_space(
    *,
    density: Array,
    viscosity: Array,
    swirl: Array,
    mass_flow: Array,
    rim_radius: Array,
    rim_clearance: Array,
    height: Array,
    casing_factor: Array = 1.0,
) -> tuple[Lanes, Lanes]:
    """Follow the flow from the rim to the collector between two plane walls.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    density, viscosity : Array
        At the rim [kg/m3], [Pa s].
    swirl : Array
        Circumferential speed behind the rim [m/s].
    mass_flow : Array
        Delivered flow [kg/s], above 0.
    rim_radius, rim_clearance, height : Array
        Radius of the discs, distance from there to the collector, height between the walls [m].
    casing_factor : Array
        Factor on the friction [-]; 1 where nothing better is known.

    Returns
    -------
    swirl : Lanes
        Circumferential speed at the collector [m/s].
    loss : Lanes
        Loss of total pressure over density [J/kg].

    Notes
    -----
    d(r v)/dr = -C_f V v r / (H u) and d(p_t)/dr = -C_f rho V^3 / (H u), with the friction factor of
    a plane channel of height H. The flow circles many times before it gets out, so each millimetre
    costs. The walls between which that was measured saw far steeper flow (`VANELESS_RANGE`).

    References
    ----------
    Stanitz 1952, NACA TN 2610; Japikse, Centrifugal Compressor Design and Performance, 1996 (both
    from memory).

    Examples
    --------
    Without friction the moment is kept.

    >>> v, loss = vaneless_space(density=1000.0, viscosity=1e-12, swirl=10.0, mass_flow=1.0,
    ...     rim_radius=0.05, rim_clearance=0.005, height=0.01, casing_factor=0.0)
    >>> round(float(v), 4), float(loss)
    (9.0909, 0.0)

    """
    given = (density, viscosity, swirl, mass_flow, rim_radius, rim_clearance, height)
    rho, mu, v, flow, rim, clear, high = (np.asarray(value, dtype=float) for value in given)
    moment = rim * v + 0 * flow
    loss = np.zeros_like(moment)
    outward = flow / (rho * 2 * np.pi * high)  # radius times radial speed
    for k in range(RING_STEPS):
        r, length = rim + (k + 0.5) / RING_STEPS * clear, clear / RING_STEPS
        around, radial = moment / r, outward / r
        # Friction goes with the square of the swirl, so a step takes x / (1 + x) of it; with the
        # mean over the step the decay is followed again. What friction takes is the change of the
        # head of the swirl, however fast that dies.
        fast = np.hypot(around, radial)
        factor = casing_factor * casing_friction_factor(
            reynolds=np.maximum(rho * fast * high / mu, 1e-3)
        )
        share = factor * length * r / (high * outward)
        halved = (1 + 1 / (1 + share * fast)) / 2
        fast = np.hypot(halved * around, radial)
        kept = np.exp(-share * fast)
        steeper = 1 + np.square(radial / np.maximum(halved * around, radial))
        loss = loss + steeper * around**2 * (1 - kept**2) / 2
        moment = moment * kept
    return np.asarray(moment / (rim + clear)), np.asarray(loss)
