"""The flat parts of a design, each with its thickness, its pieces and where they are.

Level 0 is the lower face of the stack; lengths in mm. The supply comes in at the lower side, where
an exhaust leaves too; the drive is at the upper side.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from engine.catalogue import materials
from engine.columns import COLUMNS
from engine.model.shaft_layout import CARRIER_PLATE, CLAMP_THICKNESS, COVER_PLATE, END_PLATE
from reports.design import bracket
from reports.design.carriers import ARMS, TAP_DRILL, carrier_plate
from reports.design.casing import Casing
from reports.design.facts import BuildFacts
from reports.design.outlines import Circle, Flat, Outline, Part
from reports.design.step import Place, Product
from reports.design.turned_parts import carrier_levels, carrier_screws

REAM_ALLOWANCE = 0.2
"""Diameter left in the shaft hole for reaming [mm]; common practice, no source."""
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
    aside: float = 0.0
    """How far its own middle is off the shaft [mm]."""

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the origin of each piece is [mm]."""
        return tuple((self.aside, 0.0, level) for level in self.levels)

    @property
    def file(self) -> str:
        """Name of its files, without the end."""
        return self.part.name.replace(" ", "-")


def plates_of(facts: BuildFacts) -> tuple[Plate, ...]:
    """List the flat parts of rotor and casing; those of the rotor alone where it has no casing."""
    return (*_rotor(facts), *(_casing(facts, facts.casing) if facts.casing else ()))


def as_cut(part: Flat, casing: Casing | None = None) -> Flat:
    """Draw a part as it is cut: shaft hole and dowel holes small, to be reamed together."""
    if not isinstance(part, Part):
        dowels = casing.holes[casing.bolts :] if casing is not None else ()
        inside = tuple(_small(edge) if edge in dowels else edge for edge in part.inside)
        return replace(part, inside=inside)
    hole = Circle(part.web.shaft_radius - REAM_ALLOWANCE / 2)
    return replace(part, inside=(hole, *part.inside[1:]))


def _small(edge: Circle | Outline) -> Circle | Outline:
    """Leave something to ream in a round hole."""
    if isinstance(edge, Outline):
        return edge
    return replace(edge, radius=edge.radius - REAM_ALLOWANCE / 2)


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
    top, end, cover = height + side, 1e3 * END_PLATE, 1e3 * COVER_PLATE
    throat, hole = casing.nozzle.throat, casing.bolt_size
    yield Plate(casing.nozzle_plate, height, (0.0,), PLATE, throat, NO_LASER)
    yield Plate(casing.supply_ring, side, (-side,), PLATE, hole, "")
    yield Plate(casing.side_ring, side, (height,), PLATE, hole, "")
    turned = "finish the middle hole on a lathe: the collar seal runs in it"
    ports = f"thread the ports for the supply; {turned}"
    yield Plate(casing.supply_plate, end, (-side - end,), PLATE, hole, ports)
    if facts.blanks:
        edge, around = casing.end_plate.outside, casing.holes
        wide = Circle(facts.web.bore_radius + ROOM)
        narrow = Circle(facts.laid("sleeve_diameter") / 2 + ROOM)
        closed = Flat("closed plate", edge, (wide, *around))
        yield Plate(closed, end, (top,), PLATE, hole, "")
        remark = "the shaft's seal stands on it"
        lid = Flat("cover plate", edge, (narrow, *around))
        yield Plate(lid, cover, (top + end,), PLATE, hole, remark)
    else:
        yield Plate(casing.end_plate, end, (top,), PLATE, hole, turned)
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
        remark = (
            f"drill the {ARMS} holes of {TAP_DRILL:g}, too fine to cut, and tap them and the feet; "
            "bore the middle hole on a lathe"
        )
        yield Plate(part, 1e3 * CARRIER_PLATE, (level,), PLATE, TAP_DRILL, remark)
    yield _bracket(facts, casing)


def _bracket(facts: BuildFacts, casing: Casing) -> Plate:
    """Plate of the generator, behind the other half of the coupling or the other pulley."""
    belt = bool(facts.layout.belt[0])
    hubs = 1 if belt else 2
    level = facts.laid("hub_start") + hubs * facts.laid("hub_length") + bracket.ROOM
    return Plate(
        bracket.generator_plate(casing.outside),
        1e3 * CARRIER_PLATE,
        (level,),
        PLATE,
        bracket.SLOT,
        "measure your motor first: bore the middle hole to its spigot; tap the feet",
        aside=facts.laid("centres") if belt else 0.0,
    )


def cut_length(part: Flat) -> float:
    """Length of all its edges [mm]."""
    return math.fsum(
        edge.length for outline in (part.outside, *part.inside) for edge in outline.edges
    )


def pierces(part: Flat) -> int:
    """How often the beam must go through the sheet: once an outline."""
    return 1 + len(part.inside)
