"""A study as validated, frozen data. Reads no files; every number is SI once it is here.

Values are text with a unit, as in a study file and read by `engine.units.parse`; only plain
numbers and counts may also be numbers of Python. The validation context may hold ``names``: for
"material", "process" and "bearing" the rows a study may name; without it every name passes.
"""

import math
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    AfterValidator,
    Field,
    InstanceOf,
    PlainValidator,
    ValidationInfo,
    field_validator,
    model_validator,
)

from engine import units
from engine.catalogue import bearings, materials
from engine.columns import SEARCHED, band_key, base_key
from engine.columns import Machine as MachineKind
from engine.errors import WrongValueError
from engine.physics.arrays import Same
from engine.physics.machine.thread import PLAY
from engine.physics.machine.web import HOLES
from engine.pump_columns import Works
from engine.stage_columns import OF_STAGES
from engine.study.aims import Aim, default_aims, poor_end, read_aims, read_limits, robust_limits
from engine.study.events import Events, event_faults, read_events
from engine.study.fit import Fit
from engine.study.generators import generator_values
from engine.study.loads import Loads
from engine.study.machine import Machine, Made, Ranges
from engine.study.parts import SLACK, loose_bearing, too_hot
from engine.study.prices import other_currencies
from engine.study.search import Search
from engine.study.supply import Supply
from engine.study.uncertainty import Uncertainty
from engine.study.values import Fault, Frozen, Limit, Range, refuse
from engine.study.yaml_text import can_be_shown
from engine.units import counted, shown

LONGEST_TITLE = 120
NUT = "nut_clearance"
"""Key of how much room the clamp nut has over the seat that it passes."""
LARGEST_GRID = 10_000_000_000
"""Builds of a grid at most."""


def _check_title(title: str) -> str:
    title = title.strip()
    if not title or len(title) > LONGEST_TITLE or not all(map(_is_plain, title)):
        found = units.shorten(title) if title else "an empty title"
        raise WrongValueError(found, f"one line of 1 to {LONGEST_TITLE} characters")
    return title


def _is_plain(character: str) -> bool:
    is_line_end = character in "\n\t" or unicodedata.category(character) in ("Zl", "Zp")
    return can_be_shown(character) and not is_line_end


