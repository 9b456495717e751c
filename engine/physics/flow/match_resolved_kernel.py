"""The search for the rim pressure at the resolved level, compiled as a whole."""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, entry
from engine.physics.flow.match_kernel import (
    ANGULAR_SPEED,
    BACK_PRESSURE,
    BORE_RADIUS,
    ENTRY,
    GAP,
    GAP_COUNT,
    N_ARRIVAL,
    N_DEPARTURE,
    RIM_RADIUS,
    RING,
    ROTOR_FLOW,
    SUPPLY_PRESSURE,
    TRANSITION_FACTOR,
    arrive,
    begin,
    has_failed,
    leave,
    look_further,
)
from engine.physics.flow.rim_kernel import ENTRY_ENTHALPY, ENTRY_PRESSURE
from engine.physics.flow.ring_kernel import SWIRL
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.answer import INWARD
from engine.physics.gap.resolved_change_kernel import Whole, whole_for
from engine.physics.gap.resolved_step_kernel import Across, Rim, Room, room_for
from engine.physics.gap.resolved_sweep_kernel import (
    N_EXIT,
    angular_momentum,
    blend,
    copy,
    exit_of,
    flows_back,
    learnt,
    moved,
    rim_of,
    sweep,
    trail_for,
    write_resolved,
)
from engine.physics.gap.resolved_whole_kernel import (
    CLOSE as CLOSE_WHOLE,
)
from engine.physics.gap.resolved_whole_kernel import (
    STUCK,
    improve,
    may_go_on,
    progress,
    settle_whole,
    sum_braking,
    thicken,
)

MOST = 60
"""Most marches of the search before any is repeated."""
NEAR, CLOSE = 1e-2, 1e-4
"""Mismatch below which all stations of a march with backflow are solved at once, and below which it
is repeated while the search goes on, where that fails."""
LOOSER = 10
"""Tolerance of the mismatch of a repeated march, which oscillates, over that of any other."""
NEARLY = 0.03
"""Change of the profiles below which mismatches of a march tell the slope to go by."""


class Pace(NamedTuple):
    """How all stations are solved at once."""

    longest: float  # largest change over the size of the profiles that is made at once
    roughly: float  # change of the profiles below which the pressure is changed too
    most: int  # changes


STEEPER = 5.0
"""Most that the slope of the mismatch may differ from that of a rigid drop, as a factor."""
QUICK, CAREFUL = Pace(1.0, 1.0, 14), Pace(0.5, NEARLY, 30)
"""The first serves most builds in two thirds of the time; the other settles a few more."""
N_FOUND = N_ARRIVAL + N_EXIT + N_DEPARTURE + 2
"""Rows that `match_resolved` fills: arrival, exit of the gap, departure, rim pressure, and 1 where
the gap chokes just below it."""


@compiled
def _rim(record: FluidRecord, given: Lanes, i: int, found: Lanes) -> Rim:
    """Rim of a lane, after its arrival."""
    return rim_of(
        record,
        found[ENTRY + ENTRY_PRESSURE, i],
        found[ENTRY + ENTRY_ENTHALPY, i],
        found[RING + SWIRL, i],
        found[ROTOR_FLOW, i] / given[GAP_COUNT, i],
        given[GAP, i],
        given[RIM_RADIUS, i],
        given[BORE_RADIUS, i],
        given[ANGULAR_SPEED, i],
        given[TRANSITION_FACTOR, i],
        INWARD,
    )


@compiled
def _leave(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    given: Lanes,
    i: int,
    trail: Lanes,
    found: Lanes,
    row: int,
) -> float:
    """Departure of a lane from the last station of its trail; gives the mismatch."""
    n, out = across.weights.size, trail[trail.shape[0] - 1]
    swirl = rim.radial_speed * angular_momentum(rim, across, out) / out[2 * n + 6]
    return leave(record, given, i, out[2 * n + 2], out[2 * n + 3], swirl, found, row)


