"""Dimensions and notes on the drawings of rings on bolts, of their end clamps and of their tube."""

import math

from engine.columns import COLUMNS
from reports.design.drawings.dimensions import Callout, Control
from reports.design.facts import BuildFacts
from reports.design.outlines import Flat, Part, Point, axis_of, point_along
from reports.design.ring_bolts import RingBolts
from reports.design.rotor_drawings import rotor_marks
from reports.design.shop_sizes import general, plain
from reports.kit.quantities import number

MIDDLE: Point = (0.0, 0.0)
LIMITS = (
    "The waves hold for bolts so tight that no washer lifts, between end clamps that do not give "
    "way. The stress holds for discs that may stretch freely in their plane."
)


def bolted_marks(facts: BuildFacts, bolts: RingBolts, part: Flat) -> tuple[Callout, ...]:
    """Dimensions of a disc or an end clamp."""
    if isinstance(part, Part):
        return (*rotor_marks(facts, part), _holes(facts, bolts, part))
    shop, bore = facts.tolerances, facts.web.bore_radius
    half = part.width / 2
    turn = axis_of(facts.web, 0) - math.pi / facts.web.spokes
    text = f"⌀{plain(2 * bore)} {general(2 * bore)}"
    at = point_along(turn, bore)
    off = Control("position", f"⌀{plain(2e3 * shop.eccentricity)}", "A")
    flat = Control("flatness", plain(1e3 * shop.lean))
    return (
        Callout(text, facts.bore, at, "right", centre=MIDDLE),
        Callout("rim", "", point_along(turn, half), "right", centre=MIDDLE, control=off),
        Callout("face", "", point_along(turn + math.pi, 0.9 * half), "left", control=flat),
        _holes(facts, bolts, part),
    )


def _holes(facts: BuildFacts, bolts: RingBolts, part: Flat) -> Callout:
    """Give the holes of the bolts, at one where the other dimensions leave room."""
    web, n_bolts = facts.web, len(bolts.holes)
    clamp = isinstance(part, Part)
    bolt, way = (bolts.holes[0], 0.0) if clamp else (bolts.holes[1], math.pi)
    x, y = point_along(way, bolt.radius)
    apart = f"{n_bolts}× {number(360 / web.spokes, 3, trim=True)}°"
    size = f"{n_bolts}× ⌀{plain(bolts.size)} H11"
    if isinstance(part, Part) and part.drill is not None:
        size = f"{n_bolts}× M{plain(bolts.size)}, drill {plain(round(part.drill, 3))}"
    return Callout(
        size,
        f"on ⌀{plain(round(bolts.circle, 2))}, {apart}",
        (bolt.centre[0] + x, bolt.centre[1] + y),
        "right" if clamp else "left",
        centre=bolt.centre,
        datum="" if clamp else "A",
    )


def bolted_notes(facts: BuildFacts, bolts: RingBolts, part: Flat) -> tuple[str, ...]:
    """List the notes below a disc or an end clamp on its drawing."""
    washer, gap = plain(bolts.washer), plain(round(_millimetres(facts, "gap"), 3))
    if not isinstance(part, Part):
        return (
            (
                f"A are the holes of the bolts: ream them through the clamped pack. Between two "
                f"discs a washer ⌀{washer}, {gap} thick, on every bolt: the gap. Measure every "
                "washer."
            ),
            "No burrs. Mark the rolling direction beside a hole.",
            LIMITS,
        )
    if part.drill is not None:
        is_open = len(part.inside) > len(bolts.holes) + 1
        closed = "" if is_open else " It has no openings: nothing leaves at this end."
        of_holes = (
            f"At the end of the drive.{closed} Ream A. Drill the holes of the bolts through the "
            "other end clamp, then tap them; no thread may stand out of the outer face."
        )
    else:
        of_holes = (
            "At the free end. Ream A, and the holes of the bolts with the discs. Countersink the "
            "outer face 90° until the heads lie flush: it runs beside the casing."
        )
    return (
        of_holes,
        (
            f"One at each end of the stack, on the outermost disc; a tube on the shaft keeps them "
            f"apart. Flat, no burrs. A {facts.seal} is silver-soldered to the outer face around "
            "an open bore."
        ),
    )


def bolt_axes(facts: BuildFacts, part: Flat) -> tuple[tuple[Point, Point], ...]:
    """Draw lines through the middle of every bolt, to beyond the edge on both sides."""
    reach = 1.04 * part.width / 2
    turns = [axis_of(facts.web, bolt) for bolt in range(facts.web.spokes)]
    return tuple((point_along(turn, reach), point_along(turn, -reach)) for turn in turns)


def _millimetres(facts: BuildFacts, key: str) -> float:
    return float(COLUMNS[key].to_drawing(facts.number(key)))
