"""The ring of fluid around the discs and the side chambers beside it, a pack at a time; see `ring`.

The ring is followed along one sector, from a nozzle to the next. All sectors are alike, so its
swirl before a nozzle, `slow`, is found such that a sector ends as it began. With V its swirl and y
the square of that, friction along the sector gives dy/dx = -decay y - drag.
"""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root, table
from engine.physics.flow.windage_kernel import moment_coefficient
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_densities_viscosities, fluid_states

RING_PASSES = 40
"""Most passes of the repeated solution."""
SECTOR_STEPS = 4
"""Steps from a nozzle to the next. Twice as many change the swirl into the gaps by less than 0.2 %
of the jets' (tests/physics/flow/test_ring.py)."""
SETTLED = 1e-12
"""Relative change below which a lane has converged."""
NOISE = 1e-8
"""Relative change below which a step tells nothing of the slopes."""
STEEPEST = -1e-6
"""Largest slope of what a sector ends with less what it began with, over the latter."""
STEEPEST_INVERSE = 1e9
"""Largest sum of inverse slopes that is taken over from a ring at a pressure near by."""
MOST_HEATING = 50e3
"""Largest work of the disc edges on the ring [J/kg]. Beyond it a stack mainly churns its fluid, and
has no operating point."""
BEYOND_HEATING = 1e6
"""The same where a stack without operating point is followed."""
LEAVING = 1.13
"""Swirl that a slow and thick jet has beyond what the ring takes up, over its swirl and the sine of
its angle at the casing: it leaves the wall at that angle. Fitted to the plane flow (`ring`)."""
FRICTION, THIN_JET = 1.0, 0.79
"""Friction on casing and disc edges over that of a channel filled evenly, and what is added to it
on the casing where jets are thin and cling to it. Fitted to the plane flow."""
PROFILE = 1.1
"""Swirl beside the discs, and in the mean of what the ring holds, over that which rubs on the
casing. Fitted to the plane flow."""
PILING, REACH, SLOW_MOUTH = 7.21, 1.02, 0.14
"""Head between the edges over that of an even stream and the sixth power of their share; length
beyond the mouth in which a jet enters the gaps, over the clearance; pressure in front of the mouth
of a slow jet over that of a fast one. Fitted to the plane flow."""
PUSHED = 4.23
"""Speed that a fast ring gains as that pressure pushes it on, over the speed that the jet lost, the
share of the jet that stays in the ring and its speed. Fitted to the plane flow."""
MIXING_LAYER = 0.022
"""Shear stress between ring and side chamber over half the dynamic head of their difference."""
LEAST_SHARE = 0.1
"""Least share of the flow that is left for the gaps where their swirl is found."""
CORE_SWIRL = 0.45
"""Swirl of the fluid in a side chamber without throughflow over disc speed."""
N_RING_GIVEN, N_DRAGS = 20, 7
"""Rows that `rings` reads, and of drags along a sector."""
SWIRL, TOTAL_ENTHALPY, ENTHALPY, DENSITY, VISCOSITY = range(5)
EDGE_TORQUE, CASING_TORQUE, END_TORQUE, FACE_TORQUE, CORE_SPEED, FASTEST, SLOWEST = range(5, 12)
CASING_DISSIPATION, EDGE_DISSIPATION, CHAMBER_DISSIPATION = range(12, 15)
LEAK, LEAK_SWIRL, MOUTH_FACTOR, CHURNING = range(15, 19)
"""Rows of rings: fields of `ring.Ring`."""
N_SLOPES = 9
SLOPES, PER_PRESSURE, TRIED, N_RING = 19, 19 + N_SLOPES, 22 + N_SLOPES, 23 + N_SLOPES
"""Rows from which a ring at a pressure near by starts: inverse slopes, changes of swirl, core speed
and energy spent with pressure, and the pressure; number of rows."""
GUESSED = 1 / 8
"""Largest change, over the speed, that a first guess takes over from these."""
N_KEPT = MOUTH_FACTOR
"""Rows that a lane keeps from its last pass."""


