"""Columns as they are sent between processes: small, and of few objects."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Results
from engine.physics.arrays import alike, is_repeated, repeated
from engine.run.words import coded


@dataclass(frozen=True)
class Folded:
    """Columns of some builds, folded."""

    keys: tuple[str, ...]
    """All columns in their order."""
    n_rows: int
    same: dict[str, NDArray[Any]]
    """Those that hold one value throughout, as an array of one."""
    varying: tuple[str, ...]
    numbers: NDArray[np.float64]
    """Columns of numbers that vary, in the order of `varying`, (column, row)."""
    words: dict[str, tuple[NDArray[Any], NDArray[np.int32]]]
    """Columns of words: the different ones, and which each row has."""
    others: dict[str, NDArray[Any]]
    """The rest, as they are."""


def folded(columns: Mapping[str, NDArray[Any]]) -> Folded:
    """Fold columns of equal length."""
    n_rows = len(next(iter(columns.values()), ()))
    same, varying, words, others = {}, [], {}, {}
    for key, values in columns.items():
        if n_rows and (is_repeated(values) or alike(values)):
            same[key] = values[:1].copy()
        elif values.dtype == np.float64:
            varying.append(key)
        elif values.dtype.kind == "U":
            words[key] = coded(values)
        else:
            others[key] = values
    numbers = np.empty((len(varying), n_rows))
    for row, key in zip(numbers, varying, strict=True):
        row[:] = columns[key]
    return Folded(tuple(columns), n_rows, same, tuple(varying), numbers, words, others)


def unfolded(given: Folded) -> Results:
    """Columns as they were before they were folded."""
    rows = dict(zip(given.varying, given.numbers, strict=True)) | given.others
    rows |= {key: words[where] for key, (words, where) in given.words.items()}
    return {
        key: repeated(given.same[key], given.n_rows) if key in given.same else rows[key]
        for key in given.keys
    }
