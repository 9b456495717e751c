"""The fluids that a study may name, from CoolProp or from the study's numbers, and their supply."""

from dataclasses import asdict, dataclass
from difflib import get_close_matches
from functools import lru_cache
from math import log10, nan

import numpy as np
from numpy.polynomial import Polynomial

from engine import units
from engine.cache import Arrays, cached
from engine.errors import WrongValueError
from engine.fluids.coolprop import RealFluid, pure_fluids
from engine.fluids.gas_fit import chebyshev_nodes, fit_gas
from engine.fluids.vapour_table import vapour_table
from engine.physics.fluids.gas import Gas
from engine.physics.fluids.liquid import Liquid
from engine.physics.fluids.liquid_kernel import FITTED_OVER
from engine.physics.fluids.vapour import Vapour, VapourTable
from engine.units import shown

GASES = {"air": "Air", "nitrogen": "Nitrogen"}
"""Gases that stay far from condensing: name in study files, name in CoolProp."""
STEAM, WATER, OIL = "steam", "water", "oil"
LIQUIDS = (WATER, OIL)
GLYCEROL = "glycerol-water"
"""A liquid for pumps: a mixture of any viscosity between that of water and of glycerol."""
THIN, THICK = 1e4, 4e5
"""Pressures at which the viscosity of a gas is read, for its value and its slope [Pa]."""
COMPRESSED_BELOW = 320.0
"""Fluids with a critical temperature below this [K] come from a compressor, not from a boiler."""
COLD_WATER = 288.15
"""Temperature of feedwater that a study does not state [K]."""
BOILS_WITHIN = 0.05
"""Difference from the boiling point [K] below which a temperature does not give the quality."""
OIL_HEAT_CAPACITY = 1.95e3
"""Mineral oil near 40 °C [J/(kg K)], common practice."""


@dataclass(frozen=True)
class VapourSupply:
    """A vapour at the nozzles, and what it is made from."""

    fluid: Vapour
    enthalpy: float  # [J/kg]
    temperature: float  # [K]
    feed_enthalpy: float  # of the liquid before the feed pump [J/kg]; NaN from a compressor
    feed_volume: float  # of that liquid [m3/kg]; NaN from a compressor
    free_density: float  # of the gas at 1 bar and 20 °C [kg/m3]; NaN from a boiler


def fluid_names() -> tuple[str, ...]:
    """Every fluid a study may name: ours, then the pure fluids of CoolProp by their names there."""
    # Kept on disk: to list them the library is loaded, which takes seconds.
    pure = cached({"fluids": "pure"}, lambda: {"names": np.array(pure_fluids())})["names"].tolist()
    theirs = (name for name in pure if name not in {*GASES.values(), "Water"})
    return (*GASES, STEAM, WATER, OIL, *theirs)


def is_vapour(fluid: str) -> bool:
    """Whether the properties of a fluid are read from a vapour table."""
    return fluid not in (*GASES, *LIQUIDS)


@lru_cache(maxsize=8)
def gas(name: str) -> Gas:
    """Gas by its name in study files.

    Valid from 120 to 750 K. At room temperature density, speed of sound and choked flow are within
    0.04 % of the real gas (Lemmon et al. 2000 for air) up to 8 bar, and within 0.2 % up to 16 bar.
    """
    arrays = cached({"gas": name}, lambda: _gas_samples(GASES[name]))
    constant = float(arrays.pop("gas_constant")[0])
    return fit_gas(name=name, gas_constant=constant, temperature=chebyshev_nodes(64), **arrays)


def _gas_samples(name: str) -> Arrays:
    fluid, temperature = RealFluid(name), chebyshev_nodes(64)
    samples = np.array([fluid.thin_gas(t, pressure=THIN) for t in temperature]).T
    thin, thick = (
        np.array([fluid.at("pT", p, t).viscosity for t in temperature]) for p in (THIN, THICK)
    )
    return {
        "gas_constant": np.array([fluid.gas_constant]),
        **dict(zip(("heat_capacity", "virial", "virial_slope"), samples, strict=True)),
        "viscosity": thin,
        "thickening": (thick - thin) / (THICK - THIN),
    }


@lru_cache(maxsize=8)
def free_air_density(name: str) -> float:
    """Density [kg/m3] at 1 bar and 20 °C, the state at which compressors are rated (ISO 1217)."""
    fluid = gas(name)
    enthalpy = fluid.enthalpy(pressure=1e5, temperature=293.15)
    return float(fluid.density(pressure=1e5, enthalpy=enthalpy))


