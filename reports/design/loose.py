"""Parts that a maker must have in hand and that no drawing shows, each with its number of pieces.

Sizes of standards are from memory.
"""

from collections.abc import Iterable

from engine.model.shaft_layout import BELT_PITCH, CARRIER_PLATE, END_PLATE
from reports.design import bracket
from reports.design.carriers import FOOT_ENGAGED, FOOT_SCREWS, FOOT_THREAD, FOOT_WASHER
from reports.design.facts import BuildFacts
from reports.design.machine import plates_of
from reports.design.ordered import Loose, Ordered, ordered_bearing
from reports.design.pump.loose import pump_loose
from reports.design.sealing import sealant
from reports.design.sheet_quantities import mm, of, rpm, trip
from reports.design.stage_wording import stacked
from reports.design.turned_parts import BOLT_CLASS, key_of, section
from reports.kit.quantities import bare, quantity
from reports.run.stages import of_each_stage

LOCKING = "medium strength, for metal threads"
RETAINING = "for cylindrical fits"


def loose_parts(facts: BuildFacts) -> tuple[Loose, ...]:
    """List what is neither drawn nor cut nor turned: bought, but for the base."""
    if facts.housing is None:
        found = [*_without_casing(facts)]
    else:
        found = [*_of_feet(facts), *_of_ports(facts)]
    return (*_of_drive(facts), *found, *_pastes(facts), *_around(facts))


def footed_plates(facts: BuildFacts) -> int:
    """Count the plates that stand on feet."""
    names = ("free-end plate", "drive-end plate", *bracket.NAMES)
    return sum(plate.pieces for plate in plates_of(facts) if plate.name in names)


def _of_drive(facts: BuildFacts) -> Iterable[Loose]:
    """List what goes with half coupling or pulley."""
    if not facts.layout.belt[0]:
        other = Ordered(f"bore as the {facts.drive}'s shaft", more="with its screw")
        yield Loose("other half coupling", 1, other)
        yield Loose("coupling insert", 1, Ordered(more="elastic, between both halves"))
        return
    long = facts.laid("belt_length")
    teeth = round(long / (1e3 * BELT_PITCH))
    size = f"{1e3 * BELT_PITCH:g} pitch, {facts.laid('belt_width'):g} wide, {long:g} long"
    yield Loose("toothed belt", 1, Ordered(size, more=f"{teeth} teeth, of the pulleys' profile"))
    if (key := key_of(facts)) is not None:
        yield Loose("key", 1, Ordered(key.name, grade="steel C45", more="for the pulley"))
        asked = Ordered("the pulley's own thread", "ISO 4029", "45H", "over the key")
        yield Loose("set screw", 1, asked)


def _of_feet(facts: BuildFacts) -> Iterable[Loose]:
    """List what holds plates to the base, and the motor to its plate."""
    count, screw = FOOT_SCREWS * footed_plates(facts), FOOT_THREAD
    long = f"{FOOT_ENGAGED:g} longer than base and washer are thick"
    asked = Ordered(f"{screw}, {long}", "ISO 4762", f"class {BOLT_CLASS}", "into the feet")
    yield Loose("foot screw", count, asked)
    yield Loose("foot washer", count, Ordered(FOOT_WASHER, "ISO 7089", "200 HV"))
    thick = f"0.1, 0.2 and 0.5 thick, to make up {bracket.SHIM:g} under a foot"
    shim = Ordered(thick, grade="steel strip")
    yield Loose("shims", 1, shim)
    told = f"{1e3 * CARRIER_PLATE:g} longer than the {facts.drive}'s thread is deep"
    size = f"{bracket.SCREW}, or the {facts.drive}'s own thread"
    asked = Ordered(size, "ISO 4762", f"class {BOLT_CLASS}", told)
    yield Loose(f"{facts.drive} screw", bracket.SLOTS, asked)
    ring = Ordered(bracket.WASHER, "ISO 7089", "200 HV")
    yield Loose(f"{facts.drive} washer", bracket.SLOTS, ring)
    yield Loose("base", 1, Ordered(more="flat under all feet; not drawn"), made=True)


def _of_ports(facts: BuildFacts) -> Iterable[Loose]:
    """List what is screwed into the casing, and what seals it there."""
    if facts.collector is not None:
        ends = round(facts.number("suction_ends"))
        suctions = ends * len(facts.collector.suctions)
        found = [("port", facts.collector.port, 1), ("suction", facts.collector.suction, suctions)]
        told = "male"
    else:
        assert facts.casing is not None  # noqa: S101  (there are two kinds)
        found = [("supply", facts.casing.port, round(facts.number("nozzle_count")))]
        told = f"male, at most {1e3 * END_PLATE - 1:g} long, seals on its collar"
    for name, thread, count in found:
        yield Loose(f"{name} fitting", count, Ordered(thread, "ISO 228-1", more=told))
        ring = Ordered(f"for {thread}", grade="copper, or steel and rubber", more="seals")
        yield Loose(f"{name} washer", count, ring)


