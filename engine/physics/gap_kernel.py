"""The march through one gap, one lane at a time in compiled code; `gap.march` says what it does."""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluid import FluidRecord
from engine.physics.fluid_kernel import fluid_density, fluid_state
from engine.physics.gap_modes import FLATNESS
from engine.physics.profile_kernel import Forces, Modes, Moments, implicit_step, moments_of
from engine.physics.turbulence_kernel import weight_and_slope

CHOKED_RADIAL_MACH = 0.95
UNRESOLVED = 0.15
"""Pressure by which the two passes of a step differ, over pressure: beyond, the step has jumped
across the point where the flow chokes."""


class Turbulence(NamedTuple):
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


class GapExit(NamedTuple):
    """End of the march; NaN where it chokes."""

    pressure: float  # [Pa]
    enthalpy: float  # static [J/kg]
    swirl: float  # circumferential, in the laboratory frame [m/s]
    reynolds: float  # largest
    mach: float  # largest
    turbulent_share: float
    choked: bool


class _Channel(NamedTuple):
    """One gap."""

    flux: float  # radius times radial mass flux [kg/(m s)]
    gap: float
    shallow: float  # 1 / gap
    per_flux: float  # 1 / flux
    omega: float
    rothalpy: float


class _Local(NamedTuple):
    """State of the fluid and its turbulence at one radius."""

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
    wall: float  # mass flux that stands for wall shear: turbulent shear per constant and speed


@compiled
def _enthalpy(
    record: FluidRecord,
    channel: _Channel,
    r: float,
    curve: float,
    pressure: float,
    square: float,
    cube: float,
    speed: float,
) -> float:
    """Enthalpy by rothalpy; `speed` is the radial speed nearby."""
    turned, half = channel.omega * r, cube / 2
    fixed = channel.rothalpy + (turned * turned - square * curve * curve) / 2
    # One repetition: the radial head is a small part of the enthalpy below the choking flag.
    density = fluid_density(record, pressure, fixed - half * speed * speed)
    speed = channel.flux * curve / density
    return fixed - half * speed * speed


@compiled
def _local(
    record: FluidRecord,
    channel: _Channel,
    r: float,
    curve: float,
    pressure: float,
    slip: float,
    square: float,
    cube: float,
    speed: float,
) -> _Local:
    """Local state; `slip` is the mean relative swirl, `speed` the radial speed nearby."""
    enthalpy = _enthalpy(record, channel, r, curve, pressure, square, cube, speed)
    density, by_pressure, by_enthalpy, viscosity, sound = fluid_state(record, pressure, enthalpy)
    volume, per_sound = 1 / density, 1 / sound
    speed = channel.flux * curve * volume
    relative = math.sqrt(slip * slip + speed * speed)
    reynolds = max(2 * channel.gap * density * relative / viscosity, 1e-6)
    turbulence, wall = weight_and_slope(reynolds)[0], 0.0
    if turbulence > 0:
        wall = turbulence * density * relative / math.sqrt(math.sqrt(reynolds / 2))
    return _Local(
        r,
        curve,
        density,
        volume,
        by_pressure,
        by_enthalpy,
        viscosity,
        speed,
        math.sqrt(cube) * speed * per_sound,
        relative * per_sound,
        reynolds,
        turbulence,
        wall,
    )


@compiled
def _forces(rules: Turbulence, channel: _Channel, here: _Local, growth: float) -> Forces:
    """Collect what acts on the profiles; `growth` is that of density, per length inward."""
    laminar = 1 - (1 - rules.kept_viscosity) * here.turbulence
    per_width = channel.shallow * channel.per_flux
    drag = 2 * rules.shear * here.wall * per_width
    inverse = here.density * channel.per_flux
    return Forces(
        laminar * 4 * here.viscosity * channel.shallow * per_width,
        drag,
        rules.mixing * drag,
        here.curve * (here.curve - growth * here.volume),
        2 * channel.omega,
        inverse * inverse,
        here.curve,
    )


@compiled
def _slope(rules: Turbulence, channel: _Channel, here: _Local, m: Moments) -> tuple[float, float]:
    """Fall of pressure inward per length and per change of the mean cubed inflow.

    With what the fall does to density and so to the speed.
    """
    speed, spin, curve = here.speed, channel.omega * here.radius, here.curve
    radial, square = m.cube * speed * speed, m.square * curve * curve
    push = spin * spin + 2 * channel.omega * m.moment + square + radial
    laminar = 1 - (1 - rules.kept_friction) * here.turbulence
    friction = laminar * 4 * here.viscosity * channel.shallow * m.dissipation
    friction = (friction + 2 * rules.inflow_shear * here.wall) * speed * channel.shallow
    mach = min(here.radial_mach, CHOKED_RADIAL_MACH)
    gain = radial / (1 - mach * mach)
    stretch = 1 + gain * here.by_pressure
    heating = spin * channel.omega + (radial + square) * curve
    held = here.density * push * curve + friction
    along = held * stretch + gain * here.by_enthalpy * heating
    return along, here.density * speed * speed / 2 * stretch