class Study(Frozen):
    """One question, ready to run; about a turbine, unless it is one of the classes made of this."""

    variables: ClassVar[tuple[str, ...]] = SEARCHED
    """Keys that it must search or fix."""
    numbers: ClassVar[tuple[str, ...]] = tuple(Machine.model_fields)
    """Keys that it may search, or fix under machine."""
    bore: ClassVar[str] = "exhaust_bore"
    """Key of the diameter at which the discs end inside."""

    title: Annotated[str, AfterValidator(_check_title)]
    kind: MachineKind = Field("turbine", description="what is to be built: a turbine, or a pump")
    supply: Supply
    machine: Made = Made()
    ranges: Ranges
    limits: Annotated[dict[str, Limit[float]], PlainValidator(read_limits)] = Field(
        default_factory=dict
    )
    """As the study states them, by key; `all_limits` adds the flow that the supply can give."""
    aims: Annotated[dict[str, Aim], PlainValidator(read_aims)] = Field(default_factory=default_aims)
    search: Search = Search()
    loads: Loads | None = None
    events: Events | None = None
    uncertainty: Uncertainty = Uncertainty()
    fit: InstanceOf[Fit] | None = None
    """Fitted machine numbers with their uncertainty, where `machine.fit` names some."""

    @field_validator("kind")
    @classmethod
    def _is_of_this_class(cls, kind: MachineKind) -> MachineKind:
        mine = cls.model_fields["kind"].default
        if kind != mine:
            found, expected = f"a {kind}", f"a {mine} for {cls.__name__}"
            raise WrongValueError(found, expected, "read the study by engine.study.reader")
        return kind

    @field_validator("events", mode="before")
    @classmethod
    def _from_the_atmosphere(cls, events: Any, info: ValidationInfo) -> Any:
        return read_events(events, info)

    @field_validator("search")
    @classmethod
    def _maps_the_space(cls, search: Search, info: ValidationInfo) -> Search:
        ranges = info.data.get("ranges")
        if ranges is not None and search.method != "search":
            refuse([*_unused(search), *_endless(cls, ranges, search)])
        return search

    @model_validator(mode="after")
    def _robustly(self) -> Self:
        """Judge a robust study by the poor ends of bands instead of by the results themselves."""
        if not self.search.robust:
            return self
        aims = {band_key(key, poor_end(way == "maximise")): way for key, way in self.aims.items()}
        return self.model_copy(update={"aims": aims, "limits": robust_limits(self.limits)})

    @model_validator(mode="after")
    def _has_parts_that_work(self) -> Self:
        refuse([*_no_part(self), *_missing_stages(self)])
        return self

    @model_validator(mode="after")
    def _has_a_whole_data_sheet(self) -> Self:
        sheet = self.by_data_sheet
        asked = event_faults(self.events, self.supply, self.loads, by_data_sheet=sheet)
        refuse([*_half_a_sheet(self), *asked, *_speed_faults(self)])
        return self

    @model_validator(mode="after")
    def _has_one_currency(self) -> Self:
        prices = {
            ("supply", "energy_price"): self.supply.energy_price,
            ("supply", "electricity_price"): self.supply.electricity_price,
            ("machine", "build_cost"): self.machine.build_cost,
        }
        refuse(list(other_currencies(prices)))
        return self

    @model_validator(mode="after")
    def _says_where_the_dial_is(self) -> Self:
        length = self.searched().get("hose_length")
        longest = self.machine.hose_length if length is None else length.highest
        if longest > 0 and "dial" not in self.supply.model_fields_set:
            section = "machine" if length is None else "ranges"
            missing = WrongValueError(
                "is a hose, and the supply does not say where its dial stands",
                "dial: before-hose, or dial: at-nozzles, under supply",
                "add where the pressure is read with the fluid flowing",
            )
            refuse([((section, "hose_length"), missing)])
        return self

    @field_validator("ranges")
    @classmethod
    def _hold_a_machine(cls, ranges: Ranges, info: ValidationInfo) -> Ranges:
        machine = info.data.get("machine")
        if machine is not None:
            twice = _stated_twice(cls.numbers, ranges, machine)
            refuse([*twice, *empty_space(ranges, machine, bore=cls.bore)])
        return ranges

    def searched(self) -> dict[str, Range[Any]]:
        """Every range of the study by key: the six variables first, then machine numbers."""
        return dict(_searched(type(self), Same(self.ranges)))

    def fixed(self) -> dict[str, float | int | str]:
        """Machine numbers that are not under ranges [SI], by key; NaN where one is computed."""
        return dict(_fixed(type(self), Same(self.ranges), Same(self.machine)))

    @property
    def works_as(self) -> Works:
        """What it works as: its columns and words; see `engine.columns.columns_of`."""
        return "turbine"

    @property
    def speed_settles(self) -> bool:
        """Whether builds turn as fast as turbine, generator and loads let them."""
        return math.isnan(self.ranges.speed.lowest)

    @property
    def by_data_sheet(self) -> bool:
        """Whether the generator is given by its data sheet, not by its rating."""
        if "generator_kv" not in self.numbers:
            return False
        return not math.isnan(float(self.fixed().get("generator_kv", 0.0)))

    def unjudged(self) -> "Study":
        """Leave out limits and aims, whose columns may take ten times as long as the rest."""
        return self.model_copy(update={"limits": {}, "aims": {}})

    @property
    def all_limits(self) -> dict[str, Limit[float]]:
        """Limits of the study, what must fit, and the flow available unless it limits that."""
        flow, limits = self.supply.available_flow, self.limits | self._fitting
        key = band_key("mass_flow", poor_end(False)) if self.search.robust else "mass_flow"
        stated = limits.get(key)
        if flow is None or (stated is not None and stated.max is not None):
            return limits
        low = None if stated is None else stated.min
        return {**limits, key: Limit[float].model_construct(min=low, max=flow)}

    @property
    def _fitting(self) -> dict[str, Limit[float]]:
        """Limit that the clamp nut can be put on, where the search can choose; else all tell it.

        A study that bounds the nut itself goes before: its maker has another nut.
        """
        if NUT in self.limits or not {"shaft_diameter", "bearing"} & self.searched().keys():
            return {}
        return {NUT: Limit[float].model_construct(min=PLAY, max=None)}


