"""The page of a ladder of sizes: one chart with log axes, the table, and what was scaled."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from engine.columns import COLUMNS
from engine.model.worth import worth_of
from engine.run.sizes import RULES, Rung
from engine.stage_columns import is_idle
from engine.study.loads import appliances
from engine.study.study import Study
from engine.study.supply import source_of
from reports.kit import quantities
from reports.kit.quantities import (
    MISSING,
    bare,
    count,
    inline_label,
    listed,
    number,
    power,
    quantity,
)
from reports.kit.rendering import render
from reports.kit.svg import Drawing, Label, fitted

MARK = "swirlstack sizes"
"""Text in the head of every such page, by which the command knows its own."""
HEIGHT = 470.0
HOME = 400.0
"""Mean power of a home that uses 3,500 kWh a year [W]."""
KETTLE = 2200.0
"""[W]"""
SOURCES = (
    "LED lamp and laptop: the list that swirlstack keys appliances prints",
    "kettle: 2.2 kW on its plate, typical, no source",
    (
        f"a home's mean: {count(3500)} kWh a year, within band DC, {count(2500)} to {count(5000)} "
        "kWh, of Eurostat's prices of electricity for households; from memory"
    ),
)


@dataclass(frozen=True)
class Line:
    """One quantity along the ladder."""

    words: str
    look: str
    values: tuple[float, ...]


@dataclass(frozen=True)
class LogScale:
    """A scale of logarithms from numbers to places in a drawing."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Find the place of a number above 0; NaN of any other.

        Examples
        --------
        >>> LogScale(1, 100, 0, 50)(10)
        25.0
        """
        if not value > 0:
            return math.nan
        share = math.log(value / self.low) / math.log(self.high / self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[float]:
        """List the powers of ten on the scale, with twice and five times each where it is short.

        Examples
        --------
        >>> LogScale(30, 3000, 0, 1).ticks()
        [50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0]
        """
        ends = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
        parts = (1, 2, 5) if len(ends) <= 4 else (1,)
        found = [part * 10.0**place for place in ends for part in parts]
        return [value for value in found if self.low <= value <= self.high]


def write_sizes(study: Study, rungs: Sequence[Rung], seconds: float) -> str:
    """Make the whole page, as text."""
    known = [rung for rung in rungs if rung.best]
    return render(
        "sizes.html.j2",
        style="page.css",
        mark=MARK,
        study=study,
        rungs=rungs,
        seconds=seconds,
        chart=fitted(lambda width: _chart(study, known, width)) if len(known) > 1 else "",
        heads=[head for head, _ in _cells(study, rungs[0])],
        table=[[text for _, text in _cells(study, rung)] for rung in rungs],
        headline=headline(study, rungs),
        told=honest_text(study, rungs),
        rules=rules_text(study),
        sources=SOURCES,
        say=quantities,
    )


def headline(study: Study, rungs: Sequence[Rung]) -> str:
    """Say in one sentence what the ladder spans."""
    known = [rung for rung in rungs if rung.best]
    if not known:
        return "No size keeps every limit"
    low, high = (power(_of(rung, "electric_power")) for rung in (known[0], known[-1]))
    ends = " to ".join(_size(study, rung) for rung in (known[0], known[-1]))
    return f"From {ends}: {low} to {high}"


def honest_text(study: Study, rungs: Sequence[Rung]) -> str:
    """Say what grows faster than the power, and what a home would take."""
    known = [rung for rung in rungs if rung.best and _of(rung, "electric_power") > 0]
    if len(known) < 2:
        return "Too few sizes keep every limit to say how it grows."
    first, last = known[0], known[-1]

    def times(key: str) -> str:
        return f"{number(_of(last, key) / _of(first, key), 2)} times"

    grows = (
        f"From the smallest size to the largest that keeps every limit, the flow grows "
        f"{number(last.flow / first.flow, 2)} times, the power at the terminals "
        f"{times('electric_power')}, what is drawn for it {times('supply_power')}, and the energy "
        f"in the discs, which a burst lets go, {times('stored_energy')}."
    )
    found = [grows]
    home = _where(known, HOME)
    if home is not None:
        flow, drawn = home
        mean = number(HOME, trim=True)
        what = f"A home that uses {count(3500)} kWh a year takes {mean} W in the mean."
        text = f"{what} That is about {_flow_text(study, flow)}"
        if drawn > HOME and source_of(study.supply).is_compressed:
            text += (
                f", for which the compressor draws {power(drawn)}: {number(drawn / HOME, 2)} times "
                "what it saves. No size changes that; it only pays where the air is there anyway."
            )
        else:
            text += f", for which {power(drawn)} are spent."
        found.append(text)
    found.append(
        "Each size is the best of one short search; a night of its own finds a few percent more."
    )
    return " ".join(found)


def rules_text(study: Study) -> list[str]:
    """List what was scaled, by its rule: what builds of this study have."""
    counts = study.searched().get("stage_count")
    stages = float(counts.highest if counts else study.fixed()["stage_count"])
    by_rule: dict[float, list[str]] = {}
    for key, exponent in RULES.items():
        if is_idle(key, stages):
            continue
        by_rule.setdefault(exponent, []).append(inline_label(key))
    found = [
        f"With the flow to the power of {number(exponent, 2, trim=True)}: {listed(labels)}."
        for exponent, labels in sorted(by_rule.items(), reverse=True)
    ]
    return [
        *found,
        "The bearing is the nearest of the table that the scaled shaft fits.",
        "Steps and choices are scaled too, so sizes are not those of stock sheets and cutters.",
        "Limits, angles, ratios and coefficients stay as the study has them.",
    ]


def rung_text(study: Study, rung: Rung) -> str:
    """Say in one line what a size gives."""
    if not rung.best:
        missed = inline_label(rung.closest)
        return f"{_size(study, rung)}: no build keeps every limit; most miss {missed}."
    discs = f"{bare('disc_count', _of(rung, 'disc_count'))} discs of "
    return (
        f"{_size(study, rung)}: {discs}{quantity('disc_diameter', _of(rung, 'disc_diameter'))} at "
        f"{quantity('speed', _of(rung, 'speed'))} give {power(_of(rung, 'electric_power'))}; "
        f"{power(_of(rung, 'supply_power'))} drawn, "
        f"{quantity('stored_energy', _of(rung, 'stored_energy'))} in the discs."
    )


def _where(known: Sequence[Rung], wanted: float) -> tuple[float, float] | None:
    """Flow and power drawn at which the ladder gives a power, by logarithms; None beyond it."""
    for low, high in pairwise(known):
        ends = [_of(rung, "electric_power") for rung in (low, high)]
        if min(ends) <= wanted <= max(ends) and ends[0] != ends[1]:
            share = math.log(wanted / ends[0]) / math.log(ends[1] / ends[0])
            drawn = [_of(rung, "supply_power") for rung in (low, high)]
            return (
                low.flow * (high.flow / low.flow) ** share,
                drawn[0] * (drawn[1] / drawn[0]) ** share,
            )
    return None


def _of(rung: Rung, key: str) -> float:
    return float(rung.best[key][0]) if rung.best else math.nan


def _flow_text(study: Study, flow: float) -> str:
    """Write a flow as the study's fluid is sold."""
    source = source_of(study.supply)
    if source.is_compressed:
        return f"{quantity('free_air_flow', flow / source.free_density)} of free air"
    return quantity("mass_flow", flow)


