"""What follows when the load is lost: the trip as it happens, in a map of torque of each build.

Torque and flow without load come from the model at a few speeds and supply pressures; between them
they are taken as linear, and scaled so that the operating point is met. They are followed beyond
operating points (`runaway`). Where no flow enters or no march has an answer, the torque is that of
the nearest speed that has one at the same pressure: discs that pump against the supply brake
harder. Without pressure only bearings and shaft seals brake.
Inertia is that of the discs alone. Shaft, clamps and generator make the peak lower.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import Builds, Results
from engine.model.rotor import inertia_of
from engine.model.shutoff import pipe_of, valve_volume
from engine.physics.arrays import Lanes, in_lanes, repeated, taken
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from engine.physics.machine.pipe import closing_surge
from engine.physics.machine.trip import (
    STEPS,
    Course,
    TorqueMap,
    Valve,
    course_of_trip,
    equivalent_delay,
    peak_bound,
    speed_time_constant,
    time_to_speed,
)
from engine.study.supply import Source

TRIP_COLUMNS = (
    "peak_ratio",
    "survives_trip",
    "trip_time",
    "peak_time",
    "shutoff_time_allowed",
    "hose_allowed",
    "start_time",
    "speed_time_constant",
)
"""Columns that `with_trip` fills."""
PRESSURES = (0.1, 0.25, 0.5, 1.0)
"""Shares of the supply pressure over back pressure at which torque and flow are evaluated."""
SPEEDS = (0.0, 0.04, 0.16, 0.36, 0.64, 1.0)
"""Where they are evaluated between operating speed and the highest that matters."""
DECIDING_STEPS = 24
"""Steps where only survival is asked; a hose smaller than they can follow counts as larger."""
DECIDING_PRESSURES, DECIDING_SPEEDS = (0.25, 1.0), (0.0, 0.36, 1.0)
"""The nodes there for a gas: its peaks come out 0.02 to 0.6 % too high in the bundled studies.
Those of a liquid, which go through more of the map, need all nodes."""
STARTING = (0.02, 0.35, 0.7)
"""Shares of operating speed at which the torque of starting is evaluated."""

FOLLOWED = (
    "shaft_torque", "mass_flow", "safety_margin", "stored_energy", "loss_bearing", "loss_seal",
)  # fmt: skip
"""Results of a design by which its trip is followed, besides those that define it."""

Nodes = tuple[tuple[float, ...], tuple[float, ...]]
"""Shares of pressure and places of speed of a map."""
Reading = Callable[[NDArray[np.int64], Lanes, Lanes], tuple[Lanes, Lanes]]
"""Torque and flow of some lanes, each at a ratio to its operating speed and a share of pressure."""


@dataclass(frozen=True)
class SupplyState:
    """The supply of each lane, (lane,)."""

    density: Lanes  # of a gas before the nozzles [kg/m3]
    exponent: Lanes  # isentropic, of that gas [-]
    back_share: Lanes  # back pressure over supply pressure [-]
    is_liquid: bool

    @classmethod
    def of(cls, source: Source, back_pressure: float, n_lanes: int) -> "SupplyState":
        """Take it from a supply."""
        is_liquid = bool(np.isfinite(source.density))
        state = _before_nozzles(source, n_lanes)
        density = source.fluid.density(**state)
        sound = source.fluid.sound_speed(**state)
        exponent = np.ones(n_lanes) if is_liquid else density * sound**2 / state["pressure"]
        return cls(density, exponent, back_pressure / state["pressure"], is_liquid)

    def of_lanes(self, lanes: NDArray[np.int64]) -> "SupplyState":
        """Take the supply of some lanes."""
        density, exponent, back = (
            taken(each, lanes) for each in (self.density, self.exponent, self.back_share)
        )
        return SupplyState(density, exponent, back, self.is_liquid)


def _before_nozzles(source: Source, n_lanes: int) -> dict[str, Lanes]:
    given = {"pressure": source.pressure, "enthalpy": source.enthalpy}
    return {key: in_lanes(value, n_lanes) for key, value in given.items()}


def stored_mass(build: Builds, supply: SupplyState) -> Lanes:
    """Mass behind the valve that still blows through the nozzles [kg]; none of a liquid."""
    volume = valve_volume(build)
    return 0.0 * volume if supply.is_liquid else np.asarray(supply.density * volume)


def behind_valve(build: Builds, source: Source, mass_flow: Lanes) -> Results:
    """Volume behind the valve, and rise of pressure of a liquid as it shuts, by column key.

    No rise is known of a gas, nor where no pipe is given.
    """
    volume = {"valve_volume": valve_volume(build)}
    if not np.isfinite(source.density):
        return volume | {"closing_surge": repeated(np.nan, len(mass_flow))}
    bore, length = pipe_of(build)
    surge = closing_surge(
        density=source.fluid.density(**_before_nozzles(source, len(mass_flow))),
        flow=mass_flow,
        bore=bore,
        length=length,
        closing=build["valve_closing"],
    )
    return volume | {"closing_surge": surge}


def standing_drag(results: Results) -> Lanes:
    """Torque of bearings and shaft seals, which brake without any pressure [N m]."""
    return np.asarray((results["loss_bearing"] + results["loss_seal"]) / results["speed"])


def survives_by_bound(results: Results, supply: SupplyState) -> tuple[Lanes, NDArray[np.bool_]]:
    """Whether each design survives a lost load with its trip, and where that is not decided yet.

    A closed form for a search. A trip that acts only above the first failure counts as failed, also
    where the build would not run away so far.
    """
    margin, trip = results["safety_margin"], results["trip_factor"]
    delay = _equivalent(results, supply)
    bound = peak_bound(
        speed=results["speed"],
        trip_factor=trip,
        torque=results["shaft_torque"],
        inertia=inertia_of(results),
        delay=delay,
    )
    driven = results["shaft_torque"] > 0
    open_ = driven & (margin >= trip) & ~(bound <= margin)
    return np.where(driven & np.isfinite(margin), (bound <= margin) * 1.0, np.nan), open_


def trip_columns(results: Results, supply: SupplyState, read: Reading) -> Results:
    """Columns of the trip of every lane by key, of results that have their runaway ratio.

    NaN where a build does not drive its shaft. A design that runs away below trip speed has its
    runaway speed as its peak, and never trips.
    """
    found = {key: np.full(results["speed"].shape, np.nan) for key in TRIP_COLUMNS}
    lanes = np.flatnonzero(np.isfinite(results["runaway_ratio"]) & (results["shaft_torque"] > 0))
    if not lanes.size:
        return found
    some = {key: values[lanes] for key, values in results.items()}
    for key, values in _columns(some, supply.of_lanes(lanes), lanes, read).items():
        found[key][lanes] = values
    return found


def survives_followed(results: Results, supply: SupplyState, read: Reading) -> Lanes:
    """Whether each design survives a lost load with its trip, by following it.

    Runaway speed need not be known: the torque is read up to the bound.
    """
    lanes = np.arange(len(results["speed"]))
    endless = results | {"runaway_ratio": np.full(lanes.shape, HIGHEST_RUNAWAY)}
    _, course = _followed(endless, supply, lanes, read, deciding=True)
    return np.where(results["safety_margin"] >= course.peak / results["speed"], 1.0, 0.0)


def _followed(
    results: Results,
    supply: SupplyState,
    lanes: NDArray[np.int64],
    read: Reading,
    *,
    deciding: bool = False,
) -> tuple[TorqueMap, Course]:
    """Torque of each lane up to where it can come or fails, and what follows its trip."""
    speed, trip, inertia = results["speed"], results["trip_factor"], inertia_of(results)
    bound = peak_bound(
        speed=speed,
        trip_factor=trip,
        torque=results["shaft_torque"],
        inertia=inertia,
        delay=_equivalent(results, supply),
    )
    needed = np.fmax(bound, results["safety_margin"])
    top = np.maximum(np.minimum(results["runaway_ratio"], needed), 1 + 1e-6)
    few = deciding and not supply.is_liquid
    nodes = (DECIDING_PRESSURES, DECIDING_SPEEDS) if few else (PRESSURES, SPEEDS)
    found = _torque_map(results, lanes, top, read, nodes)
    course = course_of_trip(
        torque_map=found,
        inertia=inertia,
        start=trip * speed,
        valve=Valve(
            delay=results["trip_delay"] * 1.0,
            closing=results["valve_closing"] * 1.0,
            stored=stored_mass(results, supply),
            exponent=supply.exponent,
            back_share=supply.back_share,
            liquid=np.full(speed.shape, supply.is_liquid),
        ),
        steps=DECIDING_STEPS if deciding else STEPS,
    )
    return found, course


def _columns(
    results: Results, supply: SupplyState, lanes: NDArray[np.int64], read: Reading
) -> Results:
    speed, trip, margin = (results[key] for key in ("speed", "trip_factor", "safety_margin"))
    runaway, inertia = results["runaway_ratio"], inertia_of(results)
    found, course = _followed(results, supply, lanes, read)
    trips = runaway > trip
    peak = np.where(trips, course.peak / speed, runaway)
    to_trip = time_to_speed(torque_map=found, inertia=inertia, start=speed, end=trip * speed)
    to_trip = np.where(trips, to_trip, np.inf)
    allowed = time_to_speed(
        torque_map=found, inertia=inertia, start=trip * speed, end=margin * speed
    )
    allowed = np.where(margin >= runaway, np.inf, allowed)
    left = np.maximum(allowed - results["trip_delay"] - results["valve_closing"] / 2, 0.0)
    first, second = found.torque[:, -1, 0], found.torque[:, -1, 1]
    return {
        "peak_ratio": peak,
        "survives_trip": np.where(np.isfinite(margin), margin >= peak, np.nan),
        "trip_time": to_trip,
        "peak_time": to_trip + course.peak_time,
        "shutoff_time_allowed": np.where(np.isfinite(margin), allowed, np.nan),
        "hose_allowed": np.where(
            supply.is_liquid, np.nan, left * results["mass_flow"] / supply.density
        ),
        "start_time": _start_time(results, lanes, read),
        "speed_time_constant": speed_time_constant(
            inertia=inertia,
            speed=speed,
            torque=results["shaft_torque"],
            slope=(second - first) / (found.speed[:, 1] - found.speed[:, 0]),
        ),
    }


def _torque_map(
    results: Results, lanes: NDArray[np.int64], top: Lanes, read: Reading, nodes: Nodes
) -> TorqueMap:
    """Torque and flow of some lanes from operating speed up to a ratio, at every pressure."""
    pressures, speeds = nodes
    ratio = 1 + (top - 1)[:, None] * np.array(speeds)
    shape = (len(lanes), len(pressures), len(speeds))
    at = np.broadcast_to(lanes[:, None, None], shape).ravel()
    ratios = np.broadcast_to(ratio[:, None, :], shape).ravel()
    shares = np.broadcast_to(np.array(pressures)[None, :, None], shape).ravel()
    drag = standing_drag(results)
    torque, flow = (each.reshape(shape) for each in read(at, ratios, shares))
    torque = _scaled(torque, results["shaft_torque"], -drag)
    flow = _scaled(flow, results["mass_flow"], 0.0 * drag)
    # At runaway speed nothing is left; beyond the highest ratio searched something may be.
    spent = (top >= results["runaway_ratio"]) & (top < HIGHEST_RUNAWAY)
    torque[spent, -1, -1] = 0.0
    braked = np.broadcast_to(-drag[:, None, None], (len(lanes), 1, len(speeds)))
    return TorqueMap(
        speed=ratio * results["speed"][:, None],
        share=np.array([0.0, *pressures]),
        torque=np.concatenate([braked, torque], axis=1),
        flow=np.concatenate([0.0 * braked, flow], axis=1),
    )


def _scaled(table: Lanes, here: Lanes, nothing: Lanes) -> Lanes:
    """Scale a table so that it meets the operating point; fill what is not known in it."""
    met = table[:, -1, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        scaled = table * np.where(np.isfinite(met), here / met, 1.0)[:, None, None]
    scaled[:, -1, 0] = here
    _fill(scaled, nothing)
    return np.asarray(scaled)


def _fill(table: Lanes, nothing: Lanes) -> None:
    """Fill what is not known at some speeds from the others of its lane and pressure, in place."""
    places = np.arange(table.shape[2])
    for lane, row in np.argwhere(np.isnan(table).any(axis=2)).tolist():
        known = np.isfinite(table[lane, row])
        table[lane, row] = (
            np.interp(places, places[known], table[lane, row, known])
            if known.any()
            else nothing[lane]
        )


def _start_time(results: Results, lanes: NDArray[np.int64], read: Reading) -> Lanes:
    """Time from rest to operating speed without load [s]."""
    shape = (len(lanes), len(STARTING))
    ratio = np.broadcast_to(np.array(STARTING), shape)
    at = np.broadcast_to(lanes[:, None], shape)
    torque, _ = read(at.ravel(), ratio.ravel(), np.ones(ratio.size))
    speeds = np.array([0.0, *STARTING, 1.0])
    known = torque.reshape(shape)[:, None]
    _fill(known, np.full(len(lanes), np.nan))
    known = known[:, 0]
    whole = np.concatenate([known[:, :1], known, results["shaft_torque"][:, None]], axis=1)
    table = np.stack([whole, whole], axis=1)
    return time_to_speed(
        torque_map=TorqueMap(
            speed=speeds * results["speed"][:, None],
            share=np.array([0.0, 1.0]),
            torque=table,
            flow=np.zeros_like(table),
        ),
        inertia=inertia_of(results),
        start=0.0,
        end=results["speed"],
    )


def _equivalent(results: Results, supply: SupplyState) -> Lanes:
    return equivalent_delay(
        delay=results["trip_delay"],
        closing=results["valve_closing"],
        stored=stored_mass(results, supply),
        flow=results["mass_flow"],
    )
