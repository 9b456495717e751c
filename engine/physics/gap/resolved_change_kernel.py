"""The equations of all stations of a march together, and Newton's change of them.

A station depends on three behind as a whole, but on two ahead only by the nodes that flow outward.
So the change of a station is found in terms of those few values ahead (`changes_of_all`), and from
the bore back to the rim they are filled in. That takes a tenth of the time of a banded matrix.

The share of the bore side differs from that of a sweep. There a node that has just turned back
still counts the side behind in part, against its own direction; then the equations of all stations
may have no solution. Here both sides count by the sign of the flux. Up to `TURNING` above zero this
form, which does not conserve momentum exactly, gives way to that of a sweep.

A station has the unknowns of a step, then pressure over that at the rim.
"""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, less, whole_quads
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.elimination_kernel import factorise, substitute, substitute_all
from engine.physics.gap.resolved_pull_kernel import Whole, pull_columns, pull_known
from engine.physics.gap.resolved_room_kernel import REVERSE, Across, Rim, Room, Step
from engine.physics.gap.resolved_step_kernel import equations, slopes, thermal
from engine.physics.gap.resolved_sweep_kernel import (
    BEHIND,
    drag_at,
    extrapolated,
    length_and_ratio,
    look_ahead,
    look_back,
    share_by_side,
)


@compiled
def station(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, k: int, room: Room
) -> Step:
    """Set up the step to station k, with what comes from either side taken from the trail."""
    n = across.weights.size
    length, ratio = length_and_ratio(rim, k, trail.shape[0] - 1)
    rate, behind = look_back(trail, k, n, length, room)
    ahead_rate = look_ahead(trail, trail, True, k, n, length, room)
    share_by_side(trail, k, n, room)
    # Drag as in a sweep, from extrapolated pressure and enthalpy.
    p = 2 * n + 2
    drag = drag_at(record, rim, extrapolated(trail, k, p), extrapolated(trail, k, p + 1), ratio)
    trail[k, 2 * n + 5], trail[k, 2 * n + 6] = drag, ratio
    return Step(ratio, rate, drag, ahead_rate, True, behind)


@compiled
def _residual_at(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    trail: Lanes,
    k: int,
    whole: Whole,
    room: Room,
) -> tuple[Step, float]:
    """Fill in the residual of station k; gives its step and the sum of squares."""
    n, total = across.weights.size, 0.0
    at = (k - 1) * (2 * n + 3)
    step, state = station(record, rim, across, trail, k, room), trail[k]
    equations(record, rim, across, step, state, room)
    pressure, state[2 * n + 3] = thermal(rim, across, step, state)
    for j in range(2 * n + 2):
        whole.residual[at + j] = room.residual[j]
        part = room.residual[j] / (step.rate if j < 2 * n else 1.0)
        total += part * part
    off = (state[2 * n + 2] - pressure) / rim.pressure
    whole.residual[at + 2 * n + 2] = off
    return step, total + off * off


@compiled
def remainder(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, whole: Whole, room: Room
) -> float:
    """Fill in the residual of all stations; returns its size."""
    total = 0.0
    for k in range(1, trail.shape[0]):
        total += _residual_at(record, rim, across, trail, k, whole, room)[1]
    return math.sqrt(total / whole.residual.size)


@compiled
def _list_turned(n: int, trail: Lanes, whole: Whole) -> tuple[int, int, int]:
    """List the nodes that flow outward anywhere; gives their number, first and last station."""
    count, first, last = 0, trail.shape[0], 0
    for j in range(n):
        turns = False
        for k in range(1, trail.shape[0]):
            if trail[k, j] < 0:
                turns, first, last = True, min(first, k), max(last, k)
        if turns:
            whole.turned[count] = j
            count += 1
    return count, first, last


