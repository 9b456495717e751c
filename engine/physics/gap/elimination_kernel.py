"""Small systems of linear equations, solved in place, and products of matrix and vector."""

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


@compiled
def eliminate_band(band: Lanes, below: int, above: int, values: Lanes) -> bool:
    """Solve a banded system in place, with partial pivoting; false if it is singular.

    Row i of `band` holds columns i - below to i + below + above; the last `below` of them are 0 at
    first and take what pivoting brings. `values` is the right-hand side and becomes the solution.
    """
    size, width = band.shape[0], below + above + 1
    for k in range(size):
        # Pivot: the largest element of the column.
        end = min(k + below + 1, size)
        best, largest = k, abs(band[k, below])
        for i in range(k + 1, end):
            if abs(band[i, below - i + k]) > largest:
                best, largest = i, abs(band[i, below - i + k])
        if not 0 < largest < math.inf:
            return False
        if best != k:
            shift = below - best + k
            for j in range(width):
                band[k, below + j], band[best, shift + j] = (
                    band[best, shift + j],
                    band[k, below + j],
                )
            values[k], values[best] = values[best], values[k]
        # Eliminate below.
        pivot, row = 1 / band[k, below], band[k, below:]
        for i in range(k + 1, end):
            target = band[i, below - i + k :]
            share = target[0] * pivot
            if share != 0:
                for j in range(1, width):
                    target[j] -= share * row[j]
                values[i] -= share * values[k]
    # Back substitution.
    for i in range(size - 1, -1, -1):
        total = values[i]
        for j in range(1, min(width, size - i)):
            total -= band[i, below + j] * values[i + j]
        values[i] = total / band[i, below]
    return True


@compiled
def times(matrix_t: Lanes, values: Lanes, first: int, n: int, out: Lanes) -> None:
    """Product of a matrix, given by its transpose, with n of the values."""
    for i in range(matrix_t.shape[1]):
        out[i] = 0.0
    for j in range(n):
        value = values[first + j]
        for i in range(matrix_t.shape[1]):
            out[i] += matrix_t[j, i] * value


@compiled
def dot(weights: Lanes, values: Lanes, first: int) -> float:
    """Scalar product with the values from `first` on."""
    total = 0.0
    for j in range(weights.size):
        total += weights[j] * values[first + j]
    return total
