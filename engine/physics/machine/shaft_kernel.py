"""Lowest forward whirl of a stepped shaft, by finite elements; see `shaft_bending`.

Unknowns are displacement and tilt of each node, so a matrix is a row of blocks of two by two: a
symmetric one (ww, wt, tt) for each node, and one (ww, wt, tw, tt) between each node and the next.
"""

import math

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, entry, inlined, line, root, table

MOST_NODES = 20
AT, BETWEEN, BOTH = 3 * MOST_NODES, 4 * MOST_NODES, 2 * MOST_NODES
INVERSE, SHIFTED = 2, 4
"""Steps without and, at most, with a shift."""
SETTLED = 1e-7
"""Relative change of the square of the speed in a step with a shift, below which the steps end: the
error left is of the order of its cube."""
CLOSE = 1e-6
"""Relative width within which the square of the speed is proved to be the lowest."""
HALVINGS, WIDEST, TINY = 40, 1e24, 1e-60


@inlined
def _assemble(
    n_nodes: int,
    place: Lanes,
    bending: Lanes,
    shear: Lanes,
    mass: Lanes,
    polar: Lanes,
    point_mass: Lanes,
    point_tilt: Lanes,
    support: Lanes,
    stiff: Lanes,
    stiff_on: Lanes,
    inert: Lanes,
    inert_on: Lanes,
) -> None:
    """Fill the blocks with bearings, points and Timoshenko beams."""
    for node in range(n_nodes):
        for i in range(PACK):
            stiff[3 * node, i] = support[node, i]
            stiff[3 * node + 1, i] = 0.0
            stiff[3 * node + 2, i] = 0.0
            inert[3 * node, i] = point_mass[node, i]
            inert[3 * node + 1, i] = 0.0
            inert[3 * node + 2, i] = point_tilt[node, i]
    for node in range(n_nodes - 1):
        here, next_one, on = 3 * node, 3 * node + 3, 4 * node
        for i in range(PACK):
            size = place[node + 1, i] - place[node, i]
            phi = 12.0 * bending[node, i] / (shear[node, i] * size * size)
            # Stiffness.
            k = bending[node, i] / (size * size * size * (1.0 + phi))
            turn = (4.0 + phi) * size * size * k
            stiff[here, i] += 12.0 * k
            stiff[here + 1, i] += 6.0 * size * k
            stiff[here + 2, i] += turn
            stiff[next_one, i] += 12.0 * k
            stiff[next_one + 1, i] -= 6.0 * size * k
            stiff[next_one + 2, i] += turn
            stiff_on[on, i] = -12.0 * k
            stiff_on[on + 1, i] = 6.0 * size * k
            stiff_on[on + 2, i] = -6.0 * size * k
            stiff_on[on + 3, i] = (2.0 - phi) * size * size * k
            # Mass, and inertia against tilt. A thin slice has half the polar inertia about a
            # diameter; whirling with the speed of rotation, its gyroscopic moment takes the whole
            # of it away again.
            share = 1.0 / ((1.0 + phi) * (1.0 + phi))
            m = mass[node, i] * size / 840.0 * share
            r = -0.5 * polar[node, i] / (30.0 * size) * share
            own = (312.0 + (588.0 + 280.0 * phi) * phi) * m + 36.0 * r
            lean = (44.0 + (77.0 + 35.0 * phi) * phi) * m + (3.0 - 15.0 * phi) * r
            turn = (8.0 + (14.0 + 7.0 * phi) * phi) * m + (4.0 + (5.0 + 10.0 * phi) * phi) * r
            across = -(26.0 + (63.0 + 35.0 * phi) * phi) * m + (3.0 - 15.0 * phi) * r
            both = -(6.0 + (14.0 + 7.0 * phi) * phi) * m + (-1.0 + (-5.0 + 5.0 * phi) * phi) * r
            inert[here, i] += own
            inert[here + 1, i] += lean * size
            inert[here + 2, i] += turn * size * size
            inert[next_one, i] += own
            inert[next_one + 1, i] -= lean * size
            inert[next_one + 2, i] += turn * size * size
            inert_on[on, i] = (108.0 + (252.0 + 140.0 * phi) * phi) * m - 36.0 * r
            inert_on[on + 1, i] = across * size
            inert_on[on + 2, i] = -across * size
            inert_on[on + 3, i] = both * size * size


