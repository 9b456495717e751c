"""Columns of words as the few different ones, and which of them each row has."""

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import is_repeated

FACTOR = np.uint64(0xBF58476D1CE4E5B9)
"""Any large odd number; its powers are the factors of the characters of a word."""


def coded(values: NDArray[np.str_]) -> tuple[NDArray[np.str_], NDArray[np.int32]]:
    """Different words in the order in which they first occur, and which of them each row has.

    Words are told apart by 64-bit numbers, as whole columns of long words take long to sort. Should
    two words have the same number, they are sorted after all.

    Examples
    --------
    >>> words, where = coded(np.array(["no", "yes", "no"]))
    >>> words.tolist(), where.tolist()
    (['no', 'yes'], [0, 1, 0])
    """
    some = values[:1] if is_repeated(values) else values
    if not len(some):
        return some, np.zeros(0, dtype=np.int32)
    _, first, found = np.unique(_numbers(some), return_index=True, return_inverse=True)
    if (some[first[found]] != some).any():
        _, first, found = np.unique(some, return_index=True, return_inverse=True)
    order = np.argsort(first)
    place = np.empty(len(order), dtype=np.int32)
    place[order] = np.arange(len(order))
    return some[first[order]], np.broadcast_to(place[found], len(values)).astype(np.int32)


def _numbers(values: NDArray[np.str_]) -> NDArray[np.uint64]:
    characters = np.ascontiguousarray(values).view(np.uint32).reshape(len(values), -1)
    if characters.shape[1] % 2:
        characters = np.pad(characters, ((0, 0), (0, 1)))
    pairs = np.ascontiguousarray(characters).view(np.uint64)
    factors = FACTOR ** np.arange(1, pairs.shape[1] + 1, dtype=np.uint64)
    return np.asarray(pairs @ factors, dtype=np.uint64)