@inlined
def casing_friction(reynolds: float) -> float:
    """Fanning friction factor of a thin ring of fluid sliding along the casing."""
    fourth = root(root(reynolds))
    laminar = 12 * fourth > 0.066 * reynolds
    # The larger of both laws by one division: these take most of the time of a ring.
    return (12.0 if laminar else 0.066) / (reynolds if laminar else fourth)


@inlined
def _signed_square(speed: float) -> float:
    return speed * abs(speed)


@inlined
def _onward(square: float, decay: float, source: float, step: float) -> float:
    """Follow dy/dx = source - decay y over a step; the exponential by its first terms."""
    z = decay * step
    mean = 1 + z / 2 * (1 + z * (1 / 3) * (1 + z / 4))
    return (square + source * step * mean) / (1 + z * mean)


@inlined
def _face_torque(
    slip: float, scale: float, per_slip: float, narrowness: float, tenth: float, sixth: float
) -> float:
    """Torque of the fluid on one face that turns against it with a speed `slip` at the rim [N m].

    scale: torque over coefficient and slip squared; per_slip: Reynolds number over slip.
    """
    reynolds = max(slip * per_slip, 1.0)
    return scale * slip * slip * moment_coefficient(reynolds, narrowness, tenth, sixth)


@inlined
def _edge_drag(on_edge: float, slip: float, scale: float) -> float:
    """Drag of the disc edges on the fluid beside them, over the square of a speed."""
    return on_edge * casing_friction(max(abs(slip), 1e-3) * scale) * _signed_square(slip)


@inlined
def _sectors(
    sizes: Lanes, fast: Lanes, core: Lanes, rim_speed: Lanes, slow: Lanes, drags: Lanes
) -> None:
    """Follow the rings of a pack from behind a nozzle to the next.

    Rows of `sizes`: 0 step, 1 Reynolds number over speed, friction over its factor: 2 on the
    casing, 3 on the edges, 4 at the open ends. Of `drags`: 0 to 2 what casing, edges and ends take
    from the square of the swirl, 3 to 5 the same times the speed at which they take it, 6 the swirl
    in the middle of the steps, summed.
    """
    square = line(PACK)
    for i in range(PACK):
        square[i] = fast[i] * fast[i]
    for row in range(N_DRAGS):
        for i in range(PACK):
            drags[row, i] = 0.0
    for _ in range(SECTOR_STEPS):
        for i in range(PACK):
            # Half a step, then the step by the friction there.
            step, scale, here = sizes[0, i], sizes[1, i], square[i]
            swirl = root(here)
            wall = sizes[2, i] * casing_friction(max(swirl, 1e-3) * scale)
            drag = _edge_drag(sizes[3, i], PROFILE * swirl - rim_speed[i], scale)
            drag += sizes[4, i] * _signed_square(swirl - core[i])
            decay = wall + max(drag, 0.0) / max(here, 1e-6)
            half = max(_onward(here, decay, max(-drag, 0.0), step / 2), 1e-6)
            swirl = root(half)
            slip = PROFILE * swirl - rim_speed[i]
            wall = sizes[2, i] * casing_friction(max(swirl, 1e-3) * scale)
            edge = _edge_drag(sizes[3, i], slip, scale)
            end = sizes[4, i] * _signed_square(swirl - core[i])
            per_square = 1 / half
            sink_edge, sink_end = max(edge, 0.0) * per_square, max(end, 0.0) * per_square
            decay, source = wall + sink_edge + sink_end, -min(edge, 0.0) - min(end, 0.0)
            after = _onward(here, decay, source, step)
            # Each friction takes its exact share of the change.
            decayed = (here - after + source * step) / max(decay, 1e-30)
            by_wall = wall * decayed
            by_edge = sink_edge * decayed + min(edge, 0.0) * step
            by_end = sink_end * decayed + min(end, 0.0) * step
            drags[0, i], drags[1, i] = drags[0, i] + by_wall, drags[1, i] + by_edge
            drags[2, i], drags[3, i] = drags[2, i] + by_end, drags[3, i] + by_wall * swirl
            drags[4, i], drags[5, i] = drags[4, i] + by_edge * slip, drags[5, i] + by_end * swirl
            drags[6, i], square[i] = drags[6, i] + swirl, after
    for i in range(PACK):
        slow[i] = root(square[i])


