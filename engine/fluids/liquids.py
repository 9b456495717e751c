"""Liquids that are pumped, at their suction flange: from CoolProp or the study's numbers."""

import numpy as np
from numpy.polynomial import Polynomial

from engine.cache import Arrays, cached
from engine.errors import WrongValueError
from engine.fluids.by_name import GLYCEROL, OIL, WATER, oil, water
from engine.fluids.coolprop import RealFluid
from engine.fluids.glycerol import mixture_density, mixture_heat_capacity, mixture_viscosity
from engine.physics.fluids.liquid import Liquid
from engine.physics.fluids.liquid_kernel import FITTED_OVER
from engine.units import shown


def liquid(
    *,
    fluid: str,
    pressure: float,
    temperature: float,
    glycerol_share: float | None = None,
    oil_density: float | None = None,
    oil_viscosity_40: float | None = None,
    oil_viscosity_100: float | None = None,
) -> Liquid:
    """Liquid at a suction flange; raises WrongValueError where it is none there."""
    if fluid == WATER:
        return water(pressure=pressure, temperature=temperature)
    if fluid == GLYCEROL:
        if glycerol_share is None:
            raise WrongValueError(
                found="glycerol-water without its share of glycerol",
                expected="glycerol_share, by mass",
                remedy="add glycerol_share: 40 % or the like",
            )
        return glycerol_water(share=glycerol_share, temperature=temperature)
    if fluid == OIL:
        if oil_density is None or oil_viscosity_40 is None or oil_viscosity_100 is None:
            raise WrongValueError(
                found="oil of an unknown kind",
                expected="oil_density, oil_viscosity_40, oil_viscosity_100 from its data sheet",
                remedy="add oil_density: 870 kg/m3 and the two viscosities",
            )
        return oil(
            density=oil_density,
            viscosity_40=oil_viscosity_40,
            viscosity_100=oil_viscosity_100,
            temperature=temperature,
        )
    return _by_coolprop(fluid, pressure, temperature)


def glycerol_water(*, share: float, temperature: float) -> Liquid:
    """Mix glycerol and water by the share of glycerol in the mass [-].

    It is taken to boil as water does, which is on the safe side.
    """
    if not 273.15 <= temperature <= 373.15:
        raise WrongValueError(
            found=f"glycerol-water at {shown(temperature, 'temperature')}",
            expected="0 degC to 100 degC, for which its viscosity is known",
        )
    low, high = (min(max(temperature + by, 273.15), 373.15) for by in (-FITTED_OVER, FITTED_OVER))
    nearby = np.linspace(low, high, 12)
    logs = np.log(mixture_viscosity(share=share, temperature=nearby))
    fit = tuple(map(float, Polynomial.fit(nearby - temperature, logs, 4).convert().coef))
    return Liquid(
        GLYCEROL,
        float(mixture_density(share=share, temperature=temperature)),
        float(mixture_heat_capacity(share=share, temperature=temperature)),
        temperature,
        fit,
        RealFluid("Water").saturation_pressure(temperature),
    )


def _by_coolprop(name: str, pressure: float, temperature: float) -> Liquid:
    arrays = cached(
        {"liquid": name, "at": [pressure, temperature]},
        lambda: _numbers(name, pressure, temperature),
    )
    density, heat_capacity, vapour_pressure = map(float, arrays["numbers"])
    fit = tuple(map(float, arrays["log_viscosity"]))
    return Liquid(name, density, heat_capacity, temperature, fit, vapour_pressure)


def _numbers(name: str, pressure: float, temperature: float) -> Arrays:
    real = RealFluid(name)
    boiling = real.critical_temperature
    if real.triple_pressure < pressure < real.critical_pressure:
        boiling = real.at("pq", pressure, 0).temperature
    if not real.coldest < temperature < boiling:
        raise WrongValueError(
            found=f"{name} at {shown(pressure, 'pressure')} and "
            f"{shown(temperature, 'temperature')} is not liquid",
            expected=f"{shown(real.coldest, 'temperature')} to {shown(boiling, 'temperature')}",
            remedy="cool it or raise the pressure at the flange",
        )
    nearby = np.linspace(
        max(temperature - FITTED_OVER, real.coldest + 0.01),
        min(temperature + FITTED_OVER, boiling - 0.01),
        12,
    )
    viscosity = [real.at("pT", pressure, each).viscosity for each in nearby]
    if not np.isfinite(viscosity).all():
        raise WrongValueError(
            found=f"CoolProp knows no viscosity of liquid {name}",
            expected="a fluid whose viscosity is known",
            remedy="give it as oil: density and viscosities at 40 and 100 degC",
        )
    fit = Polynomial.fit(nearby - temperature, np.log(viscosity), 4).convert()
    numbers = [
        real.at("pT", pressure, temperature).density,
        real.heat_capacity(pressure, temperature),
        real.saturation_pressure(temperature),
    ]
    return {"numbers": np.array(numbers), "log_viscosity": fit.coef}
