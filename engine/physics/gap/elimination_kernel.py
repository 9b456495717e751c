"""Small systems of linear equations, solved in place. Rows are padded to whole quads."""

import math
from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import QUAD, compiled, less, less_rows, whole_quads


class Factors(NamedTuple):
    """Factors of a matrix, transposed: along their rows no sum waits for the sum before it.

    All but the order are padded with 0 to whole quads.
    """

    order: Lanes  # row that each pivot was swapped with
    inverse: Lanes  # one over each pivot
    lower: Lanes  # 0 on and left of the diagonal
    upper: Lanes  # 0 on and right of it


@compiled
def factors_for(size: int) -> Factors:
    """Allocate room for the factors of a matrix."""
    width = whole_quads(size)
    square = np.zeros((width, width)), np.zeros((width, width))
    return Factors(np.zeros(size), np.zeros(width), square[0], square[1])


@compiled
def factorise(matrix: Lanes, factors: Factors) -> bool:
    """Gaussian elimination with partial pivoting; false if the matrix is singular.

    The matrix, its size even and its rows padded to whole quads, is lost. Columns go in pairs: a
    row is read and written once for two.
    """
    size, width = matrix.shape
    lower = factors.lower
    # Pivot: the largest element of the column.
    best, largest = 0, 0.0
    for i in range(size):
        if abs(matrix[i, 0]) > largest:
            best, largest = i, abs(matrix[i, 0])
    for k in range(0, size, 2):
        # First of the pair, with what it does to the second column.
        if not _swapped(matrix, factors, k, best, largest):
            return False
        pivot, beside, next_one = factors.inverse[k], matrix[k, k + 1], k + 1
        best, largest = next_one, 0.0
        for i in range(next_one, size):
            share = matrix[i, k] * pivot
            value = matrix[i, next_one] - share * beside
            lower[k, i], matrix[i, next_one] = share, value
            if abs(value) > largest:
                best, largest = i, abs(value)
        # Second of the pair. What is left of the pivots in their quad is used no more.
        if not _swapped(matrix, factors, next_one, best, largest):
            return False
        pivot, first = factors.inverse[next_one], (k + 2) // QUAD * QUAD
        less(matrix, next_one, 0, matrix, k, lower[k, next_one], first, width)
        # Eliminate below, and find the next pivot.
        best, largest = k + 2, 0.0
        for i in range(k + 2, size):
            share = matrix[i, next_one] * pivot
            lower[next_one, i] = share
            less_rows(matrix, i, matrix, (k, next_one), (lower[k, i], share), first, width)
            if abs(matrix[i, k + 2]) > largest:
                best, largest = i, abs(matrix[i, k + 2])
    return True


@compiled
def _swapped(matrix: Lanes, factors: Factors, k: int, best: int, largest: float) -> bool:
    """Swap the row of pivot k into its place; false if there is no pivot."""
    lower, upper = factors.lower, factors.upper
    if not 0 < largest < math.inf:
        return False
    factors.order[k] = best
    if best != k:
        for j in range(k, matrix.shape[0]):
            matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
        for j in range(k):
            lower[j, k], lower[j, best] = lower[j, best], lower[j, k]
    factors.inverse[k] = 1 / matrix[k, k]
    for i in range(k):
        upper[k, i] = matrix[i, k]
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
        less_rows(values, 0, lower, (k, k1, k2, k3), (a, b, c, d), k + QUAD, width)
    for k in range(width - QUAD, -1, -QUAD):
        k1, k2, k3 = k + 1, k + 2, k + 3
        d = values[k3] * inverse[k3]
        c = (values[k2] - d * upper[k3, k2]) * inverse[k2]
        b = (values[k1] - d * upper[k3, k1] - c * upper[k2, k1]) * inverse[k1]
        a = (values[k] - d * upper[k3, k] - c * upper[k2, k] - b * upper[k1, k]) * inverse[k]
        values[k], values[k1], values[k2], values[k3] = a, b, c, d
        less_rows(values, 0, upper, (k3, k2, k1, k), (d, c, b, a), 0, k)


@compiled
def substitute_all(factors: Factors, right: Lanes, width: int) -> None:
    """Solve for the first `width` columns of `right`, whole quads, which become the solutions."""
    size, lower, upper = factors.order.size, factors.lower, factors.upper
    for k in range(size):
        best = int(factors.order[k])
        if best != k:
            for c in range(width):
                right[k, c], right[best, c] = right[best, c], right[k, c]
    # Forward, then back substitution, by pairs of rows.
    for j in range(0, size, 2):
        k = j + 1
        less(right, k, 0, right, j, lower[j, k], 0, width)
        for i in range(k + 1, size):
            less_rows(right, i, right, (j, k), (lower[j, i], lower[k, i]), 0, width)
    for k in range(size - 1, -1, -2):
        j = k - 1
        for c in range(width):
            right[k, c] *= factors.inverse[k]
            right[j, c] = (right[j, c] - upper[k, j] * right[k, c]) * factors.inverse[j]
        for i in range(j):
            less_rows(right, i, right, (k, j), (upper[k, i], upper[j, i]), 0, width)


@compiled
def dot(weights: Lanes, values: Lanes, first: int) -> float:
    """Scalar product with the values from `first` on."""
    total = 0.0
    for j in range(weights.size):
        total += weights[j] * values[first + j]
    return total
