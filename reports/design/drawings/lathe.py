"""A turned part on a sheet: above the axis cut open, below it from outside; and its dimensions."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from reports.design.drawings.dimensions import (
    PITCH,
    Label,
    datum,
    labels,
    running,
    upright_room,
)
from reports.design.drawings.frames import (
    Block,
    finish,
    free,
    scale_for,
    scale_text,
    sheet,
)
from reports.design.drawings.paper import AXIS, COVERED, EDGE, Bend, Frame, Paper, Path
from reports.design.outlines import Point
from reports.design.turned import Keyway, Turned

LEFT, RIGHT = 14.0, 44.0
"""Room at both ends of a part [mm on paper]: texts reach beyond it."""


@dataclass(frozen=True)
class TurnedDrawing:
    """A turned part with all text of its drawing."""

    part: Turned
    marks: Sequence[Label]
    steps: Sequence[tuple[float, str]]
    """Running lengths along the axis [mm]."""
    notes: Sequence[str]
    block: Block
    description: str
    datums: Sequence[tuple[str, float, float]] = ()
    """Letter, and the point of the edge below the axis that is meant: along it and off it [mm]."""
    threads: Sequence[tuple[float, float, float]] = ()
    """Diameter of the core, start and end of each thread [mm]."""
    zero: float = 0.0
    """Where running lengths begin, one of their places."""
    slots: Sequence[Keyway] = ()
    """Keyways, seen from above."""

    @property
    def scale(self) -> float:
        """Largest usual scale at which it fits the sheet."""
        size = self.block.format
        long = scale_for(self.part.length, size.width - LEFT - RIGHT)
        return min(long, scale_for(self.part.diameter, self.tallest))

    @property
    def above(self) -> float:
        """Height that the dimensions above it take [mm on paper]."""
        return PITCH * len(self.marks) + 9

    @property
    def below(self) -> float:
        """Height that the lengths below it take [mm on paper]."""
        return 8 + upright_room([text for _, text in self.steps])

    @property
    def tallest(self) -> float:
        """Height that is left for it [mm on paper]."""
        return free(self.block.format, self.notes) - 11 - self.above - self.below


def turned_sheet(drawing: TurnedDrawing) -> Paper:
    """Draw a turned part on a sheet, true to scale when printed at 100 %."""
    part, scale = drawing.part, drawing.scale
    paper = sheet(drawing.description, drawing.block.format)
    low, high = part.ends
    half = scale * part.diameter / 2
    top = 6 + min(max(drawing.tallest - 2 * half, 0.0) / 2, 20.0)
    spare = paper.width - LEFT - RIGHT - scale * part.length
    frame = Frame((LEFT + spare / 4 - scale * low, top + drawing.above + half), scale)
    half_section(paper, part, frame)
    paper.line(frame.at((low - 4 / scale, 0)), frame.at((high + 4 / scale, 0)), AXIS)
    for core, start, end in drawing.threads:
        for side in (1, -1):
            paper.line(frame.at((start, side * core / 2)), frame.at((end, side * core / 2)))
    for slot in drawing.slots:
        paper.add(_rounded(slot, frame))
    labels(paper, drawing.marks, frame, top + 4)
    level = frame.origin[1] + half + 8
    for letter, along, off in drawing.datums:
        datum(paper, letter, frame.at((along, -off)))
        level = max(level, frame.at((along, -off))[1] + 11)
    running(paper, drawing.steps, frame, level, frame.origin[1] + 2, zero=drawing.zero)
    block = replace(drawing.block, scale=scale_text(scale))
    finish(paper, block, drawing.notes)
    return paper


def _rounded(slot: Keyway, frame: Frame) -> Path:
    """Outline of a keyway with round ends on the axis."""
    half = slot.width / 2
    low, high = slot.start + half, slot.end - half
    corners = ((low, half), (high, half), (high, -half), (low, -half))
    upper_left, upper_right, lower_right, lower_left = (frame.at(point) for point in corners)
    radius = frame.scale * half
    return Path(
        upper_left,
        (
            upper_right,
            Bend(radius, large=False, clockwise=True, end=lower_right),
            lower_left,
            Bend(radius, large=False, clockwise=True, end=upper_left),
        ),
        closed=True,
        pen=EDGE,
    )


def half_section(paper: Paper, part: Turned, frame: Frame) -> None:
    """Draw the upper half cut open, where there is a hole to see, and the lower from outside."""
    profile = [(z, r) for r, z in part.profile]
    solid = part.bore == 0
    upper = [frame.at(point) for point in profile]
    paper.chain(upper, EDGE, closed=True)
    if not solid:
        paper.hatch([upper])
    low, high = part.ends
    outside = outer_edge(part)
    lower = [frame.at((low, 0)), *(frame.at((z, -r)) for r, z in outside), frame.at((high, 0))]
    paper.chain(lower, EDGE, closed=solid)
    for (r1, z1), (r2, z2) in pairwise(outside):
        # Every corner of the outside is seen as a line down to it from the axis.
        if r1 != r2 and z1 == z2:
            paper.line(frame.at((z1, 0)), frame.at((z1, -max(r1, r2))), EDGE)
        elif r1 != r2:
            for r, z in ((r1, z1), (r2, z2)):
                paper.line(frame.at((z, 0)), frame.at((z, -r)), EDGE)
    for r, z in part.profile if not solid else ():
        # Behind the cut, the edges of the hole.
        if (r, z) not in outside:
            paper.line(frame.at((z, 0)), frame.at((z, r)), EDGE)
    if solid:
        for r, z in outside[1:-1]:
            paper.line(frame.at((z, 0)), frame.at((z, r)), EDGE)
    if (bores := part.bores) is not None:
        for off in (-0.5, 0.5):
            level = bores.circle / 2 + off * bores.diameter
            paper.line(frame.at((bores.low, level)), frame.at((bores.high, level)), COVERED)
        middle = bores.circle / 2
        ends = (bores.low - 2 / frame.scale, middle), (bores.high + 2 / frame.scale, middle)
        paper.line(frame.at(ends[0]), frame.at(ends[1]), AXIS)


def outer_edge(part: Turned) -> list[Point]:
    """Half outline from outside, from one end to the other."""
    low, high = part.ends
    profile = list(part.profile)
    start = max(
        (place for place, (_, z) in enumerate(profile) if z == low),
        key=lambda place: profile[place][0],
    )
    ordered = profile[start:] + profile[:start]
    end = max(
        (place for place, (_, z) in enumerate(ordered) if z == high),
        key=lambda place: ordered[place][0],
    )
    return ordered[: end + 1]
