"""The record of a fluid and the state read from it, for the three kinds of fluid."""

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

from engine.physics.arrays import Lanes


@dataclass(frozen=True)
class FluidState:
    """Properties that a march through a gap needs at one state."""

    density: Lanes  # [kg/m3]
    by_pressure: Lanes  # derivative of density with pressure [s2/m2]
    by_enthalpy: Lanes  # derivative of density with enthalpy [kg2/(m3 J)]
    viscosity: Lanes  # dynamic [Pa s]
    sound_speed: Lanes  # [m/s]


class Kind(IntEnum):
    """Kind of fluid: which kernel reads its record."""

    GAS = 0
    VAPOUR = 1
    LIQUID = 2


class FluidRecord(NamedTuple):
    """A fluid as plain numbers, the same shape for every kind, so that code is compiled once."""

    kind: int
    numbers: Lanes  # single constants
    series: Lanes  # in one variable: (order, property) for a gas, (property, order) for a vapour
    dry: Lanes  # vapour, in pressure and enthalpy: (order, order, property)
    expanding: Lanes  # vapour, in pressure and entropy: (order, order, property)
