"""What a pump is fed with, and what it is asked to deliver."""

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator
from pydantic_core import PydanticKnownError

from engine.errors import WrongValueError
from engine.fluids.by_name import GASES, GLYCEROL, OIL, STEAM, known_fluid
from engine.fluids.liquids import liquid
from engine.physics.fluids.liquid import Liquid
from engine.physics.pump.suction import npsh_available
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
    """Give the name of a liquid back; raises WrongValueError for what is no liquid."""
    if name == GLYCEROL:
        return name
    known_fluid(name)
    if name in GASES or name == STEAM:
        raise WrongValueError(
            found=f"{name} is a gas",
            expected="a liquid: water, oil, glycerol-water or a fluid of CoolProp that is liquid",
            remedy="a disc stack does not prime itself, and this model has no blower; take a fan",
        )
    return name


class _Temperature(Quantity):
    """Temperature of the liquid, at which it must be one."""

    def __call__(self, value: object, info: ValidationInfo) -> float:
        if value is None:
            kind: Any = "missing"
            raise PydanticKnownError(kind)
        given = super().__call__(value, info)
        known: Mapping[str, Any] = info.data
        if set(_STATE) <= known.keys():
            liquid(**{key: known[key] for key in _STATE}, temperature=given)
        return given


class Suction(Section):
    """What comes in at the suction flange."""

    section: ClassVar[str] = "supply"

    fluid: Annotated[str, AfterValidator(_pumped)] = Field(
        "water",
        description="what is pumped: water, oil, glycerol-water, or CoolProp's name of a liquid",
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
        idle = {} if self.fluid == OIL else dict.fromkeys(OIL_KEYS, "oil")
        idle |= {} if self.fluid == GLYCEROL else {"glycerol_share": "glycerol-water"}
        refuse(list(self._stated_for_nothing(idle)))
        return self

    def _stated_for_nothing(self, idle: Mapping[str, str]) -> Iterator[Fault]:
        for key, fluid in idle.items():
            if getattr(self, key) is not None:
                found, expected = f"has no meaning for {self.fluid}", f"it for {fluid} only"
                yield (key,), WrongValueError(found, expected, "take it out")

    @property
    def density(self) -> float:
        """Density of the liquid [kg/m3]."""
        return liquid_of(self).density_value


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

    @property
    def is_system(self) -> bool:
        """Whether the flow follows from the curve of a system."""
        return self.static_head is not None or self.head_loss is not None

    def system_head(self, flow: Any) -> Any:
        """Head that the system asks for at a flow [m3/s], in m."""
        loss = (self.head_loss or 0.0) * (flow / self.flow) ** 2
        return (self.static_head or 0.0) + loss


@lru_cache(maxsize=32)
def _liquid(**given: Any) -> Liquid:
    return liquid(**given)


def liquid_of(suction: Suction) -> Liquid:
    """Liquid of a study at its suction flange."""
    given = {key: getattr(suction, key) for key in _STATE}
    return _liquid(**given, temperature=suction.temperature)


def boiling_fault(suction: Suction) -> Iterator[Fault]:
    """Find whether the liquid is so near boiling at the flange that no pump can be fed with it."""
    head = npsh_head(suction)
    if head < LEAST_NPSH:
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
    fluid = liquid_of(suction)
    return float(
        npsh_available(
            density=fluid.density_value,
            total_pressure=suction.pressure,
            vapour_pressure=fluid.vapour_pressure,
        )
    )
