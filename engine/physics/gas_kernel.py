"""A gas of fitted polynomials, one state at a time; `gas.Gas` says what the numbers are."""

import math
from enum import IntEnum

from engine.physics.arrays import Lanes
from engine.physics.compiled import carray, compiled, inlined, reserved, root
from engine.physics.fluid import FluidRecord

PACK = 8
"""States that are read together, in the lanes of vector registers."""
NEWTON_STEPS = 5
SETTLED = 1e-5
"""Change of enthalpy over temperature [J/(kg K)] after which the next would be of its square."""
CONSTANT, H_MID, H_HALF, ENTROPY_LOG, ENTROPY_FROM = range(5)
"""Places in `numbers`; the fit of the entropy fills the rest."""


class Fit(IntEnum):
    """Columns of `series`, in ascending powers of the reduced enthalpy."""

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
    z = (enthalpy - record.numbers[H_MID]) / record.numbers[H_HALF]
    return z if abs(z) <= 1 else math.nan


@compiled
def _kept(record: FluidRecord, enthalpy: float) -> float:
    # Iterates may step just outside the fit on their way to a solution inside it.
    middle, half = record.numbers[H_MID], record.numbers[H_HALF]
    if enthalpy > middle + half:
        return middle + half
    if enthalpy < middle - half:
        return middle - half
    return enthalpy


@inlined
def _pair(record: FluidRecord, z: float, first: int, second: int) -> tuple[float, float]:
    fits = record.series
    one = two = 0.0
    for power in range(fits.shape[0] - 1, -1, -1):
        one = one * z + fits[power, first]
        two = two * z + fits[power, second]
    return one, two


@inlined
def _density_of_fits(constant: float, pressure: float, thin: float, crowding: float) -> float:
    return pressure / (constant * thin) * (1 + pressure * crowding)


