"""The uncertainty section of a study: how well coefficients, sizes and supply are known."""

import math
from typing import Annotated, ClassVar

from pydantic import Field
from pydantic.config import JsonDict

from engine.study.values import Section, read

PRACTICE: JsonDict = {"source": "common practice, no source"}
CLOSURE: JsonDict = {
    "source": "how closures of a plane flow differ, and how the ring follows it; not measured"
}
CUT_EDGE: JsonDict = {
    "usual": "of the process",
    "source": "twice the eccentricity of the process, which is half of a cut edge's tolerance",
}
OF_NOZZLE: JsonDict = {
    "usual": "0.01, and a fifth of what the coefficient lacks of 1",
    "source": "scatter of nozzles made with care, and of friction in rough ones; estimate",
}

Off = Annotated[float, read("ratio", least=0, below=1)]
OffLength = Annotated[float, read("length", least=0)]


class Uncertainty(Section):
    """How well numbers are known; 0 is exact.

    Coefficients and supply carry a standard uncertainty, tolerances are plus or minus.
    """

    section: ClassVar[str] = "uncertainty"

    hose_factor: Off = Field(
        0.15,
        description="standard uncertainty of the friction of the hose",
        json_schema_extra={"source": "bores of hoses, 3 % off: their fifth power; estimate"},
    )
    coupling_loss: Annotated[float, read("ratio", least=0)] = Field(
        1.5,
        description="standard uncertainty of the loss of one coupling",
        json_schema_extra=PRACTICE,
    )
    nozzle_discharge: Off | None = Field(
        None,
        description="standard uncertainty of the nozzles' flow coefficient",
        json_schema_extra=OF_NOZZLE,
    )
    nozzle_velocity: Off | None = Field(
        None,
        description="standard uncertainty of the nozzles' velocity coefficient",
        json_schema_extra=OF_NOZZLE,
    )
    rim_mixing: Off = Field(
        0.04,
        description="standard uncertainty of the mixing coefficient",
        json_schema_extra={
            "source": "pressure in front of the mouths in plane flows, 0.84 to 0.99; not measured"
        },
    )
    casing_factor: Off = Field(
        0.25,
        description="standard uncertainty of the friction of the ring on the casing",
        json_schema_extra=CLOSURE,
    )
    filling_factor: Off = Field(
        0.15,
        description="standard uncertainty of the share of the ring that a jet fills",
        json_schema_extra=CLOSURE,
    )
    exchange_factor: Annotated[float, read("ratio", least=0)] = Field(
        0.5,
        description="standard uncertainty of the shear between ring and side chambers",
        json_schema_extra={"source": "a mixing layer beside a wall was not measured; estimate"},
    )
    entry_factor: Annotated[float, read("ratio", least=0)] = Field(
        0.5,
        description="standard uncertainty of the loss at the entry of the gaps",
        json_schema_extra={"source": "rounded to ragged edges, Idelchik 1994, from memory"},
    )
    transition_factor: Off = Field(
        0.25,
        description="standard uncertainty of the Reynolds numbers at which the gaps turn turbulent",
        json_schema_extra={
            "source": "plane channels, 2,700 to 3,600 (Patel and Head 1969), and regimes between"
            " co-rotating discs (Pater et al. 1974), both from memory; jets stir the entry"
        },
    )
    windage_factor: Off = Field(
        0.15,
        description="standard uncertainty of the friction in the side chambers",
        json_schema_extra={"source": "scatter of tests around the law, estimate"},
    )
    bearing_factor: Off = Field(
        0.3,
        description="standard uncertainty of the drag of balls and grease",
        json_schema_extra={"source": "scatter of tests around Palmgren's law, from memory"},
    )
    bearing_seal_factor: Off = Field(
        0.4,
        description="standard uncertainty of the drag of lips in the bearings",
        json_schema_extra={"source": "new and run-in lips of several makes; estimate"},
    )
    bearing_cooling: Off = Field(
        0.3,
        description="standard uncertainty of the heat that a bearing carries off",
        json_schema_extra={"source": "plain housings against carriers in a draught; estimate"},
    )
    support_factor: Off = Field(
        0.25,
        description="standard uncertainty of the stiffness of a bearing in its seat",
        json_schema_extra={"source": "from a tight seat in steel to a sliding one; estimate"},
    )
    pack_factor: Annotated[float, read("ratio", least=0)] = Field(
        0.02,
        description="standard uncertainty of the stiffness of the clamped pack",
        json_schema_extra={
            "source": "stacks of motor sheets have 1 to 10 % of solid steel, from memory"
        },
    )
    belt_pull: Annotated[float, read("ratio", least=0)] = Field(
        0.3,
        description="standard uncertainty of the load of a belt over its pull",
        json_schema_extra={"source": "toothed belts, 1.3 to 2, handbooks of bearings, from memory"},
    )
    web_factor: Off = Field(
        0.15,
        description="standard uncertainty of the share of the exhaust that the spokes take along",
        json_schema_extra={"source": "the law against flow solved in a sector; not measured"},
    )
    core_factor: Annotated[float, read("ratio", least=0)] = Field(
        0.5,
        description="standard uncertainty of the effect of the hollow core in the exhaust",
        json_schema_extra={"source": "an ideal vortex between walls that rub; estimate"},
    )
    exhaust_loss: Annotated[float, read("ratio", least=0)] = Field(
        0.3,
        description="standard uncertainty of the exhaust's loss coefficient",
        json_schema_extra=PRACTICE,
    )
    seal_discharge: Off = Field(
        0.07,
        description="standard uncertainty of the seals' flow coefficient",
        json_schema_extra=PRACTICE,
    )
    drive_efficiency: Off = Field(
        0.01,
        description="standard uncertainty of the drive's efficiency",
        json_schema_extra=PRACTICE,
    )
    generator_efficiency: Off = Field(
        0.03,
        description="standard uncertainty of the generator's rated efficiency",
        json_schema_extra=PRACTICE,
    )
    notch_factor: Annotated[float, read("ratio", least=0)] = Field(
        0.15,
        description="standard uncertainty of the notch factor",
        json_schema_extra=PRACTICE,
    )
    burst_factor: Off = Field(
        0.05,
        description="standard uncertainty of the burst factor",
        json_schema_extra=PRACTICE,
    )
    supply_pressure: Off = Field(
        0.02,
        description="standard uncertainty of supply over back pressure, as a share of it",
        json_schema_extra={"source": "a dial of class 1.6 to 2.5, common practice"},
    )
    supply_temperature: Annotated[float, read("temperature_difference", least=0)] = Field(
        3.0,
        description="standard uncertainty of the supply's temperature",
        json_schema_extra=PRACTICE,
    )
    gap: OffLength | None = Field(
        None,
        description="plus or minus of the mean gap",
        json_schema_extra={
            "usual": "of the process",
            "source": "spacer tolerance of the process",
        },
    )
    disc_thickness: OffLength | None = Field(
        None,
        description="plus or minus of the discs' thickness",
        json_schema_extra={
            "usual": "of the process",
            "source": "thickness tolerance of the process",
        },
    )
    disc_diameter: OffLength | None = Field(
        None,
        description="plus or minus of the discs' diameter",
        json_schema_extra=CUT_EDGE,
    )
    exhaust_bore: OffLength | None = Field(
        None,
        description="plus or minus of the exhaust bore",
        json_schema_extra=CUT_EDGE,
    )
    inlet_angle: Annotated[float, read("angle", least=0)] = Field(
        math.radians(0.5),
        description="plus or minus of the nozzles' angle",
        json_schema_extra=PRACTICE,
    )
    nozzle_width: OffLength = Field(
        0.02e-3,
        description="plus or minus of the nozzles' width",
        json_schema_extra=PRACTICE,
    )
    seal_clearance: OffLength = Field(
        0.02e-3,
        description="plus or minus of the seals' clearance",
        json_schema_extra=PRACTICE,
    )
    samples: Annotated[int, read("count", least=16, most=65_536)] = Field(
        256, description="samples from which the band of a design is found"
    )


HOSE = ("hose_factor", "coupling_loss")
"""Keys that count only where the dial stands before the hose."""
OF_LIPS = ("bearing_seal_factor",)
"""Keys that count only where lips rub in the bearings."""
OF_BELT = ("belt_pull",)
"""Keys that count only where a belt drives."""
SHARED = (
    *HOSE,
    "nozzle_discharge",
    "nozzle_velocity",
    "rim_mixing",
    "casing_factor",
    "filling_factor",
    "exchange_factor",
    "entry_factor",
    "transition_factor",
    "windage_factor",
    "bearing_factor",
    *OF_LIPS,
    "bearing_cooling",
    "support_factor",
    "pack_factor",
    *OF_BELT,
    "web_factor",
    "core_factor",
    "exhaust_loss",
    "seal_discharge",
    "drive_efficiency",
    "generator_efficiency",
    "notch_factor",
    "burst_factor",
    "supply_pressure",
    "supply_temperature",
)
"""Keys of standard uncertainties; the others but `samples` are tolerances."""
TOLERANCES = tuple(key for key in Uncertainty.model_fields if key not in (*SHARED, "samples"))
"""Keys of tolerances."""
