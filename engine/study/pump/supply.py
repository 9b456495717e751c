"""What a pump is fed with, and what it is asked to deliver."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator
from pydantic_core import PydanticKnownError

from engine.errors import WrongValueError
from engine.fluids.by_name import GASES, GLYCEROL, OIL, STEAM, gas, known_fluid
from engine.fluids.liquids import liquid
from engine.physics.fluids.gas import Gas
from engine.physics.fluids.liquid import Liquid
from engine.physics.pump.suction import GRAVITY, npsh_available
from engine.study.supply import OIL_KEYS
from engine.study.values import (
    STANDARD_ATMOSPHERE,
    Fault,
    Pressure,
    Quantity,
    Section,
    Viscosity,
    read,
    refuse,
)
from engine.units import shown

SHEET = {"usual": "needed for oil, from its data sheet"}
_STATE = ("fluid", "pressure", "glycerol_share", *OIL_KEYS)
"""Keys that say, with the temperature, what is pumped."""


def _pumped(name: str) -> str:
    """Give the name of a fluid back; raises WrongValueError for what is neither liquid nor gas."""
    if name == GLYCEROL:
        return name
    known_fluid(name)
    if name == STEAM:
        raise WrongValueError(
            found=f"{name} is a vapour, which may condense on its way",
            expected=f"a liquid: water, oil, glycerol-water or one of CoolProp; or {OF_GASES}",
            remedy="for hot water write fluid: water",
        )
    return name


OF_GASES = " or ".join(GASES)
"""Gases that a blower moves, in words."""


class _Temperature(Quantity):
    """Temperature of the fluid; a liquid must be one there."""

    def __call__(self, value: object, info: ValidationInfo) -> float:
        if value is None:
            kind: Any = "missing"
            raise PydanticKnownError(kind)
        given = super().__call__(value, info)
        known: Mapping[str, Any] = info.data
        if set(_STATE) <= known.keys() and known["fluid"] not in GASES:
            liquid(**{key: known[key] for key in _STATE}, temperature=given)
        return given


class Suction(Section):
    """What comes in at the suction flange."""

    section: ClassVar[str] = "supply"

    fluid: Annotated[str, AfterValidator(_pumped)] = Field(
        "water",
        description="what is pumped: water, oil, glycerol-water, or CoolProp's name of a liquid; "
        "air or nitrogen make the pump a blower",
        examples=["oil"],
    )
    atmosphere: Annotated[float, read("pressure", least=0.3e5, most=1.2e5)] = Field(
        STANDARD_ATMOSPHERE,
        description="pressure of the surroundings, from which gauge counts",
        examples=["0.95 bar absolute"],
    )
    pressure: Pressure = Field(
        description="pressure at the suction flange with the fluid flowing",
        examples=["0.05 bar gauge"],
    )
    glycerol_share: Annotated[float, read("ratio", least=0, most=1)] | None = Field(
        None,
        description="share of glycerol in the mass of glycerol-water",
        examples=["40 %"],
        json_schema_extra={"usual": "needed for glycerol-water"},
    )
    oil_density: Annotated[float, read("density", above=0)] | None = Field(
        None, description="oil density", examples=["870 kg/m3"], json_schema_extra=dict(SHEET)
    )
    oil_viscosity_40: Viscosity | None = Field(
        None,
        description="oil viscosity at 40 °C",
        examples=["100 mm2/s"],
        json_schema_extra=dict(SHEET),
    )
    oil_viscosity_100: Viscosity | None = Field(
        None,
        description="oil viscosity at 100 °C",
        examples=["11 mm2/s"],
        json_schema_extra=dict(SHEET),
    )
    temperature: Annotated[
        float, BeforeValidator(_Temperature("temperature", least=230, most=700))
    ] = Field(
        None,
        validate_default=True,
        description="temperature at the suction flange",
        examples=["12 degC"],
        json_schema_extra={"usual": "needed"},
    )

    @model_validator(mode="after")
    def _has_no_idle_key(self) -> Self:
        refuse(list(self._stated_for_nothing()))
        return self

    @property
    def idle(self) -> Mapping[str, str]:
        """Keys that have no meaning for this fluid, and for which they have one."""
        idle = {} if self.fluid == OIL else dict.fromkeys(OIL_KEYS, "oil")
        return idle | ({} if self.fluid == GLYCEROL else {"glycerol_share": "glycerol-water"})

    def _stated_for_nothing(self) -> Iterator[Fault]:
        for key, fluid in self.idle.items():
            if getattr(self, key) is not None:
                found, expected = f"has no meaning for {self.fluid}", f"it for {fluid} only"
                yield (key,), WrongValueError(found, expected, "take it out")

    @property
    def is_gas(self) -> bool:
        """Whether a gas is pumped: then the pump is a blower."""
        return self.fluid in GASES

    @property
    def density(self) -> float:
        """Density at the suction flange [kg/m3]."""
        return pumped_of(self).density


class Duty(Section):
    """What the pump is asked to deliver."""

    section: ClassVar[str] = "duty"

    flow: Annotated[float, read("volume_flow", above=0)] = Field(
        description="flow to deliver; with static_head or head_loss, the flow at which that loss "
        "is stated",
        examples=["25 l/min"],
    )
    static_head: Annotated[float, read("head")] | None = Field(
        None,
        description="height that the fluid is lifted, with the difference of pressures; then the "
        "flow follows from pump and pipes",
        examples=["3 m"],
        json_schema_extra={"usual": "none: the flow is given, and the head follows"},
    )
    head_loss: Annotated[float, read("head", least=0)] | None = Field(
        None,
        description="head that pipes and valves take at that flow; it grows with its square",
        examples=["3 m"],
        json_schema_extra={"usual": "none: the flow is given, and the head follows"},
    )

    static_pressure: Annotated[float, read("pressure_difference")] | None = Field(
        None,
        description="static_head as a difference of pressures, of the fluid at the suction flange",
        examples=["200 Pa"],
        json_schema_extra={"usual": "none: static_head, or none"},
    )
    pressure_loss: Annotated[float, read("pressure_difference", least=0)] | None = Field(
        None,
        description="head_loss as a difference of pressures",
        examples=["800 Pa"],
        json_schema_extra={"usual": "none: head_loss, or none"},
    )

    @model_validator(mode="after")
    def _says_it_once(self) -> Self:
        pairs = (("static_pressure", "static_head"), ("pressure_loss", "head_loss"))
        refuse(
            [
                ((key,), WrongValueError(f"stands beside {head}", "one of the two", "take one out"))
                for key, head in pairs
                if getattr(self, key) is not None and getattr(self, head) is not None
            ]
        )
        return self

    def heads_of_gas(self, fluid: str, density: float) -> Iterator[Fault]:
        """Find heads that are stated where a gas flows: they may be meant for a liquid."""
        for key, pressure in (("static_head", "static_pressure"), ("head_loss", "pressure_loss")):
            head = getattr(self, key)
            if head is not None:
                found = f"{shown(head, 'head')} of {fluid} weigh {density * GRAVITY * head:.3g} Pa"
                remedy = f"write {pressure}: 800 Pa, or the liquid that is meant as fluid"
                yield (key,), WrongValueError(found, f"{pressure} of a gas", remedy)

    def in_heads(self, density: float) -> "Duty":
        """Say what is stated as pressures as heads of a fluid of this density [kg/m3]."""
        pairs = (("static_pressure", "static_head"), ("pressure_loss", "head_loss"))
        heads = {
            head: getattr(self, key) / (density * GRAVITY)
            for key, head in pairs
            if getattr(self, key) is not None
        }
        return self.model_copy(update={**heads, "static_pressure": None, "pressure_loss": None})

    @property
    def is_system(self) -> bool:
        """Whether the flow follows from the curve of a system."""
        return self.static_head is not None or self.head_loss is not None

    def system_head(self, flow: Any) -> Any:
        """Head that the system asks for at a flow [m3/s], in m."""
        loss = (self.head_loss or 0.0) * (flow / self.flow) ** 2
        return (self.static_head or 0.0) + loss


@dataclass(frozen=True)
class Pumped:
    """What is pumped, as it is at the suction flange."""

    fluid: Liquid | Gas
    density: float
    """[kg/m3]"""
    heat_capacity: float
    """[J/(kg K)]"""
    vapour_pressure: float
    """[Pa]; 0 where it is not known, or there is none."""

    def density_at(self, *, pressure: Any, enthalpy: Any) -> Any:
        """Density of lanes that may be warmer [kg/m3]; that of a liquid is one for all."""
        if isinstance(self.fluid, Gas):
            return self.fluid.density(pressure=pressure, enthalpy=enthalpy)
        return self.density + 0.0 * pressure


@lru_cache(maxsize=32)
def _pumped_fluid(**given: Any) -> Pumped:
    if given["fluid"] not in GASES:
        found = liquid(**given)
        return Pumped(found, found.density_value, found.heat_capacity, found.vapour_pressure)
    fluid, at = gas(given["fluid"]), given["pressure"]
    cold, warm = (
        float(fluid.enthalpy(pressure=at, temperature=given["temperature"] + by)) for by in (0, 1)
    )
    return Pumped(fluid, float(fluid.density(pressure=at, enthalpy=cold)), warm - cold, 0.0)


def pumped_of(suction: Suction) -> Pumped:
    """Give what a study pumps, at its suction flange."""
    given = {key: getattr(suction, key) for key in _STATE}
    return _pumped_fluid(**given, temperature=suction.temperature)


def boiling_fault(suction: Suction) -> Iterator[Fault]:
    """Find whether the liquid is so near boiling at the flange that no pump can be fed with it."""
    head = npsh_head(suction)
    if head < LEAST_NPSH and not suction.is_gas:
        yield (
            ("supply", "pressure"),
            WrongValueError(
                f"{shown(suction.pressure, 'pressure')} leaves {head:.2f} m above boiling at "
                f"{shown(suction.temperature, 'temperature')}",
                f"{LEAST_NPSH} m or more",
                "set the pump lower, widen the suction pipe or cool the fluid",
            ),
        )


LEAST_NPSH = 0.5
"""Head above boiling at the suction flange below which no build is looked at [m]."""


def npsh_head(suction: Suction) -> float:
    """Head above boiling at the suction flange [m]; that of the whole pressure where none is known.

    The pressure of the study is taken as the total one: the velocity head of the pipe is small.
    """
    fluid = pumped_of(suction)
    return float(
        npsh_available(
            density=fluid.density,
            total_pressure=suction.pressure,
            vapour_pressure=fluid.vapour_pressure,
        )
    )
