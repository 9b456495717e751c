"""Flow through one gap, averaged across the gap: the fast level for the search.

Profiles of inflow and swirl are three modes each (`gap_modes`), whose moments enter the balances
along the radius: pressure by what the inflow gains in energy and loses by friction, enthalpy by
rothalpy, torque by angular momentum.
"""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask, ValidRange
from engine.physics.fluid_kernel import Fluid
from engine.physics.gap_flow import GapFlow
from engine.physics.gap_modes import (
    Forces,
    Moments,
    Stencil,
    entry,
    first_order,
    implicit_step,
    second_order,
)
from engine.physics.gap_turbulence import turbulent_weight

STEPS = 48
CHOKED_RADIAL_MACH = 0.95
UNRESOLVED = 0.15
"""Pressure by which the two passes of a step differ, over pressure: beyond, the step has jumped
across the point where the flow chokes."""


@dataclass(frozen=True)
class Turbulence:
    """What stands for turbulence, fitted once to the gap-resolved level (tests/bench)."""

    shear: float = 0.033
    """On swirl, over density, relative speed and swirl, at a Reynolds number V b / nu of 1; it
    falls with its fourth root. Not fitted: Hirs 1973."""
    inflow_shear: float = 0.0301
    """The same on the inflow, to which the kept share of the laminar friction adds; together they
    are Dean's friction."""
    mixing: float = 8.7
    """Decay of the shape of a profile over decay of its mean by wall shear."""
    kept_viscosity: float = 0.107
    """Share of the laminar diffusion left in turbulent flow."""
    kept_friction: float = 0.376
    """Share of the laminar friction on the inflow left in turbulent flow."""


TURBULENCE = Turbulence()

AVERAGED_RANGE = ValidRange(
    source="against the gap-resolved level: up to 6 torque and pressure drop within 1.2 % where "
    "nothing flows back (within 3 % up to Re* 50), torque within 4 % where it does",
    bounds={
        "laminar_ekman_number": (0.0, 6.0),
        "gap_reynolds": (0.0, 1e5),
        "backflow_share": (0.0, 0.0),
    },
)
"""`laminar_ekman_number`: gap times root of angular speed over kinematic viscosity, times the
laminar share of the radius; turbulence evens the profiles out. Backflow: see the other level."""
FRICTION_RANGE = ValidRange(
    source="laws of incompressible flow; a plate's friction is 8 % less at Mach 1 (from memory)",
    bounds={"gap_mach": (0.0, 1.0)},
)
"""Wall friction of both levels."""


