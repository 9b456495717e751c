"""Machine numbers and ranges, the second made from the first."""

import math
from types import NoneType
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import AfterValidator, Field, create_model, field_validator

from engine.errors import WrongValueError
from engine.physics.machine.web import SPOKES
from engine.stage_columns import MOST_STAGES
from engine.study.prices import Cost
from engine.study.values import (
    Angle,
    AngularSpeed,
    Bearing,
    Count,
    Current,
    Duration,
    Factor,
    Force,
    Fraction,
    Generator,
    Grade,
    Length,
    Material,
    Power,
    Process,
    Range,
    Ratio,
    Room,
    Section,
    Share,
    Torque,
    Viscosity,
    Voltage,
    Volume,
    read,
)

SETTLED = "settled"
"""Stands for the speed at which turbine, generator and loads agree."""


def _tabulated(spokes: int) -> int:
    """Refuse a number of spokes that no table has."""
    if spokes in SPOKES:
        return spokes
    raise WrongValueError(
        found=f"{spokes} spokes",
        expected=f"one of {', '.join(map(str, SPOKES))}",
        remedy="in a range, write {choices: [3, 4, 6]} or the like",
    )


Spokes = Annotated[int, read("count", least=SPOKES[0], most=SPOKES[-1]), AfterValidator(_tabulated)]

OF_FIRST = "that of the first stage"


class Machine(Section):
    """What is not searched. Any of these may stand under `ranges` instead."""

    section: ClassVar[str] = "machine"

    disc_thickness: Length = 1e-3
    material: Material = "stainless-304"
    process: Process = "laser-cut"
    notch_factor: Factor | None = Field(None, json_schema_extra={"usual": "computed"})
    burst_factor: Fraction = 0.85
    hose_bore: Length = 9e-3
    hose_length: Room = 0.0
    hose_factor: Ratio = 1.0
    couplings: Annotated[int, read("count", least=0)] = 2
    coupling_loss: Annotated[float, read("ratio", least=0)] = 4.0
    nozzle_count: Count = 2
    nozzle_width: Length = 0.3e-3
    nozzle_form: Literal["convergent", "convergent-divergent"] = "convergent"
    nozzle_area_ratio: Factor = 1.3
    nozzle_land: Ratio = 2.0
    nozzle_entry: Literal["rounded", "sharp"] = "rounded"
    nozzle_discharge: Fraction | None = Field(None, json_schema_extra={"usual": "computed"})
    nozzle_velocity: Fraction | None = Field(None, json_schema_extra={"usual": "computed"})
    rim_mixing: Fraction = 0.95
    casing_factor: Ratio = 1.0
    filling_factor: Ratio = 1.0
    exchange_factor: Annotated[float, read("ratio", least=0)] = 1.0
    entry_factor: Ratio = 1.0
    transition_factor: Ratio = 1.0
    exhaust_ends: Annotated[int, read("count", least=1, most=2)] = 2
    hold: Literal["spokes", "holes", "bolts"] = "spokes"
    spokes: Spokes = 3
    exhaust_blockage: Share = 0.25
    bolt_circle: Length | None = Field(
        None, json_schema_extra={"usual": "midway between exhaust bore and rim"}
    )
    bolt_diameter: Length = 3e-3
    washer_diameter: Length = 7e-3
    exhaust_loss: Ratio = 1.5
    web_factor: Annotated[float, read("ratio", least=0)] = 1.0
    core_factor: Annotated[float, read("ratio", least=0)] = 1.0
    rim_clearance: Length = 0.5e-3
    side_gap: Length = 3e-3
    seal_clearance: Room = 0.10e-3
    seal_throttles: Count = 1
    seal_discharge: Fraction = 0.7
    collar_process: Process = "turned"
    shaft_diameter: Length = 12e-3
    shaft_material: Material = "carbon-steel"
    bearing_allowance: Length = 25e-3
    bearing: Bearing = "6000"
    bearing_seal: Literal["open", "shield", "contact"] = "shield"
    bearing_preload: Force = 20.0
    grease_viscosity: Viscosity = 30e-6
    bearing_viscosity: Viscosity | None = Field(None, json_schema_extra={"usual": "computed"})
    bearing_factor: Ratio = 1.0
    bearing_seal_factor: Annotated[float, read("ratio", least=0)] = 1.0
    bearing_cooling: Ratio = 1.0
    support_factor: Ratio = 0.5
    pack_factor: Annotated[float, read("ratio", least=0)] = 0.03
    belt_pull: Factor = 1.5
    windage_factor: Ratio = 1.0
    wave_factor: Ratio = 1.0
    shaft_seal_torque: Torque = 1e-3
    balance_grade: Grade = 2.5e-3
    drive_efficiency: Fraction = 0.98
    drive_ratio: Ratio = 1.0
    generator_power: Power = 250.0
    generator_speed: AngularSpeed = 20_000 * 2 * math.pi / 60
    generator_efficiency: Fraction = 0.80
    generator_iron_share: Share = 0.35
    generator_overspeed: Factor = 1.2
    generator_kv: Annotated[float, read("speed_constant", above=0)] | None = Field(
        None, json_schema_extra={"usual": "none: by its rating"}
    )
    winding_resistance: Annotated[float, read("resistance", above=0)] | None = Field(
        None, json_schema_extra={"usual": "none; needed with generator_kv"}
    )
    winding_inductance: Annotated[float, read("inductance", least=0)] = 0.0
    pole_pairs: Count = 1
    no_load_loss: Annotated[float, read("power", least=0)] | None = Field(
        None, json_schema_extra={"usual": "iron share of the rated loss"}
    )
    rectifier_drop: Annotated[float, read("voltage", least=0)] = 1.4
    winding_temperature: Annotated[float, read("temperature", above=0)] = 353.15
    generator_current: Current | None = Field(
        None, json_schema_extra={"usual": "rated power over voltage at rated speed"}
    )
    generator_voltage: Voltage | None = Field(None, json_schema_extra={"usual": "none"})
    stage_count: Annotated[int, read("count", least=1, most=MOST_STAGES)] = 1
    disc_count_2: Count | None = Field(None, json_schema_extra={"usual": OF_FIRST})
    nozzle_width_2: Length | None = Field(None, json_schema_extra={"usual": OF_FIRST})
    disc_count_3: Count | None = Field(None, json_schema_extra={"usual": OF_FIRST})
    nozzle_width_3: Length | None = Field(None, json_schema_extra={"usual": OF_FIRST})
    passage_loss: Annotated[float, read("ratio", least=0)] = 2.5
    trip_factor: Factor = 1.15
    trip_delay: Duration = 0.05
    valve_closing: Duration = 0.1
    hose_volume: Volume | None = Field(
        None, json_schema_extra={"usual": "that of the hose, if one is given, else 0.2 l"}
    )


