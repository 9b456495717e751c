"""The flow at which a pump runs: the flow of its duty, or that at which pump and pipes agree."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.model.lanes import latest
from engine.physics.arrays import Lanes, Mask
from engine.physics.fluids.gas import Gas
from engine.physics.fluids.liquid import Liquid
from engine.physics.pump.build import PumpBuild, PumpFlow
from engine.physics.pump.flow import PASSES, pump_flow, pump_through
from engine.physics.pump.suction import GRAVITY
from engine.study.pump.supply import Duty

Residual: TypeAlias = Callable[[Lanes, NDArray[np.int64]], Lanes]

RUNS, NO_HEAD, SHUT, LOST = "matched", "no head left", "beyond shut-off head", "not converged"
"""What becomes of a lane; a build whose geometry cannot be is told before."""
SCANNED = (0.06, 0.2, 0.4, 0.6, 0.8, 1.0)
"""Flows through the gaps that are looked at first, over the most there can be."""
MOST_THROAT = 1.5
"""Most speed in the throat that is looked at, over that of the rim."""
MOST_PASSES = 16
"""Marches for lanes that the usual ones do not settle: eight do, where a gap turns turbulent."""
STEPS = 24
"""Most steps to the root; six to nine settle nearly all lanes."""
TOLERANCE = 1e-8
"""Of the flow, relative."""
FAR = 1e3
"""Head [m] that stands for what has no answer."""
NEAR = 1e-4
"""Residual over the flow or head asked for with which a lane counts as settled."""


@dataclass(frozen=True)
class Suction:
    """What comes in, one value a lane [SI]."""

    fluid: Liquid | Gas
    pressure: Lanes
    enthalpy: Lanes
    density: Lanes

    def through(self, build: PumpBuild, flow: Lanes) -> PumpFlow:
        """Follow a flow [kg/s] through the gaps of these lanes."""
        return pump_through(
            build=build,
            fluid=self.fluid,
            pressure=self.pressure,
            enthalpy=self.enthalpy,
            through=flow,
        )

    def delivered(self, build: PumpBuild, flow: Lanes, passes: int = PASSES) -> PumpFlow:
        """Follow a delivered flow [m3/s]."""
        return pump_flow(
            build=build,
            fluid=self.fluid,
            pressure=self.pressure,
            enthalpy=self.enthalpy,
            mass_flow=self.density * flow,
            passes=passes,
        )

    def of(self, rows: NDArray[np.int64]) -> "Suction":
        """Take some lanes."""
        return replace(
            self,
            pressure=self.pressure[rows],
            enthalpy=self.enthalpy[rows],
            density=self.density[rows],
        )


def lanes_of_build(build: PumpBuild, rows: NDArray[np.int64]) -> PumpBuild:
    """Take some lanes of a build."""
    return PumpBuild(
        **{f.name: np.asarray(getattr(build, f.name))[rows] for f in fields(PumpBuild)}
    )


def on_duty(
    suction: Suction, build: PumpBuild, duty: Duty, asked: Lanes | None = None
) -> tuple[PumpFlow, NDArray[np.str_]]:
    """Find the flow at which every lane runs, and what becomes of it.

    `asked` are flows [m3/s] of the lanes themselves, which take the place of the duty.
    """
    n_lanes = len(suction.pressure)
    if asked is not None or not duty.is_system:
        flow = np.full(n_lanes, duty.flow) if asked is None else asked
        found = suction.delivered(build, flow)
        # Nearly all lanes have settled. What gives no head in the usual passes gives none in more.
        late = np.flatnonzero(~found.settled & np.isfinite(found.head))
        if late.size:
            some = lanes_of_build(build, late)
            more = suction.of(late).delivered(some, flow[late], MOST_PASSES)
            found = latest([(np.arange(n_lanes), found), (late, more)])
        status = np.select([~found.settled, found.head <= 0], [LOST, NO_HEAD], RUNS)
        return found, status
    return _with_pipes(suction, build, duty)


def _with_pipes(
    suction: Suction, build: PumpBuild, duty: Duty
) -> tuple[PumpFlow, NDArray[np.str_]]:
    """Find where head of pump and pipes agree, farthest to the right where they do so twice."""
    n_lanes = len(suction.pressure)

    def over(flow: Lanes, rows: NDArray[np.int64]) -> Lanes:
        """Head of the pump over that of the pipes [m]; below 0 where the gaps carry no more."""
        found = suction.of(rows).through(lanes_of_build(build, rows), flow)
        excess = found.head - duty.system_head(found.flow)
        # What does not even feed its leakage delivers nothing, and goes for too little flow.
        return np.nan_to_num(np.where(found.mass_flow > 0, excess, FAR), nan=-FAR)

    every = np.arange(n_lanes)
    most = suction.density * _most_flow(build, duty)
    tried = np.array(SCANNED)[:, None] * most
    rows = np.tile(every, len(SCANNED))
    heads = over(tried.ravel(), rows).reshape(tried.shape)
    crossing = (heads[:-1] > 0) & (heads[1:] <= 0)
    any_ = np.asarray(crossing.any(axis=0))
    place = len(SCANNED) - 2 - np.argmax(crossing[::-1], axis=0)
    low, high = tried[place, every], tried[place + 1, every]
    at_ends = (heads[place, every], heads[place + 1, every])
    flow = _root(over, (low, high), at_ends, any_)
    found = suction.through(build, np.where(any_, flow, most))
    asked = duty.system_head(found.flow)
    with np.errstate(invalid="ignore"):
        close = np.abs(found.head - asked) <= NEAR * np.maximum(np.abs(asked), 0.1)
    # Between a flow that only leaks and one without head enough there is no duty.
    only_leaks = heads[place, every] >= FAR
    return found, np.select([~any_ | (~close & only_leaks), ~close], [SHUT, LOST], RUNS)


def _most_flow(build: PumpBuild, duty: Duty) -> Lanes:
    """Flow that the pump surely cannot put through throat and pipes [m3/s], with its leakage."""
    fast = build.angular_speed * build.rim_radius
    throat = MOST_THROAT * fast * build.throat_area
    head = fast**2 / GRAVITY - (duty.static_head or 0.0)
    if not duty.head_loss:
        return np.asarray(throat)
    pipes = duty.flow * np.sqrt(np.maximum(head, 1e-6) / duty.head_loss)
    leak = build.suction_ends * 2 * np.pi * build.ring_radius * build.seal_clearance * fast
    return np.asarray(np.minimum(throat, 1.02 * pipes + leak))


def _root(
    over: Residual, ends: tuple[Lanes, Lanes], heads: tuple[Lanes, Lanes], wanted: Mask
) -> Lanes:
    """Find the root between two flows by regula falsi, the kept end weakened (Illinois)."""
    low, high, at_low, at_high = (each.copy() for each in (*ends, *heads))
    best, side = low.copy(), np.zeros(low.shape)
    rows = np.flatnonzero(wanted)
    for _ in range(STEPS):
        if not rows.size:
            break
        a, b, fa, fb = low[rows], high[rows], at_low[rows], at_high[rows]
        flow = (a * fb - b * fa) / (fb - fa)
        flow = np.where(np.isfinite(flow) & (flow > a) & (flow < b), flow, (a + b) / 2)
        value = over(flow, rows)
        above = value > 0
        weak_high, weak_low = above & (side[rows] > 0), ~above & (side[rows] < 0)
        low[rows], at_low[rows] = np.where(above, flow, a), np.where(above, value, fa)
        high[rows], at_high[rows] = np.where(above, b, flow), np.where(above, fb, value)
        at_high[rows[weak_high]] /= 2
        at_low[rows[weak_low]] /= 2
        side[rows] = np.where(above, 1.0, -1.0)
        moved = np.abs(flow - best[rows]) / flow
        best[rows] = flow
        rows = rows[(moved > TOLERANCE) & (value != 0)]
    return best
