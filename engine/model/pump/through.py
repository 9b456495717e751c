"""Everything between suction flange and discharge port, for a given flow through the gaps."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap.outward import GapOutflow, march_outward

CORE = 0.45
"""Speed of the fluid in a side chamber over that of the discs (Daily and Nece 1960) [-]."""
BEST_THROAT = 0.45
"""Speed in the throat over the swirl at which a collector is at its best, as computed here [-]."""
SIDEWAYS = 0.36
"""Of the radial thrust of a volute (Stepanoff 1957, from memory) [-]."""
CONTRACTION = 0.5
"""Loss of a sharp entry into nothing, times what is blocked (Borda and Carnot) [-]."""
SLIT = 1.5
"""Loss at entry and exit of a wear ring over its dynamic pressure [-]."""
RINGS = 20
"""Steps through the space between rim and collector."""


@dataclass(frozen=True)
class PumpCircuit:
    """What the flow of a pump passes, one value a lane [SI]."""

    disc_count: Lanes
    gap: Lanes
    thickness: Lanes
    eye_radius: Lanes
    shaft_radius: Lanes
    rim_radius: Lanes
    angular_speed: Lanes
    eye_area: Lanes
    """Free area of the eye, of all suction ends together [m2]."""
    suction_ends: Lanes
    eye_loss: Lanes
    entry_factor: Lanes
    transition_factor: Lanes
    rim_clearance: Lanes
    casing_factor: Lanes
    throat_area: Lanes
    throat_factor: Lanes
    port_diameter: Lanes
    cone_loss: Lanes
    ring_radius: Lanes
    ring_clearance: Lanes
    ring_length: Lanes
    ring_factor: Lanes

    @property
    def gaps(self) -> Lanes:
        """Number of gaps [-]."""
        return np.asarray(self.disc_count - 1)

    @property
    def height(self) -> Lanes:
        """Height of the stack [m]."""
        return np.asarray(self.disc_count * self.thickness + self.gaps * self.gap)


@dataclass(frozen=True)
class PumpFlow:
    """Flow of a pump, one value a lane; NaN where a lane has no answer."""

    gap: GapOutflow
    through: Lanes
    """Volume flow through all gaps together [m3/s]."""
    leak: Lanes
    """Volume flow back to the eye [m3/s]."""
    rise: Lanes
    """Rise of total pressure from suction flange to discharge port [Pa]."""
    gap_power: Lanes
    """Work of the discs on the fluid in the gaps [W]."""
    edge_torque: Lanes
    """Torque of the edges of the discs on the fluid [N m]."""
    rotor_rise: Lanes
    """Rise of total pressure in the gaps [Pa]."""
    lowest_pressure: Lanes
    """Lowest static pressure from flange to gap [Pa]."""
    ring_pressure: Lanes
    """Static pressure behind the rim [Pa]."""
    ring_swirl: Lanes
    """Swirl behind the rim [m/s]."""
    discharge_angle: Lanes
    """Angle between the flow behind the rim and the tangent [rad]."""
    eye_speed: Lanes
    throat_speed: Lanes
    throat_swirl: Lanes
    """Swirl that arrives at the throat [m/s]."""
    axial_thrust: Lanes
    """Towards the eye; none with two suction ends [N]."""
    radial_thrust: Lanes
    ring_shear: Lanes
    """Stress on the walls of the wear ring [Pa]."""
    losses: dict[str, Lanes]
    """Losses of the fluid [W] by place: gap, eye, edge, mouth, leakage, vaneless, throat,
    collector, cone."""

    @property
    def delivered(self) -> Lanes:
        """Volume flow that is delivered [m3/s]."""
        return np.asarray(self.through - self.leak)


def flow_through(
    *, fluid: Fluid, pressure: Array, enthalpy: Array, density: Array, through: Array,
    circuit: PumpCircuit,
) -> PumpFlow:  # fmt: skip
    """Follow a flow from the suction flange through eye, gaps and collector to the discharge.

    Parameters
    ----------
    fluid : Fluid
        A liquid [-].
    pressure, enthalpy : Array
        Total pressure [Pa] and enthalpy [J/kg] at the suction flange.
    density : Array
        Density of the liquid [kg/m3].
    through : Array
        Volume flow through all gaps together [m3/s], above 0.
    circuit : PumpCircuit
        What the flow passes [SI].

    Returns
    -------
    PumpFlow
        State and losses at each place; NaN where the march has no answer. The delivered flow is
        below 0 where more leaks than comes through the gaps.

    Notes
    -----
    The collector's friction is that of an area that grows evenly around the rim; the swirl of the
    ring mixes into the throat (Borda and Carnot), and the radial head is lost. The ring is charged
    for both of its walls. Half of the swirl head, which some charge, is not used for so fast a
    swirl. The leakage is taken from behind the rim.

    References
    ----------
    Entry and throat: Borda and Carnot. Eye: Idelchik, Handbook of Hydraulic Resistance, 1994, from
    memory. Vaneless space: Stanitz 1952; Japikse, Centrifugal Compressor Design and Performance,
    1996, both from memory, far outside of their angles. Side chambers: Daily and Nece 1960. Radial
    thrust: Stepanoff, Centrifugal and Axial Flow Pumps, 1957, from memory. Collector friction and
    wear ring: derived here.

    """
    at, rho = circuit, np.asarray(density, dtype=float)
    speed, rim, eye, flow = at.angular_speed, at.rim_radius, at.eye_radius, np.asarray(through)
    viscosity = fluid.state(pressure=pressure, enthalpy=enthalpy).viscosity
    height = at.height
    # Eye and entry.
    axial = flow / at.eye_area
    lost_eye = at.eye_loss * rho * axial**2 / 2
    inward = flow / (at.gaps * 2 * np.pi * eye * at.gap)
    open_share = at.gap / (at.gap + at.thickness)
    lost_entry = at.entry_factor * CONTRACTION * (1 - open_share) * rho * inward**2 / 2
    total_in = pressure - lost_eye - lost_entry
    static_eye = pressure - lost_eye - rho * axial**2 / 2
    static_in = total_in - rho * inward**2 / 2
    gap = march_outward(
        fluid=fluid, eye_pressure=static_in, eye_enthalpy=enthalpy - inward**2 / 2, eye_swirl=0.0,
        mass_flow=rho * flow / at.gaps, gap=at.gap, eye_radius=eye, rim_radius=rim,
        angular_speed=speed, transition_factor=at.transition_factor,
    )  # fmt: skip
    gap_power = at.gaps * gap.torque * speed
    total_rim = gap.rim_pressure + rho * gap.rim_kinetic_energy
    # Rim: streams of all gaps mix, and the edges drag.
    radial = flow / (2 * np.pi * rim * height)
    share = at.gaps * at.gap / height
    ring_pressure = gap.rim_pressure + rho * (share * gap.rim_momentum - radial**2)
    lag = speed * rim - gap.rim_swirl
    rub = _film(rho * np.abs(gap.rim_swirl) * at.rim_clearance / viscosity)
    drag = rub * np.pi * rim * at.disc_count * at.thickness
    left = np.sign(lag) * (np.sqrt(flow**2 + 4 * drag * flow * np.abs(lag)) - flow) / (2 * drag)
    swirl = speed * rim - left
    edge_torque = rho * flow * rim * (swirl - gap.rim_swirl)
    total_ring = ring_pressure + rho * (swirl**2 + radial**2) / 2
    leak, ring_shear = _leakage(
        at, rho, viscosity, drop=ring_pressure - _spun(rho, speed, rim, eye) - static_eye
    )
    delivered = flow - leak
    # Ring and collector.
    lost_ring, swirl_out = _vaneless(at, rho, viscosity, delivered, swirl)
    outside = rim + at.rim_clearance
    width = np.sqrt(4 * at.throat_area / np.pi)
    middle = outside + width / 2
    arriving = swirl_out * outside / middle
    throat = delivered / at.throat_area
    meridional = rho * (delivered / (2 * np.pi * outside * height)) ** 2 / 2
    lost_throat = meridional + at.throat_factor * rho * (arriving - throat) ** 2 / 2
    rubbed = 4 * _pipe(rho * np.abs(throat) * width / viscosity) * (2 / 3) * 2 * np.pi * middle
    lost_collector = rubbed / width * rho * throat**2 / 2
    port = delivered / (np.pi * at.port_diameter**2 / 4)
    lost_cone = at.cone_loss * rho * (throat - port) ** 2 / 2
    rise = total_ring - pressure - lost_ring - lost_throat - lost_collector - lost_cone
    # Thrusts.
    shaft = at.shaft_radius
    beside = np.sqrt((eye**2 + shaft**2) / 2)
    pressed = ring_pressure - _spun(rho, speed, rim, beside) - static_eye
    thrust = np.where(at.suction_ends == 1, np.pi * (eye**2 - shaft**2) * pressed, 0.0 * pressed)
    off = 1 - (throat / (BEST_THROAT * arriving)) ** 2
    edges = edge_torque * (speed - swirl / rim)
    return PumpFlow(
        gap=gap,
        through=flow,
        leak=leak,
        rise=rise,
        gap_power=gap_power,
        edge_torque=edge_torque,
        rotor_rise=total_rim - total_in,
        lowest_pressure=np.minimum(np.minimum(static_eye, static_in), gap.lowest_pressure),
        ring_pressure=ring_pressure,
        ring_swirl=swirl,
        discharge_angle=np.arctan2(radial, swirl),
        eye_speed=axial,
        throat_speed=throat,
        throat_swirl=arriving,
        axial_thrust=thrust,
        radial_thrust=SIDEWAYS * np.abs(off) * np.abs(rise) * 2 * rim * height,
        ring_shear=ring_shear,
        losses={
            "gap": gap_power - flow * (total_rim - total_in),
            "eye": flow * (lost_eye + lost_entry),
            "edge": edges,
            "mouth": flow * (total_rim - total_ring) + edge_torque * speed - edges,
            "leakage": leak * (total_ring - pressure),
            "vaneless": delivered * lost_ring,
            "throat": delivered * lost_throat,
            "collector": delivered * lost_collector,
            "cone": delivered * lost_cone,
        },
    )


def _spun(density: Array, speed: Lanes, outer: Lanes, inner: Lanes) -> Lanes:
    """Fall of pressure from an outer to an inner radius of a side chamber [Pa]."""
    return np.asarray(density * (CORE * speed) ** 2 * (outer**2 - inner**2) / 2)


def _film(reynolds: Lanes) -> Lanes:
    """Friction factor of the fluid between two walls: laminar, or turbulent by Hirs."""
    number = np.maximum(reynolds, 1e-9)
    return np.maximum(12 / number, 0.066 * number**-0.25)


def _pipe(reynolds: Lanes) -> Lanes:
    """Friction factor (Fanning) of a smooth pipe: laminar, or turbulent by Blasius."""
    number = np.maximum(reynolds, 1e-9)
    return np.maximum(16 / number, 0.079 * number**-0.25)


def _leakage(at: PumpCircuit, rho: Lanes, viscosity: Lanes, *, drop: Lanes) -> tuple[Lanes, Lanes]:
    """Flow through the wear rings [m3/s] at a drop of pressure [Pa], and its stress there [Pa]."""
    clear = np.maximum(at.ring_clearance, 1e-12)
    viscous = 12 * viscosity * at.ring_length / clear**2
    steep = SLIT * rho / 2
    fall = np.maximum(drop, 0.0)
    speed = (np.sqrt(viscous**2 + 4 * steep * fall) - viscous) / (2 * steep)
    leak = at.ring_factor * at.suction_ends * 2 * np.pi * at.ring_radius * clear * speed
    turning = viscosity * at.angular_speed * at.ring_radius / clear
    return leak, np.hypot(6 * viscosity * speed / clear, turning)


def _vaneless(
    at: PumpCircuit, rho: Lanes, viscosity: Lanes, flow: Lanes, swirl: Lanes
) -> tuple[Lanes, Lanes]:
    """Total pressure lost between rim and collector [Pa], and the swirl behind it [m/s]."""
    step = at.rim_clearance / RINGS
    height, lost = at.height, 0.0 * swirl
    moment = at.rim_radius * swirl
    for place in range(RINGS):
        radius = at.rim_radius + (place + 0.5) * step
        radial = np.maximum(flow, 1e-12) / (2 * np.pi * radius * height)
        around = moment / radius
        fast = np.hypot(radial, around)
        rub = at.casing_factor * _film(rho * fast * height / viscosity)
        lost = lost + rub * rho * fast**3 / (height * radial) * step
        moment = moment / (1 + rub * fast / (height * radial) * step)
    # What friction takes is at most what the swirl had.
    return np.minimum(lost, rho * swirl**2 / 2), moment / (at.rim_radius + at.rim_clearance)
