"""The search for the rim pressure at the resolved level, compiled as a whole."""

import math

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
    MOST_WHOLE,
    improve,
    may_go_on,
    settle_whole,
    sum_braking,
    thicken,
    whole_for,
)

MOST = 60
"""Most marches of the search before any is repeated."""
CLOSE = 1e-4
"""Mismatch below which a march with backflow is repeated while the search goes on."""
LOOSER = 10
"""Tolerance of the mismatch of a repeated march, which oscillates, over that of any other."""
NEARLY = 0.03
"""Change of the profiles below which the mismatch of a march tells how to change the pressure."""
STEEPER = 5.0
"""Most that the slope of the mismatch may differ from that of a rigid drop, as a factor."""
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
    trail: Lanes,
    before: Lanes,
    room: Room,
    found: Lanes,
) -> None:
    """Find the matched point of lane `i`; with backflow, while the march itself converges.

    A sweep uses the sweep before it, which still serves when the rim pressure hardly changes. So
    searching for both at once costs little more than one of the two.

    `row` is the first row of the departure, `back` tells whether there is backflow.
    """
    # Search with one sweep a march.
    n, last = across.weights.size, trail.shape[0] - 1
    row = N_ARRIVAL + N_EXIT
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    search = begin(bottom, top, guess, 1 / (top - bottom))
    arrive(record, given, i, guess, found)
    rim, back = _rim(record, given, i, found), False
    mismatch, reached, failed, settled = -1.0, -1, False, False
    for k in range(MOST):
        if k > 0:
            arrive(record, given, i, search.next, found)
            rim = _rim(record, given, i, found)
        reached = sweep(record, rim, across, trail, before, 0.0, room)
        mismatch = _leave(record, rim, across, given, i, trail, found, row)
        back = reached == last and flows_back(trail, n)
        settled = reached == last and not back
        failed = has_failed(search)
        if failed or abs(mismatch) <= (CLOSE if back else tolerance):
            break
        search = look_further(search, mismatch)
    # With backflow: one sweep and one secant step in turn, by the slope of the search.
    pressure, slope = search.next, search.slope
    if back and not failed:
        pressure -= mismatch / slope
        share, least = 1.0, math.inf
        copy(trail, before)
        for _ in range(repeats):
            blend(trail, share, before)
            arrive(record, given, i, pressure, found)
            rim = _rim(record, given, i, found)
            reached = sweep(record, rim, across, trail, before, 1.0, room)
            mismatch = _leave(record, rim, across, given, i, trail, found, row)
            change = moved(rim, n, trail[last], before[last])
            settled = abs(mismatch) <= LOOSER * tolerance and change < still
            if settled or not math.isfinite(change):
                break
            share, least = learnt(share, least, change), min(least, change)
            pressure = min(max(pressure - mismatch / slope, bottom), top)
    end = exit_of(record, rim, across, trail, reached, settled)
    # Where they do not settle: all stations and the rim pressure at once.
    if not settled and not end.choked:
        closed, at = _match_whole(
            record, across, LOOSER * tolerance, given, i, guess, trail, before, room, found
        )
        if closed:
            pressure, failed = at, False
            rim = _rim(record, given, i, found)
            end = exit_of(record, rim, across, trail, last, True)
        else:
            arrive(record, given, i, pressure, found)
    # Exit of the gap and departure at the pressure found.
    write_resolved(found, N_ARRIVAL, i, end)
    leave(record, given, i, end.exit_pressure, end.exit_enthalpy, end.exit_swirl, found, row)
    found[row + N_DEPARTURE, i] = pressure
    found[row + N_DEPARTURE + 1, i] = 1.0 if failed and search.choked else 0.0


@compiled
def _match_whole(
    record: FluidRecord,
    across: Across,
    tolerance: float,
    given: Lanes,
    i: int,
    guess: float,
    trail: Lanes,
    before: Lanes,
    room: Room,
    found: Lanes,
) -> tuple[bool, float]:
    """Find the matched point of lane `i` with all stations of the march solved at once.

    Newton's method on the march and secant steps on the rim pressure in turn, from the guessed
    pressure on: the search before may have been led astray by leaps of the first sweep.
    """
    # From a first sweep, then from marches of a more viscous fluid.
    n, last = across.weights.size, trail.shape[0] - 1
    row = N_ARRIVAL + N_EXIT
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    whole, rigid = whole_for(last, n), 1 / (top - bottom)
    for attempt in range(2):
        arrive(record, given, i, guess, found)
        rim = _rim(record, given, i, found)
        if attempt == 0:
            reached = sweep(record, rim, across, trail, before, 0.0, room)
            if not may_go_on(record, rim, n, trail, reached):
                break
            if reached < last:
                continue
        else:
            steps = thicken(record, rim, across, trail, before, room)
            if not settle_whole(record, rim, across, trail, whole, room, steps, 1.0):
                break
        # Changes of the march, and of the pressure where the march is nearly right.
        pressure, slope, tried, tried_mismatch = guess, rigid, math.nan, math.nan
        for _ in range(MOST_WHOLE):
            error = improve(record, rim, across, trail, whole, room)
            mismatch = _leave(record, rim, across, given, i, trail, found, row)
            if math.isnan(error):
                break
            if error < CLOSE_WHOLE and abs(mismatch) <= tolerance:
                sum_braking(record, rim, across, trail, room)
                return True, pressure
            if error < NEARLY:
                measured = (mismatch - tried_mismatch) / (pressure - tried)
                if measured > rigid / STEEPER:
                    slope = min(measured, STEEPER * rigid)
                tried, tried_mismatch = pressure, mismatch
                pressure = min(max(pressure - mismatch / slope, bottom), top)
                arrive(record, given, i, pressure, found)
                rim = _rim(record, given, i, found)
    return False, guess


@entry
def match_resolved(
    record: FluidRecord,
    across: Across,
    n_steps: int,
    repeats: int,
    still: float,
    tolerance: float,
    given: Lanes,
    guess: Lanes,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    """Find the matched points of lanes from `first` to before `last`, from guessed pressures."""
    n = across.weights.size
    room, trail, before = room_for(n), trail_for(n_steps, n), trail_for(n_steps, n)
    for i in range(first, last):
        _match(
            record,
            across,
            repeats,
            still,
            tolerance,
            given,
            i,
            guess[i],
            trail,
            before,
            room,
            found,
        )
