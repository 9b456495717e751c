"""Flow through one gap, averaged across the gap: the fast level for the search.

The swirl equation of a gap is the energy equation of a heated plane duct with unit Prandtl number:
swirl relative to the discs stands for temperature, and what the turning frame adds stands for a
uniform heat source. So the published duct solutions, entry length included, carry over.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from engine.physics.arrays import Array, Lanes, ValidRange
from engine.physics.fluid import GapFluid
from engine.physics.gap_flow import GapFlow

STEPS = 48
CLUSTERING = 2.0
"""Steps crowd towards the rim, where profiles develop: ln(rim / radius) goes with this power."""
CHOKED_RADIAL_MACH = 0.95
UNRESOLVED = 0.15
"""Pressure by which the two passes of a step differ, over pressure: beyond, the step has jumped
across the point where the flow chokes."""

LAMINAR_BELOW, TURBULENT_ABOVE = 2300.0, 4000.0
"""Gap Reynolds number 2 b V_rel / nu: laminar below, turbulent above, blended between."""

# Modes of swirl between walls: decay per unit of viscous time nu t / b^2, and the share of a plug's
# swirl flux that each carries; the last stands for all higher ones. First where the radial flow
# is a plug: rates are (odd number times pi)^2 and shares 8 / rate. Then where it is a parabola:
# eigenvalues of Graetz's problem. The sum of share / rate is 1 / 12 and 1 / 8.235.
PLUG_RATES = np.array([9.8696, 88.826, 246.74, 1115.0])[:, None]
PLUG_SHARES = np.array([0.81057, 0.09006, 0.03242, 0.06695])[:, None]
PARABOLA_RATES = np.array([7.5407, 85.726, 249.26, 920.0])[:, None]
PARABOLA_SHARES = np.array([0.91035, 0.05314, 0.01528, 0.02123])[:, None]
ENTRY_SHARES = PARABOLA_SHARES + 0.4 * (PLUG_SHARES - PARABOLA_SHARES)
"""Of what comes in at the rim; the 0.4 is fitted to the gap-resolved equations."""
DEVELOPED_DEFECT = 0.674
"""Incremental pressure drop of the developed entry, in dynamic heads (Shah and London 1978)."""

# By how much moments of the developed laminar profiles exceed those of a plug: u parabolic, the
# relative swirl w either decaying (first eigenfunction) or driven (quartic), which differ by 1 %.
BULK_OVER_MEAN = 0.22
SQUARE_OVER_BULK = -0.165
FLUX_SQUARE_OVER_BULK = 0.09
RADIAL_SQUARE = 0.2
RADIAL_CUBE = 54 / 35 - 1
TURBULENT_FULLNESS = 0.1
"""A turbulent profile departs from a plug by about a tenth as much (momentum factor 1.02)."""

AVERAGED_RANGE = ValidRange(
    source="against the gap-resolved laminar equations, torque within 4 % up to 2, 19 % up to 4",
    bounds={
        "laminar_ekman_number": (0.0, 3.0),
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


def developing_friction(*, distance: Array) -> Lanes:
    """Pressure drop of a developing plane channel, laminar.

    Parameters
    ----------
    distance : Array
        Distance from the entry over (hydraulic diameter times Reynolds number) [-], >= 0.

    Returns
    -------
    Lanes
        Pressure drop over the mean dynamic head [-]; 0 at the entry.

    Notes
    -----
    4 f_app Re times the distance; friction and the growth of momentum flux together. Stated
    accuracy 2.4 %.

    References
    ----------
    Shah, J. Fluids Eng. 100, 1978, 177-179, parallel plates (from memory).

    Examples
    --------
    >>> round(float(developing_friction(distance=1.0)), 2)
    96.67

    """
    x = np.maximum(distance, 1e-12)
    root = 3.44 * np.sqrt(x)
    return np.asarray(4 * (root + (24 * x + 0.674 / 4 - root) / (1 + 2.9e-5 / x**2)))


def march(
    *,
    fluid: GapFluid,
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
    fluid : GapFluid
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
    Relative swirl is carried as four modes across the gap, fed by what comes in at the rim and by
    what the turning frame adds (2 Omega r per unit of radius), each decaying at its own rate; a
    step is exact in both. Pressure: centrifugal, Coriolis and radial acceleration terms, friction,
    with density changes along (p, h) solved in closed form (a factor 1 - M_r^2). Rothalpy is
    conserved as a mass-flux mean, so total enthalpy falls by Omega times the swirl flux exactly.
    Laminar and turbulent friction are blended smoothly in log Re between 2,300 and 4,000, where
    plane channels are intermittent; a jump would make the matching point non-unique.
    Turbulent friction makes all modes decay alike. The Coriolis coupling of the two velocity
    profiles is left out: see AVERAGED_RANGE for what that costs.

    References
    ----------
    Turbulent wall friction: Hirs, J. Lubr. Technol. 95, 1973, 137-146 (from memory). Laminar modes:
    Shah and London, Laminar Flow Forced Convection in Ducts, 1978, parallel plates, unit Prandtl
    number; pressure: `developing_friction`. The marching scheme is derived here.

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
    flux = flow / (2 * np.pi * gap)
    speed = flux / (rim * fluid.density(pressure=pressure, enthalpy=enthalpy))
    slip = swirl - omega * rim
    rothalpy = enthalpy + (speed**2 + slip**2 - (omega * rim) ** 2) / 2
    channel = _Channel(fluid=fluid, flux=flux, gap=gap, omega=omega, rothalpy=rothalpy)
    radii = rim * (bore / rim) ** ((np.arange(steps + 1)[:, None] / steps) ** CLUSTERING)
    state = _State(
        pressure=pressure,
        modes=ENTRY_SHARES * (rim * slip),
        distance=np.zeros_like(slip),
    )
    here = channel.at(radii[0], state, speed)
    reynolds, mach, turbulent = here.reynolds, here.mach, np.zeros_like(slip)
    choked = np.zeros(slip.shape, dtype=np.bool_)
    for r, r_next in pairwise(radii):
        guess = channel.step(r, r_next, state, here, here)
        there = channel.at(r_next, guess, here.speed)
        state = channel.step(r, r_next, state, here, there)
        turbulent = turbulent + (here.turbulence + there.turbulence) / 2 * (r - r_next)
        here = there
        jump = np.abs(state.pressure - guess.pressure)
        choked |= ~(here.radial_mach < CHOKED_RADIAL_MACH) | ~(jump < UNRESOLVED * state.pressure)
        reynolds, mach = np.fmax(reynolds, here.reynolds), np.fmax(mach, here.mach)
    last = channel.at(radii[-1], state, here.speed)
    bad = np.where(choked, np.nan, 0.0)
    fall = rim * swirl - bore * last.swirl
    return GapFlow(
        exit_pressure=state.pressure + bad,
        exit_enthalpy=last.enthalpy + bad,
        exit_swirl=last.swirl + bad,
        exit_total_enthalpy=enthalpy + (speed**2 + swirl**2) / 2 - omega * fall + bad,
        torque=flow * fall + bad,
        wall_torque=flow * fall + bad,
        largest_reynolds=reynolds + bad,
        largest_mach=mach + bad,
        turbulent_share=turbulent / (rim - bore) + bad,
        backflow_share=np.full(slip.shape, np.nan),
        wall_backflow_share=np.full(slip.shape, np.nan),
        choked=choked,
        settled=~choked,
    )


@dataclass(frozen=True)
class _State:
    """What is carried inward, by lane."""

    pressure: Lanes
    modes: Lanes  # r times relative swirl by mode (mode, lane) [m2/s]
    distance: Lanes  # development length, see developing_friction

    @property
    def moment(self) -> Lanes:
        """Radius times bulk relative swirl [m2/s]."""
        return np.asarray(self.modes.sum(axis=0))


@dataclass(frozen=True)
class _Local:
    """Everything at one radius that the step needs."""

    swirl: Lanes  # absolute, bulk
    enthalpy: Lanes
    density: Lanes
    speed: Lanes  # radial, inward
    viscosity: Lanes
    developed: Lanes  # laminar profile: 0 plug, 1 parabola
    turbulence: Lanes  # weight of the turbulent laws, 0 to 1
    turbulent_rate: Lanes  # decay of r w per length by turbulent friction
    slope: Lanes  # pressure slope without laminar friction
    stretch: Lanes  # by how much compressibility raises a friction slope
    radial_mach: Lanes
    mach: Lanes
    reynolds: Lanes


@dataclass(frozen=True)
class _Channel:
    """One gap: its constants, the local balance, and one step inward."""

    fluid: GapFluid
    flux: Lanes  # radius times radial mass flux [kg/(m s)]
    gap: Lanes
    omega: Lanes
    rothalpy: Lanes

    def at(self, r: Lanes, state: _State, speed: Lanes) -> _Local:
        """Local balance; `speed` is the radial speed nearby, for the density."""
        w = state.moment / r
        defect = developing_friction(distance=state.distance) - 96 * state.distance
        developed = np.clip(defect / DEVELOPED_DEFECT, 0.0, 1.0)
        enthalpy = self._enthalpy(r, state.pressure, w, speed, developed)
        gas = self.fluid.state(pressure=state.pressure, enthalpy=enthalpy)
        density, viscosity = gas.density, gas.viscosity
        speed = self.flux / (r * density)
        relative = np.sqrt(w**2 + speed**2)
        reynolds = np.maximum(2 * self.gap * density * relative / viscosity, 1e-6)
        turbulence = _turbulence(reynolds)
        wall = 0.033 * density * relative * (reynolds / 2) ** -0.25
        full = developed * (1 - turbulence) + TURBULENT_FULLNESS * turbulence
        spin = self.omega * r
        square = spin**2 + 2 * spin * w / (1 + BULK_OVER_MEAN * full)
        square = square + (1 + SQUARE_OVER_BULK * full) * w**2
        momentum = 1 + RADIAL_SQUARE * full
        slope = density * (square + momentum * speed**2) / r
        slope = slope + 2 * turbulence * wall * speed / self.gap
        radial_mach = np.sqrt(momentum) * speed / gas.sound_speed
        gain = momentum * speed**2 / (1 - np.minimum(radial_mach, CHOKED_RADIAL_MACH) ** 2)
        heating = spin * self.omega + (speed**2 + w**2) / r
        return _Local(
            swirl=w + spin,
            enthalpy=enthalpy,
            density=density,
            speed=speed,
            viscosity=viscosity,
            developed=developed,
            turbulence=turbulence,
            turbulent_rate=2 * r * wall / (self.gap * self.flux),
            slope=slope * (1 + gain * gas.by_pressure) + gain * gas.by_enthalpy * heating,
            stretch=1 + gain * gas.by_pressure,
            radial_mach=radial_mach,
            mach=relative / gas.sound_speed,
            reynolds=reynolds,
        )

    def step(self, r: Lanes, r_next: Lanes, state: _State, here: _Local, there: _Local) -> _State:
        """One step inward with the mean of two local balances."""
        length = r - r_next
        viscosity = (here.viscosity + there.viscosity) / 2
        ahead = viscosity * (r**2 - r_next**2) / (8 * self.gap**2 * self.flux)
        distance = state.distance + ahead
        turbulence = (here.turbulence + there.turbulence) / 2
        rough = (
            here.turbulence * here.turbulent_rate + there.turbulence * there.turbulent_rate
        ) / 2
        developed = (here.developed + there.developed) / 2
        rates = PLUG_RATES + (PARABOLA_RATES - PLUG_RATES) * developed
        shares = PLUG_SHARES + (PARABOLA_SHARES - PLUG_SHARES) * developed
        drag = (1 - turbulence) * 4 * ahead * rates + rough * length
        kept = np.exp(-drag)
        # The mean of the decay over the step, exact for a source that is even along it.
        spread = np.where(drag > 1e-6, (1 - kept) / np.maximum(drag, 1e-6), 1 - drag / 2)
        gained = shares * self.omega * (r**2 - r_next**2)
        friction = developing_friction(distance=distance)
        friction = friction - developing_friction(distance=state.distance)
        head = (
            here.density * here.speed**2 * here.stretch
            + there.density * there.speed**2 * there.stretch
        ) / 4
        slope = (here.slope + there.slope) / 2
        return _State(
            pressure=state.pressure - slope * length - (1 - turbulence) * head * friction,
            modes=state.modes * kept + gained * spread,
            distance=distance,
        )

    def _enthalpy(
        self, r: Lanes, pressure: Lanes, w: Lanes, speed: Lanes, developed: Lanes
    ) -> Lanes:
        """Take static enthalpy from rothalpy; `speed` is the radial speed nearby."""
        fixed = self.rothalpy + ((self.omega * r) ** 2) / 2
        fixed = fixed - (1 + FLUX_SQUARE_OVER_BULK * developed) * w**2 / 2
        cube = (1 + RADIAL_CUBE * developed) / 2
        # One repetition: the radial head is a small part of the enthalpy below the choking flag.
        density = self.fluid.density(pressure=pressure, enthalpy=fixed - cube * speed**2)
        speed = self.flux / (r * density)
        return np.asarray(fixed - cube * speed**2)


def _turbulence(reynolds: Lanes) -> Lanes:
    x = np.log(np.maximum(reynolds, 1.0) / LAMINAR_BELOW) / np.log(TURBULENT_ABOVE / LAMINAR_BELOW)
    x = np.clip(x, 0.0, 1.0)
    return np.asarray(x**2 * (3 - 2 * x))
