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
it falls through zero smoothly, but for some builds in water that throw fluid out at the rim first.
Of random builds 41 of 100 in water do so and 30 in steam churn first, with a third and a sixth of
the torque left in the median. None of that brakes them, so the flow is followed on (level
`beyond`), which gives ratios 1.31 times as high in the median in water and up to 2.5 times. At 0.8
of them the resolved level has an answer for 18 of 40 such builds in water and 37 of 40 in steam:
torque is within 1 and 0.5 % of that at operating speed in the median, 10 and 3 % at worst. It
vanishes within 2 % of that speed in water (5 builds) and within 0.3 % in steam (12).

Where the discs pump against the supply no flow enters, which brakes them: of 2,400 such builds a
scan of rim pressures found none with a root. Where no march has an answer, as all of the little
flow that is left turns back, torque is not known. Then the next speed that is sure to brake is an
upper bound: for 6 of 100 random builds of the boiler, in the median 1.5 times the last known speed.
"""

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds
from engine.physics.arrays import Lanes, Reason
from engine.physics.machine.margins import HIGHEST_RUNAWAY

STEPS = np.log([1.0, 1.5, 2.25, 3.5, 5.5, 8.5, 13.0, HIGHEST_RUNAWAY])
"""Logarithms of the ratios to operating speed between which the torque is followed upward."""
STEP = 0.1
"""The same between two of them where it is not known at a speed and followed on from there."""
CLOSE = 1e-4
"""Error of the logarithm of the ratio."""
BESIDE = 3 * CLOSE
"""Distance of the logarithm from a change of sign at which its sides are looked at."""

Torque = Callable[[NDArray[np.int64], Lanes], Lanes]
"""Torque of some lanes without load, each at a ratio to its speed; NaN where something brakes, and
infinite where it may drive them."""


def torque_told(found: Builds) -> Lanes:
    """Torque of lanes that `driven` has followed beyond their operating points.

    NaN where no flow enters the gaps: there the discs pump against the supply, which brakes them.
    Infinite where it may be above 0: no march has an answer, or only one with more flow.
    """
    torque, no_flow = found["shaft_torque"], found["status"] == Reason.NO_FLOW
    may_drive = ~no_flow & (np.isnan(torque) | found["is_bound"] & ~(torque < 0))
    return np.where(may_drive, np.inf, torque)


def runaway_ratio(torque: Torque, running: Lanes) -> Lanes:
    """Lowest ratio to operating speed at which the torque without load falls to zero.

    `running` is the torque at operating speed. NaN where a build does not drive its shaft;
    `HIGHEST_RUNAWAY` where it still does there, or may. A rotor that gains speed stays at the first
    speed where nothing drives it further, so the torque is followed upward, in steps, until it is
    negative. A fall and a rise within one step are not seen. Where it is not known just above the
    speed that is found so, the next one at which something brakes is an upper bound.
    """

    def driving(log_ratio: Lanes, lane: NDArray[np.int64], unknown: float) -> Lanes:
        """Torque as a share of that at operating speed; `unknown` where it may drive."""
        found = torque(lane, np.exp(log_ratio)) / running[lane]
        return np.where(np.isposinf(found), unknown, np.nan_to_num(found, nan=-1.0))

    ratio = np.where(running > 0, HIGHEST_RUNAWAY, np.nan)
    lanes = np.flatnonzero(running > 0)
    found = _first_change(partial(driving, unknown=-1.0), lanes, STEPS)
    lanes, found = lanes[found < STEPS[-1]], found[found < STEPS[-1]]
    ratio[lanes] = np.exp(found)
    if lanes.size:
        left = np.isposinf(torque(lanes, ratio[lanes] * np.exp(BESIDE)))
        lanes, found = lanes[left], found[left]
    if lanes.size:
        onward = found + STEP * np.arange(np.ceil((STEPS[-1] - found.min()) / STEP) + 1)[:, None]
        onward = np.minimum(onward, STEPS[-1])
        found = _first_change(partial(driving, unknown=1.0), lanes, onward)
        ratio[lanes] = np.where(found < STEPS[-1], np.exp(found), HIGHEST_RUNAWAY)
    return ratio


def _first_change(
    driving: Callable[[Lanes, NDArray[np.int64]], Lanes], lanes: NDArray[np.int64], steps: Lanes
) -> Lanes:
    """Logarithm of the first ratio at which lanes are not driven; the last of `steps` if none is.

    Those are (step,) or (step, lane).
    """
    along = np.broadcast_to(steps.T, (lanes.size, len(steps))).T
    low, high, left = np.zeros(lanes.size), along[-1].copy(), np.arange(lanes.size)
    above, below = np.ones(lanes.size), np.ones(lanes.size)
    for start, end in pairwise(along):
        if not left.size:
            break
        here = driving(end[left], lanes[left])
        which = left[here < 0]
        low[which], high[which], below[which] = start[which], end[which], here[here < 0]
        left = left[here >= 0]
        above[left] = here[here >= 0]
    places = np.flatnonzero(below < 0)

    def beside(log_ratio: Lanes, place: NDArray[np.int64]) -> Lanes:
        """`driving`, without working out again what is known at both ends."""
        found = np.where(log_ratio == low[place], above[place], below[place])
        new = (log_ratio != low[place]) & (log_ratio != high[place])
        if new.any():
            found[new] = driving(log_ratio[new], lanes[place[new]])
        return np.asarray(found)

    if places.size:
        from scipy.optimize import elementwise  # noqa: PLC0415  not before it is needed

        found = elementwise.find_root(
            beside,
            (low[places], high[places]),
            args=(places,),
            tolerances={"xatol": CLOSE, "xrtol": 0.0, "fatol": 0.0, "frtol": 0.0},
        )
        high[places] = found.x
    return np.asarray(high)
