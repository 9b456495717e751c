"""Plates that turbines and pumps share: those of the bearings at the drive, and of its machine."""

import math
from collections.abc import Iterable

from engine.model.shaft_layout import CARRIER_PLATE, COVER_PLATE, END_PLATE, SLEEVE_FLANGE
from reports.design import bracket
from reports.design.carriers import ARMS, TAP_DRILL
from reports.design.casing import Housing
from reports.design.facts import BuildFacts
from reports.design.outlines import Circle, Flat
from reports.design.plate import STEEL_PLATE, Plate

ROOM = 1.0
"""Radial room around clamp and shaft where nothing seals [mm]."""


def carried(part: Flat, level: float, remark: str = "") -> Plate:
    """Ask for a plate that holds a bearing's carrier, its lower face at this level [mm]."""
    told = (
        f"drill the {ARMS} holes of {TAP_DRILL:g}, too fine to cut, and tap them and the feet; "
        f"bore the middle hole on a lathe{remark}"
    )
    return Plate(part, 1e3 * CARRIER_PLATE, (level,), STEEL_PLATE, TAP_DRILL, told)


def closing_plates(
    facts: BuildFacts,
    casing: Housing,
    level: float,
    *,
    holes: tuple[Circle, ...] = (),
    ports: str = "",
) -> Iterable[Plate]:
    """Close the end without an opening, above this level; `holes` go through both plates."""
    edge, end = casing.end_plate.outside, 1e3 * END_PLATE
    wide = Circle(facts.web.bore_radius + ROOM)
    narrow = Circle(_widest_above(facts, level + end) + ROOM)
    for name, middle, thick, low, remark in (
        ("closed plate", wide, end, level, ports),
        ("cover plate", narrow, 1e3 * COVER_PLATE, level + end, "the shaft's seal stands on it"),
    ):
        part = Flat(name, edge, (middle, *casing.holes, *holes))
        yield Plate(part, thick, (low,), STEEL_PLATE, casing.bolt_size, remark)


def _widest_above(facts: BuildFacts, level: float) -> float:
    """Radius of what turns above a level, behind the end clamp [mm]: of sleeve, flange or nut."""
    nut_ends = facts.laid("sleeve_start")
    if nut_ends > level:
        return facts.laid("nut_diameter") / math.sqrt(3)
    key = "sleeve_flange" if nut_ends + 1e3 * SLEEVE_FLANGE > level else "sleeve_diameter"
    return facts.laid(key) / 2


def bracket_plate(facts: BuildFacts, casing: Housing) -> Plate:
    """Plate of generator or motor, behind the other half of the coupling or the other pulley."""
    belt = bool(facts.layout.belt[0])
    hubs = 1 if belt else 2
    level = facts.laid("hub_start") + hubs * facts.laid("hub_length") + bracket.ROOM
    return Plate(
        bracket.drive_plate(f"{facts.drive} plate", casing.outside),
        1e3 * CARRIER_PLATE,
        (level,),
        STEEL_PLATE,
        bracket.SLOT,
        "measure your motor first: bore the middle hole to its spigot; tap the feet",
        aside=facts.laid("centres") if belt else 0.0,
    )
