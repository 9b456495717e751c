"""The way of the flow through a machine, a pack at a time, and the search for the rim pressure.

Both levels of the gap share what is before and behind it and the steps of the search; each has a
loop of its own around its march.
"""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, put, table, take
from engine.physics.flow.nozzle_kernel import (
    JET_SPEED,
    MASS_FLOW,
    N_JET,
    N_JET_GIVEN,
    N_NOZZLE,
    jets,
)
from engine.physics.flow.outlet_kernel import N_LEAKAGE_GIVEN, axial_speed, exhaust_drop, leakages
from engine.physics.flow.rim_kernel import (
    DENSITY,
    ENTHALPY,
    N_ENTRY,
    N_ENTRY_GIVEN,
    N_RING,
    N_RING_GIVEN,
    TOTAL_ENTHALPY,
    entries,
    rings,
)
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import fluid_states

SUPPLY_PRESSURE, SUPPLY_ENTHALPY = 0, 1
THROAT_AREA, NOZZLE_DISCHARGE, NOZZLE_VELOCITY, INLET_ANGLE, RIM_MIXING = range(N_NOZZLE, 12)
RIM_RADIUS, BORE_RADIUS, RIM_CLEARANCE, STACK_HEIGHT, GAP, GAP_COUNT = range(12, 18)
DISC_THICKNESS, ANGULAR_SPEED, EXHAUST_AREA, EXHAUST_LOSS, BACK_PRESSURE = range(18, 23)
SEAL_CLEARANCE, SEAL_COUNT, SEAL_THROTTLES, SEAL_DISCHARGE, N_CIRCUIT = range(23, 28)
"""Rows of circuits, fields as in `match.Circuit` with the nozzle's first."""
RING = N_JET
ENTRY = RING + N_RING
LEAKAGE, ROTOR_FLOW, N_ARRIVAL = range(ENTRY + N_ENTRY, ENTRY + N_ENTRY + 3)
"""Rows of arrivals: a jet from 0 on, a ring, an entry, and two flows [kg/s]."""
EXHAUST_SPEED, EXHAUST_SOUND, MISMATCH, N_DEPARTURE = range(4)
"""Rows of departures: axial speed and speed of sound [m/s], and the pressure left over behind the
exhaust, over the whole drop."""
NEXT, N_SEARCH = 9, 10
"""Rows of searches: where to look next, and how many there are."""
LEAST_FLOW = 1e-9
"""Rotor flow [kg/s] at which lanes without flow are followed."""
CLOSE = 1e-9
"""Width of a bracket over the rim pressure at which its search has failed."""
CLOSE_TO_CHOKING = 1e-6
"""The same where the gap chokes at the lower end."""
SLOW = 3
"""Steps in which the bracket must have halved, or the next step halves it."""


class Search(NamedTuple):
    """A root between two rim pressures, and where to look next."""

    low: float  # mismatch below 0 [Pa]
    high: float  # mismatch above 0, if it has been seen [Pa]
    closed: bool  # whether it has
    last: float  # tried before [Pa]
    last_mismatch: float
    slope: float  # of the mismatch with rim pressure, 0 where nothing is known [1/Pa]
    width: float  # of the bracket when it last was halved [Pa]
    since: int  # steps since then
    choked: bool  # whether the gap chokes at `low`
    next: float  # [Pa]


@compiled
def arrivals(record: FluidRecord, given: Lanes, pressure: Lanes, found: Lanes) -> None:
    """Follow the flow of a pack of circuits from the nozzles into the gaps at rim pressures."""
    jet, ring, entry = found[:RING], found[RING:ENTRY], found[ENTRY:LEAKAGE]
    leakage, rotor_flow = found[LEAKAGE], found[ROTOR_FLOW]
    nozzle, around = table(N_JET_GIVEN, PACK), table(N_RING_GIVEN, PACK)
    seal, into = table(N_LEAKAGE_GIVEN, PACK), table(N_ENTRY_GIVEN, PACK)
    for row in range(THROAT_AREA + 1):
        for i in range(PACK):
            nozzle[row, i] = given[row, i]
    for i in range(PACK):
        nozzle[8, i], nozzle[9, i] = pressure[i], given[NOZZLE_DISCHARGE, i]
        nozzle[10, i] = given[NOZZLE_VELOCITY, i]
    jets(record, nozzle, jet)
    for i in range(PACK):
        around[0, i], around[1, i] = jet[MASS_FLOW, i], jet[JET_SPEED, i]
        around[2, i], around[3, i] = given[SUPPLY_ENTHALPY, i], pressure[i]
        around[4, i], around[5, i] = given[INLET_ANGLE, i], given[RIM_MIXING, i]
        around[6, i], around[7, i] = given[RIM_RADIUS, i], given[RIM_CLEARANCE, i]
        around[8, i], around[10, i] = given[STACK_HEIGHT, i], given[ANGULAR_SPEED, i]
        around[9, i] = (given[GAP_COUNT, i] + 1) * given[DISC_THICKNESS, i]
    rings(record, around, ring)
    for i in range(PACK):
        seal[0, i], seal[1, i] = pressure[i], ring[TOTAL_ENTHALPY, i]
        seal[2, i], seal[3, i] = ring[DENSITY, i], given[BACK_PRESSURE, i]
        seal[4, i], seal[5, i] = given[ANGULAR_SPEED, i], given[RIM_RADIUS, i]
        seal[6, i], seal[7, i] = given[BORE_RADIUS, i], given[SEAL_CLEARANCE, i]
        seal[8, i], seal[9, i] = given[SEAL_COUNT, i], given[SEAL_THROTTLES, i]
        seal[10, i] = given[SEAL_DISCHARGE, i]
    leakages(record, seal, leakage)
    for i in range(PACK):
        rotor_flow[i] = max(LEAST_FLOW, jet[MASS_FLOW, i] - leakage[i])
        into[0, i], into[1, i], into[2, i] = ring[ENTHALPY, i], ring[DENSITY, i], pressure[i]
        into[3, i], into[4, i] = rotor_flow[i] / given[GAP_COUNT, i], given[GAP, i]
        into[5, i], into[6, i] = given[DISC_THICKNESS, i], given[RIM_RADIUS, i]
    entries(record, into, entry)


