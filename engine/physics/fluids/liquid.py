"""A liquid of constant density."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.fluids.fluid import FluidRecord, Kind
from engine.physics.fluids.fluid_kernel import Fluid


@dataclass(frozen=True)
class Liquid(Fluid):
    """An incompressible liquid whose viscosity depends on temperature.

    Enthalpy is counted from the supply temperature at no pressure: c (T - T_0) + p / rho. An
    isentropic change keeps the temperature. Farther than 30 K from the supply every property is
    NaN.
    """

    name: str
    density_value: float
    """Density [kg/m3]."""
    heat_capacity: float
    """[J/(kg K)]."""
    temperature_zero: float
    """Supply temperature [K]."""
    log_viscosity_fit: tuple[float, ...]
    """Natural logarithm of the dynamic viscosity [Pa s] in ascending powers of T - T_0."""
    vapour_pressure: float
    """Pressure at which it boils at supply temperature [Pa]; 0 where it is not known."""

    @cached_property
    def record(self) -> FluidRecord:
        """The fluid as compiled code reads it."""
        numbers = (
            self.density_value,
            self.heat_capacity,
            self.temperature_zero,
            self.vapour_pressure,
            *self.log_viscosity_fit,
        )
        none = np.zeros((1, 1, 1))
        return FluidRecord(int(Kind.LIQUID), np.array(numbers), none[0], none, none)

    def enthalpy(self, *, pressure: Array, temperature: Array) -> Lanes:
        """Enthalpy [J/kg] at a pressure [Pa] and temperature [K]."""
        warmer = np.asarray(temperature) - self.temperature_zero
        return np.asarray(self.heat_capacity * warmer + pressure / self.density_value)
