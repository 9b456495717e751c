"""Small systems of linear equations, solved in place. Rows are padded to whole quads."""

import math
from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import QUAD, compiled, less, less_rows, whole_quads

MULTIPLIERS = 1e8
"""Sum of the squared multipliers of rows above which rows are swapped. Below it at most some four
of sixteen digits are lost; Newton's method asks for seven."""
NONE = -1.0
"""First of the order where no rows were swapped."""


class Factors(NamedTuple):
    """Factors of a matrix, transposed: along their rows no sum waits for the sum before it.

    All but the order are padded with 0 to whole quads.
    """

    order: Lanes  # row that each pivot was swapped with; `NONE` first where none was
    inverse: Lanes  # one over each pivot
    lower: Lanes  # 0 on and left of the diagonal
    upper: Lanes  # 0 on and right of it
    work: Lanes  # what is left of the matrix


@compiled
def factors_for(size: int) -> Factors:
    """Allocate room for the factors of a matrix."""
    width = whole_quads(size)
    squares = np.zeros((width, width)), np.zeros((width, width)), np.zeros((width, width))
    return Factors(np.zeros(size), np.zeros(width), *squares)


@compiled
def factorise(matrix: Lanes, factors: Factors) -> bool:
    """Gaussian elimination; false if the matrix, its rows padded to whole quads, is singular.

    Rows are swapped only where elimination without swaps would lose digits. Looking for pivots and
    swapping takes as long as all else.
    """
    return _factorised_in_place(matrix, factors) or _factorised_with_swaps(matrix, factors)


@compiled
def _copy(matrix: Lanes, factors: Factors) -> None:
    """Copy a matrix to the work space, with ones on the diagonal where it is padded."""
    size, work = factors.order.size, factors.work
    for i in range(size):
        for j in range(work.shape[0]):
            work[i, j] = matrix[i, j]
    for i in range(size, work.shape[0]):
        for j in range(work.shape[0]):
            work[i, j] = 0.0
        work[i, i] = 1.0


@compiled
def _factorised_in_place(matrix: Lanes, factors: Factors) -> bool:
    """Eliminate with the pivots as they stand, by four rows at once; false if digits are lost."""
    lower, upper, inverse, work = factors.lower, factors.upper, factors.inverse, factors.work
    width, total = inverse.size, 0.0
    _copy(matrix, factors)
    factors.order[0] = NONE
    for k in range(0, width, QUAD):
        # Four pivots, and what is right of them in their rows.
        k1, k2, k3, onward = k + 1, k + 2, k + 3, k + QUAD
        u01, u02, u03 = work[k, k1], work[k, k2], work[k, k3]
        p0 = 1 / work[k, k]
        l10, l20, l30 = work[k1, k] * p0, work[k2, k] * p0, work[k3, k] * p0
        p1 = 1 / (work[k1, k1] - l10 * u01)
        u12, u13 = work[k1, k2] - l10 * u02, work[k1, k3] - l10 * u03
        l21, l31 = (work[k2, k1] - l20 * u01) * p1, (work[k3, k1] - l30 * u01) * p1
        p2 = 1 / (work[k2, k2] - l20 * u02 - l21 * u12)
        u23 = work[k2, k3] - l20 * u03 - l21 * u13
        l32 = (work[k3, k2] - l30 * u02 - l31 * u12) * p2
        p3 = 1 / (work[k3, k3] - l30 * u03 - l31 * u13 - l32 * u23)
        inverse[k], inverse[k1], inverse[k2], inverse[k3] = p0, p1, p2, p3
        lower[k, k1], lower[k, k2], lower[k, k3] = l10, l20, l30
        lower[k1, k2], lower[k1, k3], lower[k2, k3] = l21, l31, l32
        upper[k1, k], upper[k2, k], upper[k3, k] = u01, u02, u03
        upper[k2, k1], upper[k3, k1], upper[k3, k2] = u12, u13, u23
        total += l10 * l10 + l20 * l20 + l30 * l30 + l21 * l21 + l31 * l31 + l32 * l32
        less(work, k1, 0, work, k, l10, onward, width)
        less_rows(work, k2, 0, work, (k, k1), (l20, l21), onward, width)
        less_rows(work, k3, 0, work, (k, k1, k2), (l30, l31, l32), onward, width)
        # Rows below.
        for i in range(onward, width):
            upper[i, k], upper[i, k1] = work[k, i], work[k1, i]
            upper[i, k2], upper[i, k3] = work[k2, i], work[k3, i]
            a = work[i, k] * p0
            b = (work[i, k1] - a * u01) * p1
            c = (work[i, k2] - a * u02 - b * u12) * p2
            d = (work[i, k3] - a * u03 - b * u13 - c * u23) * p3
            lower[k, i], lower[k1, i], lower[k2, i], lower[k3, i] = a, b, c, d
            total += (a * a + b * b) + (c * c + d * d)
            less_rows(work, i, 0, work, (k, k1, k2, k3), (a, b, c, d), onward, width)
    return total < MULTIPLIERS


