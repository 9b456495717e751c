"""The flat parts of a casing with two or three stages, each with its thickness and where it is.

Level 0 is the lower face of the first stack; lengths in mm.
"""

from collections.abc import Iterable
from dataclasses import replace

from engine.model.shaft_layout import CARRIER_PLATE, COVER_PLATE, END_PLATE
from reports.design.carriers import carrier_plate, closed_plate
from reports.design.casing import Casing
from reports.design.facts import BuildFacts
from reports.design.holding_plates import bracket_plate, carried
from reports.design.outlines import Circle, Flat
from reports.design.plate import STEEL_PLATE, Plate
from reports.design.staging import DrawnStage, Staged, collar_hole, halves, named
from reports.design.turned_parts import carrier_levels, carrier_screws

NO_LASER = "throat by wire erosion or slitting saw; the plate is too thick for a laser there"
TURNED = "finish the middle hole on a lathe: the collar seal runs in it"
HALVES = "dowel and bolt both halves together, then finish the middle hole on a lathe: "
FACES = "as thick as stated within 0.02, faces parallel"


def stage_plates(facts: BuildFacts, staged: Staged) -> Iterable[Plate]:
    """List the flat parts that stand still, from the free end to the drive."""
    yield from _free_end(facts, staged)
    for stage in staged.stages:
        yield from _around(facts, stage)
        if stage is not staged.stages[-1]:
            yield from _between(facts, staged, stage, staged.stages[stage.number])
    yield from _drive_end(facts, staged)
    yield bracket_plate(facts, staged.stages[0].casing)


def _free_end(facts: BuildFacts, staged: Staged) -> Iterable[Plate]:
    """Close the room of the first stage's lower exhaust; the supply goes through it in tubes."""
    first, low = staged.stages[0], carrier_levels(facts)[0]
    casing, level = first.casing, low + 1e3 * CARRIER_PLATE
    ports = tuple(replace(hole, radius=casing.port_drill / 2) for hole in first.plenums)
    plate = closed_plate(
        "free-end plate",
        casing,
        spigot=facts.laid("carrier_spigot"),
        screws=carrier_screws(facts),
        holes=ports,
    )
    yield carried(plate, low, f"; tap {casing.port} for the supply; it closes the exhaust's room")
    ring = Flat("free exhaust ring", Circle(casing.outside), (Circle(staged.room), *casing.holes))
    thick = facts.laid("free_outlet")
    yield Plate(ring, thick, (level,), STEEL_PLATE, casing.bolt_size, FACES)
    end = 1e3 * END_PLATE
    supply = Flat(
        "supply plate",
        Circle(casing.outside),
        (collar_hole(first), *casing.holes, *ports, *first.transfers),
    )
    yield Plate(supply, end, (-facts.beside - end,), STEEL_PLATE, casing.bolt_size, TURNED)


def _around(facts: BuildFacts, stage: DrawnStage) -> Iterable[Plate]:
    """Nozzle plate and side rings of a stage."""
    casing, side, hole = stage.casing, facts.beside, stage.casing.bolt_size
    below = "supply ring" if stage.number == 1 else f"feed ring {stage.number}"
    ring = named(casing.supply_ring, below, *stage.transfers)
    yield Plate(ring, side, (stage.start - side,), STEEL_PLATE, hole, "")
    plate = named(casing.nozzle_plate, f"nozzle plate {stage.number}", *stage.transfers)
    throat = casing.nozzle.throat
    yield Plate(plate, stage.height, (stage.start,), STEEL_PLATE, throat, NO_LASER)
    ring = named(casing.side_ring, f"side ring {stage.number}", *stage.transfers)
    yield Plate(ring, side, (stage.end,), STEEL_PLATE, hole, "")


def _between(
    facts: BuildFacts, staged: Staged, before: DrawnStage, after: DrawnStage
) -> Iterable[Plate]:
    """Plates from one stage to the next: collar, room, partition, room, collar."""
    casing, thin = before.casing, 1e3 * COVER_PLATE
    edge, holes, hole = Circle(casing.outside), casing.holes, casing.bolt_size
    level = before.end + facts.beside
    seal = f"{HALVES}the collar seal runs in it"
    plate = Flat(f"collar plate {before.number}", edge, (collar_hole(before), *holes))
    yield from _in_halves(named(plate, plate.name, *before.transfers), casing, level, seal)
    level += thin
    open_room = (Circle(staged.room), *holes)
    ring = Flat(f"room ring {before.number}", edge, open_room)
    yield Plate(ring, staged.chamber, (level,), STEEL_PLATE, hole, FACES)
    level += staged.chamber
    middle = Circle(staged.partition_bore / 2)
    plate = Flat(f"partition {before.number}", edge, (middle, *holes, *after.plenums))
    tube = f"{HALVES}the lands of the stack tube run in it"
    yield from _in_halves(plate, casing, level, tube)
    level += thin
    if after.transfers:
        ring = Flat(f"exhaust ring {after.number}", edge, open_room)
        yield Plate(ring, staged.chamber, (level,), STEEL_PLATE, hole, FACES)
    level += staged.chamber
    plate = Flat(f"feed plate {after.number}", edge, (collar_hole(after), *holes, *after.plenums))
    yield from _in_halves(named(plate, plate.name, *after.transfers), casing, level, seal)


def _in_halves(flat: Flat, casing: Casing, level: float, remark: str) -> Iterable[Plate]:
    for half in halves(flat, casing.holes[casing.bolts :]):
        yield Plate(half, 1e3 * COVER_PLATE, (level,), STEEL_PLATE, casing.bolt_size, remark)


def _drive_end(facts: BuildFacts, staged: Staged) -> Iterable[Plate]:
    """End plate of the last stage, and the plate of the bearing behind its exhaust."""
    last = staged.stages[-1]
    casing, end = last.casing, 1e3 * END_PLATE
    level = last.end + facts.beside
    yield Plate(casing.end_plate, end, (level,), STEEL_PLATE, casing.bolt_size, TURNED)
    part = carrier_plate(
        "drive-end plate",
        casing,
        spigot=facts.laid("carrier_spigot"),
        flange=facts.laid("carrier_diameter"),
        screws=carrier_screws(facts),
    )
    yield carried(part, carrier_levels(facts)[1])
