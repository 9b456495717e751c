"""Along the front and over the search: which bound holds, what is nearly equal, how it grew."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.stage_columns import is_idle
from reports.kit.quantities import (
    bare,
    begun,
    count,
    inline_label,
    percent,
    quantity,
    setting,
    within,
)
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing
from reports.run.facts import Facts
from reports.run.search_facts import LimitFact

DRAWN = 160
"""Most points that are drawn of a line."""
Floats = NDArray[np.float64]


def bounds_chart(facts: Facts, width: float) -> Drawing | None:
    """Draw where along the front each limit or end of a range is reached; None where none is."""
    first = facts.aims[0]
    held = [(_bound_text(f), f.reached, "square") for f in facts.limits if f.reached]
    held += [
        (f"{begun(end.end)} {inline_label(end.key)}, {quantity(end.key, end.value)}",
         end.reached, "diamond")
        for end in facts.range_ends
    ]  # fmt: skip
    if not held:
        return None
    slim = width < 600
    row, top, left = (46.0, 6.0, 8.0) if slim else (24.0, 12.0, 250.0)
    front = _shown(first.key, facts.front[first.key])
    n_front = len(front)
    told = "; ".join(f"{name}: {percent(len(reached) / n_front)}" for name, reached, _ in held)
    says = f"Where along the front each bound is reached, as a share of its designs: {told}."
    drawing = Drawing(width, top + row * len(held) + 48, says=says, size=12.5 if slim else 13)
    x = spanning(front.tolist(), left, width - 16)
    for place, (name, reached, shape) in enumerate(held):
        y = top + row * place + (30 if slim else row / 2)
        drawing.text((0, y - 14 if slim else y + 4), name)
        drawing.line((x.start, y), (x.end, y), "grid")
        places = sorted({round(x(v)) for v in _shown(first.key, np.array(reached)).tolist()})
        drawing.ticks(places, y, 11 if shape == "square" else 7, f"stroke {shape}")
    floor = top + row * len(held) + 4
    for value in x.ticks(4 if slim else 7):
        drawing.text((x(value), floor + 16), count(value), "soft", anchor="middle")
    named = f"{COLUMNS[first.key].label}{_unit(first.key)}"
    drawing.text((x.end, floor + 36), named, "soft", anchor="end")
    return drawing


def _bound_text(fact: LimitFact) -> str:
    sign = "≥" if fact.side == "min" else "≤"
    return f"{COLUMNS[fact.key].label} {sign} {setting(fact.key, fact.bound)}"


def room_strips(facts: Facts) -> tuple[list[tuple[str, Drawing]], list[str]]:
    """Draw one strip for each variable that differs among nearly equal builds; name the others."""
    strips, same = [], []
    for key, (low, high) in facts.spans.items():
        values = np.asarray(facts.near.get(key, ()), dtype=float)
        values = values[np.isfinite(values)]
        if not values.size or is_idle(key, float(facts.pick.values.get("stage_count", 1))):
            continue
        if np.ptp(values) <= 1e-9 * max(abs(values).max(), 1e-30):
            same.append(f"{inline_label(key)} {quantity(key, float(values[0]))}")
        else:
            strips.append((key, _strip(facts, key, values, (low, high))))
    for key in facts.study.searched():
        words = facts.near.get(key)
        if words is not None and COLUMNS[key].is_text and len(set(words.tolist())) == 1:
            same.append(f"{inline_label(key)} {words[0]}")
    return strips, same


def _strip(facts: Facts, key: str, values: Floats, ends: tuple[float, float]) -> Drawing:
    """Draw which values of a variable occur, and the pick's; a taller bar for more builds."""
    found, counts = np.unique(values, return_counts=True)
    low, high = (bare(key, float(found[place])) for place in (0, -1))
    says = (
        f"{COLUMNS[key].label} of nearly equal builds: {low} to {high}; the pick has "
        f"{quantity(key, facts.pick.values[key])}."
    )
    drawing = Drawing(400, 74, says=says, size=12.5)
    x = spanning(_shown(key, np.array(ends)).tolist(), 6, 394, room=0.03)
    drawing.line((x.start, 52), (x.end, 52), "rule")
    drawing.text((0, 12), f"{COLUMNS[key].label}{_unit(key)}", bold=True)
    wide = max(2.0, min(10.0, 300 / max(1, len(found))))
    for value, many in zip(_shown(key, found).tolist(), counts.tolist(), strict=True):
        tall = 4 + 22 * math.sqrt(many / counts.max())
        told = f"{bare(key, float(COLUMNS[key].to_si(value)))}: {count(many)} builds"
        drawing.box((x(value) - wide / 2, 52 - tall), (wide, tall), "metal", told)
    own = float(COLUMNS[key].to_drawing(float(facts.pick.values[key])))
    drawing.mark(
        (x(own), 52), "disc", "runs", 4.5, says=f"the pick: {quantity(key, facts.pick.values[key])}"
    )
    spots = [x(float(value)) for value in _shown(key, found)[[0, -1]].tolist()]
    texts = [bare(key, float(found[place])) for place in (0, -1)]
    if spots[1] - spots[0] < drawing.measure("".join(texts)) / 2 + 8:
        texts = ["", f"{texts[0]} to {texts[1]}"]
    for at, text in zip(spots, texts, strict=True):
        half = drawing.measure(text) / 2
        drawing.text((min(max(at, half), 400 - half), 70), text, "soft", anchor="middle")
    return drawing


