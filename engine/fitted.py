"""Machine numbers as a bench log gave them, with their uncertainty."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class Fit:
    """Fitted machine numbers, SI."""

    values: Mapping[str, float]
    standard: Mapping[str, float]
    """Standard uncertainty by key."""
    correlation: NDArray[np.float64]
    """Of the keys, in their order."""

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of the keys, in their order."""
        spread = np.array(list(self.standard.values()))
        return self.correlation * np.outer(spread, spread)