@lru_cache(maxsize=16)
def _searched(study: type[Study], ranges: Same) -> dict[str, Range[Any]]:
    found = ((key, getattr(ranges.thing, key)) for key in (*study.variables, *study.numbers))
    return {key: values for key, values in found if values is not None}


@lru_cache(maxsize=16)
def _fixed(study: type[Study], ranges: Same, machine: Same) -> dict[str, float | int | str]:
    stated = machine.thing
    known = generator_values(getattr(stated, "generator", None))
    values = {
        key: getattr(stated, key)
        if key not in known or key in stated.model_fields_set
        else known[key]
        for key in study.numbers
        if getattr(ranges.thing, key) is None
    }
    return {key: math.nan if value is None else value for key, value in values.items()}


def most_stages(study: Study) -> int:
    """Most stages that a build of the study has."""
    if "stage_count" not in study.numbers:
        return 1
    searched = study.searched().get("stage_count")
    return int(study.machine.stage_count if searched is None else searched.highest)


def _missing_stages(study: Study) -> Iterator[Fault]:
    """Find limits and aims on stages that no build has."""
    most = most_stages(study)
    if most > 1 and getattr(study.search, "closer", None) == "plane":
        found = "follows builds of one stage only, and stage_count allows more"
        yield ("search", "closer"), WrongValueError(found, remedy="leave closer out")
    for section in ("limits", "aims"):
        for key in getattr(study, section):
            of = base_key(key)
            if of in OF_STAGES and int(of[-1]) > most:
                found = f"is of stage {of[-1]}, and the study has no more than {counted(most)}"
                yield (
                    (section, key),
                    WrongValueError(found, remedy=f"write stage_count: {of[-1]} under machine"),
                )


def _no_part(study: Study) -> Iterator[Fault]:
    """Find whether no material stands the supply, no bearing fits, or holes are too many."""

    def given(key: str) -> tuple[tuple[str, ...], tuple[Any, ...]]:
        searched = getattr(study.ranges, key)
        if searched is None:
            return ("machine", key), (getattr(study.machine, key),)
        return ("ranges", key), searched.values or (searched.highest,)

    keys, names = given("material")
    known = [materials()[name] for name in names if name in materials()]
    if known and all(study.supply.temperature > row.temperature[-1] for row in known):
        found, _, remedy = too_hot(names[-1], study.supply.temperature).partition("; ")
        yield keys, WrongValueError(found, remedy=remedy)
    keys, names = given("bearing")
    shaft = max(given("shaft_diameter")[1])
    sizes = [bearings()[name].bore for name in names if name in bearings()]
    if sizes and min(sizes) > shaft + SLACK:
        found, _, remedy = loose_bearing(names[0], shaft).partition("; ")
        yield keys, WrongValueError(found, remedy=remedy)
    keys, counts = given("spokes")
    if set(given("hold")[1]) == {"holes"} and min(counts) > HOLES[-1]:
        found, expected = f"{min(counts)} round holes", f"{HOLES[0]} to {HOLES[-1]}"
        yield keys, WrongValueError(found, expected, "more leave less open; or write hold: spokes")
    if "bolts" in given("hold")[1] and "washer_diameter" in study.numbers:
        yield from _small_washers(given("washer_diameter"), given("bolt_diameter")[1])


def _small_washers(
    washers: tuple[tuple[str, ...], tuple[float, ...]], bolts: tuple[float, ...]
) -> Iterator[Fault]:
    """Find washers that no bolt of the study is thin enough for."""
    keys, widest = washers[0], max(washers[1])
    if widest <= min(bolts):
        found = f"{1e3 * widest:g} mm, no wider than the bolt of {1e3 * min(bolts):g} mm"
        yield keys, WrongValueError(found, remedy="an M3 washer has 7 mm; or write hold: spokes")


