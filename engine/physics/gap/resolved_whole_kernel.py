"""A whole march at once, for backflow that repeated sweeps do not settle.

A repeated sweep takes what comes from the bore side from the sweep before. Where much of the gap
flows outward, errors in that grow on their way, and no relaxation helps. Here the equations of all
stations (`resolved_change_kernel`) are solved together, by Newton's method.
"""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, shared
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_change_kernel import changes_of_all, remainder, station
from engine.physics.gap.resolved_exit_kernel import LOST_BY_CHOKING
from engine.physics.gap.resolved_pull_kernel import Whole
from engine.physics.gap.resolved_room_kernel import Across, Rim, Room
from engine.physics.gap.resolved_step_kernel import LEAST_SWIRL, enthalpy_of, state_at
from engine.physics.gap.resolved_sweep_kernel import (
    FIRST,
    begin_trail,
    copy,
    sweep,
)

CLOSE = 1e-3
"""Change of the profiles, relative to their size, at which the flow has settled. The last change
leaves a hundredth of it."""
LONGEST = 0.5
"""Largest change over the size of the profiles that is made at once, at a fixed rim state."""
WORSE = 2.0
"""Growth of the residual above which a change is halved. Some growth must be allowed: where nodes
turn back the slopes leap, and a residual that must fall gets stuck there."""
SMALL = 0.03
"""Change that is made without looking whether the residual grows."""
HALVINGS = 6
"""Most lengths of a change that are tried."""
MOST_WHOLE = 30
"""Most changes."""
LESS, STUCK = 0.9, 6
"""Share of the least change so far below which a change is progress, and most changes without."""
THICKER, MOST_THICKER = 1.5, 6
"""Step by which viscosity is raised for a first guess, and most such steps."""


@compiled
def _size_of(rim: Rim, n: int, trail: Lanes, change: Lanes) -> float:
    """Largest change relative to the size of what changes; NaN if not finite."""
    error, largest, total = 0.0, LEAST_SWIRL, 0.0
    for k in range(1, trail.shape[0]):
        for j in range(n):
            largest = max(largest, abs(trail[k, n + j]))
    for k in range(1, trail.shape[0]):
        at = (k - 1) * (2 * n + 3)
        for j in range(n):
            error = max(error, abs(change[at + j]), abs(change[at + n + j]) / largest)
        for j in range(2 * n + 3):
            total += change[at + j]
        error = max(error, abs(change[at + 2 * n + 1]) / trail[k, 2 * n + 1])
        error = max(error, abs(change[at + 2 * n + 2]) * rim.pressure / trail[k, 2 * n + 2])
    return float(error) if math.isfinite(total) else math.nan


@compiled
def _change_by(rim: Rim, n: int, whole: Whole, share: float, trail: Lanes) -> None:
    """Set the trail to that before the change, less a share of it."""
    for k in range(1, trail.shape[0]):
        at = (k - 1) * (2 * n + 3)
        for j in range(2 * n + 2):
            trail[k, j] = whole.start[k, j] - share * whole.change[at + j]
        of_pressure = whole.change[at + 2 * n + 2] * rim.pressure
        trail[k, 2 * n + 2] = whole.start[k, 2 * n + 2] - share * of_pressure


@shared
def improve(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    trail: Lanes,
    whole: Whole,
    room: Room,
    longest: float,
) -> float:
    """Change a whole trail once by Newton's method; the size of the full change, NaN if none.

    `longest` is the largest change, over the size of the profiles, that is made at once.
    """
    # Change of all stations.
    n = across.weights.size
    begin_trail(record, rim, across, trail[0])
    solvable, before = changes_of_all(record, rim, across, trail, whole, room)
    if not solvable:
        return math.nan
    error = _size_of(rim, n, trail, whole.change)
    if math.isnan(error):
        return math.nan
    # Shortened until the residual hardly grows; else by the share that left least.
    copy(trail, whole.start)
    share = min(longest / error, 1.0) if error > 0 else 1.0
    least, best = math.inf, share
    for _ in range(HALVINGS):
        _change_by(rim, n, whole, share, trail)
        if error < SMALL:
            for k in range(1, trail.shape[0]):
                trail[k, 2 * n + 3] = enthalpy_of(rim, across, trail[k, 2 * n + 6], trail[k])
            return error
        after = remainder(record, rim, across, trail, whole, room)
        if after < WORSE * before:
            return error
        if after < least:
            least, best = after, share
        share /= 2
    _change_by(rim, n, whole, best, trail)
    remainder(record, rim, across, trail, whole, room)
    return error


@compiled
def progress(least: float, since: int, error: float) -> tuple[float, int]:
    """Least change so far, and how many changes since one was clearly less."""
    return (error, 0) if error < LESS * least else (least, since + 1)


@compiled
def may_go_on(record: FluidRecord, rim: Rim, n: int, trail: Lanes, reached: int) -> bool:
    """Whether a march that ended at row `reached` got off the rim and is not about to choke."""
    if reached < 1:
        return False
    state = trail[reached]
    inward = rim.radial_speed / (state[2 * n + 6] * state[2 * n + 1])
    sound = state_at(record, state[2 * n + 2], state[2 * n + 3])[4]
    return bool(inward < LOST_BY_CHOKING * sound)


@compiled
def sum_braking(record: FluidRecord, rim: Rim, across: Across, trail: Lanes, room: Room) -> None:
    """Fill in the braking by the wall shear, which the other unknowns do not depend on."""
    n = across.weights.size
    for k in range(1, trail.shape[0]):
        step, wall = station(record, rim, across, trail, k, room), 0.0
        for j in range(n):
            wall += across.slope[0, j] * trail[k, n + j]
        trail[k, 2 * n + 4] = (step.old.braking - step.drag * wall) / step.rate


@compiled
def thicken(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, before: Lanes, room: Room
) -> int:
    """Fill in a first guess from a first sweep of a more viscous fluid that reaches the bore.

    Returns by how many steps viscosity was raised.
    """
    last = trail.shape[0] - 1
    for steps in range(1, MOST_THICKER + 1):
        thick = _thickened(rim, THICKER**steps)
        if sweep(record, thick, across, trail, before, FIRST, room) == last:
            return steps
    return MOST_THICKER


@compiled
def settle_whole(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    trail: Lanes,
    whole: Whole,
    room: Room,
    thicker: int,
    lowest: float,
) -> bool:
    """Solve for all stations at a fixed rim state, from a first guess in the trail.

    Viscosity goes down from `thicker` steps above that of the fluid to `lowest`; each answer is the
    first guess of the next. `lowest` is a float, as all of this would be compiled anew for each
    constant integer.
    """
    for steps in range(thicker, int(lowest) - 1, -1):
        fluid, settled = _thickened(rim, THICKER**steps), False
        least, since = math.inf, 0
        for _ in range(MOST_WHOLE):
            error = improve(record, fluid, across, trail, whole, room, LONGEST)
            settled = error < CLOSE
            least, since = progress(least, since, error)
            if settled or math.isnan(error) or since > STUCK:
                break
        if not settled:
            return False
        sum_braking(record, fluid, across, trail, room)
    return True


@compiled
def _thickened(rim: Rim, factor: float) -> Rim:
    """Rim of a fluid more viscous by a factor; only drag and Reynolds number depend on the gap."""
    return Rim(
        rim.pressure,
        rim.enthalpy,
        rim.density,
        rim.radial_speed,
        rim.spin,
        rim.plug,
        rim.radius,
        rim.span,
        rim.gap / math.sqrt(factor),
        rim.transition,
        rim.way,
    )
