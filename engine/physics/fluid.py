"""What the flow asks of a fluid. Three kinds answer: `gas`, `vapour` and `liquid`."""

from dataclasses import dataclass
from typing import Protocol

from engine.physics.arrays import Array, Lanes


@dataclass(frozen=True)
class FluidState:
    """What a marching flow needs at one state."""

    density: Lanes  # [kg/m3]
    by_pressure: Lanes  # slope of density with pressure [s2/m2]
    by_enthalpy: Lanes  # slope of density with enthalpy [kg2/(m3 J)]
    viscosity: Lanes  # dynamic [Pa s]
    sound_speed: Lanes  # [m/s]


class GapFluid(Protocol):
    """Properties at (pressure [Pa], static enthalpy [J/kg]), elementwise on arrays."""

    def density(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Density [kg/m3]."""

    def state(self, *, pressure: Array, enthalpy: Array) -> FluidState:
        """Density and its slopes with pressure and enthalpy, with all else, in one go."""

    def viscosity(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Dynamic viscosity [Pa s]."""

    def sound_speed(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Speed of sound [m/s]."""


class Fluid(GapFluid, Protocol):
    """A working fluid from supply to exhaust; NaN outside its range, lane by lane."""

    def temperature(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Temperature [K]."""

    def quality(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Share of the mass that is vapour [-]; 1 for a gas, NaN for what is liquid only."""

    def isentropic_enthalpy(
        self, *, pressure: Array, enthalpy: Array, end_pressure: Array
    ) -> Lanes:
        """Enthalpy [J/kg] after an isentropic change from (pressure, enthalpy) to end_pressure."""

    def critical_pressure(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Throat pressure [Pa] at which flow from a stagnation state chokes."""
