"""The search for the rim pressure at the averaged level, compiled as a whole."""

import math

import numpy as np

from engine.physics.arrays import Lanes, Numbers
from engine.physics.compiled import PACK, compiled, entry, table
from engine.physics.flow.match_kernel import (
    ANGULAR_SPEED,
    BACK_PRESSURE,
    BORE_RADIUS,
    ENTRY,
    FROM,
    GAP,
    GAP_COUNT,
    HIGH,
    LIQUID,
    LOW,
    MISMATCH,
    N_ARRIVAL,
    N_CIRCUIT,
    N_DEPARTURE,
    N_SEARCH,
    NEXT,
    RIM_RADIUS,
    RING,
    ROTOR_FLOW,
    SUPPLY_ENTHALPY,
    SUPPLY_PRESSURE,
    TO,
    TRANSITION_FACTOR,
    arrivals,
    begin,
    departures,
    has_failed,
    keep_search,
    look_further,
    search_at,
    thrown_out_at_rim,
    without_guess,
)
from engine.physics.flow.rim_kernel import ENTRY_ENTHALPY, ENTRY_PRESSURE
from engine.physics.flow.ring_kernel import (
    BEYOND_HEATING,
    DENSITY,
    MOST_HEATING,
    SETTLED,
    SWIRL,
    TOTAL_ENTHALPY,
    TRIED,
)
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.averaged_kernel import N_ENDS, N_GAP_GIVEN, march_pack
from engine.physics.gap.turbulence_kernel import Turbulence

USUAL = 0.05
"""Start of the search: rim over supply pressure, each less the back pressure."""
COARSE_STEPS, COARSE_RING = 8, 1e-6
"""Radial steps of a march in the first, coarse part of the search, and change below which the ring
has converged there."""
NEAR = 1e-2
"""Mismatch below which the search goes on with all radial steps."""
MOST_NEARBY, MOST_COARSE, MOST = 6, 14, 80
"""Most rounds of a search that starts from a match near by, of the coarse part of any other, and
of the rest."""
NEARBY, COARSE, FINE, BETWEEN = range(4)
"""Parts of the search: from a match near by; with few radial steps; with all of them; between two
of many rim pressures."""
MANY = 32
"""Rim pressures tried for the last part. It finds 29 of 32 roots that halving missed, among 7,500
plausible builds in steam, R245fa and air."""
DEPARTURE = N_ARRIVAL + N_ENDS
RIM_PRESSURE, END, SLOPE, N_FOUND = range(DEPARTURE + N_DEPARTURE, DEPARTURE + N_DEPARTURE + 4)
"""Rows that `match_averaged` fills: arrival, ends of the march, departure (from `DEPARTURE`), rim
pressure, where the search failed the end of its bracket (`CHOKED_BELOW`, `THROWN_ABOVE`), and the
slope of the mismatch with rim pressure, NaN where it is not known [1/Pa]."""
CHOKED_BELOW, THROWN_ABOVE = 1.0, 2.0
"""Ends of a search: the gap chokes just below it, the discs throw fluid out just above it."""


@compiled
def _collect(lanes: Numbers, n_lanes: int, start: int, source: Lanes, pack: Lanes) -> None:
    """Fill a pack from the listed lanes; the last lane fills it up."""
    for j in range(PACK):
        i = lanes[min(start + j, n_lanes - 1)]
        for row in range(pack.shape[0]):
            pack[row, j] = source[row, i]


@compiled
def _arrive(
    record: FluidRecord,
    given: Lanes,
    state: Lanes,
    found: Lanes,
    lanes: Numbers,
    n_lanes: int,
    inside: Numbers,
    settled: float,
    refuses: bool,
) -> int:
    """Calculate the flow of the listed lanes up to the gaps, at the rim pressures to try next.

    Lists the lanes whose gaps take the flow in, and gives their number. The others throw fluid out,
    which is marked by an infinite mismatch, where the search `refuses` them.
    """
    circuits, here = table(N_CIRCUIT, PACK), table(N_ARRIVAL, PACK)
    tried = table(1, PACK)
    n_inside = 0
    for start in range(0, n_lanes, PACK):
        _collect(lanes, n_lanes, start, given, circuits)
        _collect(lanes, n_lanes, start, state[NEXT : NEXT + 1], tried)
        _collect(lanes, n_lanes, start, found, here)
        most = MOST_HEATING if refuses else BEYOND_HEATING
        arrivals(record, circuits, tried[0], here, settled, most)
        for j in range(min(PACK, n_lanes - start)):
            i = lanes[start + j]
            for row in range(N_ARRIVAL):
                found[row, i] = here[row, j]
            found[RIM_PRESSURE, i] = tried[0, j]
            found[DEPARTURE + MISMATCH, i] = math.inf
            if not (refuses and thrown_out_at_rim(record, circuits, here, j)):
                inside[n_inside] = i
                n_inside += 1
    return n_inside


