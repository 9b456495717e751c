"""The flow before and behind the gaps, a pack at a time, and the search for the rim pressure.

Both levels of the gap flow share this code. Each has a loop of its own around its march:
`match_averaged_kernel` and `match_resolved_kernel`.
"""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, put, shared, table, take
from engine.physics.flow.nozzle_kernel import (
    JET_SPEED,
    MASS_FLOW,
    N_JET,
    N_JET_GIVEN,
    N_NOZZLE,
    jets,
)
from engine.physics.flow.outlet_kernel import (
    N_LEAKAGE_GIVEN,
    N_OUTLET,
    N_OUTLET_GIVEN,
    exhaust_drop,
    leakages,
    outlets,
)
from engine.physics.flow.rim_kernel import (
    ENTRY_SPEED,
    N_ENTRY,
    N_ENTRY_GIVEN,
    entries,
    thrown_out,
)
from engine.physics.flow.ring_kernel import (
    CORE_SPEED,
    CORE_SWIRL,
    DENSITY,
    ENTHALPY,
    LEAK,
    MOST_HEATING,
    N_RING,
    N_RING_GIVEN,
    SETTLED,
    SLOWEST,
    SWIRL,
    VISCOSITY,
    rings,
)
from engine.physics.fluids.fluid import FluidRecord, Kind
from engine.physics.fluids.fluid_kernel import fluid_densities, fluid_states

SUPPLY_PRESSURE, SUPPLY_ENTHALPY = 0, 1
THROAT_AREA, NOZZLE_DISCHARGE, NOZZLE_VELOCITY, INLET_ANGLE, RIM_MIXING = range(N_NOZZLE, 12)
RIM_RADIUS, BORE_RADIUS, RIM_CLEARANCE, STACK_HEIGHT, GAP, GAP_COUNT = range(12, 18)
DISC_THICKNESS, ANGULAR_SPEED, EXHAUST_AREA, EXHAUST_LOSS, BACK_PRESSURE = range(18, 23)
SEAL_CLEARANCE, SEAL_COUNT, SEAL_THROTTLES, SEAL_DISCHARGE = range(23, 27)
NOZZLE_COUNT, CASING_FACTOR, FILLING_FACTOR, EXCHANGE_FACTOR = range(27, 31)
ENTRY_FACTOR, SIDE_GAP, WINDAGE_FACTOR, TRANSITION_FACTOR = range(31, 35)
SPOKES, HUB_RADIUS, WEB_FACTOR, CORE_FACTOR, SEAL_RADIUS, N_CIRCUIT = range(35, 41)
"""Rows of circuits: fields of `match.Circuit`, those of the nozzle first."""
RING = N_JET
ENTRY = RING + N_RING
LEAKAGE, ROTOR_FLOW, N_ARRIVAL = range(ENTRY + N_ENTRY, ENTRY + N_ENTRY + 3)
"""Rows of arrivals: a jet (from 0), a ring, an entry into the gaps, and two flows [kg/s]."""
CAUGHT, FILLED, EXHAUST_SPEED, EXHAUST_SOUND, MISMATCH, N_DEPARTURE = range(6)
"""Rows of departures: shares of the flow that the spokes take along and of the exhaust that it
fills, axial speed and speed of sound there [m/s], and the mismatch of pressure behind it, over the
whole pressure drop."""
LOW, HIGH, FROM, TO, NEXT, N_SEARCH = 0, 1, 3, 4, 10, 11
"""Rows of searches: places of some fields of `Search`, two that serve until the next search begins,
and their number."""
LIQUID = int(Kind.LIQUID)
LEAST_FLOW = 1e-9
"""Rotor flow with which lanes without flow are calculated [kg/s]."""
CLOSE = 1e-9
"""Width of the bracket over rim pressure at which a search has failed."""
CLOSE_TO_CHOKING = 1e-6
"""The same where the gap chokes at the lower end."""
CLOSE_TO_THROWING = 1e-3
"""The same where the discs throw fluid out at the upper end."""
SLOW = 3
"""Steps in which the bracket must halve; else the next step is a bisection."""