@compiled
def _factorised_with_swaps(matrix: Lanes, factors: Factors) -> bool:
    """Eliminate with partial pivoting; false if the matrix is singular."""
    lower, upper, work = factors.lower, factors.upper, factors.work
    size, width = factors.order.size, factors.inverse.size
    _copy(matrix, factors)
    for i in range(width):
        factors.inverse[i] = 0.0
        for j in range(width):
            lower[i, j] = upper[i, j] = 0.0
    for k in range(size):
        # Pivot: the largest element of the column.
        best, largest = k, 0.0
        for i in range(k, size):
            if abs(work[i, k]) > largest:
                best, largest = i, abs(work[i, k])
        if not 0 < largest < math.inf:
            return False
        factors.order[k] = best
        for j in range(size):
            work[k, j], work[best, j] = work[best, j], work[k, j]
            lower[j, k], lower[j, best] = lower[j, best], lower[j, k]
        # Eliminate below.
        factors.inverse[k] = 1 / work[k, k]
        for i in range(k):
            upper[k, i] = work[i, k]
        for i in range(k + 1, size):
            lower[k, i] = work[i, k] * factors.inverse[k]
            less(work, i, 0, work, k, lower[k, i], (k + 1) // QUAD * QUAD, width)
    return True


@compiled
def substitute(factors: Factors, values: Lanes) -> None:
    """Solve with the factors of a matrix; `values` becomes the solution from right-hand side.

    It is padded to whole quads. Four columns go at once, so that fewer sums wait for others.
    """
    lower, upper, inverse = factors.lower, factors.upper, factors.inverse
    size, width = factors.order.size, inverse.size
    for k in range(size, width):
        values[k] = 0.0
    if factors.order[0] != NONE:
        for k in range(size):
            best = int(factors.order[k])
            values[k], values[best] = values[best], values[k]
    # Forward, then back substitution.
    for k in range(0, width, QUAD):
        k1, k2, k3 = k + 1, k + 2, k + 3
        a = values[k]
        b = values[k1] - a * lower[k, k1]
        c = values[k2] - a * lower[k, k2] - b * lower[k1, k2]
        d = values[k3] - a * lower[k, k3] - b * lower[k1, k3] - c * lower[k2, k3]
        values[k1], values[k2], values[k3] = b, c, d
        less_rows(values, 0, 0, lower, (k, k1, k2, k3), (a, b, c, d), k + QUAD, width)
    for k in range(width - QUAD, -1, -QUAD):
        k1, k2, k3 = k + 1, k + 2, k + 3
        d = values[k3] * inverse[k3]
        c = (values[k2] - d * upper[k3, k2]) * inverse[k2]
        b = (values[k1] - d * upper[k3, k1] - c * upper[k2, k1]) * inverse[k1]
        a = (values[k] - d * upper[k3, k] - c * upper[k2, k] - b * upper[k1, k]) * inverse[k]
        values[k], values[k1], values[k2], values[k3] = a, b, c, d
        less_rows(values, 0, 0, upper, (k3, k2, k1, k), (d, c, b, a), 0, k)


@compiled
def substitute_all(factors: Factors, right: Lanes, width: int) -> None:
    """Solve for the first `width` columns of `right`, whole quads, which become the solutions."""
    size, lower, upper = factors.order.size, factors.lower, factors.upper
    for k in range(size if factors.order[0] != NONE else 0):
        best = int(factors.order[k])
        if best != k:
            for c in range(width):
                right[k, c], right[best, c] = right[best, c], right[k, c]
    # Forward, then back substitution, by pairs of rows.
    for j in range(0, size, 2):
        k = j + 1
        less(right, k, 0, right, j, lower[j, k], 0, width)
        for i in range(k + 1, size):
            less_rows(right, i, 0, right, (j, k), (lower[j, i], lower[k, i]), 0, width)
    for k in range(size - 1, -1, -2):
        j = k - 1
        for c in range(width):
            right[k, c] *= factors.inverse[k]
            right[j, c] = (right[j, c] - upper[k, j] * right[k, c]) * factors.inverse[j]
        for i in range(j):
            less_rows(right, i, 0, right, (k, j), (upper[k, i], upper[j, i]), 0, width)


@compiled
def dot(weights: Lanes, values: Lanes, first: int) -> float:
    """Scalar product with the values from `first` on."""
    total = 0.0
    for j in range(weights.size):
        total += weights[j] * values[first + j]
    return total