@compiled
def _match(
    record: FluidRecord,
    across: Across,
    repeats: int,
    still: float,
    tolerance: float,
    given: Lanes,
    i: int,
    guess: float,
    slope: float,
    trail: Lanes,
    before: Lanes,
    whole: Whole,
    room: Room,
    found: Lanes,
) -> None:
    """Find the matched point of lane `i`.

    With backflow all stations are solved at once, while the search goes on. Where that fails they
    are led in from a more viscous fluid. Last, the march is repeated, as a sweep that uses the one
    before it, which still serves when the rim pressure hardly changes.

    `row` is the first row of the departure, `back` tells whether there is backflow.
    """
    # Search with one sweep a march.
    n, last = across.weights.size, trail.shape[0] - 1
    row = N_ARRIVAL + N_EXIT
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    rigid = 1 / (top - bottom)
    likely = rigid / STEEPER < slope < rigid * STEEPER
    search = begin(bottom, top, guess, slope if likely else rigid)
    arrive(record, given, i, guess, found)
    rim, back, tried = _rim(record, given, i, found), False, False
    mismatch, reached, failed, settled = -1.0, -1, False, False
    pressure = guess
    for k in range(MOST):
        if k > 0:
            arrive(record, given, i, search.next, found)
            rim = _rim(record, given, i, found)
        reached = sweep(record, rim, across, trail, before, 0.0, room)
        mismatch = _leave(record, rim, across, given, i, trail, found, row)
        back = reached == last and flows_back(trail, n)
        settled = reached == last and not back
        failed = has_failed(search)
        if back and not (tried or failed) and abs(mismatch) <= NEAR:
            tried = True
            copy(trail, before)
            at = search.next, search.slope
            settled, pressure = _close(
                record, across, LOOSER * tolerance, given, i, at, QUICK, trail, whole, room, found
            )
            if settled:
                break
            copy(before, trail)
            arrive(record, given, i, search.next, found)
        pressure = search.next
        if failed or abs(mismatch) <= (CLOSE if back else tolerance):
            break
        search = look_further(search, mismatch)
    end = exit_of(record, _rim(record, given, i, found), across, trail, reached, settled)
    # Where that fails: from the guess on, then by repeated sweeps from the pressure found.
    if not settled and not end.choked:
        widely, at = LOOSER * tolerance, (guess, rigid)
        closed, there = _match_whole(
            record, across, widely, given, i, at, trail, before, whole, room, found
        )
        if not closed and back and not failed:
            at = pressure - mismatch / search.slope, search.slope
            arrive(record, given, i, pressure, found)
            sweep(record, _rim(record, given, i, found), across, trail, before, 0.0, room)
            closed, there = _repeat(
                record, across, repeats, still, widely, given, i, at, trail, before, room, found
            )
        if closed:
            pressure, failed = there, False
            end = exit_of(record, _rim(record, given, i, found), across, trail, last, True)
        else:
            arrive(record, given, i, pressure, found)
    # Exit of the gap and departure at the pressure found.
    write_resolved(found, N_ARRIVAL, i, end)
    leave(record, given, i, end.exit_pressure, end.exit_enthalpy, end.exit_swirl, found, row)
    found[row + N_DEPARTURE, i] = pressure
    found[row + N_DEPARTURE + 1, i] = 1.0 if failed and search.choked else 0.0


@compiled
def _repeat(
    record: FluidRecord,
    across: Across,
    repeats: int,
    still: float,
    tolerance: float,
    given: Lanes,
    i: int,
    at: tuple[float, float],
    trail: Lanes,
    before: Lanes,
    room: Room,
    found: Lanes,
) -> tuple[bool, float]:
    """Repeat the sweep of lane `i`, one sweep and one secant step in turn, until both settle.

    `at` is the rim pressure to begin with and the slope of the mismatch. Gives whether both
    settled, and the pressure.
    """
    n, last, row = across.weights.size, trail.shape[0] - 1, N_ARRIVAL + N_EXIT
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    pressure, slope = at
    share, least = 1.0, math.inf
    copy(trail, before)
    for _ in range(repeats):
        blend(trail, share, before)
        arrive(record, given, i, pressure, found)
        rim = _rim(record, given, i, found)
        sweep(record, rim, across, trail, before, 1.0, room)
        mismatch = _leave(record, rim, across, given, i, trail, found, row)
        change = moved(rim, n, trail[last], before[last])
        if abs(mismatch) <= tolerance and change < still:
            return True, pressure
        if not math.isfinite(change):
            break
        share, least = learnt(share, least, change), min(least, change)
        pressure = min(max(pressure - mismatch / slope, bottom), top)
    return False, pressure


