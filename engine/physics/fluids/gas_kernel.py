"""Properties of a gas from its fitted polynomials, of a state or a pack; see `gas.Gas`.

Math functions such as `log` stand in loops of their own: a library call keeps the compiler from
turning a loop over a pack into vector instructions.
"""

import math
from enum import IntEnum

from engine.physics.arrays import Lanes
from engine.physics.compiled import PACK, compiled, inlined, line, root, table
from engine.physics.fluids.fluid import FluidRecord

TERMS, ENTROPY_TERMS = 9, 15
"""Terms of every fit, and of the fit of the entropy. Fixed, so that the compiler unrolls the loops
and reads packs as vectors. The march does not need entropy, so its fit may cost more."""
NEWTON_STEPS = 5
"""Most steps of Newton's method."""
SETTLED = 1e-5
"""Change of enthalpy over temperature [J/(kg K)] at which Newton's method ends: the error left is
of the order of its square."""
CONSTANT, H_MID, H_HALF, ENTROPY_LOG, ENTROPY_FROM = range(5)
"""Indices in `numbers`; the fit of the entropy fills the rest."""


class Fit(IntEnum):
    """Columns of `series`, in ascending powers of the reduced enthalpy; see the fields of `Gas`.

    `HEATING` and `CROWDING_SLOPE` are derivatives of `TEMPERATURE` and `CROWDING` with enthalpy.
    """

    TEMPERATURE = 0
    HEATING = 1
    CROWDING = 2
    CROWDING_SLOPE = 3
    VISCOSITY = 4
    THICKENING = 5
    COOLING = 6


_T, _HEATING, _CROWDING, _CROWDING_SLOPE, _VISCOSITY, _THICKENING, _COOLING = map(int, Fit)


@inlined
def _reduced(record: FluidRecord, enthalpy: float) -> float:
    """Reduced enthalpy z; NaN outside the fitted range."""
    z = (enthalpy - record.numbers[H_MID]) / record.numbers[H_HALF]
    return z if abs(z) <= 1 else math.nan


@inlined
def _kept(record: FluidRecord, enthalpy: float) -> float:
    """Enthalpy limited to the fitted range: iterates may leave it on their way to a solution."""
    middle, half = record.numbers[H_MID], record.numbers[H_HALF]
    if enthalpy > middle + half:
        return middle + half
    if enthalpy < middle - half:
        return middle - half
    return enthalpy


@inlined
def _fit(record: FluidRecord, z: float, column: int) -> float:
    """Value of one fit, by Horner's rule."""
    total = 0.0
    for power in range(TERMS - 1, -1, -1):
        total = total * z + record.series[power, column]
    return total


