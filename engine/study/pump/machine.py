"""Machine numbers and ranges of a pump; what it shares with a turbine is declared there."""

import math
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, create_model
from pydantic.fields import FieldInfo

from engine import pump_columns
from engine.study.machine import Machine, stated
from engine.study.values import (
    AngularSpeed,
    Area,
    Count,
    Factor,
    Fraction,
    Length,
    Power,
    Range,
    Ratio,
    Section,
    Share,
    read,
)

USUAL = {
    "rim_clearance": 3e-3,
    "side_gap": 5e-3,
    "bearing_seal": "contact",
    "shaft_seal_torque": 10e-3,
    "drive_efficiency": 1.0,
}
"""Usual values of shared numbers that differ from those of a turbine [SI]."""


def _declared(key: str) -> tuple[Any, Any]:
    """Give a number as the turbine's model declares it."""
    of: FieldInfo = Machine.model_fields[key]
    usual = USUAL.get(key, of.default)
    return of.rebuild_annotation(), Field(usual, json_schema_extra=of.json_schema_extra)


_same: Any = {key: _declared(key) for key in pump_columns.SAME_MACHINE}
# Bolts in the gaps of a pump are not worked out.
_same["hold"] = (Literal["spokes", "holes"], "spokes")
_Shared: Any = create_model("_Shared", __base__=Section, **_same)


class PumpMachine(_Shared):
    """What is not searched. Any of these may stand under `ranges` instead."""

    section: ClassVar[str] = "machine"

    suction_ends: Annotated[int, read("count", least=1, most=2)] = 1
    eye_blockage: Share = 0.25
    eye_loss: Ratio = 0.8
    ring_length: Length = 5e-3
    ring_factor: Ratio = 1.0
    throat_factor: Ratio = 1.0
    port_diameter: Length = 16e-3
    cone_loss: Annotated[float, read("ratio", least=0)] = 0.15
    overspeed_factor: Factor = 1.1
    motor_power: Power = 250.0
    motor_speed: AngularSpeed = 2900 * 2 * math.pi / 60
    motor_efficiency: Fraction = 0.75
    motor_iron_share: Share = 0.35
    motor_overspeed: Factor = 1.2


_machine_ranges: Any = {
    key: (Range[stated(field.rebuild_annotation())] | None, None)  # type: ignore[misc]
    for key, field in PumpMachine.model_fields.items()
}


class _Searched(Section):
    section: ClassVar[str] = "ranges"


_MachineRanges: Any = create_model("_MachineRanges", __base__=_Searched, **_machine_ranges)


class PumpRanges(_MachineRanges):
    """The six searched variables, and any machine number moved here."""

    disc_count: Range[Count] = Field(examples=["{min: 6, max: 30}"])
    disc_diameter: Range[Length] = Field(examples=["{min: 80 mm, max: 140 mm, step: 5 mm}"])
    gap: Range[Length] = Field(examples=["{choices: [0.3 mm, 0.5 mm, 0.8 mm]}"])
    eye_diameter: Range[Length] = Field(examples=["{min: 20 mm, max: 50 mm, step: 5 mm}"])
    throat_area: Range[Area] = Field(examples=["{min: 30 mm2, max: 250 mm2}"])
    speed: Range[AngularSpeed] = Field(examples=["{min: 1400 rpm, max: 2900 rpm}"])
