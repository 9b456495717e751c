"""The march at the averaged level, a pack at a time; see `averaged.march`.

Symbols: r radius, `curve` 1 / r, J radius times relative swirl, a1, a2, b0, b1, b2 modes of the
profiles (`modes`), `square`, `cube` and `moment` their moments (`modes_kernel.Moments`), eta =
(rim^2 - r^2) / 2 the coordinate along the march, p and h pressure and enthalpy.
"""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root, table
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_densities, fluid_states
from engine.physics.gap.modes import FLATNESS
from engine.physics.gap.modes_kernel import (
    Forces,
    Modes,
    Moments,
    combined,
    implicit_step,
    moments_of,
    steadiness,
)
from engine.physics.gap.turbulence_kernel import turbulent_weight

CHOKED_RADIAL_MACH = 0.95
"""Radial Mach number above which the gap counts as choked."""
LEADING = 0.025
"""Relative swirl over disc speed at which `lead` is a half."""
NARROW, WIDE = 100.0, 196.0
"""Squares of the Ekman parameter by the faster of disc and fluid at the rim. Up to the first value
turbulent flow is stepped like any other, from the second on by differences over one step."""
HIT, MISSED = 1e-4, 1e-2
"""Square of what an inflow is found off the expected one. Up to the first value the step is solved
again with what was found, from the second on with the middle of both."""
TINY = 1e-12
"""Keeps a divisor from being 0."""
UNRESOLVED = 0.15
"""Largest error of the pressure expected for a step, over pressure; beyond, it passed choking."""
# Rows of `work`, the numbers that a march carries from step to step: the fields of `_Channel`;
_FLUX, _GAP, _SHALLOW, _PER_FLUX, _OMEGA, _ROTHALPY = range(6)
# radius, 1 / radius, length of a step, ratio of radius to the last and ratio of two such ratios,
# inverses of both, numerator of the weight, and weight: 1 / step in eta;
_RADIUS, _CURVE, _LENGTH, _SHRINKING, _FASTER, _GROWING, _SLOWER, _WIDEST, _WEIGHT = range(6, 15)
# at the last station, with `_slope`; pressure, and enthalpy without the radial head;
_SPEED, _DENSITY, _TURBULENCE, _ALONG, _HEAD, _PRESSURE, _FIXED = range(15, 22)
# moments, those of the station before, and extrapolated;
_SQUARE, _CUBE, _MOMENT, _SQUARE_BEFORE, _CUBE_BEFORE, _CUBE_AHEAD = range(22, 28)
# largest so far, integral of the weight of turbulence, 1 where choked;
_REYNOLDS, _MACH, _TURBULENT, _CHOKED = range(28, 32)
# derivative of `along`, length of the last step, 1 in a narrow gap and 0 in a wide one, and the
# inverse of the transition factor;
_RISE, _LENGTH_BEFORE, _NARROW, _TRANSITION = range(32, 36)
# modes at the last three stations, five rows each.
_LAST, _BEFORE, _EARLIER, _N_WORK = 36, 41, 46, 51
N_GAP_GIVEN, N_ENDS = 9, 7
"""Rows that `march_pack` reads and fills."""


class Turbulence(NamedTuple):
    """Constants of the turbulent laws, fitted to the resolved level (tests/speed)."""

    shear: float = 0.033
    """Wall shear against the swirl over density, relative speed V and relative swirl, times the
    fourth root of V b / nu. Not fitted: Hirs 1973."""
    inflow_shear: float = 0.0301
    """The same against the inflow; with the kept laminar friction it gives Dean's."""
    mixing: float = 8.7
    """Decay of the shape of a profile over the decay of its mean by wall shear."""
    kept_viscosity: float = 0.107
    """Share of the laminar diffusion left in turbulent flow."""
    kept_friction: float = 0.376
    """Share of the laminar friction on the inflow left in turbulent flow."""


class _Channel(NamedTuple):
    """One gap."""

    flux: float  # radius times radial mass flux [kg/(m s)]
    gap: float  # [m]
    shallow: float  # 1 / gap
    per_flux: float  # 1 / flux
    omega: float  # angular speed of the discs [rad/s]
    rothalpy: float  # [J/kg]
    sooner: float  # 1 / transition factor


