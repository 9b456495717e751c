"""The matched point: the rim pressure at which nozzles, gaps, seals and exhaust fit together."""

from dataclasses import dataclass, fields
from functools import partial
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Lanes, Mask, Reason, first_reason
from engine.physics.compiled import PACK, entry, on_every_core, put, table, take
from engine.physics.flow.match_averaged_kernel import (
    CHOKED_BELOW,
    DEPARTURE,
    END,
    N_FOUND,
    RIM_PRESSURE,
    SLOPE,
    THROWN_ABOVE,
    USUAL,
    match_averaged,
)
from engine.physics.flow.match_kernel import (
    CAUGHT,
    ENTRY,
    EXHAUST_SOUND,
    EXHAUST_SPEED,
    FILLED,
    LEAKAGE,
    LEAST_FLOW,
    MISMATCH,
    N_ARRIVAL,
    N_CIRCUIT,
    N_DEPARTURE,
    RING,
    ROTOR_FLOW,
    arrivals,
    departures,
    without_guess,
)
from engine.physics.flow.nozzle import Jet, Nozzle
from engine.physics.flow.nozzle_kernel import JET_CHOKED
from engine.physics.flow.rim import GapEntry
from engine.physics.flow.ring import Ring, ring_of_rows
from engine.physics.flow.ring_kernel import MOST_HEATING, SETTLED
from engine.physics.fluids.fluid import FluidRecord
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.gap import averaged
from engine.physics.gap.answer import GapFlow, Marcher
from engine.physics.gap.resolved_grid import HalfGap

RESIDUAL = 1e-6
"""Largest mismatch of a matched lane."""
Level: TypeAlias = Literal["averaged", "resolved"]
"""Level of the gap flow."""
EXHAUST_CHOKED_MACH = 0.8
"""Axial Mach number in the exhaust above which it counts as choked."""


@dataclass(frozen=True)
class Circuit:
    """All that the flow passes from nozzle to exhaust; one-dimensional arrays of equal length."""

    nozzle: Nozzle
    throat_area: Lanes  # [m2]
    nozzle_discharge: Lanes  # [-]
    nozzle_velocity: Lanes  # [-]
    inlet_angle: Lanes  # [rad]
    rim_mixing: Lanes  # [-]
    rim_radius: Lanes  # [m]
    bore_radius: Lanes  # [m]
    rim_clearance: Lanes  # [m]
    stack_height: Lanes  # [m]
    gap: Lanes  # [m]
    gap_count: Lanes  # [-]
    disc_thickness: Lanes  # [m]
    angular_speed: Lanes  # [rad/s]
    exhaust_area: Lanes  # [m2]
    exhaust_loss: Lanes  # [-]
    back_pressure: Lanes  # [Pa]
    seal_clearance: Lanes  # [m]
    seal_count: Lanes  # [-]
    seal_throttles: Lanes  # [-]
    seal_discharge: Lanes  # [-]
    nozzle_count: Lanes  # [-]
    casing_factor: Lanes  # [-]
    filling_factor: Lanes  # [-]
    exchange_factor: Lanes  # [-]
    entry_factor: Lanes  # [-]
    side_gap: Lanes  # [m]
    windage_factor: Lanes  # [-]
    transition_factor: Lanes  # [-]
    spokes: Lanes  # [-]
    hub_radius: Lanes  # [m]
    web_factor: Lanes  # [-]
    core_factor: Lanes  # [-]
    seal_radius: Lanes  # of the collars [m]


@dataclass(frozen=True)
class Throughflow:
    """The flow at one rim pressure, by lane."""

    rim_pressure: Lanes  # [Pa]
    jet: Jet
    ring: Ring
    entry: GapEntry
    gap: GapFlow
    leakage: Lanes  # [kg/s]
    rotor_flow: Lanes  # [kg/s]
    caught: Lanes  # share of it that the spokes in the exhaust take along [-]
    web_torque: Lanes  # on the spokes; below 0 they brake [N m]
    outlet_swirl: Lanes  # mean swirl behind the spokes, at the mean square radius [m/s]
    filled: Lanes  # share of the exhaust that the flow fills [-]
    exhaust_speed: Lanes  # [m/s]
    exhaust_sound: Lanes  # speed of sound in the exhaust [m/s]
    mismatch: Lanes  # pressure behind the exhaust less back pressure, over the whole drop [-]
    slope: Lanes  # of the mismatch with rim pressure, NaN where no search told it [1/Pa]


