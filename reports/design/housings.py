"""The casing around a build: of one stage, of several, or of a pump; or why none can be drawn."""

from collections.abc import Mapping

from engine.columns import COLUMNS
from engine.model.shaft_layout import ShaftLayout
from engine.physics.flow.geometry import exhaust_area
from engine.study.study import Study
from reports.design.casing import Casing, NoCasingError, casing
from reports.design.collector import Collector, collector
from reports.design.staging import Staged, staged_casing

OF_COLLECTOR = (
    "disc_diameter", "rim_clearance", "eye_diameter", "seal_clearance", "ring_length",
    "port_diameter",
)  # fmt: skip
"""Lengths that the casing of a pump is drawn by."""


def casing_of(
    values: Mapping[str, float | str], size: Mapping[str, float], study: Study
) -> tuple[Casing | None, Staged | None, str]:
    """Plates of the casing, of all stages where there are several, or why none can be drawn."""
    width = _drawn("nozzle_width", size["nozzle_width"])
    divergent = values["nozzle_form"] == "convergent-divergent"
    sizes = {
        **{
            key: _drawn(key, size[key])
            for key in ("disc_diameter", "rim_clearance", "exhaust_bore", "seal_clearance")
        },
        "inlet_angle": float(values["inlet_angle"]),
        "nozzle_count": round(float(values["nozzle_count"])),
        "nozzle_width": width,
        "nozzle_land": float(values["nozzle_land"]),
        "exit_width": width * (float(values["nozzle_area_ratio"]) if divergent else 1.0),
    }
    try:
        if float(values.get("stage_count", 1)) > 1:
            staged = staged_casing(values, study, sizes)
            return staged.stages[0].casing, staged, ""
        return casing(**sizes), None, ""  # type: ignore[arg-type]
    except NoCasingError as error:
        return None, None, str(error)


def collector_of(
    values: Mapping[str, float | str], size: Mapping[str, float], layout: ShaftLayout
) -> tuple[Collector | None, str]:
    """Plates of a pump's casing, or why they cannot be drawn."""
    open_eye = exhaust_area(
        bore_radius=size["eye_diameter"] / 2,
        shaft_radius=size["shaft_diameter"] / 2,
        exhaust_ends=1,
        blockage=float(values["eye_blockage"]),
    )
    try:
        return collector(
            **{key: _drawn(key, size[key]) for key in OF_COLLECTOR},
            throat_area=_drawn("throat_area", float(values["throat_area"])),
            height=_drawn("stack_height", size["stack_height"]),
            suction_ends=round(float(values["suction_ends"])),
            carrier=_drawn("gap", float(layout.carrier_diameter[0])),
            eye_area=_drawn("throat_area", float(open_eye)),
        ), ""
    except NoCasingError as error:
        return None, str(error)


def _drawn(key: str, value: float) -> float:
    return float(COLUMNS[key].to_drawing(value))
