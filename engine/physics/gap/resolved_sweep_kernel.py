"""The march of one lane at the resolved level, repeated in sweeps where there is backflow.

A *trail* holds the states of a march, one row a station from rim to bore. States, n and names of
their parts are those of `resolved_step_kernel`.
"""

import math

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, shared
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_room_kernel import (
    AHEAD_FLUX,
    AHEAD_SWIRL,
    OLD_ANGULAR,
    OLD_FLUX,
    OLD_MOMENTUM,
    OLD_SWIRL,
    REVERSE,
    TINY,
    Across,
    Behind,
    Rim,
    Room,
    Step,
)
from engine.physics.gap.resolved_step_kernel import (
    ROUGHLY,
    TOLERANCE,
    settle,
    state_at,
    thermal,
)

SETTLED = 1e-3
"""Change of pressure drop and torque from one sweep to the next at which a march has settled."""
SHRINKING = 0.7
"""Change of a sweep over the least one before, above which sweeps count as oscillating."""
CAUTION, LEAST_SHARE = 0.75, 0.6
"""Factor on the relaxation factor when sweeps oscillate, and its least value."""
FIRST, AGAIN, CLOSE_BY, UPWIND = 0.0, 1.0, 2.0, 3.0
"""Kinds of a sweep: from nothing; repeated; the first again where the rim hardly changed; and
repeated there with the share of the bore side as where all stations are solved at once."""
AT_RIM, AT_BORE = 0.7, 0.7
"""Lengths of steps over the mean, in sqrt(t), at the rim and at the bore."""
BEGINNING = 0.85
"""Share of its length that the first step counts. The layers at the walls begin in it; with 1 they
take too much angular momentum, an error that stays and falls with the length of a step only."""
TURNED = 0.1
"""Outward flux over mean inward flux from which the derivative at a node is that of the bore side
alone. Below it both sides count by their share: with a jump from one to the other there might be no
matched point. The first sweep knows nothing of the bore side and does jump."""
TURNING = 0.3
"""Flux over mean inward flux, here or at the stations behind, below which fluid is taken from the
side it comes from where all stations are solved at once. With 0.1 fewer lanes settle (66 for 72 of
78)."""
BEHIND = 3
"""Stations behind that a station depends on."""


@compiled
def rim_of(
    record: FluidRecord,
    pressure: float,
    enthalpy: float,
    swirl: float,
    mass_flow: float,
    gap: float,
    rim: float,
    bore: float,
    omega: float,
    transition: float,
    way: float,
) -> Rim:
    """Rim of a lane with its scales; NaN where it is no gap with flow that way.

    Outward (`way` is -1) `rim` is the eye, where the march begins, and `bore` the rim of the discs.
    """
    gap_is_one = gap > 0 and rim > 0 and bore > 0 and way * bore < way * rim
    if not (mass_flow > 0 and gap_is_one and pressure > 0 and transition > 0):
        pressure = math.nan
    density = state_at(record, pressure, enthalpy)[0]
    speed = mass_flow / (2 * math.pi * rim * gap * density)
    spin, plug = omega * rim / speed, (swirl - omega * rim) / speed
    span = way * (1 - bore / rim)
    return Rim(pressure, enthalpy, density, speed, spin, plug, rim, span, gap, transition, way)


@compiled
def begin_trail(record: FluidRecord, rim: Rim, across: Across, state: Lanes) -> None:
    """Write the first state: a plug with uniform flux and swirl."""
    n = across.weights.size
    for j in range(n):
        state[j], state[n + j] = 1.0, rim.plug
    state[2 * n], state[2 * n + 1] = 0.0, 1.0
    state[2 * n + 2], state[2 * n + 3], state[2 * n + 4] = rim.pressure, rim.enthalpy, 0.0
    state[2 * n + 6] = 1.0
    state[2 * n + 5] = drag_at(record, rim, rim.pressure, rim.enthalpy, 1.0)


@compiled
def drag_at(record: FluidRecord, rim: Rim, pressure: float, enthalpy: float, ratio: float) -> float:
    """Drag c without eddies."""
    viscosity = state_at(record, pressure, enthalpy)[3]
    scale = rim.density * rim.radial_speed * rim.gap * rim.gap
    return float(4 * ratio * viscosity * rim.radius / scale)


@compiled
def _expect(trail: Lanes, k: int) -> None:
    """Extrapolate the trail to station k."""
    for j in range(trail.shape[1]):
        trail[k, j] = extrapolated(trail, k, j)


@compiled
def _expect_near(trail: Lanes, near: Lanes, k: int) -> None:
    """Take station k of a trail near by, with the difference extrapolated."""
    one, two = k - 1, max(k - 2, 0)
    for j in range(trail.shape[1]):
        there, behind = trail[one, j] - near[one, j], trail[two, j] - near[two, j]
        trail[k, j] = near[k, j] + (2 * there - behind if k > 2 else there)