def _size(study: Study, rung: Rung) -> str:
    return _flow_text(study, rung.flow).removesuffix(" of free air")


def _cost(rung: Rung) -> tuple[float, str]:
    """Find what an hour costs, and its currency; NaN where no price is given."""
    if not rung.best:
        return math.nan, ""
    values = {key: value[0] for key, value in rung.best.items()}
    costs = worth_of(rung.study, values).costs
    return (math.nan, "") if costs is None else (costs.per_hour, costs.currency)


def _cells(study: Study, rung: Rung) -> list[tuple[str, str]]:
    """Head and text of each cell of a row of the table."""
    keys = (
        *("disc_diameter", "disc_count", "gap", "shaft_diameter", "bearing", "speed"),
        *("electric_power", "resolved_power", "supply_power", "turbine_efficiency"),
        *("stored_energy", "safety_margin"),
    )
    symbols = {key: COLUMNS[key].unit.symbol for key in keys}
    heads = {
        key: COLUMNS[key].label
        + (f" [{symbols[key]}]" if symbols[key] not in ("", "text", "count") else "")
        for key in keys
    }
    cells = [("Supply", _size(study, rung))]
    cells += [(heads[key], bare(key, rung.best[key][0]) if rung.best else MISSING) for key in keys]
    cost, currency = _cost(rung)
    if study.supply.energy_price is not None:
        cells.append((f"Hour [{currency}]", number(cost)))
    return cells


