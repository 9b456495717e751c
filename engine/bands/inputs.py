"""What is uncertain in a study, and samples of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.catalogue import process_values, processes
from engine.columns import Builds, Results
from engine.physics.arrays import Array, Lanes
from engine.study.machine import value_type
from engine.study.study import Study
from engine.study.uncertainty import SHARED, TOLERANCES
from engine.study.values import quantity_of


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
            first, last = (
                _normal_share((low - middle) / width),
                _normal_share((high - middle) / width),
            )
        drawn = middle + width * normal_deviations(first + unit * (last - first))
        return np.asarray(np.where(width > 0, drawn, middle))


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
        unit[:, last] = _normal_share(normal_deviations(unit[:, last]) @ root.T)
    return unit


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


def normal_deviations(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the standard deviations below which so much of a normal distribution lies."""
    from scipy.special import ndtri  # noqa: PLC0415  not before it is needed

    return np.asarray(ndtri(shares))


def _normal_share(deviations: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of a normal distribution below so many standard deviations."""
    from scipy.special import ndtr  # noqa: PLC0415  not before it is needed

    return np.asarray(ndtr(deviations))


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
