"""What to expect of a study before its run: how its builds do, and how long it will take.

This module imports no more than it needs, so that `swirlstack check` answers quickly.
"""

import time
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.bands.results import evaluate_judged
from engine.model.limits import MATCHED, biting, count_met, violations, with_standing
from engine.search.space import Space, budget
from engine.study.study import Study

SAMPLED = 512
"""Builds drawn for a preview."""
SEARCH_SECONDS = 0.1e-3
"""Time that breeding and storing take per design, measured with a generation of 400 [s]."""
REFINED = 8
"""Builds timed at the resolved level, where the search ends there."""


@dataclass(frozen=True)
class Preview:
    """What a random sample of builds says about a study before its run."""

    size: float
    """Builds in the space; inf where a range has no step."""
    evaluated: int
    """Designs that the run evaluates at most."""
    sampled: int
    matched: float
    """Share with an operating point."""
    unmatched: Mapping[str, int]
    """Number of builds by the reason they have none, most frequent first."""
    met: Mapping[str, float]
    """Share of those with an operating point inside each limit, standing limits included."""
    bites: str
    """Limit that most builds miss, '' where every build meets all."""
    feasible: float
    seconds: float
    """Expected time of the whole run."""


def preview(study: Study) -> Preview:
    """Sample the space and time the model, before a night is spent on it.

    Builds are drawn at random, each as likely as any other, so a share of them strays by up to
    about 4 points in 95 of 100 studies. A search spreads its first builds more evenly.
    """
    space = Space.of(study)
    builds = space.builds(space.draw(SAMPLED, np.random.default_rng(study.search.seed)))
    # What is made once, tables and fits, is not to be charged to every design.
    evaluate_judged(study, {key: values[:1] for key, values in builds.items()})
    start = time.perf_counter()
    results = evaluate_judged(study, builds)
    seconds = (time.perf_counter() - start) / SAMPLED + SEARCH_SECONDS
    usual, refined = budget(study, space)
    seconds *= usual
    if refined:
        few = {key: values[:REFINED] for key, values in builds.items()}
        few["gap_flow"] = np.full(REFINED, "resolved")
        start = time.perf_counter()
        evaluate_judged(study, few)
        seconds += (time.perf_counter() - start) / REFINED * refined
    limits = with_standing(study.all_limits)
    violation = violations(results, limits)
    status = results["status"]
    n_matched = int((status == MATCHED).sum())
    met = count_met(results, violation, limits)
    bites = biting(met, n_matched)
    reasons, counts = np.unique(status[status != MATCHED], return_counts=True)
    return Preview(
        size=space.size,
        evaluated=usual + refined,
        sampled=SAMPLED,
        matched=n_matched / SAMPLED,
        unmatched={str(reasons[i]): int(counts[i]) for i in np.argsort(-counts, kind="stable")},
        met={key: met[key] / max(n_matched, 1) for key in limits},
        bites=next(iter(bites), ""),
        feasible=float((violation == 0).all(axis=1).mean()),
        seconds=seconds,
    )
