"""A study as validated, frozen data. Reads no files; every number is SI once it is here.

Values are text with a unit, as in a study file and read by `engine.units.parse`; only plain
numbers and counts may also be numbers of Python. The validation context may hold ``names``: for
"material", "process" and "bearing" the rows a study may name; without it every name passes.
"""

import math
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import (
    AfterValidator,
    Field,
    InstanceOf,
    PlainValidator,
    ValidationInfo,
    create_model,
    field_validator,
    model_validator,
)

from engine import units
from engine.appliances import Loads
from engine.columns import COLUMNS, SEARCHED, band_key
from engine.doubt import Uncertainty
from engine.errors import WrongValueError
from engine.fitted import Fit
from engine.supply import Supply
from engine.values import (
    STANDARD_ATMOSPHERE,
    Angle,
    AngularSpeed,
    Bearing,
    Count,
    Factor,
    Fault,
    Force,
    Fraction,
    Frozen,
    Grade,
    Length,
    Limit,
    Material,
    Power,
    Process,
    Range,
    Ratio,
    Room,
    Share,
    Torque,
    Viscosity,
    counted,
    read,
    refuse,
    shown,
)

__all__ = [
    "Frozen",
    "Limit",
    "Loads",
    "Machine",
    "Range",
    "Ranges",
    "Search",
    "Study",
    "Supply",
    "Uncertainty",
]

Aim: TypeAlias = Literal["maximise", "minimise"]

LONGEST_TITLE = 120
LARGEST_GRID = 1_000_000_000
"""Builds of a grid at most."""
MEASURED = tuple(c.key for c in COLUMNS.values() if c.kind == "result" and not c.is_text)
"""Results that are numbers: what limits bound and aims name."""


class Machine(Frozen):
    """What is not searched. Any of these may stand under `ranges` instead."""

    disc_thickness: Length = 1e-3
    material: Material = "stainless-304"
    process: Process = "laser-cut"
    notch_factor: Factor = 2.0
    burst_factor: Fraction = 0.85
    nozzle_count: Count = 2
    nozzle_width: Length = 0.3e-3
    nozzle_form: Literal["convergent", "convergent-divergent"] = "convergent"
    nozzle_area_ratio: Factor = 1.3
    nozzle_discharge: Fraction = 0.95
    nozzle_velocity: Fraction = 0.95
    rim_mixing: Fraction = 0.95
    exhaust_ends: Annotated[int, read("count", least=1, most=2)] = 2
    exhaust_blockage: Share = 0.25
    exhaust_loss: Ratio = 1.5
    rim_clearance: Length = 0.5e-3
    side_gap: Length = 3e-3
    seal_clearance: Room = 0.10e-3
    seal_throttles: Count = 1
    seal_discharge: Fraction = 0.7
    shaft_diameter: Length = 12e-3
    shaft_material: Material = "carbon-steel"
    bearing_allowance: Length = 25e-3
    bearing: Bearing = "6001"
    bearing_preload: Force = 20.0
    bearing_viscosity: Viscosity = 20e-6
    bearing_factor: Ratio = 1.0
    windage_factor: Ratio = 1.0
    shaft_seal_torque: Torque = 1e-3
    balance_grade: Grade = 2.5e-3
    drive_efficiency: Fraction = 0.98
    drive_ratio: Ratio = 1.0
    generator_power: Power = 250.0
    generator_speed: AngularSpeed = 20_000 * 2 * math.pi / 60
    generator_efficiency: Fraction = 0.80
    generator_iron_share: Share = 0.35
    trip_factor: Factor = 1.15


_machine_ranges: Any = {
    key: (Range[field.rebuild_annotation()] | None, None)  # type: ignore[misc]
    for key, field in Machine.model_fields.items()
}
MachineRanges: Any = create_model("MachineRanges", __base__=Frozen, **_machine_ranges)


class Ranges(MachineRanges):
    """The six searched variables, and any machine number moved here."""

    disc_count: Range[Count]
    disc_diameter: Range[Length]
    gap: Range[Length]
    inlet_angle: Range[Angle]
    exhaust_bore: Range[Length]
    speed: Range[AngularSpeed]


Stage: TypeAlias = Literal["screen", "evolve", "polish", "refine"]


