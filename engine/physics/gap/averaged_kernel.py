"""The march at the averaged level, a pack at a time; see `averaged.march`.

Symbols: r radius, `curve` 1 / r, J radius times relative swirl, a1, a2, b0, b1, b2 modes of the
profiles (`modes`), `square`, `cube` and `moment` their moments (`modes_kernel.Moments`), eta =
(rim^2 - r^2) / 2 the coordinate along the march, p and h pressure and enthalpy.

The same code marches outward (`outward.march_outward`). There J is radius times the lag of the
fluid, speeds count outward, and eta is (r^2 - eye^2) / 2: in these the equations are those of the
inward march, with `way`, 1 inward and -1 outward, before a few terms.
"""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, inlined, line, shared, table
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_densities, fluid_states_on_way
from engine.physics.gap.answer import INWARD
from engine.physics.gap.averaged_station_kernel import (
    CHOKED_RADIAL_MACH,
    Channel,
    Local,
    fixed_enthalpy,
    forces_at,
    local_at,
    slope_at,
)
from engine.physics.gap.modes import FLATNESS
from engine.physics.gap.modes_kernel import (
    Modes,
    combined,
    implicit_step,
    mean_square,
    moments_of,
    stands,
    steadiness,
)
from engine.physics.gap.turbulence_kernel import Turbulence

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
# Rows of `work`, the numbers that a march carries from step to step: the fields of `Channel`;
_FLUX, _GAP, _SHALLOW, _PER_FLUX, _OMEGA, _ROTHALPY = range(6)
# radius, 1 / radius, length of a step, ratio of radius to the last and ratio of two such ratios,
# inverses of both, numerator of the weight, and weight: 1 / step in eta;
_RADIUS, _CURVE, _LENGTH, _SHRINKING, _FASTER, _GROWING, _SLOWER, _WIDEST, _WEIGHT = range(6, 15)
# at the last station, with `slope_at`; pressure, and enthalpy without the radial head;
_SPEED, _DENSITY, _TURBULENCE, _ALONG, _HEAD, _PRESSURE, _FIXED = range(15, 22)
# moments, those of the station before, and extrapolated;
_SQUARE, _CUBE, _MOMENT, _SQUARE_BEFORE, _CUBE_BEFORE, _CUBE_AHEAD = range(22, 28)
# largest so far, integral of the weight of turbulence, 1 where choked;
_REYNOLDS, _MACH, _TURBULENT, _CHOKED = range(28, 32)
# derivative of `along`, length of the last step, 1 in a narrow gap and 0 in a wide one, and the
# inverse of the transition factor; enthalpy of a vapour above its dew line;
_RISE, _LENGTH_BEFORE, _NARROW, _TRANSITION, _HEIGHT = range(32, 37)
# modes at the last three stations, five rows each.
_LAST, _BEFORE, _EARLIER, _N_WORK = 37, 42, 47, 52
N_GAP_GIVEN, N_ENDS = 9, 7
"""Rows that `march_pack` reads and fills."""
N_OUTWARD, N_KEPT = 12, 11
"""Rows that an outward march fills, and rows of a station that it keeps in its trail."""


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
def _channel_at(work: Lanes, i: int) -> Channel:
    return Channel(
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
    fluid_states_on_way(record, p, h, work[_HEIGHT], states)


@inlined
def _keep_local(work: Lanes, i: int, here: Local, slope: tuple[float, float]) -> None:
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
    way: float,
    given: Lanes,
    work: Lanes,
    p: Lanes,
    h: Lanes,
    states: Lanes,
) -> None:
    """Start a pack; arguments as in `march_either_way`."""
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
        modes = Modes(0.0, 0.0, way * rim * slip / FLATNESS, 0.0, 0.0)
        _keep_modes(work, _LAST, i, modes)
        _keep_modes(work, _BEFORE, i, modes)
        _keep_modes(work, _EARLIER, i, modes)
        m = moments_of(modes)
        work[_RADIUS, i], work[_CURVE, i] = rim, 1 / rim
        work[_SQUARE, i], work[_CUBE, i], work[_CUBE_AHEAD, i] = m.square, m.cube, m.cube
        work[_SQUARE_BEFORE, i], work[_CUBE_BEFORE, i] = m.square, m.cube
        channel = _channel_at(work, i)
        work[_FIXED, i] = fixed_enthalpy(channel, rim, 1 / rim, m.square)
        work[_REYNOLDS, i] = work[_MACH, i] = work[_TURBULENT, i] = work[_CHOKED, i] = 0.0
        work[_RISE, i], work[_LENGTH_BEFORE, i], work[_HEIGHT, i] = 0.0, rim, math.nan
    # Stations even in root(ln(rim / r)). Loop of its own: library calls prevent vectors.
    for i in range(PACK):
        fraction = math.log(given[5, i] / given[6, i]) / steps**2
        work[_WIDEST, i] = way / (2 * fraction)
        work[_SHRINKING, i], work[_FASTER, i] = math.exp(-fraction), math.exp(-2 * fraction)
        work[_GROWING, i], work[_SLOWER, i] = 1 / work[_SHRINKING, i], 1 / work[_FASTER, i]
    # State and pressure with the first profiles.
    _heads(record, work, p, h, states)
    for i in range(PACK):
        channel, m = _channel_at(work, i), moments_of(_modes_at(work, _LAST, i))
        r, curve = work[_RADIUS, i], work[_CURVE, i]
        slip = given[2, i] - channel.omega * r
        here = local_at(channel, r, curve, slip, m.cube, _state_at(states, i))
        turning = max(channel.omega, given[2, i] * curve)
        ekman_squared = channel.gap * channel.gap * turning * here.density / here.viscosity
        work[_NARROW, i] = min(max((WIDE - ekman_squared) / (WIDE - NARROW), 0.0), 1.0)
        # Pressure falls as the entering plug becomes that profile.
        speed = work[_SPEED, i]
        work[_PRESSURE, i] = p[i] - here.density * speed * speed * (m.cube - 1) / 2
        _keep_local(work, i, here, slope_at(rules, way, channel, here, m))


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
    way: float,
    straight: float,
    curved: float,
    work: Lanes,
    p: Lanes,
    states: Lanes,
    i: int,
) -> Local:
    """Finish one step of one lane, at the states found for it.

    Backward differences along eta (Gear 1971, Numerical Initial Value Problems, table 11.1, from
    memory): over one step, over two steps where `straight` is 1, over three where `curved` is 1 too
    and profiles do not oscillate (`third` is the weight of the third). In wide gaps turbulent ones
    do unless stepped singly: a last digit of the input then moved the matched point.

    Each step is solved twice, the second time with the result of the first.
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
    there = local_at(channel, r, curve, expected.b0 * curve, cube_ahead, _state_at(states, i))
    growth = (there.density - work[_DENSITY, i]) / length
    forces = forces_at(rules, way, channel, there, growth, lead)
    modes = implicit_step(forces, rate, carried, expected)
    modes = implicit_step(forces, rate, carried, _between(expected, modes))
    _keep_modes(work, _EARLIER, i, before)
    _keep_modes(work, _BEFORE, i, last)
    _keep_modes(work, _LAST, i, modes)
    # Pressure: its fall by a parabola; the first step takes that at its end, as flat profiles fade.
    m = moments_of(modes)
    onward, ahead = slope_at(rules, way, channel, there, m)
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
    # The suction of a pump may lie near zero: there the error counts against the head of the discs.
    turned = channel.omega * r
    scale = pressure if way > 0 else abs(pressure) + there.density * turned * turned
    resolved = abs(pressure - p[i]) < UNRESOLVED * scale
    work[_CHOKED, i] = work[_CHOKED, i] if slow and resolved else 1.0
    _keep_local(work, i, there, (onward, ahead))
    return there


@inlined
def _keep_station(here: Local, work: Lanes, found: Lanes, trail: Lanes, row: int, i: int) -> None:
    """Write the station to the trail of an outward march from `row` on, and what it sums up."""
    modes = _modes_at(work, _LAST, i)
    trail[row, i], trail[row + 1, i], trail[row + 2, i] = here.radius, here.speed, here.viscosity
    trail[row + 3, i], trail[row + 4, i] = here.turbulence, work[_PRESSURE, i]
    trail[row + 5, i] = here.wall
    _keep_modes(trail, row + 6, i, modes)
    found[7, i] = min(found[7, i], work[_PRESSURE, i])
    found[8, i] += stands(modes) * work[_LENGTH, i]


@shared
def march_pack(
    record: FluidRecord, rules: Turbulence, steps: int, given: Lanes, found: Lanes
) -> None:
    """March a pack of lanes from rim to bore in steps even in the root of ln(rim / radius).

    Rows of `given`: 0 pressure, 1 enthalpy, 2 swirl, 3 mass flow, 4 gap, 5 rim and 6 bore radius,
    7 angular speed, 8 transition factor. Rows of `found`: 0 exit pressure, 1 enthalpy and 2 swirl,
    3 largest Reynolds and 4 Mach number, 5 turbulent share, 6 whether it chokes (1).
    """
    march_either_way(record, rules, steps, INWARD, given, found, table(1, PACK))


@inlined
def march_either_way(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    way: float,
    given: Lanes,
    found: Lanes,
    trail: Lanes,
) -> None:
    """March a pack inward or outward, from radius 5 of `given` to radius 6; see `march_pack`.

    `way` is a constant where this is called, so the inward march pays for nothing. An outward march
    fills more rows of `found`: 7 lowest pressure, 8 share of the radius where profiles are held
    from turning back, at the end 9 mean cube and 10 mean square of the outflow, 11 mass-flux mean
    of J^2. Rows of a station in `trail`: 0 radius, 1 mean speed, 2 viscosity, 3 weight of
    turbulence, 4 pressure, 5 wall shear over its constant and speed, 6 to 10 modes.
    """
    work, states = table(_N_WORK, PACK), table(5, PACK)
    p, h = line(PACK), line(PACK)
    _enter(record, rules, steps, way, given, work, p, h, states)
    if way < 0:
        for i in range(PACK):
            found[7, i], found[8, i] = min(given[0, i], work[_PRESSURE, i]), 0.0
    for k in range(1, steps + 1):
        # Next station: radius, length of the step, expected pressure and enthalpy.
        for i in range(PACK):
            channel, before = _channel_at(work, i), work[_RADIUS, i]
            r, curve = before * work[_SHRINKING, i], work[_CURVE, i] * work[_GROWING, i]
            length = way * (before - r)
            work[_RADIUS, i], work[_CURVE, i], work[_LENGTH, i] = r, curve, length
            work[_SHRINKING, i] *= work[_FASTER, i]
            work[_GROWING, i] *= work[_SLOWER, i]
            # The map is singular at the rim, so the first step takes its true length.
            mapped = work[_WIDEST, i] / k * curve * curve
            work[_WEIGHT, i] = 1 / (length * (r + way * length / 2)) if k == 1 else mapped
            p[i] = work[_PRESSURE, i] - work[_ALONG, i] * length
            work[_CUBE_AHEAD, i] = _ahead(work[_CUBE, i], work[_CUBE_BEFORE, i])
            square = _ahead(work[_SQUARE, i], work[_SQUARE_BEFORE, i])
            work[_FIXED, i] = fixed_enthalpy(channel, r, curve, square)
        # States there; then profiles, pressure and moments of each lane.
        _heads(record, work, p, h, states)
        straight, curved = 1.0 if k > 1 else 0.0, 1.0 if k > 2 else 0.0
        for i in range(PACK):
            local = _step(rules, way, straight, curved, work, p, states, i)
            if way < 0:
                _keep_station(local, work, found, trail, N_KEPT * (k - 1), i)
    # Exit: swirl, largest numbers, and the state with the profiles of the last station.
    for i in range(PACK):
        rim, bore, omega = given[5, i], given[6, i], given[7, i]
        p[i] = work[_PRESSURE, i]
        work[_CURVE, i], work[_CUBE_AHEAD, i] = 1 / bore, work[_CUBE, i]
        channel = _channel_at(work, i)
        work[_FIXED, i] = fixed_enthalpy(channel, bore, 1 / bore, work[_SQUARE, i])
        found[2, i] = way * work[_MOMENT, i] / bore + omega * bore
        found[3, i], found[4, i] = work[_REYNOLDS, i], work[_MACH, i]
        # Added up along the radius, the share may be a last digit above 1.
        found[5, i] = min(work[_TURBULENT, i] / (way * (rim - bore)), 1.0)
        found[6, i] = work[_CHOKED, i]
    _heads(record, work, p, h, states)
    for i in range(PACK):
        found[0, i], found[1, i] = p[i], h[i]
        if found[6, i] == 1:
            for row in range(6):
                found[row, i] = math.nan
        if way < 0:
            found[8, i] /= given[6, i] - given[5, i]
            found[9, i], found[11, i] = work[_CUBE, i], work[_SQUARE, i]
            found[10, i] = mean_square(_modes_at(work, _LAST, i))
