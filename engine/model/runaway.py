"""The speed that a build reaches when its load is lost, where nothing shuts the supply.

Torque comes from the averaged gap flow, also of builds whose other results are resolved. Just below
that speed hardly anything flows and much of it turns back, where the march of the resolved level
often fails: a twentieth below it, in the logarithm of the ratio, for 21 of 31 builds on a front of
lane-workshop, 5 of 22 of orchard-boiler, 20 of 28 of greenhouse-vapour and 14 of 21 of mill-race,
and for some with three quarters of the torque left. That is no brake. Taken for one, it gave ratios
2 to 17 % too low on the first of these fronts, in five hundred times the time. Where the resolved
level has an answer at the averaged runaway speed, its own is within 1 % in air and steam, 1.1 % in
water and 1.5 % in vapour (100 builds); how far the levels differ at lower speeds does not tell how
far they do there.

The averaged torque changes sign once between operating speed and twenty times that, for all of
2,261 builds on the four fronts and 1,185 random ones, seen at 100 or 150 speeds each. On the fronts
it falls through zero smoothly, but for four builds in water that throw fluid out at the rim first.
Of random builds 45 of 100 in water do so and 25 in steam churn first, with a third and a sixth of
the torque left in the median; their ratio is that end of the model, and may be too low. In water
it is a rough end: within a hundredth of it, matched speeds and others take turns.
"""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes
from engine.physics.machine.margins import HIGHEST_RUNAWAY

STEPS = np.log([1.0, 1.5, 2.25, 3.5, 5.5, 8.5, 13.0, HIGHEST_RUNAWAY])
"""Logarithms of the ratios to operating speed between which the torque is followed upward."""
CLOSE = 1e-4
"""Error of the logarithm of the ratio."""

Torque = Callable[[NDArray[np.int64], Lanes], Lanes]
"""Torque of some lanes without load, each at a ratio to its speed; NaN without operating point."""


def runaway_ratio(torque: Torque, running: Lanes) -> Lanes:
    """Lowest ratio to operating speed at which the torque without load falls to zero.

    `running` is the torque at operating speed. NaN where a build does not drive its shaft;
    `HIGHEST_RUNAWAY` where it still does there. A rotor that gains speed stays at the first speed
    where nothing drives it further, so the torque is followed upward, in steps, until it is
    negative. A fall and a rise within one step are not seen.
    """

    def driving(log_ratio: Lanes, lane: NDArray[np.int64]) -> Lanes:
        """Torque as a share of that at operating speed."""
        found = torque(lane, np.exp(log_ratio)) / running[lane]
        # Without an operating point the discs pump against the supply, which brakes them.
        return np.where(log_ratio == 0, 1.0, np.nan_to_num(found, nan=-1.0))

    ratio = np.where(running > 0, HIGHEST_RUNAWAY, np.nan)
    left = np.flatnonzero(running > 0)
    low, high = np.zeros_like(ratio), np.zeros_like(ratio)
    for start, end in pairwise(STEPS):
        if not left.size:
            break
        slower = driving(np.full(left.shape, end), left) < 0
        low[left[slower]], high[left[slower]] = start, end
        left = left[~slower]
    lanes = np.flatnonzero(high > 0)
    if lanes.size:
        from scipy.optimize import elementwise  # noqa: PLC0415  not before it is needed

        found = elementwise.find_root(
            driving,
            (low[lanes], high[lanes]),
            args=(lanes,),
            tolerances={"xatol": CLOSE, "xrtol": 0.0, "fatol": 0.0, "frtol": 0.0},
        )
        ratio[lanes] = np.exp(found.x)
    return ratio