@compiled
def changes_of_all(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, whole: Whole, room: Room
) -> tuple[bool, float]:
    """Newton's change of all stations, to be subtracted from the trail, into `whole.change`.

    Each station is solved for its change in terms of the turned values of the two stations ahead.
    Columns of a right-hand side and of an answer: what is known, then one column for each turned
    value one station ahead, then one for each two ahead. In `behind` they are those of the station
    at hand and of the one ahead. Gives whether it is solvable, and the size of the residual.
    """
    n, last, total = across.weights.size, trail.shape[0] - 1, 0.0
    count, begins, ends = _list_turned(n, trail, whole)
    for lag in range(BEHIND):
        for i in range(2 * n + 3):
            whole.known[lag, i] = 0.0
    for k in range(1, last + 1):
        step, squares = _residual_at(record, rim, across, trail, k, whole, room)
        total += squares
        slopes(record, rim, across, step, trail[k], room)
        # Nothing before the first turned node, nor behind the last, looks ahead.
        if not begins <= k <= ends + 2:
            onward = pull_known(record, rim, across, step, trail, k, whole, room)
            if not factorise(room.matrix, room.factors):
                return False, math.nan
            substitute(room.factors, room.residual)
            _keep_known(rim, step, n, k, onward, whole, room)
            continue
        width = 4 * count + 1
        if k == begins:
            _begin_columns(n, width, whole)
        pull_columns(record, rim, across, step, trail, k, width, whole, room)
        _set_up(trail[k], step, k, last, count, whole, room)
        if not factorise(room.matrix, room.factors):
            return False, math.nan
        substitute_all(room.factors, whole.right, whole_quads(width))
        _keep(rim, step, n, k, count, width, whole)
    _fill_in(n, last, count, begins, ends, whole)
    return True, math.sqrt(total / whole.residual.size)


@compiled
def _begin_columns(n: int, width: int, whole: Whole) -> None:
    """Prepare the stations behind the first that has columns of turned values."""
    for lag in range(BEHIND):
        for i in range(2 * n + 3):
            whole.behind[lag, i, 0] = whole.known[lag, i]
            for c in range(1, width):
                whole.behind[lag, i, c] = 0.0


@compiled
def _set_up(
    state: Lanes, step: Step, k: int, last: int, count: int, whole: Whole, room: Room
) -> None:
    """Set up the right-hand sides of a station; its turned values behind go to its matrix."""
    n, half, right, pull = (state.size - 7) // 2, 2 * count, whole.right, whole.pull
    at = (k - 1) * (2 * n + 3)
    for i in range(2 * n + 2):
        right[i, 0] = whole.residual[at + i] - pull[i, 0]
        for c in range(half):
            right[i, 1 + c] = -pull[i, 1 + half + c]
            right[i, 1 + half + c] = 0.0
        for q in range(count):
            j = int(whole.turned[q])
            room.matrix[i, j] += pull[i, 1 + q]
            room.matrix[i, n + j] += pull[i, 1 + count + q]
    _look_ahead(step, state, k, last, count, whole, room)


@compiled
def _look_ahead(
    step: Step, state: Lanes, k: int, last: int, count: int, whole: Whole, room: Room
) -> None:
    """Add what the turned values ahead do to a station to its right-hand sides."""
    n, right = (state.size - 7) // 2, whole.right
    one, two = (-step.ahead_rate if k < last else 0.0), 0.0
    if k + 2 <= last:
        one, two = step.ahead_rate * -4 / 3, step.ahead_rate / 3
    for q in range(count):
        j = int(whole.turned[q])
        carried = room.nodes[REVERSE, j] * min(state[j], 0.0)
        right[j, 1 + q] -= carried * one
        right[j, 1 + 2 * count + q] -= carried * two
        right[n + j, 1 + count + q] -= carried * one
        right[n + j, 1 + 3 * count + q] -= carried * two


