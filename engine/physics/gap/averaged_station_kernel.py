"""The flow at one radius of the averaged march: its state, forces, and fall of pressure.

Symbols are those of `averaged_kernel`. `way` is 1 in an inward march and -1 in an outward one.
"""

from typing import NamedTuple

from engine.physics.compiled import inlined, root
from engine.physics.gap.modes_kernel import Forces, Moments
from engine.physics.gap.turbulence_kernel import Turbulence, turbulent_weight

CHOKED_RADIAL_MACH = 0.95
"""Radial Mach number above which the gap counts as choked."""


class Channel(NamedTuple):
    """One gap."""

    flux: float  # radius times radial mass flux [kg/(m s)]
    gap: float  # [m]
    shallow: float  # 1 / gap
    per_flux: float  # 1 / flux
    omega: float  # angular speed of the discs [rad/s]
    rothalpy: float  # [J/kg]
    sooner: float  # 1 / transition factor


class Local(NamedTuple):
    """State of the fluid and its turbulence at one radius, SI."""

    radius: float
    curve: float  # 1 / radius
    density: float
    volume: float  # 1 / density
    by_pressure: float
    by_enthalpy: float
    viscosity: float
    speed: float  # radial, inward
    radial_mach: float
    mach: float
    reynolds: float
    turbulence: float  # weight of the turbulent laws, 0 to 1
    wall: float  # turbulent wall shear over its constant and speed: weight rho V Re_b^-1/4


@inlined
def fixed_enthalpy(channel: Channel, r: float, curve: float, square: float) -> float:
    """Enthalpy by conserved rothalpy, without the radial head."""
    turned = channel.omega * r
    return channel.rothalpy + (turned * turned - square * curve * curve) / 2


@inlined
def local_at(
    channel: Channel,
    r: float,
    curve: float,
    slip: float,
    cube: float,
    state: tuple[float, float, float, float, float],
) -> Local:
    """Collect the local state; `slip` is the mean relative swirl."""
    # Speed inward and relative to the discs, Reynolds number, weight of turbulence.
    density, by_pressure, by_enthalpy, viscosity, sound = state
    volume, per_sound = 1 / density, 1 / sound
    speed = channel.flux * curve * volume
    relative = root(slip * slip + speed * speed)
    reynolds = max(2 * channel.gap * density * relative / viscosity, 1e-6)
    turbulence = turbulent_weight(reynolds * channel.sooner)
    return Local(
        r,
        curve,
        density,
        volume,
        by_pressure,
        by_enthalpy,
        viscosity,
        speed,
        root(cube) * speed * per_sound,
        relative * per_sound,
        reynolds,
        turbulence,
        turbulence * density * relative / root(root(reynolds / 2)),
    )


@inlined
def forces_at(
    rules: Turbulence, way: float, channel: Channel, here: Local, growth: float, lead: float
) -> Forces:
    """Collect the forces on the profiles; `growth` is that of density, per length of the march."""
    laminar = 1 - (1 - rules.kept_viscosity) * here.turbulence
    per_width = channel.shallow * channel.per_flux
    drag = 2 * rules.shear * here.wall * per_width
    inverse = here.density * channel.per_flux
    return Forces(
        laminar * 4 * here.viscosity * channel.shallow * per_width,
        drag,
        rules.mixing * drag,
        here.curve * (way * here.curve - growth * here.volume),
        2 * channel.omega,
        inverse * inverse,
        way * inverse * inverse * here.curve * here.curve,
        lead,
    )


@inlined
def slope_at(
    rules: Turbulence, way: float, channel: Channel, here: Local, m: Moments
) -> tuple[float, float]:
    """Fall of pressure along the march, per length [Pa/m] and change of the mean cubed flow [Pa].

    Includes the effect of the fall on density and speed, in closed form.
    """
    # Radial momentum: rotation, inflow, friction.
    speed, spin, curve = here.speed, channel.omega * here.radius, here.curve
    radial, square = m.cube * speed * speed, m.square * curve * curve
    push = spin * spin + way * 2 * channel.omega * m.moment + square + radial
    laminar = 1 - (1 - rules.kept_friction) * here.turbulence
    friction = laminar * 4 * here.viscosity * channel.shallow * m.dissipation
    friction = (friction + 2 * rules.inflow_shear * here.wall) * speed * channel.shallow
    # Factor 1 / (1 - M_r^2) of compressible flow.
    mach = min(here.radial_mach, CHOKED_RADIAL_MACH)
    gain = radial / (1 - mach * mach)
    stretch = 1 + gain * here.by_pressure
    heating = way * (spin * channel.omega + (radial + square) * curve)
    held = way * here.density * push * curve + friction
    along = held * stretch + gain * here.by_enthalpy * heating
    return along, here.density * speed * speed / 2 * stretch
