"""Dimensions, parts and speeds of a pump as the tables of its sheet show them. Plain text."""

import math
from collections.abc import Iterable, Mapping

from engine.catalogue import processes
from engine.model.pump.stack import MODES as RENAMED
from engine.physics.machine.margins import MODES
from engine.pump_columns import FAILING_SPEEDS
from reports.design.collector import Collector
from reports.design.facts import BuildFacts
from reports.design.pump.wording import is_blower
from reports.design.sealing import sealant
from reports.design.sheet_quantities import Item, Size, mm, of, trip, turns
from reports.design.sheet_tables import (
    KnownSpeed,
    around_sizes,
    failing,
    flat_group,
    of_bearing,
    stack_sizes,
    turning,
)
from reports.design.turned_parts import key_of
from reports.kit.quantities import THIN, bare, count, quantity
from reports.kit.svg import failure

__all__ = ["parts", "sizes", "speeds", "total_mass", "turns"]

FAILS: Mapping[str, str] = dict(
    zip(FAILING_SPEEDS, (RENAMED.get(mode, mode) for mode in MODES), strict=True)
)
"""Way of failing at each failing speed."""


def sizes(facts: BuildFacts) -> tuple[tuple[str, tuple[Size, ...]], ...]:
    """List every dimension with its tolerance, by part."""
    return (
        flat_group(facts),
        ("Stack and shaft", tuple(stack_sizes(facts))),
        ("Casing, collector and wear ring", tuple(_casing_sizes(facts))),
    )


def _casing_sizes(facts: BuildFacts) -> Iterable[Size]:
    yield from around_sizes(facts)
    height = facts.number("stack_height")
    width = facts.number("throat_area") / height
    yield Size("Throat, across", mm(width), f"±{THIN}{mm(5e-5, 2)}", "head and power follow it")
    yield Size("Throat, height", mm(height), "", "as the clamped stack")
    area = of(facts, "throat_area")
    yield Size("Throat, area", area, "", "follows from the two lines above")
    if facts.collector is not None:
        yield from _passage_sizes(facts, facts.collector)
    clearance = facts.drawn("seal_clearance")
    grows = quantity("bore_growth", facts.number("bore_growth"))
    yield Size(
        "Wear ring clearance, radial",
        mm(clearance, 3),
        "no wider",
        f"over {of(facts, 'ring_length')}; the eye grows by {grows} at speed",
    )
    seat = mm(processes()[facts.word("collar_process")].eccentricity)
    yield Size("Wear ring off the shaft", "0", f"{seat} at most", "turned after assembly is best")


def _passage_sizes(facts: BuildFacts, casing: Collector) -> Iterable[Size]:
    spiral = casing.spiral
    cone = f"from the throat to {_mm(spiral.mouth)} wide, the area of the port"
    yield Size("Cone, length", _mm(spiral.length), "", cone)
    yield Size("Port", of(facts, "port_diameter"), "", f"thread {casing.port}, ISO 228-1")
    many = "" if len(casing.suctions) == 1 else f", {count(len(casing.suctions))} of them"
    yield Size("Suction", casing.suction, "", f"ISO 228-1, at each open end{many}")


def _mm(drawn: float) -> str:
    return mm(1e-3 * drawn)


def parts(facts: BuildFacts) -> tuple[Item, ...]:
    """List every part, with its mass where model or drawing gives it."""
    return (*turning(facts), *_standing(facts))


def _standing(facts: BuildFacts) -> Iterable[Item]:
    ends = bare("suction_ends", facts.number("suction_ends"))
    inside = facts.number("disc_diameter") + 2 * facts.number("rim_clearance")
    depth = facts.number("stack_height") + 2e-3 * facts.beside
    yield of_bearing(facts)
    yield Item(
        "1",
        "Casing",
        f"inside ⌀{mm(inside)} × {mm(depth, 2)}, plates as drawn, with the collector cut through "
        f"one of {of(facts, 'stack_height')}",
    )
    yield Item(
        ends,
        "Wear ring",
        f"at the eye, {mm(facts.drawn('seal_clearance'), 3)} radial clearance over "
        f"{of(facts, 'ring_length')}",
    )
    yield Item("set", "Joint sealant", f"{sealant(facts)}; no gaskets")
    key = key_of(facts)
    if key is not None:
        yield Item("1", "Key", f"{key.name}, for the pulley")
    flows = "the gas" if is_blower(facts) else "the fluid"
    sleeve = f"{facts.laid('sleeve_diameter'):.4g}{THIN}mm"
    yield Item(
        "2",
        "Shaft seal",
        f"lip or face seal for {flows}, one before each bearing, on ⌀{sleeve}; drag of both at "
        f"most {of(facts, 'shaft_seal_torque')}; not drawn",
    )
    ratio = facts.number("drive_ratio")
    yield Item(
        "1",
        "Motor",
        f"{of(facts, 'motor_power')} at {of(facts, 'motor_speed')}, turned at "
        f"{quantity('speed', facts.number('speed') / ratio)}, loaded to {of(facts, 'motor_load')}, "
        f"may turn at {quantity('speed', facts.number('motor_limit_speed') / ratio)}",
    )
    if is_blower(facts):
        yield Item("1 each", "Guard, screen", "the screen before the eye, its holes 6 mm at most")
    else:
        yield Item(
            "1 each",
            "Guard, breaker for earth faults, relief or bypass",
            "the relief where the discharge can be shut; a vent at the top, a drain at the bottom",
        )


def total_mass(facts: BuildFacts) -> float:
    """Add up the masses of the parts [kg]."""
    return math.fsum(item.total for item in parts(facts) if math.isfinite(item.total))


def speeds(facts: BuildFacts) -> tuple[KnownSpeed, ...]:
    """List the speeds to know, running speed first."""
    speed, margin = facts.number("speed"), facts.number("safety_margin")
    first = facts.word("governing_mode")
    bad = trip(facts) >= margin * speed
    return (
        KnownSpeed("Running speed", speed, "at the duty; switched off, it stops"),
        KnownSpeed("Highest of its drive", trip(facts), "given by mistake", bad=bad),
        KnownSpeed("First failure", margin * speed, failure(first)[1], mode=first),
        *failing(facts, FAILS),
    )
