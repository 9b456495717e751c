"""The front: its first two aims against each other, as built machines may turn out."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS, band_key, base_key
from engine.model.loads import demand, needed
from reports.kit.quantities import chance as chance_text
from reports.kit.quantities import inline_label, number, power, quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing, Label, Point, failure, filled
from reports.run.facts import Facts
from reports.run.search_facts import Aim, Values
from reports.run.wording import axis_title, is_margin

Floats = NDArray[np.float64]
CLOSE = 1.6
"""A dot nearer than this to the one before it is not drawn: nobody could tell the two apart."""
TRIP_WORDS = "left of here it fails before the trip has acted"
FAINT_KIND = "nominal"
"""Kind of the designs that are best only as drawn; tolerances leave others."""


def front_chart(facts: Facts, width: float) -> Drawing:
    """Draw the designs listed, the band of the first aim, and the builds shown."""
    slim = width < 600
    height = 400.0 if slim else 470.0
    size = 12.0 if slim else 13.5
    first, second = facts.aims[0], facts.aims[1]
    drawing = Drawing(width, height, says=front_text(facts), size=size, pointed=True)
    up, across = _shown(facts.listed, first.key), _shown(facts.listed, second.key)
    low, high = (_band(facts, part) for part in ("p10", "p90"))
    level = _level(facts)
    left, bottom = (44.0, height - 48) if slim else (52.0, height - 52)
    wanted = [*up, *low, *high, *([level] if level is not None else [])]
    y = spanning(wanted, bottom, 30, unit=_unit(first), zero=_from_zero(up), room=0.08)
    trip = _trip(facts)
    wide = [*across, *([trip] if trip is not None else [])]
    x = spanning(wide, left, width - 16, unit=_unit(second), room=0.05)
    if trip is not None:
        drawing.box((x.start, 30), (x(trip) - x.start, bottom - 30), "shut")
    order = np.argsort(across)
    if low.size:
        drawing.band(
            *([scale(v) for v in part[order]] for scale, part in ((x, across), (y, low), (y, high)))
        )
    drawing.axes(x, y, across=axis_title(second), up=axis_title(first), ticks=(4 if slim else 7, 5))
    drawing.data |= {"front": "", "across": second.key}
    _draw_designs(drawing, facts, [x(value) for value in across], [y(value) for value in up])
    if level is not None:
        drawing.line((x.start, y(level)), (x.end, y(level)), "level")
    for part in (low, high):
        drawing.shun([(x(a), y(b)) for a, b in zip(across, part, strict=False)], 3)
    if trip is not None:
        drawing.taken.append((x.start, 0, x(trip), bottom))
        drawing.taken.append((x(trip), 28, x(trip) + drawing.measure(TRIP_WORDS), 50))
    labels = _mark_builds(drawing, facts, x, y)
    if level is not None:
        words = f"what must run: {power(level)}"
        drawing.text((x.end, y(level) - 6), words, "runs halo", anchor="end")
        start = x.end - drawing.measure(words)
        drawing.taken.append((start, y(level) - 20, x.end, y(level) + 2))
    drawing.label(labels)
    if trip is not None:
        drawing.text((x(trip) + 5, 44), TRIP_WORDS, "fails halo")
        drawing.line((x(trip), 30), (x(trip), bottom), "upright fails")
    return drawing


def _draw_designs(drawing: Drawing, facts: Facts, x: Sequence[float], y: Sequence[float]) -> None:
    kinds = np.asarray(facts.listed.get("front_kind", np.full(len(x), ""))).astype(str)
    modes = np.asarray(facts.listed.get("governing_mode", np.full(len(x), ""))).astype(str)
    places = list(zip(x, y, strict=True))
    if len(facts.aims) == 2:
        for faint in (True, False):
            of = [
                at for at, kind in zip(places, kinds, strict=True) if (kind == FAINT_KIND) == faint
            ]
            drawing.curve(sorted(of), "faint fine" if faint else "soft fine")
    numbers = facts.listed["design"].astype(int).tolist()
    groups: dict[tuple[bool, str], list[tuple[Point, int]]] = {}
    shown = {each.design for each in facts.candidates}
    last = (math.inf, math.inf)
    for at, design, kind, mode in zip(places, numbers, kinds, modes, strict=True):
        if design not in shown and math.dist(at, last) < CLOSE:
            continue
        last = at
        group = (kind != FAINT_KIND, failure(mode)[0])
        groups.setdefault(group, []).append((at, design))
    # The faint ones first, so that the others lie on top of them.
    for (strong, shape), dots in sorted(groups.items()):
        look, radius = ("ink", 3.2) if strong else ("faint", 2.2)
        with drawing.within(filled(shape, look)):
            for at, design in dots:
                held = {"shown": ""} if design in shown else {}
                drawing.mark(at, shape, "", radius, design=design, **held)
    drawing.shun(places, 3)


def _mark_builds(drawing: Drawing, facts: Facts, x: Scale, y: Scale) -> list[Label]:
    """Ring the builds shown; give their labels."""
    first, second = facts.aims[0], facts.aims[1]
    labels = []
    for each in facts.candidates:
        at = (x(_one(each.values, second)), y(_one(each.values, first)))
        drawing.circle(at, 8.5, "round")
        words = f"{each.name} {quantity(first.key, each.values[first.key])}"
        drawing.shun([at], 10)
        labels.append(Label(at, words, bold=True))
    if facts.most is not None:
        at = (x(_one(facts.most, second)), y(_one(facts.most, first)))
        drawing.circle(at, 7, "round fails")
        words = (
            f"{'most' if first.maximise else 'least'}: {quantity(first.key, facts.most[first.key])}"
        )
        labels.append(Label(at, f"{words}, but {most_fault(facts)}", "fails"))
    return labels


def most_fault(facts: Facts) -> str:
    """Say what is wrong with the best build by the first aim alone."""
    values = facts.most or {}
    for key in facts.most_misses:
        chance = float(values.get(band_key(key, "chance"), math.nan))
        if math.isfinite(chance):
            return f"{inline_label(key)} holds in {chance_text(chance)}"
    if facts.most_misses:
        return "one in ten fails before the trip has acted"
    return "it does not run what must run"


def has_faint(facts: Facts) -> bool:
    """Whether some designs are best only as drawn."""
    return FAINT_KIND in np.asarray(facts.listed.get("front_kind", ())).astype(str)


def modes_of(facts: Facts) -> list[tuple[str, str]]:
    """List the ways of failing that the front shows, as mark and words."""
    modes = np.asarray(facts.listed.get("governing_mode", np.array([], dtype=str))).astype(str)
    return sorted({failure(mode) for mode in modes.tolist() if mode})


def _trip(facts: Facts) -> float | None:
    """Highest speed with the trip acting, where the second aim is the first failure."""
    if not facts.candidates or base_key(facts.aims[1].key) != "safety_margin":
        return None
    peak = float(facts.pick.values.get("peak_ratio", math.nan))
    return peak if math.isfinite(peak) else None


def _level(facts: Facts) -> float | None:
    """Power that the needed loads take, where the first aim is electric power."""
    loads = facts.study.loads
    if loads is None or base_key(facts.aims[0].key) != "electric_power":
        return None
    return demand(needed(loads)) or None


def _band(facts: Facts, part: str) -> Floats:
    key = band_key(base_key(facts.aims[0].key), part)
    return _shown(facts.listed, key) if key in facts.listed else np.empty(0)


def _shown(table: Mapping[str, object], key: str) -> Floats:
    return np.asarray(COLUMNS[key].to_drawing(np.asarray(table[key], dtype=float)))


def _one(values: Values, aim: Aim) -> float:
    return float(COLUMNS[aim.key].to_drawing(float(values[aim.key])))


def _from_zero(values: Floats) -> bool:
    known = values[np.isfinite(values)]
    return bool(known.size and 0 <= known.min() < 0.6 * known.max())


def _unit(aim: Aim) -> str:
    symbol = COLUMNS[aim.key].unit.symbol
    return "" if symbol in ("count", "text") else symbol or ("×" if is_margin(aim) else "")


def front_text(facts: Facts) -> str:
    """Say what the chart of the front shows, for those who cannot see it."""
    first, second = facts.aims[0], facts.aims[1]
    ends = [
        f"{quantity(first.key, float(facts.front[first.key][row]))} at "
        f"{number(_one({second.key: float(facts.front[second.key][row])}, second))}"
        for row in (0, -1)
    ]
    return (
        f"Chart of {inline_label(first.key)} against {axis_title(second).lower()}: "
        f"{len(facts.listed['design'])} designs from {ends[0]} to {ends[1]}. "
        "The table of builds holds the same numbers."
    )
