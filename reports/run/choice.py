"""The table of twelve rows that sets builds side by side. A pinned build is one more column."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from engine.bands.results import METAL
from engine.columns import COLUMNS, band_key, base_key
from engine.model.loads import demand, load_text, needed
from engine.study.study import Study
from reports.kit.quantities import (
    MISSING,
    bare,
    begun,
    inline_label,
    listed,
    number,
    power,
    quantity,
)
from reports.run.facts import Facts
from reports.run.search_facts import Values
from reports.run.stages import of_each_stage

LABELS = {
    "electric_power": "Power",
    "safety_margin": "First failure, × running speed",
    "speed": "Running speed",
}
"""Labels that are shorter here, where the page has said what is meant."""


@dataclass(frozen=True)
class Row:
    """One row of the table."""

    label: str
    unit: str
    text: Callable[[Values], str]
    meaning: str = ""
    bad: str = ""
    """Text of a cell that is shown as a warning; '' for none."""


def rows_of(facts: Facts) -> tuple[Row, ...]:
    """List the rows that this study has numbers for."""
    rows = [*_aims(facts), *_loads(facts.study), *_needs(), *_dimensions(facts), *_dangers()]
    keep = (row for row in rows if any(row.text(c.values) != MISSING for c in facts.candidates))
    return tuple(keep)


def _aims(facts: Facts) -> list[Row]:
    found = []
    named = [aim.key for aim in facts.aims]
    shown = [*named, *(key for key in ("electric_power", "safety_margin") if not _in(key, named))]
    for key in (key for key in shown if key in facts.front):
        found.append(_plain(key))
        low, high = (band_key(key, part) for part in ("p10", "p90"))
        if low not in facts.front:
            continue
        if key == "safety_margin":
            found.append(Row("nine in ten reach", "", partial(_known, low)))
        else:
            found.append(Row("eight in ten", "", partial(_span, low, high)))
    return found


def _in(key: str, named: list[str]) -> bool:
    return any(base_key(each) == key for each in named)


def _span(low: str, high: str, values: Values) -> str:
    ends = [float(values.get(key, math.nan)) for key in (low, high)]
    if not all(map(math.isfinite, ends)):
        return MISSING
    return f"{bare(low, ends[0])}–{bare(high, ends[1])}"


def _loads(study: Study) -> list[Row]:
    if study.loads is None:
        return []
    must = {load_text(load) for load in needed(study.loads)}
    wanted = demand(needed(study.loads))
    extra = [load_text(load) for load in study.loads.listed if load_text(load) not in must]

    def runs(values: Values) -> str:
        least = float(values.get("electric_power_p10", values.get("electric_power", math.nan)))
        if must and not least >= wanted:
            return "no"
        running = str(values.get("loads_carried", "")).split(", ")
        names = [plainly(name) for name in extra if name in running]
        return ", ".join(["yes" if must else "", *names]).removeprefix(", ") or "nothing"

    label = f"Runs the {power(wanted)} that must run, and" if must else "Runs"
    return [Row(label, "", runs, "on the power that nine builds in ten reach", bad="no")]


def plainly(name: str) -> str:
    """Write the name of an appliance as words."""
    words = re.sub(r"\bled\b", "LED", name.replace("-", " "))
    return re.sub(r"^(\d+) ", r"\1 × ", words)


def _needs() -> list[Row]:
    def for_one(values: Values) -> str:
        share = float(values.get("supply_efficiency", math.nan))
        return number(1 / share, 2) if share > 0 else MISSING

    return [Row("Watts in for one watt out", "", for_one)]


def _dimensions(facts: Facts) -> list[Row]:
    def discs(values: Values) -> str:
        diameter = bare("disc_diameter", values["disc_diameter"])
        gap = bare("gap", values["gap"])
        return f"{_stages('disc_count', values)} × {diameter}, {gap}"

    def jets(values: Values) -> str:
        width = _stages("nozzle_width", values)
        angle = quantity("inlet_angle", values["inlet_angle"])
        return f"{bare('nozzle_count', values['nozzle_count'])} × {width}, {angle}"

    rows = [Row("Discs × diameter, gap", "mm", discs)]
    if {"nozzle_width", "nozzle_count"} <= facts.front.keys():
        rows.append(Row("Jets × width, angle", "mm", jets))
    else:
        rows.append(_plain("inlet_angle"))
    return [*rows, _plain("exhaust_bore"), _plain("speed")]


def _stages(key: str, values: Values) -> str:
    return " + ".join(bare(key, value) for value in of_each_stage(key, values))


def _dangers() -> list[Row]:
    def lost(values: Values) -> str:
        runaway, margin = (
            float(values.get(key, math.nan)) for key in ("runaway_ratio", "safety_margin")
        )
        if not (math.isfinite(runaway) and math.isfinite(margin)):
            return MISSING
        return "yes" if margin >= runaway else "no"

    return [
        Row("Energy in the discs", "J", lambda v: _known("stored_energy", v)),
        Row("Survives a lost load, no trip", "", lost, bad="no"),
    ]


def _plain(key: str) -> Row:
    column = COLUMNS[key]
    unit = "" if column.unit.symbol in ("count", "text") else column.unit.symbol
    if unit == "deg":
        return Row(column.label, "", lambda v: quantity(key, v[key]), column.meaning)
    label = LABELS.get(key, column.label)
    return Row(label, unit, lambda v: _known(key, v), column.meaning)


def _known(key: str, values: Values) -> str:
    return bare(key, values[key]) if key in values else MISSING


def why_of(
    facts: Facts, missed: Callable[[Facts, str], str], remedy: Callable[[Facts], str]
) -> str:
    """Say why this build, and not the best one on paper.

    `missed` says of a limit that it does not hold, `remedy` what to do then.
    """
    first = facts.aims[0]
    if not facts.judged:
        return (
            "How built machines spread around these numbers is computed when the run has ended; "
            "until then the choice is by the numbers alone."
        )
    if not facts.holds:
        said = listed([missed(facts, key) for key in facts.pick.misses])
        return f"{begun(said)}. {remedy(facts)}"
    best = "has the most" if first.maximise else "has the least"
    limited = {base_key(key) for key in facts.study.all_limits}
    held = [inline_label(key) for key in METAL if key in limited] or ["safety margin"]
    hold = "each hold" if len(held) > 1 else "holds"
    text = f"Of the builds whose {listed(held)} {hold} in nine of ten, it {best}"
    return f"{text} {inline_label(first.key)}."
