"""The flat parts of a pump's casing, each with its thickness, its pieces and where they are.

Level 0 is the lower face of the stack; lengths in mm. The suction is at the lower side, where the
eye of a stack with one open end is; the drive is at the upper side.
"""

import math
from collections.abc import Iterable

from engine.model.shaft_layout import CARRIER_PLATE, END_PLATE
from reports.design.carriers import carrier_plate, closed_plate
from reports.design.collector import Collector
from reports.design.facts import BuildFacts
from reports.design.holding_plates import bracket_plate, carried, closing_plates
from reports.design.outlines import Circle, Flat, point_along
from reports.design.plate import STEEL_PLATE, Plate
from reports.design.turned_parts import carrier_levels, carrier_screws

NO_LASER = "throat and cone by water jet or wire erosion; the plate is too thick for a laser there"
TURNED = "finish the middle hole on a lathe: the wear ring runs in it"
CLOSED = "; no opening: it closes the suction chamber, and the shaft's seal stands inside it"


def pump_plates(facts: BuildFacts, casing: Collector) -> Iterable[Plate]:
    """List the flat parts that stand still."""
    height, side = 1e3 * facts.number("stack_height"), facts.beside
    top, end, hole = height + side, 1e3 * END_PLATE, casing.bolt_size
    finest = min(casing.spiral.throat, hole)
    yield Plate(casing.plate, height, (0.0,), STEEL_PLATE, finest, NO_LASER)
    yield Plate(casing.side_ring, side, (-side,), STEEL_PLATE, hole, "")
    yield Plate(casing.port_ring, side, (height,), STEEL_PLATE, hole, "")
    yield Plate(casing.end_plate, end, (-side - end,), STEEL_PLATE, hole, TURNED)
    if facts.closed:
        ports = f"tap the port {casing.port} through this and the cover plate, bolted together"
        yield from closing_plates(facts, casing, top, holes=(casing.outlet,), ports=ports)
    else:
        part = Flat(
            "port plate", casing.end_plate.outside, (*casing.end_plate.inside, casing.outlet)
        )
        yield Plate(part, end, (top,), STEEL_PLATE, hole, TURNED)
    yield from _suction_rings(facts, casing)
    yield from _bearing_plates(facts, casing)
    yield bracket_plate(facts, casing)


def _suction_rings(facts: BuildFacts, casing: Collector) -> Iterable[Plate]:
    """Rings that close the space between end plate and bearing plate at each open end."""
    low, high = carrier_levels(facts)
    edge, inside = casing.end_plate.outside, Circle(casing.chamber)
    ring = Flat("suction ring", edge, (inside, *casing.holes))
    remark = "as thick as stated within 0.02, faces parallel: it sets the place of the bearing"
    thick = facts.laid("free_outlet")
    level = low + 1e3 * CARRIER_PLATE
    yield Plate(ring, thick, (level,), STEEL_PLATE, casing.bolt_size, remark)
    if not facts.closed:
        other = Flat("drive suction ring", edge, (*ring.inside, casing.outlet))
        thick = facts.laid("drive_outlet")
        yield Plate(other, thick, (high - thick,), STEEL_PLATE, casing.bolt_size, remark)


def _bearing_plates(facts: BuildFacts, casing: Collector) -> Iterable[Plate]:
    """Plates that hold the carriers of the bearings; at an open end closed but for the suction."""
    low, high = carrier_levels(facts)
    told = f"; tap {casing.suction} for the suction{CLOSED}"
    yield carried(_closed(facts, casing, "free-end plate", casing.suction_holes), low, told)
    if not facts.closed:
        told = f"; tap {casing.suction} for the suction, {casing.port} for the port{CLOSED}"
        holes = (*_off_the_port(casing), casing.outlet)
        yield carried(_closed(facts, casing, "drive-end plate", holes), high, told)
        return
    x, y = casing.spiral.chamber_at
    part = carrier_plate(
        "drive-end plate",
        casing,
        spigot=facts.laid("carrier_spigot"),
        flange=facts.laid("carrier_diameter"),
        screws=carrier_screws(facts),
        ports=[math.atan2(y, x)],
    )
    yield carried(part, high)


def _off_the_port(casing: Collector) -> tuple[Circle, ...]:
    """Holes of the suction at the drive's end, turned to where the port is farthest off."""
    x, y = casing.spiral.chamber_at
    port = math.atan2(y, x)
    away = port + math.pi / len(casing.suctions)
    return tuple(
        Circle(
            casing.suction_drill / 2,
            point_along(away + math.tau * place / len(casing.suctions), math.hypot(*at)),
        )
        for place, at in enumerate(casing.suctions)
    )


def _closed(facts: BuildFacts, casing: Collector, name: str, holes: tuple[Circle, ...]) -> Flat:
    spigot, screws = facts.laid("carrier_spigot"), carrier_screws(facts)
    return closed_plate(name, casing, spigot=spigot, screws=screws, holes=holes)
