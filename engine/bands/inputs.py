"""The uncertain inputs of a study, and samples of them."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import process_values, processes
from engine.columns import Builds, Results
from engine.model.circuit import FAMILY, NOZZLE_COEFFICIENTS, nozzle_coefficients
from engine.model.pump.stack import stack_of
from engine.model.strength import notch_factor, places_of
from engine.physics.arrays import Array, Lanes, Same, in_lanes, is_repeated, repeated
from engine.stage_columns import STAGES, of_stage
from engine.study.kinds import kind_of, value_type
from engine.study.study import Study
from engine.study.uncertainty import HOSE, OF_BELT, OF_LIPS
from engine.study.values import quantity_of

SLIT = 1e-5
"""Narrowest nozzle of a later stage that is drawn [m]."""


@dataclass(frozen=True)
class Spread:
    """Distribution of one input of some designs; arrays of one value per design [SI]."""

    middle: Lanes
    width: Lanes
    """Standard deviation of a normal distribution, half the width of a flat one."""
    low: Lanes
    high: Lanes
    """Ends of what may be drawn."""
    is_flat: bool

    def at(self, unit: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values at cumulative probabilities, (design, sample).

        A single row where all four are held once for all designs.
        """
        four = (self.middle, self.width, self.low, self.high)
        once = all(map(is_repeated, four))
        middle, width, low, high = ((each[:1] if once else each)[:, None] for each in four)
        if self.is_flat:
            return np.asarray(np.clip(middle + (2 * unit - 1) * width, low, high))
        with np.errstate(divide="ignore", invalid="ignore"):
            first, last = (
                _normal_share((low - middle) / width),
                _normal_share((high - middle) / width),
            )
        drawn = middle + width * normal_deviations(first + unit * (last - first))
        return np.asarray(np.where(width > 0, drawn, middle))


def inputs(study: Study) -> tuple[str, ...]:
    """Keys of the uncertain inputs of a study; inputs stated as exact are left out."""
    section, known, kind = study.uncertainty, fitted(study), kind_of(study)
    idle = _idle(study)
    usual = (key for key in (*kind.standard, *kind.tolerances) if key not in (*known, *idle))
    return (*(key for key in usual if getattr(section, key) != 0), *known)


def _idle(study: Study) -> tuple[str, ...]:
    """Keys that change nothing in any build of a study."""
    machine, searched = study.machine, study.searched()
    dial = getattr(study.supply, "dial", "at-nozzles")  # a pump has none
    idle = HOSE if dial == "at-nozzles" else ()
    if "bearing_seal" not in searched and machine.bearing_seal != "contact":
        idle = (*idle, *OF_LIPS)
    if "drive_ratio" not in searched and machine.drive_ratio == 1:
        idle = (*idle, *OF_BELT)
    if study.by_data_sheet and not np.isnan(float(study.fixed().get("no_load_loss", 0.0))):
        idle = (*idle, "generator_efficiency")
    return idle


def fitted(study: Study) -> tuple[str, ...]:
    """Keys whose uncertainty comes from a fit to a bench log: those the study does not state."""
    if study.fit is None:
        return ()
    stated = study.uncertainty.model_fields_set
    return tuple(key for key, off in study.fit.standard.items() if off > 0 and key not in stated)


def sampled_shares(study: Study, n_samples: int, seed: int) -> NDArray[np.float64]:
    """Cumulative probabilities by a Latin hypercube; fitted numbers are correlated as fitted."""
    return _shares(len(inputs(study)), fitted(study), Same(study.fit), n_samples, seed)


@lru_cache(maxsize=8)
def _shares(
    n_inputs: int, known: tuple[str, ...], of: Same, n_samples: int, seed: int
) -> NDArray[np.float64]:
    """Give the shares of a study, whose last inputs are those that its fit knows."""
    unit, fit = hypercube(n_inputs, n_samples, seed), of.thing
    if fit is not None and known:
        places = [list(fit.standard).index(key) for key in known]
        correlation = fit.correlation[np.ix_(places, places)]
        # Rounding may leave a correlation near 1 without a Cholesky factor.
        root = np.linalg.cholesky((correlation + 1e-9 * np.eye(len(known))) / (1 + 1e-9))
        last = slice(n_inputs - len(known), None)
        unit[:, last] = _normal_share(normal_deviations(unit[:, last]) @ root.T)
    unit.flags.writeable = False
    return unit


