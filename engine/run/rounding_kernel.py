"""Numbers rounded to significant digits in their drawing units, as they are stored."""

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import entry

MOST = 308
"""Largest power of ten in the table of `round_rows`."""
BIAS, FRACTION = 1023, 52
"""What is added to the exponent of a number to store it, and the bits behind it."""


@entry
def round_rows(rows: Lanes, units: Lanes, tens: Lanes, digits: int, in_si: bool) -> None:
    """Turn rows of SI values into drawing units, rounded to so many significant digits, in place.

    Where asked for they are turned back into SI. `units` are offset and factor of each row. `tens`
    are the powers of ten from -MOST to MOST, exact to the last bit: otherwise 0.3 would become the
    number next to it.

    The power of ten of a number follows from its binary exponent, but for the last step: a
    logarithm would take most of the time. 78913 / 2^18 is log10(2), near enough for all exponents.
    """
    for row in range(rows.shape[0]):
        offset, factor = units[row]
        for lane in range(rows.shape[1]):
            number = (rows[row, lane] - offset) / factor
            size = abs(number)
            if 0.0 < size < np.inf:  # leaves NaN, and zero with its sign
                exponent = (np.float64(size).view(np.int64) >> FRACTION) - BIAS
                power = (exponent * 78913) >> 18
                if size >= tens[power + 1 + MOST]:
                    power += 1
                places = int(digits - 1 - power)
                if places < 0:
                    number = np.rint(number / tens[MOST - places]) * tens[MOST - places]
                else:
                    up = tens[MOST + min(places, MOST)]
                    number = np.rint(number * up) / up
            rows[row, lane] = number * factor + offset if in_si else number
