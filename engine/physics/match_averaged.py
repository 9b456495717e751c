"""The search for the rim pressure around the fast march, compiled end to end."""

import math

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled
from engine.physics.fluid import FluidRecord
from engine.physics.gap_kernel import Turbulence, march_gap, write_exit
from engine.physics.match_kernel import (
    N_ARRIVAL,
    CircuitLane,
    arrive,
    begin,
    circuit_lane,
    has_failed,
    leave,
    look_further,
    write_arrival,
    write_departure,
)

USUAL = 0.05
"""Rim over supply pressure, both above the back pressure, where it begins."""
COARSE_STEPS = 8
"""Of the march with which the search begins."""
NEAR = 3e-3
"""Mismatch at which it goes on with the whole march."""
MOST_COARSE, MOST = 14, 80
N_FOUND = N_ARRIVAL + 7 + 3 + 2
"""Rows that `match_averaged` fills: arrival, gap, departure, rim pressure, choked below."""


@compiled
def _match(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    tolerance: float,
    c: CircuitLane,
    found: Lanes,
    i: int,
) -> None:
    """Find where the flow closes."""
    bottom, top = c.back_pressure, c.nozzle.stagnation_pressure
    first = bottom + USUAL * (top - bottom)
    search, coarse = begin(bottom, top, first, 1 / (top - bottom)), True
    for k in range(MOST):
        here = arrive(record, c, search.next)
        end = march_gap(
            record,
            rules,
            COARSE_STEPS if coarse else steps,
            here.entry.pressure,
            here.entry.enthalpy,
            here.ring.swirl,
            here.rotor_flow / c.gap_count,
            c.gap,
            c.rim_radius,
            c.bore_radius,
            c.angular_speed,
        )
        out = leave(record, c, here.rotor_flow, end.pressure, end.enthalpy)
        pumps = search.next == top and out.mismatch < 0
        done = abs(out.mismatch) <= tolerance or pumps or has_failed(search)
        if (done and not coarse) or k == MOST - 1:
            write_arrival(found, i, here)
            write_exit(found, N_ARRIVAL, i, end)
            write_departure(found, N_ARRIVAL + 7, i, out)
            found[N_FOUND - 2, i] = search.next
            found[N_FOUND - 1, i] = 1.0 if search.choked and has_failed(search) else 0.0
            return
        last = search
        search = look_further(last, out.mismatch)
        if pumps:
            search, coarse = last, False
        elif coarse and abs(out.mismatch) < NEAR and search.slope > 0:
            search, coarse = begin(bottom, top, search.next, search.slope), False
        elif coarse and (k == MOST_COARSE or has_failed(search)):
            search, coarse = begin(bottom, top, search.next, math.nan), False


@compiled
def match_averaged(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    tolerance: float,
    given: Lanes,
    found: Lanes,
    first: int,
    last: int,
) -> None:
    """Match lanes: columns of `given` as `circuit_lane` reads them."""
    for i in range(first, last):
        _match(record, rules, steps, tolerance, circuit_lane(given, i), found, i)