@compiled
def _keep_known(
    rim: Rim, step: Step, n: int, k: int, of_pressure: float, whole: Whole, room: Room
) -> None:
    """Keep the change of station k, in `room.residual`, where nothing looks ahead."""
    at, p, own, found = (k - 1) * (2 * n + 3), 2 * n + 2, whole.known[k % BEHIND], room.residual
    push = rim.radial_speed * rim.radial_speed * rim.density / (rim.pressure * step.rate)
    by_density = rim.way * push * step.ratio * rim.spin * rim.spin
    for i in range(p):
        own[i] = whole.change[at + i] = found[i]
    own[p] = push * found[2 * n] - by_density * found[2 * n + 1]
    own[p] += whole.residual[at + p] + of_pressure
    whole.change[at + p] = own[p]


@compiled
def _keep(rim: Rim, step: Step, n: int, k: int, count: int, width: int, whole: Whole) -> None:
    """Keep the answer of station k, and put it into those of the stations behind."""
    answer, half = whole.answers[k], 2 * count
    for i in range(2 * n + 2):
        for c in range(width):
            answer[i, c] = whole.right[i, c]
    # Pressure, by forcing and density here and by the pressure behind.
    push = rim.radial_speed * rim.radial_speed * rim.density / (rim.pressure * step.rate)
    by_density = rim.way * push * step.ratio * rim.spin * rim.spin
    p, pull = 2 * n + 2, whole.pull[2 * n + 2]
    for c in range(width):
        answer[p, c] = push * answer[2 * n, c] - by_density * answer[2 * n + 1, c]
    at = (k - 1) * (2 * n + 3)
    answer[p, 0] += whole.residual[at + p] + pull[0]
    for c in range(half):
        answer[p, 1 + c] += pull[1 + half + c]
    for q in range(half):
        row = _row(n, q, count, whole)
        less(answer, p, 0, answer, row, -pull[1 + q], 0, whole_quads(width))
    _pass_on(n, k, count, width, whole)
    own = whole.behind[k % BEHIND]
    for i in range(2 * n + 3):
        whole.change[at + i] = answer[i, 0]
        for c in range(width):
            own[i, c] = answer[i, c]
    for lag in range(BEHIND):
        for i in range(2 * n + 3):
            whole.known[lag, i] = whole.behind[lag, i, 0]


@compiled
def _pass_on(n: int, k: int, count: int, width: int, whole: Whole) -> None:
    """Put the answer of station k into those behind it: by turned values one and two ahead of k."""
    answer, passed, half = whole.answers[k], whole.passed, 2 * count
    for lag in range(1, BEHIND):
        source = whole.behind[(k + BEHIND - lag) % BEHIND]
        for i in range(2 * n + 3):
            passed[0, 0] = source[i, 0]
            for c in range(half):
                passed[0, 1 + c], passed[0, 1 + half + c] = source[i, 1 + half + c], 0.0
            for q in range(half):
                row = _row(n, q, count, whole)
                less(passed, 0, 0, answer, row, -source[i, 1 + q], 0, whole_quads(width))
            for c in range(width):
                source[i, c] = passed[0, c]


@compiled
def _row(n: int, q: int, count: int, whole: Whole) -> int:
    """Place in a state of turned value q: fluxes first, then swirls."""
    return int(whole.turned[q % count]) + (n if q >= count else 0)


@compiled
def _fill_in(n: int, last: int, count: int, begins: int, ends: int, whole: Whole) -> None:
    """Add what follows from turned values ahead to the changes, from the bore back to the rim."""
    size, half = 2 * n + 3, 2 * count
    for k in range(min(ends, last), begins - 1, -1):
        at, answer = (k - 1) * size, whole.answers[k]
        for lead in range(1, min(2, last - k) + 1):
            for q in range(half):
                row = _row(n, q, count, whole)
                ahead = whole.change[at + lead * size + row]
                column = 1 + (lead - 1) * half + q
                for i in range(size):
                    whole.change[at + i] += answer[i, column] * ahead
