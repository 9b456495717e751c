"""Bands of results: many samples of what a build may turn out to be, through the whole model.

A sample draws every coefficient and the supply once and shares them among all designs, so that
designs compare fairly; each design's own tolerances take the sample's place in their own width.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine import model
from engine.columns import CHANCE_ALL, band_key, base_key
from engine.doubt import SHARED, TOLERANCES
from engine.limits import MATCHED, violations, with_standing
from engine.materials import process_values, processes
from engine.model import Builds, Results, builds_of
from engine.physics.arrays import Array, Lanes
from engine.study import Limit, Study, value_type
from engine.values import quantity_of

LANES = 16_384
"""Samples evaluated in one call, about."""
ROBUST_SAMPLES = 32
"""Samples of each design in a robust search, the same ones for all."""
MANY = 16_384
"""Samples that count as all there are."""
FEWEST_PER_TERM = 4
"""Samples per term from which a parabola through them is worth drawing."""
MOST_LOST = 0.1
"""Share of samples without a number above which a band has none either."""
SHARES = {"p10": 0.1, "p50": 0.5, "p90": 0.9}
MOST_SAMPLES = (0.025, 0.975)
"""Shares between which nineteen samples of twenty lie."""


@dataclass(frozen=True)
class Spread:
    """How one input of some designs is spread; arrays of one value a design [SI]."""

    middle: Lanes
    width: Lanes
    """Standard deviation of a normal one, half of the width of a flat one."""
    low: Lanes
    high: Lanes
    """Values beyond these are not drawn."""
    is_flat: bool

    def at(self, unit: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values at shares of the probability, (design, sample)."""
        middle, width = self.middle[:, None], self.width[:, None]
        low, high = self.low[:, None], self.high[:, None]
        if self.is_flat:
            return np.asarray(np.clip(middle + (2 * unit - 1) * width, low, high))
        with np.errstate(divide="ignore", invalid="ignore"):
            first, last = _below((low - middle) / width), _below((high - middle) / width)
        drawn = middle + width * _deviations(first + unit * (last - first))
        return np.asarray(np.where(width > 0, drawn, middle))


@dataclass(frozen=True)
class Parabolas:
    """Terms of a parabola in each input, (sample, term)."""

    few: NDArray[np.float64]
    """Of the samples that are evaluated."""
    many: NDArray[np.float64]

    @classmethod
    def of(cls, study: Study, unit: NDArray[np.float64]) -> Self:
        """Terms of these samples, and of a great many others."""
        loose = set(TOLERANCES) - set(fitted(study))
        flat = np.array([key in loose for key in inputs(study)], dtype=np.bool_)
        many = sampled_shares(study, MANY, seed=0)
        few, all_there_are = (
            np.where(flat, each - 0.5, _deviations(each)) for each in (unit, many)
        )
        return cls(_terms(few), _terms(all_there_are))


