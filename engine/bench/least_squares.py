"""Robust least squares, and the choice of unknowns that the data determine.

Residuals are in standard uncertainties of their readings. Unknowns are in their own units; the
width of each is its standard uncertainty before the measurement.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import stdtrit

Numbers = NDArray[np.float64]
Residuals = Callable[[Numbers], Numbers]
"""Points (m, unknowns) to residuals (m, readings)."""

HUBER = 1.345
"""Residual above which the pull of a reading no longer grows; 95 % efficient (Huber 1981)."""
PASSES = 12
"""Largest number of fits, each with the scatter that the last fit left. The first takes that of the
start: with a smaller one most readings would pull equally, and the fit would find no direction."""
SAME_SCALE = 0.05
"""Relative change of the scatter below which another fit would change nothing."""
STEP = 0.01
"""Step of the finite differences, in widths."""
TOLD = 0.5
"""Largest standard uncertainty, in widths, of an unknown that counts as determined."""
LIKE = 0.95
"""Largest correlation of two unknowns that count as determined both."""
GROWS = 1.001
"""Ratio up to which an uncertainty counts as not grown."""
LOST = 1e3
"""Residual used where the model gives no number."""


@dataclass(frozen=True)
class Estimate:
    """Result of a fit."""

    values: Numbers
    covariance: Numbers
    residuals: Numbers
    at_bound: NDArray[np.bool_]
    freedom: int
    """Readings less unknowns."""
    spread: float
    """Variance of a reading as the fit finds it, over the variance its instrument states."""

    @property
    def standard(self) -> Numbers:
        """Standard uncertainty of each unknown."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlation(self) -> Numbers:
        """Correlation of the unknowns."""
        return self.covariance / np.outer(self.standard, self.standard)

    @property
    def reach(self) -> Numbers:
        """Half of the 95 % interval of each unknown."""
        return self.standard * float(stdtrit(max(self.freedom, 1), 0.975))

    @property
    def weights(self) -> Numbers:
        """Weight of each reading, 1 for full weight."""
        return np.minimum(1.0, _bend(self.residuals) / np.maximum(np.abs(self.residuals), 1e-300))


@dataclass(frozen=True)
class Choice:
    """Which unknowns the data determine."""

    chosen: tuple[int, ...]
    strength: Numbers
    """Effect of one width of each unknown on all readings together."""
    alike: tuple[int, ...]
    """For each unknown, the chosen unknown with the most similar effect; -1 for none."""
    likeness: Numbers
    """Cosine of the two effects."""


def slopes(residuals: Residuals, at: Numbers, width: Numbers, upper: Numbers) -> Numbers:
    """Change of every residual per width of every unknown, shape (readings, unknowns)."""
    signs = np.where(at + STEP * width > upper, -1.0, 1.0)
    points = at + np.vstack([np.zeros(at.size), np.diag(signs * STEP * width)])
    found = residuals(points)
    return np.asarray(((found[1:] - found[0]) * signs[:, None] / STEP).T)


def choose(effects: Numbers, *, known: Mapping[int, float] = MappingProxyType({})) -> Choice:
    """Choose unknowns one by one, the most independent first, while the data determine all of them.

    Those that are `known`, each with its standard uncertainty in widths, are chosen from the
    beginning, and none is chosen that would make what is known less certain.

    Orthogonalisation of the scaled sensitivities, as for estimable parameters in Yao, Shaw and
    Kou 2003, Polymer Reaction Engineering 11, 563-588 (from memory).
    """
    strength = np.sqrt(np.square(effects).sum(axis=0))
    chosen, passed = list(known), list[int]()
    while len(chosen) + len(passed) < min(effects.shape):
        left = effects - _onto(effects[:, chosen], effects)
        fresh = np.sqrt(np.square(left).sum(axis=0))
        fresh[[*chosen, *passed]] = 0.0
        tried = [*chosen, int(np.argmax(fresh))]
        covariance = np.linalg.pinv(effects[:, tried].T @ effects[:, tried], hermitian=True)
        standard = np.sqrt(np.diag(covariance))
        if fresh.max() < 1e-9 * max(strength.max(), 1e-300) or standard.max() > TOLD:
            break
        likest = np.abs(covariance / np.outer(standard, standard))[-1, :-1].max(initial=0.0)
        grown = [standard[n] > GROWS * known[each] for n, each in enumerate(known)]
        if any(grown) or (known and likest > LIKE):
            passed.append(tried[-1])
        else:
            chosen = tried
    with np.errstate(invalid="ignore", divide="ignore"):
        unit = np.nan_to_num(effects / strength)
    likeness = np.abs(unit.T @ unit[:, chosen])
    alike = [chosen[row.argmax()] if chosen else -1 for row in likeness]
    closest = likeness.max(axis=1) if chosen else np.zeros(strength.shape)
    return Choice(tuple(chosen), strength, tuple(alike), closest)