@inlined
def _guess(
    at: Lanes, off: Lanes, plain: Lanes, highest: Lanes, inverse: Lanes, last: Lanes, fresh: Lanes
) -> None:
    """Find the next steps of swirl, core speed and energy by Broyden's method, the inverse form.

    Rows of `at` and `off`: swirl, core speed, energy over a speed [m/s], and how far each is off.
    `plain` is the inverse slope of the swirl alone, for the first pass of a lane that is `fresh`
    (1), `highest` the largest speed possible. Rows of `inverse` are its slopes, row by row. Rows of
    `last`: what all were off, and the steps that were taken, which are replaced.
    """
    for i in range(PACK):
        a, b, c = inverse[0, i], inverse[1, i], inverse[2, i]
        d, e, f = inverse[3, i], inverse[4, i], inverse[5, i]
        g, h, k = inverse[6, i], inverse[7, i], inverse[8, i]
        # Slopes by what the last steps changed.
        u, v, w = off[0, i] - last[0, i], off[1, i] - last[1, i], off[2, i] - last[2, i]
        x, y, z = last[3, i], last[4, i], last[5, i]
        p, q, r = x * a + y * d + z * g, x * b + y * e + z * h, x * c + y * f + z * k
        share = 1 / (p * u + q * v + r * w)
        share = share if abs(share) < 1e30 else 0.0
        x, y = (x - a * u - b * v - c * w) * share, (y - d * u - e * v - f * w) * share
        z = (z - g * u - h * v - k * w) * share
        first = fresh[i] == 1
        a, b, c = plain[i] if first else a + x * p, b + x * q, c + x * r
        d, e, f = d + y * p, -1.0 if first else e + y * q, f + y * r
        g, h, k = g + z * p, h + z * q, -1.0 if first else k + z * r
        # Steps; where they leave what is possible, begin anew with plain ones.
        u, v, w = off[0, i], off[1, i], off[2, i]
        swirl, core = at[0, i] - a * u - b * v - c * w, at[1, i] - d * u - e * v - f * w
        heat = -g * u - h * v - k * w
        astray = min(swirl, core) <= 0 or max(swirl, core) >= highest[i]
        swirl = at[0, i] + u / 2 if astray else swirl
        bounded = min(max(at[1, i] + v, 1e-3), highest[i])
        core, heat = bounded if astray else core, w if astray else heat
        x, y = swirl - at[0, i], core - at[1, i]
        # The energy goes by what was found, but for what the other steps may change.
        heat = min(max(heat, w - abs(w) - abs(x)), w + abs(w) + abs(x))
        inverse[0, i], inverse[1, i] = plain[i] if astray else a, 0.0 if astray else b
        inverse[2, i], inverse[3, i] = 0.0 if astray else c, 0.0 if astray else d
        inverse[4, i], inverse[5, i] = -1.0 if astray else e, 0.0 if astray else f
        inverse[6, i], inverse[7, i] = 0.0 if astray else g, 0.0 if astray else h
        inverse[8, i] = -1.0 if astray else k
        last[0, i], last[1, i], last[2, i] = u, v, w
        last[3, i], last[4, i], last[5, i] = x, y, heat