@compiled
def extrapolated(trail: Lanes, k: int, j: int) -> float:
    """Value j at station k, from the stations behind."""
    if k < 4:
        return float(trail[k - 1, j])
    if k == 4:
        return float(2 * trail[3, j] - trail[2, j])
    return float(3 * (trail[k - 1, j] - trail[k - 2, j]) + trail[k - 3, j])


@compiled
def length_and_ratio(rim: Rim, k: int, n_steps: int) -> tuple[float, float]:
    """Length of the step to station k, and x there.

    Steps are short where the layers at the walls begin, and at the bore: sqrt(t) is a cubic of k.
    The map is singular at the rim, so the first takes a share of its true length.
    """
    part = k / n_steps
    square, cube = 3 - 2 * AT_RIM - AT_BORE, AT_RIM + AT_BORE - 2
    place = part * (AT_RIM + part * (square + part * cube))
    if k == 1:
        length = BEGINNING * place
    else:
        length = 2 / n_steps * (AT_RIM + part * (2 * square + part * 3 * cube))
    return rim.span * place * length, 1 - rim.way * rim.span * place * place


@compiled
def look_back(trail: Lanes, k: int, n: int, length: float, room: Room) -> tuple[float, Behind]:
    """Weight of an unknown in its derivative, and the known parts from the steps behind.

    Backward differences, of third order from the third step on (Gear 1971, Numerical Initial Value
    Problems, table 11.1, from memory).
    """
    w1, w2, w3 = 1.0, 0.0, 0.0
    if k == 2:
        w1, w2 = 2.0, -0.5
    elif k > 2:
        w1, w2, w3 = 3.0, -1.5, 1 / 3
    w1, w2, w3 = w1 / length, w2 / length, w3 / length
    # Profiles into the work space, single values returned.
    a, b, c = trail[k - 1], trail[max(k - 2, 0)], trail[max(k - 3, 0)]
    nodes = room.nodes
    for j in range(n):
        nodes[OLD_FLUX, j] = w1 * a[j] + w2 * b[j] + w3 * c[j]
        nodes[OLD_SWIRL, j] = w1 * a[n + j] + w2 * b[n + j] + w3 * c[n + j]
        nodes[OLD_MOMENTUM, j] = w1 * a[j] * a[j] + w2 * b[j] * b[j] + w3 * c[j] * c[j]
        nodes[OLD_ANGULAR, j] = w1 * a[j] * a[n + j] + w2 * b[j] * b[n + j] + w3 * c[j] * c[n + j]
    p, q, r = 2 * n + 1, 2 * n + 2, 2 * n + 4
    behind = Behind(
        w1 * a[p] + w2 * b[p] + w3 * c[p],
        w1 * a[q] + w2 * b[q] + w3 * c[q],
        w1 * a[r] + w2 * b[r] + w3 * c[r],
    )
    return w1 + w2 + w3, behind


@compiled
def look_ahead(
    trail: Lanes, before: Lanes, again: bool, k: int, n: int, length: float, room: Room
) -> float:
    """Find derivatives of fluid that moves outward: none at first, then those of the last sweep.

    At the bore nothing is known of the fluid that comes in, so its derivative is zero there. Which
    nodes flow outward is taken from the last sweep or station, not from the extrapolated state:
    extrapolation gives negative values at the wall where a layer grows.

    Returns the weight of the unknown; the known parts go to the work space.
    """
    nodes, last = room.nodes, trail.shape[0] - 1
    source = before[k] if again else trail[k - 1]
    w1, w2, full = 0.0, 0.0, TURNED if again else TINY
    if again and k + 2 <= last:
        w1, w2 = 2 / length, -0.5 / length
    elif again and k + 1 <= last:
        w1 = 1 / length
    near, far = before[min(k + 1, last)], before[min(k + 2, last)]
    for j in range(n):
        nodes[REVERSE, j] = min(max(-source[j] / full, 0.0), 1.0)
        # At first `before` is of another lane and must not enter, not even as 0 times NaN.
        nodes[AHEAD_FLUX, j] = w1 * near[j] + w2 * far[j] if again else 0.0
        nodes[AHEAD_SWIRL, j] = w1 * near[n + j] + w2 * far[n + j] if again else 0.0
    return -(w1 + w2)


@compiled
def least_flux(trail: Lanes, k: int, j: int) -> tuple[float, int]:
    """Least flux at a node, at station k and those behind, and how many stations behind it is."""
    least, lag = trail[k, j], 0
    for back in range(1, min(BEHIND, k - 1) + 1):
        if trail[k - back, j] < least:
            least, lag = trail[k - back, j], back
    return least, lag


@compiled
def share_by_side(trail: Lanes, k: int, n: int, room: Room) -> None:
    """Let nodes with little or outward flux count by the side that their fluid comes from."""
    for j in range(n):
        least, _ = least_flux(trail, k, j)
        room.nodes[REVERSE, j] = min(max(1 - least / TURNING, 0.0), 1.0)