def hypercube(n_inputs: int, n_samples: int, seed: int) -> NDArray[np.float64]:
    """Cumulative probabilities by a Latin hypercube, (sample, input).

    McKay, Beckman and Conover 1979, Technometrics 21, 239. The draws are those of
    `scipy.stats.qmc.LatinHypercube`, which takes half a second to load.
    """
    (rng,) = np.random.default_rng(seed).spawn(1)
    within = rng.uniform(size=(n_samples, n_inputs))
    strata = np.tile(np.arange(1, n_samples + 1), (n_inputs, 1))
    for row in strata:
        rng.shuffle(row)
    return np.asarray((strata.T - within) / n_samples)


def drawn(study: Study, builds: Builds, unit: NDArray[np.float64]) -> Results:
    """Draw builds as they may turn out: all samples of the first build, then of the second, ...

    `unit` holds cumulative probabilities, (sample, input), in the order of `inputs`, the fitted
    ones last.
    """
    n_designs, n_samples = len(builds["speed"]), len(unit)
    given = {key: _each(values, n_samples) for key, values in builds.items()}
    given[FAMILY] = np.repeat(np.arange(n_designs, dtype=float), n_samples)
    for key, shares in zip(inputs(study), unit.T, strict=True):
        values = spread(study, builds, key).at(shares[None, :])
        given[key] = np.broadcast_to(values, (n_designs, n_samples)).ravel()
        if key == "nozzle_width":
            _likewise(builds, given, n_samples)
    return given


def _each(values: NDArray[Any], count: int) -> NDArray[Any]:
    """Repeat every value so many times."""
    if is_repeated(values) and values.size:
        return repeated(values[:1], count * len(values))
    return np.repeat(values, count)


def _likewise(builds: Builds, given: Results, n_samples: int) -> None:
    """Let the nozzles of later stages be off by as much as those of the first: one saw cuts all."""
    off = given["nozzle_width"] - np.repeat(builds["nozzle_width"], n_samples)
    for stage in STAGES:
        key = of_stage("nozzle_width", stage)
        if key in builds:
            given[key] = np.maximum(np.repeat(builds[key], n_samples) + off, SLIT)


def spread(study: Study, builds: Builds, key: str) -> Spread:
    """Distribution of an input around its value in each build."""
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
        middle = _stated(study, builds, key)
        width = _usual_width(builds, key, middle) if stated is None else stated
        if quantity := quantity_of(value_type(key)):
            low = max(quantity.above, quantity.least)
            high = min(quantity.below, quantity.most)
    ends = _made(builds) if key == "disc_thickness" else (low, high)
    middle, width, low, high = (in_lanes(each, n_designs) for each in (middle, width, *ends))
    return Spread(
        middle, width, low, high, is_flat=key in kind_of(study).tolerances and not is_fitted
    )


def _stated(study: Study, builds: Builds, key: str) -> Lanes:
    """Values of an input in each build: as stated, or as computed where it may be left out."""
    if key == "notch_factor":
        stack = stack_of(builds)
        return notch_factor(stack, places_of(stack))
    values = np.asarray(builds[key], dtype=float)
    if key in NOZZLE_COEFFICIENTS and np.isnan(values).any():
        return nozzle_coefficients(study, builds)[key]
    return values


def normal_deviations(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Quantiles of the standard normal distribution at these shares."""
    from scipy.special import ndtri  # noqa: PLC0415  not before it is needed

    return np.asarray(ndtri(shares))


def _normal_share(deviations: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of a standard normal distribution below these values."""
    from scipy.special import ndtr  # noqa: PLC0415  not before it is needed

    return np.asarray(ndtr(deviations))


def _usual_width(builds: Builds, key: str, middle: Lanes) -> Lanes:
    """Uncertainty of a nozzle's coefficient, or the tolerance of the process of each build."""
    if key in NOZZLE_COEFFICIENTS:
        return np.asarray(0.01 + (1 - middle) / 5)
    process = process_values(builds["process"], builds["disc_thickness"])
    if key == "gap":
        return process.spacer_tolerance
    return process.thickness_tolerance if key == "disc_thickness" else 2 * process.eccentricity


def _made(builds: Builds) -> tuple[Lanes, Lanes]:
    """Thinnest and thickest disc that the process of each build makes."""
    rows = [processes()[str(name)].thickness for name in builds["process"]]
    return np.array([row[0] for row in rows]), np.array([row[-1] for row in rows])
