"""Machine numbers as a bench log gave them, with their uncertainty."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from engine.study.knowledge import Knowledge


@dataclass(frozen=True, eq=False)
class Fit:
    """Fitted machine numbers, SI."""

    values: Mapping[str, float]
    standard: Mapping[str, float]
    """Standard uncertainty by key."""
    correlation: NDArray[np.float64]
    """Of the keys, in their order."""
    knowledge: Knowledge | None = None
    """What its logs say of all coefficients, for the fit of the next log."""
    logs: Mapping[str, str] = field(default_factory=dict)
    """SHA-256 of every log in it, by the name of its file."""
    drawn: Mapping[str, float] = field(default_factory=dict)
    """Values of the study itself in place of which a study took those of the fit."""

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of the keys, in their order."""
        spread = np.array(list(self.standard.values()))
        return self.correlation * np.outer(spread, spread)

    @property
    def known(self) -> Knowledge:
        """What its logs say, or, where that is not known, what its numbers say."""
        return self.knowledge or Knowledge.of(self.values, self.covariance)

    def after(self, earlier: "Fit | None") -> "Fit":
        """Add the other numbers of an earlier fit, taken as independent of these."""
        kept = [] if earlier is None else [key for key in earlier.values if key not in self.values]
        if earlier is None or not kept:
            return self
        places = [list(earlier.values).index(key) for key in kept]
        size = len(self.values)
        correlation = np.eye(size + len(kept))
        correlation[:size, :size] = self.correlation
        correlation[size:, size:] = earlier.correlation[np.ix_(places, places)]
        return replace(
            self,
            values={**self.values, **{key: earlier.values[key] for key in kept}},
            standard={**self.standard, **{key: earlier.standard[key] for key in kept}},
            correlation=correlation,
        )
