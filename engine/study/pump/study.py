"""A study of a pump."""

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    Field,
    PlainValidator,
    ValidationInfo,
    field_validator,
    model_validator,
)

from engine import pump_columns
from engine.columns import base_key
from engine.errors import WrongValueError
from engine.study.aims import Aim, read_aims
from engine.study.pump.machine import PumpMachine, PumpRanges
from engine.study.pump.supply import Duty, Suction, boiling_fault
from engine.study.pump.uncertainty import PumpUncertainty
from engine.study.search import Search
from engine.study.study import Study
from engine.study.values import Limit, refuse


def default_aims() -> dict[str, Aim]:
    """Aims of a study of a pump that states none."""
    return {"wire_to_water": "maximise", "safety_margin": "maximise"}


class PumpStudy(Study):
    """One question about a pump, ready to run."""

    variables: ClassVar[tuple[str, ...]] = pump_columns.SEARCHED
    numbers: ClassVar[tuple[str, ...]] = tuple(PumpMachine.model_fields)
    bore: ClassVar[str] = "eye_diameter"

    kind: Literal["pump"] = Field("pump", description="what is to be built: a turbine, or a pump")
    # A pump's sections are other models, which the code for turbines never sees.
    supply: Suction  # type: ignore[assignment]
    machine: PumpMachine = PumpMachine()  # type: ignore[assignment]
    ranges: PumpRanges  # type: ignore[assignment]
    aims: Annotated[dict[str, Aim], PlainValidator(read_aims)] = Field(default_factory=default_aims)
    uncertainty: PumpUncertainty = PumpUncertainty()  # type: ignore[assignment]
    duty: Duty

    @field_validator("search")
    @classmethod
    def _is_followed_so(cls, search: Search) -> Search:
        """Refuse what follows a turbine more closely, and no pump yet."""
        found = "follows turbines more closely, and no pump yet"
        asked = {
            "closer": search.closer == "plane",
            "flow": search.flow == "resolved",
            "stages": "refine" in search.stages,
        }
        faults = [
            ((key,), WrongValueError(found, remedy="leave it out")) for key in asked if asked[key]
        ]
        refuse(faults)
        return search

    @model_validator(mode="after")
    def _has_one_currency(self) -> Self:
        return self

    @model_validator(mode="after")
    def _says_where_the_dial_is(self) -> Self:
        """Take liquids that do not boil before they are in the pump; it has no dial."""
        refuse(list(boiling_fault(self.supply)))
        return self

    @field_validator("duty")
    @classmethod
    def _in_heads(cls, duty: Duty, info: ValidationInfo) -> Duty:
        supply = info.data.get("supply")
        if supply is None:
            return duty
        if supply.is_gas:
            refuse(list(duty.heads_of_gas(supply.fluid, supply.density)))
        return duty.in_heads(supply.density)

    @model_validator(mode="after")
    def _does_not_boil_a_gas(self) -> Self:
        """Refuse limits and aims that only a liquid has."""
        found = f"has no meaning for {self.supply.fluid}, which does not boil"
        refuse(
            [
                ((section, key), WrongValueError(found, remedy="take it out"))
                for section in ("limits", "aims")
                for key in getattr(self, section)
                if self.supply.is_gas and base_key(key) in pump_columns.NOT_OF_GASES
            ]
        )
        return self

    @property
    def works_as(self) -> pump_columns.Works:
        """What it works as: a pump, or a blower where a gas flows."""
        return "blower" if self.supply.is_gas else "pump"

    @property
    def all_limits(self) -> dict[str, Limit[float]]:
        """Limits of the study, and what must fit."""
        return self.limits | self._fitting


def is_pump(study: Any) -> bool:
    """Whether a study is one of a pump."""
    return isinstance(study, PumpStudy)