def flow_at_rim_pressure(
    *, fluid: Fluid, circuit: Circuit, march: Marcher, rim_pressure: Lanes
) -> Throughflow:
    """Calculate the flow from the nozzles to the exhaust for a given pressure at the rim.

    Lanes are one-dimensional and of equal length.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    circuit : Circuit
        What the flow passes [-].
    march : Marcher
        March through a gap, of either level [-].
    rim_pressure : Lanes
        Pressure of the ring around the discs [Pa].

    Returns
    -------
    Throughflow
        States, flows and the mismatch at the exhaust, which rises with rim pressure. A lane whose
        gaps choke has mismatch -1. A lane without rotor flow is calculated with a very small one.

    References
    ----------
    Derived here: the stations in the order of the flow.

    """
    given, n_lanes = _rows(circuit), rim_pressure.size
    before, after = np.empty((N_ARRIVAL, n_lanes)), np.empty((N_DEPARTURE, n_lanes))
    work = partial(_arrive, fluid.record, given, rim_pressure[None] * 1.0, before)
    on_every_core(work, n_lanes=n_lanes)
    flow = _arrived(before)
    gap = march(
        fluid=fluid,
        rim_pressure=flow.entry.pressure,
        rim_enthalpy=flow.entry.enthalpy,
        rim_swirl=flow.ring.swirl,
        mass_flow=flow.rotor_flow / circuit.gap_count,
        gap=circuit.gap,
        rim_radius=circuit.rim_radius,
        bore_radius=circuit.bore_radius,
        angular_speed=circuit.angular_speed,
        transition_factor=circuit.transition_factor,
    )
    states = np.stack([flow.rotor_flow, gap.exit_pressure, gap.exit_enthalpy, gap.exit_swirl])
    on_every_core(partial(_leave, fluid.record, given, states, after), n_lanes=n_lanes)
    return _throughflow(circuit, rim_pressure, flow, gap, after)


def match_rim_pressure(
    *,
    fluid: Fluid,
    circuit: Circuit,
    status: NDArray[np.int64],
    level: Level = "averaged",
    guess: Lanes | None = None,
    slope: Lanes | None = None,
    family: Lanes | None = None,
    refuses: bool = True,
) -> tuple[Throughflow, NDArray[np.int64]]:
    """Find the rim pressure at which the mismatch vanishes, lane by lane.

    Lanes are one-dimensional and of equal length.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    circuit : Circuit
        What the flow passes [-].
    status : NDArray[np.int64]
        Reason by lane [-]; lanes that are not `MATCHED` are left out of the search.
    level : {'averaged', 'resolved'}
        Level of the gap flow [-].
    guess : Lanes, optional
        Rim pressure near the matched point [Pa], for the resolved level only.
    slope : Lanes, optional
        Slope of the mismatch there [1/Pa], for the resolved level only. Where it is unlikely, that
        of a rigid drop serves.
    family : Lanes, optional
        Number of what lanes that lie together differ little from [-], for the averaged level only.
        Their first lane is matched first, and the others start from it.
    refuses : bool
        Whether none is looked for where liquid is thrown out at the rim, at the averaged level [-].

    Returns
    -------
    tuple[Throughflow, NDArray[np.int64]]
        The flow at the matched point and the status, with a reason where there is none. Where the
        gap chokes or its fluid turns back, the flow nearest to one, if any; do not use others.

    Notes
    -----
    The mismatch rises with rim pressure: less flow, less pressure drop. It is negative at the back
    pressure. A lane whose mismatch is still negative at the supply pressure has no inward flow at
    this speed.

    A lane that starts from a match near by takes all radial steps at once, by the same secant
    within the whole bracket. Where that does not come to the tolerance in a few steps, or its gap
    chokes or throws fluid out on the way, it is searched as any other.

    At the resolved level, all stations of a march with backflow are solved at once, while the
    search goes on. Where the two do not converge together, a more viscous fluid leads in, and last
    the march is repeated. Where that fails too, all is done again on a finer mesh, and the status
    is `NOT_CONVERGED` only where that brings no answer either.

    References
    ----------
    Secant method with bisection as a safeguard (numerical textbooks).

    """
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # A bad lane gives NaN, which sets its status below.
        alive = np.flatnonzero(status == Reason.MATCHED)
        if level == "averaged":
            flow, steep, thrown = _search_averaged(fluid, circuit, alive, family, refuses)
        else:
            supply, back = circuit.nozzle.stagnation_pressure, circuit.back_pressure
            start = back + USUAL * (supply - back) if guess is None else guess
            unknown = np.full_like(back, np.nan)
            steepness = unknown if slope is None else slope
            flow, steep = _search_resolved(fluid, circuit, alive, start, steepness)
            thrown = np.zeros_like(steep)
        pumps = (flow.rim_pressure >= circuit.nozzle.stagnation_pressure) & (flow.mismatch < 0)
        if level == "resolved":
            # A march that comes to no end tells nothing of the direction of the flow.
            pumps &= np.isfinite(flow.gap.exit_pressure)
        off = ~(np.abs(flow.mismatch) <= RESIDUAL)
        exhaust_mach = flow.exhaust_speed / flow.exhaust_sound
    # The first reason that applies stays.
    status = first_reason(status, pumps, Reason.NO_FLOW)
    status = first_reason(status, thrown, Reason.RIM_BACKFLOW)
    status = first_reason(status, off & steep, Reason.GAP_CHOKED)
    status = first_reason(status, off | ~flow.gap.settled, Reason.NOT_CONVERGED)
    status = first_reason(status, flow.rotor_flow <= LEAST_FLOW, Reason.NO_FLOW)
    status = first_reason(status, flow.ring.churning, Reason.CHURNING)
    return flow, first_reason(status, exhaust_mach > EXHAUST_CHOKED_MACH, Reason.EXHAUST_CHOKED)


