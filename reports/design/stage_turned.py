"""The turned parts that only a machine with two or three stages has; millimetres.

Level 0 is the lower face of the first stack.
"""

from collections.abc import Iterable
from itertools import pairwise

from engine.model.shaft_layout import CARRIER_PLATE, CLAMP_THICKNESS, COVER_PLATE
from engine.physics.machine.clamp import FACE_RATIO
from reports.design.carriers import ARMS, SCREW_HOLE
from reports.design.collars import LAND, LAND_HEIGHT, LAND_SHARE, collar_profile, on_clamp
from reports.design.facts import BuildFacts
from reports.design.outlines import Circle, Point
from reports.design.shop_sizes import cut, cut_down
from reports.design.staging import TUBE_WALL, Staged
from reports.design.turned import Bores, Turned, clean, rings
from reports.design.turned_parts import (
    STEEL,
    TurnedPart,
    bolts_of,
    carrier_levels,
    carrier_screws,
    section,
    standing,
)

CAP = 4.0
"""Thickness of the cap that closes the carrier at the free end [mm]; common practice."""
SEALED = "faces parallel; sealant on both, between two plates"


def stage_turned(facts: BuildFacts) -> Iterable[TurnedPart]:
    """List collars and tubes between stacks, tubes of passages, and the cap; none of one stage."""
    if len(facts.stacks) > 1:
        yield from _rotor(facts)
    if facts.staged is None:
        return
    yield from _tubes(facts, facts.staged)
    cap = Turned(
        "cap",
        rings([(facts.laid("carrier_diameter"), 0.0, CAP)]),
        bores=Bores(ARMS, SCREW_HOLE, carrier_screws(facts), 0.0, CAP),
    )
    level = carrier_levels(facts)[0] + 1e3 * CARRIER_PLATE - facts.laid("free_carrier") - CAP
    closes = "closes the carrier, in which the shaft ends, under its screws; sealant under it"
    yield TurnedPart(cap, ((0.0, 0.0, level),), (False,), STEEL, closes)


def _rotor(facts: BuildFacts) -> Iterable[TurnedPart]:
    joints = list(pairwise(facts.stacks))
    wide = facts.wide_clamp
    pairs = [((before.end + wide, False), (after.start - wide, True)) for before, after in joints]
    ends = [end for pair in pairs for end in pair]
    places = tuple((0.0, 0.0, level) for level, _ in ends)
    plate = 1e3 * COVER_PLATE
    profile = collar_profile(facts, 1e3 * facts.number("side_gap") + plate, plate)
    over = tuple(is_over for _, is_over in ends)
    yield TurnedPart(Turned("inner collar", profile), places, over, STEEL, on_clamp(facts))
    clamp = 1e3 * CLAMP_THICKNESS
    before, after = joints[0]
    tube = Turned("stack tube", _stack_tube(facts, after.start - before.end - 2 * clamp))
    levels = tuple((0.0, 0.0, before.end + clamp) for before, _ in joints)
    held = "passes the nut's force on; faces parallel within 0.005; finish the lands on the shaft"
    yield TurnedPart(tube, levels, (False,) * len(levels), STEEL, held)


def _stack_tube(facts: BuildFacts, length: float) -> tuple[Point, ...]:
    """Half outline of the tube between two stacks, its lands inside the partition."""
    bore = section(facts, "stack seat") / 2
    outside, plate = FACE_RATIO * bore, 1e3 * COVER_PLATE
    lands = round(facts.number("seal_throttles"))
    pitch = plate / lands
    width = cut_down(min(LAND, LAND_SHARE * pitch))
    core = outside - min(LAND_HEIGHT, (outside - bore) / 2)
    # The partition stands in the middle.
    low = (length - plate) / 2
    high = low + plate
    found = [(bore, 0.0), (outside, 0.0), (outside, low), (core, low)]
    for place in range(lands):
        start = cut(low + (place + 0.5) * pitch - width / 2)
        found += [(core, start), (outside, start), (outside, start + width), (core, start + width)]
    return clean((*found, (core, high), (outside, high), (outside, length), (bore, length)))


def _tubes(facts: BuildFacts, staged: Staged) -> Iterable[TurnedPart]:
    """Tubes around holes that cross a room, and those on the bolts where a room is open."""
    first, low = staged.stages[0], carrier_levels(facts)[0] + 1e3 * CARRIER_PLATE
    port = first.casing.port_drill
    around = tuple(hole.centre for hole in first.plenums)
    yield _tube("supply tube", port, facts.laid("free_outlet"), around, low)
    side, thin = facts.beside, 1e3 * COVER_PLATE
    for _, after in staged.pairs:
        holes: tuple[Circle, ...] = after.plenums
        level = after.start - side - thin - staged.chamber
        bore = 2 * holes[0].radius
        name = f"passage tube {after.number}"
        yield _tube(name, bore, staged.chamber, tuple(hole.centre for hole in holes), level)
    last, casing = staged.stages[-1], first.casing
    size = casing.bolt_size
    part = Turned(
        "stage distance tube", rings([(2 * size, 0.0, staged.chamber)], bore=casing.bolt_hole)
    )
    made = f"all of one length within 0.02; {casing.bolts} in all"
    level = last.start - side - thin - staged.chamber
    yield standing(part, bolts_of(casing), [level], material=STEEL, remark=made)


def _tube(
    name: str, bore: float, length: float, around: tuple[Point, ...], level: float
) -> TurnedPart:
    part = Turned(name, rings([(bore + 2 * TUBE_WALL, 0.0, length)], bore=bore))
    return standing(part, around, [level], material=STEEL, remark=SEALED)
