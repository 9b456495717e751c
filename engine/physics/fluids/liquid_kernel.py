"""Properties of a liquid of constant density, one state at a time; see `liquid.Liquid`."""

import math

from engine.physics.compiled import compiled
from engine.physics.fluids.fluid import FluidRecord

FITTED_OVER = 30.0
"""Largest difference from the supply temperature for which viscosity is known [K]."""
DENSITY, HEAT_CAPACITY, TEMPERATURE_ZERO, VAPOUR_PRESSURE, VISCOSITY_FROM = range(5)
"""Indices in `numbers`; the coefficients of ln(viscosity) in powers of T - T_0 fill the rest."""


@compiled
def _warmer(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Temperature less that of the supply [K]; NaN outside the range."""
    heat = enthalpy - pressure / record.numbers[DENSITY]
    warmer = heat / record.numbers[HEAT_CAPACITY]
    return warmer if abs(warmer) <= FITTED_OVER else math.nan


@compiled
def liquid_temperature(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Temperature [K]."""
    return _warmer(record, pressure, enthalpy) + record.numbers[TEMPERATURE_ZERO]


@compiled
def liquid_density(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Density [kg/m3], the same everywhere."""
    return 0 * _warmer(record, pressure, enthalpy) + record.numbers[DENSITY]


@compiled
def liquid_viscosity(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Dynamic viscosity [Pa s]."""
    warmer, logarithm = _warmer(record, pressure, enthalpy), 0.0
    for power in range(record.numbers.size - 1, VISCOSITY_FROM - 1, -1):
        logarithm = logarithm * warmer + record.numbers[power]
    return math.exp(logarithm)


@compiled
def liquid_state(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float, float, float, float]:
    """Density, its derivatives (zero), viscosity and speed of sound (infinite)."""
    viscosity = liquid_viscosity(record, pressure, enthalpy)
    none = 0 * viscosity
    return record.numbers[DENSITY] + none, none, none, viscosity, math.inf + none


@compiled
def liquid_isentropic(
    record: FluidRecord, pressure: float, enthalpy: float, end_pressure: float
) -> float:
    """Enthalpy after an isentropic change [J/kg]."""
    return enthalpy + (end_pressure - pressure) / record.numbers[DENSITY]


@compiled
def liquid_critical_pressure(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Lowest possible pressure in a throat [Pa]: there the liquid boils."""
    return 0 * _warmer(record, pressure, enthalpy) + record.numbers[VAPOUR_PRESSURE]
