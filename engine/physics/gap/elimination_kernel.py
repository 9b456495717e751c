"""Small dense systems of linear equations, solved in place."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled


@compiled
def factorise(matrix: Lanes, order: Lanes) -> bool:
    """Gaussian elimination with partial pivoting, in place; false if the matrix is singular.

    `order` takes the row that each pivot was swapped with.
    """
    size = matrix.shape[0]
    for k in range(size):
        # Pivot: the largest element of the column.
        best, largest = k, abs(matrix[k, k])
        for i in range(k + 1, size):
            if abs(matrix[i, k]) > largest:
                best, largest = i, abs(matrix[i, k])
        if not 0 < largest < math.inf:
            return False
        order[k] = best
        if best != k:
            for j in range(size):
                matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
        # Eliminate below; the factors stay in the lower triangle.
        pivot = 1 / matrix[k, k]
        for i in range(k + 1, size):
            share = matrix[i, k] * pivot
            matrix[i, k] = share
            if share != 0:
                for j in range(k + 1, size):
                    matrix[i, j] -= share * matrix[k, j]
    return True


@compiled
def substitute(matrix: Lanes, order: Lanes, values: Lanes) -> None:
    """Solve with a factorised matrix; `values` is the right-hand side and becomes the solution."""
    size = matrix.shape[0]
    for k in range(size):
        best = int(order[k])
        values[k], values[best] = values[best], values[k]
    # Forward, then back substitution.
    for i in range(1, size):
        total = values[i]
        for j in range(i):
            total -= matrix[i, j] * values[j]
        values[i] = total
    for i in range(size - 1, -1, -1):
        total = values[i]
        for j in range(i + 1, size):
            total -= matrix[i, j] * values[j]
        values[i] = total / matrix[i, i]
