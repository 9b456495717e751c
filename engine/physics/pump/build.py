"""What the flow through a pump depends on, and what is told of it."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask


@dataclass(frozen=True)
class PumpBuild:
    """What of a pump the flow depends on, one value a lane or one for all [SI]."""

    disc_count: Array
    disc_thickness: Array  # [m]
    gap: Array  # [m]
    rim_radius: Array  # [m]
    eye_radius: Array  # [m]
    shaft_radius: Array  # [m]
    angular_speed: Array  # [rad/s]
    suction_ends: Array  # 1 or 2
    throat_area: Array  # [m2]
    port_diameter: Array  # [m]
    rim_clearance: Array  # from the discs to the collector [m]
    side_gap: Array  # from end disc to casing [m]
    seal_clearance: Array  # of the wear rings [m]
    ring_length: Array  # of the wear rings [m]
    ring_radius: Array  # of the wear rings [m]
    eye_blockage: Array = 0.25
    eye_loss: Array = 0.8
    entry_factor: Array = 1.0
    transition_factor: Array = 1.0
    ring_factor: Array = 1.0
    throat_factor: Array = 1.0
    cone_loss: Array = 0.15
    casing_factor: Array = 1.0
    windage_factor: Array = 1.0
    eye_swirl_ratio: Array = 0.0  # swirl before the gaps over disc speed there


@dataclass(frozen=True)
class PumpFlow:
    """A pump at a delivered flow, one value a lane; NaN where it has no answer."""

    mass_flow: Lanes
    """Delivered [kg/s]."""
    through: Lanes
    """Through all gaps together [kg/s]."""
    leakage: Lanes
    """Back to the eye [kg/s]."""
    flow: Lanes
    """Delivered, by the density at the flange [m3/s]."""
    head: Lanes
    """Rise of total pressure from flange to port as a column of the fluid [m]. For a gas the rise
    through the gaps is that of enthalpy at constant entropy."""
    pressure_rise: Lanes
    """Of total pressure [Pa]."""
    fluid_power: Lanes
    """Power that the stack gives to fluid: gaps, edges and end faces, without bearings and seals
    [W]."""
    hydraulic_power: Lanes
    """Delivered flow times g times head [W]."""
    rotor_power: Lanes
    """Power of the discs on the fluid in the gaps [W]."""
    edge_power: Lanes
    """Power that the disc edges take from the shaft [W]."""
    hydraulic_efficiency: Lanes
    """Hydraulic power over fluid power [-]."""
    rotor_efficiency: Lanes
    """Rise of total pressure in the gaps over the work of the discs there [-]."""
    volumetric_efficiency: Lanes
    """Delivered flow over that through the gaps [-]."""
    loss_eye: Lanes
    """Turn into the eye and contraction into the gaps [W]."""
    loss_gap: Lanes
    """Friction inside the gaps [W]."""
    loss_edge: Lanes
    """Friction at the disc edges [W]."""
    loss_mouth: Lanes
    """Mixing of the streams behind the rim [W]."""
    loss_leakage: Lanes
    """Head of what leaks back [W]."""
    loss_vaneless: Lanes
    """Walls between rim and collector [W]."""
    loss_throat: Lanes
    """Radial head and mixing of the swirl into the throat [W]."""
    loss_collector: Lanes
    """Friction in the collector [W]."""
    loss_cone: Lanes
    """Cone between throat and port [W]."""
    loss_windage: Lanes
    """Fluid on the outer faces of the end discs [W]."""
    lowest_pressure: Lanes
    """Lowest static pressure between flange and gaps [Pa]."""
    npsh_required: Lanes
    """At inception [m]."""
    temperature_rise: Lanes
    """Of the fluid, from flange to port [K]."""
    specific_speed: Lanes
    """Speed times root of flow over (g head)^(3/4) [-]."""
    specific_diameter: Lanes
    """Diameter times (g head)^(1/4) over root of flow [-]."""
    axial_thrust: Lanes
    """On a stack that takes in at one end, towards that end [N]."""
    discharge_angle: Lanes
    """Between the flow behind the rim and the tangent [rad]."""
    ekman_number: Lanes
    """Gap times the root of disc speed over kinematic viscosity [-]."""
    flow_coefficient: Lanes
    """Flow of a gap over 2 pi b W R^2 [-]."""
    throat_speed: Lanes
    """[m/s]."""
    throat_ratio: Lanes
    """Throat speed over the swirl that arrives there [-]."""
    eye_speed: Lanes
    """Axial speed in the eye [m/s]."""
    rim_pressure: Lanes
    """Static, behind the rim [Pa]."""
    rim_density: Lanes
    """At the rim [kg/m3]."""
    rim_swirl: Lanes
    """With which the fluid leaves the gaps, in the mean [m/s]."""
    ring_shear: Lanes
    """Shear stress on the walls of the wear ring [Pa]."""
    ring_swirl: Lanes
    """Circumferential speed behind the rim, with the drag of the edges [m/s]."""
    residence_time: Lanes
    """Mean time of the fluid in the gaps [s]."""
    largest_reynolds: Lanes
    """As in `gap.outward.GapOutflow` [-]."""
    turbulent_share: Lanes
    """As there [-]."""
    largest_mach: Lanes
    """As there [-]."""
    backflow_share: Lanes
    """As there [-]."""
    choked: Mask
    """Whether the gap chokes."""
    settled: Mask
    """Whether there is an answer."""


def stack_height_of(*, build: PumpBuild) -> Lanes:
    """Height of discs and gaps together.

    Parameters
    ----------
    build : PumpBuild
        Sizes [SI]; they broadcast.

    Returns
    -------
    Lanes
        Height [m].

    References
    ----------
    Geometry, derived here.

    """
    discs = np.asarray(build.disc_count, dtype=float)
    return np.asarray(discs * build.disc_thickness + (discs - 1) * build.gap)
