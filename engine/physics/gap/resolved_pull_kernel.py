"""What changes of the stations behind do to a station, where all are solved at once.

Names are those of `resolved_change_kernel`.
"""

from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, less, less_rows, sum_rows, whole_quads, whole_spans
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.gap.resolved_room_kernel import (
    FLUX_SLOPE,
    OLD_ANGULAR,
    OLD_FLUX,
    OLD_MOMENTUM,
    PASSING,
    REVERSE,
    STRESS,
    SWIRL_SLOPE,
    Across,
    Rim,
    Room,
    Step,
)
from engine.physics.gap.resolved_step_kernel import state_at, thermal, upwind
from engine.physics.gap.resolved_sweep_kernel import BEHIND, TURNING, least_flux


class Whole(NamedTuple):
    """Work space for a whole march; rows of columns are padded to whole spans.

    The *turned* values of a station are flux and swirl at the nodes that flow outward anywhere.
    """

    residual: Lanes
    change: Lanes
    start: Lanes  # trail before a change
    turned: Lanes  # nodes that flow outward anywhere
    answers: Lanes  # (station, value, column): change, then by turned values one and two ahead
    behind: Lanes  # the same of three stations behind, by those here and one ahead
    known: Lanes  # first columns of these, (station, value)
    right: Lanes  # right-hand sides of a station
    pull: Lanes  # what the stations behind do to it
    fed: Lanes  # known part of the derivative of the flux
    passed: Lanes  # a row on its way


@compiled
def whole_for(n_steps: int, n: int) -> Whole:
    """Allocate work space for n interior nodes."""
    size, width = 2 * n + 3, whole_spans(4 * n + 1)
    return Whole(
        np.zeros(n_steps * size),
        np.zeros(n_steps * size),
        np.zeros((n_steps + 1, 2 * n + 7)),
        np.zeros(n),
        np.zeros((n_steps + 1, size, width)),
        np.zeros((BEHIND, size, width)),
        np.zeros((BEHIND, size)),
        np.zeros((size, width)),
        np.zeros((size, width)),
        np.zeros((n, width)),
        np.zeros((1, width)),
    )


@compiled
def _weights(k: int, rate: float) -> tuple[float, float, float]:
    """Weights of the three stations behind in a derivative at station k."""
    if k == 1:
        return rate, 0.0, 0.0
    if k == 2:
        return rate * 4 / 3, -rate / 3, 0.0
    return rate * 18 / 11, rate * -9 / 11, rate * 2 / 11


@compiled
def pull_columns(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    step: Step,
    trail: Lanes,
    k: int,
    width: int,
    whole: Whole,
    room: Room,
) -> None:
    """Calculate what changes of the stations behind do to a station, a column for each of theirs.

    Adds to its matrix what the share `REVERSE` does, which changes with the least flux.
    """
    n, state, nodes = across.weights.size, trail[k], room.nodes
    pull, fed, columns = whole.pull, whole.fed, whole_quads(width)
    weights, density = _weights(k, step.rate), state[2 * n + 1]
    fetched = min(BEHIND, k - 1)
    for i in range(2 * n + 3):
        for c in range(columns):
            pull[i, c] = 0.0
    for j in range(n):
        for c in range(columns):
            fed[j, c] = 0.0
    # Single values: density, which acts on the flux, and pressure.
    pressure, enthalpy = thermal(rim, across, step, state)
    by_pressure = state_at(record, pressure, enthalpy)[1] * rim.pressure / rim.density
    for lag in range(1, fetched + 1):
        weight = weights[0] if lag == 1 else (weights[1] if lag == 2 else weights[2])
        old, source = trail[k - lag], whole.behind[(k - lag) % BEHIND]
        p, part = 2 * n + 2, weight / step.rate
        less(pull, p - 1, 0, source, p, by_pressure * part, 0, columns)
        less(pull, p, 0, source, p, -part, 0, columns)
        # Each node by itself.
        for i in range(n):
            flux, swirl, back = state[i], state[n + i], nodes[REVERSE, i]
            here, upwind_only = weight * (1 - back), weight * back * max(flux, 0.0)
            flux_by_flux = here * (flux - 2 * old[i]) - upwind_only
            swirl_by_flux = here * (swirl - old[n + i])
            swirl_by_swirl = -here * old[i] - upwind_only
            least, place = least_flux(trail, k, i)
            if place == lag and 0 < least < TURNING:
                of_flux, of_swirl = _share_changes(step, state, n, i, nodes)
                flux_by_flux -= of_flux
                swirl_by_flux -= of_swirl
            by_density = flux * flux * weight / density
            less(fed, i, 0, source, i, -weight, 0, columns)
            shares = -flux_by_flux, -by_density
            less_rows(pull, i, 0, source, (i, 2 * n + 1), shares, 0, columns)
            shares = -swirl_by_flux, -swirl_by_swirl
            less_rows(pull, n + i, 0, source, (i, n + i), shares, 0, columns)
    _pull_by_drift(across, step, trail, k, width, whole, room)


