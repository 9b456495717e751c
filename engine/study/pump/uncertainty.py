"""How well the numbers of a pump are known; what it shares with a turbine is declared there."""

from typing import Annotated, Any, ClassVar

from pydantic import Field, create_model
from pydantic.fields import FieldInfo

from engine.study.uncertainty import Off, OffLength, Uncertainty
from engine.study.values import Section, read

SAME = (
    "casing_factor", "entry_factor", "transition_factor", "windage_factor", "bearing_factor",
    "bearing_seal_factor", "bearing_cooling", "support_factor", "pack_factor", "belt_pull",
    "drive_efficiency", "notch_factor", "burst_factor", "gap", "disc_thickness", "disc_diameter",
    "seal_clearance", "samples",
)  # fmt: skip
STANDARD = (
    "eye_loss", "ring_factor", "throat_factor", "cone_loss", *SAME[:13], "motor_efficiency",
    "supply_temperature",
)  # fmt: skip
"""Keys of standard uncertainties."""
OTHER = {
    "casing_factor": (
        "standard uncertainty of the friction on the walls between rim and collector",
        "laws of vaneless diffusers far below their angles; estimate",
    ),
}
"""What is said of some of them, and where it is from."""


def _declared(key: str) -> tuple[Any, Any]:
    of: FieldInfo = Uncertainty.model_fields[key]
    description, extra = of.description, of.json_schema_extra
    if key in OTHER:
        description, extra = OTHER[key][0], {"source": OTHER[key][1]}
    return of.rebuild_annotation(), Field(
        of.default, description=description, json_schema_extra=extra
    )


_same: Any = {key: _declared(key) for key in SAME}
_Shared: Any = create_model("_Shared", __base__=Section, **_same)


class PumpUncertainty(_Shared):
    """How well numbers are known; 0 is exact.

    Coefficients and supply carry a standard uncertainty, tolerances are plus or minus.
    """

    section: ClassVar[str] = "uncertainty"

    eye_loss: Annotated[float, read("ratio", least=0)] = Field(
        0.3,
        description="standard uncertainty of the loss coefficient of the eye",
        json_schema_extra={"source": "turns of 0.3 to 1, Idelchik 1994, from memory"},
    )
    ring_factor: Off = Field(
        0.2,
        description="standard uncertainty of the leakage through the wear rings",
        json_schema_extra={"source": "off-centre rings leak up to twice as much; estimate"},
    )
    throat_factor: Off = Field(
        0.2,
        description="standard uncertainty of the loss as the swirl mixes into the throat",
        json_schema_extra={
            "source": "charging all or half of the swirl head that is lost; not measured"
        },
    )
    cone_loss: Annotated[float, read("ratio", least=0)] = Field(
        0.1,
        description="standard uncertainty of the loss coefficient of the cone",
        json_schema_extra={"source": "short to long cones, common practice, no source"},
    )
    motor_efficiency: Off = Field(
        0.03,
        description="standard uncertainty of the motor's rated efficiency",
        json_schema_extra={"source": "common practice, no source"},
    )
    eye_diameter: OffLength | None = Field(
        None,
        description="plus or minus of the eye's diameter",
        json_schema_extra={
            "usual": "of the process",
            "source": "twice the eccentricity of the process, which is half of a cut edge's "
            "tolerance",
        },
    )
    throat_area: Annotated[float, read("area", least=0)] = Field(
        2e-6,
        description="plus or minus of the throat's area",
        json_schema_extra={"source": "0.1 to 0.2 mm all round; common practice, no source"},
    )
    supply_temperature: Annotated[float, read("temperature_difference", least=0)] = Field(
        3.0,
        description="standard uncertainty of the fluid's temperature",
        json_schema_extra={"source": "common practice, no source"},
    )
