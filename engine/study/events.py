"""The events section of a study: what is switched and what the supply does, in time."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from engine.errors import WrongValueError
from engine.study.loads import ALL, NEEDED, Loads, Names, unknown_names
from engine.study.supply import Supply
from engine.study.values import Duration, Fault, Pressure, Section, Share, read, refuse
from engine.units import shown

MOST_EVENTS = 40
"""Entries that a script may have."""


class Event(Section):
    """What happens at one moment."""

    section: ClassVar[str] = "events"

    at: Duration = Field(description="moment of it, from the start", examples=["2 s"])
    switch_on: Names | None = Field(
        None,
        description="appliances that are switched on: names of the loads, all or needed",
        examples=["[laptop, led-lamp]"],
    )
    switch_off: Names | None = Field(
        None,
        description="appliances that are switched off: names of the loads, all or needed",
        examples=["all"],
    )
    supply_pressure: Pressure | None = Field(
        None,
        description="pressure to which the supply changes and at which it then stays",
        examples=["4 bar gauge"],
    )
    over: Duration = Field(0.0, description="time in which it changes; 0 s at once")
    swing: Share | None = Field(
        None,
        description="from here on the supply swings by this share of its pressure over back "
        "pressure, up and down as a sine; 0 ends it",
        examples=["5 %"],
    )
    period: Annotated[float, read("time", above=0)] = Field(
        1.0, description="time from one top of the swing to the next"
    )
    compressor: Literal["running", "stopped"] | None = Field(
        None,
        description="stopped: the compressor cuts out, and the receiver runs down; running: it is "
        "back",
    )

    @model_validator(mode="after")
    def _does_something(self) -> "Event":
        refuse(list(self._faults()))
        return self

    def _faults(self) -> Iterator[Fault]:
        changes = (self.switch_on, self.switch_off, self.supply_pressure, self.swing)
        if all(each is None for each in (*changes, self.compressor)):
            expected = "switch_on, switch_off, supply_pressure, swing or compressor"
            yield (), WrongValueError("nothing happens", expected, "say what, or take it out")
        for key, of in (("over", "supply_pressure"), ("period", "swing")):
            if key in self.model_fields_set and getattr(self, of) is None:
                yield (key,), WrongValueError(f"is given without {of}", remedy=f"add {of}")


class Events(Section):
    """A script that a build is led through, as a chart of speed, voltage and light."""

    section: ClassVar[str] = "events"

    script: tuple[Event, ...] = Field(description="what happens, one entry after the other")
    duration: Annotated[float, read("time", above=0)] | None = Field(
        None,
        description="time that is followed",
        json_schema_extra={"usual": "10 s past the last event"},
    )
    start: Literal["running", "rest"] = Field(
        "running", description="whether it runs at its settled speed at first, or stands still"
    )
    running: Names | None = Field(
        None,
        description="appliances that are on from the start: names of the loads, all or needed",
        json_schema_extra={"usual": "none"},
    )
    bus_capacitance: Annotated[float, read("capacitance", above=0)] = Field(
        4.7e-3,
        description="capacitance of the bus behind the bridge",
        json_schema_extra={"source": "common practice, no source"},
    )

    @field_validator("script")
    @classmethod
    def _in_order(cls, script: tuple[Event, ...]) -> tuple[Event, ...]:
        if not 0 < len(script) <= MOST_EVENTS:
            found, expected = f"{len(script)} entries", f"from 1 up to {MOST_EVENTS}"
            raise WrongValueError(found, expected, "write each as - {at: 2 s, switch_on: laptop}")
        wrong: list[Any] = []
        for place, (before, event) in enumerate(pairwise(script), start=1):
            if event.at < before.at:
                found = f"{event.at:g} s comes after {before.at:g} s"
                fault = WrongValueError(found, "rising moments", "sort the entries")
                wrong.append(((place, "at"), fault))
        refuse(wrong)
        return script

    @model_validator(mode="after")
    def _ends_after_the_last(self) -> "Events":
        last = self.script[-1].at
        if self.duration is not None and self.duration <= last:
            found = f"{self.duration:g} s ends before the last event"
            remedy = f"write more than {last:g} s, or leave it out"
            refuse([(("duration",), WrongValueError(found, remedy=remedy))])
        return self

    @property
    def length(self) -> float:
        """Time that is followed [s]."""
        return self.script[-1].at + 10.0 if self.duration is None else self.duration


def read_events(value: Any, info: ValidationInfo) -> Any:
    """Read the section; gauge pressures count from the atmosphere of the study's supply."""
    if not isinstance(value, Mapping):
        return value
    context = dict(info.context or {})
    if "supply" in info.data:
        context["atmosphere"] = info.data["supply"].atmosphere
    return Events.model_validate(value, context=context)


def event_faults(
    events: Events | None, supply: Supply, loads: Loads | None, *, by_data_sheet: bool
) -> Iterator[Fault]:
    """Find what an events section asks of a study that has no such thing."""
    if events is None:
        return
    if loads is None or loads.voltage is None:
        found, expected = "events without a bus", "loads with their voltage"
        remedy = "add loads: {voltage: 48 V, appliances: ...}"
        yield ("events",), WrongValueError(found, expected, remedy)
        return
    if not by_data_sheet:
        found, expected = "events without a generator of known voltage", "its data sheet"
        remedy = "name a kind under machine as generator: spindle-48v, or add generator_kv"
        yield ("events",), WrongValueError(found, expected, remedy)
    if loads.converter_efficiency is not None:
        found = "events behind a converter, which are not followed yet"
        remedy = "leave out events, or converter_efficiency under loads"
        yield ("events",), WrongValueError(found, remedy=remedy)
    known = (*loads.appliances, ALL, NEEDED)
    lists = [(("events", "running"), events.running)]
    for place, event in enumerate(events.script):
        here: Any = ("events", "script", place)
        lists += [((*here, key), getattr(event, key)) for key in ("switch_on", "switch_off")]
        low = supply.back_pressure
        if event.supply_pressure is not None and event.supply_pressure < low:
            found = f"{shown(event.supply_pressure, 'pressure')} is below the back pressure"
            expected = f"from {shown(low, 'pressure')} up"
            wrong = WrongValueError(found, expected, "check gauge and absolute")
            yield (*here, "supply_pressure"), wrong
        if event.compressor is not None and supply.receiver_volume is None:
            found, expected = "a compressor without a receiver", "its volume and pressure"
            remedy = "add receiver_volume: 50 l and receiver_pressure: 10 bar gauge under supply"
            yield (*here, "compressor"), WrongValueError(found, expected, remedy)
        elif event.compressor is not None and supply.available_flow is None:
            found, expected = "a compressor of unknown flow", "what it delivers"
            remedy = "add available_flow: 600 l/min under supply"
            yield (*here, "compressor"), WrongValueError(found, expected, remedy)
    for keys, names in lists:
        for wrong in unknown_names(names or (), known):
            yield keys, wrong
