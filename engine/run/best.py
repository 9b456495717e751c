"""The best designs so far, held so that a generation that adds few to them costs little."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import Results
from engine.model.lanes import rows_of
from engine.run.parquet import joined
from engine.search.front import Merits, nondominated

MOST_PIECES = 50
"""Pieces above which they are joined to one without what is no longer best."""


@dataclass
class Best:
    """Designs that no other beats, in the order in which they came.

    Their columns stay in the pieces that brought them: a front changes in nearly every generation,
    and its columns are read at the end.
    """

    merit: Merits
    """One row a design."""
    _builds: NDArray[Any] | None = None
    _pieces: list[Results] = field(default_factory=list)
    _piece: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """Piece of each design, and its row there."""
    _row: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    @classmethod
    def of_none(cls, n_aims: int) -> "Best":
        """Begin without any."""
        return cls(np.zeros((0, n_aims)))

    def __len__(self) -> int:
        """Count the designs."""
        return len(self.merit)

    def add(
        self,
        results: Results,
        merit: Merits,
        among: NDArray[np.int64],
        builds: Callable[[Results], NDArray[Any]] | None = None,
    ) -> None:
        """Take in the best designs `among` some, which have finite merits, and drop the beaten.

        `builds` gives builds as rows, where a build may come twice and is to be kept once.
        """
        new = among[nondominated(merit[among])]  # most designs drop out here
        both = np.concatenate([self.merit, merit[new]])
        known = None
        if builds is not None:
            index = builds(rows_of(results, new))
            known = index if self._builds is None else np.concatenate([self._builds, index])
        kept = np.flatnonzero(nondominated(both, known))
        coming = new[kept[kept >= len(self)] - len(self)]
        piece = np.full(len(coming), len(self._pieces))
        stay = kept[kept < len(self)]
        self._piece = np.concatenate([self._piece[stay], piece])
        self._row = np.concatenate([self._row[stay], np.arange(len(coming))])
        self.merit = both[kept]
        self._builds = None if known is None else known[kept]
        if len(coming):
            self._pieces.append(rows_of(results, coming))
        if len(self._pieces) > MOST_PIECES:
            self._pieces, self._row = [self.results()], np.arange(len(self))
            self._piece = np.zeros(len(self), dtype=np.int64)

    def results(self, keys: Sequence[str] | None = None) -> Results:
        """Every column of the designs, or of `keys` those that they have."""
        if not len(self):
            return {}
        # Designs of a piece stand together, in their order.
        return joined(
            rows_of(
                {
                    key: values
                    for key, values in self._pieces[piece].items()
                    if keys is None or key in keys
                },
                self._row[self._piece == piece],
            )
            for piece in np.unique(self._piece).tolist()
        )
