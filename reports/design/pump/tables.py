"""Dimensions, parts and speeds of a pump as the tables of its sheet show them. Plain text."""

from collections.abc import Iterable, Mapping

from engine.catalogue import processes
from engine.model.pump.stack import MODES as RENAMED
from engine.physics.machine.margins import MODES
from engine.pump_columns import FAILING_SPEEDS
from reports.design.collector import Collector
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import Size, mm, of, trip, turns
from reports.design.sheet_tables import (
    KnownSpeed,
    around_sizes,
    failing,
    flat_group,
    stack_sizes,
)
from reports.kit.quantities import THIN, count, quantity
from reports.kit.svg import failure

__all__ = ["sizes", "speeds", "turns"]

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
