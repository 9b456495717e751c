"""Eddy viscosity in a step of the march at the resolved level, and its part of the Jacobian."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, less_rows, sum_rows, whole_quads
from engine.physics.gap.elimination_kernel import dot
from engine.physics.gap.resolved_room_kernel import (
    ALONG,
    AROUND,
    EDDY,
    FLUX_SLOPE,
    FULL,
    PASSING,
    SENSITIVITY,
    SWIRL_SLOPE,
    TINY,
    Across,
    Rim,
    Room,
)
from engine.physics.gap.turbulence_kernel import eddy_ratio


@compiled
def eddies(rim: Rim, across: Across, weight: float, state: Lanes, room: Room) -> None:
    """Eddy viscosities at each node, in the scale of the drag.

    `ALONG`, `AROUND`: direction of the velocity gradient; `PASSING`: its size; `FULL`: eddy
    viscosity in fully turbulent flow; `EDDY`: the same by the weight of turbulence;
    `SENSITIVITY`: its relative change with that of the wall shear.
    """
    n, nodes = across.weights.size, room.nodes
    density, drag = state[2 * n + 1], state[2 * n + 5]
    scale = 2 * rim.radius / (rim.gap * drag)
    root = 0.0
    for k in range(n + 1):
        along, around = nodes[FLUX_SLOPE, k], nodes[SWIRL_SLOPE, k] * density
        size = math.sqrt(along * along + around * around) + TINY
        if k == 0:
            root = math.sqrt(scale * size)
        ratio, sensitivity = eddy_ratio(
            across.wall_distance[k], across.mixing_length[k], scale * size, root
        )
        nodes[ALONG, k], nodes[AROUND, k], nodes[PASSING, k] = along / size, around / size, size
        nodes[FULL, k], nodes[EDDY, k] = drag * ratio, weight * drag * ratio
        nodes[SENSITIVITY, k] = sensitivity


@compiled
def slopes_of_stresses(
    across: Across, drag: float, by_reynolds: float, state: Lanes, room: Room
) -> None:
    """Set the rows of eqs. (1) and (2) in the Jacobian to the divergence of all stresses.

    Eddy viscosity changes with the gradient at the node, with the wall shear by damping, and with
    the mean swirl by the weight of turbulence.
    """
    # Derivatives of the weight with the mean swirl, and of the wall shear.
    n, nodes, jacobian = across.weights.size, room.nodes, room.matrix
    along_by, around_by = room.along_by, room.around_by
    density, inside, width = state[2 * n + 1], whole_quads(n), jacobian.shape[1]
    mean = density * dot(across.weights, state, n)
    by_mean = by_reynolds * mean / (1 + mean * mean)
    per_wall = 1 / nodes[PASSING, 0]
    wall_along, wall_around = nodes[ALONG, 0] * per_wall, nodes[AROUND, 0] * density * per_wall
    wall_stretch = nodes[AROUND, 0] * nodes[SWIRL_SLOPE, 0] * per_wall
    # Stress at each node, less what each unknown adds: slopes here and at the wall, mean swirl.
    for k in range(n + 1):
        along, around, eddy = nodes[ALONG, k], nodes[AROUND, k], nodes[EDDY, k]
        stretch = eddy * around * nodes[SWIRL_SLOPE, k] / nodes[PASSING, k]
        crossed, damped = eddy * along * around, eddy * nodes[SENSITIVITY, k]
        straight, turned = drag + eddy * (1 + along**2), drag + eddy * (1 + around**2)
        for stress, slope, by_along, by_around in (
            (along_by, FLUX_SLOPE, straight, crossed * density),
            (around_by, SWIRL_SLOPE, crossed / density, turned),
        ):
            for j in range(width):
                stress[k, j] = 0.0
            by_wall = nodes[slope, k] * damped
            by_weight = nodes[slope, k] * nodes[FULL, k] * by_mean
            shares = by_along, by_wall * wall_along
            less_rows(stress, k, 0, across.rows, (k, 0), shares, 0, inside)
            more = by_around, by_wall * wall_around, by_weight * density
            less_rows(stress, k, n, across.rows, (k, 0, n + 1), more, 0, inside)
            by_density = nodes[slope, k] * stretch + by_wall * wall_stretch
            stress[k, 2 * n + 1] = -by_density - by_weight * mean / density
    # Their divergence.
    for i in range(n):
        sum_rows(along_by, across.divergence, i, 0, n + 1, jacobian, i, width)
        sum_rows(around_by, across.divergence, i, 0, n + 1, jacobian, n + i, width)
