"""Exit of a gap at the resolved level, from the trail of a march.

Trails, states, n and names of their parts are those of `resolved_sweep_kernel`.
"""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_room_kernel import Across, Rim
from engine.physics.gap.resolved_step_kernel import gap_reynolds, state_at
from engine.physics.gap.turbulence_kernel import weight_and_slope

CHOKED_MACH = 0.95
"""Radial Mach number above which a gap counts as choked."""
LOST_BY_CHOKING = 0.4
"""Radial Mach number above which a lane that does not converge counts as choked."""


class ResolvedExit(NamedTuple):
    """Exit of a gap: fields of `answer.GapFlow`."""

    exit_pressure: float
    exit_enthalpy: float
    exit_total_enthalpy: float
    exit_swirl: float
    torque: float
    wall_torque: float
    largest_reynolds: float
    turbulent_share: float
    largest_mach: float
    backflow_share: float
    wall_backflow_share: float
    choked: bool
    settled: bool


N_EXIT = 13
"""Number of these fields."""


@compiled
def angular_momentum(rim: Rim, across: Across, state: Lanes) -> float:
    """Flux mean of radius times swirl at one station, over rim radius and radial speed there."""
    n = across.weights.size
    angular = rim.spin * state[2 * n + 6] * state[2 * n + 6]
    for j in range(n):
        angular += across.weights[j] * state[j] * state[n + j]
    return float(angular)


@compiled
def exit_of(
    record: FluidRecord, rim: Rim, across: Across, trail: Lanes, reached: int, settled: bool
) -> ResolvedExit:
    """Exit state, torque and largest numbers of a march."""
    # Largest numbers and shares of the radius, over all stations.
    n, last, nan = across.weights.size, trail.shape[0] - 1, math.nan
    reynolds, mach, radial_mach = 0.0, 0.0, 0.0
    turbulent, backward, thrown = 0.0, 0.0, 0.0
    for k in range(reached + 1):
        state = trail[k]
        density, ratio = state[2 * n + 1], state[2 * n + 6]
        sound = state_at(record, state[2 * n + 2], state[2 * n + 3])[4]
        middle = mean = 0.0
        for j in range(n):
            middle += across.middle[j] * state[j]
            mean += across.weights[j] * state[n + j]
        inward, around = rim.radial_speed / (ratio * density), rim.radial_speed / ratio * mean
        radial_mach = max(radial_mach, inward / sound)
        mach = max(mach, math.sqrt(inward * inward + around * around) / sound)
        # Half of each neighbouring step counts as this station's share of the radius.
        here = gap_reynolds(rim, across, state)
        reynolds = max(reynolds, here)
        share = (trail[max(k - 1, 0), 2 * n + 6] - trail[min(k + 1, last), 2 * n + 6]) / 2
        share *= rim.way
        share /= rim.span
        turbulent += share * weight_and_slope(here / rim.transition)[0]
        backward += share if middle < 0 else 0.0
        thrown += share if state[0] < 0 else 0.0
    # Lanes without an answer.
    lost = reached < last
    choked = radial_mach > CHOKED_MACH or (lost and radial_mach > LOST_BY_CHOKING)
    if lost or choked:
        return ResolvedExit(nan, nan, nan, nan, nan, nan, nan, nan, nan, nan, nan, choked, False)
    # Angular momentum at the bore: flux mean of the swirl.
    out, speed = trail[last], rim.radial_speed
    angular = angular_momentum(rim, across, out)
    flow = 2 * math.pi * rim.radius * rim.gap * rim.density * speed
    scale, swirl = flow * rim.radius * speed, rim.plug + rim.spin
    # Total enthalpy by Euler's turbine equation.
    total = rim.enthalpy + speed * speed / 2 * (1 + swirl * swirl)
    total -= rim.spin * speed * speed * (swirl - angular)
    return ResolvedExit(
        out[2 * n + 2],
        out[2 * n + 3],
        total,
        speed * angular / out[2 * n + 6],
        scale * (swirl - angular),
        scale * out[2 * n + 4],
        reynolds,
        min(turbulent, 1.0),
        mach,
        backward,
        thrown,
        False,
        settled,
    )


@compiled
def write_resolved(found: Lanes, row: int, i: int, end: ResolvedExit) -> None:
    """Write an exit to the rows from `row` on."""
    found[row, i], found[row + 1, i] = end.exit_pressure, end.exit_enthalpy
    found[row + 2, i], found[row + 3, i] = end.exit_total_enthalpy, end.exit_swirl
    found[row + 4, i], found[row + 5, i] = end.torque, end.wall_torque
    found[row + 6, i], found[row + 7, i] = end.largest_reynolds, end.turbulent_share
    found[row + 8, i], found[row + 9, i] = end.largest_mach, end.backflow_share
    found[row + 10, i] = end.wall_backflow_share
    found[row + 11, i] = 1.0 if end.choked else 0.0
    found[row + 12, i] = 1.0 if end.settled else 0.0