class Search(NamedTuple):
    """A root between two rim pressures, and the rim pressure to try next."""

    low: float  # rim pressure with a mismatch below 0 [Pa]
    high: float  # rim pressure with a mismatch above 0, or supply pressure [Pa]
    closed: bool  # whether `high` has been tried, or is next
    last: float  # rim pressure tried before, NaN at first [Pa]
    last_mismatch: float  # there [-]
    slope: float  # of the mismatch with rim pressure, NaN where it is not known [1/Pa]
    width: float  # of the bracket when it was last halved [Pa]
    since: int  # steps since then
    choked: bool  # whether the gap chokes at `low`
    thrown: bool  # whether the discs throw fluid out at `high`
    next: float  # rim pressure to try [Pa]


@shared
def arrivals(
    record: FluidRecord,
    given: Lanes,
    pressure: Lanes,
    found: Lanes,
    settled: float,
    most_heating: float,
) -> None:
    """Calculate the flow of a pack of circuits from the nozzles into the gaps.

    `found` holds the flow at a rim pressure near by, or is prepared by `without_guess`.
    The ring is repeated until it changes by less than `settled`; see `rings` for `most_heating`.
    """
    # Jets of the nozzles.
    jet, ring, entry = found[:RING], found[RING:ENTRY], found[ENTRY:LEAKAGE]
    leakage, rotor_flow = found[LEAKAGE], found[ROTOR_FLOW]
    nozzle, around = table(N_JET_GIVEN, PACK), table(N_RING_GIVEN, PACK)
    seal, into, enthalpy = table(N_LEAKAGE_GIVEN, PACK), table(N_ENTRY_GIVEN, PACK), line(PACK)
    for row in range(THROAT_AREA + 1):
        for i in range(PACK):
            nozzle[row, i] = given[row, i]
    for i in range(PACK):
        nozzle[8, i], nozzle[9, i] = pressure[i], given[NOZZLE_DISCHARGE, i]
        nozzle[10, i] = given[NOZZLE_VELOCITY, i]
    jets(record, nozzle, jet)
    # Leakage past the end discs, as it would be with chambers that the ring does not turn.
    for i in range(PACK):
        seal[1, i] = given[SUPPLY_ENTHALPY, i]
        enthalpy[i] = seal[1, i] - jet[JET_SPEED, i] * jet[JET_SPEED, i] / 4
    fluid_densities(record, pressure, enthalpy, seal[2])
    for i in range(PACK):
        seal[0, i], seal[3, i] = pressure[i], given[BACK_PRESSURE, i]
        seal[4, i] = CORE_SWIRL * given[ANGULAR_SPEED, i] * given[RIM_RADIUS, i]
        seal[5, i], seal[6, i] = given[RIM_RADIUS, i], given[SEAL_RADIUS, i]
        seal[7, i], seal[8, i] = given[SEAL_CLEARANCE, i], given[SEAL_COUNT, i]
        seal[9, i], seal[10, i] = given[SEAL_THROTTLES, i], given[SEAL_DISCHARGE, i]
    leakages(record, seal, leakage)
    # Ring around the discs and side chambers, with that leakage.
    for i in range(PACK):
        around[0, i], around[1, i] = jet[MASS_FLOW, i], jet[JET_SPEED, i]
        around[2, i], around[3, i] = given[SUPPLY_ENTHALPY, i], pressure[i]
        around[4, i], around[5, i] = given[INLET_ANGLE, i], given[RIM_MIXING, i]
        around[6, i], around[7, i] = given[RIM_RADIUS, i], given[RIM_CLEARANCE, i]
        around[8, i], around[10, i] = given[STACK_HEIGHT, i], given[ANGULAR_SPEED, i]
        around[9, i] = (given[GAP_COUNT, i] + 1) * given[DISC_THICKNESS, i]
        around[11, i], around[12, i] = given[NOZZLE_COUNT, i], given[CASING_FACTOR, i]
        around[13, i], around[14, i] = given[FILLING_FACTOR, i], given[EXCHANGE_FACTOR, i]
        around[15, i], around[16, i] = given[SIDE_GAP, i], given[WINDAGE_FACTOR, i]
        around[17, i], around[18, i] = leakage[i], given[SEAL_RADIUS, i]
        around[19, i] = given[BACK_PRESSURE, i]
    rings(record, around, ring, settled, most_heating)
    for i in range(PACK):
        leakage[i] = ring[LEAK, i]
    # The rest is the rotor flow and contracts into the gaps.
    for i in range(PACK):
        rotor_flow[i] = max(LEAST_FLOW, jet[MASS_FLOW, i] - leakage[i])
        into[0, i], into[1, i], into[2, i] = ring[ENTHALPY, i], ring[DENSITY, i], pressure[i]
        into[3, i], into[4, i] = rotor_flow[i] / given[GAP_COUNT, i], given[GAP, i]
        into[5, i], into[6, i] = given[DISC_THICKNESS, i], given[RIM_RADIUS, i]
        into[7, i] = given[ENTRY_FACTOR, i]
    entries(record, into, entry)


