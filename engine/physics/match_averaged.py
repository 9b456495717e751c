"""The search for the rim pressure around the fast march, compiled end to end."""

import math

import numpy as np

from engine.physics.arrays import Lanes, Numbers
from engine.physics.compiled import carray, compiled, reserved
from engine.physics.fluid import FluidRecord
from engine.physics.gap_kernel import PACKED_IN, PACKED_OUT, Turbulence, march_pack
from engine.physics.gas_kernel import PACK
from engine.physics.match_kernel import (
    BACK_PRESSURE,
    N_ARRIVAL,
    N_SEARCH,
    NEXT,
    SUPPLY_PRESSURE,
    Departure,
    arrive,
    begin,
    circuit_lane,
    has_failed,
    keep_search,
    leave,
    look_further,
    search_at,
    write_arrival,
    write_departure,
)

USUAL = 0.05
"""Rim over supply pressure, both above the back pressure, where it begins."""
COARSE_STEPS = 12
"""Of the march with which the search begins."""
NEAR = 1e-2
"""Mismatch at which it goes on with the whole march."""
MOST_COARSE, MOST = 14, 80
N_FOUND = N_ARRIVAL + 7 + 3 + 2
"""Rows that `match_averaged` fills: arrival, gap, departure, rim pressure, choked below."""


@compiled
def _tried(record: FluidRecord, given: Lanes, i: int, state: Lanes, found: Lanes) -> Departure:
    """Leave a lane whose march has been written to `found`."""
    c, row = circuit_lane(given, i), N_ARRIVAL
    out = leave(record, c, found[row - 1, i], found[row, i], found[row + 1, i])
    write_departure(found, row + 7, i, out)
    found[N_FOUND - 2, i] = state[NEXT, i]
    return out


@compiled
def _round(
    record: FluidRecord,
    rules: Turbulence,
    steps: int,
    given: Lanes,
    state: Lanes,
    found: Lanes,
    lanes: Numbers,
    n_lanes: int,
) -> None:
    """Follow the flow of each listed lane at the pressure that its search names, pack by pack."""
    pack, ends = carray(reserved(PACKED_IN), (8, PACK)), carray(reserved(PACKED_OUT), (7, PACK))
    for start in range(0, n_lanes, PACK):
        for j in range(PACK):
            i = lanes[min(start + j, n_lanes - 1)]
            c = circuit_lane(given, i)
            here = arrive(record, c, state[NEXT, i])
            write_arrival(found, i, here)
            entry = here.entry
            pack[0, j], pack[1, j], pack[2, j] = entry.pressure, entry.enthalpy, here.ring.swirl
            pack[3, j], pack[4, j] = here.rotor_flow / c.gap_count, c.gap
            pack[5, j], pack[6, j], pack[7, j] = c.rim_radius, c.bore_radius, c.angular_speed
        march_pack(record, rules, steps, pack, ends)
        for j in range(min(PACK, n_lanes - start)):
            for row in range(7):
                found[N_ARRIVAL + row, lanes[start + j]] = ends[row, j]


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
    state = np.empty((N_SEARCH, given.shape[1]))
    lanes, n_lanes = np.arange(first, last), last - first
    for i in range(first, last):
        c = circuit_lane(given, i)
        bottom, top = c.back_pressure, c.nozzle.stagnation_pressure
        start = bottom + USUAL * (top - bottom)
        keep_search(state, i, begin(bottom, top, start, 1 / (top - bottom)))
    # With few steps until near the root, then with all.
    for coarse in (True, False):
        for k in range(MOST_COARSE if coarse else MOST):
            _round(
                record,
                rules,
                COARSE_STEPS if coarse else steps,
                given,
                state,
                found,
                lanes,
                n_lanes,
            )
            left = 0
            for j in range(n_lanes):
                i = lanes[j]
                out = _tried(record, given, i, state, found)
                search = search_at(state, i)
                bottom, top = given[BACK_PRESSURE, i], given[SUPPLY_PRESSURE, i]
                pumps = search.next == top and out.mismatch < 0
                failed = has_failed(search)
                onward = look_further(search, out.mismatch)
                if coarse:
                    done = pumps or failed or k == MOST_COARSE - 1
                    slope = math.nan
                    if abs(out.mismatch) < NEAR and onward.slope > 0:
                        done, slope = True, onward.slope
                    place = top if pumps else onward.next
                    if done:
                        onward = begin(bottom, top, place, slope)
                else:
                    done = pumps or failed or abs(out.mismatch) <= tolerance
                    found[N_FOUND - 1, i] = 1.0 if failed and search.choked else 0.0
                keep_search(state, i, onward)
                if not done:
                    lanes[left] = i
                    left += 1
            n_lanes = left
            if left == 0:
                break
        if coarse:
            lanes, n_lanes = np.arange(first, last), last - first
