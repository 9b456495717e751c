"""The loads section of a study: what is to run from the terminals, and how steady the supply is."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Annotated, ClassVar, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ModelWrapValidatorHandler,
    field_validator,
    model_validator,
)

from engine import units
from engine.catalogue import read_table
from engine.errors import WrongValueError, suggestion
from engine.physics.arrays import Same
from engine.study.values import (
    Count,
    Factor,
    Fault,
    Fraction,
    Power,
    Section,
    Share,
    Voltage,
    read,
    refuse,
)
from engine.units import shown

MOST_APPLIANCES = 12
"""Entries that the list may have: every set of them is tried."""
BEHAVIOURS = ("lamp", "heater", "constant-power", "motor", "battery")
"""What a change of voltage does to an appliance."""
USUAL_BAND = (0.75, 1.15)
"""Lowest and highest voltage of an appliance that is not of the table, over its own; common
practice, no source."""
LONGEST_NAME = 40
"""Characters of an appliance's name."""


ALL = "all"
"""Stands for every appliance of the loads."""
NEEDED = "needed"
"""Stands for those that must run."""
NONE = "none"
"""Stands for no appliance, where nothing else says so."""


def _as_tuple(value: object) -> object:
    """Take one name as a list of one."""
    return (value,) if isinstance(value, str) else value


def _some(names: tuple[str, ...]) -> tuple[str, ...]:
    """Refuse an empty list."""
    if not names or any(not name for name in names):
        found, expected = "names no appliance", "names of the loads, all or needed"
        raise WrongValueError(found, expected, "write it as [led-lamp, laptop]")
    return names


Names = Annotated[tuple[str, ...], BeforeValidator(_as_tuple), AfterValidator(_some)]


