"""The march through gaps in compiled code, a pack at a time; `gap.march` says what it does."""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root, table
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_densities, fluid_states
from engine.physics.gap.modes import FLATNESS
from engine.physics.gap.modes_kernel import Forces, Modes, Moments, implicit_step, moments_of
from engine.physics.gap.turbulence_kernel import turbulent_weight

CHOKED_RADIAL_MACH = 0.95
TWICE = 4
"""One in so many steps, the first, solve twice: profiles change too much there to be foretold."""
CLEARLY = 0.025
"""Swirl beyond that of the discs, over their speed, from which it counts in full."""
STEADY, SWINGING = 0.1, 0.6
"""Squared change of the steps of an inflow over the sum of their squares, up to which three steps
foretell the next, and from which two do it better; 2 where they go to and fro."""
NARROW, WIDE = 49.0, 81.0
"""Squares of the Ekman parameter up to which the first profiles never swing where the fluid turns
faster than the discs, and from which they may."""
TINY = 1e-12
"""Added to what may be 0 where something is divided by it."""
UNRESOLVED = 0.15
"""Pressure by which the two passes of a step differ, over pressure: beyond, the step has jumped
across the point where the flow chokes."""
_FLUX, _GAP, _SHALLOW, _PER_FLUX, _OMEGA, _ROTHALPY = range(6)
_RADIUS, _CURVE, _LENGTH, _SHRINKING, _FASTER, _GROWING, _SLOWER, _WIDEST, _WEIGHT = range(6, 15)
_SPEED, _DENSITY, _TURBULENCE, _ALONG, _HEAD, _PRESSURE, _FIXED = range(15, 22)
_SQUARE, _CUBE, _MOMENT, _SQUARE_BEFORE, _CUBE_BEFORE, _CUBE_AHEAD = range(22, 28)
_REYNOLDS, _MACH, _TURBULENT, _CHOKED = range(28, 32)
_RISE, _LENGTH_BEFORE, _NARROW = range(32, 35)
_LAST, _BEFORE, _EARLIER, _N_WORK = 35, 40, 45, 50
"""Rows of the scratch numbers of a march: what is carried from step to step."""
N_GAP_GIVEN, N_ENDS = 8, 7
"""Rows that `march_pack` reads and fills."""


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


@inlined
def _fixed_enthalpy(channel: _Channel, r: float, curve: float, square: float) -> float:
    """Enthalpy by rothalpy where nothing flows inward."""
    turned = channel.omega * r
    return channel.rothalpy + (turned * turned - square * curve * curve) / 2


@inlined
def _local(
    channel: _Channel,
    r: float,
    curve: float,
    slip: float,
    cube: float,
    state: tuple[float, float, float, float, float],
) -> _Local:
    """Local state; `slip` is the mean relative swirl."""
    density, by_pressure, by_enthalpy, viscosity, sound = state
    volume, per_sound = 1 / density, 1 / sound
    speed = channel.flux * curve * volume
    relative = root(slip * slip + speed * speed)
    reynolds = max(2 * channel.gap * density * relative / viscosity, 1e-6)
    turbulence = turbulent_weight(reynolds)
    return _Local(
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
def _forces(
    rules: Turbulence, channel: _Channel, here: _Local, growth: float, lead: float
) -> Forces:
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
        lead,
    )


@inlined
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


@inlined
def _ahead(now: float, last: float) -> float:
    """Value one step on if it changes as it did, at most twofold."""
    return min(max(2 * now - last, now / 2), 2 * now)


@inlined
def _sum(x: float, one: Modes, y: float, two: Modes) -> Modes:
    return Modes(
        x * one.a1 + y * two.a1,
        x * one.a2 + y * two.a2,
        x * one.b0 + y * two.b0,
        x * one.b1 + y * two.b1,
        x * one.b2 + y * two.b2,
    )


