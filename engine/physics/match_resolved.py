"""The search for the rim pressure around the resolved march, compiled end to end."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluid import FluidRecord
from engine.physics.gap_step_kernel import Across, Rim, Room, room_for
from engine.physics.gap_sweep_kernel import (
    N_EXIT,
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
from engine.physics.match_kernel import (
    N_ARRIVAL,
    Arrival,
    CircuitLane,
    arrive,
    begin,
    circuit_lane,
    has_failed,
    leave,
    look_further,
    write_arrival,
    write_departure,
)

MOST = 60
"""Marches of the search before any is repeated."""
CLOSE = 1e-4
"""Mismatch from which a march with backflow is repeated while the search goes on."""
LOOSER = 10
"""Tolerance of a mismatch whose march goes on learning, over that of another: it swings."""
N_FOUND = N_ARRIVAL + N_EXIT + 3 + 2
"""Rows that `match_resolved` fills: arrival, gap, departure, rim pressure, choked below."""


@compiled
def _rim(record: FluidRecord, c: CircuitLane, here: Arrival) -> Rim:
    entry, flow = here.entry, here.rotor_flow / c.gap_count
    return rim_of(
        record,
        entry.pressure,
        entry.enthalpy,
        here.ring.swirl,
        flow,
        c.gap,
        c.rim_radius,
        c.bore_radius,
        c.angular_speed,
    )


@compiled
def _match(
    record: FluidRecord,
    across: Across,
    repeats: int,
    still: float,
    tolerance: float,
    c: CircuitLane,
    guess: float,
    trail: Lanes,
    before: Lanes,
    room: Room,
    found: Lanes,
    i: int,
) -> None:
    """Find where the flow closes; with backflow, at the same time as the march settles.

    A march that is swept again at a pressure that hardly moves learns from the sweep before, so
    the two searches cost little more than one.
    """
    n, last = across.weights.size, trail.shape[0] - 1
    row, p, h = N_ARRIVAL + N_EXIT, 2 * n + 2, 2 * n + 3
    bottom, top = c.back_pressure, c.nozzle.stagnation_pressure
    search = begin(bottom, top, guess, 1 / (top - bottom))
    here = arrive(record, c, guess)
    rim, back = _rim(record, c, here), False
    mismatch, reached, failed, settled = -1.0, -1, False, False
    for k in range(MOST):
        if k > 0:
            here = arrive(record, c, search.next)
            rim = _rim(record, c, here)
        reached = sweep(record, rim, across, trail, before, False, room)
        mismatch = leave(record, c, here.rotor_flow, trail[last, p], trail[last, h]).mismatch
        back = reached == last and flows_back(trail, n)
        settled = reached == last and not back
        failed = has_failed(search)
        if failed or abs(mismatch) <= (CLOSE if back else tolerance):
            break
        search = look_further(search, mismatch)
    pressure, slope = search.next, search.slope
    if back and not failed:
        pressure -= mismatch / slope
        share, least = 1.0, math.inf
        copy(trail, before)
        for _ in range(repeats):
            blend(trail, share, before)
            here = arrive(record, c, pressure)
            rim = _rim(record, c, here)
            reached = sweep(record, rim, across, trail, before, True, room)
            mismatch = leave(record, c, here.rotor_flow, trail[last, p], trail[last, h]).mismatch
            change = moved(rim, n, trail[last], before[last])
            settled = abs(mismatch) <= LOOSER * tolerance and change < still
            if settled or not math.isfinite(change):
                break
            share, least = learnt(share, least, change), min(least, change)
            pressure = min(max(pressure - mismatch / slope, bottom), top)
    end = exit_of(record, rim, across, trail, reached, settled)
    write_arrival(found, i, here)
    write_resolved(found, N_ARRIVAL, i, end)
    out = leave(record, c, here.rotor_flow, end.exit_pressure, end.exit_enthalpy)
    write_departure(found, row, i, out)
    found[row + 3, i] = pressure
    found[row + 4, i] = 1.0 if failed and search.choked else 0.0


@compiled
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
    """Match lanes: columns of `given` as `circuit_lane` reads them, from guessed pressures."""
    n = across.weights.size
    room, trail, before = room_for(n), trail_for(n_steps, n), trail_for(n_steps, n)
    for i in range(first, last):
        _match(
            record,
            across,
            repeats,
            still,
            tolerance,
            circuit_lane(given, i),
            guess[i],
            trail,
            before,
            room,
            found,
            i,
        )
