"""One ruler of speed for the builds shown: running, trip, first failure, runaway."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from engine.columns import COLUMNS
from reports.kit.quantities import count, number, quantity
from reports.kit.scales import Scale, round_step, tick_text
from reports.kit.svg import Drawing, Point, failure
from reports.run.facts import Candidate
from reports.run.search_facts import Values

MOST_BEYOND = 2.4
"""Runaway is drawn up to this many times the highest first failure; beyond it stands an arrow."""


@dataclass(frozen=True)
class Speeds:
    """Speeds of a build [rpm]; NaN for what is not known."""

    running: float
    trip: float
    failure: float
    least: float
    """Nine in ten builds reach this speed before the first failure."""
    most: float
    """One in ten does."""
    runaway: float


def speeds_of(values: Values) -> Speeds:
    """Find the speeds that the ruler shows."""
    running = float(COLUMNS["speed"].to_drawing(float(values["speed"])))

    def times(key: str) -> float:
        return running * float(values.get(key, math.nan))

    return Speeds(
        running,
        trip=times("trip_factor"),
        failure=times("safety_margin"),
        least=times("safety_margin_p10"),
        most=times("safety_margin_p90"),
        runaway=times("runaway_ratio"),
    )


def ruler_end(speeds: Sequence[Speeds]) -> float:
    """Find where the ruler ends [rpm]."""
    fails = max((each.failure for each in speeds if math.isfinite(each.failure)), default=0.0)
    ends = [value for s in speeds for value in (s.running, s.runaway, s.most, s.failure)]
    longest = max(value for value in ends if math.isfinite(value))
    least = max(each.running for each in speeds)
    return 1.04 * max(least, min(longest, MOST_BEYOND * fails) if fails else longest)


def ruler_chart(candidates: Sequence[Candidate], width: float, end: float | None = None) -> Drawing:
    """Draw a row for each build, on a scale that ends at `end` [rpm] or where they need it."""
    slim = width < 600
    left, row, top = (12.0, 112.0, 8.0) if slim else (150.0, 78.0, 26.0)
    height = top + row * len(candidates) + 30
    found = [(each, speeds_of(each.values)) for each in candidates]
    drawing = Drawing(width, height, says=_said(candidates), size=12 if slim else 13)
    end = ruler_end([speeds for _, speeds in found]) if end is None else end
    x = Scale(0, end, left, width - (14 if slim else 40), "rpm")
    about = 3 if slim else 5 if width < 1000 else 8
    step = round_step(end / about)
    ticks = x.ticks(about)
    for value in ticks:
        drawing.line((x(value), top - 8), (x(value), height - 26), "grid")
        last = value == ticks[-1]
        words = tick_text(value, step) + (" rpm" if last else "")
        drawing.text((x(value), height - 8), words, "soft", anchor="middle" if value else "start")
    for place, (each, speeds) in enumerate(found):
        middle = top + row * place + (66 if slim else 34)
        with drawing.within("build", of=each.design):
            _name(drawing, each, (0, middle - (48 if slim else 3)), slim=slim)
            _row(drawing, x, each, speeds, middle)
    return drawing


def _name(drawing: Drawing, candidate: Candidate, at: Point, *, slim: bool) -> None:
    values = candidate.values
    runs = f"{quantity('electric_power', values['electric_power'])} at {_rpm(values)}"
    drawing.text(at, candidate.name, bold=True, size=14)
    if slim:
        drawing.text((58, at[1]), runs, "soft")
    else:
        drawing.text((0, at[1] + 17), runs, "soft", size=12)


def _row(drawing: Drawing, x: Scale, candidate: Candidate, speeds: Speeds, y: float) -> None:
    """Draw what is safe, what the trip guards and what fails, with words at each mark."""
    thick = 8.0
    last = min(x.high, speeds.runaway) if math.isfinite(speeds.runaway) else speeds.failure
    trip = speeds.trip if math.isfinite(speeds.trip) else speeds.running

    def bar(start: float, stop: float, look: str) -> None:
        if math.isfinite(start) and math.isfinite(stop) and stop > start:
            drawing.box((x(start), y - thick / 2), (x(stop) - x(start), thick), look)

    fails = speeds.failure if math.isfinite(speeds.failure) else last
    bar(0, speeds.running, "runs-pale")
    bar(speeds.running, min(trip, last), "metal")
    bar(trip, min(fails, last), "grey")
    bar(fails, last, "fails-pale")
    above: list[tuple[float, str, str]] = [(speeds.running, "runs", "runs")]
    below: list[tuple[float, str, str]] = []
    if math.isfinite(speeds.trip):
        drawing.line((x(speeds.trip), y - 10), (x(speeds.trip), y + 10), "cut")
        below.append((speeds.trip, f"trip {count(speeds.trip)}", ""))
    if math.isfinite(speeds.runaway):
        beyond = speeds.runaway > x.high
        look = "fails" if speeds.runaway > speeds.failure else ""
        drawing.line((x(last), y - 8), (x(last), y + 8), f"upright {look}".strip())
        arrow = " →" if beyond else ""
        below.append((last, f"runaway {count(speeds.runaway)}{arrow}", look))
    if math.isfinite(speeds.failure):
        ends = [end for end in (speeds.least, speeds.most) if math.isfinite(end)]
        if len(ends) == 2 and x(ends[1]) - x(ends[0]) > 1:
            low, high = x(ends[0]), x(min(ends[1], x.high))
            drawing.line((low, y), (high, y), "upright fails")
            for end in (low, high):
                drawing.line((end, y - 5), (end, y + 5), "upright fails")
        ratio = number(speeds.failure / speeds.running)
        mode = str(candidate.values.get("governing_mode", ""))
        says = f"{candidate.name}: {failure(mode)[1]} at {count(speeds.failure)} rpm"
        drawing.mark((x(speeds.failure), y), failure(mode)[0], "fails", 5.5, says=says)
        above.append((speeds.failure, f"first failure {count(speeds.failure)}, {ratio} ×", "fails"))
    says = f"{candidate.name} runs at {count(speeds.running)} rpm"
    drawing.mark((x(speeds.running), y), "disc", "runs", 5.5, says=says)
    _words(drawing, x, above, y - 13)
    _words(drawing, x, below, y + 23)


def _words(drawing: Drawing, x: Scale, words: Sequence[tuple[float, str, str]], y: float) -> None:
    """Write words at their speeds in one line, moved apart where they would touch."""
    halves = [drawing.measure(text, bold=True) / 2 for _, text, _ in words]
    middles: list[float] = []
    taken = -math.inf
    for (speed, _, _), half in zip(words, halves, strict=True):
        middle = max(min(max(x(speed), half), drawing.width - half), taken + half + 8)
        middles.append(middle)
        taken = middle + half
    limit = drawing.width
    # What would run over the edge pushes the one before it back.
    for place in reversed(range(len(words))):
        middles[place] = min(middles[place], limit - halves[place])
        limit = middles[place] - halves[place] - 8
    for middle, (_, text, look) in zip(middles, words, strict=True):
        drawing.text((middle, y), text, look, anchor="middle", bold=bool(look))


def _rpm(values: Values) -> str:
    return quantity("speed", values["speed"])


def _said(candidates: Sequence[Candidate]) -> str:
    told = []
    for each in candidates:
        speeds = speeds_of(each.values)
        parts = [f"runs at {count(speeds.running)} rpm"]
        for name, speed in (
            ("trip", speeds.trip),
            ("first failure", speeds.failure),
            ("runaway", speeds.runaway),
        ):
            if math.isfinite(speed):
                parts.append(f"{name} {count(speed)} rpm")
        told.append(f"{each.name}: {', '.join(parts)}")
    return f"Ruler of speed. {'; '.join(told)}."
