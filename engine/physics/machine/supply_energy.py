"""Where the work of the supply goes along a run of a `Plant`: receiver, valve, hose, and the flow.

Energy of a gas counts as its worth: the work that it gives as it expands to back pressure without
loss. So throttling is a loss, and what the model of the flow counts behind it fits on.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.physics.arrays import Array, Lanes


@dataclass(frozen=True)
class Worth:
    """Work of a kilogram of supply over its pressure, smooth."""

    spline: Any
    """Of scipy: J/kg over absolute pressure over the full one."""
    integral: Any
    lowest: float
    """Back pressure over full supply pressure [-]."""

    @classmethod
    def of(cls, *, pressure: Array, work: Array) -> "Worth":
        """Make it of nodes that rise from back pressure, where the work is 0."""
        from scipy.interpolate import CubicSpline  # noqa: PLC0415  not for a check

        spline = CubicSpline(np.asarray(pressure), np.asarray(work))
        return cls(spline, spline.antiderivative(), float(np.asarray(pressure)[0]))

    def at(self, pressure: Array) -> Lanes:
        """Work of a kilogram at pressures over the full one [J/kg]; none below back pressure."""
        return np.asarray(self.spline(np.maximum(pressure, self.lowest)))

    def held(self, pressure: float) -> float:
        """Work that a vessel as warm as its walls gives, over its mass at full pressure [J/kg]."""
        top = max(pressure, self.lowest)
        return float(self.integral(top) - self.integral(self.lowest))

    def blown(self, pressure: float, exponent: float) -> float:
        """Work that a vessel which takes no heat gives, over its mass at full pressure [J/kg]."""
        back, k = self.lowest, exponent
        whole = float(self.at(1.0)) / (1 - back ** ((k - 1) / k)) / k
        p = max(pressure, back)
        return float(whole * (p - k * p * (back / p) ** ((k - 1) / k) + (k - 1) * back))


@dataclass(frozen=True)
class SupplySide:
    """What a plant needs so that the work of its supply can be followed."""

    worth: Worth
    names: tuple[str, ...]
    """Losses between supply and shaft."""
    split: Lanes
    """(loss, pressure, speed) their shares of all that is lost there, at the nodes of the maps."""


@dataclass(frozen=True)
class SupplyFlows:
    """Powers on the way to the shaft at some times, (time,) [W]."""

    came: Lanes
    """From the compressor, or from a supply without end."""
    drawn: Lanes
    """Out of the receiver."""
    regulator: Lanes
    valve: Lanes
    """Into the valve less out of the hose, which gives or takes."""
    lost: Lanes
    """(time, loss) in the flow and on the shaft, up to its end."""


@dataclass(frozen=True)
class SupplyEnergies:
    """Where the work of the supply went along a run [J]."""

    came: float
    """From the compressor, or from a supply without end."""
    receiver: float
    """What the receiver gave of its own."""
    hose: float
    """What the hose gave of its own, from the trip on."""
    drawn: float
    """Out of the receiver, or of the supply without end."""
    regulator: float
    valve: float
    """Throttled as the valve shuts, and in the hose."""
    lost: dict[str, float]
    """In the flow and on the shaft, by loss."""

    @property
    def given(self) -> float:
        """All that came in."""
        return self.came + self.receiver + self.hose

    @property
    def shaft(self) -> float:
        """What is left at the end of the shaft."""
        return self.given - self.regulator - self.valve - sum(self.lost.values())


@dataclass(frozen=True)
class Passage:
    """What goes from the supply to the nozzles at some times, (time,)."""

    fed: Lanes
    """Pressure before the valve over the full one [-]."""
    nozzles: Lanes
    """Pressure before the nozzles over the full one [-]."""
    into: Lanes
    """Flow into the valve [kg/s]."""
    went: Lanes
    """Flow into the nozzles [kg/s]."""
    warmth: Lanes
    """Temperature in the hose over that of the supply [-]."""
    receiver: Lanes | None
    """Pressure of the receiver over the full one [-]; None without one."""
    comes: Lanes
    """Flow of its compressor [kg/s]."""


def supply_flows(*, side: SupplySide, passage: Passage, shaft: Array, split: Array) -> SupplyFlows:
    """Find the powers on the way to the shaft at some moments.

    Parameters
    ----------
    side : SupplySide
        The supply.
    passage : Passage
        What goes from it to the nozzles, (time,).
    shaft : Array
        Power at the end of the shaft, (time,) [W].
    split : Array
        Share of each loss between nozzles and shaft, (time, loss) [-], as `shares_between` gives.

    Returns
    -------
    SupplyFlows
        (time,); NaN where a state is.

    References
    ----------
    Derived here from `plant`. What the flow loses is what comes to the nozzles less what the shaft
    has; how much of it is lost where is read from the model at the nodes of the map.

    """
    source = passage.fed if passage.receiver is None else passage.receiver
    drawn = passage.into * side.worth.at(source)
    passed = passage.into * side.worth.at(passage.fed)
    arrives = passage.went * passage.warmth * side.worth.at(passage.nozzles)
    came = drawn if passage.receiver is None else passage.comes * side.worth.at(source)
    return SupplyFlows(
        came=came,
        drawn=drawn,
        regulator=drawn - passed,
        valve=passed - arrives,
        lost=np.asarray(arrives - shaft)[:, None] * split,
    )


def shares_between(
    *, side: SupplySide, row: NDArray[np.int64], along: Array, nodes: Array, place: Array
) -> Lanes:
    """Read the shares of each loss between the nodes of a map; linear, so that they add up.

    Parameters
    ----------
    side : SupplySide
        The supply.
    row : NDArray
        Pressure of the map below each moment's, (time,).
    along : Array
        How far it is from there to the next, (time,) [-].
    nodes : Array
        Speeds of the map, (node,), over its highest [-].
    place : Array
        Speed of each moment over that, (time,) [-].

    Returns
    -------
    Lanes
        (time, loss) [-].

    References
    ----------
    Definition.

    """
    nodes, at = np.asarray(nodes), np.clip(place, np.min(nodes), np.max(nodes))
    node = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, len(nodes) - 2)
    past = (at - nodes[node]) / (nodes[node + 1] - nodes[node])
    low, high = (
        side.split[:, row + by, node] * (1 - past) + side.split[:, row + by, node + 1] * past
        for by in (0, 1)
    )
    return np.asarray((low * (1 - np.asarray(along)) + high * along).T)
