"""A real fluid from superheated to wet, read from a table made for one supply state."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from engine.physics.arrays import Array, Lanes, Mask
from engine.physics.fluid import FluidState

GOLDEN = (np.sqrt(5) - 1) / 2
GOLDEN_STEPS = 14
LEAST_THROAT = 0.4
"""Throat over stagnation pressure, below any critical one: a monatomic gas has 0.487."""
ROUNDING = 1e-9
BLOCK = 2048
"""States read at a time."""


class Line(IntEnum):
    """Rows of `VapourTable.along`: what depends on pressure alone.

    In the wet region p v, 1 / viscosity and entropy are straight lines of enthalpy at constant
    pressure; two rows hold each. Where the table holds no wet region the dew line is merely its
    lower edge, and all from `TEMPERATURE` on is NaN.
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
    """Rows of `VapourTable.dry`; slopes are of ln(density), with ln p and with enthalpy."""

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


@dataclass(frozen=True, eq=False)
class VapourTable:
    """A fluid's table as Chebyshev series, made by `engine.fluidtables`.

    Along x, which is ln p mapped to -1 ... 1, and in the dry region also along y, which runs from
    the dew line (-1) to the table's top (1). So the kink at the dew line is an edge of the patch.
    """

    pressures: Lanes  # lowest and highest [Pa]
    top_enthalpy: Lanes  # one element [J/kg]
    along: Lanes  # (Line, order of x)
    dry: Lanes  # over pressure and enthalpy: (Dry, order of y, order of x)
    expanding: Lanes  # over pressure and entropy: (Expanding, order of y, order of x)


@dataclass(frozen=True, eq=False)
class _Place:
    """Where states lie in the table; flat."""

    lines: Lanes  # (Line, state)
    x: Lanes  # Chebyshev polynomials of x, (order, state)
    y: Lanes
    wet: Mask
    known: Mask

    def dry(self, table: Lanes) -> Lanes:
        """Series of the dry region, (row, state)."""
        rows, n_y, n_x = table.shape
        by_y = (table.reshape(-1, n_x) @ self.x).reshape(rows, n_y, -1)
        return np.asarray(np.einsum("ryn,yn->rn", by_y, self.y))


