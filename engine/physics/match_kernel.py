"""The way of the flow through a machine and the search for the rim pressure, a lane at a time.

Both levels of the gap share `arrive`, `leave` and the steps of the search; each has a loop of its
own around its march.
"""

import math
from typing import NamedTuple

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, inlined
from engine.physics.fluid import FluidRecord
from engine.physics.fluid_kernel import fluid_state
from engine.physics.nozzle_kernel import JetLane, NozzleLane, jet_of, nozzle_lane
from engine.physics.outlet_kernel import axial_speed, exhaust_drop, leakage_of
from engine.physics.rim_kernel import EntryLane, RingLane, entry_of, ring_of, write_ring

N_ARRIVAL = 18
"""Rows that `write_arrival` fills."""
SUPPLY_PRESSURE, BACK_PRESSURE = 0, 22
"""Rows of circuits."""
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


class CircuitLane(NamedTuple):
    """Fields as in `match.Circuit`."""

    nozzle: NozzleLane
    throat_area: float
    nozzle_discharge: float
    nozzle_velocity: float
    inlet_angle: float
    rim_mixing: float
    rim_radius: float
    bore_radius: float
    rim_clearance: float
    stack_height: float
    gap: float
    gap_count: float
    disc_thickness: float
    angular_speed: float
    exhaust_area: float
    exhaust_loss: float
    back_pressure: float
    seal_clearance: float
    seal_count: float
    seal_throttles: float
    seal_discharge: float


class Arrival(NamedTuple):
    """What reaches the gaps at one rim pressure."""

    jet: JetLane
    ring: RingLane
    entry: EntryLane
    leakage: float  # [kg/s]
    rotor_flow: float  # [kg/s]


class Departure(NamedTuple):
    """What leaves through the exhaust."""

    speed: float  # axial [m/s]
    sound: float  # speed of sound [m/s]
    mismatch: float  # pressure left over behind the exhaust, over the whole drop


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


@inlined
def circuit_lane(given: Lanes, i: int) -> CircuitLane:
    """One column of the circuits, rows as in `match.Circuit` with the nozzle's first."""
    return CircuitLane(
        nozzle_lane(given, i),
        given[7, i],
        given[8, i],
        given[9, i],
        given[10, i],
        given[11, i],
        given[12, i],
        given[13, i],
        given[14, i],
        given[15, i],
        given[16, i],
        given[17, i],
        given[18, i],
        given[19, i],
        given[20, i],
        given[21, i],
        given[22, i],
        given[23, i],
        given[24, i],
        given[25, i],
        given[26, i],
    )


@compiled
def arrive(record: FluidRecord, c: CircuitLane, rim_pressure: float) -> Arrival:
    """Follow the flow from the nozzles into the gaps."""
    total = c.nozzle.stagnation_enthalpy
    jet = jet_of(
        record, c.nozzle, c.throat_area, rim_pressure, c.nozzle_discharge, c.nozzle_velocity
    )
    ring = ring_of(
        record,
        jet.mass_flow,
        jet.speed,
        total,
        rim_pressure,
        c.inlet_angle,
        c.rim_mixing,
        c.rim_radius,
        c.rim_clearance,
        c.stack_height,
        (c.gap_count + 1) * c.disc_thickness,
        c.angular_speed,
    )
    leakage = leakage_of(
        record,
        rim_pressure,
        ring.total_enthalpy,
        ring.density,
        c.back_pressure,
        c.angular_speed,
        c.rim_radius,
        c.bore_radius,
        c.seal_clearance,
        c.seal_count,
        c.seal_throttles,
        c.seal_discharge,
    )
    rotor_flow = jet.mass_flow - leakage
    if not rotor_flow > LEAST_FLOW:
        rotor_flow = LEAST_FLOW
    entry = entry_of(
        record,
        ring.enthalpy,
        ring.density,
        rim_pressure,
        rotor_flow / c.gap_count,
        c.gap,
        c.disc_thickness,
        c.rim_radius,
    )
    return Arrival(jet, ring, entry, leakage, rotor_flow)


@compiled
def leave(
    record: FluidRecord, c: CircuitLane, rotor_flow: float, pressure: float, enthalpy: float
) -> Departure:
    """Follow the flow from the inner end of the gaps into the open."""
    density, _, _, _, sound = fluid_state(record, pressure, enthalpy)
    speed = axial_speed(rotor_flow, density, c.exhaust_area)
    drop = exhaust_drop(speed, density, c.exhaust_loss)
    whole = c.nozzle.stagnation_pressure - c.back_pressure
    left_over = (pressure - c.back_pressure - drop) / whole
    return Departure(speed, sound, left_over if math.isfinite(left_over) else -1.0)


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


@inlined
def write_arrival(found: Lanes, i: int, here: Arrival) -> None:
    """Fill in the rows of an arrival: jet, ring, entry, leakage, rotor flow."""
    jet, entry = here.jet, here.entry
    found[0, i], found[1, i], found[2, i] = jet.mass_flow, jet.speed, jet.enthalpy
    found[3, i] = 1.0 if jet.choked else 0.0
    write_ring(found, 4, i, here.ring)
    found[13, i], found[14, i], found[15, i] = entry.pressure, entry.enthalpy, entry.radial_speed
    found[16, i], found[17, i] = here.leakage, here.rotor_flow


@compiled
def write_departure(found: Lanes, row: int, i: int, out: Departure) -> None:
    """Fill in the rows of a departure, from `row` on."""
    found[row, i], found[row + 1, i], found[row + 2, i] = out.speed, out.sound, out.mismatch
