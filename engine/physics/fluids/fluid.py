"""What the flow asks of a fluid. Three kinds answer: `gas`, `vapour` and `liquid`."""

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

from engine.physics.arrays import Lanes


@dataclass(frozen=True)
class FluidState:
    """What a marching flow needs at one state."""

    density: Lanes  # [kg/m3]
    by_pressure: Lanes  # slope of density with pressure [s2/m2]
    by_enthalpy: Lanes  # slope of density with enthalpy [kg2/(m3 J)]
    viscosity: Lanes  # dynamic [Pa s]
    sound_speed: Lanes  # [m/s]


class Kind(IntEnum):
    """Which kernel reads a record."""

    GAS = 0
    VAPOUR = 1
    LIQUID = 2


class FluidRecord(NamedTuple):
    """A fluid as plain numbers, the same shape for every kind, so that code is compiled once."""

    kind: int
    numbers: Lanes  # single constants
    series: Lanes  # of one variable, (order, property) or (property, order) as the kind has it
    dry: Lanes  # of two variables, (order, order, property)
    expanding: Lanes
