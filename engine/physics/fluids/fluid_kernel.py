"""Properties of any fluid from its record: of one state, of a pack of states, of arrays.

A gas is read as a pack. Vapours and liquids are read state by state.
"""

import math
from abc import ABC, abstractmethod

import numpy as np

from engine.physics.arrays import Array, Lanes, is_repeated, repeated
from engine.physics.compiled import PACK, compiled, entry, put, shared, table, take
from engine.physics.fluids.fluid import FluidRecord, FluidState, Kind
from engine.physics.fluids.gas_kernel import (
    gas_critical_pressures,
    gas_densities,
    gas_densities_viscosities,
    gas_density,
    gas_isentropics,
    gas_state,
    gas_states,
    gas_temperatures,
)
from engine.physics.fluids.liquid_kernel import (
    liquid_critical_pressure,
    liquid_density,
    liquid_isentropic,
    liquid_state,
    liquid_temperature,
    liquid_viscosity,
)
from engine.physics.fluids.vapour_kernel import (
    height_over_dew,
    vapour_critical_pressure,
    vapour_density,
    vapour_density_viscosity,
    vapour_isentropic,
    vapour_quality,
    vapour_state,
    vapour_state_across,
    vapour_temperature,
    vapour_throat_pressure,
)

_GAS, _VAPOUR = int(Kind.GAS), int(Kind.VAPOUR)
_TEMPERATURE, _DENSITY, _VISCOSITY, _QUALITY, _STATE, _ISENTROPIC, _CRITICAL = range(7)


@shared
def fluid_state(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float, float, float, float]:
    """Density, its derivatives with pressure and enthalpy, viscosity and speed of sound, SI."""
    if record.kind == _GAS:
        return gas_state(record, pressure, enthalpy)
    if record.kind == _VAPOUR:
        return vapour_state(record, pressure, enthalpy)
    return liquid_state(record, pressure, enthalpy)