@dataclass(frozen=True)
class Row:
    """An appliance of the table."""

    title: str
    running: float
    """[W]"""
    starting: float
    """Power at switching on over running power [-]."""
    behaves: str
    """One of `BEHAVIOURS`."""
    lowest: float
    """Lowest voltage at which it works over its own [-]."""
    highest: float
    """Highest voltage that it stands for long over its own [-]."""
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
    behaves: Literal["lamp", "heater", "constant-power", "motor", "battery"] | None = Field(
        None,
        description="what a change of voltage does to it; needs `voltage` of the loads",
        json_schema_extra={"usual": "of the table, else constant-power"},
    )
    voltage: Voltage | None = Field(
        None,
        description="voltage for which it is made, or that of a battery",
        json_schema_extra={"usual": "that of the loads"},
    )
    lowest_voltage: Voltage | None = Field(
        None,
        description="below it a power supply is off, a motor stalls, a lamp is too dim",
        json_schema_extra={"usual": "a share of its voltage by the table, else 75 %"},
    )
    highest_voltage: Voltage | None = Field(
        None,
        description="most that it stands for long",
        json_schema_extra={"usual": "a share of its voltage by the table, else 115 %"},
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
    behaves: str = "constant-power"
    """One of `BEHAVIOURS`."""
    voltage: float = math.nan
    """For which it is made [V]; NaN where the study gives none."""
    lowest: float = math.nan
    """[V]"""
    highest: float = math.nan
    """[V]"""

    @property
    def starting(self) -> float:
        """Power of one while it starts over that while it runs [-]."""
        return 1 + self.count * self.surge / self.running


class Loads(Section):
    """What is to run from the terminals."""

    section: ClassVar[str] = "loads"

    appliances: dict[str, Appliance] = Field(
        description="appliances by their names in the table, or by a name of your own"
    )
    voltage: Voltage | None = Field(
        None,
        description="of the bus for which the appliances are made; with it, and with a data sheet "
        "of the generator, it is computed where speed and voltage settle",
        json_schema_extra={"usual": "none"},
    )
    converter_efficiency: Fraction | None = Field(
        None,
        description="of a converter between generator and loads: it holds their voltage, and never "
        "slows the stack below the speed of best power",
        json_schema_extra={"usual": "none: the loads hang on the generator's bus"},
    )
    dump_voltage: Voltage | None = Field(
        None,
        description="above it a dump resistor comes in, which holds speed and voltage",
        json_schema_extra={"usual": "none"},
    )
    dump_power: Power | None = Field(
        None,
        description="what the dump resistor takes at that voltage",
        json_schema_extra={"usual": "none; needed with dump_voltage"},
    )
    settled_with: Names | None = Field(
        None,
        description="loads that are on where the ranges say speed: settled: names of appliances, "
        "all, needed or none",
        json_schema_extra={"usual": "needed"},
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

    @model_validator(mode="after")
    def _voltages_agree(self) -> Self:
        refuse(list(_voltage_faults(self)))
        unknown = unknown_names(self.settled_with or (), (*self.appliances, ALL, NEEDED, NONE))
        refuse([(("settled_with",), wrong) for wrong in unknown])
        return self

    @property
    def listed(self) -> tuple[Load, ...]:
        """Every line with its numbers, the needed ones first, else in the order of the study."""
        return _listed(Same(self.appliances), self.voltage)


@lru_cache(maxsize=16)
def _listed(lines: Same, bus: float | None) -> tuple[Load, ...]:
    """List the lines of a study with their numbers."""
    found = [_load(name, given, bus) for name, given in lines.thing.items()]
    return tuple(sorted(found, key=lambda load: not load.needed))


def unknown_names(names: Iterable[str], known: Sequence[str]) -> Iterator[WrongValueError]:
    """Find names that are none of the known ones."""
    for name in names:
        if name not in known:
            found = f"{units.shorten(name)} is not among the loads"
            yield WrongValueError(found, remedy=suggestion(name, known))


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


def _voltage_faults(loads: Loads) -> Iterator[Fault]:
    """Find voltages that contradict each other, and half a dump resistor."""
    if (loads.dump_voltage is None) != (loads.dump_power is None):
        given, missing = ("dump_voltage", "dump_power")
        if loads.dump_voltage is None:
            given, missing = missing, given
        example = {"dump_voltage": "60 V", "dump_power": "400 W"}[missing]
        expected = "voltage and power of the dump resistor"
        found = f"is given without {missing}"
        yield (given,), WrongValueError(found, expected, f"add {missing}: {example}")
    if loads.dump_voltage is not None and loads.voltage is None:
        remedy = "add voltage: 48 V or whatever the appliances are made for"
        found = "a dump resistor on a bus without voltage"
        yield ("dump_voltage",), WrongValueError(found, "voltage of the loads", remedy)
    elif loads.dump_voltage is not None and loads.converter_efficiency is not None:
        found = "a dump resistor beside a converter, which is not computed yet"
        yield ("dump_voltage",), WrongValueError(found, remedy="leave out one of the two")
    elif loads.dump_voltage is not None and loads.dump_voltage <= (loads.voltage or 0.0):
        found = f"{shown(loads.dump_voltage, 'voltage')} is not above that of the loads"
        remedy = "raise it: at this voltage the resistor takes power from the appliances all day"
        expected = f"above {shown(loads.voltage or 0.0, 'voltage')}"
        yield ("dump_voltage",), WrongValueError(found, expected, remedy)
    if loads.converter_efficiency is not None and loads.voltage is None:
        remedy = "add voltage: 48 V or whatever the appliances are made for"
        found = "a converter on a bus without voltage"
        yield ("converter_efficiency",), WrongValueError(found, "voltage of the loads", remedy)
    for name, entry in loads.appliances.items():
        load = _load(name, entry, loads.voltage)
        stated = [k for k in ("lowest_voltage", "highest_voltage") if getattr(entry, k) is not None]
        if not math.isnan(load.voltage) and not load.lowest <= load.voltage <= load.highest:
            key = stated[0] if stated else "voltage"
            found = f"{shown(load.voltage, 'voltage')} is not between its lowest and highest"
            expected = (
                f"from {shown(load.lowest, 'voltage')} up to {shown(load.highest, 'voltage')}"
            )
            yield ("appliances", name, key), WrongValueError(found, expected, "correct one of them")


def _load(name: str, given: Appliance, bus: float | None) -> Load:
    row = appliances().get(name)
    running = given.running if given.running is not None else row.running if row else 0.0
    starting = given.starting if given.starting is not None else row.starting if row else 1.0
    voltage = given.voltage if given.voltage is not None else math.nan if bus is None else bus
    low, high = (row.lowest, row.highest) if row else USUAL_BAND
    lowest, highest = given.lowest_voltage, given.highest_voltage
    return Load(
        name=name,
        count=given.count,
        needed=given.needed,
        running=given.count * running,
        surge=(starting - 1) * running,
        behaves=given.behaves or (row.behaves if row else "constant-power"),
        voltage=voltage,
        lowest=low * voltage if lowest is None else lowest,
        highest=high * voltage if highest is None else highest,
    )