@compiled
def _close(
    record: FluidRecord,
    across: Across,
    tolerance: float,
    given: Lanes,
    i: int,
    at: tuple[float, float],
    pace: Pace,
    trail: Lanes,
    whole: Whole,
    room: Room,
    found: Lanes,
) -> tuple[bool, float]:
    """Find the matched point of lane `i` from a trail near it, all stations solved at once.

    `at` is the rim pressure of the trail and the slope of the mismatch there. Newton's method on
    the march and secant steps on the pressure in turn, where the march is nearly right.
    """
    row, bottom, top = N_ARRIVAL + N_EXIT, given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    (pressure, slope), rigid = at, 1 / (top - bottom)
    tried, tried_mismatch, least, since = math.nan, math.nan, math.inf, 0
    rim = _rim(record, given, i, found)
    for _ in range(pace.most):
        error = improve(record, rim, across, trail, whole, room, pace.longest)
        mismatch = _leave(record, rim, across, given, i, trail, found, row)
        least, since = progress(least, since, error)
        if math.isnan(error) or since > STUCK:
            break
        if error < CLOSE_WHOLE and abs(mismatch) <= tolerance:
            sum_braking(record, rim, across, trail, room)
            return True, pressure
        if error < NEARLY:
            measured = (mismatch - tried_mismatch) / (pressure - tried)
            if measured > rigid / STEEPER:
                slope = min(measured, STEEPER * rigid)
            tried, tried_mismatch = pressure, mismatch
        if error < pace.roughly and abs(mismatch) > tolerance / LOOSER:
            pressure = min(max(pressure - mismatch / slope, bottom), top)
            arrive(record, given, i, pressure, found)
            rim = _rim(record, given, i, found)
    return False, pressure


@compiled
def _match_whole(
    record: FluidRecord,
    across: Across,
    tolerance: float,
    given: Lanes,
    i: int,
    at: tuple[float, float],
    trail: Lanes,
    before: Lanes,
    whole: Whole,
    room: Room,
    found: Lanes,
) -> tuple[bool, float]:
    """Find the matched point of lane `i` with all stations solved at once, from a guess on.

    The search before may have been led astray by leaps of the first sweep. `at` is as in `_close`.
    """
    # From marches of a more viscous fluid, then from a first sweep.
    n, last = across.weights.size, trail.shape[0] - 1
    for attempt in range(2):
        arrive(record, given, i, at[0], found)
        rim = _rim(record, given, i, found)
        reached = sweep(record, rim, across, trail, before, 0.0, room)
        if not may_go_on(record, rim, n, trail, reached):
            break
        if attempt == 0:
            steps = thicken(record, rim, across, trail, before, room)
            if not settle_whole(record, rim, across, trail, whole, room, steps, 1.0):
                continue
        elif reached < last:
            break
        closed, pressure = _close(
            record, across, tolerance, given, i, at, CAREFUL, trail, whole, room, found
        )
        if closed:
            return True, pressure
    return False, at[0]


@entry
def match_resolved(
    record: FluidRecord,
    across: Across,
    n_steps: int,
    repeats: int,
    still: float,
    tolerance: float,
    given: Lanes,
    near: Lanes,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    """Find the matched points of lanes from `first` to before `last`.

    `near` has two rows: rim pressures to begin with, and slopes of the mismatch there, or NaN.
    """
    n = across.weights.size
    room, trail, before = room_for(n), trail_for(n_steps, n), trail_for(n_steps, n)
    whole = whole_for(n_steps, n)
    for i in range(first, last):
        _match(
            record,
            across,
            repeats,
            still,
            tolerance,
            given,
            i,
            near[0, i],
            near[1, i],
            trail,
            before,
            whole,
            room,
            found,
        )
