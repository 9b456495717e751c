"""Small dense systems of linear equations, solved in place by compiled code."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled


@compiled
def factorise(matrix: Lanes, order: Lanes) -> bool:
    """Gauss's elimination with pivots in place; false where the matrix is singular."""
    size = matrix.shape[0]
    for k in range(size):
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
    """Solve with a factorised matrix, in place."""
    size = matrix.shape[0]
    for k in range(size):
        best = int(order[k])
        values[k], values[best] = values[best], values[k]
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
