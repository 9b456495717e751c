"""What a step of the march at the resolved level is given, and its work space.

Names, scales and equations are those of `resolved_step_kernel`.
"""

from typing import NamedTuple

import numpy as np

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, whole_spans
from engine.physics.gap.elimination_kernel import Factors, factors_for

TINY = 1e-30
"""Keeps a divisor from being 0."""


class Across(NamedTuple):
    """Matrices of `resolved_grid.HalfGap`, each with its transpose, so that sums run along rows.

    Rows are padded with 0 to whole spans.
    """

    slope: Lanes
    slope_t: Lanes
    divergence: Lanes
    divergence_t: Lanes
    second: Lanes
    second_t: Lanes
    integral: Lanes
    integral_t: Lanes
    weights: Lanes
    middle: Lanes
    wall_distance: Lanes
    mixing_length: Lanes
    rows: Lanes  # those of `slope`, then `weights`, then those of `integral` and of `second`


class Rim(NamedTuple):
    """State of a lane at the rim, and its scales."""

    pressure: float  # static [Pa]
    enthalpy: float  # static [J/kg]
    density: float  # [kg/m3]
    radial_speed: float  # inward [m/s]
    spin: float  # rim speed of the wall over radial speed
    plug: float  # relative swirl of the entering plug over radial speed
    radius: float  # [m]
    span: float  # (rim radius - bore radius) / rim radius [-]
    gap: float  # [m]
    transition: float  # factor on the Reynolds numbers of transition
    way: float  # 1 inward, -1 outward, where the eye is the "rim" and speeds count outward


class Behind(NamedTuple):
    """Known parts of the derivatives of single values, from the steps behind."""

    density: float
    pressure: float
    braking: float


class Step(NamedTuple):
    """One step of the march."""

    ratio: float  # x at its end
    rate: float  # weight of an unknown in its derivative along t
    drag: float  # without eddies
    ahead_rate: float  # `rate` where fluid comes from the bore side
    either: bool  # whether a node with a share of the bore side looks to where its fluid comes from
    old: Behind


class Room(NamedTuple):
    """Work space of a march; the constants below name the rows of `nodes`."""

    nodes: Lanes
    matrix: Lanes
    residual: Lanes
    factors: Factors
    along_by: Lanes  # derivatives of the stress at each node along the flow with the unknowns
    around_by: Lanes  # the same around the shaft


OLD_FLUX, OLD_MOMENTUM, OLD_ANGULAR = 0, 1, 2
"""Known parts of the derivatives of flux, flux squared, and flux times swirl."""
REVERSE, AHEAD_FLUX, AHEAD_SWIRL = 3, 4, 5
"""Share of the bore side where fluid moves outward, and known parts of its derivatives there."""
DRIFT, FLUX_SLOPE, SWIRL_SLOPE, FLUX_CURVE, SWIRL_CURVE = 6, 7, 8, 9, 10
"""Drift, first derivatives across the gap, and second ones or the divergence of the stress."""
ALONG, AROUND, EDDY, FULL, SENSITIVITY, PASSING = 11, 12, 13, 14, 15, 16
"""Of the eddies, see `_eddies`; `PASSING` is scratch."""
OLD_SWIRL = 17
"""Known part of the derivative of the swirl."""
STRESS = 18
"""Stress at each node: scratch."""
N_ROWS = 19


@compiled
def room_for(n: int) -> Room:
    """Allocate work space for n interior nodes."""
    size, width = 2 * n + 2, whole_spans(2 * n + 2)
    return Room(
        np.zeros((N_ROWS, whole_spans(n + 1))),
        np.zeros((size, width)),
        np.zeros(width),
        factors_for(size),
        np.zeros((n + 1, width)),
        np.zeros((n + 1, width)),
    )
