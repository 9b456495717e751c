"""The parts of a rotor whose discs bolts hold, each where it is; millimetres.

Level 0 is the lower face of the stack, and the shaft points upward to its drive.
"""

from collections.abc import Iterable
from dataclasses import replace

from engine.catalogue import materials
from engine.columns import COLUMNS
from engine.model.shaft_layout import CLAMP_THICKNESS
from engine.physics.machine.clamp import FACE_RATIO
from reports.design.carriers import SCREW_LENGTHS
from reports.design.facts import BuildFacts
from reports.design.ordered import Ordered
from reports.design.outlines import Point
from reports.design.plate import REAM_ALLOWANCE, Plate
from reports.design.ring_bolts import (
    BOLT,
    END_CLAMP,
    TAPPED_CLAMP,
    TUBE,
    WASHER,
    RingBolts,
    wide_clamp,
)
from reports.design.shop_sizes import plain
from reports.design.turned import Turned, rings
from reports.design.turned_parts import BOLT_CLASS, STEEL, TurnedPart, standing

CLOSED_CLAMP = "closed end clamp"
"""Of the end without an exhaust."""


def stacks_of(facts: BuildFacts) -> list[tuple[float, int, float]]:
    """Lower face, discs and height of each stack."""
    if len(facts.stacks) > 1:
        return [(each.start, each.discs, each.end - each.start) for each in facts.stacks]
    return [(0.0, round(facts.number("disc_count")), _mm(facts, "stack_height"))]


def bolted_plates(facts: BuildFacts, bolts: RingBolts) -> Iterable[Plate]:
    """List the flat parts of the rotor: rings, and the end clamps of each stack."""
    thickness = _mm(facts, "disc_thickness")
    pitch = thickness + _mm(facts, "gap")
    stacks, sheet = stacks_of(facts), materials()[facts.word("material")].title
    levels = tuple(low + pitch * place for low, count, _ in stacks for place in range(count))
    ream = f"ream the {len(bolts.holes)} holes of ⌀{bolts.size:g} through the pack, H11"
    yield Plate(facts.disc, thickness, levels, sheet, bolts.size, ream)
    clamp, web, thick = 1e3 * CLAMP_THICKNESS, facts.web, facts.clamp_sheet
    shape = {"diameter": facts.disc.width, "web": web, "bolts": bolts}
    hole = f"ream the shaft hole to {2 * web.shaft_radius:g}"
    finest = min(web.spoke_width, 2 * web.shaft_radius - REAM_ALLOWANCE, bolts.size)
    low = wide_clamp(**shape, tapped=False)  # type: ignore[arg-type]
    heads = f"{hole}; countersink the outer face 90° for the heads of the bolts"
    yield Plate(low, clamp, tuple(low - clamp for low, _, _ in stacks), thick, finest, heads)
    tapped = wide_clamp(**shape, tapped=True, closed=facts.closed)  # type: ignore[arg-type]
    if facts.closed:
        tapped = replace(tapped, name=CLOSED_CLAMP)
    thread = f"{hole}; tap the {web.spokes} holes of ⌀{bolts.tap_drill:g} to M{bolts.size:g}"
    finest = min(finest, bolts.tap_drill)
    yield Plate(tapped, clamp, tuple(low + high for low, _, high in stacks), thick, finest, thread)


def bolted_turned(facts: BuildFacts) -> Iterable[TurnedPart]:
    """List washers, bolts and tubes of the pack; none where a web holds the discs."""
    if (bolts := facts.bolts) is None:
        return
    thickness, gap = _mm(facts, "disc_thickness"), _mm(facts, "gap")
    around: tuple[Point, ...] = tuple(hole.centre for hole in bolts.holes)
    stacks, clamp = stacks_of(facts), 1e3 * CLAMP_THICKNESS
    between = [
        low + (thickness + gap) * place + thickness
        for low, count, _ in stacks
        for place in range(count - 1)
    ]
    if between:
        yield standing(
            Turned(WASHER, rings([(bolts.washer, 0.0, gap)], bore=bolts.size)),
            around,
            between,
            material="steel, hardened",
            ordered=Ordered(
                f"{plain(bolts.size)} × {plain(bolts.washer)} × {plain(round(gap, 3))}",
                grade="hardened steel",
                more=f"shim, sorted within {plain(1e3 * facts.tolerances.spacer)}",
            ),
        )
    bore = 2 * facts.web.shaft_radius
    for number, height in enumerate(_heights(stacks), 1):
        told = f" {number}" if number > 1 else ""
        levels = [low for low, _, high in stacks if abs(high - height) < 1e-9]
        whole = height + 2 * clamp
        yield standing(
            Turned(f"{BOLT}{told}", rings([(bolts.size, 0.0, whole)])),
            around,
            [low - clamp for low in levels],
            material=f"steel, class {BOLT_CLASS}",
            ordered=Ordered(
                f"M{bolts.size:g}{_sold(whole)}, cut to {plain(whole)}",
                "ISO 10642",
                f"class {BOLT_CLASS}",
                "countersunk, flush with both faces; locking compound",
            ),
        )
        yield TurnedPart(
            Turned(f"{TUBE}{told}", rings([(FACE_RATIO * bore, 0.0, height)], bore=bore)),
            tuple((0.0, 0.0, low) for low in levels),
            (False,) * len(levels),
            STEEL,
            "as long as the clamped pack is high, within 0.01; faces parallel within 0.005",
        )


def _sold(length: float) -> str:
    """Length in which a screw that is cut to a length is sold, '' where none is as long [mm]."""
    longer = [sold for sold in SCREW_LENGTHS if sold >= length]
    return f" × {longer[0]}" if longer else ""


def _heights(stacks: list[tuple[float, int, float]]) -> list[float]:
    """Heights of the stacks, each once."""
    found: list[float] = []
    for _, _, high in stacks:
        if all(abs(high - other) > 1e-9 for other in found):
            found.append(high)
    return found


def _mm(facts: BuildFacts, key: str) -> float:
    return float(COLUMNS[key].to_drawing(facts.number(key)))


ROTOR_PLATES = ("disc", END_CLAMP, TAPPED_CLAMP, CLOSED_CLAMP)
"""Names of the flat parts."""
