"""The march of one lane at the resolved level: a sweep, with backflow repeated until it settles."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, entry
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_step_kernel import Across, Rim, Room, room_for
from engine.physics.gap.resolved_sweep_kernel import (
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
from engine.physics.gap.resolved_whole_kernel import may_go_on, settle_whole, thicken, whole_for


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
    for i in range(first, last):
        p, h, swirl, flow = given[0, i], given[1, i], given[2, i], given[3, i]
        gap, outer, inner, omega = given[4, i], given[5, i], given[6, i], given[7, i]
        rim = rim_of(record, p, h, swirl, flow, gap, outer, inner, omega, given[8, i], way)
        reached, settled = _march(record, rim, across, repeats, still, trail, before, one, room)
        end = exit_of(record, rim, across, trail, reached, settled)
        write_resolved(found, 0, i, end)
        if i < trails.shape[0]:
            copy(trail, trails[i])
            for k, value in enumerate(rim):
                rims[i, k] = value


@compiled
def _march(  # noqa: PLR0912  sweeps first, then all stations at once
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
    # Sweeps, with relaxation.
    n, last, start = across.weights.size, trail.shape[0] - 1, -1
    share, least = 1.0, math.inf
    for sweeps in range(repeats + 1):
        if sweeps == 1:
            copy(trail, before)
        elif sweeps > 1:
            blend(trail, share, before)
        reached = sweep(record, rim, across, trail, before, 1.0 * sweeps, room)
        if sweeps == 0:
            start = reached
            if reached == last and not flows_back(trail, n):
                return reached, True
            copy(trail, first)
        if reached < last:
            break
        if sweeps > 0:
            change = moved(rim, n, trail[last], before[last])
            if change < still:
                return reached, True
            if not math.isfinite(change):
                break
            share, least = learnt(share, least, change), min(least, change)
    # All stations at once, from the first sweep, then from one of a more viscous fluid.
    copy(first, trail)
    if repeats > 0 and may_go_on(record, rim, n, trail, start):
        whole = whole_for(last, n)
        for thicker in range(2):
            if thicker == 0 and start < last:
                continue
            steps = thicken(record, rim, across, trail, before, room) if thicker else 0
            if settle_whole(record, rim, across, trail, whole, room, steps, 0.0):
                return last, True
        copy(first, trail)
    return start, False