@shared
def sweep(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    trail: Lanes,
    before: Lanes,
    kind: float,
    room: Room,
) -> int:
    """March from rim to bore, filling `trail`; returns the last row that converged.

    `kind` is `FIRST`, `AGAIN`, `CLOSE_BY` or `UPWIND`. In a repeated sweep, derivatives where fluid
    moves outward come from `before`. In a first sweep close by another, only guesses do. It is a
    float, as all of this would be compiled anew for each constant integer.
    """
    # Rim.
    n, n_steps, upwind = across.weights.size, int(trail.shape[0]) - 1, kind == UPWIND
    again, is_near = upwind or kind == AGAIN, upwind or kind == CLOSE_BY
    begin_trail(record, rim, across, trail[0])
    lost = not math.isfinite(trail[0, 2 * n + 5])
    if lost:
        lose(trail, 0)
        return -1
    tolerance = ROUGHLY if upwind else TOLERANCE
    known: bool = lost  # no constant, for which the step would be compiled once more
    for k in range(1, n_steps + 1):
        length, ratio = length_and_ratio(rim, k, n_steps)
        # Derivatives along t: from the steps behind, and from the bore side.
        rate, behind = look_back(trail, k, n, length, room)
        ahead_rate = look_ahead(trail, before, again, k, n, length, room)
        # Solve the step from an extrapolated first guess.
        p, h = extrapolated(trail, k, 2 * n + 2), extrapolated(trail, k, 2 * n + 3)
        drag = drag_at(record, rim, p, h, ratio)
        if is_near:
            _expect_near(trail, before, k)
        else:
            _expect(trail, k)
        if upwind:
            share_by_side(trail, k, n, room)
        step = Step(ratio, rate, drag, ahead_rate, upwind, behind)
        found, known = _settled(record, rim, across, step, trail, k, room, known, tolerance)
        if not found:
            lose(trail, k)
            return k - 1
        # Pressure, enthalpy, and braking by the wall shear.
        state, wall = trail[k], 0.0
        state[2 * n + 2], state[2 * n + 3] = thermal(rim, across, step, state)
        for j in range(n):
            wall += across.slope[0, j] * state[n + j]
        state[2 * n + 4] = (behind.braking - step.drag * wall) / rate
    return n_steps


@compiled
def _settled(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    step: Step,
    trail: Lanes,
    k: int,
    room: Room,
    known: bool,
    tolerance: float,
) -> tuple[bool, bool]:
    """Solve step k; if that fails, try a new Jacobian, then the last state as first guess."""
    n, state, found = across.weights.size, trail[k], False
    for attempt in range(3):
        if attempt == 1:
            _expect(trail, k)
        elif attempt == 2:
            for j in range(state.size):
                state[j] = trail[k - 1, j]
        state[2 * n + 6], state[2 * n + 5] = step.ratio, step.drag
        known = known and attempt == 0
        found, known = settle(record, rim, across, step, state, room, known, tolerance)
        if found:
            break
    return found, known


@compiled
def lose(trail: Lanes, k: int) -> None:
    """Set the rows from k on to NaN."""
    for i in range(k, trail.shape[0]):
        for j in range(trail.shape[1]):
            trail[i, j] = math.nan


@compiled
def copy(source: Lanes, target: Lanes) -> None:
    """Copy a trail."""
    for i in range(source.shape[0]):
        for j in range(source.shape[1]):
            target[i, j] = source[i, j]


@compiled
def blend(source: Lanes, share: float, target: Lanes) -> None:
    """Move a trail towards another by a share of the way."""
    for i in range(source.shape[0]):
        for j in range(source.shape[1]):
            target[i, j] += share * (source[i, j] - target[i, j])


@compiled
def learnt(share: float, least: float, change: float) -> float:
    """Relaxation factor of the next sweep: smaller where sweeps oscillate."""
    return max(share * CAUTION, LEAST_SHARE) if change > SHRINKING * least else share


@compiled
def flows_back(trail: Lanes, n: int) -> bool:
    """Whether fluid moves outward anywhere."""
    for k in range(trail.shape[0]):
        for j in range(n):
            if trail[k, j] < 0:
                return True
    return False


@compiled
def moved(rim: Rim, n: int, new: Lanes, old: Lanes) -> float:
    """Larger change of pressure drop or torque between two sweeps, from their last rows."""
    p, b = 2 * n + 2, 2 * n + 4
    of_pressure = abs((new[p] - old[p]) / (rim.pressure - new[p]))
    return float(max(of_pressure, abs(new[b] / old[b] - 1)))


@compiled
def trail_for(n_steps: int, n: int) -> Lanes:
    """Allocate a trail for n interior nodes."""
    return np.zeros((n_steps + 1, 2 * n + 7))
