"""Weighted sums of the rows of a table; see `web`."""

from engine.physics.arrays import Lanes, Numbers
from engine.physics.compiled import compiled


@compiled
def weighted_rows(table: Lanes, rows: Numbers, weights: Lanes, found: Lanes) -> None:
    """Fill each lane with the sum of some rows of a table; rows and weights (lane, corner)."""
    n_corners, n_columns = rows.shape[1], table.shape[1]
    for lane in range(rows.shape[0]):
        for column in range(n_columns):
            found[lane, column] = 0.0
        for corner in range(n_corners):
            weight, row = weights[lane, corner], rows[lane, corner]
            for column in range(n_columns):
                found[lane, column] += weight * table[row, column]
