"""The flow at which a pump runs: the flow of its duty, or that at which pump and pipes agree."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes, Mask
from engine.physics.fluids.liquid import Liquid
from engine.model.pump.through import PumpCircuit, PumpFlow, flow_through
from engine.study.pump.supply import GRAVITY, Duty

Residual: TypeAlias = Callable[[Lanes, NDArray[np.int64]], Lanes]

RUNS, NO_HEAD, SHUT, LOST = "matched", "no head left", "beyond shut-off head", "not converged"
"""What becomes of a lane; a build whose geometry cannot be is told before."""
SCANNED = (0.06, 0.2, 0.4, 0.6, 0.8, 1.0)
"""Flows through the gaps that are looked at first, over the most there can be."""
MOST_THROAT = 1.5
"""Most speed in the throat that is looked at, over that of the rim."""
STEPS = 24
"""Most steps to the root; six to nine settle nearly all lanes."""
TOLERANCE = 1e-8
"""Of the flow, relative."""
NEAR = 1e-4
"""Residual over the flow or head asked for with which a lane counts as settled."""


@dataclass(frozen=True)
class Suction:
    """What comes in, one value a lane [SI]."""

    fluid: Liquid
    pressure: Lanes
    enthalpy: Lanes

    def through(self, circuit: PumpCircuit, flow: Lanes) -> PumpFlow:
        """Follow a flow [m3/s] through the gaps of these lanes."""
        return flow_through(
            fluid=self.fluid,
            pressure=self.pressure,
            enthalpy=self.enthalpy,
            density=self.fluid.density_value,
            through=flow,
            circuit=circuit,
        )

    def of(self, rows: NDArray[np.int64]) -> "Suction":
        """Take some lanes."""
        return replace(self, pressure=self.pressure[rows], enthalpy=self.enthalpy[rows])


def lanes_of_circuit(circuit: PumpCircuit, rows: NDArray[np.int64]) -> PumpCircuit:
    """Take some lanes of a circuit."""
    return PumpCircuit(**{f.name: getattr(circuit, f.name)[rows] for f in fields(PumpCircuit)})


def at_flow(suction: Suction, circuit: PumpCircuit, flow: Lanes) -> tuple[PumpFlow, Mask]:
    """Run at a delivered flow [m3/s]; also says which lanes have settled.

    What leaks grows with it slowly, so a few secants suffice.
    """
    through, other = flow.copy(), np.zeros(0)
    last, before = np.zeros(0), np.zeros(0)
    found = suction.through(circuit, through)
    for _ in range(5):
        off = found.delivered - flow
        if not before.size:
            step = -off
        else:
            with np.errstate(divide="ignore", invalid="ignore"):
                slope = (off - before) / (last - other)
            step = -off / np.where(np.isfinite(slope) & (slope > 0.2), slope, 1.0)
        other, before = through, off
        through = np.where(np.isfinite(step), np.maximum(through + step, 1e-3 * through), through)
        last = through
        found = suction.through(circuit, through)
        if np.nanmax(np.abs(step) / through, initial=0.0) < TOLERANCE:
            break
    with np.errstate(invalid="ignore"):
        settled = np.abs(found.delivered - flow) <= NEAR * flow + 1e-9
    return found, np.asarray(settled & np.isfinite(found.rise))


def on_duty(
    suction: Suction, circuit: PumpCircuit, duty: Duty
) -> tuple[PumpFlow, NDArray[np.str_]]:
    """Find the flow at which every lane runs, and what becomes of it."""
    n_lanes = len(circuit.gap)
    if not duty.is_system:
        found, settled = at_flow(suction, circuit, np.full(n_lanes, duty.flow))
        status = np.select([~settled, found.rise <= 0], [LOST, NO_HEAD], RUNS)
        return found, status
    return _with_pipes(suction, circuit, duty)


def _with_pipes(
    suction: Suction, circuit: PumpCircuit, duty: Duty
) -> tuple[PumpFlow, NDArray[np.str_]]:
    """Find where head of pump and pipes agree, farthest to the right where they do so twice."""
    weight = suction.fluid.density_value * GRAVITY
    n_lanes = len(circuit.gap)

    def over(flow: Lanes, rows: NDArray[np.int64]) -> Lanes:
        """Head of the pump over that of the pipes [m]; below 0 where the gaps carry no more."""
        found = suction.of(rows).through(lanes_of_circuit(circuit, rows), flow)
        excess = found.rise / weight - duty.system_head(np.maximum(found.delivered, 0.0))
        # What does not even feed its leakage delivers nothing, whatever its head.
        excess = np.where(found.delivered > 0, excess, np.abs(excess))
        return np.nan_to_num(excess, nan=-1e3)

    every = np.arange(n_lanes)
    most = _most_flow(circuit, duty)
    tried = np.array(SCANNED)[:, None] * most
    rows = np.tile(every, len(SCANNED))
    heads = over(tried.ravel(), rows).reshape(tried.shape)
    crossing = (heads[:-1] > 0) & (heads[1:] <= 0)
    any_ = crossing.any(axis=0)
    place = len(SCANNED) - 2 - np.argmax(crossing[::-1], axis=0)
    low, high = tried[place, every], tried[place + 1, every]
    flow = _root(over, low, high, heads[place, every], heads[place + 1, every], any_)
    found = suction.through(circuit, np.where(any_, flow, most))
    asked = duty.system_head(np.maximum(found.delivered, 0.0))
    with np.errstate(invalid="ignore"):
        close = np.abs(found.rise / weight - asked) <= NEAR * np.maximum(np.abs(asked), 0.1)
    return found, np.select([~any_, ~close], [SHUT, LOST], RUNS)


def _most_flow(circuit: PumpCircuit, duty: Duty) -> Lanes:
    """Flow that the pump surely cannot put through throat and pipes [m3/s]."""
    fast = circuit.angular_speed * circuit.rim_radius
    throat = MOST_THROAT * fast * circuit.throat_area
    head = fast**2 / GRAVITY - (duty.static_head or 0.0)
    if not duty.head_loss:
        return np.asarray(throat)
    pipes = duty.flow * np.sqrt(np.maximum(head, 1e-6) / duty.head_loss)
    leak = circuit.suction_ends * 2 * np.pi * circuit.ring_radius * circuit.ring_clearance * fast
    return np.asarray(np.minimum(throat, 1.02 * pipes + leak))


def _root(
    over: Residual, low: Lanes, high: Lanes, at_low: Lanes, at_high: Lanes, wanted: Mask
) -> Lanes:
    """Find the root between two flows by regula falsi, the kept end weakened (Illinois)."""
    low, high, at_low, at_high = (each.copy() for each in (low, high, at_low, at_high))
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