@lru_cache(maxsize=16)
def vapour_supply(
    name: str,
    *,
    pressure: float,
    back_pressure: float,
    temperature: float | None = None,
    quality: float | None = None,
    superheat: float | None = None,
    feed_temperature: float | None = None,
) -> VapourSupply:
    """Vapour of a study, with a table for all states between its two pressures.

    One of temperature [K], quality and superheat [K] defines the supply. The feed is cold water for
    steam and condensate at back pressure for other fluids, unless its temperature [K] is given.
    Raises WrongValueError for a supply that is not a vapour or is outside CoolProp's range.
    """

    def make() -> Arrays:
        fluid = RealFluid("Water" if name == STEAM else name)
        supply = _supply(fluid, name, pressure, (temperature, quality, superheat))
        feed = _feed(fluid, name, pressure, back_pressure, feed_temperature)
        try:
            table = vapour_table(
                fluid, pressure=pressure, enthalpy=supply[0], back_pressure=back_pressure
            )
        except ValueError as error:
            raise WrongValueError(
                found=f"{name} from {shown(pressure, 'pressure')} and "
                f"{shown(supply[1], 'temperature')} to {shown(back_pressure, 'pressure')} "
                "leaves the range in which its properties are known",
                remedy=f"choose other pressures or temperatures ({error})",
            ) from error
        return asdict(table) | {"supply": np.array([*supply, *feed])}

    key: dict[str, object] = {
        "vapour": name,
        "pressures": [back_pressure, pressure],
        "supply": [temperature, quality, superheat],
        "feed": feed_temperature,
    }
    arrays = cached(key, make)
    numbers = map(float, arrays.pop("supply"))
    return VapourSupply(Vapour(name, VapourTable(**arrays)), *numbers)


def _supply(
    fluid: RealFluid, name: str, pressure: float, given: tuple[float | None, ...]
) -> tuple[float, float]:
    """Enthalpy and temperature of a supply defined by one of three values."""
    temperature, quality, superheat = given
    if not fluid.triple_pressure < pressure < fluid.highest_pressure:
        raise WrongValueError(
            found=f"{name} at {shown(pressure, 'pressure')} is outside the range of its properties",
            expected=f"{shown(fluid.triple_pressure, 'pressure')} to "
            f"{shown(fluid.highest_pressure, 'pressure')}",
        )
    if pressure >= fluid.critical_pressure:
        boiling = fluid.critical_temperature
        if temperature is None:
            raise WrongValueError(
                found=f"{name} does not boil at {shown(pressure, 'pressure')}",
                expected="less than its critical pressure, "
                f"{shown(fluid.critical_pressure, 'pressure')}",
                remedy="lower the pressure or give a temperature",
            )
    else:
        boiling = fluid.at("pq", pressure, 1).temperature
    if quality is not None:
        return fluid.at("pq", pressure, quality).enthalpy, boiling
    hot = boiling + (superheat or 0.0) if temperature is None else temperature
    _check_dry(name, pressure, hot, boiling, fluid.hottest)
    return fluid.at("pT", pressure, hot).enthalpy, hot


def _check_dry(name: str, pressure: float, hot: float, boiling: float, hottest: float) -> None:
    at, given = shown(pressure, "pressure"), shown(hot, "temperature")
    if abs(hot - boiling) < BOILS_WITHIN:
        raise WrongValueError(
            found=f"{name} boils at {at} and {given}: it may be liquid, vapour or both",
            expected="its quality",
            remedy="replace the temperature with quality: 1 for dry vapour, less for wet",
        )
    if hot < boiling:
        remedy = "raise the temperature, or lower the pressure"
        if name == STEAM:
            remedy += "; for a head of water write fluid: water"
        raise WrongValueError(
            found=f"{name} is liquid at {at} and {given}",
            expected=f"more than its boiling point, {shown(boiling, 'temperature')}",
            remedy=remedy,
        )
    if hot > hottest:
        raise WrongValueError(
            found=f"{name} at {given} is outside the range of its properties",
            expected=f"up to {shown(hottest, 'temperature')}",
        )


