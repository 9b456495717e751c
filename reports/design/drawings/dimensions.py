"""Dimensions on paper: leaders, arrows from edge to edge, running lengths, frames of tolerances."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reports.design.drawings.frames import INSET
from reports.design.drawings.paper import FINE, LETTERS, SOLID, Frame, Paper, Pen, width_of
from reports.design.outlines import Point

COLUMN, BESIDE = 38.0, 75.0
"""Width of the columns of dimensions beside a part, and where they begin at most, from it [mm]."""
AIMED = 14.0
"""Longest end of a leader that is aimed at the middle of its circle [mm]."""
BOX = 5.2
"""Height of a frame of tolerance [mm]."""
PITCH = 5.6
"""Distance between rows of dimensions above a turned part [mm]."""
APART = 4.4
"""Least distance between running lengths [mm]."""

Symbol = Literal["flatness", "position", "run-out", "squareness", "parallelism"]


@dataclass(frozen=True)
class Control:
    """A tolerance of form or place, ISO 1101."""

    symbol: Symbol
    within: str
    datum: str = ""

    @property
    def width(self) -> float:
        """Of its frame [mm]."""
        datum = width_of(self.datum) + 2.4 if self.datum else 0.0
        return BOX + 1 + width_of(self.within) + 2.4 + datum


@dataclass(frozen=True)
class Callout:
    """A dimension beside a part, with a leader to what it measures."""

    text: str
    below: str
    """Second line, '' for none."""
    at: Point
    """What it points to, in the part's millimetres."""
    side: Literal["left", "right"]
    over: Point | None = None
    """Opposite edge, for a dimension from edge to edge."""
    centre: Point | None = None
    """Middle of the circle that it measures: the leader is aimed at it."""
    control: Control | None = None
    datum: str = ""
    """Letter of the datum that this feature is."""


@dataclass(frozen=True)
class Label:
    """A dimension above a turned part, with a leader straight down to what it measures."""

    text: str
    along: float
    """Along the axis, in the part's millimetres."""
    out: float
    """Distance from the axis."""
    control: Control | None = None


def callouts(
    paper: Paper, marks: Sequence[Callout], frame: Frame, half: float, reach: float
) -> None:
    """Stack dimensions on both sides of a part, in the order of what they point to.

    `half` is half the height that they may take, `reach` the radius of the part, both on paper.
    """
    out = min(paper.width / 2 - INSET, reach + BESIDE)
    for side in ("left", "right"):
        ordered = [mark for mark in marks if mark.side == side]
        places = {id(mark): _knee(mark, frame, reach) for mark in ordered}
        ordered.sort(key=lambda mark: places[id(mark)][1])
        heights = [_height(mark) for mark in ordered]
        pitch = max(2 * half / max(len(ordered), 1), 14.0)
        level = frame.origin[1] - pitch * (len(ordered) - 1) / 2
        for mark, height in zip(ordered, heights, strict=True):
            _callout(paper, mark, frame, level, (places[id(mark)], out))
            level += max(pitch, height + 1)


def _height(mark: Callout) -> float:
    """Height that a dimension takes below its line, and its text above it [mm]."""
    under = 5.4 if mark.below else 1.2
    frames = BOX if mark.control else 0.0
    return 5.0 + under + max(frames, 8.6 if mark.datum else 0.0)


def _knee(mark: Callout, frame: Frame, reach: float) -> Point:
    """Where a leader bends so as to aim at the middle of its circle, outside of the part."""
    at = frame.at(mark.at)
    if mark.centre is None:
        return at
    way = _way(frame.at(mark.centre), at)
    middle = frame.origin
    # Out along the line of aim until the edge of the part is passed.
    far = math.dist(middle, at)
    along = min(max(reach - far, 0.0) + 3.0, AIMED)
    return at[0] + along * way[0], at[1] + along * way[1]


