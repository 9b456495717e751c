"""The march of one lane at the resolved level: a sweep, with backflow repeated until it settles."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, entry
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_exit_kernel import exit_of, write_resolved
from engine.physics.gap.resolved_pull_kernel import Whole, whole_for
from engine.physics.gap.resolved_room_kernel import Across, Rim, Room, room_for
from engine.physics.gap.resolved_sweep_kernel import (
    AGAIN,
    FIRST,
    blend,
    copy,
    flows_back,
    learnt,
    moved,
    rim_of,
    sweep,
    trail_for,
)
from engine.physics.gap.resolved_whole_kernel import may_go_on, settle_whole, thicken


@entry
def march_lanes(
    record: FluidRecord,
    across: Across,
    n_steps: int,
    repeats: int,
    still: float,
    way: float,
    given: Lanes,
    found: Lanes,
    trails: Lanes,
    rims: Lanes,
    first: int,
    last: int,
) -> None:
    """March lanes from `first` to before `last`; `way` is that of `resolved_step_kernel.Rim`.

    Exits go to `found`; trails and rims are kept where there is room for them (one row a lane).
    """
    n = across.weights.size
    room, one = room_for(n), trail_for(n_steps, n)
    trail, before = trail_for(n_steps, n), trail_for(n_steps, n)
    whole = whole_for(n_steps, n)
    for i in range(first, last):
        p, h, swirl, flow = given[0, i], given[1, i], given[2, i], given[3, i]
        gap, outer, inner, omega = given[4, i], given[5, i], given[6, i], given[7, i]
        rim = rim_of(record, p, h, swirl, flow, gap, outer, inner, omega, given[8, i], way)
        reached, settled = _march(
            record, rim, across, repeats, still, trail, before, one, whole, room
        )
        end = exit_of(record, rim, across, trail, reached, settled)
        write_resolved(found, 0, i, end)
        if i < trails.shape[0]:
            copy(trail, trails[i])
            for k, value in enumerate(rim):
                rims[i, k] = value


@compiled
def _march(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    repeats: int,
    still: float,
    trail: Lanes,
    before: Lanes,
    first: Lanes,
    whole: Whole,
    room: Room,
) -> tuple[int, bool]:
    """March, and with backflow solve all stations at once.

    From the first sweep; where that fails, the sweep is repeated until pressure drop and torque
    settle; where they do not, from the first sweep of a more viscous fluid. A lane that does not
    settle keeps its first sweep. Returns the last row that converged, and whether the lane settled.
    """
    n, last = across.weights.size, trail.shape[0] - 1
    start = sweep(record, rim, across, trail, before, FIRST, room)
    if start == last and not flows_back(trail, n):
        return start, True
    copy(trail, first)
    if repeats == 0 or not may_go_on(record, rim, n, trail, start):
        return start, False
    if start == last:
        if settle_whole(record, rim, across, trail, whole, room, 0, 0.0):
            return last, True
        copy(first, trail)
        if _repeat(record, rim, across, repeats, still, trail, before, room):
            return last, True
    steps = thicken(record, rim, across, trail, before, room)
    if settle_whole(record, rim, across, trail, whole, room, steps, 0.0):
        return last, True
    copy(first, trail)
    return start, False


@compiled
def _repeat(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    repeats: int,
    still: float,
    trail: Lanes,
    before: Lanes,
    room: Room,
) -> bool:
    """Repeat the sweep, with relaxation, until pressure drop and torque settle."""
    n, last = across.weights.size, trail.shape[0] - 1
    share, least = 1.0, math.inf
    copy(trail, before)
    for _ in range(repeats):
        blend(trail, share, before)
        reached = sweep(record, rim, across, trail, before, AGAIN, room)
        change = moved(rim, n, trail[last], before[last])
        if reached < last or not math.isfinite(change):
            return False
        if change < still:
            return True
        share, least = learnt(share, least, change), min(least, change)
    return False
