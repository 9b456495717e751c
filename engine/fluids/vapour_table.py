"""Makes the property table of a vapour for all states between a supply and an exhaust."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.polynomial.chebyshev import chebder, chebvander

from engine.fluids.coolprop import Point, RealFluid
from engine.physics.arrays import Lanes
from engine.physics.fluids.vapour import Vapour, VapourTable
from engine.physics.fluids.vapour_kernel import Dry, Expanding, Line

LOWEST = (0.3, 0.6, 0.9)
"""Lowest pressure of a table, over back pressure; the higher values where it gets too cold."""
HIGHEST = 1.02
"""Highest pressure of a table, over supply pressure."""
NEAR_CRITICAL = 0.92
"""Pressure up to which the wet region is tabulated, over critical pressure."""
HOTTER = 60e3
"""Enthalpy by which a table goes above that of the supply, for what disc edges add [J/kg]."""
COLDER = (60e3, 30e3, 10e3, 3e3)
"""The same below the isentrope of the supply, where the wet region is not reached [J/kg]."""
ORDERS = ((10, 8), (14, 10), (18, 14))
"""Orders of a table along pressure and enthalpy; the higher ones near the critical point."""
GOOD, USABLE = 2e-4, 1e-3
"""Relative error below which no finer table is made, and the largest that is accepted."""
CHECKS = 60


class TableError(ValueError):
    """No table of the required accuracy can be made."""


@dataclass(frozen=True)
class _Extent:
    """Range that a table covers."""

    low: float  # pressure [Pa]
    high: float
    top: float  # enthalpy [J/kg]
    bottom: Callable[[float], Point]
    """Dew point, or state on the lowest isentrope, at a pressure."""
    has_dome: bool


def vapour_table(
    fluid: RealFluid, *, pressure: float, enthalpy: float, back_pressure: float
) -> VapourTable:
    """Table for expansions from a supply state to a back pressure.

    Raises TableError (or ValueError, as CoolProp does) where the properties are not known well
    enough.
    """
    extent = _extent(fluid, pressure, enthalpy, back_pressure)
    for orders in ORDERS:
        table = _filled(fluid, extent, *orders)
        error = table_error(fluid, table)
        if error < GOOD or (orders == ORDERS[-1] and error < USABLE):
            return table
    msg = "too near its critical point for a table"
    raise TableError(msg)


def _extent(fluid: RealFluid, pressure: float, enthalpy: float, back_pressure: float) -> _Extent:
    low, high = LOWEST[0] * back_pressure, HIGHEST * pressure
    above_triple = max(low, 1.01 * fluid.triple_pressure)
    hottest = min(fluid.at("pT", p, fluid.hottest).enthalpy for p in (low, high))
    if above_triple < 0.98 * back_pressure and high < NEAR_CRITICAL * fluid.critical_pressure:
        low = above_triple

        def dew(p: float) -> Point:
            return fluid.at("pq", p, 1)

        highest_dew = max(dew(p).enthalpy for p in np.geomspace(low, high, 20))
        top = min(max(enthalpy, highest_dew) + HOTTER, hottest)
        return _Extent(low, high, top, dew, has_dome=True)
    low, entropy = _lowest_isentrope(fluid, pressure, enthalpy, back_pressure)
    top = min(enthalpy + HOTTER, hottest)
    return _Extent(low, high, top, lambda p: fluid.at("ps", p, entropy), has_dome=False)


def _lowest_isentrope(
    fluid: RealFluid, pressure: float, enthalpy: float, back_pressure: float
) -> tuple[float, float]:
    """Lowest pressure, and an entropy below that of the supply at which the fluid stays a gas."""
    for lowest, colder in product(LOWEST, COLDER):
        low, high = lowest * back_pressure, HIGHEST * pressure
        try:
            entropy = fluid.at("ph", pressure, enthalpy - colder).entropy
            points = [fluid.at("ps", p, entropy) for p in np.geomspace(low, high, 20)]
        except ValueError:
            continue
        if all(not p.is_wet and p.temperature > fluid.coldest for p in points):
            return low, entropy
    msg = "it would freeze as it expands, or condense near its critical point"
    raise TableError(msg)


def _filled(fluid: RealFluid, extent: _Extent, n_x: int, n_y: int) -> VapourTable:
    x, y = _points(n_x), _points(n_y)
    middle, half = np.log(extent.high * extent.low) / 2, np.log(extent.high / extent.low) / 2
    pressures = np.exp(middle + half * x)
    lines = np.full((len(Line), n_x), np.nan)
    dry, expanding = np.empty((len(Dry), n_y, n_x)), np.empty((len(Expanding), n_y, n_x))
    for i, p in enumerate(pressures):
        bottom, top = extent.bottom(p), fluid.at("ph", p, extent.top)
        lines[: Line.TEMPERATURE, i] = bottom.enthalpy, bottom.entropy, top.entropy
        if extent.has_dome:
            lines[Line.TEMPERATURE :, i] = _wet(fluid.at("pq", p, 0), bottom)
        for j, share in enumerate((y + 1) / 2):
            by_enthalpy = fluid.at("ph", p, _between(bottom.enthalpy, extent.top, share))
            by_entropy = fluid.at("ps", p, _between(bottom.entropy, top.entropy, share))
            dry[:, j, i] = _dry(by_enthalpy)
            expanding[:, j, i] = by_entropy.enthalpy, p / by_entropy.density
    to_x, to_y = (np.linalg.inv(chebvander(points, points.size - 1)) for points in (x, y))
    along = lines @ to_x.T
    for row, of in ((Line.PV_REST_BY_LOG, Line.PV_REST), (Line.PV_SLOPE_BY_LOG, Line.PV_SLOPE)):
        along[row, :-1], along[row, -1] = chebder(along[of]) / half, 0 * along[of, -1]
    return VapourTable(
        pressures=np.array([extent.low, extent.high]),
        top_enthalpy=np.array([extent.top]),
        along=along,
        dry=to_y @ dry @ to_x.T,
        expanding=to_y @ expanding @ to_x.T,
    )


def _points(count: int) -> Lanes:
    return np.asarray(-np.cos(np.pi * (np.arange(count) + 0.5) / count))


def _between(low: float, high: float, share: float) -> float:
    return low + (high - low) * share


def _dry(point: Point) -> tuple[float, ...]:
    """Rows of `Dry`."""
    p, density = point.pressure, point.density
    by_log = point.by_pressure * p / density
    by_enthalpy = point.by_enthalpy / density
    return p / density, by_log, by_enthalpy, point.viscosity, point.temperature, point.entropy


def _wet(boiling: Point, dew: Point) -> tuple[float, ...]:
    """Rows of `Line` from TEMPERATURE on; the two slopes by ln p are filled in later."""
    p, latent = dew.pressure, dew.enthalpy - boiling.enthalpy
    slope = p * (1 / dew.density - 1 / boiling.density) / latent
    thinner = (1 / dew.viscosity - 1 / boiling.viscosity) / latent
    return (
        dew.temperature,
        boiling.enthalpy,
        p / dew.density - slope * dew.enthalpy,
        slope,
        0.0,
        0.0,
        1 / dew.viscosity - thinner * dew.enthalpy,
        thinner,
        dew.entropy - dew.enthalpy / dew.temperature,
    )


def table_error(fluid: RealFluid, table: VapourTable, n_checks: int = CHECKS) -> float:
    """Largest relative error of density, temperature and speed of sound against CoolProp.

    Taken at random dry states of the table and just above the dew line.
    """
    read = Vapour("", table)
    spread = np.random.default_rng(1).uniform(size=(2, n_checks))
    spread[1, -n_checks // 6 :] = 1e-6  # just above the dew line
    pressure = np.exp(np.log(table.pressures) @ np.stack([1 - spread[0], spread[0]]))
    lowest = np.array([_bottom(table, p) for p in pressure])
    enthalpy = lowest + spread[1] * (table.top_enthalpy - lowest)
    state = read.state(pressure=pressure, enthalpy=enthalpy)
    temperature = read.temperature(pressure=pressure, enthalpy=enthalpy)
    points = [fluid.at("ph", p, h) for p, h in zip(pressure, enthalpy, strict=True)]
    errors = [
        np.abs(np.array([found / true - 1 for found, true in zip(values, wanted, strict=True)]))
        for values, wanted in (
            (state.density, [point.density for point in points]),
            (temperature, [point.temperature for point in points]),
            (state.sound_speed, [point.sound_speed for point in points]),
        )
    ]
    return float(np.nanmax(errors))


def _bottom(table: VapourTable, pressure: float) -> float:
    low, high = np.log(table.pressures)
    x = (2 * np.log(pressure) - low - high) / (high - low)
    return float(np.polynomial.chebyshev.chebval(x, table.along[Line.DEW_ENTHALPY]))
