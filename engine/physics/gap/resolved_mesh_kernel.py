"""A mesh of a gap with the work space of its marches, and carrying a march to a finer one."""

from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.gap.resolved_pull_kernel import Whole, whole_for
from engine.physics.gap.resolved_room_kernel import Across, Room, room_for
from engine.physics.gap.resolved_sweep_kernel import trail_for


class Effort(NamedTuple):
    """How closely marches on a mesh are matched."""

    repeats: int  # most repeated sweeps
    still: float  # change of a repeated sweep at which it has settled
    tolerance: float  # mismatch of a sweep


class Mesh(NamedTuple):
    """Nodes across, with room for a march along all stations."""

    across: Across
    effort: Effort
    trail: Lanes
    before: Lanes
    whole: Whole
    room: Room


@compiled
def mesh_for(across: Across, n_steps: int, effort: Effort) -> Mesh:
    """Allocate room for marches."""
    n = across.weights.size
    trail, before = trail_for(n_steps, n), trail_for(n_steps, n)
    return Mesh(across, effort, trail, before, whole_for(n_steps, n), room_for(n))


@compiled
def carry(coarse: Mesh, carried: Lanes, fine: Mesh) -> None:
    """Fill in the trail of a finer mesh from that of a coarse one.

    Along the march by cubics over the number of the station, in which the profiles grow evenly; not
    through the rim, where a plug has no layers. `carried` is the matrix across.
    """
    last, n_coarse = coarse.trail.shape[0] - 1, coarse.across.weights.size
    n, source, trail = fine.across.weights.size, coarse.trail, fine.trail
    for k in range(1, trail.shape[0]):
        place = k * last / (trail.shape[0] - 1)
        first = min(max(int(place) - 1, 1), last - 3)
        x = place - first
        a, b = -(x - 1) * (x - 2) * (x - 3) / 6, x * (x - 2) * (x - 3) / 2
        c, d = -x * (x - 1) * (x - 3) / 2, x * (x - 1) * (x - 2) / 6
        for i in range(2 * n + 5):
            trail[k, i] = 0.0
        for j in range(2 * n_coarse + 5):
            value = a * source[first, j] + b * source[first + 1, j]
            value += c * source[first + 2, j] + d * source[first + 3, j]
            if j >= 2 * n_coarse:
                trail[k, 2 * (n - n_coarse) + j] = value
                continue
            of, begin = (j, 0) if j < n_coarse else (j - n_coarse, n)
            for i in range(n):
                trail[k, begin + i] += carried[i, of] * value