@inlined
def _steadiness(last: Modes, before: Modes, earlier: Modes) -> float:
    """1 where an inflow changes from step to step as it did, 0 where it swings."""
    one1, one2 = last.a1 - before.a1, last.a2 - before.a2
    two1, two2 = before.a1 - earlier.a1, before.a2 - earlier.a2
    bend = (one1 - two1) * (one1 - two1) + (one2 - two2) * (one2 - two2)
    bend /= one1 * one1 + one2 * one2 + two1 * two1 + two2 * two2 + TINY
    return min(max((SWINGING - bend) / (SWINGING - STEADY), 0.0), 1.0)


@inlined
def _modes_at(work: Lanes, row: int, i: int) -> Modes:
    return Modes(
        work[row, i], work[row + 1, i], work[row + 2, i], work[row + 3, i], work[row + 4, i]
    )


@inlined
def _keep_modes(work: Lanes, row: int, i: int, m: Modes) -> None:
    work[row, i], work[row + 1, i], work[row + 2, i] = m.a1, m.a2, m.b0
    work[row + 3, i], work[row + 4, i] = m.b1, m.b2


@inlined
def _channel_at(work: Lanes, i: int) -> _Channel:
    return _Channel(
        work[_FLUX, i],
        work[_GAP, i],
        work[_SHALLOW, i],
        work[_PER_FLUX, i],
        work[_OMEGA, i],
        work[_ROTHALPY, i],
    )


@inlined
def _state_at(states: Lanes, i: int) -> tuple[float, float, float, float, float]:
    return states[0, i], states[1, i], states[2, i], states[3, i], states[4, i]


@inlined
def _heads(record: FluidRecord, work: Lanes, p: Lanes, h: Lanes, states: Lanes) -> None:
    """Find enthalpies from what is fixed of them, at pressures `p`, and the states there.

    One repetition: the radial head is a small part of the enthalpy below the choking flag.
    """
    density = line(PACK)
    for i in range(PACK):
        speed = work[_SPEED, i]
        h[i] = work[_FIXED, i] - work[_CUBE_AHEAD, i] / 2 * speed * speed
    fluid_densities(record, p, h, density)
    for i in range(PACK):
        speed = work[_FLUX, i] * work[_CURVE, i] / density[i]
        h[i] = work[_FIXED, i] - work[_CUBE_AHEAD, i] / 2 * speed * speed
    fluid_states(record, p, h, states)


@inlined
def _keep_local(work: Lanes, i: int, here: _Local, slope: tuple[float, float]) -> None:
    work[_SPEED, i], work[_DENSITY, i] = here.speed, here.density
    work[_TURBULENCE, i] = here.turbulence
    work[_ALONG, i], work[_HEAD, i] = slope
    work[_REYNOLDS, i] = max(work[_REYNOLDS, i], here.reynolds)
    work[_MACH, i] = max(work[_MACH, i], here.mach)


