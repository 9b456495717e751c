"""Dimensions, parts and speeds of a design as the sheet's tables show them. Plain text."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from engine.catalogue import processes
from engine.columns import COLUMNS, FAILING_SPEEDS
from engine.model.validity import RUNAWAY, RUNAWAY_BOUND
from engine.physics.machine.margins import MODES
from reports.design.bolted_wording import ring_sizes
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import (
    Size,
    general,
    millimetres,
    mm,
    of,
    plus_minus,
    reamed_text,
    trip,
)
from reports.design.stage_wording import stacked
from reports.kit.quantities import THIN, bare, quantity
from reports.kit.svg import failure
from reports.run.candidate_wording import wave_text
from reports.run.stages import of_each_stage

FAILS = dict(zip(FAILING_SPEEDS, MODES, strict=True))
"""Way of failing at each failing speed; both stand in the order of `safety_margin`."""
RELATIONS = {
    **dict.fromkeys(
        ("yield", "burst", "rim rub", "seal rub", "wear ring rub"), "plane stress of a thin disc"
    ),
    "standing wave": "plate modes",
}
"""Relation that a failing speed comes from, where a published range bounds it."""


@dataclass(frozen=True)
class KnownSpeed:
    """A speed to know before the first run."""

    name: str
    speed: float
    remark: str
    bad: bool = False
    outside: bool = False
    """Whether its relation is used outside its range."""
    mode: str = ""
    """What fails there, '' for nothing."""


def sizes(facts: BuildFacts) -> tuple[tuple[str, tuple[Size, ...]], ...]:
    """List every dimension with its tolerance, by part."""
    return (
        flat_group(facts),
        ("Stack and shaft", tuple(stack_sizes(facts))),
        ("Casing, nozzles and seals", tuple(_casing_sizes(facts))),
    )


def flat_group(facts: BuildFacts) -> tuple[str, tuple[Size, ...]]:
    """List the dimensions of discs and what holds them, under a title."""
    if facts.bolts is not None:
        return "Discs, washers and end clamps", tuple(ring_sizes(facts, facts.bolts))
    return "Discs and spacers", tuple(_flat_sizes(facts))


def _flat_sizes(facts: BuildFacts) -> Iterable[Size]:
    """List the dimensions of discs and spacers."""
    web, shop = facts.web, facts.tolerances
    diameter = facts.disc.width
    hub, bore, hole = 2 * web.hub_radius, 2 * web.bore_radius, 2 * web.shaft_radius
    wedge = f"taper of a disc at most {mm(shop.wedge)}"
    yield Size("Outer diameter", millimetres(diameter), general(diameter), "general tolerance")
    inner = facts.bore.capitalize()
    yield Size(inner, millimetres(bore), general(bore), "outer edge of the openings")
    yield Size("Shaft hole", millimetres(hole), reamed_text(hole), "cut undersize, ream the stack")
    yield Size("Hub", millimetres(hub), general(hub), "inner edge of the openings")
    wide = millimetres(web.spoke_width), general(web.spoke_width)
    if web.holes:
        size, pitch = 2 * web.fillet, 2 * web.pitch_radius
        yield Size("Holes", millimetres(size), general(size), f"{web.spokes}, evenly spaced")
        yield Size("Circle of the holes", millimetres(pitch), general(pitch), "through the middles")
        yield Size("Walls", *wide, "between holes, where narrowest")
    else:
        yield Size("Spokes", *wide, f"{web.spokes}, evenly spaced")
        yield Size("Fillets", millimetres(web.fillet), "none smaller", "every corner of openings")
    yield Size("Disc thickness", of(facts, "disc_thickness"), plus_minus(shop.thickness), wedge)
    yield Size("Rim out of plane", "0", f"{mm(shop.lean)} at most", "from the clamped part")
    yield Size("Axial run-out at the rim", "0", f"{mm(shop.run_out)} at most", "total reading")
    yield Size("Rim off the shaft hole", "0", f"{mm(shop.eccentricity)} at most", "offset")
    yield Size("Spacer thickness", of(facts, "gap"), plus_minus(shop.spacer), "sets the gap")


def stack_sizes(facts: BuildFacts) -> Iterable[Size]:
    """List the dimensions of stack and shaft."""
    shop = facts.tolerances
    seat = facts.bearing.bore - facts.number("shaft_diameter")
    remark = "bearing seats j5, common practice"
    if abs(seat) > 1e-6:
        remark = f"bearing seats {mm(facts.bearing.bore)} j5"
    for discs, height, of_stage in stacked(facts):
        each = math.hypot(shop.thickness * math.sqrt(discs), shop.spacer * math.sqrt(discs - 1))
        name = f"Clamped stack{of_stage}"
        yield Size(name, mm(height), plus_minus(each), "root sum of squares")
    yield Size("Shaft", of(facts, "shaft_diameter"), "h6", remark)
    span = float(COLUMNS["gap"].to_drawing(facts.span))
    yield Size("Bearing middle to middle", mm(facts.span, 2), general(span), "")
    yield Size("Rim out of round, turning", "0", f"{mm(2 * shop.eccentricity)} at most", "radial")


def around_sizes(facts: BuildFacts) -> Iterable[Size]:
    """List the room that the casing leaves around the discs."""
    clearance = facts.number("rim_clearance")
    inside = facts.number("disc_diameter") + 2 * clearance
    room = facts.room
    taken = (
        f"{mm(room.left)} at speed, after growth {mm(room.growth)}, rim off the hole "
        f"{mm(room.eccentricity)}, size {mm(room.size)}"
    )
    yield Size("Casing bore", mm(inside), "H8", "round and true to the bearings")
    yield Size("Rim clearance, cold", mm(clearance), "", taken)
    beside = "disc" if facts.bolts is None else "clamp"
    name = f"Side gap at each end {beside}"
    yield Size(name, of(facts, "side_gap"), f"±{THIN}10{THIN}%", "common practice")


def _casing_sizes(facts: BuildFacts) -> Iterable[Size]:
    yield from around_sizes(facts)
    each = " of each stage" if len(facts.stacks) > 1 else ""
    told = f"{facts.word('nozzle_form')}, evenly around the casing"
    yield Size(f"Nozzles{each}", bare("nozzle_count", facts.number("nozzle_count")), "", told)
    widths = of_each_stage("nozzle_width", facts.candidate.values)
    for width, (_, height, of_stage) in zip(widths, stacked(facts), strict=True):
        yield Size(
            f"Nozzle throat, across the jet{of_stage}",
            mm(width),
            f"±{THIN}5{THIN}%",
            "common practice; flow follows it",
        )
        if facts.word("nozzle_form") == "convergent-divergent":
            wide = mm(width * facts.number("nozzle_area_ratio"))
            name = f"Nozzle exit, across the jet{of_stage}"
            yield Size(name, wide, f"±{THIN}5{THIN}%", "same height")
        yield Size(f"Nozzle height{of_stage}", mm(height), "", "as the clamped stack")
    offset = facts.number("disc_diameter") / 2 * math.cos(facts.number("inlet_angle"))
    yield Size(
        "Axis of a jet from the shaft's axis",
        mm(offset),
        f"±{THIN}{mm(5e-5, 2)}",
        "the dimension to make; it sets the angle below",
    )
    entry = "entry edges rounded by half the width or more"
    for width, (_, _, of_stage) in zip(widths, stacked(facts), strict=True):
        yield Size(
            f"Nozzle, length of the parallel part{of_stage}",
            mm(facts.number("nozzle_land") * width),
            "no longer",
            entry if facts.word("nozzle_entry") == "rounded" else "entry edges left sharp",
        )
    yield Size(
        "Jet from the rim's tangent",
        of(facts, "inlet_angle"),
        f"±{THIN}0.5°",
        "common practice",
    )
    yield Size(
        "The same jet from the casing's tangent",
        of(facts, "casing_angle"),
        "",
        "follows from the line above: the jet's axis is straight",
    )
    yield Size(
        "Collar seal clearance, radial",
        mm(facts.drawn("seal_clearance"), 3),
        "no wider",
        f"{bare('seal_throttles', facts.number('seal_throttles'))} sharp lands in series; its "
        f"bore grows by {quantity('bore_growth', facts.number('bore_growth'))} at speed",
    )
    seat = mm(processes()[facts.word("collar_process")].eccentricity)
    yield Size("Collar off the shaft", "0", f"{seat} at most", "turned after assembly is best")


def speeds(facts: BuildFacts) -> tuple[KnownSpeed, ...]:
    """List the speeds to know, running speed first."""
    speed, margin = facts.number("speed"), facts.number("safety_margin")
    runaway, first = facts.number("runaway_ratio") * speed, facts.word("governing_mode")
    lost = "load lost and no trip: above the first failure, so only the trip saves it"
    lost = lost if runaway > margin * speed else "load lost and no trip: below the first failure"
    told = [note for note in (RUNAWAY, RUNAWAY_BOUND) if note in facts.word("validity")]
    lost = "; ".join([lost, *(note.removeprefix("runaway speed, ") for note in told)])
    found = [
        KnownSpeed("Running speed", speed, "highest speed with the load on"),
        KnownSpeed(
            "Trip",
            trip(facts),
            "supply shut off, by a device that works without mains",
            bad=trip(facts) >= margin * speed,
        ),
        *_peak(facts),
        KnownSpeed("First failure", margin * speed, failure(first)[1], mode=first),
        KnownSpeed("Runaway", runaway, lost, bad=runaway > margin * speed, outside=bool(told)),
    ]
    return (*found, *failing(facts, FAILS))


def failing(facts: BuildFacts, modes: Mapping[str, str]) -> Iterable[KnownSpeed]:
    """List each failing speed with what happens there; `modes` by key."""
    for key, mode in modes.items():
        relation = RELATIONS.get(mode, "")
        outside = bool(relation) and relation in facts.word("validity")
        event = failure(mode)[1]
        if key == "yield_speed" and facts.bolts is not None:
            event += ", or an end clamp at its spokes"
        event += f". {wave_text(facts.candidate)}" if key == "wave_speed" else ""
        event += f"; {relation}: outside the relation's range" if outside else ""
        label, speed_of_it = COLUMNS[key].label, facts.number(key)
        yield KnownSpeed(label, speed_of_it, event, outside=outside, mode=mode)


def _peak(facts: BuildFacts) -> Iterable[KnownSpeed]:
    """Give the highest speed with the trip acting, where it was computed."""
    peak = float(facts.candidate.values.get("peak_ratio", math.nan))
    if math.isfinite(peak):
        bad = peak > facts.number("safety_margin")
        ends = "above the first failure" if bad else "below the first failure"
        remark = f"load lost, valve and hose as in the study; {ends}"
        yield KnownSpeed("Peak, load lost and trip", peak * facts.number("speed"), remark, bad=bad)