def march(
    *,
    fluid: Fluid,
    rim_pressure: Array,
    rim_enthalpy: Array,
    rim_swirl: Array,
    mass_flow: Array,
    gap: Array,
    rim_radius: Array,
    bore_radius: Array,
    angular_speed: Array,
    steps: int = STEPS,
) -> GapFlow:
    """March the flow through one gap from rim to bore.

    All arguments but the fluid and the step count broadcast to one lane axis.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    rim_pressure, rim_enthalpy : Array
        Static pressure [Pa] and enthalpy [J/kg] just inside the gap.
    rim_swirl : Array
        Circumferential speed at entry, uniform across the gap [m/s].
    mass_flow : Array
        Inward flow through one gap [kg/s], above 0.
    gap, rim_radius, bore_radius : Array
        Wall distance [m] and radii [m], 0 < bore_radius < rim_radius.
    angular_speed : Array
        Speed of the discs [rad/s], >= 0.
    steps : int
        Radial steps [-]; the error falls with their square.

    Returns
    -------
    GapFlow
        Exit state and torque; NaN, with `choked` set, where the radial flow reaches a Mach number
        of 0.95 or the pressure is used up. Backflow cannot be seen at this level and is NaN.

    Notes
    -----
    Profiles: three modes each of inflow and relative swirl, coupled by the Coriolis force, with
    implicit steps (`gap_modes`). Pressure: the radial equation weighted by the inflow itself, so
    that drift falls out: centrifugal and Coriolis force, growth of the mean cubed inflow, viscous
    dissipation, with density changes along (p, h) solved in closed form (a factor 1 - M_r^2).
    Rothalpy is conserved as a mass-flux mean, so total enthalpy falls by Omega times the swirl
    flux exactly. Laminar and turbulent friction are blended smoothly in log Re between 2,300 and
    4,000, where plane channels are intermittent; a jump would make the matching point non-unique.

    Against the gap-resolved level, laminar, with E = gap times root(Omega / nu), Re* = rho U0 b^2 /
    (mu ro), relative inlet swirl 0 to 3, bore 0.3 to 0.6 of the rim, the largest error of torque
    and of pressure drop: without backflow E to 6 and Re* to 5 0.6 and 0.9 %, Re* to 50 3 and 3 %;
    E to 12 and Re* to 20 2 and 3 %, at Re* 50 26 and 22 %. With backflow E to 6 and Re* to 10 3 and
    8 %, E to 12 28 and 51 %. Shop air turbulent at the rim: 95 % of lanes within 0.5 and 1.5 %, in
    gaps up to 1 mm within 1.3 and 1.5 %. The first 2 % of the radius lose up to a fifth too little
    pressure: three modes have no layers as thin as there.

    References
    ----------
    Turbulent wall friction: Hirs, J. Lubr. Technol. 95, 1973, 137-146; Dean, J. Fluids Eng. 100,
    1978, 215-223 (both from memory). Backward differences of second order: Gear 1971, Numerical
    Initial Value Problems, table 11.1 (from memory). The rest is derived here.

    """
    lanes = np.broadcast_arrays(
        rim_pressure,
        rim_enthalpy,
        rim_swirl,
        mass_flow,
        gap,
        rim_radius,
        bore_radius,
        angular_speed,
    )
    pressure, enthalpy, swirl, flow, gap, rim, bore, omega = (
        np.asarray(lane, dtype=float) for lane in lanes
    )
    with np.errstate(all="ignore"):
        speed = flow / (2 * np.pi * gap * rim * fluid.density(pressure=pressure, enthalpy=enthalpy))
        slip = swirl - omega * rim
        channel = _Channel(
            fluid=fluid,
            flux=flow / (2 * np.pi * gap),
            gap=gap,
            rim=rim,
            omega=omega,
            rothalpy=enthalpy + (speed**2 + slip**2 - (omega * rim) ** 2) / 2,
        )
        end, record = _follow(
            channel=channel, pressure=pressure, slip=slip, speed=speed, bore=bore, steps=steps
        )
        exit_swirl = end.moments.moment / bore + omega * bore
        bad = np.where(record.choked, np.nan, 0.0)
        fall = rim * swirl - bore * exit_swirl
        exit_enthalpy = channel.enthalpy(bore, end.pressure, end.moments, record.speed)
        return GapFlow(
            exit_pressure=end.pressure + bad,
            exit_enthalpy=exit_enthalpy + bad,
            exit_swirl=exit_swirl + bad,
            exit_total_enthalpy=enthalpy + (speed**2 + swirl**2) / 2 - omega * fall + bad,
            torque=flow * fall + bad,
            wall_torque=flow * fall + bad,
            largest_reynolds=record.reynolds + bad,
            largest_mach=record.mach + bad,
            turbulent_share=record.turbulent / (rim - bore) + bad,
            backflow_share=np.full(slip.shape, np.nan),
            wall_backflow_share=np.full(slip.shape, np.nan),
            choked=record.choked,
            settled=~record.choked,
        )


@dataclass(frozen=True)
class _Flow:
    """What is carried inward, by lane."""

    pressure: Lanes
    inflow: Lanes  # modes (mode, lane)
    swirl: Lanes  # modes of radius times relative swirl (mode, lane) [m2/s]
    moments: Moments