@compiled
def _ahead(now: float, last: float) -> float:
    """Value one step on if it changes as it did, at most twofold."""
    return min(max(2 * now - last, now / 2), 2 * now)


@compiled
def _stencil(
    k: int, weight: float, r: float, length: float, last: Modes, before: Modes
) -> tuple[float, Modes, Modes]:
    """Rate, what is carried, and the expected modes, of a backward difference at step k.

    Over two steps of a variable in which they are even (Gear 1971, Numerical Initial Value
    Problems, table 11.1, from memory); `weight` is 1 over the length of the step by the slope of
    eta at its end. The first step leaves a singular point and takes its true length, not that.
    """
    if k == 1:
        rate = 1 / (length * (r + length / 2))
        carried = Modes(
            rate * last.a1, rate * last.a2, rate * last.b0, rate * last.b1, rate * last.b2
        )
        return rate, carried, last
    carried = Modes(
        weight * (2 * last.a1 - 0.5 * before.a1),
        weight * (2 * last.a2 - 0.5 * before.a2),
        weight * (2 * last.b0 - 0.5 * before.b0),
        weight * (2 * last.b1 - 0.5 * before.b1),
        weight * (2 * last.b2 - 0.5 * before.b2),
    )
    expected = Modes(
        2 * last.a1 - before.a1,
        2 * last.a2 - before.a2,
        2 * last.b0 - before.b0,
        2 * last.b1 - before.b1,
        2 * last.b2 - before.b2,
    )
    return 1.5 * weight, carried, expected


@compiled
def march_gap(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    pressure: float,
    enthalpy: float,
    swirl: float,
    mass_flow: float,
    gap: float,
    rim: float,
    bore: float,
    omega: float,
) -> GapExit:
    """March from rim to bore in steps even in the root of ln(rim / radius)."""
    flux = mass_flow / (2 * math.pi * gap)
    speed = flux / (rim * fluid_density(record, pressure, enthalpy))
    slip, turned = swirl - omega * rim, omega * rim
    rothalpy = enthalpy + (speed * speed + slip * slip - turned * turned) / 2
    channel = _Channel(flux, gap, 1 / gap, 1 / flux, omega, rothalpy)
    modes = before = Modes(0.0, 0.0, rim * slip / FLATNESS, 0.0, 0.0)
    m = last = moments_of(modes)
    r, curve = rim, 1 / rim
    here = _local(record, channel, r, curve, pressure, slip, m.square, m.cube, speed)
    # The plug becomes the flattest profile that the modes allow.
    pressure -= here.density * speed * speed * (m.cube - 1) / 2
    along, head = _slope(rules, channel, here, m)
    reynolds, mach, turbulent, decline = here.reynolds, here.mach, 0.0, math.log(rim / bore)
    fraction, widest = decline / steps**2, steps * steps / (2 * decline)
    shrinking, faster = math.exp(-fraction), math.exp(-2 * fraction)
    growing, slower = 1 / shrinking, 1 / faster
    for k in range(1, steps + 1):
        length, r, curve = r - r * shrinking, r * shrinking, curve * growing
        shrinking, growing = shrinking * faster, growing * slower
        weight = widest / k * curve * curve
        rate, carried, expected = _stencil(k, weight, r, length, modes, before)
        guess = pressure - along * length
        there = _local(
            record,
            channel,
            r,
            curve,
            guess,
            expected.b0 * curve,
            _ahead(m.square, last.square),
            _ahead(m.cube, last.cube),
            here.speed,
        )
        forces = _forces(rules, channel, there, (there.density - here.density) / length)
        before, modes = modes, implicit_step(forces, rate, carried, expected)
        last, m = m, moments_of(modes)
        onward, ahead = _slope(rules, channel, there, m)
        fall = (along + onward) / 2 * length + (head + ahead) / 2 * (m.cube - last.cube)
        turbulent += (here.turbulence + there.turbulence) / 2 * length
        here, along, head = there, onward, ahead
        pressure -= fall
        resolved = abs(pressure - guess) < UNRESOLVED * pressure
        if not (here.radial_mach < CHOKED_RADIAL_MACH and resolved):
            nan = math.nan
            return GapExit(nan, nan, nan, nan, nan, nan, True)
        reynolds, mach = max(reynolds, here.reynolds), max(mach, here.mach)
    enthalpy = _enthalpy(record, channel, bore, 1 / bore, pressure, m.square, m.cube, here.speed)
    leaving = m.moment / bore + omega * bore
    return GapExit(pressure, enthalpy, leaving, reynolds, mach, turbulent / (rim - bore), False)


@compiled
def write_exit(found: Lanes, row: int, i: int, end: GapExit) -> None:
    """Fill in the rows of an end of the march, from `row` on."""
    found[row, i], found[row + 1, i], found[row + 2, i] = end.pressure, end.enthalpy, end.swirl
    found[row + 3, i], found[row + 4, i] = end.reynolds, end.mach
    found[row + 5, i], found[row + 6, i] = end.turbulent_share, 1.0 if end.choked else 0.0