def _callout(
    paper: Paper, mark: Callout, frame: Frame, level: float, ends: tuple[Point, float]
) -> None:
    """Draw one, with the knee of its leader and how far out from the middle it begins."""
    left, (knee, out) = mark.side == "left", ends
    edge = paper.width / 2 + (-out if left else out)
    # Where the words below the line are longer than its column, the leader would cross them.
    column_width = max(COLUMN - INSET, width_of(mark.below) + 2)
    column = (edge + (column_width if left else -column_width), level)
    anchor: Literal["start", "end"] = "start" if left else "end"
    paper.text(mark.text, (edge, level - 1.0), anchor=anchor)
    if mark.below:
        paper.text(mark.below, (edge, level + 3.9), anchor=anchor)
    lower = level + (5.4 if mark.below else 1.2)
    if mark.control is not None:
        start = edge if left else edge - mark.control.width
        control(paper, mark.control, (start, lower))
        lower += BOX
    if mark.datum:
        start = edge + (mark.control.width + 6 if mark.control else 8) if left else edge - 8
        datum(paper, mark.datum, (start, lower - (BOX if mark.control else 0)))
    paper.line((edge, level), column)
    target = frame.at(mark.at)
    if mark.over is not None:
        join = _over(paper, target, frame.at(mark.over))
        paper.line(column, join)
        return
    if knee != target:
        paper.line(column, knee)
        paper.line(knee, target)
        paper.arrow(target, _way(knee, target))
        return
    paper.line(column, target)
    paper.arrow(target, _way(column, target))


def _over(paper: Paper, near: Point, far: Point) -> Point:
    """Draw arrows from outside onto two edges; give the end where the leader joins."""
    ends = []
    for edge, other in ((near, far), (far, near)):
        x, y = _way(other, edge)
        ends.append((edge[0] + 6 * x, edge[1] + 6 * y))
        paper.line(ends[-1], edge)
        paper.arrow(edge, (-x, -y))
    return ends[0]


def control(paper: Paper, mark: Control, at: Point) -> None:
    """Draw the frame of a tolerance, its upper left corner at a point."""
    left, top = at
    paper.box((left, top, mark.width, BOX), FINE)
    _symbol(paper, mark.symbol, (left + BOX / 2 + 0.5, top + BOX / 2))
    left += BOX + 1
    base = top + BOX - 1.4
    for entry in (mark.within, mark.datum):
        if entry:
            paper.line((left, top), (left, top + BOX))
            paper.text(entry, (left + 1.2, base))
            left += width_of(entry) + 2.4


def datum(paper: Paper, letter: str, at: Point) -> None:
    """Draw a datum: its letter in a box on a full triangle."""
    x, y = at
    paper.chain([(x - 1.6, y), (x + 1.6, y), (x, y + 2.4)], SOLID, closed=True)
    paper.line((x, y + 2.4), (x, y + 3.4))
    paper.box((x - BOX / 2, y + 3.4, BOX, BOX), FINE)
    paper.text(letter, (x, y + 3.4 + BOX - 1.4), anchor="middle")


def _symbol(paper: Paper, symbol: Symbol, middle: Point) -> None:
    x, y = middle
    pen = Pen(0.3)
    match symbol:
        case "flatness":
            corners = [(x - 2, y + 1.1), (x + 1, y + 1.1), (x + 2, y - 1.1), (x - 1, y - 1.1)]
            paper.chain(corners, pen, closed=True)
        case "position":
            paper.circle(middle, 1.3, pen)
            paper.line((x - 2, y), (x + 2, y), pen)
            paper.line((x, y - 2), (x, y + 2), pen)
        case "run-out":
            paper.line((x - 1.5, y + 1.6), (x + 1.2, y - 1.3), pen)
            paper.arrow((x + 1.5, y - 1.6), _way((x - 1.5, y + 1.6), (x + 1.5, y - 1.6)))
        case "squareness":
            paper.line((x - 1.8, y + 1.4), (x + 1.8, y + 1.4), pen)
            paper.line((x, y + 1.4), (x, y - 1.6), pen)
        case "parallelism":
            for side in (-0.8, 0.8):
                paper.line((x - 0.8 + side, y + 1.6), (x + 0.8 + side, y - 1.6), pen)


