"""All stations of a march at once, for flow with backflow on which repeated sweeps do not settle.

A sweep takes what comes from the bore side from the sweep before. Where much of the gap flows
outward, errors in that grow on their way, and no relaxation helps. Here the equations of
`resolved_step_kernel` at every station are solved together, by Newton's method with a banded
matrix.

The share of the bore side differs from that of a sweep. There a node that has just turned back
still counts the side behind in part, against its own direction; then the equations of all stations
may have no solution. Here both sides count by the sign of the flux. Up to `TURNING` above zero this
form, which does not conserve momentum exactly, gives way to that of a sweep.

A station has the unknowns of a step, then pressure over that at the rim.
"""

import math
from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.elimination_kernel import eliminate_band
from engine.physics.gap.resolved_step_kernel import (
    FLUX_SLOPE,
    LEAST_SWIRL,
    OLD_ANGULAR,
    OLD_FLUX,
    OLD_MOMENTUM,
    REVERSE,
    SWIRL_SLOPE,
    Across,
    Rim,
    Room,
    Step,
    equations,
    slopes,
    state_at,
    thermal,
    upwind,
)
from engine.physics.gap.resolved_sweep_kernel import (
    LOST_BY_CHOKING,
    begin_trail,
    copy,
    drag_at,
    extrapolated,
    length_and_ratio,
    look_ahead,
    look_back,
    sweep,
)

TURNING = 0.3
"""Flux over mean inward flux, here or at the stations behind, below which fluid is taken from the
side it comes from. With 0.1 fewer lanes settle (66 for 72 of 78)."""
CLOSE = 1e-3
"""Change of the profiles, relative to their size, at which the flow has settled. The last change
leaves a hundredth of it."""
LONGEST = 0.5
"""Largest change over the size of the profiles that is made at once."""
WORSE = 2.0
"""Growth of the residual above which a change is halved. Some growth must be allowed: where nodes
turn back the slopes leap, and a residual that must fall gets stuck there."""
HALVINGS = 6
"""Most lengths of a change that are tried."""
MOST_WHOLE = 30
"""Most changes."""
THICKER, MOST_THICKER = 1.5, 6
"""Step by which viscosity is raised for a first guess, and most such steps."""
BEHIND, AHEAD = 3, 2
"""Stations on either side that a station depends on."""


class Whole(NamedTuple):
    """Work space for a whole march; a row of `band` begins `below` columns before the diagonal."""

    band: Lanes
    residual: Lanes
    change: Lanes
    start: Lanes  # trail before a change


@compiled
def _band_width(n: int) -> tuple[int, int]:
    """Columns of the matrix below and above the diagonal, for n interior nodes."""
    size = 2 * n + 3
    return (BEHIND + 1) * size - 1, (AHEAD + 1) * size - 1


@compiled
def whole_for(n_steps: int, n: int) -> Whole:
    """Allocate work space for n interior nodes."""
    size = 2 * n + 3
    below, above = _band_width(n)
    return Whole(
        np.zeros((n_steps * size, 2 * below + above + 1)),
        np.zeros(n_steps * size),
        np.zeros(n_steps * size),
        np.zeros((n_steps + 1, 2 * n + 7)),
    )


@compiled
def _least(trail: Lanes, k: int, j: int) -> tuple[float, int]:
    """Least flux at a node, at station k and those behind, and how many stations behind it is."""
    least, lag = trail[k, j], 0
    for back in range(1, min(BEHIND, k - 1) + 1):
        if trail[k - back, j] < least:
            least, lag = trail[k - back, j], back
    return least, lag


@compiled
def _station(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, k: int, room: Room
) -> Step:
    """Set up the step to station k, with what comes from either side taken from the trail."""
    n = across.weights.size
    length, ratio = length_and_ratio(rim, k, trail.shape[0] - 1)
    rate, behind = look_back(trail, k, n, length, room)
    ahead_rate = look_ahead(trail, trail, True, k, n, length, room)
    for j in range(n):
        least, _ = _least(trail, k, j)
        room.nodes[REVERSE, j] = min(max(1 - least / TURNING, 0.0), 1.0)
    # Drag as in a sweep, from extrapolated pressure and enthalpy.
    p = 2 * n + 2
    drag = drag_at(record, rim, extrapolated(trail, k, p), extrapolated(trail, k, p + 1), ratio)
    trail[k, 2 * n + 5], trail[k, 2 * n + 6] = drag, ratio
    return Step(ratio, rate, drag, ahead_rate, True, behind)


@compiled
def remainder(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, whole: Whole, room: Room
) -> float:
    """Fill in the residual of all stations; returns its size."""
    n, total, at = across.weights.size, 0.0, 0
    for k in range(1, trail.shape[0]):
        step, state = _station(record, rim, across, trail, k, room), trail[k]
        equations(record, rim, across, step, state, room)
        pressure, state[2 * n + 3] = thermal(rim, across, step, state)
        for j in range(2 * n + 2):
            whole.residual[at + j] = room.residual[j]
            part = room.residual[j] / (step.rate if j < 2 * n else 1.0)
            total += part * part
        off = (state[2 * n + 2] - pressure) / rim.pressure
        whole.residual[at + 2 * n + 2] = off
        total, at = total + off * off, at + 2 * n + 3
    return math.sqrt(total / at)