@inlined
def _factor(
    n_nodes: int,
    stiff: Lanes,
    stiff_on: Lanes,
    inert: Lanes,
    inert_on: Lanes,
    shift: Lanes,
    inverse: Lanes,
    on: Lanes,
    below: Lanes,
) -> None:
    """Eliminate node by node in stiffness less shift times inertia.

    Fills in the inverse of each node's block, the blocks between nodes, and the number of modes
    `below` the shift, which is that of the negative pivots (Sylvester).
    """
    for i in range(PACK):
        below[i] = 0.0
    for node in range(n_nodes):
        row, before, last = 3 * node, 4 * node - 4, 3 * node - 3
        for i in range(PACK):
            ww = stiff[row, i] - shift[i] * inert[row, i]
            wt = stiff[row + 1, i] - shift[i] * inert[row + 1, i]
            tt = stiff[row + 2, i] - shift[i] * inert[row + 2, i]
            if node > 0:
                a, b, c, d = on[before, i], on[before + 1, i], on[before + 2, i], on[before + 3, i]
                p, q, r = inverse[last, i], inverse[last + 1, i], inverse[last + 2, i]
                pa, pb = p * a + q * c, p * b + q * d
                ra, rb = q * a + r * c, q * b + r * d
                ww -= a * pa + c * ra
                wt -= a * pb + c * rb
                tt -= b * pb + d * rb
            ww = ww if ww != 0.0 else TINY  # the shift may hit a mode exactly
            pivot = tt - wt * wt / ww
            pivot = pivot if pivot != 0.0 else TINY
            below[i] += (1.0 if ww < 0.0 else 0.0) + (1.0 if pivot < 0.0 else 0.0)
            over = 1.0 / (ww * pivot)
            inverse[row, i] = tt * over
            inverse[row + 1, i] = -wt * over
            inverse[row + 2, i] = 1.0 / pivot
        if node < n_nodes - 1:
            for k in range(4 * node, 4 * node + 4):
                for i in range(PACK):
                    on[k, i] = stiff_on[k, i] - shift[i] * inert_on[k, i]


@inlined
def _solve(n_nodes: int, inverse: Lanes, on: Lanes, x: Lanes) -> None:
    """Solve in place with the eliminated blocks."""
    for node in range(1, n_nodes):
        row, k, at = 3 * node - 3, 4 * node - 4, 2 * node - 2
        for i in range(PACK):
            w = inverse[row, i] * x[at, i] + inverse[row + 1, i] * x[at + 1, i]
            t = inverse[row + 1, i] * x[at, i] + inverse[row + 2, i] * x[at + 1, i]
            x[at + 2, i] -= on[k, i] * w + on[k + 2, i] * t
            x[at + 3, i] -= on[k + 1, i] * w + on[k + 3, i] * t
    for node in range(n_nodes - 1, -1, -1):
        row, k, at = 3 * node, 4 * node, 2 * node
        for i in range(PACK):
            w, t = x[at, i], x[at + 1, i]
            if node < n_nodes - 1:
                w -= on[k, i] * x[at + 2, i] + on[k + 1, i] * x[at + 3, i]
                t -= on[k + 2, i] * x[at + 2, i] + on[k + 3, i] * x[at + 3, i]
            x[at, i] = inverse[row, i] * w + inverse[row + 1, i] * t
            x[at + 1, i] = inverse[row + 1, i] * w + inverse[row + 2, i] * t


