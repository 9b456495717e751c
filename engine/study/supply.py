"""The supply section of a study: what comes in, where it leaves, and what it costs to make."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import isfinite, nan
from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic.config import JsonDict
from pydantic_core import PydanticKnownError

from engine.errors import WrongValueError
from engine.fluids.by_name import (
    GASES,
    OIL,
    WATER,
    free_air_density,
    gas,
    is_vapour,
    known_fluid,
    oil,
    vapour_supply,
    water,
)
from engine.physics.arrays import Array
from engine.physics.fluids.fluid_kernel import Fluid
from engine.physics.fluids.gas import Gas
from engine.physics.fluids.liquid import Liquid
from engine.study.prices import Bought
from engine.study.values import (
    STANDARD_ATMOSPHERE,
    BackPressure,
    Dial,
    Fault,
    Fraction,
    Pressure,
    Quantity,
    Viscosity,
    Volume,
    read,
    refuse,
)
from engine.units import shown

STATES = ("temperature", "quality", "superheat")
"""Keys of which a vapour's supply takes one."""
OF_COMPRESSOR = ("specific_power", "receiver_volume", "receiver_pressure")
OIL_KEYS = ("oil_density", "oil_viscosity_40", "oil_viscosity_100")
ONLY_FOR: Mapping[str, str] = {
    **dict.fromkeys(("quality", "superheat", "boiler_efficiency", "feed_temperature"), "vapours"),
    **dict.fromkeys(OIL_KEYS, "oil"),
    **dict.fromkeys(OF_COMPRESSOR, "what comes from a compressor"),
    "pump_efficiency": "liquids and what is boiled from one",
    "energy_price": "what takes energy, such as a head made by a pump of some pump_efficiency",
}
"""Keys that have a meaning for some fluids only, and for which."""
FOR_VAPOUR: JsonDict = {"usual": "none; for a vapour, in place of temperature"}
SHEET: JsonDict = {"usual": "needed for oil, from its data sheet"}
ROOM = 1.1
"""Ratio of pressures between the tables made for samples above a vapour's supply."""
WARMER = 60.0
"""Boiling temperature rises by less than this when the pressure doubles [K]."""

_SOURCE_KEYS = (
    "fluid", "pressure", "back_pressure", "quality", "superheat", "feed_temperature", *OIL_KEYS,
)  # fmt: skip
"""Keys that say, with the temperature, what the supply is."""


@dataclass(frozen=True)
class Source:
    """A supply as the flow model takes it, and what it is made from."""

    fluid: Fluid
    pressure: Array  # absolute [Pa]
    enthalpy: Array  # [J/kg]
    temperature: Array  # [K]
    vapour_pressure: float = nan  # of a liquid [Pa]
    density: float = nan  # of a liquid [kg/m3]
    feed_enthalpy: float = nan  # of the liquid before a boiler's feed pump [J/kg]
    feed_volume: float = nan  # of that liquid [m3/kg]
    free_density: float = nan  # of a gas at 1 bar and 20 °C [kg/m3]

    @property
    def is_boiled(self) -> bool:
        """Whether a boiler makes it."""
        return isfinite(self.feed_enthalpy)

    @property
    def is_compressed(self) -> bool:
        """Whether a compressor makes it."""
        return isfinite(self.free_density)


class _Temperature(Quantity):
    """Temperature of the supply; of a vapour also by its quality or superheat."""

    def __call__(self, value: object, info: ValidationInfo) -> float:
        given = None if value is None else super().__call__(value, info)
        known: Mapping[str, Any] = info.data
        if not set(_SOURCE_KEYS) <= known.keys():
            return given or 0.0  # an earlier key is wrong and is reported instead
        said = [part for part in (given, known["quality"], known["superheat"]) if part is not None]
        if not said or (given is None and not is_vapour(known["fluid"])):
            kind: Literal["missing"] = "missing"
            raise PydanticKnownError(kind)
        if len(said) > 1 and is_vapour(known["fluid"]):
            raise WrongValueError(
                found="the supply's state is given twice",
                expected=f"one of {', '.join(STATES)}",
                remedy="keep one of them",
            )
        source = _source(**{key: known[key] for key in _SOURCE_KEYS}, temperature=given)
        return float(source.temperature)


