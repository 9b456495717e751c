"""Robust least squares, and the choice of unknowns that the data determine.

Residuals are in standard uncertainties of their readings. Unknowns are in their own units; the
width of each is its standard uncertainty before the measurement.
"""

from collections.abc import Callable
from dataclasses import dataclass

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


def choose(effects: Numbers) -> Choice:
    """Choose unknowns one by one, the most independent first, while the data determine all of them.

    Orthogonalisation of the scaled sensitivities, as for estimable parameters in Yao, Shaw and
    Kou 2003, Polymer Reaction Engineering 11, 563-588 (from memory).
    """
    strength = np.sqrt(np.square(effects).sum(axis=0))
    chosen: list[int] = []
    while len(chosen) < min(effects.shape):
        left = effects - _onto(effects[:, chosen], effects)
        fresh = np.sqrt(np.square(left).sum(axis=0))
        fresh[chosen] = 0.0
        tried = [*chosen, int(np.argmax(fresh))]
        if fresh.max() < 1e-9 * max(strength.max(), 1e-300) or _loosest(effects[:, tried]) > TOLD:
            break
        chosen = tried
    with np.errstate(invalid="ignore", divide="ignore"):
        unit = np.nan_to_num(effects / strength)
    likeness = np.abs(unit.T @ unit[:, chosen])
    alike = [chosen[row.argmax()] if chosen else -1 for row in likeness]
    closest = likeness.max(axis=1) if chosen else np.zeros(strength.shape)
    return Choice(tuple(chosen), strength, tuple(alike), closest)


def fit(
    residuals: Residuals, *, start: Numbers, lower: Numbers, upper: Numbers, width: Numbers
) -> Estimate:
    """Fit every unknown; its covariance is never below that of the stated uncertainties.

    References
    ----------
    Huber 1981, Robust Statistics, section 7.6 (from memory): covariance of a robust regression.
    """
    at = np.clip(start, lower + 1e-6 * width, upper - 1e-6 * width)

    def at_point(point: Numbers) -> Numbers:
        found = residuals(point[None])[0]
        return np.asarray(np.nan_to_num(found, nan=LOST, posinf=LOST, neginf=-LOST))

    def jacobian(point: Numbers) -> Numbers:
        return np.asarray(np.nan_to_num(slopes(residuals, point, width, upper) / width))

    left = at_point(at)
    scale = _scale(left)
    for _ in range(PASSES):
        found = least_squares(
            at_point,
            at,
            jac=jacobian,
            bounds=(lower, upper),
            x_scale=width,
            loss="huber",
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
    scaled = slopes(residuals, at, width, upper)
    spread = np.linalg.pinv(scaled.T @ scaled) * _spread(left, at.size, scale)
    at_bound = (at - lower < 1e-3 * width) | (upper - at < 1e-3 * width)
    return Estimate(at, spread * np.outer(width, width), left, at_bound, left.size - at.size)


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


def _loosest(effects: Numbers) -> float:
    """Largest standard uncertainty of unknowns with these effects, in widths."""
    inverse = np.linalg.pinv(effects.T @ effects, hermitian=True)
    return float(np.sqrt(np.diag(inverse).max()))