@compiled
def departures(
    record: FluidRecord,
    given: Lanes,
    rotor_flow: Lanes,
    pressure: Lanes,
    enthalpy: Lanes,
    found: Lanes,
) -> None:
    """Follow the flow of a pack of circuits from the inner end of the gaps into the open."""
    states = table(5, PACK)
    fluid_states(record, pressure, enthalpy, states)
    for i in range(PACK):
        density, back_pressure = states[0, i], given[BACK_PRESSURE, i]
        speed = axial_speed(rotor_flow[i], density, given[EXHAUST_AREA, i])
        drop = exhaust_drop(speed, density, given[EXHAUST_LOSS, i])
        whole = given[SUPPLY_PRESSURE, i] - back_pressure
        left_over = (pressure[i] - back_pressure - drop) / whole
        found[EXHAUST_SPEED, i], found[EXHAUST_SOUND, i] = speed, states[4, i]
        found[MISMATCH, i] = left_over if math.isfinite(left_over) else -1.0


@compiled
def arrive(record: FluidRecord, given: Lanes, i: int, pressure: float, found: Lanes) -> None:
    """Follow the flow of one circuit into its gaps: fill in the first rows of its column."""
    circuits, here, tried = table(N_CIRCUIT, PACK), table(N_ARRIVAL, PACK), line(PACK)
    take(given, i, i + 1, circuits)
    for j in range(PACK):
        tried[j] = pressure
    arrivals(record, circuits, tried, here)
    put(here, i, i + 1, found)


@compiled
def leave(
    record: FluidRecord,
    given: Lanes,
    i: int,
    pressure: float,
    enthalpy: float,
    found: Lanes,
    row: int,
) -> float:
    """Follow the flow of one circuit out of its gaps: fill in its column from a row on.

    The answer is the mismatch.
    """
    circuits, out = table(N_CIRCUIT, PACK), table(N_DEPARTURE, PACK)
    states = table(3, PACK)
    take(given, i, i + 1, circuits)
    for j in range(PACK):
        states[0, j], states[1, j], states[2, j] = found[ROTOR_FLOW, i], pressure, enthalpy
    departures(record, circuits, states[0], states[1], states[2], out)
    put(out, i, i + 1, found[row : row + N_DEPARTURE])
    return float(out[MISMATCH, 0])


@compiled
def begin(low: float, high: float, first: float, slope: float) -> Search:
    """Search for the root of a mismatch that rises from below 0 at `low` and starts at `first`."""
    return Search(low, high, False, math.nan, math.nan, slope, high - low, 0, False, first)


@compiled
def look_further(search: Search, mismatch: float) -> Search:
    """Where to look after what was found at the place that the search named.

    A secant through the last two places, by a known slope after the first; halving where that
    leaves the bracket or is slow.
    """
    tried, low, high = search.next, search.low, search.high
    choked, closed = search.choked, search.closed
    if mismatch < 0:
        # A mismatch of -1 stands for a choked gap, which says nothing of a slope.
        low, choked = tried, mismatch == -1
    else:
        high, closed = tried, True
    slope = search.slope
    if not math.isnan(search.last):
        slope = (mismatch - search.last_mismatch) / (tried - search.last)
    width, since = search.width, search.since + 1
    if high - low <= width / 2:
        width, since = high - low, 0
    onward = tried - mismatch / slope
    if not closed and (mismatch == -1 or since > SLOW or not (slope > 0 and onward < high)):
        # Only now it matters whether there is flow at all below the pressure of the supply.
        return Search(low, high, True, tried, mismatch, slope, width, since, choked, high)
    if since > SLOW or mismatch == -1 or not (low < onward < high and slope > 0):
        onward, width, since = (low + high) / 2, high - low, 0
    return Search(low, high, closed, tried, mismatch, slope, width, since, choked, onward)


@compiled
def keep_search(state: Lanes, i: int, s: Search) -> None:
    """Fill in a column with a search."""
    state[0, i], state[1, i], state[2, i] = s.low, s.high, 1.0 if s.closed else 0.0
    state[3, i], state[4, i], state[5, i] = s.last, s.last_mismatch, s.slope
    state[6, i], state[7, i], state[8, i] = s.width, s.since, 1.0 if s.choked else 0.0
    state[NEXT, i] = s.next


@inlined
def search_at(state: Lanes, i: int) -> Search:
    """One column of searches."""
    return Search(
        state[0, i],
        state[1, i],
        state[2, i] == 1,
        state[3, i],
        state[4, i],
        state[5, i],
        state[6, i],
        int(state[7, i]),
        state[8, i] == 1,
        state[NEXT, i],
    )


@compiled
def has_failed(search: Search) -> bool:
    """Whether the bracket has become too narrow to hold a root."""
    least = CLOSE_TO_CHOKING if search.choked else CLOSE
    return not search.high - search.low > least * search.high