@compiled
def rings(  # noqa: PLR0912, PLR0915  one sector and its chambers written out
    record: FluidRecord, given: Lanes, found: Lanes, settled: float, most_heating: float
) -> None:
    """Follow the rings of a pack from nozzle to nozzle, with the side chambers beside them.

    Rows of `given`, see `ring.ring_around_discs`: 0 mass flow, 1 jet speed, 2 total enthalpy,
    3 pressure, 4 inlet angle, 5 mixing coefficient, 6 rim radius, 7 rim clearance, 8 stack height,
    9 edge height, 10 angular speed, 11 nozzle count, 12 casing factor, 13 filling factor,
    14 exchange factor, 15 side gap, 16 windage factor, 17 leakage with chambers in which the core
    turns as without throughflow, 18 seal radius, 19 back pressure. `found` holds the rings at a
    pressure near by, as a first guess, or 0 in the rows `SLOWEST` and `CORE_SPEED`. A lane has
    converged where it changes by less than `settled`; edges that do more work than `most_heating`
    churn it.

    Of each lane: `incoming` swirl of the jets [m/s], `jets` their mass flux [kg/(s m2)], `brought`
    what a jet brings over the ring's cross-section, `fill` share of the ring that it replaces,
    `left` share of the swirl of very thick jets that the ring does not take up, `sped` swirl
    behind a mouth over that in front of it, `fast` and `slow` swirl behind and before a nozzle,
    `core` speed of the fluid in the chambers at the rim, `spent` what the mean swirl and the edges
    take from the total enthalpy, over `highest`, the largest speed possible [m/s], `drawn` work on
    the discs [J/kg], `held` swirl with which leakage leaves, `moving` 1 until it has converged.
    """
    incoming, jets, fill, total = line(PACK), line(PACK), line(PACK), line(PACK)
    enthalpy, density, viscosity = line(PACK), line(PACK), line(PACK)
    at, off, inverse, last = table(3, PACK), table(3, PACK), table(N_SLOPES, PACK), table(6, PACK)
    slow, core, spent = at[0], at[1], at[2]
    swirl, torque, on_face, work = line(PACK), line(PACK), line(PACK), line(PACK)
    leak, leaving = line(PACK), line(PACK)
    fast, now, spread = line(PACK), line(PACK), line(PACK)
    drawn, moving, rim_speed, around = line(PACK), line(PACK), line(PACK), line(PACK)
    tenth, sixth, brought, left = line(PACK), line(PACK), line(PACK), line(PACK)
    on_wall, blocked, sped, sine = line(PACK), line(PACK), line(PACK), line(PACK)
    fresh, slopes, before = line(PACK), table(N_SLOPES, PACK), table(3, PACK)
    taken, new, old = line(PACK), line(PACK), line(PACK)
    plain, highest, known_at = line(PACK), line(PACK), line(PACK)
    sizes, drags, kept = table(5, PACK), table(N_DRAGS, PACK), table(N_KEPT, PACK)
    states = table(5, PACK)
    # A copy that the compiler knows to lie apart, without which it uses no vector instructions.
    of = table(N_RING_GIVEN, PACK)
    for row in range(N_RING_GIVEN):
        for i in range(PACK):
            of[row, i] = given[row, i]
    pressure, rim, clearance, height, omega = of[3], of[6], of[7], of[8], of[10]
    # Jets. Library calls have a loop of their own.
    for i in range(PACK):
        incoming[i] = math.cos(of[4, i])
        tenth[i] = (of[15, i] / rim[i]) ** 0.1
        sixth[i] = (of[15, i] / rim[i]) ** (-1 / 6)
    for i in range(PACK):
        jet = of[1, i] * of[5, i]
        # Angle at the casing, and where a slow jet leaves it.
        along = incoming[i] * rim[i] / (rim[i] + clearance[i])
        sine[i] = root(max(1 - along * along, 0.0))
        incoming[i], enthalpy[i] = jet * incoming[i], of[2, i] - jet * jet / 2
    fluid_states(record, pressure, enthalpy, states)
    for i in range(PACK):
        flow, jet = max(of[0, i], 1e-12), max(of[1, i] * of[5, i], 1e-6)
        mach = jet / states[4, i]
        slowness = 1 / (1 + mach * mach * mach * mach)
        left[i] = LEAVING * sine[i] * slowness
        jets[i], rim_speed[i] = states[0, i] * jet, omega[i] * rim[i]
        area = of[11, i] * clearance[i] * height[i]
        brought[i] = of[13, i] * flow / max(area, 1e-30)
        # What does not fit into the ring passes between the edges, against pressure.
        kept_back = min(jets[i] / max(brought[i], 1e-30), 1.0)
        between = max(1 - of[9, i] / max(height[i], 1e-9), 1e-3)
        edges, within = 1 - between, REACH * sine[i] * kept_back
        faster = edges * edges * edges * (1 - kept_back) / (between + within)
        # The jet brings the head of its own radial speed.
        piled = PILING * faster * faster * (1 + edges * edges) - 1
        piled = max(piled, 0.0) * sine[i] * sine[i]
        blocked[i] = 1 / root(1 + piled * (1 - (1 - SLOW_MOUTH) * slowness))
        pushed = 1 + PUSHED * (1 - blocked[i]) * (1 - slowness) * kept_back
        sped[i] = (1 + (1 - slowness) * (1 / blocked[i] - 1)) * pushed
        incoming[i] *= blocked[i]
        # Sizes of the sector and of friction, of which some wait for the state.
        outside = (rim[i] + clearance[i]) / rim[i]
        around[i] = outside
        sizes[0, i] = 2 * math.pi * rim[i] / (of[11, i] * SECTOR_STEPS)
        on_wall[i] = outside * outside * of[12, i] / clearance[i]
        sizes[3, i] = FRICTION * of[9, i] / max(height[i], 1e-9) / clearance[i]
        sizes[4, i] = 2 / max(height[i], 1e-9) * MIXING_LAYER * of[14, i]
        known, turns = found[SLOWEST, i], found[CORE_SPEED, i]
        middle, warmed = (found[FASTEST, i] + known) / 2, of[2, i] - found[TOTAL_ENTHALPY, i]
        steep = 0.0
        for k in range(N_SLOPES):
            steep += found[SLOPES + k, i]
        is_known = known > 0 and turns > 0 and middle > 0 and abs(warmed) < most_heating
        is_known = is_known and abs(steep) < STEEPEST_INVERSE
        slow[i] = known if is_known else max(incoming[i], rim_speed[i]) / 2
        core[i] = turns if is_known else CORE_SWIRL * rim_speed[i]
        middle, warmed = middle if is_known else 0.7 * incoming[i], warmed if is_known else 0.0
        highest[i] = max(incoming[i] * sped[i], rim_speed[i])
        spent[i] = warmed + middle * middle / 2
        # From that at the last pressure on.
        onward = pressure[i] - found[TRIED, i] if is_known else math.nan
        for k in range(3):
            before[k, i], change = at[k, i], found[PER_PRESSURE + k, i] * onward
            bound = GUESSED * (highest[i] * highest[i] if k == 2 else at[k, i])
            at[k, i] += change if abs(change) < bound else 0.0
        spent[i] /= highest[i]
        fresh[i], moving[i] = 0.0 if is_known else 1.0, 1.0
        known_at[i] = 1 - fresh[i]
        for k in range(6):
            last[k, i] = 0.0
        for k in range(N_SLOPES):
            inverse[k, i] = slopes[k, i] = found[SLOPES + k, i] if is_known else 0.0
    # Passes: state by the mean swirl, one sector by the state, then better first guesses.
    for _ in range(RING_PASSES):
        for i in range(PACK):
            enthalpy[i] = of[2, i] - spent[i] * highest[i]
        fluid_densities_viscosities(record, pressure, enthalpy, density, viscosity)
        # Behind the nozzle, jet and old ring mix; then the sector.
        for i in range(PACK):
            # A jet slower than the ring is carried along, and no thicker than at that speed.
            full = max(jets[i], density[i] * slow[i])
            fill[i] = min(brought[i] / full, 1.0)
            empty = 1 - fill[i]
            old[i], new[i] = density[i] * slow[i] * empty, full * fill[i]
            sizes[2, i] = on_wall[i] * FRICTION * (1 + THIN_JET * empty * empty)
            taken[i] = (1 - left[i] * brought[i] / (full + brought[i])) * incoming[i] * sped[i]
            mixed = (new[i] * taken[i] + old[i] * slow[i]) / (new[i] + old[i])
            # A ring that jets speed up beyond what they bring draws fluid back out of the gaps;
            # jets slower than the ring do not.
            pull = slow[i] * slow[i] + 4 * new[i] * max(taken[i] - slow[i], 0.0) / density[i]
            fast[i] = max(min(mixed, (slow[i] + root(pull)) / 2), 1e-3)
            sizes[1, i] = density[i] * clearance[i] / viscosity[i]
        _sectors(sizes, fast, core, rim_speed, now, drags)
        for i in range(PACK):
            # Swirl into the gaps: that of the jets less all friction, in the form that is exact.
            flow, here, ahead, empty = max(of[0, i], 1e-12), slow[i], fast[i], 1 - fill[i]
            rubbed = density[i] * clearance[i] * height[i] * of[11, i] / 2
            lost = rubbed * (ahead * ahead - now[i] * now[i]) / flow
            kept_in = (taken[i] - ahead) / max(empty * here, 1e-9)
            drawn_out = (taken[i] - here) / ahead
            draws = ahead * (new[i] + old[i]) < new[i] * taken[i] + old[i] * here * (1 - 1e-12)
            gone = of[13, i] * (drawn_out if draws else kept_in) * (ahead + here) / 2
            inward = incoming[i] - (lost if new[i] > old[i] else gone)
            edge_torque, end_torque = rubbed * rim[i] * drags[1, i], rubbed * rim[i] * drags[2, i]
            # Side chambers: what leakage and ring bring turns them against casing and discs.
            turning, per_slip = core[i], density[i] * rim[i] / viscosity[i]
            face = density[i] * rim[i] * rim[i] * rim[i] / 4 * of[16, i]
            narrow, slip = of[15, i] / rim[i], rim_speed[i] - turning
            fixed, behind = turning / CORE_SWIRL, slip / (1 - CORE_SWIRL)
            braking = _face_torque(fixed, face, per_slip, narrow, tenth[i], sixth[i])
            driven = _face_torque(abs(behind), face, per_slip, narrow, tenth[i], sixth[i])
            bare = 1.75 * (braking / max(turning, 1e-9) + driven / max(abs(slip), 1e-9))
            driven = driven if behind > 0 else -driven
            seal = of[18, i] * of[18, i] / rim[i]
            # Leakage by the pressure that the turning fluid leaves over the seals.
            usual, span = CORE_SWIRL * rim_speed[i], (1 - seal / rim[i]) * density[i] / 2
            over = pressure[i] - of[19, i]
            under, whole = over - span * turning * turning, over - span * usual * usual
            leak[i] = of[17, i] * root(max(under, 0.0) / whole) if whole > 0 else 0.0
            # It leaves with the mean swirl of the ring; the gaps get the rest. Within bounds: no
            # more swirl than the jets bring, no less than the slowest of the ring has.
            share, most = min(leak[i] / flow, 1.0), max(inward, incoming[i])
            held = min(PROFILE / SECTOR_STEPS * drags[6, i], most)
            rest = (inward - share * held) / max(1 - share, LEAST_SHARE)
            rest = min(max(rest, min(inward, now[i])), most)
            # What bounds keep out of the gaps leaves with the leakage.
            apart = (inward - (1 - share) * rest) / max(share, 1e-12)
            held = apart if share * most > 1e-6 * abs(inward) else held
            leaving[i], inward = held, rest
            per_face = leak[i] / 2
            gained = per_face * (held * rim[i] - turning * seal) + end_torque / 2
            gained += driven - braking
            off[1, i] = gained / max(per_face * seal + bare, 1e-30)
            swirl[i], torque[i], on_face[i] = inward, edge_torque, -2 * driven
            powered = edge_torque * omega[i] + max(-2 * driven * omega[i], 0.0)
            work[i] = powered / flow
            # How far a sector ends from its start, and how that should change with the start.
            off[0, i] = now[i] - here
            by_start = (
                density[i] * empty * (2 * here - ahead) / (new[i] + density[i] * empty * here)
            )
            plain[i] = 1 / min(now[i] / ahead * by_start - 1, STEEPEST)
            # Energy of the mean swirl, and what the edges draw.
            middle, heating = (ahead + now[i]) / 2, min(max(work[i], -most_heating), most_heating)
            off[2, i] = (heating + middle * middle / 2) / highest[i] - spent[i]
            spread[i] = (abs(heating) + middle * middle) / highest[i]
        _guess(at, off, plain, highest, inverse, last, fresh)
        # Converged lanes keep their values.
        for i in range(PACK):
            least = highest[i] * 1e-3
            rests = abs(off[0, i]) <= settled * max(now[i], least)
            rests &= abs(off[1, i]) <= settled * max(core[i], least)
            rests &= abs(off[2, i]) <= settled * spread[i]
            moves, f = moving[i] == 1, kept
            telling = moves and abs(off[0, i]) > NOISE * max(now[i], least)
            telling = telling or fresh[i] == 1
            fresh[i] = 0.0
            for k in range(N_SLOPES):
                slopes[k, i] = inverse[k, i] if telling else slopes[k, i]
            rubbed = density[i] * clearance[i] * height[i] * of[11, i] / 2
            f[SWIRL, i] = swirl[i] if moves else f[SWIRL, i]
            f[EDGE_TORQUE, i] = torque[i] if moves else f[EDGE_TORQUE, i]
            f[CASING_TORQUE, i] = rubbed * rim[i] * drags[0, i] if moves else f[CASING_TORQUE, i]
            f[END_TORQUE, i] = rubbed * rim[i] * drags[2, i] if moves else f[END_TORQUE, i]
            f[LEAK, i] = leak[i] if moves else f[LEAK, i]
            f[LEAK_SWIRL, i] = leaving[i] if moves else f[LEAK_SWIRL, i]
            f[FACE_TORQUE, i] = on_face[i] if moves else f[FACE_TORQUE, i]
            f[CORE_SPEED, i] = core[i] if moves else f[CORE_SPEED, i]
            f[FASTEST, i] = fast[i] if moves else f[FASTEST, i]
            f[SLOWEST, i] = now[i] if moves else f[SLOWEST, i]
            on_casing, on_edges = rubbed * drags[3, i] / around[i], rubbed * drags[4, i]
            f[CASING_DISSIPATION, i] = on_casing if moves else f[CASING_DISSIPATION, i]
            f[EDGE_DISSIPATION, i] = on_edges if moves else f[EDGE_DISSIPATION, i]
            at_ends = rubbed * drags[5, i]
            f[CHAMBER_DISSIPATION, i] = at_ends if moves else f[CHAMBER_DISSIPATION, i]
            slow[i] = slow[i] + last[3, i] if moves else slow[i]
            core[i] = core[i] + last[4, i] if moves else core[i]
            spent[i] = spent[i] + last[5, i] if moves else spent[i]
            drawn[i] = work[i] if moves else drawn[i]
            total[i] = of[2, i] - min(max(drawn[i], -most_heating), most_heating)
            moving[i] = moving[i] * (0.0 if rests else 1.0)
        unsettled = 0.0
        for i in range(PACK):
            unsettled += moving[i]
        if unsettled == 0:
            break
    # State of what enters the gaps.
    for i in range(PACK):
        enthalpy[i] = total[i] - kept[SWIRL, i] * kept[SWIRL, i] / 2
    fluid_densities_viscosities(record, pressure, enthalpy, density, viscosity)
    for row in range(N_KEPT):
        for i in range(PACK):
            found[row, i] = kept[row, i]
    for i in range(PACK):
        found[TOTAL_ENTHALPY, i], found[ENTHALPY, i] = total[i], enthalpy[i]
        found[DENSITY, i], found[VISCOSITY, i] = density[i], viscosity[i]
        found[CHAMBER_DISSIPATION, i] -= max(found[FACE_TORQUE, i] * omega[i], 0.0)
        found[MOUTH_FACTOR, i] = blocked[i]
        for k in range(N_SLOPES):
            found[SLOPES + k, i] = slopes[k, i]
        onward, spent[i] = pressure[i] - found[TRIED, i], spent[i] * highest[i]
        found[TRIED, i] = pressure[i]
        for k in range(3):
            change = (at[k, i] - before[k, i]) / onward
            found[PER_PRESSURE + k, i] = change if known_at[i] == 1 else 0.0
        found[CHURNING, i] = 1.0 if abs(drawn[i]) > most_heating else 0.0