@dataclass(frozen=True)
class _Record:
    """What is noted on the way."""

    speed: Lanes  # radial, at the end
    choked: Mask
    reynolds: Lanes  # largest
    mach: Lanes  # largest
    turbulent: Lanes  # length that is turbulent


@dataclass(frozen=True)
class _Local:
    """State of the fluid and its turbulence at one radius."""

    radius: Lanes
    density: Lanes
    by_pressure: Lanes
    by_enthalpy: Lanes
    viscosity: Lanes
    speed: Lanes  # radial, inward
    radial_mach: Lanes
    mach: Lanes
    reynolds: Lanes
    turbulence: Lanes  # weight of the turbulent laws, 0 to 1
    wall: Lanes  # mass flux that stands for wall shear: turbulent shear per constant and speed


@dataclass(frozen=True)
class _Slope:
    """Fall of pressure inward."""

    along: Lanes  # per length, profiles unchanged
    head: Lanes  # per change of the mean cubed inflow


def _follow(
    *, channel: "_Channel", pressure: Lanes, slip: Lanes, speed: Lanes, bore: Lanes, steps: int
) -> tuple[_Flow, _Record]:
    """March inward; steps are even in the root of ln(rim / radius), short where layers begin."""
    rim = channel.rim
    inflow, swirl = entry(moment=rim * slip)
    moments = Moments.of(inflow, swirl)
    here = channel.at(rim, pressure, slip, moments, speed)
    # The plug becomes the flattest profile that the modes allow.
    pressure = pressure - here.density * speed**2 * (moments.cube - 1) / 2
    flow = before = _Flow(pressure, inflow, swirl, moments)
    reynolds, mach, turbulent = here.reynolds, here.mach, np.zeros_like(slip)
    choked = np.zeros(slip.shape, dtype=np.bool_)
    decline = np.log(rim / bore)
    for k in range(1, steps + 1):
        place = k / steps
        r = rim * np.exp(-decline * place**2)
        length = here.radius - r
        if k == 1:
            # The first step leaves a singular point and takes its true length, not that of the map.
            rate = 2 / (here.radius**2 - r**2)
            stencil = first_order(rate=rate, last=(flow.inflow, flow.swirl))
        else:
            stencil = second_order(
                weight=steps / (2 * decline * place * r**2),
                last=(flow.inflow, flow.swirl),
                before=(before.inflow, before.swirl),
            )
        expected = flow.moments.ahead(before.moments)
        there, after, jump = channel.step(here, flow, expected, stencil, r)
        turbulent = turbulent + (here.turbulence + there.turbulence) / 2 * length
        here, flow, before = there, after, flow
        choked |= ~(here.radial_mach < CHOKED_RADIAL_MACH) | ~(jump < UNRESOLVED * flow.pressure)
        reynolds, mach = np.fmax(reynolds, here.reynolds), np.fmax(mach, here.mach)
    return flow, _Record(here.speed, choked, reynolds, mach, turbulent)