def fit(
    residuals: Residuals,
    *,
    start: Numbers,
    lower: Numbers,
    upper: Numbers,
    width: Numbers,
    prior: tuple[Numbers, Numbers] | None = None,
) -> Estimate:
    """Fit every unknown; its covariance is never below that of the stated uncertainties.

    `prior` is a matrix R and a vector t: what is known before, as more residuals R (x - start) + t,
    which are certain and so never count as outliers.

    References
    ----------
    Huber 1981, Robust Statistics, section 7.6 (from memory): covariance of a robust regression.
    """
    at = np.clip(start, lower + 1e-6 * width, upper - 1e-6 * width)

    matrix, target = prior or (np.zeros((0, at.size)), np.zeros(0))

    def at_point(point: Numbers) -> Numbers:
        found = residuals(point[None])[0]
        return np.asarray(np.nan_to_num(found, nan=LOST, posinf=LOST, neginf=-LOST))

    def all_at(point: Numbers) -> Numbers:
        before = scale * (matrix @ (point - start) + target)
        return np.concatenate([at_point(point), before])

    def jacobian(point: Numbers) -> Numbers:
        found = np.nan_to_num(slopes(residuals, point, width, upper) / width)
        return np.vstack([found, scale * matrix])

    left = at_point(at)
    scale = _scale(left)
    for _ in range(PASSES):
        found = least_squares(
            all_at,
            at,
            jac=jacobian,
            bounds=(lower, upper),
            x_scale=width,
            loss=partial(_loss, len(left)),
            f_scale=HUBER * scale,
            xtol=1e-6,
            ftol=1e-8,
            gtol=1e-8,
            max_nfev=40,
        )
        at = found.x
        left = at_point(at)
        before, scale = scale, _scale(left)
        if abs(scale / before - 1) < SAME_SCALE:
            break
    scaled = np.nan_to_num(slopes(residuals, at, width, upper))
    spread = _spread(left, at.size, scale)
    told = matrix * width
    known = np.linalg.pinv(scaled.T @ scaled / spread + told.T @ told)
    at_bound = (at - lower < 1e-3 * width) | (upper - at < 1e-3 * width)
    covariance = known * np.outer(width, width)
    return Estimate(at, covariance, left, at_bound, left.size - at.size, spread)


def _loss(data: int, squares: Numbers) -> Numbers:
    """Huber's loss of the first residuals, and plain squares of the others; with derivatives."""
    root = np.sqrt(np.maximum(squares, 1.0))
    is_far = (squares > 1) & (np.arange(squares.size) < data)
    return np.where(
        is_far,
        [2 * root - 1, 1 / root, -0.5 / root**3],
        [squares, np.ones_like(squares), np.zeros_like(squares)],
    )


def _spread(residuals: Numbers, unknowns: int, scale: float) -> float:
    """Variance of a reading as the fit finds it, over the variance its instrument states."""
    readings, freedom = residuals.size, max(residuals.size - unknowns, 1)
    inside = float((np.abs(residuals) <= HUBER * scale).mean())
    if inside == 0:
        return float(np.square(residuals).sum() / freedom)
    pulled = np.square(np.minimum(np.abs(residuals), HUBER * scale)).sum() / freedom
    correction = 1 + unknowns / readings * (1 - inside) / inside
    return max(1.0, float(correction**2 * pulled / inside**2))


def _scale(residuals: Numbers) -> float:
    """Scatter of the residuals from their median, never below the stated uncertainty."""
    return max(1.0, 1.4826 * float(np.median(np.abs(residuals))))


def _bend(residuals: Numbers) -> Numbers:
    return np.minimum(np.abs(residuals), HUBER * _scale(residuals))


def _onto(basis: Numbers, vectors: Numbers) -> Numbers:
    """Part of each vector within the space of the basis."""
    if not basis.size:
        return np.zeros(vectors.shape)
    orthonormal = np.linalg.qr(basis)[0]
    return np.asarray(orthonormal @ (orthonormal.T @ vectors))