def make_resolved_ready(*, fluid: Fluid) -> None:
    """Compile or load what a match at the resolved level needs, by a search of no lanes.

    Parameters
    ----------
    fluid : Fluid
        Any working fluid [-]: the code is the same for all.

    Returns
    -------
    None
        Nothing: code is ready, and on disk where there is room.

    References
    ----------
    No formula of its own: see `match_rim_pressure`.
    """
    none = np.zeros(0)
    nozzle = Nozzle(**{f.name: none for f in fields(Nozzle)})
    rest = {f.name: none for f in fields(Circuit) if f.name != "nozzle"}
    _search_resolved(fluid, Circuit(nozzle=nozzle, **rest), np.zeros(0, dtype=np.int64), none, none)


def _search_averaged(
    fluid: Fluid, circuit: Circuit, alive: NDArray[np.int64], family: Lanes | None, refuses: bool
) -> tuple[Throughflow, Mask, Mask]:
    """Search at the averaged level; the masks mark what lies at its end.

    Gaps that choke just below it, and discs that throw fluid out at the rim just above it.
    """
    some = np.full((N_FOUND, alive.size), np.nan)
    given, is_all = _rows(circuit), alive.size == circuit.gap.size
    given = given if is_all else np.ascontiguousarray(given[:, alive])
    settings = (fluid.record, averaged.TURBULENCE, averaged.STEPS, RESIDUAL, refuses)
    nearby = _first_of_family(np.arange(circuit.gap.size) if family is None else family, alive)
    for which in (np.flatnonzero(nearby < 0), np.flatnonzero(nearby >= 0)):
        work = partial(match_averaged, *settings, given, which, nearby, some)
        on_every_core(work, n_lanes=which.size)
    found = some
    if not is_all:
        found = np.full((N_FOUND, circuit.gap.size), np.nan)
        found[:, alive] = some
    flow, ends = _arrived(found[:N_ARRIVAL]), found[N_ARRIVAL:DEPARTURE]
    gap = averaged.flow_of_ends(
        ends=ends,
        speed=flow.entry.radial_speed,
        rim_enthalpy=flow.entry.enthalpy,
        rim_swirl=flow.ring.swirl,
        mass_flow=flow.rotor_flow / circuit.gap_count,
        rim_radius=circuit.rim_radius,
        bore_radius=circuit.bore_radius,
        angular_speed=circuit.angular_speed,
    )
    after = found[DEPARTURE:RIM_PRESSURE]
    matched = _throughflow(circuit, found[RIM_PRESSURE], flow, gap, after, found[SLOPE])
    end = found[END]
    return matched, gap.choked | (end == CHOKED_BELOW), end == THROWN_ABOVE


def _first_of_family(family: NDArray[Any], alive: NDArray[np.int64]) -> NDArray[np.int64]:
    """Place among the lanes alive of the first in the family of each; -1 for that itself."""
    of, places = family[alive], np.arange(alive.size)
    is_first = np.ones(alive.size, dtype=np.bool_)
    is_first[1:] = of[1:] != of[:-1]
    return np.where(is_first, -1, np.maximum.accumulate(np.where(is_first, places, 0)))