@inlined
def without_guess(found: Lanes) -> None:
    """Prepare the rows of arrivals where no flow near by is known."""
    for i in range(found.shape[1]):
        found[RING + SLOWEST, i] = found[RING + CORE_SPEED, i] = 0.0


@shared
def departures(
    record: FluidRecord,
    given: Lanes,
    rotor_flow: Lanes,
    pressure: Lanes,
    enthalpy: Lanes,
    swirl: Lanes,
    found: Lanes,
) -> None:
    """Calculate the flow of a pack of circuits from the bore to behind the exhaust."""
    states, bore, out = table(5, PACK), table(N_OUTLET_GIVEN, PACK), table(N_OUTLET, PACK)
    fluid_states(record, pressure, enthalpy, states)
    for i in range(PACK):
        bore[0, i], bore[1, i], bore[2, i] = rotor_flow[i], states[0, i], swirl[i]
        bore[3, i], bore[4, i] = given[ANGULAR_SPEED, i], given[BORE_RADIUS, i]
        bore[5, i], bore[6, i] = given[HUB_RADIUS, i], given[EXHAUST_AREA, i]
        bore[7, i], bore[8, i] = given[SEAL_COUNT, i], given[SPOKES, i]
        bore[9, i], bore[10, i] = given[WEB_FACTOR, i], given[CORE_FACTOR, i]
    outlets(bore, out)
    for i in range(PACK):
        density, back_pressure = states[0, i], given[BACK_PRESSURE, i]
        found[CAUGHT, i], found[FILLED, i], speed = out[0, i], out[1, i], out[2, i]
        drop = exhaust_drop(speed, density, given[EXHAUST_LOSS, i]) + out[3, i]
        whole = given[SUPPLY_PRESSURE, i] - back_pressure
        # A lane without an answer, such as a choked gap, has mismatch -1.
        left_over = (pressure[i] - back_pressure - drop) / whole
        found[EXHAUST_SPEED, i], found[EXHAUST_SOUND, i] = speed, states[4, i]
        found[MISMATCH, i] = left_over if math.isfinite(left_over) else -1.0


@compiled
def thrown_out_at_rim(record: FluidRecord, given: Lanes, arrived: Lanes, i: int) -> bool:
    """Whether the discs of a lane throw liquid back out at the rim (`rim.are_thrown_out`)."""
    return record.kind == LIQUID and thrown_out(
        arrived[RING + DENSITY, i],
        arrived[RING + VISCOSITY, i],
        arrived[RING + SWIRL, i],
        arrived[ENTRY + ENTRY_SPEED, i],
        given[GAP, i],
        given[RIM_RADIUS, i],
        given[ANGULAR_SPEED, i],
    )


@compiled
def arrive(record: FluidRecord, given: Lanes, i: int, pressure: float, found: Lanes) -> None:
    """`arrivals` of one circuit: fills in the first rows of its column, from what is there."""
    circuits, here, tried = table(N_CIRCUIT, PACK), table(N_ARRIVAL, PACK), line(PACK)
    take(given, i, i + 1, circuits)
    for j in range(PACK):
        tried[j] = pressure
    if math.isfinite(found[RING + CORE_SPEED, i]) and math.isfinite(found[RING + SLOWEST, i]):
        take(found[:N_ARRIVAL], i, i + 1, here)
    else:
        without_guess(here)
    arrivals(record, circuits, tried, here, SETTLED, MOST_HEATING)
    put(here, i, i + 1, found)