@inlined
def _enter(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    work: Lanes,
    p: Lanes,
    h: Lanes,
    states: Lanes,
) -> None:
    """Start a pack at the rim."""
    density = line(PACK)
    for i in range(PACK):
        p[i], h[i] = given[0, i], given[1, i]
    fluid_densities(record, p, h, density)
    for i in range(PACK):
        swirl, flow, gap, rim = given[2, i], given[3, i], given[4, i], given[5, i]
        omega = given[7, i]
        flux = flow / (2 * math.pi * gap)
        speed, turned = flux / (rim * density[i]), omega * rim
        slip = swirl - turned
        work[_FLUX, i], work[_GAP, i], work[_SHALLOW, i] = flux, gap, 1 / gap
        work[_PER_FLUX, i], work[_OMEGA, i], work[_SPEED, i] = 1 / flux, omega, speed
        work[_ROTHALPY, i] = h[i] + (speed * speed + slip * slip - turned * turned) / 2
        modes = Modes(0.0, 0.0, rim * slip / FLATNESS, 0.0, 0.0)
        _keep_modes(work, _LAST, i, modes)
        _keep_modes(work, _BEFORE, i, modes)
        _keep_modes(work, _EARLIER, i, modes)
        m = moments_of(modes)
        work[_RADIUS, i], work[_CURVE, i] = rim, 1 / rim
        work[_SQUARE, i], work[_CUBE, i], work[_CUBE_AHEAD, i] = m.square, m.cube, m.cube
        work[_SQUARE_BEFORE, i], work[_CUBE_BEFORE, i] = m.square, m.cube
        channel = _channel_at(work, i)
        work[_FIXED, i] = _fixed_enthalpy(channel, rim, 1 / rim, m.square)
        work[_REYNOLDS, i] = work[_MACH, i] = work[_TURBULENT, i] = work[_CHOKED, i] = 0.0
        work[_RISE, i], work[_LENGTH_BEFORE, i] = 0.0, rim
    for i in range(PACK):  # apart, as these are calls
        fraction = math.log(given[5, i] / given[6, i]) / steps**2
        work[_WIDEST, i] = 1 / (2 * fraction)
        work[_SHRINKING, i], work[_FASTER, i] = math.exp(-fraction), math.exp(-2 * fraction)
        work[_GROWING, i], work[_SLOWER, i] = 1 / work[_SHRINKING, i], 1 / work[_FASTER, i]
    _heads(record, work, p, h, states)
    for i in range(PACK):
        channel, m = _channel_at(work, i), moments_of(_modes_at(work, _LAST, i))
        r, curve = work[_RADIUS, i], work[_CURVE, i]
        slip = given[2, i] - channel.omega * r
        here = _local(channel, r, curve, slip, m.cube, _state_at(states, i))
        ekman_squared = channel.gap * channel.gap * channel.omega * here.density / here.viscosity
        work[_NARROW, i] = min(max((WIDE - ekman_squared) / (WIDE - NARROW), 0.0), 1.0)
        # The plug becomes the flattest profile that the modes allow.
        speed = work[_SPEED, i]
        work[_PRESSURE, i] = p[i] - here.density * speed * speed * (m.cube - 1) / 2
        _keep_local(work, i, here, _slope(rules, channel, here, m))


@inlined
def _step(
    rules: Turbulence,
    straight: float,
    curved: float,
    twice: bool,
    work: Lanes,
    p: Lanes,
    states: Lanes,
    i: int,
) -> None:
    """End one step of one lane, at the states found for it.

    Backward differences of a variable in which profiles are even (Gear 1971, Numerical Initial
    Value Problems, table 11.1, from memory): over one step, over two where `straight` is 1, over
    three where `curved` is too and profiles do not swing from step to step. The first profiles of
    fluid faster than the discs in narrow gaps change much but never swing. The fall of pressure is
    summed by parabolas; the first step takes what it ends with, as the flattest profile with which
    it begins is gone at once.
    """
    channel, length = _channel_at(work, i), work[_LENGTH, i]
    r, curve = work[_RADIUS, i], work[_CURVE, i]
    last, before = _modes_at(work, _LAST, i), _modes_at(work, _BEFORE, i)
    earlier = _modes_at(work, _EARLIER, i)
    lead = last.b0 * curve * curve / (2 * CLEARLY * channel.omega + TINY)
    lead = min(max(lead, 0.0), 1.0)
    third, weight = _steadiness(last, before, earlier), work[_WEIGHT, i]
    third = curved * (max(third, lead * work[_NARROW, i]) if twice else third)
    expected = _sum(1 + straight + third, last, -straight - 2 * third, before)
    expected = _sum(1.0, expected, third, earlier)
    carried = _sum(1 + straight + third, last, -straight / 2 - third, before)
    carried = _sum(weight, carried, weight * third / 3, earlier)
    rate = weight * (1 + straight / 2 + third / 3)
    cube_ahead = work[_CUBE_AHEAD, i]
    there = _local(channel, r, curve, expected.b0 * curve, cube_ahead, _state_at(states, i))
    growth = (there.density - work[_DENSITY, i]) / length
    forces = _forces(rules, channel, there, growth, lead)
    modes = implicit_step(forces, rate, carried, expected)
    if twice:
        modes = implicit_step(forces, rate, carried, modes)
    _keep_modes(work, _EARLIER, i, before)
    _keep_modes(work, _BEFORE, i, last)
    _keep_modes(work, _LAST, i, modes)
    m = moments_of(modes)
    onward, ahead = _slope(rules, channel, there, m)
    rise = (onward - work[_ALONG, i]) / length
    bend = (rise - work[_RISE, i]) / (length + work[_LENGTH_BEFORE, i])
    fall = onward - length * (straight / 2 * rise + curved / 6 * length * bend)
    work[_RISE, i], work[_LENGTH_BEFORE, i] = rise, length
    fall *= length
    fall += (work[_HEAD, i] + ahead) / 2 * (m.cube - work[_CUBE, i])
    work[_TURBULENT, i] += (work[_TURBULENCE, i] + there.turbulence) / 2 * length
    work[_SQUARE_BEFORE, i], work[_CUBE_BEFORE, i] = work[_SQUARE, i], work[_CUBE, i]
    work[_SQUARE, i], work[_CUBE, i], work[_MOMENT, i] = m.square, m.cube, m.moment
    pressure = work[_PRESSURE, i] - fall
    work[_PRESSURE, i] = pressure
    slow = there.radial_mach < CHOKED_RADIAL_MACH
    resolved = abs(pressure - p[i]) < UNRESOLVED * pressure
    work[_CHOKED, i] = work[_CHOKED, i] if slow and resolved else 1.0
    _keep_local(work, i, there, (onward, ahead))


