"""Lanes in packs: as many as are worked on together, in the lanes of vector registers."""

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled

PACK = 8


@compiled
def take(given: Lanes, start: int, last: int, pack: Lanes) -> None:
    """Fill a pack with the lanes from `start` on; where `last` ends them it repeats the last."""
    for row in range(pack.shape[0]):
        for i in range(PACK):
            pack[row, i] = given[row, min(start + i, last - 1)]


@compiled
def put(pack: Lanes, start: int, last: int, found: Lanes) -> None:
    """Write a pack to the lanes from `start` on, as many as there are before `last`."""
    for row in range(pack.shape[0]):
        for i in range(min(PACK, last - start)):
            found[row, start + i] = pack[row, i]
