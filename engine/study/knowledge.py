"""What logs say of coefficients together, so that a later fit goes on where an earlier one ended.

Near its fit each log is a quadratic form of all coefficients, also of those that were held at the
study's values: how much its residuals change with them. Forms of several logs add up, so the order
of the logs does not matter, and what one log holds another may tell.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Knowledge:
    """Squared residuals (x - centre)' information (x - centre) + 2 slope' (x - centre), SI."""

    keys: tuple[str, ...]
    centre: Numbers
    information: Numbers
    slope: Numbers

    @classmethod
    def of(cls, values: Mapping[str, float], covariance: Numbers) -> "Knowledge":
        """Take numbers with their covariance."""
        information = np.linalg.pinv(covariance, hermitian=True).astype(np.float64)
        centre = np.array([*values.values()])
        return cls(tuple(values), centre, np.asarray(information), np.zeros(len(values)))

    def of_keys(self, keys: Sequence[str], at: Mapping[str, float]) -> "Knowledge":
        """Give the same of other keys, around another point; keys that are left out are at it."""
        centre = np.array([at[key] for key in self.keys])
        slope = self.slope + self.information @ (centre - self.centre)
        places = [(n, self.keys.index(key)) for n, key in enumerate(keys) if key in self.keys]
        whole, part = np.zeros((len(keys), len(keys))), np.zeros(len(keys))
        if places:
            ours, theirs = (list(each) for each in zip(*places, strict=True))
            whole[np.ix_(ours, ours)] = self.information[np.ix_(theirs, theirs)]
            part[ours] = slope[theirs]
        return Knowledge(tuple(keys), np.array([at[key] for key in keys]), whole, part)

    def added(self, other: "Knowledge | None", at: Mapping[str, float]) -> "Knowledge":
        """Add what another log says; `at` gives a value for every key of both."""
        if other is None:
            return self
        keys = tuple(dict.fromkeys((*self.keys, *other.keys)))
        one, two = (each.of_keys(keys, at) for each in (self, other))
        return Knowledge(keys, one.centre, one.information + two.information, one.slope + two.slope)

    def rows(self) -> tuple[Numbers, Numbers]:
        """Matrix R and vector t of residuals R (x - centre) + t with these squares."""
        weight, axes = np.linalg.eigh(self.information)
        kept = weight > 1e-12 * max(weight.max(initial=0.0), 1e-300)
        root = np.sqrt(weight[kept])
        along = axes[:, kept].T
        return root[:, None] * along, along @ self.slope / root