@compiled
def _pass_through(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    found: Lanes,
    lanes: Numbers,
    n_lanes: int,
) -> None:
    """Calculate the flow of the listed lanes through the gaps and behind, pack by pack."""
    circuits, gaps = table(N_CIRCUIT, PACK), table(N_GAP_GIVEN, PACK)
    here, ends, out = table(N_ARRIVAL, PACK), table(N_ENDS, PACK), table(N_DEPARTURE, PACK)
    for start in range(0, n_lanes, PACK):
        _collect(lanes, n_lanes, start, given, circuits)
        _collect(lanes, n_lanes, start, found, here)
        for j in range(PACK):
            gaps[0, j] = here[ENTRY + ENTRY_PRESSURE, j]
            gaps[1, j] = here[ENTRY + ENTRY_ENTHALPY, j]
            gaps[2, j] = here[RING + SWIRL, j]
            gaps[3, j] = here[ROTOR_FLOW, j] / circuits[GAP_COUNT, j]
            gaps[4, j], gaps[5, j] = circuits[GAP, j], circuits[RIM_RADIUS, j]
            gaps[6, j], gaps[7, j] = circuits[BORE_RADIUS, j], circuits[ANGULAR_SPEED, j]
            gaps[8, j] = circuits[TRANSITION_FACTOR, j]
        march_pack(record, rules, steps, gaps, ends)
        departures(record, circuits, here[ROTOR_FLOW], ends[0], ends[1], ends[2], out)
        for j in range(min(PACK, n_lanes - start)):
            i = lanes[start + j]
            for row in range(N_ENDS):
                found[N_ARRIVAL + row, i] = ends[row, j]
            for row in range(N_DEPARTURE):
                found[DEPARTURE + row, i] = out[row, j]


@compiled
def _at_rest(record: FluidRecord, given: Lanes, found: Lanes, i: int) -> float:
    """Mismatch at the supply pressure where no fluid passes and what is in the gaps turns along.

    With hardly any flow through a wide gap a march may have no answer. Taken for a choked gap, that
    said of builds with a root far below that they let no flow in.
    """
    top, back = given[SUPPLY_PRESSURE, i], given[BACK_PRESSURE, i]
    rim, bore = given[RIM_RADIUS, i], given[BORE_RADIUS, i]
    turned = given[ANGULAR_SPEED, i] ** 2 * (rim * rim - bore * bore) / 2
    drop = found[RING + DENSITY, i] * turned / top
    left = 1 - drop if record.kind == LIQUID else math.exp(-drop)
    return float((top * max(left, 0.0) - back) / (top - back))


@compiled
def _begin_nearby(
    given: Lanes, nearby: Numbers, state: Lanes, found: Lanes, tolerance: float, lanes: Numbers
) -> int:
    """Begin searches from matches near by, moved to the supply of each lane.

    Puts the lanes that have one first in `lanes`, and gives their number.
    """
    n_lanes = 0
    for j in range(lanes.size):
        i, k = lanes[j], nearby[lanes[j]]
        bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
        found[END, i], found[DEPARTURE + MISMATCH, i] = 0.0, math.nan
        if k >= 0 and abs(found[DEPARTURE + MISMATCH, k]) <= tolerance and found[SLOPE, k] > 0:
            wider = (top - bottom) / (given[SUPPLY_PRESSURE, k] - given[BACK_PRESSURE, k])
            start = bottom + wider * (found[RIM_PRESSURE, k] - given[BACK_PRESSURE, k])
            keep_search(state, i, begin(bottom, top, start, found[SLOPE, k] / wider))
            for row in range(RING, ENTRY):
                found[row, i] = found[row, k]
            found[RING + TRIED, i] = start
            warmer = given[SUPPLY_ENTHALPY, i] - given[SUPPLY_ENTHALPY, k]
            found[RING + TOTAL_ENTHALPY, i] += warmer
            lanes[n_lanes], lanes[j] = i, lanes[n_lanes]
            n_lanes += 1
    return n_lanes


