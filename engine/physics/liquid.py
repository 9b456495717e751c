"""A liquid of constant density."""

from dataclasses import dataclass

import numpy as np

from engine.physics.arrays import Array, Lanes
from engine.physics.fluid import FluidState

FITTED_OVER = 30.0
"""Temperature on either side of the supply's up to which viscosity is known [K]."""


@dataclass(frozen=True)
class Liquid:
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

    def temperature(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Temperature [K] at a pressure [Pa] and enthalpy [J/kg]."""
        return self._warmer(pressure, enthalpy) + self.temperature_zero

    def density(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Density [kg/m3], the same everywhere."""
        return np.asarray(0 * self._warmer(pressure, enthalpy) + self.density_value)

    def viscosity(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Dynamic viscosity [Pa s] at a pressure [Pa] and enthalpy [J/kg]."""
        warmer = self._warmer(pressure, enthalpy)
        power = np.zeros_like(warmer)
        for coefficient in reversed(self.log_viscosity_fit):
            power = power * warmer + coefficient
        return np.asarray(np.exp(power))

    def sound_speed(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Speed of sound [m/s]: without bound, as density does not change."""
        return np.asarray(0 * self._warmer(pressure, enthalpy) + np.inf)

    def quality(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Share of vapour: none is followed, so NaN."""
        return np.asarray(0 * self._warmer(pressure, enthalpy) + np.nan)

    def state(self, *, pressure: Array, enthalpy: Array) -> FluidState:
        """Density with its slopes, which are none, viscosity and speed of sound."""
        density = self.density(pressure=pressure, enthalpy=enthalpy)
        return FluidState(
            density=density,
            by_pressure=0 * density,
            by_enthalpy=0 * density,
            viscosity=self.viscosity(pressure=pressure, enthalpy=enthalpy),
            sound_speed=self.sound_speed(pressure=pressure, enthalpy=enthalpy),
        )

    def isentropic_enthalpy(
        self, *, pressure: Array, enthalpy: Array, end_pressure: Array
    ) -> Lanes:
        """Enthalpy [J/kg] after a change without friction from (pressure, enthalpy)."""
        return np.asarray(enthalpy + (end_pressure - np.asarray(pressure)) / self.density_value)

    def critical_pressure(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Pressure [Pa] below which no throat can go: the liquid boils there."""
        return np.asarray(0 * self._warmer(pressure, enthalpy) + self.vapour_pressure)

    def enthalpy(self, *, pressure: Array, temperature: Array) -> Lanes:
        """Enthalpy [J/kg] at a pressure [Pa] and temperature [K]."""
        warmer = np.asarray(temperature) - self.temperature_zero
        return np.asarray(self.heat_capacity * warmer + pressure / self.density_value)

    def _warmer(self, pressure: Array, enthalpy: Array) -> Lanes:
        heat = np.asarray(enthalpy) - np.asarray(pressure) / self.density_value
        warmer = heat / self.heat_capacity
        return np.where(np.abs(warmer) <= FITTED_OVER, warmer, np.nan)