@dataclass(frozen=True, eq=False)
class Vapour:
    """A pure fluid as vapour, or as vapour and droplets in equilibrium (homogeneous mixture).

    Below the dew line the mixture has boiling temperature, volume and entropy of its shares, the
    viscosity 1 / mu = x / mu_vapour + (1 - x) / mu_liquid (McAdams, Woods and Heroman 1942, Trans.
    ASME 64, 193-200, from memory) and the speed of sound of full equilibrium. Real droplets lag
    behind: a nozzle then passes up to some 5 % more than said here (common practice, no source).
    Outside the table every property is NaN.
    """

    name: str
    table: VapourTable

    def temperature(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Temperature [K] at a pressure [Pa] and enthalpy [J/kg]."""
        return np.asarray(self._read(pressure, enthalpy, Dry.TEMPERATURE)[0])

    def density(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Density [kg/m3] at a pressure [Pa] and enthalpy [J/kg]."""
        return np.asarray(pressure / self._read(pressure, enthalpy, Dry.PV)[0])

    def viscosity(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Dynamic viscosity [Pa s] at a pressure [Pa] and enthalpy [J/kg]."""
        return np.asarray(self._read(pressure, enthalpy, Dry.VISCOSITY)[0])

    def sound_speed(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Speed of sound [m/s] at a pressure [Pa] and enthalpy [J/kg]."""
        return self.state(pressure=pressure, enthalpy=enthalpy).sound_speed

    def entropy(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Entropy [J/(kg K)] at a pressure [Pa] and enthalpy [J/kg]."""
        return np.asarray(self._read(pressure, enthalpy, Dry.ENTROPY)[0])

    def quality(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Share of the mass that is vapour [-]; 1 from the dew line up."""

        def read(p: Lanes, h: Lanes) -> Lanes:
            at = self._locate(p, h)
            boiling = at.lines[Line.BOILING_ENTHALPY]
            share = (h - boiling) / (at.lines[Line.DEW_ENTHALPY] - boiling)
            return np.where(at.known, np.where(at.wet, share, 1.0), np.nan)

        return _in_blocks(read, pressure, enthalpy)

    def state(self, *, pressure: Array, enthalpy: Array) -> FluidState:
        """Density with its slopes, viscosity and speed of sound in one go.

        1 / a^2 is the slope of density with pressure along an isentrope, on which dh = dp / rho.
        """
        rows = self._read(pressure, enthalpy, Dry.PV, Dry.VISCOSITY)
        pv, by_log_pressure, by_enthalpy, viscosity = rows
        density, by_pressure = pressure / pv, by_log_pressure / pv
        return FluidState(
            density=density,
            by_pressure=by_pressure,
            by_enthalpy=by_enthalpy * density,
            viscosity=viscosity,
            sound_speed=1 / np.sqrt(by_pressure + by_enthalpy),
        )

    def isentropic_enthalpy(
        self, *, pressure: Array, enthalpy: Array, end_pressure: Array
    ) -> Lanes:
        """Enthalpy [J/kg] after an isentropic change from (pressure, enthalpy) to end_pressure."""
        entropy = self.entropy(pressure=pressure, enthalpy=enthalpy)
        expanded = _in_blocks(self._expanded, end_pressure, entropy)
        return np.asarray(expanded[Expanding.ENTHALPY])

    def critical_pressure(self, *, pressure: Array, enthalpy: Array) -> Lanes:
        """Throat pressure [Pa] at which flow from a stagnation state chokes.

        Where density times speed is largest along the isentrope, by golden section: this holds in
        the wet region and where the dew line is crossed, at which the speed of sound jumps.
        """
        return _in_blocks(self._critical_pressure, pressure, enthalpy)

    def _critical_pressure(self, p: Lanes, h: Lanes) -> Lanes:
        entropy = self.entropy(pressure=p, enthalpy=h)

        def flux(log_pressure: Lanes) -> Lanes:
            end = np.exp(log_pressure)
            after, pv = self._expanded(end, entropy)
            return np.asarray(np.nan_to_num(end / pv * np.sqrt(np.maximum(h - after, 0.0))))

        low, high = np.log(LEAST_THROAT * p), np.log(p)
        left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
        by_left, by_right = flux(left), flux(right)
        for _ in range(GOLDEN_STEPS):
            falls = by_left > by_right  # the largest lies left of `right`
            low, high = np.where(falls, low, left), np.where(falls, right, high)
            tried = np.where(falls, high - GOLDEN * (high - low), low + GOLDEN * (high - low))
            by_tried = flux(tried)
            left, right = np.where(falls, tried, right), np.where(falls, left, tried)
            by_left, by_right = (
                np.where(falls, by_tried, by_right),
                np.where(falls, by_left, by_tried),
            )
        found = np.exp((low + high) / 2)
        return np.where(np.isfinite(entropy), found, np.nan)

    def _expanded(self, pressure: Lanes, entropy: Lanes) -> Lanes:
        """Rows of `Expanding` at a pressure and entropy, flat."""
        at = self._locate(pressure, entropy, by_entropy=True)
        enthalpy = at.lines[Line.TEMPERATURE] * (entropy - at.lines[Line.ENTROPY_REST])
        wet = np.stack([enthalpy, _wet_pv(at.lines, enthalpy)])
        dry = at.dry(self.table.expanding)
        return np.where(at.known, np.where(at.wet, wet, dry), np.nan)

    def _locate(self, pressure: Lanes, level: Lanes, *, by_entropy: bool = False) -> _Place:
        """Find flat states in the table by pressure and enthalpy or entropy."""
        low, high = np.log(self.table.pressures)
        with np.errstate(invalid="ignore", divide="ignore"):
            x = (2 * np.log(pressure) - low - high) / (high - low)
            inside = np.abs(x) <= 1 + ROUNDING
            x = _chebyshev(np.where(inside, x, 0.0), self.table.along.shape[1])
            lines = self.table.along @ x
            least = lines[Line.BOILING_ENTHALPY]
            if by_entropy:
                bottom, top = lines[Line.DEW_ENTROPY], lines[Line.TOP_ENTROPY]
                least = lines[Line.ENTROPY_REST] + least / lines[Line.TEMPERATURE]
            else:
                bottom, top = lines[Line.DEW_ENTHALPY], self.table.top_enthalpy
            y = (2 * level - bottom - top) / (top - bottom)
            wet = y < -1
            known = inside & (y <= 1 + ROUNDING) & (~wet | (level >= least))
        y = _chebyshev(np.where(known & ~wet, y, 0.0), self.table.dry.shape[1])
        return _Place(lines=lines, x=x, y=y, wet=wet, known=known)

    def _read(self, pressure: Array, enthalpy: Array, first: Dry, last: Dry | None = None) -> Lanes:
        """Rows of `Dry` from the first to the last at any states, dry or wet."""
        rows = range(first, (first if last is None else last) + 1)

        def read(p: Lanes, h: Lanes) -> Lanes:
            at = self._locate(p, h)
            wet = np.stack([_WET[Dry(row)](at.lines, h) for row in rows])
            dry = at.dry(self.table.dry[rows.start : rows.stop])
            return np.where(at.known, np.where(at.wet, wet, dry), np.nan)

        return _in_blocks(read, pressure, enthalpy)


def _wet_pv(lines: Lanes, enthalpy: Lanes) -> Lanes:
    return np.asarray(lines[Line.PV_REST] + lines[Line.PV_SLOPE] * enthalpy)


def _wet_by_log_pressure(lines: Lanes, enthalpy: Lanes) -> Lanes:
    by_log = lines[Line.PV_REST_BY_LOG] + lines[Line.PV_SLOPE_BY_LOG] * enthalpy
    return np.asarray(1 - by_log / _wet_pv(lines, enthalpy))


_WET: Mapping[Dry, Callable[[Lanes, Lanes], Lanes]] = {
    Dry.PV: _wet_pv,
    Dry.BY_LOG_PRESSURE: _wet_by_log_pressure,
    Dry.BY_ENTHALPY: lambda lines, h: -lines[Line.PV_SLOPE] / _wet_pv(lines, h),
    Dry.VISCOSITY: lambda lines, h: (
        1 / (lines[Line.FLUIDITY_REST] + lines[Line.FLUIDITY_SLOPE] * h)
    ),
    Dry.TEMPERATURE: lambda lines, _: lines[Line.TEMPERATURE],
    Dry.ENTROPY: lambda lines, h: lines[Line.ENTROPY_REST] + h / lines[Line.TEMPERATURE],
}
"""The rows of `Dry` in the wet region, from the rows of `Line` and the enthalpy."""


def _in_blocks(read: Callable[[Lanes, Lanes], Lanes], pressure: Array, level: Array) -> Lanes:
    """Read flat states some at a time and shape the result: large scratch arrays cost more."""
    p, other = np.broadcast_arrays(
        np.asarray(pressure, dtype=float), np.asarray(level, dtype=float)
    )
    shape, p, other = p.shape, p.ravel(), other.ravel()
    parts = [
        read(p[start : start + BLOCK], other[start : start + BLOCK])
        for start in range(0, max(p.size, 1), BLOCK)
    ]
    found = parts[0] if len(parts) == 1 else np.concatenate(parts, axis=-1)
    return found.reshape(found.shape[:-1] + shape)


def dilute_viscosity(
    *,
    temperature: Array,
    critical_temperature: Array,
    critical_volume: Array,
    molar_mass: Array,
    acentric_factor: Array,
) -> Lanes:
    """Viscosity of a thin vapour by corresponding states, for fluids without a measured one.

    All arguments broadcast; the result has their common shape.

    Parameters
    ----------
    temperature, critical_temperature : Array
        Temperature [K] and that of the critical point [K].
    critical_volume : Array
        Molar volume at the critical point [m3/mol].
    molar_mass : Array
        Molar mass [kg/mol].
    acentric_factor : Array
        Pitzer's acentric factor [-].

    Returns
    -------
    Lanes
        Dynamic viscosity [Pa s]; within some 3 %, for strongly polar molecules 10 %.

    Notes
    -----
    40.785 F sqrt(M T) / (V^(2/3) W) micropoise with M in g/mol and V in cm3/mol, W the collision
    integral at 1.2593 T / T_c; the dipole term is left out.

    References
    ----------
    Chung, Ajlan, Lee and Starling 1988, Ind. Eng. Chem. Res. 27, 671-679; collision integral of
    Neufeld, Janzen and Aziz 1972 (both from memory).

    Examples
    --------
    Nitrogen at 300 K: 17.9 micropascal seconds.

    >>> value = dilute_viscosity(temperature=300.0, critical_temperature=126.2,
    ...     critical_volume=89.4e-6, molar_mass=0.028013, acentric_factor=0.037)
    >>> round(float(value) * 1e6, 1)
    17.8

    """
    reduced = 1.2593 * np.asarray(temperature) / critical_temperature
    integral = 1.16145 * reduced**-0.14874 + 0.52487 * np.exp(-0.77320 * reduced)
    integral = integral + 2.16178 * np.exp(-2.43787 * reduced)
    shape = 1 - 0.2756 * np.asarray(acentric_factor)
    root = np.sqrt(molar_mass * 1e3 * np.asarray(temperature))
    size = (np.asarray(critical_volume) * 1e6) ** (2 / 3)
    return np.asarray(40.785e-7 * shape * root / (size * integral))


def _chebyshev(x: Lanes, count: int) -> Lanes:
    """Chebyshev polynomials of orders below `count`, (order, state)."""
    found = np.empty((count, x.size))
    found[0], found[1] = 1.0, x
    twice = 2 * x
    for order in range(2, count):
        np.multiply(twice, found[order - 1], out=found[order])
        found[order] -= found[order - 2]
    return found