class Search(Frozen):
    """How long and how to look."""

    method: Literal["search", "grid", "sobol"] = Field(
        "search",
        description="search for the best, or map the space: grid takes every build of stepped "
        "ranges, sobol spreads builds evenly",
    )
    designs: Annotated[int, read("count", least=1, most=1_000_000_000)] = Field(
        20_000, description="designs to evaluate before the search ends"
    )
    generation: Annotated[int, read("count", least=4, most=100_000)] = Field(
        400, description="designs evaluated together, from which the next ones are bred"
    )
    seed: Annotated[int, read("count", least=0, most=2**32 - 1)] = Field(
        1, description="start of the random numbers; the same seed gives the same answer"
    )
    flow: Literal["averaged", "resolved"] = Field(
        "averaged",
        description="gap flow averaged across the gap (fast), or resolved across it (slow, closer)",
    )
    stages: tuple[Stage, ...] = Field(
        ("screen", "evolve", "polish"),
        description="how to look: spread builds while few are feasible, evolve them, polish the "
        "front, refine it with the gap flow resolved",
    )
    patience: Annotated[int, read("count", least=1, most=1_000_000_000)] = Field(
        20, description="generations without growth of the front after which a stage ends"
    )
    refined: Annotated[int, read("count", least=1, most=1_000_000)] = Field(
        400, description="designs that a stage refine evaluates beyond the others"
    )

    robust: bool = Field(
        False,
        description="judge each design by the poor end of its band: aims and limits at P10, or at "
        "P90 where less is better",
    )

    @field_validator("stages")
    @classmethod
    def _once_each(cls, stages: tuple[Stage, ...], info: ValidationInfo) -> tuple[Stage, ...]:
        if not stages:
            remedy = "leave the key out for the usual ones"
            raise WrongValueError(found="no stage", expected="one at least", remedy=remedy)
        if len(set(stages)) < len(stages):
            raise WrongValueError(found="a stage stands twice", remedy="keep it once")
        if "refine" in stages and info.data.get("flow") == "resolved":
            found, remedy = "refine beside flow: resolved", "leave out refine, or take averaged"
            raise WrongValueError(found=found, remedy=remedy)
        return stages


def _named(value: object) -> tuple[str, ...]:
    """Results that a section names; models of all of them would take long to build."""
    return tuple(key for key in MEASURED if isinstance(value, Mapping) and key in value)


def _read_limits(value: object, info: ValidationInfo) -> dict[str, Limit[float]]:
    supply = info.data.get("supply")
    atmosphere = supply.atmosphere if supply else STANDARD_ATMOSPHERE
    context = {**(info.context or {}), "atmosphere": atmosphere}
    fields: Any = {
        key: (Limit[Annotated[float, read(COLUMNS[key].unit.dimension)]] | None, None)
        for key in _named(value)
    }
    model: Any = create_model("Limits", __base__=Frozen, **fields)
    given = model.model_validate(value, context=context)
    return {key: limit for key, limit in given if limit is not None}


def _check_title(title: str) -> str:
    title = title.strip()
    if not title or len(title) > LONGEST_TITLE or not all(map(_is_plain, title)):
        found = units.shorten(title) if title else "an empty title"
        raise WrongValueError(found, f"one line of 1 to {LONGEST_TITLE} characters")
    return title


def _is_plain(character: str) -> bool:
    return unicodedata.category(character) not in ("Cc", "Cs", "Zl", "Zp")


def _default_aims() -> dict[str, Aim]:
    return {"electric_power": "maximise", "safety_margin": "maximise"}


def _read_aims(value: object) -> dict[str, Aim]:
    fields: Any = dict.fromkeys(_named(value), (Aim | None, None))
    model: Any = create_model("Aims", __base__=Frozen, **fields)
    chosen = model.model_validate(value)
    aims: dict[str, Aim] = {
        key: getattr(chosen, key)
        for key in (value if isinstance(value, Mapping) else ())
        if getattr(chosen, key) is not None
    }
    if not 2 <= len(aims) <= 3:
        raise WrongValueError(found=f"{len(aims)} aims", expected="two or three")
    return aims