@inlined
def _temperature(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    z = _reduced(record, enthalpy)
    return _fit(record, z, _T) + pressure * _fit(record, z, _COOLING)


@compiled
def gas_temperatures(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """Temperatures of a pack of states [K]."""
    found = line(PACK)
    for i in range(PACK):
        found[i] = _temperature(record, pressure[i], enthalpy[i])
    for i in range(PACK):
        out[i] = found[i]


@inlined
def gas_density(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Density [kg/m3]."""
    z = _reduced(record, enthalpy)
    crowded = 1 + pressure * _fit(record, z, _CROWDING)
    return pressure / (record.numbers[CONSTANT] * _fit(record, z, _T)) * crowded


@inlined
def gas_viscosity(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Dynamic viscosity [Pa s]."""
    z = _reduced(record, enthalpy)
    return _fit(record, z, _VISCOSITY) + pressure * _fit(record, z, _THICKENING)


@inlined
def gas_state(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float, float, float, float]:
    """Density, its derivatives with pressure and enthalpy, viscosity and speed of sound."""
    z, constant = _reduced(record, enthalpy), record.numbers[CONSTANT]
    thin = heating = crowding = crowding_slope = viscosity = thickening = 0.0
    # All fits in one loop: one call of `_fit` after the other would make a march a tenth slower.
    for power in range(TERMS - 1, -1, -1):
        fits = record.series[power]
        thin = thin * z + fits[_T]
        heating = heating * z + fits[_HEATING]
        crowding = crowding * z + fits[_CROWDING]
        crowding_slope = crowding_slope * z + fits[_CROWDING_SLOPE]
        viscosity = viscosity * z + fits[_VISCOSITY]
        thickening = thickening * z + fits[_THICKENING]
    # Density = p / (R T) (1 + p crowding); derivative with pressure.
    ideal, crowded = 1 / (constant * thin), 1 + pressure * crowding
    density, by_pressure = pressure * ideal * crowded, ideal * (1 + 2 * pressure * crowding)
    # Derivative of ln(density) with enthalpy: this form saves a division.
    by_enthalpy = pressure * crowding_slope / crowded - constant * ideal * heating
    # 1 / a^2 is the derivative of density with pressure along an isentrope, dh = dp / density.
    sound = 1 / root(by_pressure + by_enthalpy)
    return density, by_pressure, by_enthalpy * density, viscosity + pressure * thickening, sound


@compiled
def gas_densities(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """Densities of a pack of states [kg/m3]."""
    found = line(PACK)
    for i in range(PACK):
        found[i] = gas_density(record, pressure[i], enthalpy[i])
    for i in range(PACK):
        out[i] = found[i]


@compiled
def gas_densities_viscosities(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, density: Lanes, viscosity: Lanes
) -> None:
    """Densities [kg/m3] and viscosities [Pa s] of a pack of states."""
    heavy, sticky = line(PACK), line(PACK)
    for i in range(PACK):
        heavy[i] = gas_density(record, pressure[i], enthalpy[i])
        sticky[i] = gas_viscosity(record, pressure[i], enthalpy[i])
    for i in range(PACK):
        density[i], viscosity[i] = heavy[i], sticky[i]


@compiled
def gas_states(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """States of a pack: five rows in the order of `gas_state`."""
    density, by_pressure, by_enthalpy = line(PACK), line(PACK), line(PACK)
    viscosity, sound = line(PACK), line(PACK)
    for i in range(PACK):
        density[i], by_pressure[i], by_enthalpy[i], viscosity[i], sound[i] = gas_state(
            record, pressure[i], enthalpy[i]
        )
    for i in range(PACK):
        out[0, i], out[1, i], out[2, i] = density[i], by_pressure[i], by_enthalpy[i]
        out[3, i], out[4, i] = viscosity[i], sound[i]


@compiled
def _entropies(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, entropy: Lanes, temperature: Lanes
) -> None:
    """Entropies without the term R ln p [J/(kg K)], and temperatures [K], of a pack of states."""
    numbers = record.numbers
    thin, warm, log = line(PACK), line(PACK), line(PACK)
    smooth, departure = line(PACK), line(PACK)
    for i in range(PACK):
        z, rest = _reduced(record, enthalpy[i]), 0.0
        for power in range(ENTROPY_TERMS - 1, -1, -1):
            rest = rest * z + numbers[ENTROPY_FROM + power]
        thin[i], cooling = _fit(record, z, _T), _fit(record, z, _COOLING)
        smooth[i], warm[i] = rest, thin[i] + pressure[i] * cooling
        # Consistent with the density: (ds/dp) at constant enthalpy is -1 / (density T).
        by_pressure = numbers[CONSTANT] * (_fit(record, z, _CROWDING) + cooling / thin[i])
        departure[i] = pressure[i] * by_pressure
    for i in range(PACK):
        log[i] = math.log(thin[i])
    for i in range(PACK):
        entropy[i] = numbers[ENTROPY_LOG] * log[i] + smooth[i] + departure[i]
        temperature[i] = warm[i]


@compiled
def gas_isentropics(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, end_pressure: Lanes, end: Lanes
) -> None:
    """Enthalpies after isentropic changes of a pack of states [J/kg]."""
    constant = record.numbers[CONSTANT]
    target, temperature, found = line(PACK), line(PACK), line(PACK)
    ratio, heating, exponent = line(PACK), line(PACK), line(PACK)
    kept, onward, moving = line(PACK), line(PACK), line(PACK)
    # First guess: expansion with constant heat capacity.
    _entropies(record, pressure, enthalpy, target, temperature)
    for i in range(PACK):
        heating[i] = _fit(record, _reduced(record, enthalpy[i]), _HEATING)
        ratio[i], exponent[i] = end_pressure[i] / pressure[i], constant * heating[i]
    for i in range(PACK):
        found[i], onward[i] = math.log(ratio[i]), ratio[i] ** exponent[i]
    for i in range(PACK):
        target[i] += constant * found[i]
        onward[i] = enthalpy[i] + temperature[i] / heating[i] * (onward[i] - 1)
        moving[i] = 1.0
    # Newton's method on entropy at the end pressure, until no lane moves any more.
    for _ in range(NEWTON_STEPS):
        for i in range(PACK):
            kept[i] = _kept(record, onward[i])
        _entropies(record, end_pressure, kept, found, temperature)
        left = 0.0
        for i in range(PACK):
            # dh = T ds at constant pressure.
            there = kept[i] + temperature[i] * (target[i] - found[i])
            far = abs(there - onward[i]) > SETTLED * temperature[i]
            onward[i] = there if moving[i] == 1 else onward[i]
            moving[i] = moving[i] if far else 0.0
        for i in range(PACK):
            left += moving[i]
        if left == 0:
            break
    # NaN where the end leaves the fitted range.
    for i in range(PACK):
        end[i] = onward[i] + 0 * _reduced(record, onward[i])


@compiled
def gas_critical_pressures(
    record: FluidRecord, pressure: Lanes, enthalpy: Lanes, critical: Lanes
) -> None:
    """Pressures in choked throats of a pack of stagnation states [Pa].

    p* = p (2 / (k + 1))^(k / (k - 1)) with the isentropic exponent k of the stagnation state. Its
    small change towards the throat changes the choked mass flux only to second order, because the
    flux has its maximum there.
    """
    states = table(5, PACK)
    gas_states(record, pressure, enthalpy, states)
    for i in range(PACK):
        density, sound = states[0, i], states[4, i]
        k = density * sound**2 / pressure[i]
        critical[i] = pressure[i] * (2 / (k + 1)) ** (k / (k - 1))


@compiled
def gas_enthalpies(record: FluidRecord, pressure: Lanes, temperature: Lanes, out: Lanes) -> None:
    """Enthalpies [J/kg] of a pack of states given by pressure [Pa] and temperature [K]."""
    found = line(PACK)
    for i in range(PACK):
        found[i] = record.numbers[H_MID]
    for _ in range(NEWTON_STEPS):
        for i in range(PACK):
            kept = _kept(record, found[i])
            slope = _fit(record, _reduced(record, kept), _HEATING)
            found[i] = kept - (_temperature(record, pressure[i], kept) - temperature[i]) / slope
    # NaN outside the fitted range.
    for i in range(PACK):
        out[i] = found[i] + 0 * _reduced(record, found[i])