class _AvailableFlow(Quantity):
    """A mass flow; of air and nitrogen also free air."""

    def __call__(self, value: object, info: ValidationInfo) -> float:
        if info.data.get("fluid", "air") in GASES:
            return super().__call__(value, info)
        return Quantity("mass_flow", above=self.above)(value, info)


class Supply(Bought):
    """What comes in, where it leaves, and what it costs to make."""

    section: ClassVar[str] = "supply"

    fluid: Annotated[str, AfterValidator(known_fluid)] = Field(
        "air",
        description="what flows: air, nitrogen, steam, water, oil, or CoolProp's name of a fluid",
        examples=["R245fa"],
    )
    atmosphere: Annotated[float, read("pressure", least=0.3e5, most=1.2e5)] = Field(
        STANDARD_ATMOSPHERE,
        description="pressure of the surroundings, from which gauge counts",
        examples=["0.95 bar absolute"],
    )
    back_pressure: Annotated[float, BeforeValidator(BackPressure("pressure", above=0))] = Field(
        "atmosphere",
        validate_default=True,
        description="pressure the exhaust blows into",
        examples=["0.2 bar gauge"],
    )
    pressure: Pressure = Field(description="supply pressure in flow", examples=["6 bar gauge"])
    dial: Dial = Field("at-nozzles", description="where that pressure is read: a hose takes some")
    quality: Annotated[float, read("ratio", above=0, most=1)] | None = Field(
        None,
        description="share of vapour before the nozzles; it is then at boiling temperature",
        examples=["0.97"],
        json_schema_extra=FOR_VAPOUR,
    )
    superheat: Annotated[float, read("temperature_difference", above=0)] | None = Field(
        None,
        description="temperature above boiling",
        examples=["15 K"],
        json_schema_extra=FOR_VAPOUR,
    )
    feed_temperature: Annotated[float, read("temperature", least=230, most=700)] | None = Field(
        None,
        description="temperature of the liquid fed to the boiler",
        examples=["80 degC"],
        json_schema_extra={"usual": "15 degC for steam, else condensate at back pressure"},
    )
    oil_density: Annotated[float, read("density", above=0)] | None = Field(
        None, description="oil density", examples=["870 kg/m3"], json_schema_extra=SHEET
    )
    oil_viscosity_40: Viscosity | None = Field(
        None, description="oil viscosity at 40 °C", examples=["46 mm2/s"], json_schema_extra=SHEET
    )
    oil_viscosity_100: Viscosity | None = Field(
        None, description="oil viscosity at 100 °C", examples=["6.8 mm2/s"], json_schema_extra=SHEET
    )
    temperature: Annotated[
        float, BeforeValidator(_Temperature("temperature", least=230, most=700))
    ] = Field(
        None,
        validate_default=True,
        description="temperature before the nozzles",
        examples=["20 degC"],
        json_schema_extra={"usual": "needed; for a vapour, or quality or superheat"},
    )
    available_flow: (
        Annotated[float, BeforeValidator(_AvailableFlow("air_flow", above=0))] | None
    ) = Field(
        None,
        description="most the supply can give, as mass or as free air at 1 bar and 20 °C",
        examples=["600 l/min"],
        json_schema_extra={"usual": "no bound"},
    )
    specific_power: Annotated[float, read("specific_power", above=0)] = Field(
        390e3,
        description="power the compressor draws for its flow of free air",
        examples=["7.5 kW/(m3/min)"],
    )
    receiver_volume: Volume | None = Field(
        None, description="volume of the compressor's receiver", examples=["50 l"]
    )
    receiver_pressure: Pressure | None = Field(
        None,
        description="pressure at which the compressor leaves its receiver full",
        examples=["10 bar gauge"],
    )
    boiler_efficiency: Fraction = Field(
        0.75,
        description="heat given to a vapour over heat of the fuel, or of the heat source",
        examples=["70 %"],
    )
    pump_efficiency: Fraction | None = Field(
        None,
        description="hydraulic power over power drawn, of the feed pump or of what makes a head",
        examples=["45 %"],
        json_schema_extra={"usual": "50 % for a boiler; a head of liquid needs no pump"},
    )

    @field_validator("pressure")
    @classmethod
    def _drives_a_flow(cls, pressure: float, info: ValidationInfo) -> float:
        back_pressure = info.data.get("back_pressure", 0.0)
        if pressure > back_pressure:
            return pressure
        raise WrongValueError(
            found=f"{shown(pressure, 'pressure')} drives no flow",
            expected=f"more than the back pressure, {shown(back_pressure, 'pressure')}",
            remedy="raise the pressure or check gauge and absolute",
        )

    @model_validator(mode="after")
    def _has_no_idle_key(self) -> Self:
        refuse([*self._idle(), *self._no_receiver()])
        return self

    def _no_receiver(self) -> Iterator[Fault]:
        """Find half of a receiver, or one that holds no more than the supply."""
        volume, pressure = self.receiver_volume, self.receiver_pressure
        if (volume is None) != (pressure is None):
            there, missing = ("volume", "pressure") if pressure is None else ("pressure", "volume")
            found = f"has no receiver_{missing}"
            yield (f"receiver_{there}",), WrongValueError(found, remedy=f"add receiver_{missing}")
        elif pressure is not None and pressure <= self.pressure:
            found = f"{shown(pressure, 'pressure')} is not above that of the supply"
            yield ("receiver_pressure",), WrongValueError(found, remedy="state that of a full one")

    def _idle(self) -> Iterator[Fault]:
        """Find keys that are given and have no meaning for this fluid."""
        idle = idle_keys(self)
        for key in ONLY_FOR:
            if key in idle and getattr(self, key) != type(self).model_fields[key].default:
                found, expected = f"has no meaning for {self.fluid}", f"it for {ONLY_FOR[key]} only"
                yield (key,), WrongValueError(found, expected, "take it out")


