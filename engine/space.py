"""The builds a study allows, as a grid of whole numbers: index <-> SI values, sampling, size.

Every searched key is an axis and every build a row of indices. A span without a step is cut
finely enough to be called continuous; so a build is recovered exactly from its stored values.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import starmap
from math import inf, prod
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from engine.columns import COLUMNS

Index = NDArray[np.int64]
"""One row a build, one column an axis."""

CONTINUOUS_STEPS = 2**20
"""Steps into which a span without a step is cut: about a millionth of it."""

# Odd constants of the 64-bit finaliser of Steele, Lea and Flood 2014, "Fast splittable
# pseudorandom number generators", OOPSLA 14 (from memory).
_MIX_A, _MIX_B = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
_GOLDEN = np.uint64(0x9E3779B97F4A7C15)


class Ranged(Protocol):
    """What a range of a study says; see `engine.study.Range`."""

    @property
    def min(self) -> Any: ...  # noqa: D102

    @property
    def max(self) -> Any: ...  # noqa: D102

    @property
    def step(self) -> Any: ...  # noqa: D102

    @property
    def choices(self) -> Any: ...  # noqa: D102


@dataclass(frozen=True)
class Axis:
    """One searched key: either evenly spaced numbers or a list of choices."""

    key: str
    count: int
    """Number of values."""
    low: float = 0.0
    """First value [SI] of an evenly spaced axis."""
    step: float = 0.0
    """Distance of neighbouring values [SI] of an evenly spaced axis."""
    choices: tuple[float, ...] | tuple[str, ...] = ()
    """Numbers in rising order, or words in the order of the study."""
    continuous: bool = False

    @property
    def is_text(self) -> bool:
        """Whether the values are words, which have no order."""
        return bool(self.choices) and isinstance(self.choices[0], str)

    def values(self, index: Index) -> NDArray[Any]:
        """SI values (or words) at these indices."""
        if self.choices:
            return np.asarray(self.choices)[index]
        return self.low + self.step * index

    def nearest(self, values: NDArray[Any]) -> Index:
        """Find the indices whose values lie nearest; a word must be one of the choices."""
        if self.is_text:
            order = np.argsort(self.choices)
            found = np.searchsorted(np.asarray(self.choices)[order], values)
            index = order[np.minimum(found, self.count - 1)]
            unknown = np.asarray(self.choices)[index] != values
            if np.any(unknown):
                msg = f"{self.key}: {np.asarray(values)[unknown][0]} is not one of {self.choices}"
                raise ValueError(msg)
            return index.astype(np.int64)
        if self.choices:
            middles = np.convolve(np.asarray(self.choices, dtype=float), (0.5, 0.5), "valid")
            return np.searchsorted(middles, values).astype(np.int64)
        index = np.rint((np.asarray(values, dtype=float) - self.low) / self.step)
        return np.clip(index, 0, self.count - 1).astype(np.int64)


@dataclass(frozen=True)
class Space:
    """Every build of a study."""

    axes: tuple[Axis, ...]
    fixed: Mapping[str, float | str] = field(default_factory=dict)
    """Values [SI] that every build shares."""

    @classmethod
    def of(
        cls, ranges: Mapping[str, Ranged], fixed: Mapping[str, float | str] | None = None
    ) -> "Space":
        """Space of these ranges; a range of one value becomes a fixed value."""
        axes = list(starmap(_axis, ranges.items()))
        single = {axis.key: axis.values(np.zeros(1, int))[0] for axis in axes if axis.count == 1}
        return cls(tuple(axis for axis in axes if axis.count > 1), {**(fixed or {}), **single})

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of the axes, in order."""
        return tuple(axis.key for axis in self.axes)

    @property
    def counts(self) -> NDArray[np.int64]:
        """Number of values of each axis."""
        return np.array([axis.count for axis in self.axes], dtype=np.int64)

    @property
    def size(self) -> float:
        """Number of builds: whole, or inf where a span is continuous."""
        if any(axis.continuous for axis in self.axes):
            return inf
        return prod(axis.count for axis in self.axes)

    def builds(self, index: Index) -> dict[str, NDArray[Any]]:
        """SI values by key, one element a row of `index`, with the fixed values repeated."""
        n_builds = len(index)
        fixed = {
            key: np.full(n_builds, value if isinstance(value, str) else float(value))
            for key, value in self.fixed.items()
        }
        return fixed | {axis.key: axis.values(index[:, i]) for i, axis in enumerate(self.axes)}

    def index(self, builds: Mapping[str, NDArray[Any]]) -> Index:
        """Rows of indices nearest to these SI values: snaps to the grid."""
        if not self.axes:
            return np.zeros((max(map(len, builds.values()), default=1), 0), dtype=np.int64)
        return np.stack([axis.nearest(builds[axis.key]) for axis in self.axes], axis=1)

    def from_unit(self, unit: NDArray[np.float64]) -> Index:
        """Snap points of the unit cube; each value of an axis has an equal share of it."""
        return np.clip((unit * self.counts).astype(np.int64), 0, self.counts - 1)

    def to_unit(self, index: Index) -> NDArray[np.float64]:
        """Middle of each build's cell in the unit cube."""
        return (index + 0.5) / self.counts

    def sample(self, n_builds: int, generator: np.random.Generator) -> Index:
        """Spread builds over the space by a scrambled Sobol sequence; repeats are possible."""
        if not self.axes:
            return np.zeros((n_builds, 0), dtype=np.int64)
        sequence = qmc.Sobol(len(self.axes), scramble=True, rng=generator)
        # A whole power of two is drawn: Sobol points are balanced only then.
        return self.from_unit(sequence.random_base2(max(n_builds - 1, 0).bit_length())[:n_builds])

    def every(self) -> Index:
        """Every build of a finite space, the last axis running fastest."""
        if self.size == inf:
            msg = "a continuous space cannot be listed"
            raise ValueError(msg)
        grid: Index = np.indices(self.counts.tolist(), dtype=np.int64)
        return grid.reshape(len(self.axes), int(self.size)).T

    def hashes(self, index: Index) -> NDArray[np.uint64]:
        """Give each build a 64-bit number, the same on every machine; equal builds agree."""
        mixed = np.zeros(len(index), dtype=np.uint64)
        for column in index.T:
            mixed = (mixed + column.astype(np.uint64)) * _MIX_A + _GOLDEN
            mixed = (mixed ^ (mixed >> np.uint64(30))) * _MIX_B
            mixed ^= mixed >> np.uint64(31)
        return mixed


def _axis(key: str, given: Ranged) -> Axis:
    if given.choices is not None:
        choices = tuple(dict.fromkeys(given.choices))
        if isinstance(choices[0], str):
            return Axis(key, len(choices), choices=choices)
        return Axis(key, len(choices), choices=tuple(sorted(map(float, choices))))
    low, high, step = float(given.min), float(given.max), given.step
    if step is None and COLUMNS[key].is_count:
        step = 1
    if step is None and high > low:
        fine = (high - low) / CONTINUOUS_STEPS
        return Axis(key, CONTINUOUS_STEPS + 1, low, fine, continuous=True)
    count = 1 if high <= low else 1 + int((high - low) / float(step) + 1e-9)
    return Axis(key, count, low, float(step or 0.0))