def _feed(
    fluid: RealFluid, name: str, pressure: float, back_pressure: float, given: float | None
) -> tuple[float, float, float]:
    """Enthalpy and specific volume of a boiler's feed, or free-air density of a compressed gas."""
    if fluid.critical_temperature < COMPRESSED_BELOW:
        return nan, nan, fluid.at("pT", 1e5, 293.15).density
    cold = COLD_WATER if given is None and name == STEAM else given
    if cold is None:
        liquid = fluid.at("pq", back_pressure, 0)
        return liquid.enthalpy, 1 / liquid.density, nan
    most = min(pressure, 0.99 * fluid.critical_pressure)
    boiling = fluid.at("pq", most, 0).temperature
    if not fluid.coldest < cold < boiling:
        raise WrongValueError(
            found=f"{name} fed at {shown(cold, 'temperature')} is not liquid",
            expected=f"a feed_temperature from {shown(fluid.coldest, 'temperature')} "
            f"to {shown(boiling, 'temperature')}",
        )
    liquid = fluid.at("pT", pressure, cold)
    return liquid.enthalpy - (pressure - back_pressure) / liquid.density, 1 / liquid.density, nan


@lru_cache(maxsize=16)
def water(*, pressure: float, temperature: float) -> Liquid:
    """Liquid water at a supply; raises WrongValueError where it boils or freezes."""
    arrays = cached(
        {"water": [pressure, temperature]}, lambda: _water_numbers(pressure, temperature)
    )
    density, heat_capacity, vapour_pressure = map(float, arrays["numbers"])
    fit = tuple(map(float, arrays["log_viscosity"]))
    return Liquid(WATER, density, heat_capacity, temperature, fit, vapour_pressure)


def _water_numbers(pressure: float, temperature: float) -> Arrays:
    fluid = RealFluid("Water")
    boiling = fluid.critical_temperature
    if pressure < fluid.critical_pressure:
        boiling = fluid.at("pq", pressure, 0).temperature
    if not fluid.coldest < temperature < boiling:
        raise WrongValueError(
            found=f"water at {shown(pressure, 'pressure')} and {shown(temperature, 'temperature')} "
            "is not liquid",
            expected=f"{shown(fluid.coldest, 'temperature')} to {shown(boiling, 'temperature')}",
            remedy="" if temperature < boiling else "lower the temperature, or write fluid: steam",
        )
    nearby = np.linspace(
        max(temperature - FITTED_OVER, fluid.coldest + 0.01),
        min(temperature + FITTED_OVER, boiling - 0.01),
        12,
    )
    viscosity = [fluid.at("pT", pressure, t).viscosity for t in nearby]
    fit = Polynomial.fit(nearby - temperature, np.log(viscosity), 4).convert()
    here = fluid.at("pT", pressure, temperature)
    vapour_pressure = fluid.saturation_pressure(temperature)
    heat_capacity = fluid.heat_capacity(pressure, temperature)
    return {
        "numbers": np.array([here.density, heat_capacity, vapour_pressure]),
        "log_viscosity": fit.coef,
    }


def oil(*, density: float, viscosity_40: float, viscosity_100: float, temperature: float) -> Liquid:
    """Oil from its data sheet: density [kg/m3], kinematic viscosities at 40 and 100 °C [m2/s].

    Other temperatures follow Walther's law: log log (nu + 0.7) is linear in log T, with nu in mm2/s
    (ASTM D341, from memory).
    """
    near, far = (log10(log10(nu * 1e6 + 0.7)) for nu in (viscosity_40, viscosity_100))
    fall = (near - far) / log10(373.15 / 313.15)
    nearby = temperature + np.linspace(-FITTED_OVER, FITTED_OVER, 12)
    nu = 10**10 ** (near - fall * np.log10(nearby / 313.15)) - 0.7
    logs = np.log(nu * 1e-6 * density)
    fit = tuple(map(float, Polynomial.fit(nearby - temperature, logs, 4).convert().coef))
    return Liquid(OIL, density, OIL_HEAT_CAPACITY, temperature, fit, 0.0)


def known_fluid(name: str) -> str:
    """Give a name of a fluid back; raises WrongValueError for one that is not known."""
    if name in (*GASES, STEAM, WATER, OIL) or name in fluid_names():
        return name
    by_lower = {known.lower(): known for known in fluid_names()}
    near = [by_lower[word] for word in get_close_matches(name.lower(), by_lower)]
    raise WrongValueError(
        found=f"{units.shorten(name)} is not a known fluid",
        expected="air, nitrogen, steam, water, oil or a pure fluid by CoolProp's name",
        remedy=f"perhaps you meant {' or '.join(near)}" if near else "",
    )
