"""Scrambled Sobol points, the same as those of `scipy.stats.qmc`, which takes long to load.

Loading it takes 0.6 s of processor time beside what else a run loads of SciPy. The test compares
with it to the last bit.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from engine.files import shared_file

BITS = 30
"""Binary places of a point."""
DIRECTIONS = "sobol.txt"

Whole = NDArray[np.uint32]


class Sobol:
    """Points of a sequence whose digits are scrambled at random, so that none is special.

    References
    ----------
    Antonov and Saleev 1979, "An economic method of computing LP-tau sequences", USSR Comput. Maths.
    Math. Phys. 19, 252-256, the order; Matousek 1998, "On the L2-discrepancy for anchored boxes",
    J. Complexity 14, 527-556, the scrambling (both from memory).
    """

    def __init__(self, n_axes: int, generator: np.random.Generator) -> None:
        """Draw the scrambling, of up to 128 axes, from a child of the generator."""
        drawn_from = generator.spawn(1)[0]
        places = np.arange(BITS, dtype=np.uint32)
        drawn = drawn_from.integers(2, size=(n_axes, BITS), dtype=np.uint32)
        self._shift: Whole = np.dot(drawn, np.uint32(2) ** places)
        lower = np.tril(drawn_from.integers(2, size=(n_axes, BITS, BITS), dtype=np.uint32))
        lower[:, places, places] = 1
        # Digits of each direction, the first one first.
        digits = (_directions()[:n_axes, :, None] >> places[::-1]) & 1
        scrambled = (lower[:, None] * digits[:, :, None]).sum(axis=3) & 1
        self._directions: Whole = (scrambled << places[::-1]).sum(axis=2).astype(np.uint32)

    def points(self, first: int, count: int) -> NDArray[np.float64]:
        """Give so many points from a number on, (point, axis); balanced if both are powers of 2."""
        numbers = np.arange(first, first + count)
        order = numbers ^ (numbers >> 1)
        found = np.tile(self._shift, (count, 1))
        for place in range(int(order.max(initial=0)).bit_length()):
            found[(order >> place) & 1 == 1] ^= self._directions[:, place]
        return np.asarray(found * 2.0**-BITS, dtype=np.float64)


@cache
def _directions() -> Whole:
    """Direction numbers of each axis, by place, shifted so that each has all its digits."""
    text = shared_file(DIRECTIONS).read_text(encoding="utf-8")
    lines = [line.split() for line in text.splitlines() if line[0] != "#"]
    found = np.ones((len(lines), BITS), dtype=np.uint32)  # the first axis is all ones
    for axis, (polynomial, *begin) in enumerate(lines[1:], 1):
        degree = len(begin)
        numbers = [int(number) for number in begin]
        for place in range(degree, BITS):
            number = numbers[place - degree]
            for back in range(1, degree + 1):
                if int(polynomial) >> (degree - back) & 1:
                    number ^= numbers[place - back] << back
            numbers.append(number)
        found[axis] = numbers
    return found << np.arange(BITS, dtype=np.uint32)[::-1]