@compiled
def _pull_by_drift(
    across: Across, step: Step, trail: Lanes, k: int, width: int, whole: Whole, room: Room
) -> None:
    """Add the drift, which follows the flux of all nodes behind, and the share `REVERSE` here."""
    n, state, nodes = across.weights.size, trail[k], room.nodes
    pull, drift, matrix = whole.pull, whole.passed, room.matrix
    columns = whole_quads(width)
    for i in range(n):
        sum_rows(whole.fed, across.integral, i, 0, n, drift, 0, whole_spans(width))
        less(pull, i, 0, drift, 0, -nodes[FLUX_SLOPE, i + 1], 0, columns)
        less(pull, n + i, 0, drift, 0, -nodes[SWIRL_SLOPE, i + 1], 0, columns)
        least, place = least_flux(trail, k, i)
        if place == 0 and 0 < least < TURNING:
            to_flux, to_swirl = _share_changes(step, state, n, i, nodes)
            matrix[i, i] -= to_flux
            matrix[n + i, i] -= to_swirl


@compiled
def pull_known(
    record: FluidRecord,
    rim: Rim,
    across: Across,
    step: Step,
    trail: Lanes,
    k: int,
    whole: Whole,
    room: Room,
) -> float:
    """Take what known changes of the stations behind do to a station off its residual.

    The same as `pull_columns` where nothing looks ahead, with sums over the stations at each node.
    Leaves the right-hand side in `room.residual`; gives the known part of the change of pressure.
    """
    n, state, nodes, right = across.weights.size, trail[k], room.nodes, room.residual
    matrix, known, at = room.matrix, whole.known, (k - 1) * (2 * across.weights.size + 3)
    # Three stations; nothing changes at the rim and before it.
    one, two, three = _weights(k, step.rate)
    a, b, c = trail[k - 1], trail[max(k - 2, 0)], trail[max(k - 3, 0)]
    da, db, dc = known[(k + 2) % BEHIND], known[(k + 1) % BEHIND], known[k % BEHIND]
    # Single values: density, which acts on the flux, and pressure.
    pressure, enthalpy = thermal(rim, across, step, state)
    by_pressure = state_at(record, pressure, enthalpy)[1] * rim.pressure / rim.density
    p, density = 2 * n + 2, state[2 * n + 1]
    of_density = (one * da[p - 1] + two * db[p - 1] + three * dc[p - 1]) / density
    of_pressure = (one * da[p] + two * db[p] + three * dc[p]) / step.rate
    # Each node by itself.
    for i in range(n):
        j, flux, swirl, back = n + i, state[i], state[n + i], nodes[REVERSE, i]
        fa, fb, fc = one * da[i], two * db[i], three * dc[i]
        sa, sb, sc = one * da[j], two * db[j], three * dc[j]
        of_flux, of_swirl = fa + fb + fc, sa + sb + sc
        of_square = 2 * (a[i] * fa + b[i] * fb + c[i] * fc)
        of_angular = a[i] * sa + b[i] * sb + c[i] * sc + a[j] * fa + b[j] * fb + c[j] * fc
        here, upwind_only = 1 - back, back * max(flux, 0.0)
        pulled = here * (flux * of_flux - of_square) - upwind_only * of_flux
        right[i] = whole.residual[at + i] - pulled - flux * flux * of_density
        pulled = here * (swirl * of_flux - of_angular) - upwind_only * of_swirl
        right[j] = whole.residual[at + j] - pulled
        nodes[PASSING, i] = of_flux
        # The share of the side that fluid comes from.
        least, place = least_flux(trail, k, i)
        if 0 < least < TURNING:
            to_flux, to_swirl = _share_changes(step, state, n, i, nodes)
            if place == 0:
                matrix[i, i] -= to_flux
                matrix[j, i] -= to_swirl
            else:
                change = known[(k - place) % BEHIND, i]
                right[i] += to_flux * change
                right[j] += to_swirl * change
    # The drift follows the flux of all nodes.
    sum_rows(across.integral_t, nodes, PASSING, 0, n, nodes, STRESS, whole_spans(n))
    for i in range(n):
        right[i] -= nodes[FLUX_SLOPE, i + 1] * nodes[STRESS, i]
        right[n + i] -= nodes[SWIRL_SLOPE, i + 1] * nodes[STRESS, i]
    right[2 * n] = whole.residual[at + 2 * n]
    right[2 * n + 1] = whole.residual[at + 2 * n + 1] + by_pressure * of_pressure
    return float(of_pressure)


@compiled
def _share_changes(step: Step, state: Lanes, n: int, i: int, nodes: Lanes) -> tuple[float, float]:
    """Fall of both residuals at a node with the least flux, which sets the share `REVERSE`."""
    flux, swirl = state[i], state[n + i]
    pace, known_flux, known_swirl = upwind(step, flux, nodes, i)
    conserved = flux * nodes[OLD_FLUX, i] - nodes[OLD_MOMENTUM, i]
    of_flux = (flux * (pace * flux + known_flux) - conserved) / TURNING
    conserved = swirl * nodes[OLD_FLUX, i] - nodes[OLD_ANGULAR, i]
    return of_flux, (flux * (pace * swirl + known_swirl) - conserved) / TURNING
