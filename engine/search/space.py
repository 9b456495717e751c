"""The builds that a study allows, as a grid of whole numbers: index <-> SI values, sampling, size.

Every searched key is an axis, and every build is a row of indices. A span without a step is divided
so finely that it is continuous in practice, so a build can be found exactly from its stored values.
"""

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from itertools import starmap
from math import inf, prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import repeated
from engine.stage_columns import OF_LATER_STAGES
from engine.study.study import Study
from engine.study.values import Range

Index = NDArray[np.int64]
"""One row for each build, one column for each axis."""

Proposal = Callable[[slice], Index]
"""Makes builds by their places among those proposed; only the random numbers are drawn for all."""

CONTINUOUS_STEPS = 2**20
"""Steps into which a span without a step is divided, each about a millionth of it."""

STORED_WHOLE = 2_000_000
"""Builds of a grid of which every one is stored."""
TRIED = 3
"""The stage firm tries as many builds as drawn as one in so many of the study's designs."""
SAMPLED = 6
"""It samples as many as one in so many."""
FEWEST_TRIED, MOST_TRIED, FEWEST_SAMPLED, MOST_SAMPLED = 100, 40_000, 300, 20_000

_ODD = np.uint64(0xBF58476D1CE4E5B9)
"""Odd factor of a 64-bit finaliser (Steele, Lea and Flood 2014, "Fast splittable pseudorandom
number generators", OOPSLA 14, from memory); its powers are odd and have no pattern."""


def stored_whole(size: float) -> bool:
    """Whether every build of a grid of this size is stored."""
    return size <= STORED_WHOLE