def _terms(places: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([np.ones(len(places)), places, places**2])


def evaluate(study: Study, builds: Builds) -> Results:
    """Give every column of every build as the model does, with bands where the study is robust."""
    results = model.evaluate(study, builds)
    if not study.search.robust:
        return results
    return with_bands(study, results, samples=ROBUST_SAMPLES)


def with_bands(study: Study, results: Results, *, samples: int | None = None) -> Results:
    """Results with P10, P50 and P90 of aims and limited results, and chances that limits hold.

    A sample without operating point gives no power and misses every limit. Samples are taken at
    the averaged level of gap flow; for results of the resolved one they are scaled by the ratio of
    the two. Bands that `results` were judged by already stay as they are. NaN for a design without
    operating point of its own.
    """
    n_samples = samples or study.uncertainty.samples
    unit = sampled_shares(study, n_samples, study.search.seed)
    parabolas = Parabolas.of(study, unit)
    limits = with_standing(plain_limits(study))
    stated = {base_key(key) for key in study.all_limits}
    keys = tuple(
        dict.fromkeys(["electric_power", *map(base_key, study.aims), *stated, *_also(study)])
    )
    designs = len(results["status"])
    found: Results = {
        band_key(key, part): np.full(designs, np.nan) for key in keys for part in SHARES
    }
    found |= {band_key(key, "chance"): np.full(designs, np.nan) for key in sorted(stated)}
    found[CHANCE_ALL] = np.full(designs, np.nan)
    rows = np.flatnonzero(results["status"] == MATCHED)
    for some in np.array_split(rows, -(-rows.size * n_samples // LANES) or 1):
        if some.size:
            few = {key: values[some] for key, values in results.items()}
            sampled = _sampled(study, few, unit, (*keys, *limits))
            for key, values in _summed_up(sampled, keys, limits, stated, parabolas).items():
                found[key][some] = values
    judged = {key for key in (*study.aims, *study.all_limits) if key in results and key in found}
    return results | {key: found[key] for key in found if key not in judged}


def sample_ranges(
    study: Study, builds: Builds, keys: Sequence[str], evaluate: Callable[[Builds], Results]
) -> dict[str, tuple[Lanes, Lanes]]:
    """Find the ends between which nineteen samples of twenty of each build lie, by key.

    The samples are those of `with_bands`, worked through by `evaluate`, and so is what becomes of
    a sample without operating point.
    """
    unit = sampled_shares(study, study.uncertainty.samples, study.search.seed)
    parabolas = Parabolas.of(study, unit)
    found = evaluate(drawn(study, builds, unit))
    ranges = {}
    for key in keys:
        lost = 0.0 if key == "electric_power" else np.nan
        sampled = found[key].reshape(-1, len(unit))
        low, high = _quantiles(sampled, parabolas, lost=lost, shares=MOST_SAMPLES)
        ranges[key] = (low, high)
    return ranges


def plain_limits(study: Study) -> dict[str, Limit[float]]:
    """Limits of the study on the results themselves, also where it is robust."""
    merged: dict[str, Limit[float]] = {}
    for key, limit in study.all_limits.items():
        other = merged.get(base_key(key), limit)
        low = limit.min if limit.min is not None else other.min
        high = limit.max if limit.max is not None else other.max
        merged[base_key(key)] = Limit[float].model_construct(min=low, max=high)
    return merged


def inputs(study: Study) -> tuple[str, ...]:
    """Keys of what is uncertain in a study; what is stated as exact is left out."""
    section, known = study.uncertainty, fitted(study)
    usual = (key for key in (*SHARED, *TOLERANCES) if key not in known)
    return (*(key for key in usual if getattr(section, key) != 0), *known)


def fitted(study: Study) -> tuple[str, ...]:
    """Keys whose uncertainty a fit to a bench log gives, unless the study states another."""
    if study.fit is None:
        return ()
    stated = study.uncertainty.model_fields_set
    return tuple(key for key, off in study.fit.standard.items() if off > 0 and key not in stated)


def sampled_shares(study: Study, n_samples: int, seed: int) -> NDArray[np.float64]:
    """Shares of probability by a Latin hypercube, those of fitted numbers correlated as fitted."""
    keys, known = inputs(study), fitted(study)
    unit = hypercube(len(keys), n_samples, seed)
    if study.fit is not None and known:
        places = [list(study.fit.standard).index(key) for key in known]
        correlation = study.fit.correlation[np.ix_(places, places)]
        # A correlation near 1 may be rounded beyond what has a root.
        root = np.linalg.cholesky((correlation + 1e-9 * np.eye(len(known))) / (1 + 1e-9))
        last = slice(len(keys) - len(known), None)
        unit[:, last] = _below(_deviations(unit[:, last]) @ root.T)
    return unit


def _below(deviations: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of a normal distribution below so many standard deviations."""
    from scipy.special import ndtr  # noqa: PLC0415  not before it is needed

    return np.asarray(ndtr(deviations))


def _deviations(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the standard deviations below which so much of a normal distribution lies."""
    from scipy.special import ndtri  # noqa: PLC0415  not before it is needed

    return np.asarray(ndtri(shares))


def hypercube(n_inputs: int, n_samples: int, seed: int) -> NDArray[np.float64]:
    """Shares of probability by a Latin hypercube, (sample, input)."""
    from scipy.stats import qmc  # noqa: PLC0415  not before it is needed

    return np.asarray(qmc.LatinHypercube(n_inputs, rng=seed).random(n_samples))


def drawn(study: Study, builds: Builds, unit: NDArray[np.float64]) -> Results:
    """Draw builds as they may turn out: every sample of the first, then of the second, and so on.

    `unit` holds shares of probability, (sample, input), inputs in the order of `inputs`, of which
    the fitted ones come last.
    """
    n_samples = len(unit)
    given = {key: np.repeat(values, n_samples) for key, values in builds.items()}
    for key, shares in zip(inputs(study), unit.T, strict=True):
        given[key] = spread(study, builds, key).at(shares[None, :]).ravel()
    return given


def spread(study: Study, builds: Builds, key: str) -> Spread:
    """How an input is spread around its value in each of some builds."""
    n_designs = len(builds["speed"])
    is_fitted = key in fitted(study)
    known = study.fit.standard if study.fit is not None and is_fitted else None
    stated = getattr(study.uncertainty, key) if known is None else known[key]
    supply = study.supply
    middle: Array
    width: Array
    low: Array = -np.inf
    high: Array = np.inf
    if key == "supply_pressure":
        middle, width = supply.pressure, stated * (supply.pressure - supply.back_pressure)
        low = supply.back_pressure
    elif key == "supply_temperature":
        middle, width = supply.temperature, stated
        low, high = 230.0, 700.0
    else:
        middle = builds[key]
        width = _tolerance(builds, key) if stated is None else stated
        if quantity := quantity_of(value_type(key)):
            low = max(quantity.above, quantity.least)
            high = min(quantity.below, quantity.most)
    ends = _made(builds) if key == "disc_thickness" else (low, high)
    middle, width, low, high = (
        np.broadcast_to(np.asarray(each, float), n_designs) for each in (middle, width, *ends)
    )
    return Spread(middle, width, low, high, is_flat=key in TOLERANCES and not is_fitted)


def _tolerance(builds: Builds, key: str) -> Lanes:
    """Plus or minus that the process of each build gives."""
    process = process_values(builds["process"], builds["disc_thickness"])
    if key == "gap":
        return process.spacer_tolerance
    return process.thickness_tolerance if key == "disc_thickness" else 2 * process.eccentricity


def _made(builds: Builds) -> tuple[Lanes, Lanes]:
    """Thinnest and thickest disc that the process of each build makes."""
    rows = [processes()[str(name)].thickness for name in builds["process"]]
    return np.array([row[0] for row in rows]), np.array([row[-1] for row in rows])


def _also(study: Study) -> Sequence[str]:
    """Results beside aims and limits of which a band is wanted."""
    return ("safety_margin", *(("spare_power",) if study.loads else ()))


def _sampled(
    study: Study, results: Results, unit: NDArray[np.float64], keys: Sequence[str]
) -> Results:
    """Columns of every sample of some designs, (design, sample)."""
    given = builds_of(study, results)
    n_designs = len(results["status"])

    def averaged(builds: Builds) -> Results:
        level = np.full(len(builds["speed"]), "averaged")
        return model.evaluate(study, {**builds, "gap_flow": level})

    found = averaged(drawn(study, given, unit))
    sampled = {key: found[key].reshape(n_designs, -1) for key in {*keys, "status"}}
    if (results["gap_flow"] == "averaged").all():
        return sampled
    usual = averaged(given)
    for key in {*keys}:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = results[key] / usual[key]
        sampled[key] = sampled[key] * np.where(np.isfinite(ratio), ratio, 1.0)[:, None]
    return sampled


def _summed_up(
    sampled: Results,
    keys: Sequence[str],
    limits: Mapping[str, Limit[float]],
    stated: set[str],
    parabolas: Parabolas,
) -> Results:
    found: Results = {}
    for key in keys:
        quantiles = _quantiles(
            sampled[key], parabolas, lost=0.0 if key == "electric_power" else np.nan
        )
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
    """Quantiles of each row, (share, row); `lost` stands for a sample without a number.

    Where that is NaN they are of the others, if enough are left. Where every sample has a number,
    parabolas through them, of which very many samples cost nothing, tell how far
    the quantiles of these few are off (control variates for quantiles: Hesterberg and Nelson 1998,
    Management Science 44, 1295-1312, from memory).
    """
    finite = np.isfinite(values).all(axis=1)
    values = np.where(np.isnan(values), lost, values)
    enough = np.isnan(values).mean(axis=1) <= MOST_LOST
    found = np.full((len(shares), len(values)), np.nan)
    with np.errstate(invalid="ignore"):
        if enough.any():
            found[:, enough] = np.nanquantile(values[enough], shares, axis=1)
    n_samples, n_terms = parabolas.few.shape
    if finite.any() and FEWEST_PER_TERM * n_terms <= n_samples < MANY:
        weights = np.linalg.lstsq(parabolas.few, values[finite].T, rcond=None)[0]
        found[:, finite] += np.quantile(parabolas.many @ weights, shares, axis=0)
        found[:, finite] -= np.quantile(parabolas.few @ weights, shares, axis=0)
    return found
