"""A flat part on a sheet: its face, its edge below, dimensions on both sides; or a piece of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reports.design.drawings.dimensions import COLUMN, Callout, across, callouts, thickness
from reports.design.drawings.frames import (
    Block,
    finish,
    free,
    scale_for,
    scale_text,
    sheet,
)
from reports.design.drawings.paper import AXIS, EDGE, FINE, SOFT, Format, Frame, Paper, Pen
from reports.design.outlines import Arc, Circle, Flat, Outline, Part, Point

TOP, BELOW, BETWEEN = 6.0, 30.0, 5.0
"""Room above a part, that for its edge below it, and between pieces [mm]."""
SAMPLES = 24


@dataclass(frozen=True)
class FlatDrawing:
    """A flat part with all text of its drawing."""

    part: Flat
    thickness: float
    """[mm]"""
    thick: str
    """Dimension of it."""
    across: str
    """Dimension of the overall width."""
    across_half: float
    """Half of that width [mm]."""
    marks: Sequence[Callout]
    notes: Sequence[str]
    block: Block
    description: str
    axes: Sequence[tuple[Point, Point]] = ()
    """Ends of lines to draw as axes, in the part's millimetres."""

    @property
    def scale(self) -> float:
        """Largest usual scale at which it fits the sheet."""
        size, (low, high) = self.block.format, _drawn_along(self.part)
        tall = free(size, self.notes) - TOP - BELOW
        across = scale_for(2 * reach_of(self.part), _widest(size))
        return min(across, scale_for(high - low + self.thickness, tall))


@dataclass(frozen=True)
class Piece:
    """A square piece of a part, drawn larger."""

    letter: str
    centre: Point
    radius: float
    """Half its width [mm]."""
    half: float
    """Half the width that it may have on paper [mm]."""
    marks: Sequence[Callout]


@dataclass(frozen=True)
class DetailDrawing:
    """Pieces of a flat part on a sheet of their own, each larger than the one before."""

    part: Flat
    pieces: Sequence[Piece]
    notes: Sequence[str]
    block: Block
    description: str
    axes: Sequence[tuple[Point, Point]]


def flat_sheet(drawing: FlatDrawing) -> Paper:
    """Draw a flat part on a sheet, true to scale when printed at 100 %."""
    part, scale = drawing.part, drawing.scale
    paper = sheet(drawing.description, drawing.block.format)
    low, high = _drawn_along(part)
    frame = Frame((paper.width / 2, TOP + scale * high), scale)
    paper.face(part, frame)
    if _has_tips(part):
        around = scale * part.width / 2
        if around < _widest(paper.format) / 2 + 1:
            paper.circle(frame.origin, around, Pen(colour=SOFT, dashes=(3.0, 1.5)))
    for start, end in drawing.axes:
        paper.line(frame.at(start), frame.at(end), AXIS)
    radius = scale * reach_of(part)
    callouts(paper, drawing.marks, frame, scale * (high - low) / 2, radius)
    below = frame.origin[1] - scale * low + 8
    _edge(paper, drawing, frame, below)
    block = replace(drawing.block, scale=scale_text(scale))
    finish(paper, block, drawing.notes)
    return paper


def detail_sheet(drawing: DetailDrawing) -> Paper:
    """Draw pieces of a flat part on a sheet of their own."""
    size = drawing.block.format
    paper, top = sheet(drawing.description, size), TOP
    frames: list[Frame] = []
    room = free(size, drawing.notes) - TOP - 3 - BETWEEN * (len(drawing.pieces) - 1)
    grown = max(room / sum(2 * piece.half for piece in drawing.pieces), 1.0)
    for piece in drawing.pieces:
        scale = scale_for(piece.radius, min(grown * piece.half, _widest(size) / 2))
        (x, y), half = piece.centre, scale * piece.radius
        middle = (paper.width / 2, top + half)
        frame = Frame((middle[0] - scale * x, middle[1] + scale * y), scale)
        window = (middle[0] - half, middle[1] - half, 2 * half, 2 * half)
        paper.window = window
        paper.face(drawing.part, frame)
        for start, end in drawing.axes:
            paper.line(frame.at(start), frame.at(end), AXIS)
        paper.window = None
        paper.box(window, FINE)
        told = f"{piece.letter} ({scale_text(scale)})"
        paper.text(told, (window[0] + 1.5, window[1] + 4.5))
        for wider in frames[-1:]:
            _mark(paper, wider, piece)
        shifted = [
            replace(mark, at=_off(mark.at, (x, y)), over=mark.over and _off(mark.over, (x, y)))
            for mark in piece.marks
        ]
        callouts(paper, shifted, Frame(middle, scale), half, half)
        frames.append(frame)
        top += 2 * half + BETWEEN
    widest = scale_text(frames[0].scale)
    finish(paper, replace(drawing.block, scale=widest), drawing.notes)
    return paper


def _widest(size: Format) -> float:
    """Width that a part may have on paper, between its dimensions [mm]."""
    return size.width - 2 * COLUMN


def _mark(paper: Paper, frame: Frame, piece: Piece) -> None:
    """Mark a piece where it is in a wider view."""
    x, y = frame.at(piece.centre)
    size = frame.scale * piece.radius
    paper.box((x - size, y - size, 2 * size, 2 * size), Pen(colour=SOFT))
    paper.text(piece.letter, (x + size + 1, y + size + 1), colour=SOFT)


def reach_of(part: Flat) -> float:
    """Greatest distance from the middle to the edge of a part, sideways or down [mm]."""
    return max(abs(end) for axis in (0, 1) for end in reach_along(part, axis))


def reach_along(part: Flat, axis: int) -> tuple[float, float]:
    """Give the ends of a part along x (0) or y (1) [mm]."""
    if isinstance(part.outside, Circle):
        return -part.outside.radius, part.outside.radius
    found = []
    for edge in part.outside.edges:
        if isinstance(edge, Arc):
            pieces = (edge.sweep * place / SAMPLES for place in range(SAMPLES + 1))
            found += [
                Arc(edge.centre, edge.radius, edge.start_angle, piece).end[axis] for piece in pieces
            ]
        found.append(edge.end[axis])
    return min(found), max(found)


def _has_tips(part: Flat) -> bool:
    """Whether the circle around the tips of its spokes is drawn."""
    return isinstance(part, Part) and isinstance(part.outside, Outline)


def _drawn_along(part: Flat) -> tuple[float, float]:
    """Give the ends along y of all that is drawn of a face [mm]: no spoke may point down."""
    low, high = reach_along(part, 1)
    return (min(low, -part.width / 2) if _has_tips(part) else low), high


def _edge(paper: Paper, drawing: FlatDrawing, frame: Frame, top: float) -> None:
    """Draw the edge below the face, with width and thickness."""
    low, high = reach_along(drawing.part, 0)
    left, right = frame.at((low, 0))[0], frame.at((high, 0))[0]
    height = max(drawing.scale * drawing.thickness, 0.6)
    paper.box((left, top, right - left, height), EDGE)
    paper.line((frame.origin[0], top - 2), (frame.origin[0], top + height + 2), AXIS)
    thickness(paper, drawing.thick, right + 5, (top, top + height))
    half = drawing.scale * drawing.across_half
    ends = frame.origin[0] - half, frame.origin[0] + half
    level = top + height + 8
    across(paper, drawing.across, ends, level, top + height + 1)


def _off(point: Point, centre: Point) -> Point:
    return point[0] - centre[0], point[1] - centre[1]