@compiled
def _begin_anew(
    given: Lanes, state: Lanes, found: Lanes, tolerance: float, begun: Numbers, lanes: Numbers
) -> int:
    """Begin the searches of lanes that are not matched yet.

    Lists them in `begun` and `lanes`, and gives their number.
    """
    n_lanes = 0
    for i in begun:
        if not abs(found[DEPARTURE + MISMATCH, i]) <= tolerance:
            bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
            start = bottom + USUAL * (top - bottom)
            keep_search(state, i, begin(bottom, top, start, 1 / (top - bottom)))
            without_guess(found[:, i : i + 1])
            found[END, i], found[SLOPE, i] = 0.0, math.nan
            begun[n_lanes] = lanes[n_lanes] = i
            n_lanes += 1
    return n_lanes


@compiled
def _begin_between(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    state: Lanes,
    found: Lanes,
    begun: Numbers,
    n_begun: int,
    lanes: Numbers,
    inside: Numbers,
    refuses: bool,
) -> int:
    """Begin searches between the first two of many rim pressures that have a root between them.

    For lanes whose marches failed, of gas and vapour. A march fails where its gap chokes, but also
    where hardly any flow turns back; what has an answer may lie between, and be missed by halving.
    Where flow turns back before it is little enough, the last answer is the end.
    """
    n_failed = n_lanes = 0
    for j in range(n_begun):
        i = begun[j]
        if record.kind != LIQUID and found[END, i] != 0:
            lanes[n_failed] = i
            n_failed += 1
            state[FROM, i] = state[TO, i] = math.nan
    for k in range(MANY if n_failed else 0):
        for j in range(n_failed):
            i = lanes[j]
            bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
            state[NEXT, i] = bottom + (k + 0.5) / MANY * (top - bottom)
            without_guess(found[:, i : i + 1])
        n_inside = _arrive(record, given, state, found, lanes, n_failed, inside, SETTLED, refuses)
        _pass_through(record, rules, steps, given, found, inside, n_inside)
        for j in range(n_failed):
            i = lanes[j]
            mismatch, is_open = found[DEPARTURE + MISMATCH, i], math.isnan(state[TO, i])
            if is_open and -1 < mismatch < 0:
                state[FROM, i] = state[NEXT, i]
            elif is_open and 0 <= mismatch < math.inf and not math.isnan(state[FROM, i]):
                state[TO, i] = state[NEXT, i]
    for j in range(n_failed):
        i, low, high = lanes[j], state[FROM, lanes[j]], state[TO, lanes[j]]
        found[DEPARTURE + MISMATCH, i] = -1.0
        if not math.isnan(high):
            keep_search(state, i, begin(low, high, (low + high) / 2, math.nan))
            found[END, i] = 0.0
            lanes[n_lanes] = i
            n_lanes += 1
        elif not math.isnan(low):
            found[END, i], state[LOW, i] = THROWN_ABOVE, low
    return n_lanes


@compiled
def _at_the_end(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    state: Lanes,
    found: Lanes,
    begun: Numbers,
    n_begun: int,
    inside: Numbers,
    refuses: bool,
) -> None:
    """Calculate the flow of failed searches at the end of their bracket that has an answer.

    That is just above choking, or just below where the fluid turns back.
    """
    n_lanes = 0
    for j in range(n_begun):
        i = begun[j]
        if found[END, i] != 0 and not abs(found[DEPARTURE + MISMATCH, i]) < 1:
            state[NEXT, i] = state[HIGH if found[END, i] == CHOKED_BELOW else LOW, i]
            if given[BACK_PRESSURE, i] < state[NEXT, i] < given[SUPPLY_PRESSURE, i]:
                inside[n_lanes] = i
                n_lanes += 1
                without_guess(found[:, i : i + 1])
            for row in range(N_ENDS - 1):
                found[N_ARRIVAL + row, i] = math.nan
    lanes = inside[:n_lanes].copy()
    n_inside = _arrive(record, given, state, found, lanes, n_lanes, inside, SETTLED, refuses)
    _pass_through(record, rules, steps, given, found, inside, n_inside)


