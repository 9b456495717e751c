"""A grid too large to be stored: its front, its counts, and a sample of its designs.

Builds that miss a limit whatever flows through them are counted and not marched. Of the others all
are evaluated. Stored are the designs that are best or nearly so when they come, from which the
front is found again, and one design in so many whatever it gives, marched or not: the sample is
true to the whole grid.
"""

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.limits import Limits
from engine.model.screen import (
    NOT_MARCHED,
    OF_FLOW_ALONE,
    is_screened,
    misses_by_bounds,
    misses_by_size,
)
from engine.physics.arrays import Mask
from engine.run.summary import Summary
from engine.search.front import merits, ranks
from engine.search.space import Index, Space
from engine.study.study import Study

NEAR = 3
"""Ranks of the designs that are stored: some come back where better ones fall in the proof."""


def evaluated_rows(
    study: Study, space: Space, index: Index, limits: Limits, sampled: Mask
) -> NDArray[np.int64]:
    """Rows of the builds that are evaluated: those that no limit rules out, and the sampled."""
    if not is_screened(study):
        return np.arange(len(index))
    missed = misses_by_size(_columns(space, index), limits)
    left = np.flatnonzero(~missed)
    # Many builds next to each other differ only in what no bound depends on.
    alike, which = space.alike(index[left], OF_FLOW_ALONE)
    missed[left] = misses_by_bounds(study, _columns(space, alike), limits)[which]
    return np.flatnonzero(~missed | sampled)


def in_sample(first: int, n_builds: int, every: int, last: int) -> Mask:
    """Designs of the sample among so many from number `first` on, and the `last` of the grid."""
    numbers = np.arange(first, first + n_builds)
    return np.asarray((numbers % every == 0) | (numbers == last))


def stored_rows(summary: Summary, judged: Results, sampled: Mask) -> Mask:
    """Designs just added to a summary that are to be stored."""
    near = np.zeros(len(sampled), dtype=np.bool_)
    best = summary.fronts.get(str(judged["gap_flow"][0]) if "gap_flow" in judged else "")
    good = np.flatnonzero(judged["violation"] == 0)
    if good.size and best is not None:
        here = merits(judged, summary.aims)[good]
        both = np.concatenate([best.merit, here])
        near[good] = ranks(both)[len(both) - good.size :] < NEAR
    closest = np.isin(judged["design"], summary.closest.get("design", []))
    return sampled | near | (closest & (not summary.feasible))


def count_unmarched(summary: Summary, number: int) -> None:
    """Count designs that were not marched."""
    if number:
        summary.statuses[NOT_MARCHED] += number


def _columns(space: Space, index: Index) -> Builds:
    """Numbers of builds; what is the same in all once."""
    fixed = {key: np.asarray([value]) for key, value in space.fixed.items()}
    return fixed | {axis.key: axis.values(index[:, i]) for i, axis in enumerate(space.axes)}
