"""The ring around the discs: jets mix, rub on the casing, and enter the gaps."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.fluid_kernel import Fluid

RING_PASSES = 8
MOST_HEATING = 50e3
"""Work of the edges on the ring [J/kg] up to which the ring is followed; beyond, a stack churns
more than it is blown through, and no steady state is near."""


@dataclass(frozen=True)
class Ring:
    """The mixed fluid around the rim."""

    swirl: Lanes  # circumferential speed [m/s]
    total_enthalpy: Lanes  # [J/kg]
    enthalpy: Lanes  # static [J/kg]
    density: Lanes  # [kg/m3]
    viscosity: Lanes  # [Pa s]
    edge_torque: Lanes  # of the ring on the disc edges [N m]
    casing_dissipation: Lanes  # friction power left on the casing wall [W]
    edge_dissipation: Lanes  # friction power left on the disc edges [W]
    churning: (
        Mask  # the edges do more work on the ring than MOST_HEATING; states are not to be used
    )


@dataclass(frozen=True)
class GapEntry:
    """State just inside the gaps."""

    pressure: Lanes  # [Pa]
    enthalpy: Lanes  # static [J/kg]
    radial_speed: Lanes  # inward [m/s]


def casing_friction_factor(*, reynolds: Array) -> Lanes:
    """Fanning friction factor of a thin ring of fluid sliding along the casing.

    Parameters
    ----------
    reynolds : Array
        Ring speed times rim clearance over kinematic viscosity [-], above 0.

    Returns
    -------
    Lanes
        Friction factor [-]; the larger of the laminar and the turbulent law.

    Notes
    -----
    The ring is as thin as the rim clearance and so behaves as a channel of that height, not as a
    boundary layer that starts at a nozzle.

    References
    ----------
    Hirs, J. Lubr. Technol. 95, 1973, 137-146 (turbulent, from memory); 12 / Re for a laminar plane
    channel.

    Examples
    --------
    >>> round(float(casing_friction_factor(reynolds=1e4)), 4)
    0.0066

    """
    re = np.asarray(reynolds, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.maximum(12 / re, 0.066 * re**-0.25)


def mix_at_rim(
    *,
    fluid: Fluid,
    mass_flow: Array,
    jet_speed: Array,
    total_enthalpy: Array,
    pressure: Array,
    inlet_angle: Array,
    mixing_coefficient: Array,
    rim_radius: Array,
    rim_clearance: Array,
    stack_height: Array,
    edge_height: Array,
    angular_speed: Array,
) -> Ring:
    """Mix the jets with the ring of fluid around the discs.

    All arguments broadcast; the results have their common shape.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    mass_flow : Array
        Flow of all nozzles [kg/s].
    jet_speed : Array
        Speed of the jets [m/s].
    total_enthalpy : Array
        Total enthalpy of the jets [J/kg].
    pressure : Array
        Pressure of the ring [Pa].
    inlet_angle : Array
        Angle of the jets from the tangent [rad].
    mixing_coefficient : Array
        Share of the jets' swirl that survives mixing [-].
    rim_radius, rim_clearance, stack_height : Array
        Disc radius [m], clearance to the casing [m], height of discs and gaps [m].
    edge_height : Array
        Disc edges together: number of discs times thickness [m].
    angular_speed : Array
        Speed of the discs [rad/s].

    Returns
    -------
    Ring
        Mixed swirl and state; zero swirl where there is no flow.

    Notes
    -----
    Angular momentum of the ring: what the jets bring goes to the casing, to the disc edges (the
    edge drag is charged to the ring as well as paid to the rotor, so that nothing is counted
    twice) and, with the mixed swirl, into gaps and leakage. Edge drag changes sign with slip, so
    one of two quadratics applies; the balance at rim speed tells which. Density and friction depend
    on the swirl and are found by repeating the solution.

    References
    ----------
    Derived here from the moment-of-momentum theorem.

    """
    rim_speed = np.asarray(angular_speed * rim_radius)
    casing_radius = np.asarray(rim_radius + rim_clearance)
    incoming = np.asarray(jet_speed * np.cos(inlet_angle) * mixing_coefficient)
    flow = np.maximum(mass_flow, 1e-12)
    swirl = incoming
    total = np.asarray(total_enthalpy + 0.0 * swirl)
    edge_torque = casing = drawn = np.zeros_like(swirl)
    for _ in range(RING_PASSES):
        enthalpy = total - swirl**2 / 2
        density = fluid.density(pressure=pressure, enthalpy=enthalpy)
        viscosity = fluid.viscosity(pressure=pressure, enthalpy=enthalpy)
        scale = density * rim_clearance / viscosity
        on_casing = casing_friction_factor(reynolds=np.maximum(swirl, 1e-3) * scale)
        on_edge = casing_friction_factor(
            reynolds=np.maximum(np.abs(swirl - rim_speed), 1e-3) * scale
        )
        casing = on_casing * density * np.pi * casing_radius**2 * stack_height / rim_radius
        edge = on_edge * density * np.pi * rim_radius * edge_height
        swirl = _ring_swirl(flow, incoming, rim_speed, casing, edge)
        slip = swirl - rim_speed
        edge_torque = edge * slip * np.abs(slip) * rim_radius
        drawn = edge_torque * angular_speed / flow
        total = total_enthalpy - np.clip(drawn, -MOST_HEATING, MOST_HEATING)
    enthalpy = total - swirl**2 / 2
    return Ring(
        swirl=swirl,
        total_enthalpy=total,
        enthalpy=enthalpy,
        density=fluid.density(pressure=pressure, enthalpy=enthalpy),
        viscosity=fluid.viscosity(pressure=pressure, enthalpy=enthalpy),
        edge_torque=edge_torque,
        casing_dissipation=np.asarray(casing * rim_radius / casing_radius * swirl**3),
        edge_dissipation=np.asarray(edge_torque / rim_radius * (swirl - rim_speed)),
        churning=np.asarray(np.abs(drawn) > MOST_HEATING),
    )


def _ring_swirl(
    flow: Lanes, incoming: Lanes, rim_speed: Lanes, casing: Lanes, edge: Lanes
) -> Lanes:
    faster = flow * (incoming - rim_speed) > casing * rim_speed**2
    sign = np.where(faster, 1.0, -1.0)
    square = casing + sign * edge
    linear = flow - sign * 2 * edge * rim_speed
    constant = flow * incoming - sign * edge * rim_speed**2
    # This form of the root stays exact when the square term is small or negative.
    return np.asarray(
        2 * constant / (linear + np.sqrt(np.maximum(linear**2 + 4 * square * constant, 0.0)))
    )


def enter_gap(
    *,
    fluid: Fluid,
    ring: Ring,
    ring_pressure: Array,
    gap_flow: Array,
    gap: Array,
    disc_thickness: Array,
    rim_radius: Array,
) -> GapEntry:
    """Contract the ring's fluid into the gaps between the disc edges.

    All arguments broadcast.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    ring : Ring
        State around the rim [-].
    ring_pressure : Array
        Pressure of the ring [Pa].
    gap_flow : Array
        Flow into one gap [kg/s].
    gap, disc_thickness, rim_radius : Array
        Gap [m], thickness [m], radius [m].

    Returns
    -------
    GapEntry
        State just inside; NaN where the contraction cannot pass the flow.

    Notes
    -----
    The ring has no radial speed, as in its energy balance; swirl is kept. Loss coefficient
    0.5 (1 - b / (b + t)) on the radial head in the gap.

    References
    ----------
    Sudden contraction: Idelchik, Handbook of Hydraulic Resistance, 3rd ed. 1994, ch. 4 (from
    memory).

    """
    opening = np.asarray(gap / (gap + disc_thickness))
    flux = np.asarray(gap_flow / (2 * np.pi * rim_radius * gap))
    pressure = np.asarray(ring_pressure + 0.0 * flux)
    density, enthalpy = ring.density, ring.enthalpy
    for _ in range(RING_PASSES):
        speed = flux / density
        head = speed**2 * density / 2
        pressure = ring_pressure - head * (1 + 0.5 * (1 - opening))
        pressure = np.where(pressure > 0, pressure, np.nan)
        enthalpy = ring.enthalpy - speed**2 / 2
        density = fluid.density(pressure=pressure, enthalpy=enthalpy)
    return GapEntry(pressure=pressure, enthalpy=np.asarray(enthalpy), radial_speed=flux / density)
