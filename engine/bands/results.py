"""Bands of results: many samples of each build as it may turn out, run through the whole model.

A sample draws each coefficient and the supply once and uses them for all designs, so that designs
are compared fairly. It draws tolerances at the same probability for all designs, each within the
width of its own process.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.bands.inputs import drawn, fitted, inputs, normal_deviations, sampled_shares
from engine.columns import AS_DRAWN, CHANCE_ALL, Builds, Results, band_key, base_key
from engine.model import evaluation
from engine.model.evaluation import builds_of
from engine.model.lanes import rows_of
from engine.model.limits import MATCHED, violations, with_standing
from engine.physics.arrays import Lanes, Mask, Same, repeated
from engine.physics.compiled import TOGETHER, in_turns, turn_left
from engine.study.kinds import kind_of
from engine.study.study import Study
from engine.study.values import Limit

LANES = 16_384
"""Samples evaluated in one call, approximately."""
ROBUST_SAMPLES = 32
"""Samples of each design in a robust search, the same for all designs."""
METAL = ("safety_margin", "stress_margin", "gap_hold")
"""Results whose limits the metal has to hold; the air supply has no part in them."""
SAMPLED_SHARE = 0.6
"""Share of the designs of a robust search that are sampled, approximately."""
UNSAMPLED = "unsampled"
"""Key beside builds that are to be evaluated as drawn, though the study is robust."""
MANY = 16_384
"""Samples that stand for the whole distribution."""
TRIPPED = frozenset({"peak_ratio", "survives_trip"})
"""What samples have by the trip of their design, where that is known."""
FEWEST_PER_TERM = 4
"""Samples per term from which fitting parabolas improves the quantiles."""
MOST_LOST = 0.1
"""Share of samples without a number above which a band has no number either."""
SHARES = {"p10": 0.1, "p50": 0.5, "p90": 0.9}
MOST_SAMPLES = (0.025, 0.975)
"""Quantiles between which 95 % of the samples are."""


@dataclass(frozen=True)
class Parabolas:
    """Terms of a parabola in each input, (sample, term)."""

    few: NDArray[np.float64]
    """For the samples that are evaluated."""
    many: NDArray[np.float64]
    """For samples that stand for the whole distribution."""

    @classmethod
    def of(cls, study: Study, unit: NDArray[np.float64]) -> Self:
        """Terms of these samples, and of very many others."""
        loose = set(kind_of(study).tolerances) - set(fitted(study))
        flat = tuple(key in loose for key in inputs(study))
        many = sampled_shares(study, MANY, seed=0)
        return cls(_terms(unit, flat), _terms_again(Same(many), flat))


@lru_cache(maxsize=4)
def _terms_again(shares: Same, flat: tuple[bool, ...]) -> NDArray[np.float64]:
    """Terms of samples that are asked for again and again."""
    return _terms(shares.thing, flat)


def _terms(each: NDArray[np.float64], flat: tuple[bool, ...]) -> NDArray[np.float64]:
    """Terms of samples at these shares; `flat` are the inputs whose distribution is flat."""
    places = np.where(np.array(flat, dtype=np.bool_), each - 0.5, normal_deviations(each))
    return np.column_stack([np.ones(len(places)), places, places**2])


def evaluate_judged(study: Study, builds: Builds) -> Results:
    """Evaluate builds with the model, and add bands where the study is robust.

    Builds beside which `UNSAMPLED` stands get no bands. Builds that come with their results as
    drawn get bands alone.
    """
    given = {key: values for key, values in builds.items() if key != UNSAMPLED}
    results = given if "status" in given else evaluation.evaluate(study, given)
    if not study.search.robust or UNSAMPLED in builds:
        return results
    return with_bands(study, results, samples=ROBUST_SAMPLES)


def with_bands(study: Study, results: Results, *, samples: int | None = None) -> Results:
    """Add P10, P50 and P90 of aims and limited results, and the chance that each limit is met.

    A sample without an operating point gives no power and misses every limit. Samples are
    evaluated with averaged gap flow; for results with resolved gap flow they are scaled by the
    ratio of the two. Bands by which `results` were already judged stay unchanged. NaN for a design
    that has no operating point itself.
    """
    n_samples = samples or study.uncertainty.samples
    unit = sampled_shares(study, n_samples, study.search.seed)
    parabolas = Parabolas.of(study, unit)
    standing = with_standing(plain_limits(study), study.works_as)
    limits = {key: limit for key, limit in standing.items() if key not in AS_DRAWN}
    # Sorted: a set has another order on every start, and columns are stored in this one.
    stated = sorted({base_key(key) for key in study.all_limits} - AS_DRAWN)
    keys = tuple(
        dict.fromkeys(["electric_power", *map(base_key, study.aims), *stated, *_also(study)])
    )
    designs = len(results["status"])
    found: Results = {
        band_key(key, part): np.full(designs, np.nan) for key in keys for part in SHARES
    }
    found |= {band_key(key, "chance"): np.full(designs, np.nan) for key in stated}
    found[CHANCE_ALL] = np.full(designs, np.nan)
    rows = np.flatnonzero(results["status"] == MATCHED)
    blocks = np.array_split(rows, -(-rows.size * n_samples // LANES) or 1)
    blocks = [some for some in blocks if some.size]
    wanted, lost = (*keys, *limits), {key: lost_of(study, key) for key in keys}

    def sampled(some: NDArray[np.int64], known: frozenset[str]) -> Results:
        return _sampled(study, rows_of(results, some), unit, wanted, known)

    def summed_up(sampled: Results) -> Results:
        with turn_left():
            return _summed_up(sampled, lost, limits, stated, parabolas)

    # Two calls at a time, which together take the memory of a block.
    parts = [[part for part in np.array_split(some, TOGETHER) if part.size] for some in blocks]
    calls = [
        partial(sampled, part, _known(results, some))
        for some, each in zip(blocks, parts, strict=True)
        for part in each
    ]
    of_parts = iter(in_turns(calls))
    of_blocks = [_together([next(of_parts) for _ in each]) for each in parts]
    bands = in_turns([partial(summed_up, each) for each in of_blocks])
    for some, few in zip(blocks, bands, strict=True):
        for key, values in few.items():
            found[key][some] = values
    judged = {key for key in (*study.aims, *study.all_limits) if key in results and key in found}
    return results | {key: found[key] for key in found if key not in judged}


def weighed(study: Study, results: Results) -> tuple[Results, Mask]:
    """Add bands of few samples, the same for all designs, of aims and metal limits.

    Also says which designs survive a lost load, with the trip acting, at the tenth-percentile
    safety margin. Trip and air supply are left out of the samples.
    """
    limits = {key: limit for key, limit in study.limits.items() if key in METAL}
    found = with_bands(study.model_copy(update={"limits": limits}), results, samples=ROBUST_SAMPLES)
    poor = found | {"safety_margin": found[band_key("safety_margin", "p10")]}
    if study.kind == "pump":  # switched off, it stops
        return found, np.asarray(poor["safety_margin"] > 1)
    return found, np.asarray(evaluation.with_trip_decided(study, poor)["survives_trip"] == 1)


def sample_ranges(
    study: Study, builds: Builds, keys: Sequence[str], evaluate: Callable[[Builds], Results]
) -> dict[str, tuple[Lanes, Lanes]]:
    """Find the range that holds 95 % of the samples of each build, by key.

    The samples are those of `with_bands`, evaluated by `evaluate`. As there, a sample without an
    operating point gives no power.
    """
    unit = sampled_shares(study, study.uncertainty.samples, study.search.seed)
    parabolas = Parabolas.of(study, unit)
    found = evaluate(drawn(study, builds, unit))
    ranges = {}
    for key in keys:
        lost = lost_of(study, key)
        sampled = found[key].reshape(-1, len(unit))
        low, high = _quantiles(sampled, parabolas, lost=lost, shares=MOST_SAMPLES)
        ranges[key] = (low, high)
    return ranges


def lost_of(study: Study, key: str) -> float:
    """Give the value that stands for a sample without operating point; NaN leaves it out.

    A turbine then gives no power. A pump gives no flow, whatever it draws.
    """
    return 0.0 if key == {"turbine": "electric_power", "pump": "flow"}[study.kind] else np.nan


def plain_limits(study: Study) -> dict[str, Limit[float]]:
    """Limits of the study on the results themselves, also in a robust study."""
    merged: dict[str, Limit[float]] = {}
    for key, limit in study.all_limits.items():
        other = merged.get(base_key(key), limit)
        low = limit.min if limit.min is not None else other.min
        high = limit.max if limit.max is not None else other.max
        merged[base_key(key)] = Limit[float].model_construct(min=low, max=high)
    return merged


def _also(study: Study) -> Sequence[str]:
    """Results that get a band besides aims and limits."""
    return ("safety_margin", *(("spare_power",) if study.loads else ()))


def _known(results: Results, rows: NDArray[np.int64]) -> frozenset[str]:
    """Columns that samples of some designs have by the trip of their design."""
    is_tripped = "peak_ratio" in results and bool(np.isfinite(results["peak_ratio"][rows]).any())
    return TRIPPED if is_tripped else frozenset()


def _together(parts: Sequence[Results]) -> Results:
    """Join the samples of some designs and those of others."""
    return {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}


def _sampled(
    study: Study,
    results: Results,
    unit: NDArray[np.float64],
    keys: Sequence[str],
    known: frozenset[str],
) -> Results:
    """Columns of all samples of some designs, (design, sample)."""
    given = builds_of(study, results)
    n_designs = len(results["status"])

    def averaged(builds: Builds) -> Results:
        level = repeated("averaged", len(builds["speed"]))
        return evaluation.evaluate(study, {**builds, "gap_flow": level}, but=known, worded=False)

    found = averaged(drawn(study, given, unit))
    if known:
        found |= _tripped(results, found, len(unit))
    sampled = {key: found[key].reshape(n_designs, -1) for key in {*keys, "status"}}
    if (results["gap_flow"] == "averaged").all():
        return sampled
    usual = averaged(given)
    if known:
        usual |= {key: results[key] for key in known}
    for key in {*keys}:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = results[key] / usual[key]
        sampled[key] = sampled[key] * np.where(np.isfinite(ratio), ratio, 1.0)[:, None]
    return sampled


def _tripped(results: Results, sampled: Results, n_samples: int) -> Results:
    """Peak after a lost load of every sample, and whether it survives with its trip.

    The peak of the design is known. What a sample exceeds the speed of its trip by goes with its
    torque: following every sample would cost thirty times all the rest.
    """
    peak, trip, torque = (
        np.repeat(results[key], n_samples) for key in ("peak_ratio", "trip_factor", "shaft_torque")
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        there = trip + np.maximum(peak - trip, 0.0) * sampled["shaft_torque"] / torque
    there = np.where(peak > trip, there, peak)
    margin = sampled["safety_margin"]
    survives = np.where(np.isfinite(margin) & np.isfinite(there), margin >= there, np.nan)
    return {"peak_ratio": there, "survives_trip": survives}


def _summed_up(
    sampled: Results,
    lost: Mapping[str, float],
    limits: Mapping[str, Limit[float]],
    stated: Sequence[str],
    parabolas: Parabolas,
) -> Results:
    found: Results = {}
    for key, none in lost.items():
        quantiles = _quantiles(sampled[key], parabolas, lost=none)
        found |= {band_key(key, part): quantiles[place] for place, part in enumerate(SHARES)}
    flat = {key: sampled[key].ravel() for key in {*limits, "status"}}
    met = (violations(flat, limits) == 0).reshape(-1, len(parabolas.few), len(limits))
    for place, key in enumerate(limits):
        if key in stated:
            found[band_key(key, "chance")] = met[:, :, place].mean(axis=1)
    found[CHANCE_ALL] = met.all(axis=2).mean(axis=1)
    return found


def _quantiles(
    values: NDArray[np.float64],
    parabolas: Parabolas,
    *,
    lost: float,
    shares: Sequence[float] = tuple(SHARES.values()),
) -> NDArray[np.float64]:
    """Quantiles of each row, (share, row); `lost` replaces a sample without a number.

    Where `lost` is NaN such samples are left out, if enough others are left. Where every sample has
    a number, parabolas are fitted to the samples. Very many samples of the parabolas cost little,
    and show how far the quantiles of the few samples are from those of the whole distribution
    (control variates for quantiles: Hesterberg and Nelson 1998, Management Science 44, 1295-1312,
    from memory).
    """
    # A yes or no is no parabola.
    words = ((values == 0) | (values == 1)).all(axis=1)
    finite = np.isfinite(values).all(axis=1) & ~words
    values = np.where(np.isnan(values), lost, values)
    enough = np.isnan(values).mean(axis=1) <= MOST_LOST
    found = np.full((len(shares), len(values)), np.nan)
    # Missing samples sort to the end. Rows that miss as many are taken together.
    ordered, known = np.sort(values, axis=1), (~np.isnan(values)).sum(axis=1)
    for count in np.unique(known[enough]):
        rows = enough & (known == count)
        found[:, rows] = np.quantile(ordered[rows, :count], shares, axis=1) if count else np.nan
    n_samples, n_terms = parabolas.few.shape
    if finite.any() and FEWEST_PER_TERM * n_terms <= n_samples < MANY:
        weights = np.linalg.lstsq(parabolas.few, values[finite].T, rcond=None)[0]
        # Rows that lie together are parted sooner than columns.
        found[:, finite] += np.quantile(weights.T @ parabolas.many.T, shares, axis=1)
        found[:, finite] -= np.quantile(weights.T @ parabolas.few.T, shares, axis=1)
    return found