@inlined
def _times(n_nodes: int, at_node: Lanes, on: Lanes, x: Lanes, found: Lanes, twice: Lanes) -> None:
    """Fill in the product of matrix and vector, and that with the vector once more."""
    for i in range(PACK):
        twice[i] = 0.0
    for node in range(n_nodes):
        row, k, at = 3 * node, 4 * node, 2 * node
        for i in range(PACK):
            w = at_node[row, i] * x[at, i] + at_node[row + 1, i] * x[at + 1, i]
            t = at_node[row + 1, i] * x[at, i] + at_node[row + 2, i] * x[at + 1, i]
            if node > 0:
                w += on[k - 4, i] * x[at - 2, i] + on[k - 2, i] * x[at - 1, i]
                t += on[k - 3, i] * x[at - 2, i] + on[k - 1, i] * x[at - 1, i]
            if node < n_nodes - 1:
                w += on[k, i] * x[at + 2, i] + on[k + 1, i] * x[at + 3, i]
                t += on[k + 2, i] * x[at + 2, i] + on[k + 3, i] * x[at + 3, i]
            found[at, i] = w
            found[at + 1, i] = t
            twice[i] += w * x[at, i] + t * x[at + 1, i]


@inlined
def _scale(n_nodes: int, y: Lanes, top: Lanes, x: Lanes) -> None:
    """Fill in the vector over its largest value, and that."""
    for i in range(PACK):
        top[i] = 0.0
    for k in range(2 * n_nodes):
        for i in range(PACK):
            top[i] = max(top[i], abs(y[k, i]))
    for k in range(2 * n_nodes):
        for i in range(PACK):
            x[k, i] = y[k, i] / top[i]


@inlined
def _fill(given: Lanes, start: int, last: int, pack: Lanes) -> None:
    """Fill a pack with the lanes from `start` to before `last`; the last lane fills the rest."""
    for row in range(given.shape[0]):
        for i in range(PACK):
            pack[row, i] = given[row, min(start + i, last - 1)]


@inlined
def _nearest(
    n_nodes: int,
    stiff: Lanes,
    stiff_on: Lanes,
    inert: Lanes,
    inert_on: Lanes,
    inverse: Lanes,
    on: Lanes,
    below: Lanes,
    shift: Lanes,
    square: Lanes,
) -> None:
    """Go from the sag under the weight to the nearest mode; Rayleigh's quotient is never too low.

    Fills in the square of its speed, and the number of modes clearly `below` it.
    """
    x, y = table(BOTH, PACK), table(BOTH, PACK)
    top, bottom, moving = line(PACK), line(PACK), line(PACK)
    for node in range(n_nodes):
        for i in range(PACK):
            x[2 * node, i] = 1.0
            x[2 * node + 1, i] = 0.0
    for i in range(PACK):
        shift[i], square[i], moving[i] = 0.0, 0.0, 1.0
    _times(n_nodes, inert, inert_on, x, y, bottom)
    for step in range(INVERSE + SHIFTED):
        # The steps without a shift share one elimination.
        if step == 0 or step >= INVERSE:
            _factor(n_nodes, stiff, stiff_on, inert, inert_on, shift, inverse, on, below)
        _solve(n_nodes, inverse, on, y)
        _scale(n_nodes, y, top, x)
        _times(n_nodes, stiff, stiff_on, x, y, top)
        _times(n_nodes, inert, inert_on, x, y, bottom)  # for the next step too
        # Lanes that have settled keep their values.
        left = 0.0
        for i in range(PACK):
            there = top[i] / bottom[i]
            rests = step >= INVERSE and not abs(there - square[i]) > SETTLED * there
            square[i] = there if moving[i] == 1.0 else square[i]
            moving[i] = 0.0 if rests else moving[i]
            shift[i] = 0.0 if step < INVERSE - 1 else square[i]
            left += moving[i]
        if left == 0.0:
            break
    for i in range(PACK):
        shift[i] = square[i] * (1.0 - CLOSE)
    _factor(n_nodes, stiff, stiff_on, inert, inert_on, shift, inverse, on, below)