def idle_keys(supply: Supply) -> set[str]:
    """List the keys that have no meaning for the fluid of a supply."""
    source = source_of(supply)
    idle = {"pump_efficiency"} if source.is_compressed else set(OF_COMPRESSOR)
    idle |= set() if is_vapour(supply.fluid) else {"quality", "superheat"}
    idle |= set() if source.is_boiled else {"boiler_efficiency", "feed_temperature"}
    if supply.fluid != OIL:
        idle |= set(OIL_KEYS)
    is_head = isfinite(source.density) and supply.pump_efficiency is None
    return idle | {"energy_price"} if is_head else idle


def source_of(supply: Supply) -> Source:
    """Fluid and state before the nozzles, and where they come from."""
    given = {key: getattr(supply, key) for key in _SOURCE_KEYS}
    by_wetness = supply.quality is not None or supply.superheat is not None
    is_stated = not (by_wetness and is_vapour(supply.fluid))
    return _source(**given, temperature=supply.temperature if is_stated else None)


def source_at(supply: Supply, *, pressure: Array, temperature: Array) -> Source:
    """Source whose pressure [Pa] and temperature [K] differ from the study's, lane by lane.

    Where the pressure differs, a vapour keeps its enthalpy, as through a valve. Where the
    temperature differs, a wet vapour keeps it too: its temperature does not tell its state.
    """
    stated = source_of(supply)
    fluid = stated.fluid
    if isinstance(fluid, Gas | Liquid):
        enthalpy: Array = fluid.enthalpy(pressure=pressure, temperature=temperature)
        return replace(stated, pressure=pressure, enthalpy=enthalpy, temperature=temperature)
    if np.max(pressure) > supply.pressure:
        fluid = _roomier(supply, float(np.max(pressure)) / supply.pressure).fluid
    known = {"pressure": stated.pressure, "enthalpy": stated.enthalpy + np.array([0.0, 1e3])}
    cooler, warmer = fluid.temperature(**known)
    is_dry = np.all(fluid.quality(pressure=stated.pressure, enthalpy=stated.enthalpy) >= 1)
    heat = 1e3 / (warmer - cooler) if is_dry and warmer > cooler else 0.0
    enthalpy = stated.enthalpy + heat * (temperature - stated.temperature) + 0.0 * pressure
    return replace(
        stated,
        fluid=fluid,
        pressure=pressure,
        enthalpy=enthalpy,
        temperature=fluid.temperature(pressure=pressure, enthalpy=enthalpy),
    )


