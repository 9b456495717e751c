"""The flat parts of a design, each with its thickness, its pieces and where they are.

Level 0 is the lower face of the stack; lengths in mm. The supply comes in at the lower side, where
an exhaust leaves too. Shaft, collars, bearings and what carries them are not here.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from engine.catalogue import materials
from engine.columns import COLUMNS
from reports.design.casing import END_PLATE, Casing
from reports.design.facts import CLAMP_THICKNESS, BuildFacts
from reports.design.outlines import Circle, Flat, Part
from reports.design.step import Product

REAM_ALLOWANCE = 0.2
"""Diameter left in the shaft hole for reaming [mm]; common practice, no source."""
COVER_PLATE = 6.0
"""Thickness of the plate that closes an end without an exhaust [mm]; common practice, no source."""
ROOM = 1.0
"""Radial room around clamp and shaft where nothing seals [mm]."""
PLATE = "steel plate, for example S235 (EN 10025-2)"
"""What plates of the casing are drawn for; its strength is not computed here."""
NO_LASER = "throat by wire erosion or slitting saw; the plate is too thick for a laser there"


@dataclass(frozen=True)
class Plate(Product):
    """A flat part with what a shop has to know of it."""

    material: str
    finest: float
    """Smallest hole, slot or bar [mm]."""
    remark: str

    @property
    def file(self) -> str:
        """Name of its files, without the end."""
        return self.part.name.replace(" ", "-")

    @property
    def pieces(self) -> int:
        """Number of pieces."""
        return len(self.levels)


def plates_of(facts: BuildFacts) -> tuple[Plate, ...]:
    """List the flat parts of rotor and casing; those of the rotor alone where it has no casing."""
    return (*_rotor(facts), *(_casing(facts, facts.casing) if facts.casing else ()))


def as_cut(part: Flat) -> Flat:
    """Draw a part of the rotor as it is cut: its shaft hole small, to be reamed in the stack."""
    if not isinstance(part, Part):
        return part
    hole = Circle(part.web.shaft_radius - REAM_ALLOWANCE / 2)
    return replace(part, inside=(hole, *part.inside[1:]))


def _mm(facts: BuildFacts, key: str) -> float:
    return float(COLUMNS[key].to_drawing(facts.number(key)))


def _rotor(facts: BuildFacts) -> Iterable[Plate]:
    thickness, gap = _mm(facts, "disc_thickness"), _mm(facts, "gap")
    clamp, height = 1e3 * CLAMP_THICKNESS, _mm(facts, "stack_height")
    n_discs, pitch = round(facts.number("disc_count")), thickness + gap
    sheet = materials()[facts.word("material")].title
    web, ream = facts.web, f"ream the shaft hole to {2 * facts.web.shaft_radius:g} in the stack"
    finest = min(web.spoke_width, 2 * web.shaft_radius - REAM_ALLOWANCE)
    levels = tuple(pitch * place for place in range(n_discs))
    open_discs = levels[: n_discs - facts.blanks]
    yield Plate(facts.disc, thickness, open_discs, sheet, finest, ream)
    if facts.blanks:
        blank = replace(facts.disc, name="closing disc", inside=facts.disc.inside[:1])
        yield Plate(blank, thickness, levels[-1:], sheet, 2 * web.shaft_radius, ream)
    between = tuple(level + thickness for level in levels[:-1])
    yield Plate(facts.spacer, gap, between, sheet, finest, ream)
    ends = replace(facts.spacer, name="end clamp")
    yield Plate(ends, clamp, (-clamp, height), sheet, finest, ream)


def _casing(facts: BuildFacts, casing: Casing) -> Iterable[Plate]:
    height, side = _mm(facts, "stack_height"), _mm(facts, "side_gap")
    top = height + side
    throat, hole = casing.nozzle.throat, casing.bolt_hole
    yield Plate(casing.nozzle_plate, height, (0.0,), PLATE, throat, NO_LASER)
    yield Plate(casing.supply_ring, side, (-side,), PLATE, hole, "")
    yield Plate(casing.side_ring, side, (height,), PLATE, hole, "")
    turned = "finish the middle hole on a lathe: the collar seal runs in it"
    ports = f"thread the ports for the supply; {turned}"
    yield Plate(casing.supply_plate, END_PLATE, (-side - END_PLATE,), PLATE, hole, ports)
    if not facts.blanks:
        yield Plate(casing.end_plate, END_PLATE, (top,), PLATE, hole, turned)
        return
    edge, bolts = casing.end_plate.outside, casing.end_plate.inside[1:]
    wide, narrow = (
        Circle(facts.web.bore_radius + ROOM),
        Circle(facts.web.shaft_radius + ROOM),
    )
    closed = Flat("closed plate", edge, (wide, *bolts))
    cover = Flat("cover plate", edge, (narrow, *bolts))
    yield Plate(closed, END_PLATE, (top,), PLATE, hole, "")
    remark = "the shaft's seal stands on it"
    yield Plate(cover, COVER_PLATE, (top + END_PLATE,), PLATE, hole, remark)


def cut_length(part: Flat) -> float:
    """Length of all its edges [mm]."""
    return math.fsum(
        edge.length for outline in (part.outside, *part.inside) for edge in outline.edges
    )


def pierces(part: Flat) -> int:
    """How often the beam must go through the sheet: once an outline."""
    return 1 + len(part.inside)
