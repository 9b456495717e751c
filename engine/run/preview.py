"""What to expect of a study before its run: how its builds do, and how long it will take.

This module imports no more than it needs, so that `swirlstack check` answers quickly.
"""

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import ROBUST_SAMPLES, SAMPLED_SHARE, UNSAMPLED, evaluate_judged
from engine.columns import Results
from engine.model.limits import MATCHED, biting, count_met, violations, with_standing
from engine.model.screen import is_screened, misses_without_flow
from engine.search.space import Space, budget, firm_budget, stored_whole
from engine.study.study import Study

SAMPLED = 512
"""Builds drawn for a preview."""
TIMES = 4
"""Draws evaluated in one call to see what a build takes in large calls, as a grid or samples."""
SEARCH_SECONDS = 0.03e-3
"""Time to breed and store a design, measured with generations of 400 [s]."""
SCREEN_SECONDS = 1e-6
"""Time to see whether a build of a large grid misses a limit without flow [s]."""
REFINED = 8
"""Builds timed with resolved gap flow, if the search has a refine stage."""


@dataclass(frozen=True)
class Preview:
    """What a random sample of builds says about a study before its run."""

    size: float
    """Builds in the space; inf where a range has no step."""
    evaluated: int
    """Largest number of designs that the run evaluates."""
    sampled: int
    matched: float
    """Share of builds with an operating point."""
    unmatched: Mapping[str, int]
    """Number of builds without one by reason, the most frequent reason first."""
    met: Mapping[str, float]
    """Share of builds with an operating point that meet each limit, also the standing ones."""
    bites: str
    """Limit that most builds miss; '' if every build meets all limits."""
    feasible: float
    """Share of builds that meet every limit."""
    seconds: float
    """Expected time of the search, with the stage firm [s]."""
    firm: tuple[int, float]
    """Builds that the stage firm tries at most, and its part of that time [s]; 0 without it."""
    hose_drop: tuple[float, float]
    """Pressure that the hose takes, in the middle and in nine of ten builds at most [Pa], of those
    that the supply can feed."""
    hose_share: float
    """Share of the isentropic power that the hose takes in the middle [-]."""


def preview(study: Study) -> Preview:
    """Evaluate random builds of the space and time the model, before a long run.

    Builds are drawn at random, all equally likely, so in 95 of 100 studies a share is within about
    4 percentage points of the true one. A search spreads its first builds more evenly.
    """
    space = Space.of(study)
    builds = space.builds(space.draw(SAMPLED, np.random.default_rng(study.search.seed)))
    # Tables and fits are made once, before the time is taken.
    evaluate_judged(study, {key: values[:1] for key, values in builds.items()})
    start = time.perf_counter()
    results = evaluate_judged(study, builds)
    seconds = (time.perf_counter() - start) / SAMPLED + SEARCH_SECONDS
    if study.search.robust and study.search.method == "search":
        start = time.perf_counter()
        evaluate_judged(study, {**builds, UNSAMPLED: np.ones(SAMPLED)})
        spared = seconds - SEARCH_SECONDS - (time.perf_counter() - start) / SAMPLED
        seconds -= (1 - SAMPLED_SHARE) * max(spared, 0.0)
    limits = with_standing(study.all_limits, study.works_as)
    if study.search.method == "grid" and not stored_whole(space.size) and is_screened(study):
        # Most builds of a large grid are not marched.
        marched = 1 - misses_without_flow(study, builds, limits).mean()
        seconds = _in_large_calls(study, builds) * marched + SCREEN_SECONDS
    usual, refined = budget(study, space)
    tried, sampled = firm_budget(study)
    samples = ROBUST_SAMPLES * sampled
    firm_seconds = seconds * tried + (_in_large_calls(study, builds) * samples if samples else 0.0)
    seconds = seconds * usual + firm_seconds
    if refined:
        few = {key: values[:REFINED] for key, values in builds.items()}
        few["gap_flow"] = np.full(REFINED, "resolved")
        start = time.perf_counter()
        evaluate_judged(study, few)
        seconds += (time.perf_counter() - start) / REFINED * refined
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
        firm=(tried, firm_seconds),
        **_hose(study, results),
    )


def _in_large_calls(study: Study, builds: Results) -> float:
    """Time that a build takes where many are evaluated together [s]."""
    several = {key: np.tile(values, TIMES) for key, values in builds.items()}
    start = time.perf_counter()
    evaluate_judged(study, several)
    return (time.perf_counter() - start) / (TIMES * SAMPLED)


class _Hose(TypedDict):
    hose_drop: tuple[float, float]
    hose_share: float


def _hose(study: Study, results: Results) -> _Hose:
    """Find what the hose takes of builds that the supply can feed; a pump has none."""
    if "loss_hose" not in results:
        return {"hose_drop": (0.0, 0.0), "hose_share": 0.0}
    fed = results["mass_flow"] <= (study.supply.available_flow or np.inf)
    drop = (study.supply.pressure - results["nozzle_pressure"])[fed]
    return {
        "hose_drop": (_quantile(drop, 0.5), _quantile(drop, 0.9)),
        "hose_share": _quantile((results["loss_hose"] / results["isentropic_power"])[fed], 0.5),
    }


def _quantile(values: NDArray[np.float64], share: float) -> float:
    """Quantile of the builds with an operating point; 0 where there is none."""
    known = values[np.isfinite(values)]
    return float(np.quantile(known, share)) if known.size else 0.0
