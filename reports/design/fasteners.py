"""Screws, rods, washers and dowels that hold the machine together, each where it is; millimetres.

What is told of them, in lists and remarks, is read from here. A rod is drawn as its cylinder, a
screw in a carrier's plate as the core of its thread: so those holes are drawn as they are drilled.
Sizes of standards are from memory.
"""

import math
from collections.abc import Iterable

from engine.model.shaft_layout import CARRIER_PLATE
from reports.design.carriers import ARMS, SCREW, SCREW_HEAD, SCREW_SIZE, TAP_DRILL, screw_length
from reports.design.casing import Housing
from reports.design.facts import BuildFacts
from reports.design.ordered import Ordered
from reports.design.stage_turned import CAP
from reports.design.step import Place
from reports.design.turned import Bores, Turned, chamfered, rings
from reports.design.turned_parts import (
    BOLT_CLASS,
    CHAMFER,
    ROD_WASHERS,
    TurnedPart,
    bolts_of,
    carrier_levels,
    carrier_screws,
    rods_span,
    standing,
)

CARRIER_SCREWS = ("carrier screw", "drive carrier screw")
"""Names of the screws in both carriers; the first alone where all are of one length."""
ROD_BEYOND = 3
"""Length of a tie rod beyond the outer faces of both plates together, over its thread."""
ROD_WASHER, ROD, DOWEL = "rod washer", "tie rod", "dowel"


def fasteners(facts: BuildFacts) -> tuple[TurnedPart, ...]:
    """List what holds carriers and plates but nuts; none where no casing is drawn."""
    casing = facts.housing
    if casing is None:
        return ()
    return (*_of_carriers(facts), *_of_plates(facts, casing))


def _of_carriers(facts: BuildFacts) -> Iterable[TurnedPart]:
    """Screws through the flange of each carrier, and through its cap, into its plate."""
    low, high = carrier_levels(facts)
    plate = 1e3 * CARRIER_PLATE
    found: dict[tuple[int, float], list[tuple[Place, bool]]] = {}
    for inner, key, way in ((low + plate, "free_carrier", -1), (high, "drive_carrier", 1)):
        whole = facts.laid(key)
        if way < 0 and facts.staged is not None:
            whole += CAP
        long = screw_length(whole - plate)
        tip = inner + way * (whole - long)
        around = Bores(ARMS, SCREW_SIZE, carrier_screws(facts), 0.0, 1.0).circles
        held = found.setdefault((long, round(whole - plate, 6)), [])
        held += [((*hole.centre, tip), way < 0) for hole in around]
    for name, ((long, through), ends) in zip(CARRIER_SCREWS, found.items(), strict=False):
        wide, head = SCREW_HEAD
        edges = [
            (TAP_DRILL, 0.0, long - through),
            (SCREW_SIZE, long - through, long),
            (wide, long, long + head),
        ]
        places, over = zip(*ends, strict=True)
        asked = Ordered(
            f"{SCREW} × {long}", "ISO 4762", f"class {BOLT_CLASS}", "socket head; locking compound"
        )
        yield TurnedPart(Turned(name, rings(edges)), places, over, "steel", asked.text, asked)


def _of_plates(facts: BuildFacts, casing: Housing) -> Iterable[TurnedPart]:
    """Rods through all plates with a washer at each end, and dowels."""
    size, around = casing.bolt_size, bolts_of(casing)
    low, high = rods_span(facts)
    whole = rod_length(facts, casing)
    beyond = (whole - (high - low)) / 2
    asked = Ordered(
        f"{casing.bolt} × {whole}",
        "",
        f"class {BOLT_CLASS}, ISO 898-1",
        f"threaded {math.ceil(beyond + 2 * size)} or more at both ends",
    )
    rod = chamfered(rings([(size, 0.0, whole)]), CHAMFER)
    yield standing(Turned(ROD, rod), around, [low - beyond], material="steel", ordered=asked)
    wide, bore, thick = ROD_WASHERS[size]
    asked = Ordered(f"{bore:g} × {wide:g} × {thick:g}", "ISO 7089", "200 HV", f"for {casing.bolt}")
    washer = Turned(ROD_WASHER, rings([(wide, 0.0, thick)], bore=bore))
    yield standing(washer, around, [low - thick, high], material="steel", ordered=asked)
    short = math.floor(high - low)
    pin = chamfered(rings([(size, 0.0, short)]), CHAMFER)
    places = tuple(hole.centre for hole in casing.holes[casing.bolts :])
    asked = Ordered(f"⌀{size:g} h6 × {short}", "", "silver steel, ground")
    yield standing(Turned(DOWEL, pin), places, [low], material="silver steel", ordered=asked)


def rod_length(facts: BuildFacts, casing: Housing) -> int:
    """Length of a tie rod, to the next millimetre."""
    low, high = rods_span(facts)
    return math.ceil(high - low + ROD_BEYOND * casing.bolt_size)
