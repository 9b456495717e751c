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

    Enthalpy is zero at the supply temperature T_0 and zero pressure: c (T - T_0) + p / rho. An
    isentropic change keeps the temperature. More than 30 K from the supply temperature every
    property is NaN.
    """

    name: str
    density_value: float
    """Density [kg/m3]."""
    heat_capacity: float
    """Specific heat capacity [J/(kg K)]."""
    temperature_zero: float
    """Supply temperature [K]."""
    log_viscosity_fit: tuple[float, ...]
    """Natural logarithm of the dynamic viscosity [Pa s] in ascending powers of T - T_0."""
    vapour_pressure: float
    """Vapour pressure at the supply temperature [Pa]; 0 where it is not known."""

    @cached_property
    def record(self) -> FluidRecord:
        """The fluid as the kernels read it."""
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