@shared
def fluid_density(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Density [kg/m3]."""
    if record.kind == _GAS:
        return gas_density(record, pressure, enthalpy)
    if record.kind == _VAPOUR:
        return vapour_density(record, pressure, enthalpy)
    return liquid_density(record, pressure, enthalpy)


@compiled
def fluid_temperatures(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """Temperatures of a pack of states [K]."""
    if record.kind == _GAS:
        gas_temperatures(record, pressure, enthalpy, out)
        return
    for i in range(PACK):
        if record.kind == _VAPOUR:
            out[i] = vapour_temperature(record, pressure[i], enthalpy[i])
        else:
            out[i] = liquid_temperature(record, pressure[i], enthalpy[i])


@compiled
def fluid_qualities(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """Shares of the mass of a pack of states that are vapour [-]: 1 of a gas, NaN of a liquid."""
    if record.kind == _GAS:
        gas_temperatures(record, pressure, enthalpy, out)
        for i in range(PACK):
            out[i] = 0 * out[i] + 1
        return
    for i in range(PACK):
        vapour = record.kind == _VAPOUR
        out[i] = vapour_quality(record, pressure[i], enthalpy[i]) if vapour else math.nan


@shared
def isentropic_enthalpies(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, end_pressure: Lanes, end: Lanes
) -> None:
    """Enthalpies of a pack of states after isentropic changes to other pressures [J/kg]."""
    if record.kind == _GAS:
        gas_isentropics(record, pressure, enthalpy, end_pressure, end)
        return
    for i in range(PACK):
        p, h, to = pressure[i], enthalpy[i], end_pressure[i]
        if record.kind == _VAPOUR:
            end[i] = vapour_isentropic(record, p, h, to)
        else:
            end[i] = liquid_isentropic(record, p, h, to)


@compiled
def critical_pressures(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, critical: Lanes
) -> None:
    """Throat pressures at which flow from a pack of stagnation states chokes [Pa]."""
    if record.kind == _GAS:
        gas_critical_pressures(record, pressure, enthalpy, critical)
        return
    for i in range(PACK):
        if record.kind == _VAPOUR:
            critical[i] = vapour_critical_pressure(record, pressure[i], enthalpy[i])
        else:
            critical[i] = liquid_critical_pressure(record, pressure[i], enthalpy[i])


@shared
def throat_pressures(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, behind: Lanes, throat: Lanes
) -> None:
    """Pressures in throats of a pack: those behind, or the critical ones where these are higher."""
    if record.kind == _VAPOUR:
        for i in range(PACK):
            throat[i] = vapour_throat_pressure(record, pressure[i], enthalpy[i], behind[i])
        return
    critical_pressures(record, pressure, enthalpy, throat)
    for i in range(PACK):
        lost = math.isnan(throat[i]) or math.isnan(behind[i])
        throat[i] = math.nan if lost else max(behind[i], throat[i])


@shared
def fluid_densities(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """Densities of a pack of states [kg/m3]."""
    if record.kind == _GAS:
        gas_densities(record, pressure, enthalpy, out)
        return
    for i in range(PACK):
        out[i] = fluid_density(record, pressure[i], enthalpy[i])


@shared
def fluid_densities_viscosities(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, density: Lanes, viscosity: Lanes
) -> None:
    """Densities [kg/m3] and viscosities [Pa s] of a pack of states."""
    if record.kind == _GAS:
        gas_densities_viscosities(record, pressure, enthalpy, density, viscosity)
        return
    for i in range(PACK):
        p, h = pressure[i], enthalpy[i]
        if record.kind == _VAPOUR:
            density[i], viscosity[i] = vapour_density_viscosity(record, p, h)
        else:
            density[i], viscosity[i] = liquid_density(record, p, h), liquid_viscosity(record, p, h)


@shared
def fluid_states(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """States of a pack: five rows in the order of `fluid_state`."""
    if record.kind == _GAS:
        gas_states(record, pressure, enthalpy, out)
        return
    for i in range(PACK):
        out[0, i], out[1, i], out[2, i], out[3, i], out[4, i] = fluid_state(
            record, pressure[i], enthalpy[i]
        )


@compiled
def fluid_states_on_way(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, height: Lanes, out: Lanes
) -> None:
    """States of a pack as `fluid_states` gives them, at the end of a step of a march each.

    Derivatives of a vapour are means over a step about the state. `height` holds its enthalpy above
    the dew line at the last station, NaN where there is none, and is set to that here.
    """
    if record.kind != _VAPOUR:
        fluid_states(record, pressure, enthalpy, out)
        return
    for i in range(PACK):
        p, h = pressure[i], enthalpy[i]
        here = height_over_dew(record, p, h)
        width, height[i] = abs(here - height[i]), here
        out[0, i], out[1, i], out[2, i], out[3, i], out[4, i] = vapour_state_across(
            record, p, h, here, width
        )


@entry
def _read(record: FluidRecord, wanted: int, given: Lanes, out: Lanes) -> None:
    """Read properties of an array of states, pack by pack.

    One function for all properties: each compiled function costs a short command 20 to 80 ms to
    load. Rows of `given`: pressure, enthalpy, end pressure.
    """
    states, found, n = table(3, PACK), table(5, PACK), given.shape[1]
    for start in range(0, n, PACK):
        take(given, start, n, states)
        p, h = states[0], states[1]
        # Properties read as a pack.
        if wanted == _STATE:
            fluid_states(record, p, h, found)
        elif wanted == _ISENTROPIC:
            isentropic_enthalpies(record, p, h, states[2], found[0])
        elif wanted == _CRITICAL:
            critical_pressures(record, p, h, found[0])
        elif wanted == _DENSITY:
            fluid_densities(record, p, h, found[0])
        # Properties read state by state.
        elif wanted == _TEMPERATURE:
            fluid_temperatures(record, p, h, found[0])
        elif wanted == _QUALITY:
            fluid_qualities(record, p, h, found[0])
        else:
            fluid_densities_viscosities(record, p, h, found[1], found[0])
        put(found[: out.shape[0]], start, n, out)


class Fluid(ABC):
    """A working fluid at (pressure [Pa], static enthalpy [J/kg]); NaN outside its range.

    Works elementwise on arrays that broadcast.
    """

    @property
    @abstractmethod
    def record(self) -> FluidRecord:
        """The fluid as the kernels read it."""

    def temperature(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Temperature [K]."""
        return self._read(_TEMPERATURE, 1, pressure, enthalpy)[0]

    def density(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Density [kg/m3]."""
        return self._read(_DENSITY, 1, pressure, enthalpy)[0]

    def viscosity(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Dynamic viscosity [Pa s]."""
        return self._read(_VISCOSITY, 1, pressure, enthalpy)[0]

    def sound_speed(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Speed of sound [m/s]; infinite in a liquid of constant density."""
        return self.state(pressure=pressure, enthalpy=enthalpy).sound_speed

    def quality(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Share of the mass that is vapour [-]; 1 for a gas, NaN for a liquid."""
        return self._read(_QUALITY, 1, pressure, enthalpy)[0]

    def state(self, *, pressure: Array, enthalpy: Array) -> FluidState:
        """Density, its derivatives, viscosity and speed of sound in one call."""
        return FluidState(*self._read(_STATE, 5, pressure, enthalpy))

    def isentropic_enthalpy(
        self, *, pressure: Array, enthalpy: Array, end_pressure: Array
    ) -> Lanes:
        """Enthalpy [J/kg] after an isentropic change from (pressure, enthalpy) to end_pressure."""
        return self._read(_ISENTROPIC, 1, pressure, enthalpy, end_pressure)[0]

    def critical_pressure(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Throat pressure [Pa] at which the flow from a stagnation state chokes."""
        return self._read(_CRITICAL, 1, pressure, enthalpy)[0]

    def _read(
        self, wanted: int, n_rows: int, pressure: Array, enthalpy: Array, end_pressure: Array = 0.0
    ) -> tuple[Lanes, ...]:
        asked = [np.asarray(each) for each in (pressure, enthalpy, end_pressure)]
        shape = asked[0].shape
        if shape and shape[0] > 1 and all(not a.shape or is_repeated(a) for a in asked):
            once = (a[:1] if a.shape else a for a in asked)  # one state throughout
            return tuple(repeated(found, shape[0]) for found in self._read(wanted, n_rows, *once))
        if any(each.shape not in (shape, ()) for each in asked):
            shape = np.broadcast_shapes(*(each.shape for each in asked))
        given = np.empty((3, *shape))
        for row, each in enumerate(asked):
            given[row] = each
        given = given.reshape(3, -1)
        found = np.empty((n_rows, given.shape[1]))
        _read(self.record, wanted, given, found)
        return tuple(found.reshape(n_rows, *shape))
