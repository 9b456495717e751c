"""The notes below the plates of a pump on their drawings. Plain text: nothing here knows SVG."""

import math

from reports.design.carriers import FEET
from reports.design.collector import Collector
from reports.design.drawing_wording import JOINTS
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import of
from reports.kit.quantities import THIN, number, quantity

RODS = "Bolts do not locate: ream the dowels' holes through all plates together."
CAUTION = "Drawn for the flow only. Strength under pressure is not computed here: have it checked."


OPEN = (
    "collector plate", "port ring", "port plate", "closed plate", "cover plate",
    "drive suction ring",
)  # fmt: skip
"""Plates with the chamber, or the hole of the port."""


def collector_notes(facts: BuildFacts, casing: Collector) -> tuple[str, ...]:
    """List the notes below the enlarged collector.

    Hydraulic diameter of a slot: four times its area over its edge, as in every handbook.
    """
    spiral = casing.spiral
    height = of(facts, "stack_height")
    area = math.pi * facts.number("port_diameter") ** 2 / 4
    return (
        (
            f"Discs turn counterclockwise as drawn. Four quarter circles about the corners of a "
            f"square of {_mm(spiral.step)} around the shaft's axis, each wider by as much: the "
            "area of the passage grows evenly from the tongue to the throat."
        ),
        (
            f"Throat {_mm(spiral.throat)} by {height}, "
            f"{quantity('throat_area', facts.number('throat_area'))}: head and power follow it. "
            f"The cone ends {_mm(spiral.mouth)} wide, {quantity('throat_area', area)}, as the "
            "port. Both walls Ra 1.6, no step at the faces."
        ),
        (
            f"The model counts a round throat, {_mm(_round(facts))} wide; for friction this slot "
            f"is as a pipe of {_mm(_slot(facts, casing))}, so expect less head. The turn from the "
            "chamber into the port is not counted either."
        ),
    )


def casing_notes(facts: BuildFacts, casing: Collector, name: str) -> tuple[str, ...]:
    """List the notes below a plate of the casing on its drawing."""
    feet = (
        f"{FEET}, {0.5 * casing.outside:.0f}{THIN}mm either side. {RODS} "
        "Bore the middle hole after reaming, true to the casing bore."
    )
    port = f"Port {casing.port}, ISO 228-1, through closed and cover plate together. {RODS}"
    suction = (
        f"Suction {casing.suction}, ISO 228-1, through, "
        f"{_mm(math.hypot(*casing.suctions[0]))} off the axis. It closes the suction chamber: no "
        "arms. "
        f"The shaft's seal stands inside it, in {_mm(facts.laid('free_outlet'))} of length."
    )
    ring = (
        f"Closes the space before the eye, {_mm(facts.laid('free_outlet'))} wide between end plate "
        f"and bearing plate; the suction opens into it. {RODS}"
    )
    notes = {
        "collector plate": (
            (
                "The passage is drawn larger on the next sheet. As thick as the clamped stack: "
                f"measure that first. {RODS}"
            ),
        ),
        "side ring": (f"As thick as the side gap. At the suction. {RODS}",),
        "port ring": (f"As thick as the side gap. At the drive, open at the chamber. {RODS}",),
        "end plate": (f"Around the eye, at the suction. {RODS}",),
        "port plate": (f"Around the eye at the drive; the port goes through. {RODS}",),
        "closed plate": (port,),
        "cover plate": (port,),
        "suction ring": (ring,),
        "drive suction ring": (ring,),
        "free-end plate": (feet, suction),
        "drive-end plate": (feet, *(() if facts.closed else (suction,))),
    }.get(name, (RODS,))
    if name in OPEN or (name == "drive-end plate" and not facts.closed):
        x, y = casing.spiral.chamber_at
        where = f"Middle of chamber and port {_mm(x)} right of the axis and {_mm(y)} above it"
        notes = (f"{where}, seen from the drive.", *notes)
    joints = () if name == "drive-end plate" and facts.closed else (JOINTS,)
    return (*notes, *joints, CAUTION)


def _round(facts: BuildFacts) -> float:
    """Diameter of a round throat of the same area [mm]."""
    return 1e3 * math.sqrt(4 * facts.number("throat_area") / math.pi)


def _slot(facts: BuildFacts, casing: Collector) -> float:
    """Hydraulic diameter of the throat as it is cut [mm]."""
    width, height = casing.spiral.throat, 1e3 * facts.number("stack_height")
    return 2 * width * height / (width + height)


def _mm(value: float) -> str:
    return number(value, 4, trim=True)
