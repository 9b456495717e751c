"""The uncertainty section of a study: how far coefficients, sizes and supply may lie off."""

import math
from typing import Annotated

from pydantic import Field

from engine.study.values import Frozen, read

Off = Annotated[float, read("ratio", least=0, below=1)]
OffLength = Annotated[float, read("length", least=0)]


class Uncertainty(Frozen):
    """How far numbers may lie off; 0 is exact.

    Coefficients and supply carry a standard uncertainty, tolerances are plus or minus.
    """

    nozzle_discharge: Off = Field(0.02, description="standard uncertainty of the flow coefficient")
    nozzle_velocity: Off = Field(0.02, description="standard uncertainty of the speed coefficient")
    rim_mixing: Off = Field(0.04, description="standard uncertainty of the mixing coefficient")
    exhaust_loss: Annotated[float, read("ratio", least=0)] = Field(
        0.3, description="standard uncertainty of the exhaust's loss coefficient"
    )
    seal_discharge: Off = Field(0.07, description="standard uncertainty of the seals' coefficient")
    drive_efficiency: Off = Field(
        0.01, description="standard uncertainty of the drive's efficiency"
    )
    generator_efficiency: Off = Field(
        0.03, description="standard uncertainty of the generator's rated efficiency"
    )
    notch_factor: Annotated[float, read("ratio", least=0)] = Field(
        0.15, description="standard uncertainty of the notch factor"
    )
    burst_factor: Off = Field(0.05, description="standard uncertainty of the burst factor")
    supply_pressure: Off = Field(
        0.02, description="standard uncertainty of supply over back pressure, as a share of it"
    )
    supply_temperature: Annotated[float, read("temperature_difference", least=0)] = Field(
        3.0, description="standard uncertainty of the supply's temperature"
    )
    gap: OffLength | None = Field(
        None, description="plus or minus of the mean gap; the spacer tolerance of the process"
    )
    disc_thickness: OffLength | None = Field(
        None, description="plus or minus of the discs; the thickness tolerance of the process"
    )
    disc_diameter: OffLength | None = Field(
        None, description="plus or minus of the rim; twice the eccentricity of the process"
    )
    exhaust_bore: OffLength | None = Field(
        None, description="plus or minus of the bore; twice the eccentricity of the process"
    )
    inlet_angle: Annotated[float, read("angle", least=0)] = Field(
        math.radians(0.5), description="plus or minus of the nozzles' angle"
    )
    nozzle_width: OffLength = Field(0.02e-3, description="plus or minus of the nozzles' width")
    seal_clearance: OffLength = Field(0.02e-3, description="plus or minus of the seals' clearance")
    samples: Annotated[int, read("count", least=16, most=65_536)] = Field(
        256, description="samples by which the band of a design is found"
    )


SHARED = (
    "nozzle_discharge",
    "nozzle_velocity",
    "rim_mixing",
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
