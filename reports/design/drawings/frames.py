"""The sheet around a drawing: title block of ISO 7200, symbol of projection, notes, scale bar."""

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reports.design.drawings.paper import (
    A4,
    AXIS,
    EDGE,
    INK,
    LETTERS,
    NARROW,
    SOFT,
    TITLE,
    WIDE,
    Format,
    Paper,
    Pen,
    fitting,
    width_of,
)

FRAME, INSET = 0.7, 2.0
"""Width of the line around a sheet, ISO 5457, and what stays free inside it [mm]."""
SCALES = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
"""Usual scales, ISO 5455."""
ROW, SMALL = 9.6, 10.6
"""Heights of a row of the block, and of the lines beneath it [mm]."""
BLOCK, BLOCK_WIDTH = 3 * ROW + SMALL, 180.0
"""Height of the whole title block, and its width, ISO 7200 [mm]."""
BAR = 50.0
"""Length that tells whether the print is true to scale [mm]."""
STATE = "trial, not released"
LINE = 5.0
"""Distance between lines of notes [mm]."""


@dataclass(frozen=True)
class Block:
    """What the title block says."""

    title: str
    number: str
    """Of the design and of the sheet."""
    sheet: str
    """Its place in the set."""
    scale: str
    pieces: str
    material: str
    tolerances: str
    study: str
    provenance: Mapping[str, str]
    format: Format = A4

    @property
    def entries(self) -> dict[str, str]:
        """All of it by name, as a DXF's properties say it."""
        return {
            "Part": self.title,
            "Number": self.number,
            "Sheet": self.sheet,
            "Pieces": self.pieces,
            "Material": self.material,
            "Tolerances": self.tolerances,
            "State": STATE,
            "Study": self.study,
            **self.provenance,
        }


def scale_for(size: float, room: float) -> float:
    """Largest usual scale at which a size has room; both in mm."""
    return next((scale for scale in SCALES if scale * size <= room + 1e-9), SCALES[-1])


def scale_text(scale: float) -> str:
    """Write a scale as a drawing does.

    Examples
    --------
    >>> scale_text(0.5), scale_text(2.0)
    ('1:2', '2:1')
    """
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


def sheet(description: str, size: Format = A4) -> Paper:
    """Take an empty sheet."""
    return Paper(size.width, size.height, description, format=size)


def free(size: Format, notes: Sequence[str] = ()) -> float:
    """Level on a sheet with these notes above which the drawing has room [mm]."""
    above_notes = bar_level(size) - 3 - LINE * len(_noted(size, notes))
    return min(above_notes, size.height - BLOCK - 3)


def bar_level(size: Format) -> float:
    """Level of the scale bar: above the title block, or at its left where there is room."""
    return size.height - (4 if _has_room_beside(size) else BLOCK + 6)


def finish(paper: Paper, block: Block, notes: Sequence[str] = ()) -> None:
    """Write notes, scale bar, title block and frame on a sheet."""
    size = paper.format
    lines, level = _noted(size, notes), bar_level(size)
    top = level - 3 - LINE * len(lines)
    for place, line in enumerate(lines):
        paper.text(line, (INSET, top + LINE * place))
    _bar(paper, level)
    _block(paper, block, paper.width - BLOCK_WIDTH, paper.height - BLOCK)
    half = FRAME / 2
    paper.box((half, half, paper.width - FRAME, paper.height - FRAME), Pen(FRAME))


def _has_room_beside(size: Format) -> bool:
    return size.width > 2 * BLOCK_WIDTH


def _noted(size: Format, notes: Sequence[str]) -> list[str]:
    """Break notes into lines that fit the sheet."""
    room = size.width - 2 * INSET - (BLOCK_WIDTH if _has_room_beside(size) else 0.0)
    letters = int(room / width_of("x"))
    return [line for note in notes for line in textwrap.wrap(note, letters)]


def _bar(paper: Paper, level: float) -> None:
    paper.line((INSET, level), (INSET + BAR, level), Pen(WIDE))
    for end in (INSET, INSET + BAR):
        paper.line((end, level - 1.2), (end, level + 1.2), Pen(WIDE))
    told = f"{BAR:g} mm on paper if printed at 100 %. Do not scale this drawing."
    paper.text(told, (INSET + BAR + 3.5, level + 1.2), colour=SOFT)


def _block(paper: Paper, block: Block, start: float, top: float) -> None:
    rows = (
        (
            ("Title", block.title, 60.0),
            ("Number", block.number, 34.0),
            (f"Sheet, {paper.format.name}", block.sheet, 26.0),
            ("Rev.", "", 12.0),
            ("State", STATE, 0.0),
        ),
        (
            ("Material", block.material, 95.0),
            ("Pieces", block.pieces, 14.0),
            ("Scale", block.scale, 13.0),
            ("", "", 19.0),
            ("Tolerances, mm", block.tolerances, 0.0),
        ),
        (
            ("Study", block.study, 95.0),
            ("Drawn", "swirlstack", 23.0),
            ("Checked", "", 20.0),
            ("Released", "", 21.0),
            ("Date", "", 0.0),
        ),
    )
    for row, cells in enumerate(rows):
        left, upper = start, top + ROW * row
        for name, entry, given in cells:
            width = given or paper.width - left
            paper.box((left, upper, width, ROW), Pen(NARROW))
            if name:
                paper.text(name, (left + 1, upper + 3.8), colour=SOFT)
                size = TITLE if name == "Title" and width_of(entry, TITLE) < width else LETTERS
                paper.text(fitting(entry, width - 1.6, size), (left + 1, upper + 8.3), size=size)
            else:
                first_angle(paper, left + width / 2, upper + ROW / 2)
            left += width
    for height in (3 * ROW, BLOCK):
        paper.box((start, top, BLOCK_WIDTH, height), Pen(WIDE))
    told = ", ".join(f"{name} {entry}" for name, entry in block.provenance.items())
    letters = int((BLOCK_WIDTH - 2) / width_of("x"))
    for place, line in enumerate(textwrap.wrap(told, letters)[:2], 1):
        paper.text(line, (start + 1, top + 3 * ROW + 4.6 * place), colour=SOFT)


def first_angle(paper: Paper, x: float, y: float) -> None:
    """Draw the symbol of first-angle projection, ISO 5456-2: the cone left of its end view."""
    cone = [(x - 7, y - 1.5), (x - 1, y - 3), (x - 1, y + 3), (x - 7, y + 1.5)]
    paper.chain(cone, Pen(0.35, INK), closed=True)
    for radius in (1.5, 3.0):
        paper.circle((x + 4, y), radius, Pen(0.35, INK))
    paper.line((x - 8, y), (x, y), AXIS)
    paper.line((x + 0.3, y), (x + 7.7, y), AXIS)
    paper.line((x + 4, y - 3.7), (x + 4, y + 3.7), AXIS)


def balloon(paper: Paper, mark: str, at: tuple[float, float], tip: tuple[float, float]) -> None:
    """Write the item of a part in a circle, with a line that ends in a dot on the part."""
    radius = 3.6
    paper.line(at, tip)
    paper.circle(tip, 0.5, Pen(0.0, fill=INK))
    paper.circle(at, radius, Pen(EDGE.width / 2, fill="#ffffff"))
    paper.text(mark, (at[0], at[1] + 1.25), anchor="middle")