class _Local(NamedTuple):
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
def _fixed_enthalpy(channel: _Channel, r: float, curve: float, square: float) -> float:
    """Enthalpy by conserved rothalpy, without the radial head."""
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
    """Collect the local state; `slip` is the mean relative swirl."""
    # Speed inward and relative to the discs, Reynolds number, weight of turbulence.
    density, by_pressure, by_enthalpy, viscosity, sound = state
    volume, per_sound = 1 / density, 1 / sound
    speed = channel.flux * curve * volume
    relative = root(slip * slip + speed * speed)
    reynolds = max(2 * channel.gap * density * relative / viscosity, 1e-6)
    turbulence = turbulent_weight(reynolds * channel.sooner)
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
    """Collect the forces on the profiles; `growth` is that of density, per length inward."""
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
    """Fall of pressure inward, per length [Pa/m] and per change of the mean cubed inflow [Pa].

    Includes the effect of the fall on density and speed, in closed form.
    """
    # Radial momentum: rotation, inflow, friction.
    speed, spin, curve = here.speed, channel.omega * here.radius, here.curve
    radial, square = m.cube * speed * speed, m.square * curve * curve
    push = spin * spin + 2 * channel.omega * m.moment + square + radial
    laminar = 1 - (1 - rules.kept_friction) * here.turbulence
    friction = laminar * 4 * here.viscosity * channel.shallow * m.dissipation
    friction = (friction + 2 * rules.inflow_shear * here.wall) * speed * channel.shallow
    # Factor 1 / (1 - M_r^2) of compressible flow.
    mach = min(here.radial_mach, CHOKED_RADIAL_MACH)
    gain = radial / (1 - mach * mach)
    stretch = 1 + gain * here.by_pressure
    heating = spin * channel.omega + (radial + square) * curve
    held = here.density * push * curve + friction
    along = held * stretch + gain * here.by_enthalpy * heating
    return along, here.density * speed * speed / 2 * stretch


@inlined
def _ahead(now: float, last: float) -> float:
    """Extrapolate a value by one step, at most to twice or half of it."""
    return min(max(2 * now - last, now / 2), 2 * now)


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
        work[_TRANSITION, i],
    )


@inlined
def _state_at(states: Lanes, i: int) -> tuple[float, float, float, float, float]:
    return states[0, i], states[1, i], states[2, i], states[3, i], states[4, i]


