"""The matched point: the rim pressure at which nozzles, gaps, seals and exhaust agree."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.physics import gap as fast
from engine.physics.arrays import Lanes, Mask, Reason, first_reason
from engine.physics.compiled import compiled, on_every_core
from engine.physics.fluid import FluidRecord
from engine.physics.fluid_kernel import Fluid
from engine.physics.gap_flow import GapFlow, Marcher
from engine.physics.match_averaged import N_FOUND, match_averaged
from engine.physics.match_kernel import (
    LEAST_FLOW,
    N_ARRIVAL,
    arrive,
    circuit_lane,
    leave,
    write_arrival,
    write_departure,
)
from engine.physics.nozzle import Jet, Nozzle
from engine.physics.rim import GapEntry, Ring

RESIDUAL = 1e-6
"""Largest mismatch of pressure at the exhaust, over the whole pressure drop."""
MOST_STEPS, MOST_STEPS_FROM_GUESS = 80, 12
"""Steps of the search; a flow that settles only now and then would use up any number."""
NEAR = 0.06
"""First step away from a guessed rim pressure, over its height above the back pressure."""
EXHAUST_CHOKED_MACH = 0.8


@dataclass(frozen=True)
class Circuit:
    """All that the flow meets from nozzle to exhaust, by lane; one-dimensional, equal lengths."""

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
    exhaust_speed: Lanes  # [m/s]
    exhaust_sound: Lanes  # speed of sound in the exhaust [m/s]
    mismatch: Lanes  # pressure left over behind the exhaust, over the whole drop [-]


def flow_at_rim_pressure(
    *, fluid: Fluid, circuit: Circuit, march: Marcher, rim_pressure: Lanes
) -> Throughflow:
    """Follow the flow from the nozzles to the exhaust for a given pressure at the rim.

    Lanes are one-dimensional and of equal length.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    circuit : Circuit
        What the flow meets [-].
    march : Marcher
        March through a gap, of either level [-].
    rim_pressure : Lanes
        Pressure of the ring around the discs [Pa].

    Returns
    -------
    Throughflow
        States, flows and the mismatch at the exhaust, which rises with rim pressure. A lane whose
        gaps choke has mismatch -1; one with no rotor flow is followed at a flow going to nothing.

    References
    ----------
    The order of the stations, derived here.

    """
    given, n_lanes = _rows(circuit), rim_pressure.size
    before, after = np.empty((N_ARRIVAL, n_lanes)), np.empty((3, n_lanes))
    work = partial(_arrive, fluid.record, given, rim_pressure * 1.0, before)
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
    )
    states = np.stack([flow.rotor_flow, gap.exit_pressure, gap.exit_enthalpy])
    on_every_core(partial(_leave, fluid.record, given, states, after), n_lanes=n_lanes)
    return _throughflow(rim_pressure, flow, gap, after)


def match_rim_pressure(
    *,
    fluid: Fluid,
    circuit: Circuit,
    march: Marcher,
    status: NDArray[np.int64],
    guess: Lanes | None = None,
) -> tuple[Throughflow, NDArray[np.int64]]:
    """Find the rim pressure at which the flow closes, lane by lane.

    Lanes are one-dimensional and of equal length.

    Parameters
    ----------
    fluid : Fluid
        Working fluid [-].
    circuit : Circuit
        What the flow meets [-].
    march : Marcher
        March through a gap, of either level [-].
    status : NDArray[np.int64]
        Reason by lane [-]; lanes that are not `MATCHED` are left out of the search.
    guess : Lanes, optional
        Rim pressure near the answer [Pa], from a faster march; saves most of the search.

    Returns
    -------
    tuple[Throughflow, NDArray[np.int64]]
        The flow at the matched point and the status, with a reason where there is none; the flow
        of such a lane is not to be used.

    Notes
    -----
    The mismatch rises with rim pressure: less flow, less drop. It is negative at the back pressure,
    so a lane with a negative mismatch at supply pressure has no inward flow at this speed.

    References
    ----------
    Chandrupatla, Adv. Eng. Softw. 28, 1997, 145-149, as implemented lane-wise by SciPy.

    """
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # A bad lane is NaN all the way through; that is an answer here, not a fault.
        alive = np.flatnonzero(status == Reason.MATCHED)
        if march is fast.march:
            flow, steep = _search_compiled(fluid, circuit, alive)
        else:
            flow, steep = _search(fluid, circuit, march, alive, guess)
        pumps = (flow.rim_pressure >= circuit.nozzle.stagnation_pressure) & (flow.mismatch < 0)
        off = ~(np.abs(flow.mismatch) <= RESIDUAL)
        exhaust_mach = flow.exhaust_speed / flow.exhaust_sound
    status = first_reason(status, pumps, Reason.NO_FLOW)
    status = first_reason(status, off & steep, Reason.GAP_CHOKED)
    status = first_reason(status, off | ~flow.gap.settled, Reason.NOT_CONVERGED)
    status = first_reason(status, flow.rotor_flow <= LEAST_FLOW, Reason.NO_FLOW)
    status = first_reason(status, flow.ring.churning, Reason.CHURNING)
    return flow, first_reason(status, exhaust_mach > EXHAUST_CHOKED_MACH, Reason.EXHAUST_CHOKED)


def _search_compiled(
    fluid: Fluid, circuit: Circuit, alive: NDArray[np.int64]
) -> tuple[Throughflow, Mask]:
    """Search around the fast march, and where its gaps choke just below the end of the search."""
    some = np.full((N_FOUND, alive.size), np.nan)
    given = np.ascontiguousarray(_rows(circuit)[:, alive])
    settings = (fluid.record, fast.TURBULENCE, fast.STEPS, RESIDUAL / 10)
    on_every_core(partial(match_averaged, *settings, given, some), n_lanes=alive.size)
    found = np.full((N_FOUND, circuit.gap.size), np.nan)
    found[:, alive] = some
    flow, ends = _arrived(found[:N_ARRIVAL]), found[N_ARRIVAL : N_ARRIVAL + 7]
    gap = fast.flow_of_ends(
        ends=ends,
        speed=flow.entry.radial_speed,
        rim_enthalpy=flow.entry.enthalpy,
        rim_swirl=flow.ring.swirl,
        mass_flow=flow.rotor_flow / circuit.gap_count,
        rim_radius=circuit.rim_radius,
        bore_radius=circuit.bore_radius,
        angular_speed=circuit.angular_speed,
    )
    after = found[N_ARRIVAL + 7 : N_ARRIVAL + 10]
    return _throughflow(found[-2], flow, gap, after), gap.choked | (found[-1] == 1)


def _search(
    fluid: Fluid,
    circuit: Circuit,
    march: Marcher,
    alive: NDArray[np.int64],
    guess: Lanes | None,
) -> tuple[Throughflow, Mask]:
    """Search around any march, all lanes together."""
    rim_pressure = np.full(circuit.gap.shape, np.nan)
    supply, back = circuit.nozzle.stagnation_pressure, circuit.back_pressure

    def follow(pressure: Lanes, lane: NDArray[np.int64]) -> Throughflow:
        chosen = take_lanes(circuit=circuit, lane=lane)
        return flow_at_rim_pressure(fluid=fluid, circuit=chosen, march=march, rim_pressure=pressure)

    def mismatch(pressure: Lanes, lane: NDArray[np.int64]) -> Lanes:
        return follow(pressure, lane).mismatch

    steps = MOST_STEPS
    if guess is None:
        low, high = back[alive], supply[alive]
        pumps = mismatch(high, alive) < 0
        rim_pressure[alive[pumps]] = high[pumps]
        alive, low, high = alive[~pumps], low[~pumps], high[~pumps]
    else:
        steps = MOST_STEPS_FROM_GUESS
        low, high = _around(mismatch, guess[alive], back[alive], supply[alive], alive)
    if alive.size:
        from scipy.optimize import elementwise  # noqa: PLC0415  not before it is needed

        found = elementwise.find_root(
            mismatch,
            (low, high),
            args=(alive,),
            tolerances={"xatol": 0.0, "xrtol": 1e-9, "fatol": RESIDUAL / 10, "frtol": 0.0},
            maxiter=steps,
        )
        rim_pressure[alive] = found.x
    every = np.arange(rim_pressure.size)
    flow = follow(rim_pressure, every)
    off = ~(np.abs(flow.mismatch) <= RESIDUAL)
    # A search that ended at the edge of choking has a choked gap just below its answer.
    steep = flow.gap.choked.copy()
    steep[off] |= follow(rim_pressure[off] * (1 - 1e-6), every[off]).gap.choked
    return flow, steep


def _around(
    mismatch: Callable[[Lanes, NDArray[np.int64]], Lanes],
    guess: Lanes,
    back: Lanes,
    supply: Lanes,
    lane: NDArray[np.int64],
) -> tuple[Lanes, Lanes]:
    """Rim pressures on either side of the answer, close to the guess where they can be."""
    reach = NEAR * (guess - back)
    from scipy.optimize import elementwise  # noqa: PLC0415  not before it is needed

    found = elementwise.bracket_root(
        mismatch,
        guess - reach,
        np.minimum(guess + reach, (guess + supply) / 2),
        xmin=back,
        xmax=supply,
        args=(lane,),
        maxiter=MOST_STEPS_FROM_GUESS,
    )
    return found.bracket


def take_lanes(*, circuit: Circuit, lane: NDArray[np.int64]) -> Circuit:
    """Circuit of the chosen lanes.

    Parameters
    ----------
    circuit : Circuit
        All lanes [-].
    lane : NDArray[np.int64]
        Lane numbers [-].

    Returns
    -------
    Circuit
        The same quantities for those lanes.

    References
    ----------
    None needed: selection, derived here.

    """
    nozzle = Nozzle(**{f.name: getattr(circuit.nozzle, f.name)[lane] for f in fields(Nozzle)})
    rest = {f.name: getattr(circuit, f.name)[lane] for f in fields(Circuit) if f.name != "nozzle"}
    return Circuit(nozzle=nozzle, **rest)


@dataclass(frozen=True)
class _Arrived:
    """What reaches the gaps."""

    jet: Jet
    ring: Ring
    entry: GapEntry
    leakage: Lanes
    rotor_flow: Lanes


def _rows(circuit: Circuit) -> Lanes:
    """Circuits as compiled code takes them, a row a quantity."""
    nozzle = [getattr(circuit.nozzle, f.name) for f in fields(Nozzle)]
    rest = [getattr(circuit, f.name) for f in fields(Circuit) if f.name != "nozzle"]
    return np.stack([np.asarray(row, dtype=float) for row in (*nozzle, *rest)])


def _arrived(rows: Lanes) -> _Arrived:
    """Rows of `match_kernel.write_arrival` by name."""
    jet, entry = rows[:4], rows[13:16]
    rings: list[Any] = [*rows[4:12], rows[12] == 1]
    return _Arrived(
        jet=Jet(jet[0], jet[1], jet[2], jet[3] == 1),
        ring=Ring(*rings),
        entry=GapEntry(*entry),
        leakage=rows[16],
        rotor_flow=rows[17],
    )


def _throughflow(rim_pressure: Lanes, arrived: _Arrived, gap: GapFlow, after: Lanes) -> Throughflow:
    return Throughflow(
        rim_pressure=rim_pressure,
        jet=arrived.jet,
        ring=arrived.ring,
        entry=arrived.entry,
        gap=gap,
        leakage=arrived.leakage,
        rotor_flow=arrived.rotor_flow,
        exhaust_speed=after[0],
        exhaust_sound=after[1],
        mismatch=after[2],
    )


@compiled
def _arrive(
    record: FluidRecord, given: Lanes, pressure: Lanes, found: Lanes, first: int, last: int
) -> None:
    for i in range(first, last):
        write_arrival(found, i, arrive(record, circuit_lane(given, i), pressure[i]))


@compiled
def _leave(
    record: FluidRecord, given: Lanes, states: Lanes, found: Lanes, first: int, last: int
) -> None:
    for i in range(first, last):
        flow, pressure, enthalpy = states[0, i], states[1, i], states[2, i]
        out = leave(record, circuit_lane(given, i), flow, pressure, enthalpy)
        write_departure(found, 0, i, out)
