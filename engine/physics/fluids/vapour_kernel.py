"""Properties of a vapour from its table, one state at a time; see `vapour.VapourTable`.

Symbols: `terms` are the Chebyshev polynomials in x (along pressure), y the place between dew line
and top, pv pressure times specific volume [J/kg].
"""

import math
from enum import IntEnum

from engine.physics.arrays import Lanes
from engine.physics.compiled import compiled, line
from engine.physics.fluids.fluid import FluidRecord

GOLDEN = (math.sqrt(5) - 1) / 2
"""Ratio of the golden section."""
GOLDEN_STEPS = 14
LEAST_THROAT = 0.4
"""Lowest throat over stagnation pressure in the search; a monatomic gas chokes at 0.487."""
ROUNDING = 1e-9
"""Allowance for rounding at the edges of the table."""
MOST_TERMS = 24
"""Most terms of a series in pressure."""
LOG_LOW, LOG_HIGH, TOP = range(3)
"""Indices in `numbers`: ln of the lowest and highest pressure, and the highest enthalpy."""
DRY, WET, NOWHERE = range(3)
"""Region of a state; nowhere is outside the table."""


class Line(IntEnum):
    """Rows of `VapourTable.along`: series in pressure alone.

    In the wet region p v, 1 / viscosity and entropy are linear in enthalpy at constant pressure:
    `REST` is the value at zero enthalpy, `SLOPE` the factor of enthalpy (for entropy 1 / T).
    `BY_LOG` marks derivatives with ln p. In a table without a wet region the dew line is the lower
    edge, and all rows from `TEMPERATURE` on are NaN.
    """

    DEW_ENTHALPY = 0
    DEW_ENTROPY = 1
    TOP_ENTROPY = 2
    TEMPERATURE = 3
    BOILING_ENTHALPY = 4
    PV_REST = 5
    PV_SLOPE = 6
    PV_REST_BY_LOG = 7
    PV_SLOPE_BY_LOG = 8
    FLUIDITY_REST = 9
    FLUIDITY_SLOPE = 10
    ENTROPY_REST = 11


class Dry(IntEnum):
    """Rows of `VapourTable.dry`; `BY` marks derivatives of ln(density)."""

    PV = 0
    BY_LOG_PRESSURE = 1
    BY_ENTHALPY = 2
    VISCOSITY = 3
    TEMPERATURE = 4
    ENTROPY = 5


class Expanding(IntEnum):
    """Rows of `VapourTable.expanding`."""

    ENTHALPY = 0
    PV = 1


_DEW, _DEW_ENTROPY, _TOP_ENTROPY, _TEMPERATURE, _BOILING = map(int, list(Line)[:5])
_PV, _PV_SLOPE, _PV_BY_LOG, _PV_SLOPE_BY_LOG = map(int, list(Line)[5:9])
_FLUIDITY, _FLUIDITY_SLOPE, _ENTROPY = map(int, list(Line)[9:])
_DRY_PV, _DRY_BY_LOG, _DRY_BY_H, _DRY_MU, _DRY_T, _DRY_S = map(int, Dry)
_ENTHALPY_AFTER, _PV_AFTER = map(int, Expanding)


@compiled
def _chebyshev(record: FluidRecord, pressure: float, terms: Lanes) -> bool:
    """Fill in the Chebyshev polynomials at a pressure; true if it is inside the table."""
    low, high = record.numbers[LOG_LOW], record.numbers[LOG_HIGH]
    x = (2 * math.log(pressure) - low - high) / (high - low)
    terms[0], terms[1] = 1.0, x
    for order in range(2, record.series.shape[1]):
        terms[order] = 2 * x * terms[order - 1] - terms[order - 2]
    return abs(x) <= 1 + ROUNDING


@compiled
def _line(record: FluidRecord, terms: Lanes, row: int) -> float:
    """Value of one series in pressure."""
    total = 0.0
    for order in range(record.series.shape[1]):
        total += record.series[row, order] * terms[order]
    return total


@compiled
def _place(record: FluidRecord, terms: Lanes, inside: bool, enthalpy: float) -> tuple[int, float]:
    """Region of a state and, if dry, its place y between dew line and top."""
    bottom, top = _line(record, terms, _DEW), record.numbers[TOP]
    y = (2 * enthalpy - bottom - top) / (top - bottom)
    if not (inside and y <= 1 + ROUNDING):
        return NOWHERE, math.nan
    if y >= -1:
        return DRY, y
    return (WET if enthalpy >= _line(record, terms, _BOILING) else NOWHERE), math.nan


@compiled
def _series(table: Lanes, terms: Lanes, y: float, row: int) -> float:
    """One property of the dry region, by a series in x and y."""
    total, before, now = 0.0, y, 1.0
    for k in range(table.shape[0]):
        along = 0.0
        for order in range(table.shape[1]):
            along += table[k, order, row] * terms[order]
        total += along * now
        before, now = now, 2 * y * now - before
    return total


@compiled
def _wet_pv(record: FluidRecord, terms: Lanes, enthalpy: float) -> float:
    """Pressure times specific volume in the wet region [J/kg]."""
    return _line(record, terms, _PV) + _line(record, terms, _PV_SLOPE) * enthalpy