@compiled
def _take_up_again(found: Lanes, begun: Numbers, n_begun: int, lanes: Numbers) -> int:
    """List the lanes begun, but those that throw fluid out at any rim pressure."""
    n_lanes = 0
    for j in range(n_begun):
        if found[END, begun[j]] != THROWN_ABOVE:
            lanes[n_lanes] = begun[j]
            n_lanes += 1
    return n_lanes


@compiled
def _look_on(
    record: FluidRecord,
    given: Lanes,
    state: Lanes,
    found: Lanes,
    lanes: Numbers,
    n_lanes: int,
    part: int,
    is_last: bool,
    tolerance: float,
) -> int:
    """Choose the next rim pressure of each lane listed, and whether its search has ended.

    Lists the lanes that go on, and gives their number.
    """
    left = 0
    for j in range(n_lanes):
        i = lanes[j]
        mismatch, search = found[DEPARTURE + MISMATCH, i], search_at(state, i)
        bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
        if search.next == top and mismatch == -1:
            mismatch = _at_rest(record, given, found, i)
        elif mismatch == -1 and search.low > bottom and not search.choked:
            # More flow had an answer: this is no choking, but fluid that turns back.
            mismatch = math.inf if _at_rest(record, given, found, i) > 0 else -1.0
        pumps = search.next == top and mismatch < 0
        failed = has_failed(search)
        onward = look_further(search, mismatch)
        # The coarse search ends as the start of the next, with its slope if known.
        if part == COARSE:
            done = pumps or failed or is_last
            slope = math.nan
            if abs(mismatch) < NEAR and onward.slope > 0:
                done, slope = True, onward.slope
            place = top if pumps else onward.next
            if done:
                onward = begin(bottom, top, place, slope)
            if failed and search.thrown and math.isnan(search.last):
                found[END, i] = THROWN_ABOVE
        else:
            done = pumps or failed or abs(mismatch) <= tolerance
            # A match near by leads nowhere where the gap chokes or throws fluid out.
            done = done or (part == NEARBY and not abs(mismatch) < 1)
            end = CHOKED_BELOW if failed and search.choked else 0.0
            found[END, i] = THROWN_ABOVE if failed and search.thrown else end
            found[SLOPE, i] = onward.slope
        keep_search(state, i, onward)
        if not done:
            lanes[left] = i
            left += 1
    return left


@entry
def match_averaged(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    tolerance: float,
    refuses: bool,
    given: Lanes,
    which: Numbers,
    nearby: Numbers,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    """Find the matched points of the lanes that `which` lists from `first` to before `last`.

    Columns of `given` are lanes, rows those of circuits. `nearby` names the lane, matched by an
    earlier call, from which each lane starts; -1 for none. Each round tries one rim pressure in
    every lane that is left; `lanes` lists those. Where discs throw liquid out at the rim, the
    search `refuses` to follow it.
    """
    state = np.empty((N_SEARCH, given.shape[1]))
    lanes, begun = which[first:last].copy(), which[first:last].copy()
    inside, n_begun = np.empty_like(lanes), 0
    # From a match near by. Where that fails, and elsewhere, a coarse search with few radial steps
    # until near the root, then one with all. Where marches fail, between two that do not.
    for part in (NEARBY, COARSE, FINE, BETWEEN):
        if part == NEARBY:
            n_lanes = _begin_nearby(given, nearby, state, found, tolerance, lanes)
        elif part == COARSE:
            n_begun = n_lanes = _begin_anew(given, state, found, tolerance, begun, lanes)
        elif part == FINE:
            n_lanes = _take_up_again(found, begun, n_begun, lanes)
        else:
            n_lanes = _begin_between(
                record, rules, steps, given, state, found, begun, n_begun, lanes, inside, refuses
            )
        length = COARSE_STEPS if part == COARSE else steps
        settled = COARSE_RING if part == COARSE else SETTLED
        most = (MOST_NEARBY, MOST_COARSE, MOST, MOST)[part]
        for k in range(most):
            if n_lanes == 0:
                break
            n_inside = _arrive(
                record, given, state, found, lanes, n_lanes, inside, settled, refuses
            )
            _pass_through(record, rules, length, given, found, inside, n_inside)
            is_last = k == most - 1
            n_lanes = _look_on(
                record, given, state, found, lanes, n_lanes, part, is_last, tolerance
            )
    _at_the_end(record, rules, steps, given, state, found, begun, n_begun, inside, refuses)
