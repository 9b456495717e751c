"""How far each design is past each limit, and which limits designs miss.

A violation is 0 where the limit is met. Past it, with x the overshoot over the bound's size, it is
x/(1+x): below 1 for every design with an operating point, and at least 1 for every other, so that a
search always prefers a design that works.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS, Builds, columns_of
from engine.model.parts import LOOSE, TOO_HOT
from engine.physics.arrays import Mask, Reason
from engine.pump_columns import Works
from engine.study.values import Limit

Limits = Mapping[str, Limit[float]]
"""Bounds [SI] by column key."""

STANDING: Limits = {
    "nozzle_footprint": Limit[float](max=0.9),
    "bore_ratio": Limit[float](max=0.8),
    "bore_wall": Limit[float](min=1e-3),
    "mouth_depth": Limit[float](min=1e-5),
    "eye_ratio": Limit[float](max=0.8),
    "eye_width": Limit[float](min=1e-3),
    "npsh_margin": Limit[float](min=0.5),
}
"""Limits that every build must meet to be buildable and to run, where its kind has the column."""

TOLERANCE = 1e-9
"""Relative overshoot that counts as rounding: a bore wall of 1 mm meets a limit of 1 mm."""

MATCHED = Reason.MATCHED.name.lower()
"""Status of a design with an operating point."""

SETTLES_NOWHERE = "settles nowhere"
"""Status of a design whose speed is to settle, and does not."""

STATUS_MEANING = {
    "bad geometry": "the dimensions cannot be built",
    "bad supply": "the supply is not above the back pressure, or outside the fluid's range",
    "no flow": "at this speed the stack pumps against the supply",
    "gap choked": "the flow reaches the speed of sound inside a gap",
    "exhaust choked": "the flow reaches the speed of sound in the exhaust",
    "churning": "windage at the disc edges heats the small flow by more than the model can follow",
    "not converged": "the computation of the operating point did not converge",
    "rim backflow": (
        "the fluid enters so much slower than the discs that they throw it back out at the rim, "
        "which the fast gap flow cannot follow"
    ),
    SETTLES_NOWHERE: (
        "turbine, generator and loads have no common speed: it stalls or races; another "
        "generator_kv, drive_ratio or load may help"
    ),
    "no head left": (
        "at the flow asked for the pump has no head left; take more discs, a wider throat or eye, "
        "more speed, or less flow"
    ),
    "beyond shut-off head": (
        "the duty asks for more head than the pump reaches at any flow; take more speed, larger "
        "discs, tighter wear rings, or less head"
    ),
    TOO_HOT: "the supply is hotter than the material of the discs stands",
    LOOSE: "the bore of the bearing is wider than the shaft",
    "breaks second law": "the model gave more power than the fluid holds, and does not hold here",
}
"""What the other statuses mean, in words for a user."""


def with_standing(limits: Limits, machine: Works = "turbine") -> dict[str, Limit[float]]:
    """Standing limits first, then these; where both bound a column, the tighter bound holds."""
    known = columns_of(machine)
    merged = {key: limit for key, limit in STANDING.items() if key in known}
    for key, limit in limits.items():
        both = [merged[key], limit] if key in merged else [limit]
        merged[key] = Limit[float].model_construct(
            min=max((each.min for each in both if each.min is not None), default=None),
            max=min((each.max for each in both if each.max is not None), default=None),
        )
    return merged


def matched(results: Builds) -> Mask:
    """Designs with an operating point."""
    return np.asarray(results["status"] == MATCHED, dtype=np.bool_)


def violations(results: Builds, limits: Limits) -> NDArray[np.float64]:
    """Violation of each limit by each design, (n_designs, n_limits); never NaN.

    0: the limit is met. Between 0 and 1: a matched design past the limit; 1 if the limited number
    is NaN. From 1 to 2: a design without operating point, graded where the limited number is known
    all the same.

    Parameters
    ----------
    results : mapping
        Columns by key, SI, with `status`.
    limits : mapping
        Bounds by key, SI; all of them, with the standing limits, so that there is at least one.
    """
    works = matched(results)[:, None]
    past = np.stack([_overshoot(results[key], key, limits[key]) for key in limits], axis=1)
    graded = np.where(np.isnan(past), 1.0, past / (1.0 + past))
    return np.where(works, graded, 1.0 + np.where(np.isnan(past), 0.0, graded))


def feasible(violation: NDArray[np.float64]) -> Mask:
    """Designs that meet every limit."""
    return np.asarray((violation == 0.0).all(axis=1), dtype=np.bool_)


def count_met(results: Builds, violation: NDArray[np.float64], limits: Limits) -> dict[str, int]:
    """Designs inside each limit among those with an operating point, by key."""
    met = (violation[matched(results)] == 0.0).sum(axis=0)
    return dict(zip(limits, met.tolist(), strict=True))


def biting(met: Mapping[str, int], n_matched: int) -> list[str]:
    """Limits that some matched design misses, the most missed first; ties in the given order."""
    return sorted((key for key in met if met[key] < n_matched), key=lambda key: met[key])


def _overshoot(values: NDArray[Any], key: str, limit: Limit[float]) -> NDArray[np.float64]:
    """Distance past a bound over the size of the bound, 0 inside; NaN where the value is NaN."""
    number = np.asarray(values, dtype=float)
    past = np.where(np.isnan(number), np.nan, 0.0)
    for bound, side in ((limit.min, -1.0), (limit.max, 1.0)):
        if bound is not None:
            # A bound of zero has no size of its own: one drawing unit is used.
            scale = abs(bound) or COLUMNS[key].unit.si_factor
            beyond = side * (number - bound) / scale
            past = np.maximum(past, np.where(beyond > TOLERANCE, beyond, 0.0))
    return np.minimum(past, 1e12)
