"""A study as validated, frozen data. Reads no files; every number is SI once it is here."""

from typing import Annotated, Any, Generic, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, create_model

from engine import units


class Frozen(BaseModel):
    """Refuses unknown keys and later changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def _quantity(dimension: str) -> BeforeValidator:
    return BeforeValidator(lambda value: units.parse(value, dimension))


Length = Annotated[float, _quantity("length"), Field(gt=0)]
Room = Annotated[float, _quantity("length"), Field(ge=0)]
Angle = Annotated[float, _quantity("angle"), Field(gt=0, lt=1.5707)]
AngularSpeed = Annotated[float, _quantity("angular_speed"), Field(gt=0)]
Pressure = Annotated[float, _quantity("pressure"), Field(gt=0)]
"""Absolute pressure; the text must say gauge or absolute (units.parse adds the atmosphere)."""
Temperature = Annotated[float, _quantity("temperature"), Field(gt=0)]
Power = Annotated[float, _quantity("power"), Field(gt=0)]
Force = Annotated[float, _quantity("force"), Field(ge=0)]
Torque = Annotated[float, _quantity("torque"), Field(ge=0)]
Viscosity = Annotated[float, _quantity("kinematic_viscosity"), Field(gt=0)]
Grade = Annotated[float, _quantity("balance_grade"), Field(gt=0)]
Share = Annotated[float, _quantity("ratio"), Field(ge=0, lt=1)]
Fraction = Annotated[float, _quantity("ratio"), Field(gt=0, le=1)]
Factor = Annotated[float, _quantity("ratio"), Field(ge=1)]
Ratio = Annotated[float, _quantity("ratio"), Field(gt=0)]
Count = Annotated[int, _quantity("count"), Field(ge=1)]

V = TypeVar("V")


class Range(Frozen, Generic[V]):
    """Values a variable may take: a span with an optional step, a list of choices, or one value."""

    min: V | None = None
    max: V | None = None
    step: V | None = None
    choices: tuple[V, ...] | None = None


class Limit(Frozen, Generic[V]):
    """Bounds a result must keep."""

    min: V | None = None
    max: V | None = None


class Supply(Frozen):
    """What comes in, and what it costs to make."""

    fluid: Literal["air", "nitrogen"] = "air"
    pressure: Pressure
    temperature: Temperature
    atmosphere: Pressure = 101325.0
    back_pressure: Pressure | None = None  # the atmosphere where not given
    available_flow: float | None = None  # [kg/s]; mass flow, or volume flow of free air
    specific_power: float = 390e3  # compressor power per free-air flow [W/(m3/s)]; 6.5 kW/(m3/min)


class Machine(Frozen):
    """What is not searched. Any of these may stand under `ranges` instead."""

    disc_thickness: Length = 1e-3
    material: str = "stainless-304"
    process: str = "laser-cut"
    notch_factor: Factor = 2.0
    burst_factor: Fraction = 0.85
    nozzle_count: Count = 4
    nozzle_width: Length = 0.8e-3
    nozzle_form: Literal["convergent", "convergent-divergent"] = "convergent"
    nozzle_area_ratio: Factor = 1.3
    nozzle_discharge: Fraction = 0.95
    nozzle_velocity: Fraction = 0.95
    rim_mixing: Fraction = 0.95
    exhaust_ends: Annotated[int, _quantity("count"), Field(ge=1, le=2)] = 2
    exhaust_blockage: Share = 0.25
    exhaust_loss: Ratio = 1.5
    rim_clearance: Length = 0.5e-3
    side_gap: Length = 3e-3
    seal_clearance: Room = 0.10e-3
    seal_throttles: Count = 1
    seal_discharge: Fraction = 0.7
    shaft_diameter: Length = 12e-3
    shaft_material: str = "carbon-steel"
    bearing_allowance: Length = 25e-3
    bearing: str = "6001"
    bearing_preload: Force = 20.0
    bearing_viscosity: Viscosity = 20e-6
    shaft_seal_torque: Torque = 1e-3
    balance_grade: Grade = 2.5e-3
    drive_efficiency: Fraction = 0.98
    drive_ratio: Ratio = 1.0
    generator_power: Power = 250.0
    generator_speed: AngularSpeed = 2094.4
    generator_efficiency: Fraction = 0.80
    generator_iron_share: Share = 0.35
    trip_factor: Factor = 1.15


MachineRanges: Any = create_model(
    "MachineRanges",
    __base__=Frozen,
    **{
        key: (Range[field.rebuild_annotation()] | None, None)  # type: ignore[misc]
        for key, field in Machine.model_fields.items()
    },
)


class Ranges(MachineRanges):  # type: ignore[misc]
    """The six searched variables, and any machine number moved here."""

    disc_count: Range[Count]
    disc_diameter: Range[Length]
    gap: Range[Length]
    inlet_angle: Range[Angle]
    exhaust_bore: Range[Length]
    speed: Range[AngularSpeed]


class Search(Frozen):
    """How long and how to look."""

    designs: Annotated[int, Field(ge=1)] = 20_000
    generation: Annotated[int, Field(ge=4)] = 200
    seed: Annotated[int, Field(ge=0)] = 1


class Study(Frozen):
    """One question, ready to run."""

    title: str
    supply: Supply
    machine: Machine = Machine()
    ranges: Ranges
    limits: dict[str, Limit[float]] = {}
    """By column key, SI."""
    aims: dict[str, Literal["maximise", "minimise"]] = {
        "electric_power": "maximise",
        "safety_margin": "maximise",
    }
    search: Search = Search()
