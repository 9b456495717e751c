"""A gas far from condensing, as one bundle of fitted numbers."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import compiled
from engine.physics.fluids.fluid import FluidRecord, Kind
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.fluids.gas_kernel import ENTROPY_FROM, ENTROPY_TERMS, TERMS, gas_enthalpy
from engine.physics.fluids.gas_kernel import Fit as Column

Fit = tuple[float, ...]
"""Ascending powers of the reduced enthalpy z, `TERMS` of them at most."""


@compiled
def _read_enthalpy(record: FluidRecord, pressure: Lanes, temperature: Lanes, out: Lanes) -> None:
    for i in range(pressure.size):
        out[i] = gas_enthalpy(record, pressure[i], temperature[i])


@dataclass(frozen=True)
class Gas(Fluid):
    """A gas whose heat capacity depends on temperature and that departs from the ideal a little.

    Every property is a polynomial of one reduced variable z = (h - h_mid) / h_half, -1 <= z <= 1
    over the fitted range, plus its first slope with pressure: a state given by pressure and
    enthalpy needs no iteration. The slopes are those of the second virial coefficient. Outside the
    fitted range every property is NaN.
    """

    name: str
    gas_constant: float
    """Specific gas constant [J/(kg K)]."""
    h_mid: float
    """Enthalpy at the middle of the fit [J/kg]."""
    h_half: float
    """Half of the fitted enthalpy span [J/kg]."""
    temperature_fit: Fit
    """Temperature of the thin gas [K]."""
    cooling_fit: Fit
    """Slope of temperature with pressure at constant enthalpy (Joule and Thomson) [K/Pa]."""
    crowding_fit: Fit
    """Slope of ln(density over that of the thin gas) with pressure at constant enthalpy [1/Pa]."""
    entropy_log: float
    """Heat capacity [J/(kg K)] whose logarithmic part of the entropy is taken exactly."""
    entropy_fit: Fit
    """Rest of the integral of cp dT / T [J/(kg K)], `ENTROPY_TERMS` at most."""
    viscosity_fit: Fit
    """Dynamic viscosity of the thin gas [Pa s]."""
    thickening_fit: Fit
    """Slope of viscosity with pressure at constant enthalpy [s]."""

    @cached_property
    def record(self) -> FluidRecord:
        """The fluid as compiled code reads it."""
        fits = {
            Column.TEMPERATURE: self.temperature_fit,
            Column.HEATING: tuple(c / self.h_half for c in _slope(self.temperature_fit)),
            Column.CROWDING: self.crowding_fit,
            Column.CROWDING_SLOPE: tuple(c / self.h_half for c in _slope(self.crowding_fit)),
            Column.VISCOSITY: self.viscosity_fit,
            Column.THICKENING: self.thickening_fit,
            Column.COOLING: self.cooling_fit,
        }
        series = np.zeros((TERMS, len(Column)))
        for column, fit in fits.items():
            series[: len(fit), column] = fit
        numbers = np.zeros(ENTROPY_FROM + ENTROPY_TERMS)
        numbers[:ENTROPY_FROM] = self.gas_constant, self.h_mid, self.h_half, self.entropy_log
        numbers[ENTROPY_FROM : ENTROPY_FROM + len(self.entropy_fit)] = self.entropy_fit
        none = np.zeros((1, 1, 1))
        return FluidRecord(int(Kind.GAS), numbers, series, none, none)

    def enthalpy(self, *, pressure: Array, temperature: Array) -> Lanes:
        """Enthalpy [J/kg] at a pressure [Pa] and temperature [K]."""
        (p, t), shape = as_lanes(pressure, temperature)
        found = np.empty_like(p)
        _read_enthalpy(self.record, p, t, found)
        return found.reshape(shape)


def _slope(coefficients: Fit) -> Fit:
    return tuple(k * c for k, c in enumerate(coefficients))[1:]