@compiled
def march_pack(
    record: FluidRecord, rules: Turbulence, steps: int, given: Lanes, found: Lanes
) -> None:
    """March a pack of lanes from rim to bore in steps even in the root of ln(rim / radius).

    Rows of `given`: pressure, enthalpy, swirl, mass flow, gap, rim, bore, angular speed; of
    `found`: exit pressure, enthalpy and swirl, largest Reynolds and Mach number, turbulent share,
    1 where it chokes.
    """
    work, states = table(_N_WORK, PACK), table(5, PACK)
    p, h = line(PACK), line(PACK)
    _enter(record, rules, steps, given, work, p, h, states)
    for k in range(1, steps + 1):
        for i in range(PACK):
            channel, before = _channel_at(work, i), work[_RADIUS, i]
            r, curve = before * work[_SHRINKING, i], work[_CURVE, i] * work[_GROWING, i]
            length = before - r
            work[_RADIUS, i], work[_CURVE, i], work[_LENGTH, i] = r, curve, length
            work[_SHRINKING, i] *= work[_FASTER, i]
            work[_GROWING, i] *= work[_SLOWER, i]
            # The first step leaves a singular point and takes its true length, not that of the map.
            mapped = work[_WIDEST, i] / k * curve * curve
            work[_WEIGHT, i] = 1 / (length * (r + length / 2)) if k == 1 else mapped
            p[i] = work[_PRESSURE, i] - work[_ALONG, i] * length
            work[_CUBE_AHEAD, i] = _ahead(work[_CUBE, i], work[_CUBE_BEFORE, i])
            square = _ahead(work[_SQUARE, i], work[_SQUARE_BEFORE, i])
            work[_FIXED, i] = _fixed_enthalpy(channel, r, curve, square)
        _heads(record, work, p, h, states)
        straight, curved = 1.0 if k > 1 else 0.0, 1.0 if k > 2 else 0.0
        if k * TWICE <= steps:
            for i in range(PACK):
                _step(rules, straight, curved, True, work, p, states, i)
        else:
            for i in range(PACK):
                _step(rules, 1.0, 1.0, False, work, p, states, i)
    for i in range(PACK):
        rim, bore, omega = given[5, i], given[6, i], given[7, i]
        p[i] = work[_PRESSURE, i]
        work[_CURVE, i], work[_CUBE_AHEAD, i] = 1 / bore, work[_CUBE, i]
        channel = _channel_at(work, i)
        work[_FIXED, i] = _fixed_enthalpy(channel, bore, 1 / bore, work[_SQUARE, i])
        found[2, i] = work[_MOMENT, i] / bore + omega * bore
        found[3, i], found[4, i] = work[_REYNOLDS, i], work[_MACH, i]
        found[5, i], found[6, i] = work[_TURBULENT, i] / (rim - bore), work[_CHOKED, i]
    _heads(record, work, p, h, states)
    for i in range(PACK):
        found[0, i], found[1, i] = p[i], h[i]
        if found[6, i] == 1:
            for row in range(6):
                found[row, i] = math.nan