@compiled
def assemble(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, whole: Whole, room: Room
) -> None:
    """Fill in the Jacobian of all stations."""
    n, last, band = across.weights.size, trail.shape[0] - 1, whole.band
    size = 2 * n + 3
    below, _ = _band_width(n)
    band.fill(0.0)
    for k in range(1, last + 1):
        step, state = _station(record, rim, across, trail, k, room), trail[k]
        equations(record, rim, across, step, state, room)
        slopes(record, rim, across, step, state, room)
        # The station itself; an element j columns right of the diagonal is at below + j.
        rows = band[(k - 1) * size : k * size]
        for i in range(2 * n + 2):
            for j in range(2 * n + 2):
                rows[i, below + j - i] = room.matrix[i, j]
        push = rim.radial_speed * rim.radial_speed * rim.density / (rim.pressure * step.rate)
        rows[2 * n + 2, below] = 1.0
        rows[2 * n + 2, below - 2] = -push
        rows[2 * n + 2, below - 1] = rim.way * push * step.ratio * rim.spin * rim.spin
        # Stations behind and ahead, by the weights of the differences.
        pressure, enthalpy = thermal(rim, across, step, state)
        by_pressure = state_at(record, pressure, enthalpy)[1] * rim.pressure / rim.density
        w1, w2, w3 = step.rate, 0.0, 0.0
        if k == 2:
            w1, w2 = step.rate * 4 / 3, -step.rate / 3
        elif k > 2:
            w1, w2, w3 = step.rate * 18 / 11, step.rate * -9 / 11, step.rate * 2 / 11
        for lag in range(1, min(BEHIND, k - 1) + 1):
            weight = w1 if lag == 1 else (w2 if lag == 2 else w3)
            _look_to(rows, below - lag * size, weight, across, trail[k - lag], state, room)
            rows[2 * n + 1, below - lag * size + 1] = -by_pressure * weight / step.rate
            rows[2 * n + 2, below - lag * size] = -weight / step.rate
        a1, a2 = -step.ahead_rate, 0.0
        if k + 2 <= last:
            a1, a2 = step.ahead_rate * -4 / 3, step.ahead_rate / 3
        for lead in range(1, min(AHEAD, last - k) + 1):
            weight = a1 if lead == 1 else a2
            for i in range(n):
                carried = room.nodes[REVERSE, i] * min(state[i], 0.0) * weight
                rows[i, below + lead * size] += carried
                rows[n + i, below + lead * size] += carried
        _share_changes(rows, below, size, step, trail, k, room)


@compiled
def _look_to(
    rows: Lanes, shift: int, weight: float, across: Across, old: Lanes, state: Lanes, room: Room
) -> None:
    """Jacobian of the momentum at a station with the state `old` of one behind."""
    n, nodes = across.weights.size, room.nodes
    for i in range(n):
        flux, swirl, here = state[i], state[n + i], weight * (1 - nodes[REVERSE, i])
        for j in range(n):
            turned = weight * across.integral[i, j]
            rows[i, shift + j - i] = turned * nodes[FLUX_SLOPE, i + 1]
            rows[n + i, shift + j - n - i] = turned * nodes[SWIRL_SLOPE, i + 1]
        upwind_only = (weight - here) * max(flux, 0.0)
        rows[i, shift] += here * (flux - 2 * old[i]) - upwind_only
        rows[n + i, shift - n] += here * (swirl - old[n + i])
        rows[n + i, shift] -= here * old[i] + upwind_only
        rows[i, shift + 2 * n + 1 - i] = flux * flux * weight / state[2 * n + 1]


@compiled
def _share_changes(
    rows: Lanes, below: int, size: int, step: Step, trail: Lanes, k: int, room: Room
) -> None:
    """Jacobian by the share `REVERSE`, which changes with the least flux."""
    nodes, state, n = room.nodes, trail[k], (size - 3) // 2
    for i in range(n):
        least, lag = _least(trail, k, i)
        if 0 < least < TURNING:
            flux, swirl, shift = state[i], state[n + i], below - lag * size
            pace, known_flux, known_swirl = upwind(step, flux, nodes, i)
            conserved = flux * nodes[OLD_FLUX, i] - nodes[OLD_MOMENTUM, i]
            rows[i, shift] -= (flux * (pace * flux + known_flux) - conserved) / TURNING
            conserved = swirl * nodes[OLD_FLUX, i] - nodes[OLD_ANGULAR, i]
            rows[n + i, shift - n] -= (flux * (pace * swirl + known_swirl) - conserved) / TURNING


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


@compiled
def improve(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, whole: Whole, room: Room
) -> float:
    """Change a whole trail once by Newton's method; the size of the full change, NaN if none."""
    # Change of all stations.
    n = across.weights.size
    begin_trail(record, rim, across, trail[0])
    before = remainder(record, rim, across, trail, whole, room)
    assemble(record, rim, across, trail, whole, room)
    for j in range(whole.change.size):
        whole.change[j] = whole.residual[j]
    below, above = _band_width(n)
    if not eliminate_band(whole.band, below, above, whole.change):
        return math.nan
    error = _size_of(rim, n, trail, whole.change)
    if math.isnan(error):
        return math.nan
    # Shortened until the residual hardly grows; else by the share that left least.
    copy(trail, whole.start)
    share = min(LONGEST / error, 1.0) if error > 0 else 1.0
    least, best = math.inf, share
    for _ in range(HALVINGS):
        _change_by(rim, n, whole, share, trail)
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
        step, wall = _station(record, rim, across, trail, k, room), 0.0
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
        if sweep(record, thick, across, trail, before, 0.0, room) == last:
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
        for _ in range(MOST_WHOLE):
            error = improve(record, fluid, across, trail, whole, room)
            settled = error < CLOSE
            if settled or math.isnan(error):
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