@dataclass(frozen=True)
class _Channel:
    """One gap: its constants, the local balances and one step inward."""

    fluid: Fluid
    flux: Lanes  # radius times radial mass flux [kg/(m s)]
    gap: Lanes
    rim: Lanes
    omega: Lanes
    rothalpy: Lanes

    def step(
        self, here: _Local, flow: _Flow, expected: Moments, stencil: Stencil, r: Lanes
    ) -> tuple[_Local, _Flow, Lanes]:
        """One step inward, and how far the pressures of its two passes are apart."""
        length = here.radius - r
        slope = self.slope(here, flow.moments)
        guess = flow.pressure - slope.along * length
        there = self.at(r, guess, stencil.swirl[0] / r, expected, here.speed)
        growth = (there.density - here.density) / length
        inflow, swirl = implicit_step(forces=self.forces(there, growth), stencil=stencil)
        moments = Moments.of(inflow, swirl)
        onward = self.slope(there, moments)
        fall = (slope.along + onward.along) / 2 * length
        fall = fall + (slope.head + onward.head) / 2 * (moments.cube - flow.moments.cube)
        pressure = flow.pressure - fall
        return there, _Flow(pressure, inflow, swirl, moments), np.abs(pressure - guess)

    def at(self, r: Lanes, pressure: Lanes, slip: Lanes, moments: Moments, speed: Lanes) -> _Local:
        """Local state; `slip` is the mean relative swirl, `speed` the radial speed nearby."""
        enthalpy = self.enthalpy(r, pressure, moments, speed)
        gas = self.fluid.state(pressure=pressure, enthalpy=enthalpy)
        speed = self.flux / (r * gas.density)
        relative = np.sqrt(slip**2 + speed**2)
        reynolds = np.maximum(2 * self.gap * gas.density * relative / gas.viscosity, 1e-6)
        turbulence, _ = turbulent_weight(reynolds=reynolds)
        wall = gas.density * relative / np.sqrt(np.sqrt(reynolds / 2))
        return _Local(
            radius=r,
            density=gas.density,
            by_pressure=gas.by_pressure,
            by_enthalpy=gas.by_enthalpy,
            viscosity=gas.viscosity,
            speed=speed,
            radial_mach=np.sqrt(moments.cube) * speed / gas.sound_speed,
            mach=relative / gas.sound_speed,
            reynolds=reynolds,
            turbulence=turbulence,
            wall=turbulence * wall,
        )

    def forces(self, here: _Local, growth: Lanes) -> Forces:
        """Collect what acts on the profiles; `growth` is that of density, per length inward."""
        r, rules = here.radius, TURBULENCE
        laminar = 1 - (1 - rules.kept_viscosity) * here.turbulence
        drag = 2 * rules.shear * here.wall / (self.gap * self.flux)
        return Forces(
            viscous=laminar * 4 * here.viscosity / (self.gap**2 * self.flux),
            drag=drag,
            mixing=rules.mixing * drag,
            widening=1 / r**2 - growth / (r * here.density),
            turning=2 * self.omega,
            lift=(here.density / self.flux) ** 2,
            radius=r,
        )

    def slope(self, here: _Local, moments: Moments) -> _Slope:
        """Fall of pressure, with what it does to density and so to the speed."""
        r, speed, rules = here.radius, here.speed, TURBULENCE
        spin, radial = self.omega * r, moments.cube * speed**2
        square = moments.square / r**2
        push = spin**2 + 2 * self.omega * moments.moment + square + radial
        laminar = 1 - (1 - rules.kept_friction) * here.turbulence
        friction = laminar * 4 * here.viscosity / self.gap * moments.dissipation
        friction = (friction + 2 * rules.inflow_shear * here.wall) * speed / self.gap
        gain = radial / (1 - np.minimum(here.radial_mach, CHOKED_RADIAL_MACH) ** 2)
        stretch = 1 + gain * here.by_pressure
        heating = spin * self.omega + (radial + square) / r
        held = here.density * push / r + friction
        return _Slope(
            along=held * stretch + gain * here.by_enthalpy * heating,
            head=here.density * speed**2 / 2 * stretch,
        )

    def enthalpy(self, r: Lanes, pressure: Lanes, moments: Moments, speed: Lanes) -> Lanes:
        """Take static enthalpy from rothalpy; `speed` is the radial speed nearby."""
        fixed = self.rothalpy + ((self.omega * r) ** 2 - moments.square / r**2) / 2
        cube = moments.cube / 2
        # One repetition: the radial head is a small part of the enthalpy below the choking flag.
        density = self.fluid.density(pressure=pressure, enthalpy=fixed - cube * speed**2)
        speed = self.flux / (r * density)
        return np.asarray(fixed - cube * speed**2)