class Study(Frozen):
    """One question, ready to run."""

    title: Annotated[str, AfterValidator(_check_title)]
    supply: Supply
    machine: Machine = Machine()
    ranges: Ranges
    limits: Annotated[dict[str, Limit[float]], PlainValidator(_read_limits)] = Field(
        default_factory=dict
    )
    """As the study states them, by column key; `all_limits` adds what the supply can give."""
    aims: Annotated[dict[str, Aim], PlainValidator(_read_aims)] = Field(
        default_factory=_default_aims
    )
    search: Search = Search()
    loads: Loads | None = None
    uncertainty: Uncertainty = Uncertainty()
    fit: InstanceOf[Fit] | None = None
    """Fitted machine numbers with their uncertainty, where `machine.fit` names some."""

    @field_validator("search")
    @classmethod
    def _maps_the_space(cls, search: Search, info: ValidationInfo) -> Search:
        ranges = info.data.get("ranges")
        if ranges is not None and search.method != "search":
            refuse([*_unused(search), *_endless(ranges, search)])
        return search

    @model_validator(mode="after")
    def _robustly(self) -> Self:
        """Judge a robust study by the poor ends of bands in place of the results themselves."""
        if not self.search.robust:
            return self
        aims = {band_key(key, _poor_end(way == "maximise")): way for key, way in self.aims.items()}
        return self.model_copy(update={"aims": aims, "limits": _robust_limits(self.limits)})

    @field_validator("ranges")
    @classmethod
    def _hold_a_machine(cls, ranges: Ranges, info: ValidationInfo) -> Ranges:
        machine = info.data.get("machine")
        if machine is not None:
            refuse([*_stated_twice(ranges, machine), *_empty_space(ranges, machine)])
        return ranges

    def searched(self) -> dict[str, Range[Any]]:
        """Every range of the study by key: the six variables first, then machine numbers."""
        ranges = ((key, getattr(self.ranges, key)) for key in (*SEARCHED, *Machine.model_fields))
        return {key: values for key, values in ranges if values is not None}

    def fixed(self) -> dict[str, float | int | str]:
        """Machine numbers that are not under ranges [SI], by key."""
        return {
            key: getattr(self.machine, key)
            for key in Machine.model_fields
            if getattr(self.ranges, key) is None
        }

    def unjudged(self) -> "Study":
        """Leave out limits and aims, whose columns may cost ten times the rest."""
        return self.model_copy(update={"limits": {}, "aims": {}})

    @property
    def all_limits(self) -> dict[str, Limit[float]]:
        """Limits of the study, and the available flow where it states no other for the flow."""
        flow = self.supply.available_flow
        key = band_key("mass_flow", _poor_end(False)) if self.search.robust else "mass_flow"
        stated = self.limits.get(key)
        if flow is None or (stated is not None and stated.max is not None):
            return self.limits
        low = None if stated is None else stated.min
        return {**self.limits, key: Limit[float].model_construct(min=low, max=flow)}


def _poor_end(more_is_better: bool) -> str:
    return "p10" if more_is_better else "p90"


def _robust_limits(limits: Mapping[str, Limit[float]]) -> dict[str, Limit[float]]:
    """Each bound on the end of the band that comes nearest to it."""
    robust = {}
    for key, limit in limits.items():
        if limit.min is not None:
            low = Limit[float].model_construct(min=limit.min, max=None)
            robust[band_key(key, _poor_end(True))] = low
        if limit.max is not None:
            high = Limit[float].model_construct(min=None, max=limit.max)
            robust[band_key(key, _poor_end(False))] = high
    return robust


def value_type(key: str) -> Any:
    """Annotation of one value of a variable or machine number."""
    if key in Machine.model_fields:
        return Machine.model_fields[key].rebuild_annotation()
    given: Any = Ranges.model_fields[key].annotation
    return given.model_fields["min"].annotation


def _stated_twice(ranges: Ranges, machine: Machine) -> Iterator[Fault]:
    for key in Machine.model_fields:
        if key in machine.model_fields_set and getattr(ranges, key) is not None:
            remedy = "keep it under ranges or under machine"
            yield (key,), WrongValueError("stands under machine too", remedy=remedy)


def _unused(search: Search) -> Iterator[Fault]:
    """Find keys that have no meaning for a map."""
    unused = ["generation", "stages", "patience", "refined"]
    for key in [*unused, "designs"] if search.method == "grid" else unused:
        if key in search.model_fields_set:
            found = f"means nothing to method: {search.method}"
            yield (key,), WrongValueError(found, remedy="leave it out")


def _endless(ranges: Ranges, search: Search) -> Iterator[Fault]:
    """Find why a grid has no end, or none that a run would reach."""
    if search.method != "grid":
        return
    given = ((key, getattr(ranges, key)) for key in (*SEARCHED, *Machine.model_fields))
    values = {key: each.values for key, each in given if each is not None}
    endless = [key for key, each in values.items() if each is None]
    size = math.prod(len(each) for each in values.values() if each is not None)
    if endless:
        remedy = f"give {endless[0]} a step, or take sobol"
        yield ("method",), WrongValueError(f"a grid, and {endless[0]} has no step", remedy=remedy)
    elif size > LARGEST_GRID:
        found, remedy = f"a grid of {counted(size)} builds", "take larger steps, or sobol"
        yield ("method",), WrongValueError(found, f"{counted(LARGEST_GRID)} at most", remedy)


def _empty_space(ranges: Any, machine: Machine) -> Iterator[Fault]:
    """Find whether any exhaust bore leaves room inside a disc and around the shaft."""
    shafts = ranges.shaft_diameter
    shaft: float = shafts.lowest if shafts is not None else machine.shaft_diameter
    disc, bores = ranges.disc_diameter.highest, ranges.exhaust_bore
    tried = bores.values
    fits = (
        any(shaft < bore < disc for bore in tried)
        if tried is not None
        else max(shaft, bores.lowest) < min(disc, bores.highest)
    )
    if not fits:
        expected = (
            f"a bore between the smallest shaft, {shown(shaft, 'length')}, "
            f"and the largest disc, {shown(disc, 'length')}"
        )
        yield ("exhaust_bore",), WrongValueError("no build is possible", expected)