@inlined
def _heads(record: FluidRecord, work: Lanes, p: Lanes, h: Lanes, states: Lanes) -> None:
    """Find enthalpies and states at the pressures `p`.

    One repetition is enough: below choking the radial head is a small part of the enthalpy.
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
    """Write what the next step needs of a station, and the largest numbers so far."""
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
    """Start a pack at the rim; arguments as in `march_pack`."""
    # State that enters, and the constants of each gap.
    density = line(PACK)
    for i in range(PACK):
        p[i], h[i] = given[0, i] if given[8, i] > 0 else math.nan, given[1, i]
    fluid_densities(record, p, h, density)
    for i in range(PACK):
        swirl, flow, gap, rim = given[2, i], given[3, i], given[4, i], given[5, i]
        omega = given[7, i]
        flux = flow / (2 * math.pi * gap)
        speed, turned = flux / (rim * density[i]), omega * rim
        slip = swirl - turned
        work[_FLUX, i], work[_GAP, i], work[_SHALLOW, i] = flux, gap, 1 / gap
        work[_PER_FLUX, i], work[_OMEGA, i], work[_SPEED, i] = 1 / flux, omega, speed
        work[_TRANSITION, i] = 1 / given[8, i]
        work[_ROTHALPY, i] = h[i] + (speed * speed + slip * slip - turned * turned) / 2
        # First profiles: the flattest that the modes allow, with the mean swirl that enters.
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
    # Stations even in root(ln(rim / r)). Loop of its own: library calls prevent vectors.
    for i in range(PACK):
        fraction = math.log(given[5, i] / given[6, i]) / steps**2
        work[_WIDEST, i] = 1 / (2 * fraction)
        work[_SHRINKING, i], work[_FASTER, i] = math.exp(-fraction), math.exp(-2 * fraction)
        work[_GROWING, i], work[_SLOWER, i] = 1 / work[_SHRINKING, i], 1 / work[_FASTER, i]
    # State and pressure with the first profiles.
    _heads(record, work, p, h, states)
    for i in range(PACK):
        channel, m = _channel_at(work, i), moments_of(_modes_at(work, _LAST, i))
        r, curve = work[_RADIUS, i], work[_CURVE, i]
        slip = given[2, i] - channel.omega * r
        here = _local(channel, r, curve, slip, m.cube, _state_at(states, i))
        turning = max(channel.omega, given[2, i] * curve)
        ekman_squared = channel.gap * channel.gap * turning * here.density / here.viscosity
        work[_NARROW, i] = min(max((WIDE - ekman_squared) / (WIDE - NARROW), 0.0), 1.0)
        # Pressure falls as the entering plug becomes that profile.
        speed = work[_SPEED, i]
        work[_PRESSURE, i] = p[i] - here.density * speed * speed * (m.cube - 1) / 2
        _keep_local(work, i, here, _slope(rules, channel, here, m))


@inlined
def _between(expected: Modes, found: Modes) -> Modes:
    """Profiles to solve a step with once more: those found, or the middle where they are far off.

    Solved again with what was found, a step swings about its solution where the inflow nearly
    reverses, and multiplies a difference by some ten.
    """
    one, two = found.a1 - expected.a1, found.a2 - expected.a2
    share = (one * one + two * two - HIT) / (MISSED - HIT)
    share = 1 - min(max(share, 0.0), 1.0) / 2
    return combined(1 - share, expected, share, found)


@inlined
def _step(
    rules: Turbulence,
    straight: float,
    curved: float,
    work: Lanes,
    p: Lanes,
    states: Lanes,
    i: int,
) -> None:
    """Finish one step of one lane, at the states found for it.

    Backward differences along eta (Gear 1971, Numerical Initial Value Problems, table 11.1, from
    memory): over one step, over two steps where `straight` is 1, over three where `curved` is 1 too
    and profiles do not oscillate (`third` is the weight of the third). In wide gaps turbulent ones
    do unless stepped singly: a last digit of the input then moved the matched point.

    Each step is solved three times, each time with the result of the last.
    """
    # Last three profiles; `lead` is 1 where the fluid turns faster than the discs.
    channel, length = _channel_at(work, i), work[_LENGTH, i]
    r, curve = work[_RADIUS, i], work[_CURVE, i]
    last, before = _modes_at(work, _LAST, i), _modes_at(work, _BEFORE, i)
    earlier = _modes_at(work, _EARLIER, i)
    lead = last.b0 * curve * curve / (2 * LEADING * channel.omega + TINY)
    lead = min(max(lead, 0.0), 1.0)
    third, weight = steadiness(last, before, earlier), work[_WEIGHT, i]
    third *= curved
    steady = 1 - (1 - work[_NARROW, i]) * work[_TURBULENCE, i]
    third, straight = third * steady, straight * steady
    # Profiles expected by extrapolation, and the known part of the backward difference.
    expected = combined(1 + straight + third, last, -straight - 2 * third, before)
    expected = combined(1.0, expected, third, earlier)
    carried = combined(1 + straight + third, last, -straight / 2 - third, before)
    carried = combined(weight, carried, weight * third / 3, earlier)
    rate = weight * (1 + straight / 2 + third / 3)
    # Profiles: implicit step by Galerkin's method, eqs. (1) and (2) of `modes`.
    cube_ahead = work[_CUBE_AHEAD, i]
    there = _local(channel, r, curve, expected.b0 * curve, cube_ahead, _state_at(states, i))
    growth = (there.density - work[_DENSITY, i]) / length
    forces = _forces(rules, channel, there, growth, lead)
    modes = implicit_step(forces, rate, carried, expected)
    expected = _between(expected, modes)
    modes = implicit_step(forces, rate, carried, expected)
    modes = implicit_step(forces, rate, carried, _between(expected, modes))
    _keep_modes(work, _EARLIER, i, before)
    _keep_modes(work, _BEFORE, i, last)
    _keep_modes(work, _LAST, i, modes)
    # Pressure: its fall by a parabola; the first step takes that at its end, as flat profiles fade.
    m = moments_of(modes)
    onward, ahead = _slope(rules, channel, there, m)
    rise = (onward - work[_ALONG, i]) / length
    bend = (rise - work[_RISE, i]) / (length + work[_LENGTH_BEFORE, i])
    fall = onward - length * (straight / 2 * rise + curved / 6 * length * bend)
    work[_RISE, i], work[_LENGTH_BEFORE, i] = rise, length
    fall *= length
    fall += (work[_HEAD, i] + ahead) / 2 * (m.cube - work[_CUBE, i])
    # Turbulent share, moments and pressure for the next step.
    work[_TURBULENT, i] += (work[_TURBULENCE, i] + there.turbulence) / 2 * length
    work[_SQUARE_BEFORE, i], work[_CUBE_BEFORE, i] = work[_SQUARE, i], work[_CUBE, i]
    work[_SQUARE, i], work[_CUBE, i], work[_MOMENT, i] = m.square, m.cube, m.moment
    pressure = work[_PRESSURE, i] - fall
    work[_PRESSURE, i] = pressure
    # Choking.
    slow = there.radial_mach < CHOKED_RADIAL_MACH
    resolved = abs(pressure - p[i]) < UNRESOLVED * pressure
    work[_CHOKED, i] = work[_CHOKED, i] if slow and resolved else 1.0
    _keep_local(work, i, there, (onward, ahead))


@compiled
def march_pack(
    record: FluidRecord, rules: Turbulence, steps: int, given: Lanes, found: Lanes
) -> None:
    """March a pack of lanes from rim to bore in steps even in the root of ln(rim / radius).

    Rows of `given`: 0 pressure, 1 enthalpy, 2 swirl, 3 mass flow, 4 gap, 5 rim and 6 bore radius,
    7 angular speed, 8 transition factor. Rows of `found`: 0 exit pressure, 1 enthalpy and 2 swirl,
    3 largest Reynolds and 4 Mach number, 5 turbulent share, 6 whether it chokes (1).
    """
    work, states = table(_N_WORK, PACK), table(5, PACK)
    p, h = line(PACK), line(PACK)
    _enter(record, rules, steps, given, work, p, h, states)
    for k in range(1, steps + 1):
        # Next station: radius, length of the step, expected pressure and enthalpy.
        for i in range(PACK):
            channel, before = _channel_at(work, i), work[_RADIUS, i]
            r, curve = before * work[_SHRINKING, i], work[_CURVE, i] * work[_GROWING, i]
            length = before - r
            work[_RADIUS, i], work[_CURVE, i], work[_LENGTH, i] = r, curve, length
            work[_SHRINKING, i] *= work[_FASTER, i]
            work[_GROWING, i] *= work[_SLOWER, i]
            # The map is singular at the rim, so the first step takes its true length.
            mapped = work[_WIDEST, i] / k * curve * curve
            work[_WEIGHT, i] = 1 / (length * (r + length / 2)) if k == 1 else mapped
            p[i] = work[_PRESSURE, i] - work[_ALONG, i] * length
            work[_CUBE_AHEAD, i] = _ahead(work[_CUBE, i], work[_CUBE_BEFORE, i])
            square = _ahead(work[_SQUARE, i], work[_SQUARE_BEFORE, i])
            work[_FIXED, i] = _fixed_enthalpy(channel, r, curve, square)
        # States there; then profiles, pressure and moments of each lane.
        _heads(record, work, p, h, states)
        straight, curved = 1.0 if k > 1 else 0.0, 1.0 if k > 2 else 0.0
        for i in range(PACK):
            _step(rules, straight, curved, work, p, states, i)
    # Exit: swirl, largest numbers, and the state with the profiles of the last station.
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