@compiled
def _wet_viscosity(record: FluidRecord, terms: Lanes, enthalpy: float) -> float:
    """Viscosity in the wet region [Pa s], see `vapour.Vapour`."""
    return 1 / (_line(record, terms, _FLUIDITY) + _line(record, terms, _FLUIDITY_SLOPE) * enthalpy)


@compiled
def vapour_density(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Density [kg/m3]."""
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    region, y = _place(record, terms, inside, enthalpy)
    if region == DRY:
        return pressure / _series(record.dry, terms, y, _DRY_PV)
    return pressure / _wet_pv(record, terms, enthalpy) if region == WET else math.nan


@compiled
def vapour_density_viscosity(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float]:
    """Density [kg/m3] and dynamic viscosity [Pa s]."""
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    region, y = _place(record, terms, inside, enthalpy)
    if region == WET:
        wet = _wet_viscosity(record, terms, enthalpy)
        return pressure / _wet_pv(record, terms, enthalpy), wet
    if region != DRY:
        return math.nan, math.nan
    # Both series in one loop.
    table, pv, viscosity, before, now = record.dry, 0.0, 0.0, y, 1.0
    for k in range(table.shape[0]):
        a = b = 0.0
        for order in range(table.shape[1]):
            a += table[k, order, _DRY_PV] * terms[order]
            b += table[k, order, _DRY_MU] * terms[order]
        pv, viscosity = pv + a * now, viscosity + b * now
        before, now = now, 2 * y * now - before
    return pressure / pv, viscosity


@compiled
def vapour_temperature(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Temperature [K]."""
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    region, y = _place(record, terms, inside, enthalpy)
    if region == DRY:
        return _series(record.dry, terms, y, _DRY_T)
    return _line(record, terms, _TEMPERATURE) if region == WET else math.nan


@compiled
def vapour_entropy(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Entropy [J/(kg K)]."""
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    region, y = _place(record, terms, inside, enthalpy)
    if region == DRY:
        return _series(record.dry, terms, y, _DRY_S)
    if region == WET:
        return _line(record, terms, _ENTROPY) + enthalpy / _line(record, terms, _TEMPERATURE)
    return math.nan


@compiled
def vapour_quality(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Share of the mass that is vapour [-]; 1 from the dew line up."""
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    region, _ = _place(record, terms, inside, enthalpy)
    if region == WET:
        boiling = _line(record, terms, _BOILING)
        return (enthalpy - boiling) / (_line(record, terms, _DEW) - boiling)
    return 1.0 if region == DRY else math.nan


@compiled
def vapour_state(
    record: FluidRecord, pressure: float, enthalpy: float
) -> tuple[float, float, float, float, float]:
    """Density, its derivatives with pressure and enthalpy, viscosity and speed of sound.

    `by_log` and `by_enthalpy` are derivatives of ln(density), with ln p and with enthalpy.
    """
    # Place in the table.
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    region, y = _place(record, terms, inside, enthalpy)
    pv = by_log = by_enthalpy = viscosity = 0.0
    # Dry: four series in one loop. Wet: linear in enthalpy.
    if region == DRY:
        table, before, now = record.dry, y, 1.0
        for k in range(table.shape[0]):
            a = b = c = d = 0.0
            for order in range(table.shape[1]):
                a += table[k, order, _DRY_PV] * terms[order]
                b += table[k, order, _DRY_BY_LOG] * terms[order]
                c += table[k, order, _DRY_BY_H] * terms[order]
                d += table[k, order, _DRY_MU] * terms[order]
            pv, by_log = pv + a * now, by_log + b * now
            by_enthalpy, viscosity = by_enthalpy + c * now, viscosity + d * now
            before, now = now, 2 * y * now - before
    elif region == WET:
        slope, pv = _line(record, terms, _PV_SLOPE), _wet_pv(record, terms, enthalpy)
        growth = (
            _line(record, terms, _PV_BY_LOG) + _line(record, terms, _PV_SLOPE_BY_LOG) * enthalpy
        )
        by_log, by_enthalpy = 1 - growth / pv, -slope / pv
        viscosity = _wet_viscosity(record, terms, enthalpy)
    else:
        return math.nan, math.nan, math.nan, math.nan, math.nan
    # 1 / a^2 is the derivative of density with pressure along an isentrope, dh = dp / density.
    density, by_pressure = pressure / pv, by_log / pv
    sound = 1 / math.sqrt(by_pressure + by_enthalpy)
    return density, by_pressure, by_enthalpy * density, viscosity, sound


@compiled
def height_over_dew(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Enthalpy above that of the dew line at the same pressure [J/kg]; below 0 where it is wet."""
    terms = line(MOST_TERMS)
    _chebyshev(record, pressure, terms)
    return enthalpy - _line(record, terms, _DEW)


@compiled
def vapour_state_across(
    record: FluidRecord, pressure: float, enthalpy: float, height: float, width: float
) -> tuple[float, float, float, float, float]:
    """State as `vapour_state` gives it, with derivatives in the mean over enthalpies about it.

    They jump at the dew line, `height` below the state. Where `width` reaches across it, both sides
    count by their shares. A march that takes long steps would jump with them.
    """
    density, by_pressure, by_enthalpy, viscosity, sound = vapour_state(record, pressure, enthalpy)
    if not 2 * abs(height) < width:
        return density, by_pressure, by_enthalpy, viscosity, sound
    # Derivatives of ln(density) on either side: here, or at the dew line.
    terms = line(MOST_TERMS)
    _chebyshev(record, pressure, terms)
    dew, top = _line(record, terms, _DEW), record.numbers[TOP]
    y, h = (2 * max(enthalpy, dew) - dew - top) / (top - dew), min(enthalpy, dew)
    slope, pv = _line(record, terms, _PV_SLOPE), _wet_pv(record, terms, h)
    growth = _line(record, terms, _PV_BY_LOG) + _line(record, terms, _PV_SLOPE_BY_LOG) * h
    dry, wet = 0.5 + height / width, 0.5 - height / width
    by_log = dry * _series(record.dry, terms, y, _DRY_BY_LOG) + wet * (1 - growth / pv)
    by_h = dry * _series(record.dry, terms, y, _DRY_BY_H) - wet * slope / pv
    # A table that ends at its dew line knows no other side.
    if math.isnan(by_log + by_h):
        return density, by_pressure, by_enthalpy, viscosity, sound
    by_pressure = by_log * density / pressure
    return density, by_pressure, by_h * density, viscosity, 1 / math.sqrt(by_pressure + by_h)


@compiled
def _expanded(record: FluidRecord, pressure: float, entropy: float) -> tuple[float, float]:
    """Enthalpy [J/kg] and p v [J/kg] at a pressure and entropy."""
    # Place between dew line and top, by entropy.
    terms = line(MOST_TERMS)
    inside = _chebyshev(record, pressure, terms)
    bottom, top = _line(record, terms, _DEW_ENTROPY), _line(record, terms, _TOP_ENTROPY)
    y = (2 * entropy - bottom - top) / (top - bottom)
    if not (inside and y <= 1 + ROUNDING):
        return math.nan, math.nan
    # Dry.
    if y >= -1:
        after = _series(record.expanding, terms, y, _ENTHALPY_AFTER)
        return after, _series(record.expanding, terms, y, _PV_AFTER)
    # Wet: entropy is linear in enthalpy.
    rest, temperature = _line(record, terms, _ENTROPY), _line(record, terms, _TEMPERATURE)
    if not entropy >= rest + _line(record, terms, _BOILING) / temperature:
        return math.nan, math.nan
    after = temperature * (entropy - rest)
    return after, _wet_pv(record, terms, after)


@compiled
def vapour_isentropic(
    record: FluidRecord, pressure: float, enthalpy: float, end_pressure: float
) -> float:
    """Enthalpy after an isentropic change [J/kg]."""
    return _expanded(record, end_pressure, vapour_entropy(record, pressure, enthalpy))[0]


@compiled
def _flux(record: FluidRecord, log_pressure: float, enthalpy: float, entropy: float) -> float:
    """Mass flux after an isentropic expansion, over the root of 2."""
    end = math.exp(log_pressure)
    after, pv = _expanded(record, end, entropy)
    flux = end / pv * math.sqrt(max(enthalpy - after, 0.0))
    return 0.0 if math.isnan(flux) else flux


@compiled
def vapour_throat_pressure(
    record: FluidRecord, pressure: float, enthalpy: float, behind: float
) -> float:
    """Pressure in a throat [Pa]: that behind, or the critical one where that is higher.

    A flow that comes out slower than sound was so before too: the speed of sound only falls where
    vapour turns wet. The search for the critical pressure is left out there.
    """
    end = vapour_isentropic(record, pressure, enthalpy, behind)
    sound = vapour_state(record, behind, end)[4]
    if 2 * (enthalpy - end) < sound * sound:
        return behind
    critical = vapour_critical_pressure(record, pressure, enthalpy)
    return math.nan if math.isnan(critical) else max(behind, critical)


@compiled
def vapour_critical_pressure(record: FluidRecord, pressure: float, enthalpy: float) -> float:
    """Pressure in a choked throat [Pa].

    Found by golden-section search for the largest mass flux along the isentrope. This also holds in
    the wet region and across the dew line, where the speed of sound jumps.
    """
    entropy = vapour_entropy(record, pressure, enthalpy)
    if math.isnan(entropy):
        return math.nan
    low, high = math.log(LEAST_THROAT * pressure), math.log(pressure)
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    by_left = _flux(record, left, enthalpy, entropy)
    by_right = _flux(record, right, enthalpy, entropy)
    for _ in range(GOLDEN_STEPS):
        if by_left > by_right:  # the maximum lies left of `right`
            high, right, by_right = right, left, by_left
            left = high - GOLDEN * (high - low)
            by_left = _flux(record, left, enthalpy, entropy)
        else:
            low, left, by_left = left, right, by_right
            right = low + GOLDEN * (high - low)
            by_right = _flux(record, right, enthalpy, entropy)
    return math.exp((low + high) / 2)