def _pastes(facts: BuildFacts) -> Iterable[Loose]:
    """List what seals, holds and joins."""
    if facts.housing is not None:
        yield Loose("joint sealant", 1, Ordered(more=f"{sealant(facts)}; no gaskets"))
    threads = ["pack bolts"] * (facts.bolts is not None)
    threads += ["carrier screws"] * (facts.housing is not None)
    use = f"{LOCKING}: {', '.join((*threads, 'clamp nut'))}"
    yield Loose("locking compound", 1, Ordered(more=use))
    loose = abs(section(facts, "drive seat") - section(facts, "stack seat")) < 1e-6
    held = ["bearing at the drive"] * loose + [f"{facts.seal}s"] * (facts.bolts is None)
    if held:
        yield Loose("retaining compound", 1, Ordered(more=f"{RETAINING}: {', '.join(held)}"))
    if facts.bolts is not None:
        joins = Ordered(more=f"silver solder: {facts.seal}s on end clamps")
        yield Loose("solder and flux", 1, joins)


def _around(facts: BuildFacts) -> Iterable[Loose]:
    """List what is bought for the machine as a whole."""
    yield Loose("guard", 1, Ordered(more="around coupling or belt"))
    if facts.is_pump:
        yield from pump_loose(facts)
        return
    if facts.study.supply.dial == "before-hose":
        fittings = bare("couplings", facts.number("couplings"))
        hose = (
            f"{of(facts, 'hose_length')} long, {of(facts, 'hose_bore')} inside, with {fittings} "
            f"couplings; {of(facts, 'nozzle_pressure')} absolute is left before the nozzles"
        )
        yield Loose("hose", 1, Ordered(more=hose))
    if facts.number("shaft_seal_torque") > 0:
        drag = f"total drag at most {of(facts, 'shaft_seal_torque')}"
        yield Loose("shaft seal", 1, Ordered(more=f"a set for the machine, {drag}"))
    ratio = facts.number("drive_ratio")
    turned = quantity("speed", facts.number("speed") / ratio)
    most = quantity("speed", facts.number("generator_limit_speed") / ratio)
    generator = (
        f"{of(facts, 'generator_power')} at {of(facts, 'generator_speed')}, turned at {turned}, "
        f"may turn at {most}"
    )
    yield Loose("generator", 1, Ordered(more=generator))
    shuts = f"begins to shut within {of(facts, 'trip_delay')}, is shut {of(facts, 'valve_closing')}"
    valve = (
        f"acts at {rpm(trip(facts))}; {shuts} later; between valve and nozzles at most "
        f"{of(facts, 'valve_volume')}"
    )
    yield Loose("overspeed trip", 1, Ordered(more=valve))
    first = Ordered(more="buy it before anything else")
    yield Loose("relief valve", 1, first)
    yield Loose("containment", 1, first)


def _without_casing(facts: BuildFacts) -> Iterable[Loose]:
    """List what a casing would hold or be, where none is drawn."""
    yield Loose("bearing", 2, ordered_bearing(facts))
    push = of(facts, "bearing_preload")
    yield Loose("spring washer", 1, Ordered(more=f"wave spring behind a bearing, {push}"))
    inside = facts.number("disc_diameter") + 2 * facts.number("rim_clearance")
    depth = facts.whole_height + 2e-3 * facts.beside
    size = f"inside ⌀{mm(inside)} × {mm(depth, 2)}"
    if facts.is_pump:
        told = f"with a collector of {of(facts, 'stack_height')}"
        yield Loose("casing", 1, Ordered(size, more=told), made=True)
        return
    hold = "its wall must hold the pieces of a burst disc; see the estimates"
    yield Loose("casing", 1, Ordered(size, more=hold), made=True)
    count = round(facts.number("nozzle_count"))
    widths = of_each_stage("nozzle_width", facts.candidate.values)
    for width, (_, height, of_stage) in zip(widths, stacked(facts), strict=True):
        told = (
            f"{facts.word('nozzle_form')}, throat {quantity('nozzle_width', width)} × "
            f"{mm(height)}, {of(facts, 'casing_angle')} from the tangent of the casing's bore"
        )
        yield Loose(f"nozzle{of_stage}", count, Ordered(more=told), made=True)