@compiled
def gas_temperature(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Temperature [K]."""
    thin, cooling = _pair(record, _reduced(record, enthalpy), _T, _COOLING)
    return thin + pressure * cooling


@compiled
def gas_density(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Density [kg/m3]."""
    thin, crowding = _pair(record, _reduced(record, enthalpy), _T, _CROWDING)
    return _density_of_fits(record.numbers[CONSTANT], pressure, thin, crowding)


@compiled
def gas_viscosity(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Dynamic viscosity [Pa s]."""
    thin, thickening = _pair(record, _reduced(record, enthalpy), _VISCOSITY, _THICKENING)
    return thin + pressure * thickening


@compiled
def gas_density_viscosity(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float]:
    """Density [kg/m3] and dynamic viscosity [Pa s], read together."""
    z, fits = _reduced(record, enthalpy), record.series
    thin = crowding = viscosity = thickening = 0.0
    for power in range(fits.shape[0] - 1, -1, -1):
        thin = thin * z + fits[power, _T]
        crowding = crowding * z + fits[power, _CROWDING]
        viscosity = viscosity * z + fits[power, _VISCOSITY]
        thickening = thickening * z + fits[power, _THICKENING]
    density = _density_of_fits(record.numbers[CONSTANT], pressure, thin, crowding)
    return density, viscosity + pressure * thickening


@inlined
def _state_of_fits(
    constant: float,
    pressure: float,
    thin: float,
    heating: float,
    crowding: float,
    crowding_slope: float,
    viscosity: float,
) -> tuple[float, float, float, float, float]:
    ideal = 1 / (constant * thin)
    density = pressure * ideal * (1 + pressure * crowding)
    by_pressure = ideal * (1 + 2 * pressure * crowding)
    # Slope of ln(density) with enthalpy, in which one division less is needed.
    by_enthalpy = pressure * crowding_slope / (1 + pressure * crowding) - constant * ideal * heating
    sound = 1 / root(by_pressure + by_enthalpy)
    return density, by_pressure, by_enthalpy * density, viscosity, sound


@compiled
def gas_state(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float, float, float, float]:
    """Density, its slopes with pressure and enthalpy, viscosity and speed of sound."""
    z, fits = _reduced(record, enthalpy), record.series
    thin = heating = crowding = crowding_slope = viscosity = thickening = 0.0
    for power in range(fits.shape[0] - 1, -1, -1):
        thin = thin * z + fits[power, _T]
        heating = heating * z + fits[power, _HEATING]
        crowding = crowding * z + fits[power, _CROWDING]
        crowding_slope = crowding_slope * z + fits[power, _CROWDING_SLOPE]
        viscosity = viscosity * z + fits[power, _VISCOSITY]
        thickening = thickening * z + fits[power, _THICKENING]
    viscosity += pressure * thickening
    constant = record.numbers[CONSTANT]
    return _state_of_fits(constant, pressure, thin, heating, crowding, crowding_slope, viscosity)


@compiled
def gas_densities(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """Densities of a pack of states."""
    z = carray(reserved(PACK), PACK)
    thin, crowding = carray(reserved(PACK), PACK), carray(reserved(PACK), PACK)
    fits, constant = record.series, record.numbers[CONSTANT]
    for i in range(PACK):
        z[i], thin[i], crowding[i] = _reduced(record, enthalpy[i]), 0.0, 0.0
    for power in range(fits.shape[0] - 1, -1, -1):
        a, b = fits[power, _T], fits[power, _CROWDING]
        for i in range(PACK):
            thin[i] = thin[i] * z[i] + a
            crowding[i] = crowding[i] * z[i] + b
    for i in range(PACK):
        out[i] = _density_of_fits(constant, pressure[i], thin[i], crowding[i])


@compiled
def gas_states(record: FluidRecord, pressure: Lanes, enthalpy: Lanes, out: Lanes) -> None:
    """States of a pack, five rows as `gas_state` gives them."""
    z, fits = carray(reserved(PACK), PACK), record.series
    thin, heating = carray(reserved(PACK), PACK), carray(reserved(PACK), PACK)
    crowding, crowded = carray(reserved(PACK), PACK), carray(reserved(PACK), PACK)
    viscosity, thickening = carray(reserved(PACK), PACK), carray(reserved(PACK), PACK)
    for i in range(PACK):
        z[i], thin[i], heating[i] = _reduced(record, enthalpy[i]), 0.0, 0.0
        crowding[i], crowded[i], viscosity[i], thickening[i] = 0.0, 0.0, 0.0, 0.0
    for power in range(fits.shape[0] - 1, -1, -1):
        a, b, c = fits[power, _T], fits[power, _HEATING], fits[power, _CROWDING]
        d, e, f = fits[power, _CROWDING_SLOPE], fits[power, _VISCOSITY], fits[power, _THICKENING]
        for i in range(PACK):
            thin[i] = thin[i] * z[i] + a
            heating[i] = heating[i] * z[i] + b
            crowding[i] = crowding[i] * z[i] + c
            crowded[i] = crowded[i] * z[i] + d
            viscosity[i] = viscosity[i] * z[i] + e
            thickening[i] = thickening[i] * z[i] + f
    for i in range(PACK):
        out[0, i], out[1, i], out[2, i], out[3, i], out[4, i] = _state_of_fits(
            record.numbers[CONSTANT],
            pressure[i],
            thin[i],
            heating[i],
            crowding[i],
            crowded[i],
            viscosity[i] + pressure[i] * thickening[i],
        )


@compiled
def _entropy(record: FluidRecord, pressure: float, enthalpy: float) -> tuple[float, float]:
    """Entropy without its R ln p [J/(kg K)], and temperature [K]."""
    z, numbers, rest = _reduced(record, enthalpy), record.numbers, 0.0
    for power in range(numbers.size - 1, ENTROPY_FROM - 1, -1):
        rest = rest * z + numbers[power]
    thin, cooling = _pair(record, z, _T, _COOLING)
    crowding = _pair(record, z, _CROWDING, _CROWDING)[0]
    # Consistent with the slopes: (ds/dp) at constant enthalpy is -1 / (density T).
    departure = numbers[CONSTANT] * (crowding + cooling / thin)
    return numbers[ENTROPY_LOG] * math.log(thin) + rest + pressure * departure, (
        thin + pressure * cooling
    )


@compiled
def gas_isentropic(
    record: FluidRecord, pressure: float, enthalpy: float, end_pressure: float
) -> float:
    """Enthalpy after an isentropic change [J/kg]."""
    constant, ratio = record.numbers[CONSTANT], end_pressure / pressure
    start, temperature = _entropy(record, pressure, enthalpy)
    target = start + constant * math.log(ratio)
    heating = _pair(record, _reduced(record, enthalpy), _HEATING, _HEATING)[0]
    end = enthalpy + temperature / heating * (ratio ** (constant * heating) - 1)
    for _ in range(NEWTON_STEPS):
        kept = _kept(record, end)
        found, temperature = _entropy(record, end_pressure, kept)
        # dh = T ds at constant pressure, so this is Newton's rule.
        before, end = end, kept + temperature * (target - found)
        if abs(end - before) <= SETTLED * temperature:
            break
    return end if not math.isnan(_reduced(record, end)) else math.nan


@compiled
def gas_critical_pressure(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Pressure in a choked throat [Pa].

    Taken with the isentropic exponent of the stagnation state; its small change towards the throat
    moves the choked mass flux only in second order, because the flux has its maximum there.
    """
    density, _, _, _, sound = gas_state(record, pressure, enthalpy)
    k = density * sound**2 / pressure
    return pressure * (2 / (k + 1)) ** (k / (k - 1))


@compiled
def gas_enthalpy(record: FluidRecord, pressure: float, temperature: float) -> float:
    """Enthalpy [J/kg] at a pressure [Pa] and temperature [K]."""
    guess = record.numbers[H_MID]
    for _ in range(NEWTON_STEPS):
        kept = _kept(record, guess)
        slope = _pair(record, _reduced(record, kept), _HEATING, _HEATING)[0]
        guess = kept - (gas_temperature(record, pressure, kept) - temperature) / slope
    return guess if not math.isnan(_reduced(record, guess)) else math.nan