def across(paper: Paper, text: str, ends: tuple[float, float], level: float, top: float) -> None:
    """Dimension a width below a part: from edge to edge, with lines down from `top`."""
    for sign, edge in zip((-1, 1), ends, strict=True):
        paper.line((edge, top), (edge, level + 1.5))
        paper.arrow((edge, level), (sign, 0.0))
    paper.line((ends[0], level), (ends[1], level))
    paper.text(text, ((ends[0] + ends[1]) / 2, level - 1.1), anchor="middle")


def thickness(paper: Paper, text: str, at: float, levels: tuple[float, float]) -> None:
    """Dimension a thickness beside an edge view, its arrows from outside."""
    low, high = min(levels), max(levels)
    for level, sign in ((low, 1), (high, -1)):
        paper.line((at - 3, level), (at + 2, level))
        paper.arrow((at, level), (0.0, sign))
        paper.line((at, level), (at, level - 6 * sign))
    paper.text(text, (at + 2.5, (low + high) / 2 + 1.2))


def labels(paper: Paper, marks: Sequence[Label], frame: Frame, top: float) -> None:
    """Write dimensions above a turned part, from left to right a row lower each."""
    for row, mark in enumerate(sorted(marks, key=lambda mark: mark.along)):
        tip = frame.at((mark.along, mark.out))
        level = top + PITCH * row
        long = width_of(mark.text) + (mark.control.width + 1 if mark.control else 0.0)
        start = min(tip[0] + 1.5, paper.width - INSET - long)
        end = start + width_of(mark.text)
        paper.text(mark.text, (start, level - 1.0))
        paper.line((min(start, tip[0]), level), (max(end, tip[0]), level))
        paper.line((tip[0], level), tip)
        paper.arrow(tip, (0.0, 1.0))
        if mark.control is not None:
            control(paper, mark.control, (end + 1, level - BOX + 0.8))


def running(
    paper: Paper,
    steps: Sequence[tuple[float, str]],
    frame: Frame,
    level: float,
    top: float,
    *,
    zero: float,
) -> None:
    """Give lengths along an axis from `zero`, each written at the end of its own line."""
    spots = [frame.at((along, 0.0))[0] for along, _ in steps]
    moved_to = spread(spots, APART)
    origin = frame.at((zero, 0.0))[0]
    paper.line((spots[0], level), (spots[-1], level))
    paper.circle((origin, level), 0.9)
    for spot, moved, (_, text) in zip(spots, moved_to, steps, strict=True):
        paper.line((spot, top), (spot, level + 2))
        paper.chain([(spot, level + 2), (moved, level + 5)])
        if abs(spot - origin) > 1e-6:
            paper.arrow((spot, level), (math.copysign(1.0, spot - origin), 0.0))
        paper.text(text, (moved + 1.2, level + 6 + width_of(text)), upright=True)


def spread(
    spots: Sequence[float], least: float, ends: Point = (-math.inf, math.inf)
) -> list[float]:
    """Move places apart where they are nearer than `least`, as little as needed, between ends."""
    found = list(spots)
    for _ in range(200):
        for place in range(len(found) - 1):
            short = least - (found[place + 1] - found[place])
            if short > 1e-6:
                found[place] -= short / 2
                found[place + 1] += short / 2
        if found:
            shift = max(ends[0] - found[0], 0.0) - max(found[-1] - ends[1], 0.0)
            found = [spot + shift for spot in found] if shift else found
    return found


def _way(start: Point, end: Point) -> Point:
    length = math.dist(start, end) or 1.0
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def upright_room(texts: Sequence[str]) -> float:
    """Height that running lengths take below their line [mm]."""
    return 7 + max(width_of(text, LETTERS) for text in texts)