class Made(Machine):
    """The section of a study: these numbers, and what the machine costs."""

    generator: Generator | None = Field(
        None,
        description="a kind of generator: its data sheet where the study states no own numbers",
        json_schema_extra={"usual": "none"},
    )

    build_cost: Cost | None = Field(
        None,
        description="what it costs to make the machine, with its generator",
        examples=["900 EUR"],
    )


def stated(annotation: Any) -> Any:
    """Give the annotation of a value that is stated, where it may also be left out."""
    kinds = get_args(annotation)
    return next(kind for kind in kinds if kind is not NoneType) if NoneType in kinds else annotation


_machine_ranges: Any = {
    key: (Range[stated(field.rebuild_annotation())] | None, None)  # type: ignore[misc]
    for key, field in Machine.model_fields.items()
}


class _Searched(Section):
    section: ClassVar[str] = "ranges"


MachineRanges: Any = create_model("MachineRanges", __base__=_Searched, **_machine_ranges)


class Ranges(MachineRanges):
    """The six searched variables, and any machine number moved here."""

    disc_count: Range[Count] = Field(examples=["{min: 4, max: 40}"])
    disc_diameter: Range[Length] = Field(examples=["{min: 80 mm, max: 200 mm, step: 5 mm}"])
    gap: Range[Length] = Field(examples=["{choices: [0.2 mm, 0.3 mm, 0.5 mm]}"])
    inlet_angle: Range[Angle] = Field(examples=["{min: 6 deg, max: 25 deg, step: 1 deg}"])
    exhaust_bore: Range[Length] = Field(examples=["{min: 20 mm, max: 90 mm}"])
    speed: Range[AngularSpeed] = Field(examples=["18000 rpm", SETTLED])

    @field_validator("speed", mode="before")
    @classmethod
    def _as_it_settles(cls, speed: object) -> object:
        """Take the word for a speed that is found by turbine, generator and loads: NaN."""
        if isinstance(speed, str) and speed.strip() == SETTLED:
            return Range[AngularSpeed].model_construct(choices=(math.nan,))
        return speed