@dataclass(frozen=True, eq=False)
class Axis:
    """One searched key: a list of values, or a span between two values."""

    key: str
    listed: NDArray[Any] | None = None
    """Numbers [SI] in rising order, or words; None for a span."""
    low: float = 0.0
    high: float = 0.0
    """Ends of a span [SI]."""

    @property
    def count(self) -> int:
        """Number of values."""
        return CONTINUOUS_STEPS + 1 if self.listed is None else len(self.listed)

    @property
    def is_text(self) -> bool:
        """Whether the values are words, which have no order."""
        return self.listed is not None and self.listed.dtype.kind == "U"

    def values(self, index: Index) -> NDArray[Any]:
        """SI values or words at these indices."""
        if self.listed is None:
            return self.low + (self.high - self.low) * (index / CONTINUOUS_STEPS)
        values: NDArray[Any] = self.listed[index]
        return values

    def nearest(self, values: NDArray[Any]) -> Index:
        """Find the indices with the nearest values; a word must be one of those listed."""
        if self.listed is None:
            share = (np.asarray(values, dtype=float) - self.low) / (self.high - self.low)
            return np.asarray(np.rint(share.clip(0, 1) * CONTINUOUS_STEPS), dtype=np.int64)
        if not self.is_text:
            middles = (self.listed[1:] + self.listed[:-1]) / 2
            return np.asarray(np.searchsorted(middles, values), dtype=np.int64)
        same = np.asarray(values)[:, None] == self.listed
        if not same.any(axis=1).all():
            unknown = np.asarray(values)[~same.any(axis=1)][0]
            msg = f"{self.key}: {unknown} is not one of {', '.join(self.listed)}"
            raise ValueError(msg)
        return np.asarray(same.argmax(axis=1), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Space:
    """Every build of a study."""

    axes: tuple[Axis, ...]
    fixed: Mapping[str, float | str]
    """Values [SI] that are the same in every build."""

    @classmethod
    def of(cls, study: Study) -> "Space":
        """Space of a study; a range of one value is fixed."""
        axes = tuple(starmap(_axis, study.searched().items()))
        single = {a.key: a.listed[0] for a in axes if a.listed is not None and a.count == 1}
        return cls(
            tuple(axis for axis in axes if axis.key not in single), {**study.fixed(), **single}
        )

    @property
    def counts(self) -> NDArray[np.int64]:
        """Number of values of each axis."""
        return np.array([axis.count for axis in self.axes], dtype=np.int64)

    @property
    def are_words(self) -> NDArray[np.bool_]:
        """Which axes hold words, which have no order."""
        return np.array([axis.is_text for axis in self.axes], dtype=np.bool_)

    @property
    def size(self) -> float:
        """Number of builds: whole, or inf where a span has no step."""
        if any(axis.listed is None for axis in self.axes):
            return inf
        return prod(axis.count for axis in self.axes)

    def builds(self, index: Index) -> dict[str, NDArray[Any]]:
        """SI values by key, one element for each row of `index`; fixed values are repeated."""
        n_builds = len(index)
        fixed = {
            key: repeated(value if isinstance(value, str) else float(value), n_builds)
            for key, value in self.fixed.items()
        }
        return fixed | {axis.key: axis.values(index[:, i]) for i, axis in enumerate(self.axes)}

    def index(self, builds: Mapping[str, NDArray[Any]]) -> Index:
        """Rows of indices nearest to these SI values, on the grid."""
        if not self.axes:
            return np.zeros((max(map(len, builds.values()), default=1), 0), dtype=np.int64)
        return np.stack([axis.nearest(builds[axis.key]) for axis in self.axes], axis=1)

    def without_idle(self, index: Index) -> Index:
        """Put axes of stages that a build does not have to their first value.

        So builds that differ in nothing else are one build.
        """
        keys = [axis.key for axis in self.axes]
        if "stage_count" not in keys:
            return index
        count = self.axes[keys.index("stage_count")].values(index[:, keys.index("stage_count")])
        plain = index.copy()
        for place, key in enumerate(keys):
            if key in OF_LATER_STAGES:
                plain[count < OF_LATER_STAGES[key], place] = 0
        return plain

    def kinds(self, index: Index) -> NDArray[np.int64]:
        """Kind of each build: its number of stages where that is searched, else 0 for all."""
        keys = [axis.key for axis in self.axes]
        if "stage_count" not in keys:
            return np.zeros(len(index), dtype=np.int64)
        return np.asarray(index[:, keys.index("stage_count")])

    def alike(self, index: Index, but: Container[str]) -> tuple[Index, NDArray[np.int64]]:
        """Give one build for all that differ only in keys of `but`, and which of them each is.

        The space is finite.
        """
        places = [i for i, axis in enumerate(self.axes) if axis.key not in but]
        codes = np.zeros(len(index), dtype=np.int64)
        for place in places:
            codes = codes * self.axes[place].count + index[:, place]
        _, first, which = np.unique(codes, return_index=True, return_inverse=True)
        return index[first], which

    def beside(self, index: Index) -> Index:
        """Give the builds one step below and above on each axis, without repeats.

        Examples
        --------
        >>> axis = Axis("speed", listed=np.array([1.0, 2.0, 3.0]))
        >>> Space([axis], {}).beside(np.array([[1]])).tolist()
        [[0], [2]]
        """
        steps = np.concatenate([-np.eye(len(self.axes)), np.eye(len(self.axes))]).astype(np.int64)
        moved = (index[:, None] + steps[None]).reshape(-1, len(self.axes))
        inside = ((moved >= 0) & (moved < self.counts)).all(axis=1)
        return np.asarray(np.unique(moved[inside], axis=0), dtype=np.int64)

    def from_unit(self, unit: NDArray[np.float64]) -> Index:
        """Turn points of the unit cube into indices; all values of an axis have equal shares."""
        return np.clip((unit * self.counts).astype(np.int64), 0, self.counts - 1)

    def sample(self, n_builds: int, generator: np.random.Generator) -> Index:
        """Spread builds over the space with a scrambled Sobol sequence; repeats are possible."""
        if not self.axes:
            return np.zeros((n_builds, 0), dtype=np.int64)
        from scipy.stats import qmc  # noqa: PLC0415  not before it is needed

        sequence = qmc.Sobol(len(self.axes), scramble=True, rng=generator)
        # A power of two is drawn: only then are Sobol points balanced.
        return self.from_unit(sequence.random_base2(max(n_builds - 1, 0).bit_length())[:n_builds])

    def draw(self, n_builds: int, generator: np.random.Generator) -> Index:
        """Draw builds at random, all equally likely; repeats are possible."""
        return generator.integers(self.counts, size=(n_builds, len(self.axes)))

    def numbered(self, numbers: NDArray[np.int64]) -> Index:
        """Find builds of a finite space by their number from 0; the last axis changes fastest."""
        if not self.axes:
            return np.zeros((len(numbers), 0), dtype=np.int64)
        return np.stack(np.unravel_index(numbers, tuple(self.counts)), axis=1)

    def hashes(self, index: Index) -> NDArray[np.uint64]:
        """Give each build a 64-bit number, the same on every machine and for equal builds.

        Their sum of products, in which different builds meet as seldom as random numbers do
        (Carter and Wegman 1979, "Universal classes of hash functions", J. Comput. Syst. Sci. 18,
        143-154, the idea, from memory).
        """
        return index.astype(np.uint64) @ _ODD ** np.arange(1, len(self.axes) + 1, dtype=np.uint64)


def budget(study: Study, space: Space) -> tuple[int, int]:
    """Largest number of designs of a run: with the study's gap flow, and refined."""
    asked = study.search
    if asked.method == "grid":
        return int(space.size), 0
    is_refined = asked.method == "search" and "refine" in asked.stages
    return int(min(asked.designs, space.size)), asked.refined if is_refined else 0


def firm_budget(study: Study) -> tuple[int, int]:
    """Most designs that the stage firm tries as drawn, and of those how many it samples; 0 without.

    Sampled 32 times each, they take one to two times the time of the search.
    """
    if not study.search.is_firm:
        return 0, 0
    designs = study.search.designs
    tried = min(max(designs // TRIED, FEWEST_TRIED), MOST_TRIED)
    return tried, min(max(designs // SAMPLED, FEWEST_SAMPLED), MOST_SAMPLED)


def _axis(key: str, given: Range[Any]) -> Axis:
    if given.values is None:
        return Axis(key, low=given.lowest, high=given.highest)
    is_text = isinstance(given.values[0], str)
    return Axis(key, np.array(given.values, dtype=str if is_text else float))
