"""Small systems of linear equations, solved in place. Rows are padded to whole quads."""

import math
from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import QUAD, compiled, less, whole_quads


class Factors(NamedTuple):
    """Factors of a matrix, transposed: along their rows no sum waits for the sum before it."""

    order: Lanes  # row that each pivot was swapped with
    inverse: Lanes  # one over each pivot
    lower: Lanes  # 0 on and left of the diagonal
    upper: Lanes  # 0 on and right of it


@compiled
def factors_for(size: int) -> Factors:
    """Allocate room for the factors of a matrix."""
    width = whole_quads(size)
    square = np.zeros((size, width)), np.zeros((size, width))
    return Factors(np.zeros(size), np.zeros(size), square[0], square[1])


@compiled
def factorise(matrix: Lanes, factors: Factors) -> bool:
    """Gaussian elimination with partial pivoting; false if the matrix is singular.

    The matrix, its rows padded to whole quads, is lost.
    """
    size, width = matrix.shape
    lower, upper = factors.lower, factors.upper
    for k in range(size):
        # Pivot: the largest element of the column.
        best, largest = k, abs(matrix[k, k])
        for i in range(k + 1, size):
            if abs(matrix[i, k]) > largest:
                best, largest = i, abs(matrix[i, k])
        if not 0 < largest < math.inf:
            return False
        factors.order[k] = best
        if best != k:
            for j in range(k, size):
                matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
            for j in range(k):
                lower[j, k], lower[j, best] = lower[j, best], lower[j, k]
        # Eliminate below. What is left of the pivot in its quad is used no more.
        pivot = 1 / matrix[k, k]
        factors.inverse[k] = pivot
        first = (k + 1) // QUAD * QUAD
        for i in range(k + 1, size):
            share = matrix[i, k] * pivot
            lower[k, i] = share
            if share != 0:
                less(matrix, i, 0, matrix, k, share, first, width)
        for i in range(k):
            upper[k, i] = matrix[i, k]
    return True


@compiled
def substitute(factors: Factors, values: Lanes) -> None:
    """Solve with the factors of a matrix; `values` becomes the solution from right-hand side.

    It is padded to whole quads.
    """
    size, width = factors.lower.shape
    for k in range(size):
        best = int(factors.order[k])
        values[k], values[best] = values[best], values[k]
    # Forward, then back substitution.
    for j in range(size - 1):
        less(values, 0, 0, factors.lower, j, values[j], (j + 1) // QUAD * QUAD, width)
    for j in range(size - 1, -1, -1):
        value = values[j] * factors.inverse[j]
        values[j] = value
        less(values, 0, 0, factors.upper, j, value, 0, whole_quads(j))


@compiled
def substitute_all(factors: Factors, right: Lanes, width: int) -> None:
    """Solve for the first `width` columns of `right`, whole quads, which become the solutions."""
    size = factors.order.size
    for k in range(size):
        best = int(factors.order[k])
        if best != k:
            for c in range(width):
                right[k, c], right[best, c] = right[best, c], right[k, c]
    # Forward, then back substitution.
    for j in range(size):
        for i in range(j + 1, size):
            less(right, i, 0, right, j, factors.lower[j, i], 0, width)
    for j in range(size - 1, -1, -1):
        for c in range(width):
            right[j, c] *= factors.inverse[j]
        for i in range(j):
            less(right, i, 0, right, j, factors.upper[j, i], 0, width)


@compiled
def dot(weights: Lanes, values: Lanes, first: int) -> float:
    """Scalar product with the values from `first` on."""
    total = 0.0
    for j in range(weights.size):
        total += weights[j] * values[first + j]
    return total
