"""The loads section of a study: what is to run from the terminals, and how steady the supply is."""

from dataclasses import dataclass
from functools import cache
from typing import Annotated, ClassVar, Self

from pydantic import Field, ModelWrapValidatorHandler, field_validator, model_validator

from engine import units
from engine.catalogue import read_table
from engine.errors import WrongValueError, suggestion
from engine.study.values import Count, Factor, Fault, Power, Section, Share, read, refuse

MOST_APPLIANCES = 12
"""Entries that the list may have: every set of them is tried."""
LONGEST_NAME = 40
"""Characters of an appliance's name."""


@dataclass(frozen=True)
class Row:
    """An appliance of the table."""

    title: str
    running: float
    """[W]"""
    starting: float
    """Power at switching on over running power [-]."""
    source: str


@cache
def appliances() -> dict[str, Row]:
    """Every appliance of the table by key."""
    return {key: Row(**row) for key, row in read_table("appliances").items()}


class Appliance(Section):
    """One line of the list; numbers that it leaves out come from the table."""

    section: ClassVar[str] = "loads"

    running: Power | None = Field(
        None,
        description="power of one while it runs",
        json_schema_extra={"usual": "of the table; needed for any other name"},
    )
    starting: Factor | None = Field(
        None,
        description="power at switching on over running power; 1 for lamps and chargers",
        json_schema_extra={"usual": "of the table, else 1"},
    )
    count: Count = Field(1, description="how many of it run together")
    needed: bool = Field(True, description="whether it must run, or is welcome where power is left")

    @model_validator(mode="wrap")
    @classmethod
    def _from_text(cls, value: object, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Take a bare number as a count, and no value as a count of one."""
        if isinstance(value, str) and value and not _is_number(value):
            try:
                units.parse(value, "power")
            except WrongValueError:
                pass  # told of as a count that is none
            else:
                found = f"{units.shorten(value)} is a power"
                remedy = f"write {{running: {value.strip()}}}"
                raise WrongValueError(found, "how many of it run", remedy)
        return handler(({"count": value} if value else {}) if isinstance(value, str) else value)


@dataclass(frozen=True)
class Load:
    """One line of the list with every number."""

    name: str
    count: int
    needed: bool
    running: float
    """All of them together [W]."""
    surge: float
    """What one of them takes at switching on above its running power [W]."""


class Loads(Section):
    """What is to run from the terminals."""

    section: ClassVar[str] = "loads"

    appliances: dict[str, Appliance] = Field(
        description="appliances by their names in the table, or by a name of your own"
    )
    supply_swing: Share = Field(
        0.05, description="swing of supply over back pressure, up and down, as a share of it"
    )
    storage: Annotated[float, read("energy", above=0)] | None = Field(
        None,
        description="energy that a battery or flywheel can give at the terminals",
        json_schema_extra={"usual": "none"},
    )

    @field_validator("appliances")
    @classmethod
    def _known(cls, given: dict[str, Appliance]) -> dict[str, Appliance]:
        if not given:
            remedy = "leave out the section loads"
            raise WrongValueError(found="no appliance", expected="one at least", remedy=remedy)
        if len(given) > MOST_APPLIANCES:
            remedy = "put some of them together under one name"
            found, expected = f"{len(given)} entries", f"at most {MOST_APPLIANCES}"
            raise WrongValueError(found, expected, remedy)
        refuse([fault for name in given for fault in _faults(name, given[name])])
        return given

    @property
    def listed(self) -> tuple[Load, ...]:
        """Every line with its numbers, the needed ones first, else in the order of the study."""
        found = [_load(name, given) for name, given in self.appliances.items()]
        return tuple(sorted(found, key=lambda load: not load.needed))


def _is_number(text: str) -> bool:
    return text.strip().isdecimal()


def _faults(name: str, given: Appliance) -> list[Fault]:
    plain = name.isprintable() and 0 < len(name.strip()) <= LONGEST_NAME
    if not plain or "," in name:
        expected = f"a name of up to {LONGEST_NAME} characters without a comma"
        return [((name,), WrongValueError("is not a name of an appliance", expected))]
    if name in appliances() or given.running is not None:
        return []
    remedy = suggestion(name, appliances())
    remedy = f"{remedy}, or add running: 40 W" if remedy else "add running: 40 W"
    expected = "its running power, or an appliance of the table"
    return [((name,), WrongValueError(f"{units.shorten(name)} has no power", expected, remedy))]


def _load(name: str, given: Appliance) -> Load:
    row = appliances().get(name)
    running = given.running if given.running is not None else row.running if row else 0.0
    starting = given.starting if given.starting is not None else row.starting if row else 1.0
    return Load(
        name=name,
        count=given.count,
        needed=given.needed,
        running=given.count * running,
        surge=(starting - 1) * running,
    )