@inlined
def _halved(
    n_nodes: int,
    stiff: Lanes,
    stiff_on: Lanes,
    inert: Lanes,
    inert_on: Lanes,
    inverse: Lanes,
    on: Lanes,
    below: Lanes,
    low: Lanes,
    high: Lanes,
) -> None:
    """Close in on the lowest mode from 0 by counting the modes below a shift.

    Lanes whose ends are the same keep them.
    """
    shift = line(PACK)
    wider = True
    while wider:
        _factor(n_nodes, stiff, stiff_on, inert, inert_on, high, inverse, on, below)
        wider = False
        for i in range(PACK):
            if low[i] < high[i] and below[i] == 0.0 and high[i] < WIDEST:
                wider = True
                low[i] = high[i]
                high[i] *= 16.0
    for _ in range(HALVINGS):
        for i in range(PACK):
            shift[i] = 0.5 * (low[i] + high[i])
        _factor(n_nodes, stiff, stiff_on, inert, inert_on, shift, inverse, on, below)
        for i in range(PACK):
            if low[i] < high[i]:
                low[i] = low[i] if below[i] > 0.0 else shift[i]
                high[i] = shift[i] if below[i] > 0.0 else high[i]


@entry
def lowest_whirls(
    place: Lanes,
    bending: Lanes,
    shear: Lanes,
    mass: Lanes,
    polar: Lanes,
    point_mass: Lanes,
    point_tilt: Lanes,
    support: Lanes,
    first: int,
    last: int,
    found: Lanes,
) -> None:
    """Fill in the lowest forward whirl of each lane.

    All but `found` stand along the shaft first, then by lane.
    """
    n_nodes = place.shape[0]
    at, stiffness, slip, heavy, round_, points, tilts, held = (
        table(MOST_NODES, PACK), table(MOST_NODES, PACK), table(MOST_NODES, PACK),
        table(MOST_NODES, PACK), table(MOST_NODES, PACK), table(MOST_NODES, PACK),
        table(MOST_NODES, PACK), table(MOST_NODES, PACK),
    )  # fmt: skip
    stiff, inert, inverse = table(AT, PACK), table(AT, PACK), table(AT, PACK)
    stiff_on, inert_on, on = table(BETWEEN, PACK), table(BETWEEN, PACK), table(BETWEEN, PACK)
    square, shift, below, low, high = line(PACK), line(PACK), line(PACK), line(PACK), line(PACK)
    for start in range(first, last, PACK):
        _fill(place, start, last, at)
        _fill(bending, start, last, stiffness)
        _fill(shear, start, last, slip)
        _fill(mass, start, last, heavy)
        _fill(polar, start, last, round_)
        _fill(point_mass, start, last, points)
        _fill(point_tilt, start, last, tilts)
        _fill(support, start, last, held)
        _assemble(
            n_nodes, at, stiffness, slip, heavy, round_, points, tilts, held,
            stiff, stiff_on, inert, inert_on,
        )  # fmt: skip
        _nearest(
            n_nodes, stiff, stiff_on, inert, inert_on, inverse, on, below, shift, square
        )  # fmt: skip
        # Where that went to a higher mode, or to none, begin again.
        missed = False
        for i in range(PACK):
            low[i] = high[i] = square[i]
            if not (square[i] > 0.0 and below[i] == 0.0) and math.isfinite(square[i]):
                missed = True
                low[i], high[i] = 0.0, 1.0
        if missed:
            _halved(n_nodes, stiff, stiff_on, inert, inert_on, inverse, on, below, low, high)
        for i in range(min(PACK, last - start)):
            here = 0.5 * (low[i] + high[i])
            found[start + i] = root(here) if 0.0 < here < WIDEST else np.nan