def _roomier(supply: Supply, times: float) -> Source:
    """Source of a vapour whose table reaches a higher pressure; the study's own if there is none.

    The supply is warmed too, so that it stays as dry as it was.
    """
    times = ROOM ** math.ceil(math.log(times) / math.log(ROOM))  # few tables serve all samples
    given = {key: getattr(supply, key) for key in _SOURCE_KEYS}
    by_wetness = supply.quality is not None or supply.superheat is not None
    warmer = None if by_wetness else supply.temperature + WARMER * (times - 1)
    try:
        return _source(**{**given, "pressure": times * supply.pressure, "temperature": warmer})
    except WrongValueError:
        return source_of(supply)


@lru_cache(maxsize=32)
def _source(
    *,
    fluid: str,
    pressure: float,
    back_pressure: float,
    temperature: float | None,
    quality: float | None,
    superheat: float | None,
    feed_temperature: float | None,
    oil_density: float | None,
    oil_viscosity_40: float | None,
    oil_viscosity_100: float | None,
) -> Source:
    if is_vapour(fluid):
        vapour = vapour_supply(
            fluid,
            pressure=pressure,
            back_pressure=back_pressure,
            temperature=temperature,
            quality=quality,
            superheat=superheat,
            feed_temperature=feed_temperature,
        )
        return Source(
            vapour.fluid,
            pressure,
            vapour.enthalpy,
            vapour.temperature,
            feed_enthalpy=vapour.feed_enthalpy,
            feed_volume=vapour.feed_volume,
            free_density=vapour.free_density,
        )
    warm = temperature or nan
    if fluid in GASES:
        return _gas_source(fluid, pressure, back_pressure, warm)
    if fluid == WATER:
        liquid = water(pressure=pressure, temperature=warm)
    elif oil_density is None or oil_viscosity_40 is None or oil_viscosity_100 is None:
        raise WrongValueError(
            found="oil of an unknown kind",
            expected=f"{', '.join(OIL_KEYS)} from its data sheet",
            remedy="add oil_density: 870 kg/m3 and the two viscosities",
        )
    else:
        liquid = oil(
            density=oil_density,
            viscosity_40=oil_viscosity_40,
            viscosity_100=oil_viscosity_100,
            temperature=warm,
        )
    return Source(
        liquid,
        pressure,
        float(liquid.enthalpy(pressure=pressure, temperature=warm)),
        warm,
        vapour_pressure=liquid.vapour_pressure or nan,
        density=liquid.density_value,
    )


def _gas_source(fluid: str, pressure: float, back_pressure: float, temperature: float) -> Source:
    made = gas(fluid)
    enthalpy = float(made.enthalpy(pressure=pressure, temperature=temperature))
    end = made.isentropic_enthalpy(pressure=pressure, enthalpy=enthalpy, end_pressure=back_pressure)
    if not isfinite(end):
        raise WrongValueError(
            found=f"{fluid} from {shown(pressure, 'pressure')} and "
            f"{shown(temperature, 'temperature')} to {shown(back_pressure, 'pressure')} "
            "leaves the range in which its properties are known",
            expected="120 K to 750 K all the way",
            remedy="warm the supply or lower its pressure",
        )
    return Source(made, pressure, enthalpy, temperature, free_density=free_air_density(fluid))
