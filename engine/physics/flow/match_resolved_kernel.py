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
from engine.physics.gap.resolved_exit_kernel import (
    N_EXIT,
    ResolvedExit,
    angular_momentum,
    exit_of,
    write_resolved,
)
from engine.physics.gap.resolved_mesh_kernel import Effort, Mesh, carry, mesh_for
from engine.physics.gap.resolved_room_kernel import Across, Rim
from engine.physics.gap.resolved_sweep_kernel import (
    AGAIN,
    CLOSE_BY,
    FIRST,
    UPWIND,
    begin_trail,
    blend,
    copy,
    flows_back,
    learnt,
    moved,
    rim_of,
    sweep,
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


class Outcome(NamedTuple):
    """What a search on a mesh ends with; its trail is that of the mesh."""

    end: ResolvedExit
    back: bool  # whether fluid moves outward
    pressure: float  # at the rim [Pa]
    mismatch: float
    slope: float  # of the mismatch there [1/Pa]
    failed: bool  # whether the bracket became too narrow
    choked_below: bool  # whether the gap chokes just below the end of the search


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
def _leave(record: FluidRecord, rim: Rim, mesh: Mesh, given: Lanes, i: int, found: Lanes) -> float:
    """Departure of a lane from the last station of its trail; gives the mismatch."""
    n, out = mesh.across.weights.size, mesh.trail[mesh.trail.shape[0] - 1]
    swirl = rim.radial_speed * angular_momentum(rim, mesh.across, out) / out[2 * n + 6]
    return leave(record, given, i, out[2 * n + 2], out[2 * n + 3], swirl, found, N_ARRIVAL + N_EXIT)


@compiled
def _sweep(record: FluidRecord, rim: Rim, mesh: Mesh, kind: float) -> int:
    """March a lane along its mesh once."""
    return sweep(record, rim, mesh.across, mesh.trail, mesh.before, kind, mesh.room)


@compiled
def _search(
    record: FluidRecord, mesh: Mesh, given: Lanes, i: int, guess: float, slope: float, found: Lanes
) -> Outcome:
    """Look for the matched point of lane `i` by one sweep a march, each close by the one before.

    With backflow all stations are solved at once as soon as the search is near.
    """
    n, last, trail = mesh.across.weights.size, mesh.trail.shape[0] - 1, mesh.trail
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    rigid = 1 / (top - bottom)
    likely = rigid / STEEPER < slope < rigid * STEEPER
    search = begin(bottom, top, guess, slope if likely else rigid)
    back, tried, failed, settled = False, False, False, False
    mismatch, reached, pressure, steep = -1.0, -1, guess, rigid
    for _ in range(MOST):
        arrive(record, given, i, search.next, found)
        rim = _rim(record, given, i, found)
        near = reached == last and abs(mismatch) <= NEAR
        if near:
            copy(trail, mesh.before)
            reached = _sweep(record, rim, mesh, CLOSE_BY)
        if not near or reached < last:
            reached = _sweep(record, rim, mesh, FIRST)
        mismatch = _leave(record, rim, mesh, given, i, found)
        back = reached == last and flows_back(trail, n)
        settled = reached == last and not back
        failed = has_failed(search)
        pressure, steep = search.next, search.slope
        if back and not (tried or failed) and abs(mismatch) <= NEAR:
            tried = True
            copy(trail, mesh.before)
            settled, pressure = _approach(record, mesh, given, i, pressure, mismatch, steep, found)
            if settled:
                break
            copy(mesh.before, trail)
            pressure = search.next
            arrive(record, given, i, pressure, found)
        if failed or abs(mismatch) <= (CLOSE if back else mesh.effort.tolerance):
            break
        search = look_further(search, mismatch)
    end = exit_of(record, _rim(record, given, i, found), mesh.across, trail, reached, settled)
    return Outcome(end, back, pressure, mismatch, steep, failed, failed and search.choked)


@compiled
def _rescue(
    record: FluidRecord, mesh: Mesh, given: Lanes, i: int, guess: float, lost: Outcome, found: Lanes
) -> Outcome:
    """Find the matched point of lane `i` where the search did not.

    All stations at once from the first guess on, led in from a more viscous fluid. Last, the march
    is repeated, as a sweep that uses the one before it, which still serves when the rim pressure
    hardly changes.
    """
    closed, pressure = _match_whole(record, mesh, given, i, guess, found)
    if not closed and lost.back and not lost.failed:
        arrive(record, given, i, lost.pressure, found)
        _sweep(record, _rim(record, given, i, found), mesh, FIRST)
        onward = lost.pressure - lost.mismatch / lost.slope
        closed, pressure = _repeat(record, mesh, given, i, onward, lost.slope, found)
    if not closed:
        return lost
    return _closed(record, mesh, given, i, pressure, lost.slope, found)


@compiled
def _closed(
    record: FluidRecord,
    mesh: Mesh,
    given: Lanes,
    i: int,
    pressure: float,
    slope: float,
    found: Lanes,
) -> Outcome:
    """Outcome of a march that is matched."""
    n, last, trail = mesh.across.weights.size, mesh.trail.shape[0] - 1, mesh.trail
    end = exit_of(record, _rim(record, given, i, found), mesh.across, trail, last, True)
    return Outcome(end, flows_back(trail, n), pressure, 0.0, slope, False, False)


@compiled
def _match(
    record: FluidRecord,
    coarse: Mesh,
    carried: Lanes,
    fine: Mesh,
    given: Lanes,
    i: int,
    guess: float,
    slope: float,
    found: Lanes,
) -> None:
    """Find the matched point of lane `i`.

    Where a search does not, a coarse mesh tells whether there is one, at a third of the work.
    """
    outcome = _search(record, fine, given, i, guess, slope, found)
    if not (outcome.end.settled or outcome.end.choked):
        rough = _search(record, coarse, given, i, guess, slope, found)
        if not (rough.end.settled or rough.end.choked):
            rough = _rescue(record, coarse, given, i, guess, rough, found)
        if rough.end.settled:
            carry(coarse, carried, fine)
            refined, pressure = _refine(record, fine, given, i, rough, found)
            if refined:
                outcome = _closed(record, fine, given, i, pressure, rough.slope, found)
            else:
                outcome = _rescue(record, fine, given, i, guess, outcome, found)
        if not outcome.end.settled:
            arrive(record, given, i, outcome.pressure, found)
    # Exit of the gap and departure at the pressure found.
    end, row = outcome.end, N_ARRIVAL + N_EXIT
    write_resolved(found, N_ARRIVAL, i, end)
    leave(record, given, i, end.exit_pressure, end.exit_enthalpy, end.exit_swirl, found, row)
    found[row + N_DEPARTURE, i] = outcome.pressure
    found[row + N_DEPARTURE + 1, i] = 1.0 if outcome.choked_below else 0.0


@compiled
def _refine(
    record: FluidRecord, mesh: Mesh, given: Lanes, i: int, near: Outcome, found: Lanes
) -> tuple[bool, float]:
    """Find the matched point of lane `i` from that on a coarser mesh, already carried over.

    Gives whether that was possible, and the rim pressure.
    """
    last, pressure, slope = mesh.trail.shape[0] - 1, near.pressure, near.slope
    arrive(record, given, i, pressure, found)
    rim = _rim(record, given, i, found)
    begin_trail(record, rim, mesh.across, mesh.trail[0])
    if not near.back:
        copy(mesh.trail, mesh.before)
        if _sweep(record, rim, mesh, CLOSE_BY) < last:
            return False, pressure
    return _close(record, mesh, given, i, pressure, slope, CAREFUL, found)


@compiled
def _repeat(
    record: FluidRecord,
    mesh: Mesh,
    given: Lanes,
    i: int,
    pressure: float,
    slope: float,
    found: Lanes,
) -> tuple[bool, float]:
    """Repeat the sweep of lane `i`, one sweep and one secant step in turn, until both settle.

    It begins with the rim pressure given, and goes by the slope of the mismatch. Gives whether both
    settled, and the pressure.
    """
    n, trail, before = mesh.across.weights.size, mesh.trail, mesh.before
    last, tolerance = trail.shape[0] - 1, LOOSER * mesh.effort.tolerance
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    share, least = 1.0, math.inf
    copy(trail, before)
    for _ in range(mesh.effort.repeats):
        blend(trail, share, before)
        arrive(record, given, i, pressure, found)
        rim = _rim(record, given, i, found)
        _sweep(record, rim, mesh, AGAIN)
        mismatch = _leave(record, rim, mesh, given, i, found)
        change = moved(rim, n, trail[last], before[last])
        if abs(mismatch) <= tolerance and change < mesh.effort.still:
            return True, pressure
        if not math.isfinite(change):
            break
        share, least = learnt(share, least, change), min(least, change)
        pressure = min(max(pressure - mismatch / slope, bottom), top)
    return False, pressure


@compiled
def _close(
    record: FluidRecord,
    mesh: Mesh,
    given: Lanes,
    i: int,
    pressure: float,
    slope: float,
    pace: Pace,
    found: Lanes,
) -> tuple[bool, float]:
    """Find the matched point of lane `i` from a trail near it, all stations solved at once.

    `pressure` is the rim pressure of the trail and `slope` that of the mismatch there. Newton's
    method on the march and secant steps on the pressure in turn, where the march is nearly right.
    Gives whether both settled, and the pressure.
    """
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    rigid, tolerance = 1 / (top - bottom), LOOSER * mesh.effort.tolerance
    tried, tried_mismatch, least, since = math.nan, math.nan, math.inf, 0
    across, trail, whole, room = mesh.across, mesh.trail, mesh.whole, mesh.room
    rim = _rim(record, given, i, found)
    for _ in range(pace.most):
        error = improve(record, rim, across, trail, whole, room, pace.longest)
        mismatch = _leave(record, rim, mesh, given, i, found)
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
def _approach(
    record: FluidRecord,
    mesh: Mesh,
    given: Lanes,
    i: int,
    pressure: float,
    mismatch: float,
    slope: float,
    found: Lanes,
) -> tuple[bool, float]:
    """Find the matched point of lane `i` from a first sweep near it that flows back.

    The sweep, in the trail and in `mesh.before`, is repeated first with the equations of all
    stations, at better pressures. That is a start so near that it saves two changes of five. Where
    it leads nowhere, the first sweep is the start. Gives what `_close` does.
    """
    trail, last = mesh.trail, mesh.trail.shape[0] - 1
    bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
    onward = min(max(pressure - mismatch / slope, bottom), top)
    arrive(record, given, i, onward, found)
    rim = _rim(record, given, i, found)
    reached = _sweep(record, rim, mesh, UPWIND)
    left = _leave(record, rim, mesh, given, i, found)
    if reached == last and abs(left) <= NEAR:
        onward = min(max(onward - left / slope, bottom), top)
        arrive(record, given, i, onward, found)
        closed, onward = _close(record, mesh, given, i, onward, slope, QUICK, found)
        if closed:
            return True, onward
    copy(mesh.before, trail)
    arrive(record, given, i, pressure, found)
    return _close(record, mesh, given, i, pressure, slope, QUICK, found)


@compiled
def _match_whole(
    record: FluidRecord, mesh: Mesh, given: Lanes, i: int, guess: float, found: Lanes
) -> tuple[bool, float]:
    """Find the matched point of lane `i` with all stations solved at once, from a guess on.

    The search before may have been led astray by leaps of the first sweep. Gives what `_close`
    does.
    """
    # From marches of a more viscous fluid, then from a first sweep.
    across, trail, whole, room = mesh.across, mesh.trail, mesh.whole, mesh.room
    n, last = across.weights.size, trail.shape[0] - 1
    rigid = 1 / (given[SUPPLY_PRESSURE, i] - given[BACK_PRESSURE, i])
    for attempt in range(2):
        arrive(record, given, i, guess, found)
        rim = _rim(record, given, i, found)
        reached = _sweep(record, rim, mesh, FIRST)
        if not may_go_on(record, rim, n, trail, reached):
            break
        if attempt == 0:
            steps = thicken(record, rim, across, trail, mesh.before, room)
            if not settle_whole(record, rim, across, trail, whole, room, steps, 1.0):
                continue
        elif reached < last:
            break
        closed, pressure = _close(record, mesh, given, i, guess, rigid, CAREFUL, found)
        if closed:
            return True, pressure
    return False, guess


@entry
def match_resolved(
    record: FluidRecord,
    coarse: tuple[Across, int, Effort],
    fine: tuple[Across, int, Effort],
    carried: Lanes,
    given: Lanes,
    near: Lanes,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    """Find the matched points of lanes from `first` to before `last`.

    Each mesh is given by its nodes across, steps and effort, and `carried` is the matrix from the
    nodes of the coarse one to those of the fine one. `near` has two rows: rim pressures to begin
    with, and slopes of the mismatch there, or NaN.
    """
    rough, mesh = mesh_for(*coarse), mesh_for(*fine)
    for i in range(first, last):
        _match(record, rough, carried, mesh, given, i, near[0, i], near[1, i], found)