def _lines(study: Study, known: Sequence[Rung]) -> list[Line]:
    def line(words: str, look: str, key: str) -> Line:
        return Line(words, look, tuple(_of(rung, key) for rung in known))

    found = [
        line("drawn, W", "metal", "supply_power"),
        line("energy in the discs, J", "fails", "stored_energy"),
        line("at the terminals, W", "runs", "electric_power"),
    ]
    if study.supply.energy_price is not None:
        costs = [_cost(rung) for rung in known]
        words = f"an hour costs, hundredths of {costs[0][1]}"
        found.append(Line(words, "air", tuple(100 * cost for cost, _ in costs)))
    return [each for each in found if any(value > 0 for value in each.values)]


def _references() -> list[tuple[str, float]]:
    """List the reference lines: words, and watts."""
    known = appliances()
    lamp, laptop = (float(known[key].running) for key in ("led-lamp", "laptop"))
    return [("LED lamp", lamp), ("laptop", laptop), ("a home's mean", HOME), ("kettle", KETTLE)]


def _chart(study: Study, known: Sequence[Rung], width: float) -> Drawing:
    lines, references = _lines(study, known), _references()
    source = source_of(study.supply)
    per = 1e-3 / 60 * source.free_density if source.is_compressed else 1e-3
    flows = [rung.flow / per for rung in known]
    every = [value for line in lines for value in line.values if value > 0]
    low = min(*every, *(watts for _, watts in references))
    told = "; ".join(
        f"{line.words}: {number(line.values[0], 2)} to {number(line.values[-1], 2)}"
        for line in lines
    )
    drawing = Drawing(width, HEIGHT, says=f"Along the ladder, with log axes. {told}.")
    x = LogScale(0.85 * flows[0], 1.15 * flows[-1], 62.0, width - 12)
    y = LogScale(0.7 * low, 1.6 * max(every), HEIGHT - 58, 28.0)
    for value in y.ticks():
        drawing.line((x.start, y(value)), (x.end, y(value)), "grid")
        drawing.text((x.start - 7, y(value) + 4), count(value), "soft", anchor="end")
    for value in x.ticks():
        drawing.line((x(value), y.start), (x(value), y.start + 4), "rule")
        drawing.text((x(value), y.start + 19), count(value), "soft", anchor="middle")
    drawing.line((x.start, y.start), (x.end, y.start), "rule")
    across = "free air, l/min" if source.is_compressed else "flow, g/s"
    drawing.text((x.end, HEIGHT - 12), across, "soft", anchor="end")
    drawing.text((0, 13), "W, J" if len(lines) < 4 else "W, J, money", "soft")
    for words, watts in references:
        drawing.line((x.start, y(watts)), (x.end, y(watts)), "level")
        drawing.text((x.start + 6, y(watts) - 5), f"{words}, {power(watts)}", "soft halo")
    labels = []
    for line in lines:
        points = [(x(flow), y(value)) for flow, value in zip(flows, line.values, strict=True)]
        drawing.curve(points, line.look)
        for point, value in zip(points, line.values, strict=True):
            if all(map(math.isfinite, point)):
                drawing.mark(point, "disc", line.look, says=f"{line.words}: {number(value)}")
        for (x0, y0), (x1, y1) in pairwise(points):
            drawing.shun([(x0 + t * (x1 - x0) / 9, y0 + t * (y1 - y0) / 9) for t in range(10)])
        labels.append(
            Label(points[-2 if len(points) > 2 else -1], line.words, line.look, bold=True)
        )
    drawing.label(labels)
    return drawing