def _half_a_sheet(study: Study) -> Iterator[Fault]:
    """Find a generator constant without resistance, or the other way round."""
    pair = ("generator_kv", "winding_resistance")
    if pair[0] not in study.numbers:
        return  # a pump has a motor instead
    fixed, searched = study.fixed(), study.searched()
    has = [key in searched or not math.isnan(float(fixed[key])) for key in pair]
    if has[0] == has[1]:
        return
    given, missing = pair if has[0] else pair[::-1]
    example = {"generator_kv": "500 rpm/V", "winding_resistance": "0.4 ohm"}[missing]
    found = f"is given without {missing}"
    remedy = f"add {missing}: {example}, or name a kind as generator: spindle-48v"
    place = "ranges" if given in searched else "machine"
    yield (place, given), WrongValueError(found, "both of a data sheet", remedy)


def _speed_faults(study: Study) -> Iterator[Fault]:
    """Find a speed that is to settle without a bus or a data sheet."""
    loads = study.loads
    if not study.speed_settles:
        return
    if loads is None or loads.voltage is None:
        remedy = "add loads: {voltage: 48 V, appliances: ...}, or state a speed"
        wrong = WrongValueError("settles without a bus", "loads with their voltage", remedy)
        yield ("ranges", "speed"), wrong
    if not study.by_data_sheet:
        remedy = "name a kind under machine as generator: spindle-48v, or state a speed"
        found, expected = "settles without a generator of known voltage", "its data sheet"
        yield ("ranges", "speed"), WrongValueError(found, expected, remedy)


def _stated_twice(numbers: tuple[str, ...], ranges: Any, machine: Any) -> Iterator[Fault]:
    for key in numbers:
        if key in machine.model_fields_set and getattr(ranges, key) is not None:
            remedy = "keep it under ranges or under machine"
            yield (key,), WrongValueError("is given under machine too", remedy=remedy)


def _unused(search: Search) -> Iterator[Fault]:
    """Find keys that have no meaning for a map."""
    unused = ["generation", "stages", "patience", "refined"]
    for key in [*unused, "designs"] if search.method == "grid" else unused:
        if key in search.model_fields_set:
            found = f"has no meaning for method: {search.method}"
            yield (key,), WrongValueError(found, remedy="leave it out")


def _endless(study: type[Study], ranges: Any, search: Search) -> Iterator[Fault]:
    """Find why a grid is endless or too large."""
    if search.method != "grid":
        return
    given = ((key, getattr(ranges, key)) for key in (*study.variables, *study.numbers))
    values = {key: each.values for key, each in given if each is not None}
    endless = [key for key, each in values.items() if each is None]
    size = math.prod(len(each) for each in values.values() if each is not None)
    if endless:
        remedy = f"give {endless[0]} a step, or take sobol"
        yield ("method",), WrongValueError(f"a grid, and {endless[0]} has no step", remedy=remedy)
    elif size > LARGEST_GRID:
        found, remedy = f"a grid of {counted(size)} builds", "take larger steps, or sobol"
        yield ("method",), WrongValueError(found, f"{counted(LARGEST_GRID)} at most", remedy)


def empty_space(ranges: Any, machine: Any, *, bore: str) -> Iterator[Fault]:
    """Find whether any bore of the discs, by its key, leaves room inside a disc around a shaft."""
    shafts = ranges.shaft_diameter
    shaft: float = shafts.lowest if shafts is not None else machine.shaft_diameter
    disc, bores = ranges.disc_diameter.highest, getattr(ranges, bore)
    tried = bores.values
    fits = (
        any(shaft < each < disc for each in tried)
        if tried is not None
        else max(shaft, bores.lowest) < min(disc, bores.highest)
    )
    if not fits:
        expected = (
            f"{'an eye' if bore == 'eye_diameter' else 'a bore'} between the smallest shaft, "
            f"{shown(shaft, 'length')}, and the largest disc, {shown(disc, 'length')}"
        )
        yield (bore,), WrongValueError("no build is possible", expected)