def _unit(key: str) -> str:
    symbol = COLUMNS[key].unit.symbol
    return "" if symbol in ("", "count") else ", °" if symbol == "deg" else f", {symbol}"


def growth_chart(facts: Facts, width: float) -> Drawing | None:
    """Draw hypervolume and the best of each aim, as shares of their last values."""
    shares = growth_shares(facts)
    if facts.growth is None or not shares:
        return None
    noted = facts.growth.rows
    designs, stages = noted["designs"], noted["stage"]
    turns = np.flatnonzero(stages[1:] != stages[:-1]) + 1
    step = max(1, -(-len(designs) // DRAWN))
    rows = np.unique(np.r_[np.arange(0, len(designs), step), turns, len(designs) - 1])
    drawing = Drawing(width, 260, says=growth_text(facts), size=12.5)
    x = Scale(0, float(designs[-1]), 40, width - 20, "designs")
    y = Scale(0, 105, 206, 34, "%")
    drawing.axes(x, y, across="designs evaluated", up="Share of the end, %", ticks=(4, 4))
    for (name, values), look in zip(shares.items(), ("air", "ink dash", "metal dot"), strict=False):
        points = [(x(float(designs[r])), y(100 * float(values[r]))) for r in rows.tolist()]
        drawing.curve(points, look, begun(name))
    last = -math.inf
    for row in (0, *turns.tolist()):
        at = x(float(designs[row - 1])) if row else x(0)
        if row:
            drawing.line((at, 34), (at, 206), "grid")
        words = str(stages[row])
        if at > last + 6 and at + drawing.measure(words) < width:
            drawing.text((at + 4, 46), words, "soft halo")
            last = at + drawing.measure(words)
    for place, (name, look) in enumerate(
        zip(shares, ("air", "ink dash", "metal dot"), strict=False)
    ):
        y0 = 198 - 17 * place
        drawing.line((width - 220, y0 - 4), (width - 196, y0 - 4), f"curve {look}")
        drawing.text((width - 190, y0), name, "soft halo")
    return drawing


def growth_text(facts: Facts) -> str:
    """Say when the front was nearly complete."""
    shares = growth_shares(facts)
    if facts.growth is None or not shares:
        return ""
    designs = facts.growth.rows["designs"]
    volume = next(iter(shares.values()))
    reached = [int(designs[np.argmax(volume >= share)]) for share in (0.9, 0.99)]
    late = np.flatnonzero(designs <= 0.9 * designs[-1])
    gain = 1.0 - float(volume[late[-1]]) if late.size else 1.0
    added = "nothing" if gain <= 0 else "less than 0.1 %" if gain < 1e-3 else percent(gain)
    worst = ", ".join(
        f"{inline_label(key)} {quantity(key, value)}"
        for key, value in facts.growth.reference.items()
    )
    nearly, almost = (count(each) for each in reached)
    return (
        f"The front had 90 % of its hypervolume after {nearly} designs and 99 % after {almost}; "
        f"the last tenth of all designs added {added}. Hypervolume measures how far the front lies "
        f"beyond a fixed point, the worst of the first feasible designs: {worst}."
    )


def growth_shares(facts: Facts) -> Mapping[str, Floats]:
    """Hypervolume, then the aims, as shares of their last values; only those above zero."""
    if facts.growth is None or not len(facts.growth.rows["designs"]):
        return {}
    rows = facts.growth.rows
    if not rows["hypervolume"][-1] > 0:
        return {}
    shares = {"hypervolume of the front": rows["hypervolume"] / rows["hypervolume"][-1]}
    for aim in facts.aims:
        best = rows[aim.key]
        if np.nanmin(best) > 0:
            over = best / best[-1] if aim.maximise else best[-1] / best
            shares[f"best {within(COLUMNS[aim.key].label)}"] = np.nan_to_num(over)
    return shares


def _shown(key: str, values: Sequence[float] | Floats) -> Floats:
    return np.asarray(COLUMNS[key].to_drawing(np.asarray(values, dtype=float)))
