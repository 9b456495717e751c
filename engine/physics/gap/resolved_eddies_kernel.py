"""Eddy viscosity in a step of the march at the resolved level, and its part of the Jacobian."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, less, sum_rows, whole_quads, whole_spans
from engine.physics.gap.elimination_kernel import dot
from engine.physics.gap.resolved_room_kernel import (
    ALONG,
    AROUND,
    CROSSED,
    EDDY,
    FLUX_SLOPE,
    FULL,
    PASSING,
    SENSITIVITY,
    STRAIGHT,
    STRESS,
    SWIRL_SLOPE,
    TINY,
    TORN,
    TORN_BY_DENSITY,
    TORN_BY_SWIRL,
    TURNED,
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
def slopes_of_eddies(across: Across, by_reynolds: float, state: Lanes, room: Room) -> None:
    """Add the derivatives of the eddy stresses to the Jacobian.

    Eddy viscosity changes with the gradient at the node, with the wall shear by damping, and with
    the mean swirl by the weight of turbulence.
    """
    # Derivatives of the weight with the mean swirl, and of the wall shear.
    n, nodes, jacobian = across.weights.size, room.nodes, room.matrix
    density, inside, spans = state[2 * n + 1], whole_quads(n), whole_spans(n)
    mean = density * dot(across.weights, state, n)
    by_mean = by_reynolds * mean / (1 + mean * mean)
    per_wall = 1 / nodes[PASSING, 0]
    wall_along, wall_around = nodes[ALONG, 0] * per_wall, nodes[AROUND, 0] * density * per_wall
    wall_stretch = nodes[AROUND, 0] * nodes[SWIRL_SLOPE, 0] * per_wall
    # What each stress follows: wall shear, mean swirl and density, at each node; their divergence.
    for first, slope in ((0, FLUX_SLOPE), (n, SWIRL_SLOPE)):
        for k in range(n + 1):
            nodes[STRESS, k] = nodes[slope, k] * nodes[EDDY, k] * nodes[SENSITIVITY, k]
        sum_rows(across.divergence_t, nodes, STRESS, 0, n + 1, nodes, TORN, spans)
        for k in range(n + 1):
            nodes[STRESS, k] = nodes[slope, k] * nodes[FULL, k] * by_mean
        sum_rows(across.divergence_t, nodes, STRESS, 0, n + 1, nodes, TORN_BY_SWIRL, spans)
        for k in range(n + 1):
            stretch = nodes[AROUND, k] * nodes[SWIRL_SLOPE, k] / nodes[PASSING, k]
            nodes[STRESS, k] = nodes[slope, k] * nodes[EDDY, k] * stretch
        sum_rows(across.divergence_t, nodes, STRESS, 0, n + 1, nodes, TORN_BY_DENSITY, spans)
        for i in range(n):
            row, by_wall, by_swirl = first + i, nodes[TORN, i], nodes[TORN_BY_SWIRL, i]
            less(jacobian, row, 0, across.slope, 0, by_wall * wall_along, 0, inside)
            less(jacobian, row, n, across.slope, 0, by_wall * wall_around, 0, inside)
            for j in range(n):
                jacobian[row, n + j] -= by_swirl * density * across.weights[j]
            by_density = nodes[TORN_BY_DENSITY, i] + by_wall * wall_stretch
            jacobian[row, 2 * n + 1] -= by_density + by_swirl * mean / density
    _slopes_of_stresses(across, density, room)


@compiled
def _slopes_of_stresses(across: Across, density: float, room: Room) -> None:
    """Add to the Jacobian what the slopes at each node do to the stresses there."""
    n, nodes, jacobian = across.weights.size, room.nodes, room.matrix
    inside, spans = whole_quads(n), whole_spans(n)
    for k in range(n + 1):
        along, around, eddy = nodes[ALONG, k], nodes[AROUND, k], nodes[EDDY, k]
        nodes[STRAIGHT, k], nodes[TURNED, k] = eddy * (1 + along**2), eddy * (1 + around**2)
        nodes[CROSSED, k] = eddy * along * around
    for i in range(n):
        for kind in (STRAIGHT, TURNED, CROSSED):
            for k in range(n + 1):
                nodes[STRESS, k] = across.divergence[i, k] * nodes[kind, k]
            sum_rows(across.slope, nodes, STRESS, 0, n + 1, nodes, TORN, spans)
            if kind == STRAIGHT:
                less(jacobian, i, 0, nodes, TORN, 1.0, 0, inside)
            elif kind == TURNED:
                less(jacobian, n + i, n, nodes, TORN, 1.0, 0, inside)
            else:
                less(jacobian, i, n, nodes, TORN, density, 0, inside)
                less(jacobian, n + i, 0, nodes, TORN, 1 / density, 0, inside)
