"""A gas far from condensation, described by fitted polynomials."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.physics.arrays import Array, Lanes, as_lanes
from engine.physics.compiled import PACK, entry, put, table, take
from engine.physics.fluids.fluid import FluidRecord, Kind
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.fluids.gas_kernel import ENTROPY_FROM, ENTROPY_TERMS, TERMS, gas_enthalpies
from engine.physics.fluids.gas_kernel import Fit as Column

Fit = tuple[float, ...]
"""Coefficients in ascending powers of the reduced enthalpy z, at most `TERMS`."""


@entry
def _read_enthalpies(record: FluidRecord, given: Lanes, out: Lanes) -> None:
    """Read enthalpies pack by pack; rows of `given`: pressure and temperature."""
    states, found, n = table(2, PACK), table(1, PACK), given.shape[1]
    for start in range(0, n, PACK):
        take(given, start, n, states)
        gas_enthalpies(record, states[0], states[1], found[0])
        put(found, start, n, out)


@dataclass(frozen=True)
class Gas(Fluid):
    """A nearly ideal gas whose heat capacity depends on temperature.

    Every property is a polynomial in the reduced enthalpy z = (h - h_mid) / h_half, -1 <= z <= 1
    over the fitted range, plus a polynomial times pressure. So a state given by pressure and
    enthalpy needs no iteration. The terms in pressure follow from the second virial coefficient.
    Outside the fitted range every property is NaN.
    """

    name: str
    gas_constant: float
    """Specific gas constant [J/(kg K)]."""
    h_mid: float
    """Enthalpy in the middle of the fitted range [J/kg]."""
    h_half: float
    """Half the span of the fitted range [J/kg]."""
    temperature_fit: Fit
    """Temperature at zero pressure [K]."""
    cooling_fit: Fit
    """Joule-Thomson coefficient: derivative of temperature with pressure, same enthalpy [K/Pa]."""
    crowding_fit: Fit
    """Derivative of ln(density over ideal-gas density) with pressure, same enthalpy [1/Pa]."""
    entropy_log: float
    """Heat capacity in the logarithmic term of the entropy, which is not fitted [J/(kg K)]."""
    entropy_fit: Fit
    """Rest of the integral of cp dT / T [J/(kg K)], at most `ENTROPY_TERMS` terms."""
    viscosity_fit: Fit
    """Dynamic viscosity at zero pressure [Pa s]."""
    thickening_fit: Fit
    """Derivative of viscosity with pressure, same enthalpy [s]."""

    @cached_property
    def record(self) -> FluidRecord:
        """The fluid as the kernels read it."""
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
        given, shape = as_lanes(pressure, temperature)
        found = np.empty((1, given[0].size))
        _read_enthalpies(self.record, np.stack(given), found)
        return found.reshape(shape)


def _slope(coefficients: Fit) -> Fit:
    return tuple(k * c for k, c in enumerate(coefficients))[1:]
