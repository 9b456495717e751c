"""A turbine with its generator, bus, loads and supply in time, through a script; see `plant`."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from engine.physics.arrays import Lanes
from engine.physics.machine.plant import (
    HOSE,
    RECEIVER,
    SPEED,
    WARMTH,
    Flows,
    Plant,
    Stage,
    flows,
    on_the_way,
    supplied,
)
from engine.physics.machine.supply_energy import SupplyEnergies, SupplyFlows

ACCURACY = 1e-8
"""Relative error of a step."""
CLOSER = np.array([1.0, 1.0, 1e-2, 1.0, 1.0])
"""The same of each state over that: a receiver holds far more than a short script moves."""
STEPS_OF_SWING = 12
"""Least steps in a swing of the supply."""
SPAN_STEPS = 20
"""Least steps between two events."""
# Gauss and Legendre's rule of four points on 0 to 1.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_POINTS, _WEIGHTS = (_POINTS + 1) / 2, _WEIGHTS / 2


@dataclass(frozen=True)
class Energies:
    """Where the work of the shaft went along a run [J]."""

    shaft: float
    drive: float
    no_load: float
    winding: float
    diodes: float
    loads: Lanes
    """(load,)"""
    rotor: float
    """Rise of what the rotor holds."""
    bus: float
    """Rise of what the capacitor holds."""
    supply: SupplyEnergies | None = None
    """Where the work of the supply went before it; None where that was not followed."""

    @property
    def gone(self) -> float:
        """What drive, generator and loads took."""
        return self.drive + self.no_load + self.winding + self.diodes + float(self.loads.sum())

    @property
    def left(self) -> float:
        """What is not accounted for, over all that was moved [-]; the error of the solution."""
        moved = abs(self.shaft) + abs(self.rotor) + abs(self.gone)
        return (self.shaft - self.gone - self.rotor - self.bus) / moved if moved else 0.0

    @property
    def left_of_supply(self) -> float:
        """The same of all from the supply to each load, over what the supply gave [-]."""
        if self.supply is None or not self.supply.given:
            return np.nan
        rest = self.supply.shaft - self.gone - self.rotor - self.bus
        return rest / abs(self.supply.given)


@dataclass(frozen=True)
class Motion:
    """A machine in time, (time,)."""

    time: Lanes
    """[s]"""
    speed: Lanes
    """[rad/s]"""
    voltage: Lanes
    """[V]"""
    current: Lanes
    """Into the bus [A]."""
    share: Lanes
    """Pressure before the nozzles over back pressure, over the full one [-]."""
    receiver: Lanes
    """Pressure of the receiver over full supply pressure [-]."""
    watts: Lanes
    """To each load, (time, load) [W]."""
    tripped: float
    """When the trip acted [s]; NaN where it did not."""
    energies: Energies
    steps: int
    """Of the solver."""


def follow(
    *,
    plant: Plant,
    stages: Sequence[Stage],
    speed: float,
    voltage: float,
    accuracy: float = ACCURACY,
) -> Motion:
    """Follow a machine through the stages of a script.

    Parameters
    ----------
    plant : Plant
        The machine.
    stages : Sequence[Stage]
        Each begins where the one before ends.
    speed, voltage : float
        At the start [rad/s], [V], >= 0.
    accuracy : float
        Relative error of a step [-].

    Returns
    -------
    Motion
        Every step of the solver, and a point in the middle of each.

    Raises
    ------
    RuntimeError
        Where the solver gives up, which no plausible machine makes it do.

    Notes
    -----
    LSODA of scipy, which changes to a stiff method by itself: the bus settles in milliseconds, the
    rotor in seconds. Energies are integrated apart from the solution, by Gauss and Legendre's rule
    on its steps, so that `Energies.left` shows the error.

    References
    ----------
    Balances: `plant`. LSODA: Petzold 1983, "Automatic selection of methods for solving stiff and
    nonstiff systems of ordinary differential equations", SIAM J. Sci. Stat. Comput. 4, 136-148
    (from memory).

    """
    follower = _Follower(plant, accuracy)
    state = np.array([speed, voltage, plant.receiver.full, 1.0, 1.0])
    follower.first = state
    for stage in stages:
        state = follower.through(stage, state)
    follower.last = state
    return follower.motion()


@dataclass
class _Follower:
    """Goes through stages and keeps what it finds."""

    plant: Plant
    accuracy: float
    tripped: float = np.nan
    times: list[Lanes] = field(default_factory=list)
    flows: list[Flows] = field(default_factory=list)
    ways: list[SupplyFlows] = field(default_factory=list)
    """From supply to shaft."""
    first: Lanes = field(default_factory=lambda: np.zeros(0))
    """State at the start, as the trip acts, and at the end; empty for none."""
    shut: Lanes = field(default_factory=lambda: np.zeros(0))
    last: Lanes = field(default_factory=lambda: np.zeros(0))
    weights: list[Lanes] = field(default_factory=list)
    """Of each time in an integral; 0 where it is only drawn."""
    steps: int = 0

    def through(self, stage: Stage, state: Lanes) -> Lanes:
        """Follow one stage, in pieces where the trip acts and the valve moves."""
        start = stage.start
        while start < stage.end:
            end = min([stage.end, *(each for each in self._moments() if each > start)])
            start, state = self._piece(replace(stage, start=start, end=end), state)
        return state

    def _moments(self) -> tuple[float, ...]:
        """When the valve begins to close, and when it is shut."""
        hose = self.plant.hose
        begins = self.tripped + hose.delay
        return (begins, begins + hose.closing) if np.isfinite(self.tripped) else ()

    def _piece(self, stage: Stage, state: Lanes) -> tuple[float, Lanes]:
        plant, hose, tripped = self.plant, self.plant.hose, self.tripped

        def rates(time: float, values: Lanes) -> Lanes:
            return flows(
                plant=plant,
                stage=stage,
                tripped=tripped,
                time=np.array([time]),
                state=values[:, None],
            ).rates[:, 0]

        def trips(_time: float, values: Lanes) -> float:
            return float(values[SPEED]) - hose.trip_speed

        trips.terminal, trips.direction = True, 1.0  # type: ignore[attr-defined]
        is_armed = np.isfinite(hose.trip_speed) and np.isnan(tripped)
        if is_armed and state[SPEED] >= hose.trip_speed:
            self.tripped = stage.start
            return stage.start, self._shut_in(stage, state)
        longest = (stage.end - stage.start) / SPAN_STEPS
        if stage.swing[0]:
            longest = min(longest, stage.swing[1] / STEPS_OF_SWING)
        least = np.array([1e-3 * float(plant.torque.top[0]), 1.0, 1e-2, 1e-2, 1e-2])
        found = solve_ivp(
            rates,
            (stage.start, stage.end),
            state,
            method="LSODA",
            dense_output=True,
            events=[trips] if is_armed else None,
            rtol=self.accuracy * CLOSER,
            atol=self.accuracy * least,
            max_step=longest,
        )
        if not found.success or found.sol is None:
            raise RuntimeError(found.message)
        self._keep(stage, np.asarray(found.t), found.sol)
        last = np.asarray(found.y[:, -1])
        if found.status == 1:
            self.tripped = float(found.t[-1])
            last = self._shut_in(stage, last)
        return float(found.t[-1]), last

    def _shut_in(self, stage: Stage, state: Lanes) -> Lanes:
        """State as the trip acts: the hose holds gas of the pressure that the supply has then."""
        share = supplied(
            plant=self.plant, stage=stage, time=np.array([self.tripped]), state=state[:, None]
        )[0]
        back = self.plant.hose.back_share
        shut = state.copy()
        shut[HOSE], shut[WARMTH] = back + share * (1 - back), 1.0
        self.shut = shut
        return shut

    def _keep(self, stage: Stage, time: Lanes, solution: Callable[[Lanes], Any]) -> None:
        step = np.diff(time)
        inner = (time[:-1, None] + step[:, None] * _POINTS).ravel()
        at = np.concatenate([time, inner])
        weight = np.concatenate([np.zeros(time.size), (step[:, None] * _WEIGHTS).ravel()])
        order = np.argsort(at, kind="stable")
        at = at[order]
        self.times.append(at)
        state = np.asarray(solution(at))
        plant, tripped = self.plant, self.tripped
        found = flows(plant=plant, stage=stage, tripped=tripped, time=at, state=state)
        self.flows.append(found)
        way = on_the_way(
            plant=plant, stage=stage, tripped=tripped, time=at, state=state, found=found
        )
        self.ways += [] if way is None else [way]
        self.weights.append(weight[order])
        self.steps += step.size

    def _of_supply(self, weight: Lanes) -> SupplyEnergies | None:
        """Sum up what came from the supply and where it went."""
        plant, side = self.plant, self.plant.side
        if side is None or not self.ways:
            return None

        def whole(key: str) -> Lanes:
            return np.asarray(weight @ np.concatenate([getattr(each, key) for each in self.ways]))

        receiver = hose = 0.0
        if np.isfinite(plant.receiver.mass):
            before, after = (
                side.worth.held(float(each[RECEIVER])) for each in (self.first, self.last)
            )
            receiver = plant.receiver.mass * (before - after)
        if self.shut.size and plant.hose.stored > 0:
            before, after = (
                side.worth.blown(float(each[HOSE]), plant.hose.exponent)
                for each in (self.shut, self.last)
            )
            hose = plant.hose.stored * (before - after)
        return SupplyEnergies(
            came=float(whole("came")),
            receiver=receiver,
            hose=hose,
            drawn=float(whole("drawn")),
            regulator=float(whole("regulator")),
            valve=float(whole("valve")) + hose,
            lost=dict(zip(side.names, whole("lost").tolist(), strict=True)),
        )

    def motion(self) -> Motion:
        """Put the pieces together."""
        plant, weight = self.plant, np.concatenate(self.weights)

        def whole(key: str) -> Lanes:
            return np.concatenate([getattr(each, key) for each in self.flows])

        speed, voltage, loads = whole("speed"), whole("voltage"), whole("loads")
        kinetic = plant.inertia / 2 * np.square(speed)
        charged = plant.capacitance / 2 * np.square(voltage)
        energies = Energies(
            **{
                key: float(weight @ whole(key))
                for key in ("shaft", "drive", "no_load", "winding", "diodes")
            },
            loads=weight @ loads,
            rotor=float(kinetic[-1] - kinetic[0]),
            bus=float(charged[-1] - charged[0]),
            supply=self._of_supply(weight),
        )
        return Motion(
            time=np.concatenate(self.times),
            speed=speed,
            voltage=voltage,
            current=whole("current"),
            share=whole("share"),
            receiver=whole("receiver"),
            watts=loads,
            tripped=self.tripped,
            energies=energies,
            steps=self.steps,
        )
