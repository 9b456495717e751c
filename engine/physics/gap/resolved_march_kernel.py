"""The march of one lane at the resolved level: a sweep, with backflow repeated until it settles."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_step_kernel import Across, Rim, Room
from engine.physics.gap.resolved_sweep_kernel import (
    blend,
    copy,
    flows_back,
    learnt,
    moved,
    sweep,
)
from engine.physics.gap.resolved_whole_kernel import lead_in, may_go_on, settle_whole


@compiled
def march_lane(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    repeats: int,
    still: float,
    trail: Lanes,
    before: Lanes,
    first: Lanes,
    room: Room,
) -> tuple[int, bool]:
    """March, and with backflow repeat the sweep until pressure drop and torque settle.

    Where repeated sweeps do not settle, all stations are solved at once. A lane that does not
    settle so either keeps its first sweep. Returns the last row that converged, and whether the
    lane settled.
    """
    # First sweep.
    n, last = across.weights.size, trail.shape[0] - 1
    reached = sweep(record, rim, across, trail, before, False, room)
    if reached == last and not flows_back(trail, n):
        return reached, True
    if repeats == 0:
        return reached, False
    copy(trail, first)
    if reached == last and _repeat(record, rim, across, repeats, still, trail, before, room):
        return reached, True
    # All stations at once.
    copy(first, trail)
    if may_go_on(record, rim, n, trail, reached):
        if reached == last and settle_whole(record, rim, across, trail, room):
            return last, True
        if lead_in(record, rim, across, trail, before, room) and settle_whole(
            record, rim, across, trail, room
        ):
            return last, True
        copy(first, trail)
    return reached, False


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
    """Repeat the sweep in `trail`, with relaxation; returns whether it settled."""
    n, last = across.weights.size, trail.shape[0] - 1
    copy(trail, before)
    share, least = 1.0, math.inf
    for _ in range(repeats):
        blend(trail, share, before)
        if sweep(record, rim, across, trail, before, True, room) < last:
            break
        change = moved(rim, n, trail[last], before[last])
        if change < still:
            return True
        if not math.isfinite(change):
            break
        share, least = learnt(share, least, change), min(least, change)
    return False
