"""Where the work of the supply goes along a run of a `Plant`: receiver, valve, hose, and the flow.

Energy of a gas counts as its worth: the work that it gives as it expands to back pressure without
loss. So throttling is a loss, and what the model of the flow counts behind it fits on.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.physics.arrays import Array, Lanes

if TYPE_CHECKING:
    from engine.physics.machine.plant import Flows, Plant, Stage


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

        spline = CubicSpline(pressure, work)
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
        return whole * (p - k * p * (back / p) ** ((k - 1) / k) + (k - 1) * back)


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


def supply_flows(
    *, plant: "Plant", side: SupplySide, stage: "Stage", found: "Flows", valve: tuple[Lanes, ...]
) -> SupplyFlows:
    """Find the powers on the way to the shaft at some moments.

    Parameters
    ----------
    plant : Plant
        The machine.
    side : SupplySide
        Its supply.
    stage : Stage
        Whether the compressor runs.
    found : Flows
        What flows at these moments, (time,).
    valve : tuple[Lanes, ...]
        Of these moments, (time,): share of pressure before the valve, mass flow into it and into
        the nozzles [kg/s], and temperature in the hose over that of the supply.

    Returns
    -------
    SupplyFlows
        (time,); NaN where a state is.

    References
    ----------
    Derived here from `plant`. What the flow loses is what comes to the nozzles less what the shaft
    has; how much of it is lost where is read from the model at the nodes of the map.

    """
    back = plant.hose.back_share
    fed, into, went, warmth = valve
    receiver = found.receiver if np.isfinite(plant.receiver.mass) else back + fed * (1 - back)
    drawn = into * side.worth.at(receiver)
    passed = into * side.worth.at(back + fed * (1 - back))
    arrives = went * warmth * side.worth.at(back + found.share * (1 - back))
    came = drawn
    if np.isfinite(plant.receiver.mass):
        comes = plant.receiver.comes(found.receiver, delivers=stage.delivers)
        came = comes * side.worth.at(found.receiver)
    lost = arrives - found.shaft
    return SupplyFlows(
        came=came,
        drawn=drawn,
        regulator=drawn - passed,
        valve=passed - arrives,
        lost=lost[:, None] * _shares(plant, side, found.speed, found.share),
    )


def _shares(plant: "Plant", side: SupplySide, speed: Lanes, share: Lanes) -> Lanes:
    """Read the shares of each loss, (time, loss): linear in pressure and speed, so they add up."""
    row, along = plant.between(share)
    nodes, top = plant.torque.share, float(plant.torque.top[0])
    place = np.clip(speed / top, nodes[0], nodes[-1])
    node = np.clip(np.searchsorted(nodes, place, side="right") - 1, 0, len(nodes) - 2)
    past = (place - nodes[node]) / (nodes[node + 1] - nodes[node])
    low, high = (
        side.split[:, row + by, node] * (1 - past) + side.split[:, row + by, node + 1] * past
        for by in (0, 1)
    )
    return np.asarray((low * (1 - along) + high * along).T)
