"""Small systems of linear equations, solved in place, and products of matrix and vector."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled


@compiled
def factorise(matrix: Lanes, order: Lanes) -> bool:
    """Gaussian elimination with partial pivoting, in place; false if the matrix is singular.

    `order` takes the row that each pivot was swapped with. The factors are left transposed: along
    their rows no sum of `substitute` waits for the sum before it.
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
    for i in range(1, size):
        for j in range(i):
            matrix[i, j], matrix[j, i] = matrix[j, i], matrix[i, j]
    return True


@compiled
def substitute(factors: Lanes, order: Lanes, values: Lanes) -> None:
    """Solve with the factors of a matrix; `values` becomes the solution from right-hand side."""
    size = factors.shape[0]
    for k in range(size):
        best = int(order[k])
        values[k], values[best] = values[best], values[k]
    # Forward, then back substitution.
    for j in range(size - 1):
        value = values[j]
        for i in range(j + 1, size):
            values[i] -= factors[j, i] * value
    for j in range(size - 1, -1, -1):
        value = values[j] / factors[j, j]
        values[j] = value
        for i in range(j):
            values[i] -= factors[j, i] * value


@compiled
def substitute_all(factors: Lanes, order: Lanes, right: Lanes, width: int) -> None:
    """Solve for the first `width` columns of `right`, which become the solutions."""
    size = factors.shape[0]
    for k in range(size):
        best = int(order[k])
        if best != k:
            for c in range(width):
                right[k, c], right[best, c] = right[best, c], right[k, c]
    # Forward, then back substitution.
    for i in range(1, size):
        for j in range(i):
            share = factors[j, i]
            for c in range(width):
                right[i, c] -= share * right[j, c]
    for i in range(size - 1, -1, -1):
        for j in range(i + 1, size):
            share = factors[j, i]
            for c in range(width):
                right[i, c] -= share * right[j, c]
        for c in range(width):
            right[i, c] /= factors[i, i]


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
