"""Numbers rounded to significant digits, as they are stored."""

from math import floor, log10

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import entry


@entry
def round_rows(rows: Lanes, powers: Lanes, digits: int) -> None:
    """Round every number of some rows to so many significant digits, in place.

    `powers` are those of ten from 0 up, exact to the last bit: otherwise 0.3 would become the
    number next to it. Many rows hold one number throughout, which is then rounded once.
    """
    most = powers.size - 1
    for row in range(rows.shape[0]):
        last, found = np.nan, np.nan
        for lane in range(rows.shape[1]):
            number = rows[row, lane]
            if number == 0.0:
                continue  # also keeps its sign
            if number != last:
                last = found = number
                if abs(number) < np.inf:
                    places = int(digits - 1 - floor(log10(abs(number))))
                    up, down = powers[min(max(places, 0), most)], powers[min(max(-places, 0), most)]
                    found = np.rint(number * up / down) / up * down
            rows[row, lane] = found