@compiled
def leave(
    record: FluidRecord,
    given: Lanes,
    i: int,
    pressure: float,
    enthalpy: float,
    swirl: float,
    found: Lanes,
    row: int,
) -> float:
    """`departures` of one circuit: fills in its column from a row on, returns the mismatch."""
    circuits, out = table(N_CIRCUIT, PACK), table(N_DEPARTURE, PACK)
    states = table(4, PACK)
    take(given, i, i + 1, circuits)
    for j in range(PACK):
        states[0, j], states[1, j], states[2, j] = found[ROTOR_FLOW, i], pressure, enthalpy
        states[3, j] = swirl
    departures(record, circuits, states[0], states[1], states[2], states[3], out)
    put(out, i, i + 1, found[row : row + N_DEPARTURE])
    return float(out[MISMATCH, 0])


@compiled
def begin(low: float, high: float, first: float, slope: float) -> Search:
    """Start a search, at `first`, for the root of a mismatch that is below 0 at `low` and rises."""
    return Search(low, high, False, math.nan, math.nan, slope, high - low, 0, False, False, first)


@compiled
def look_further(search: Search, mismatch: float) -> Search:
    """Choose the next rim pressure, after the mismatch at the one that the search named.

    Secant through the last two pressures, after the first one by the given slope. Bisection where
    the secant leaves the bracket or converges slowly. An infinite mismatch marks fluid thrown out.
    """
    # Fluid thrown out ends the bracket and tells nothing of the slope.
    tried, low, high = search.next, search.low, search.high
    if mismatch == math.inf:
        # Before any other answer, see whether that is so at the lowest pressure too.
        s, onward = search, low if math.isnan(search.last) else (low + tried) / 2
        return Search(
            low,
            tried,
            True,
            s.last,
            s.last_mismatch,
            s.slope,
            tried - low,
            0,
            s.choked,
            True,
            onward,
        )
    # Bracket. A mismatch of -1 marks a choked gap and tells nothing of the slope.
    choked, closed, thrown = search.choked, search.closed, search.thrown
    if mismatch < 0:
        low, choked = tried, mismatch == -1
    else:
        high, closed, thrown = tried, True, False
    # Secant.
    slope = search.slope
    if not math.isnan(search.last):
        slope = (mismatch - search.last_mismatch) / (tried - search.last)
    width, since = search.width, search.since + 1
    if high - low <= width / 2:
        width, since = high - low, 0
    onward = tried - mismatch / slope
    if not closed and (mismatch == -1 or since > SLOW or not (slope > 0 and onward < high)):
        # The secant fails: try the supply pressure, to see whether there is any inward flow.
        return Search(low, high, True, tried, mismatch, slope, width, since, choked, False, high)
    if since > SLOW or mismatch == -1 or not (low < onward < high and slope > 0):
        onward, width, since = (low + high) / 2, high - low, 0
    return Search(low, high, closed, tried, mismatch, slope, width, since, choked, thrown, onward)


@compiled
def keep_search(state: Lanes, i: int, s: Search) -> None:
    """Write a search to its column."""
    state[0, i], state[1, i], state[2, i] = s.low, s.high, 1.0 if s.closed else 0.0
    state[3, i], state[4, i], state[5, i] = s.last, s.last_mismatch, s.slope
    state[6, i], state[7, i], state[8, i] = s.width, s.since, 1.0 if s.choked else 0.0
    state[9, i], state[NEXT, i] = 1.0 if s.thrown else 0.0, s.next


@inlined
def search_at(state: Lanes, i: int) -> Search:
    """Read a search from its column."""
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
        state[9, i] == 1,
        state[NEXT, i],
    )


@compiled
def has_failed(search: Search) -> bool:
    """Whether the bracket has become too narrow to go on."""
    least = CLOSE_TO_CHOKING if search.choked else CLOSE
    least = CLOSE_TO_THROWING if search.thrown else least
    return not search.high - search.low > least * search.high
