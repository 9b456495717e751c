"""The flat parts of a design, each with its thickness, its pieces and where they are.

Level 0 is the lower face of the stack; lengths in mm. The supply comes in at the lower side, where
an exhaust leaves too; the drive is at the upper side.
"""

import math
from collections.abc import Iterable
from dataclasses import replace

from engine.catalogue import materials
from engine.columns import COLUMNS
from engine.model.shaft_layout import CLAMP_THICKNESS, END_PLATE
from reports.design.bolted_parts import bolted_plates, stacks_of
from reports.design.carriers import carrier_plate
from reports.design.casing import Casing
from reports.design.facts import BuildFacts
from reports.design.holding_plates import bracket_plate, carried, closing_plates
from reports.design.plate import REAM_ALLOWANCE, STEEL_PLATE, Plate
from reports.design.pump.plates import pump_plates
from reports.design.stage_plates import stage_plates
from reports.design.turned_parts import carrier_levels, carrier_screws

NO_LASER = "throat by wire erosion or slitting saw; the plate is too thick for a laser there"


def plates_of(facts: BuildFacts) -> tuple[Plate, ...]:
    """List the flat parts of rotor and casing; those of the rotor alone where it has no casing."""
    if facts.collector is not None:
        return (*_rotor(facts), *pump_plates(facts, facts.collector))
    if facts.staged is not None:
        return (*_rotor(facts), *stage_plates(facts, facts.staged))
    return (*_rotor(facts), *(_casing(facts, facts.casing) if facts.casing else ()))


def _mm(facts: BuildFacts, key: str) -> float:
    return float(COLUMNS[key].to_drawing(facts.number(key)))


def _rotor(facts: BuildFacts) -> Iterable[Plate]:
    if facts.bolts is not None:
        yield from bolted_plates(facts, facts.bolts)
        return
    thickness, gap = _mm(facts, "disc_thickness"), _mm(facts, "gap")
    clamp, pitch = 1e3 * CLAMP_THICKNESS, thickness + gap
    stacks = stacks_of(facts)
    sheet = materials()[facts.word("material")].title
    web, ream = facts.web, f"ream the shaft hole to {2 * facts.web.shaft_radius:g} in the stack"
    finest = min(web.spoke_width, 2 * web.shaft_radius - REAM_ALLOWANCE)
    levels = tuple(low + pitch * place for low, count, _ in stacks for place in range(count))
    open_discs = levels[: len(levels) - facts.blanks]
    yield Plate(facts.disc, thickness, open_discs, sheet, finest, ream)
    if facts.blanks:
        blank = replace(facts.disc, name="closing disc", inside=facts.disc.inside[:1])
        yield Plate(blank, thickness, levels[-1:], sheet, 2 * web.shaft_radius, ream)
    between = tuple(
        low + pitch * place + thickness for low, count, _ in stacks for place in range(count - 1)
    )
    yield Plate(facts.spacer, gap, between, sheet, finest, ream)
    ends = replace(facts.spacer, name="end clamp")
    faces = tuple(face for low, _, high in stacks for face in (low - clamp, low + high))
    yield Plate(ends, clamp, faces, facts.clamp_sheet, finest, ream)


def _casing(facts: BuildFacts, casing: Casing) -> Iterable[Plate]:
    height, side = _mm(facts, "stack_height"), facts.beside
    top, end = height + side, 1e3 * END_PLATE
    throat, hole = casing.nozzle.throat, casing.bolt_size
    yield Plate(casing.nozzle_plate, height, (0.0,), STEEL_PLATE, throat, NO_LASER)
    yield Plate(casing.supply_ring, side, (-side,), STEEL_PLATE, hole, "")
    yield Plate(casing.side_ring, side, (height,), STEEL_PLATE, hole, "")
    turned = "finish the middle hole on a lathe: the collar seal runs in it"
    ports = f"thread the ports for the supply; {turned}"
    yield Plate(casing.supply_plate, end, (-side - end,), STEEL_PLATE, hole, ports)
    if facts.closed:
        yield from closing_plates(facts, casing, top)
    else:
        yield Plate(casing.end_plate, end, (top,), STEEL_PLATE, hole, turned)
    yield from _carriers(facts, casing)


def _carriers(facts: BuildFacts, casing: Casing) -> Iterable[Plate]:
    """Plates that hold the carriers of the bearings."""
    low, high = carrier_levels(facts)
    along, across = casing.nozzle.plenum_at
    nozzles = round(facts.number("nozzle_count"))
    first = math.atan2(along, across)
    ports = [first + math.tau * place / nozzles for place in range(nozzles)]
    for name, level, free in (("free-end plate", low, ports), ("drive-end plate", high, [])):
        part = carrier_plate(
            name,
            casing,
            spigot=facts.laid("carrier_spigot"),
            flange=facts.laid("carrier_diameter"),
            screws=carrier_screws(facts),
            ports=free,
        )
        yield carried(part, level)
    yield bracket_plate(facts, casing)