def _search_resolved(
    fluid: Fluid, circuit: Circuit, alive: NDArray[np.int64], guess: Lanes, slope: Lanes
) -> tuple[Throughflow, Mask]:
    """Search at the resolved level; the mask marks gaps that choke just below the end of it."""
    # Loaded here, as it is a fifth of all compiled functions and the averaged level needs none.
    from engine.physics.flow import match_resolved_kernel as resolved_search  # noqa: PLC0415
    from engine.physics.gap import resolved  # noqa: PLC0415
    from engine.physics.gap.resolved_exit_kernel import N_EXIT  # noqa: PLC0415

    found = np.full((resolved_search.N_FOUND, circuit.gap.size), np.nan)
    end = N_ARRIVAL + N_EXIT
    behind = end + N_DEPARTURE
    rows, near = _rows(circuit), np.stack([guess, slope])

    def search(lanes: NDArray[np.int64], grid: HalfGap, n_steps: int) -> Lanes:
        mesh = resolved.meshes(tolerance=RESIDUAL / 10, grid=grid, n_steps=n_steps)
        some = np.full((resolved_search.N_FOUND, lanes.size), np.nan)
        given, start = (np.ascontiguousarray(each[:, lanes]) for each in (rows, near))
        work = partial(resolved_search.match_resolved, fluid.record, *mesh, given, start, some)
        on_every_core(work, n_lanes=lanes.size, fewest=1)
        return some

    found[:, alive] = search(alive, resolved.GRID, resolved.N_STEPS)
    # Where the usual mesh brings no answer, neither a match nor a reason, a finer one may.
    gap = resolved.flow_of_rows(found=found[N_ARRIVAL:end])
    known = (np.abs(found[end + MISMATCH]) <= RESIDUAL) & gap.settled
    known |= gap.choked | (found[behind + 1] == 1)
    known |= (found[behind] >= circuit.nozzle.stagnation_pressure) & np.isfinite(gap.exit_pressure)
    left = alive[~known[alive]]
    if left.size:
        found[:, left] = search(left, resolved.FINER_GRID, resolved.FINER_STEPS)
        gap = resolved.flow_of_rows(found=found[N_ARRIVAL:end])
    arrived = _arrived(found[:N_ARRIVAL])
    flow = _throughflow(circuit, found[behind], arrived, gap, found[end:behind])
    return flow, gap.choked | (found[behind + 1] == 1)


@dataclass(frozen=True)
class _Arrived:
    """The flow up to the entry of the gaps."""

    jet: Jet
    ring: Ring
    entry: GapEntry
    leakage: Lanes
    rotor_flow: Lanes


def _rows(circuit: Circuit) -> Lanes:
    """Circuits as the kernels read them: a row for each quantity, a column for each lane."""
    nozzle = [getattr(circuit.nozzle, f.name) for f in fields(Nozzle)]
    rest = [getattr(circuit, f.name) for f in fields(Circuit) if f.name != "nozzle"]
    return np.stack([np.asarray(row, dtype=float) for row in (*nozzle, *rest)])


def _arrived(rows: Lanes) -> _Arrived:
    """Rows that `match_kernel.arrivals` fills, by name."""
    jet: list[Any] = [*rows[:JET_CHOKED], rows[JET_CHOKED] == 1]
    return _Arrived(
        jet=Jet(*jet),
        ring=ring_of_rows(rows=rows[RING:ENTRY]),
        entry=GapEntry(*rows[ENTRY:LEAKAGE]),
        leakage=rows[LEAKAGE],
        rotor_flow=rows[ROTOR_FLOW],
    )


def _throughflow(
    circuit: Circuit,
    rim_pressure: Lanes,
    arrived: _Arrived,
    gap: GapFlow,
    after: Lanes,
    slope: Lanes | None = None,
) -> Throughflow:
    # Angular momentum of the exhaust, and that which it has where it turns as the spokes do.
    square = (circuit.bore_radius**2 + circuit.hub_radius**2) / 2
    brought = circuit.bore_radius * gap.exit_swirl
    given_up = after[CAUGHT] * (brought - circuit.angular_speed * square)
    return Throughflow(
        rim_pressure=rim_pressure,
        jet=arrived.jet,
        ring=arrived.ring,
        entry=arrived.entry,
        gap=gap,
        leakage=arrived.leakage,
        rotor_flow=arrived.rotor_flow,
        caught=after[CAUGHT],
        web_torque=arrived.rotor_flow * given_up,
        outlet_swirl=(brought - given_up) / np.sqrt(square),
        filled=after[FILLED],
        exhaust_speed=after[EXHAUST_SPEED],
        exhaust_sound=after[EXHAUST_SOUND],
        mismatch=after[MISMATCH],
        slope=np.full_like(rim_pressure, np.nan) if slope is None else slope,
    )


@entry
def _arrive(
    record: FluidRecord, given: Lanes, pressure: Lanes, found: Lanes, first: int, last: int
) -> None:
    circuits, here, tried = table(N_CIRCUIT, PACK), table(N_ARRIVAL, PACK), table(1, PACK)
    for start in range(first, last, PACK):
        take(given, start, last, circuits)
        take(pressure, start, last, tried)
        without_guess(here)
        arrivals(record, circuits, tried[0], here, SETTLED, MOST_HEATING)
        put(here, start, last, found)


@entry
def _leave(
    record: FluidRecord, given: Lanes, states: Lanes, found: Lanes, first: int, last: int
) -> None:
    circuits, inner = table(N_CIRCUIT, PACK), table(4, PACK)
    out = table(N_DEPARTURE, PACK)
    for start in range(first, last, PACK):
        take(given, start, last, circuits)
        take(states, start, last, inner)
        departures(record, circuits, inner[0], inner[1], inner[2], inner[3], out)
        put(out, start, last, found)
