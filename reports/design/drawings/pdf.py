"""Sheets of paper as the pages of one PDF, by matplotlib, which the pictures need anyway.

Its own writer embeds the letters that it needs, so that the file prints anywhere as it was drawn. A
browser would make the same of the SVG, but no browser is needed to run this program. The writer is
called directly: figures with thousands of shapes take three times as long.
"""

import io
import math
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.backends import backend_pdf
from matplotlib.colors import to_rgb
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.path import Path as Chain
from matplotlib.transforms import Affine2D, Bbox

from reports.design.drawings.paper import Bend, Box, Paper, Path, Pen, Ring, Shape, Words
from reports.design.outlines import Point

# Their methods have no types.
FILE: Any = backend_pdf.PdfFile
WRITER: Any = backend_pdf.RendererPdf
MM, POINTS = 1 / 25.4, 72 / 25.4
"""Millimetre in inches, and in points."""
FONT = "DejaVu Sans"
STYLE: Any = {"pdf.fonttype": 42, "path.simplify": False}


def pdf_of(papers: Sequence[Paper], title: str) -> bytes:
    """Write every sheet on a page of its own, at its own size."""
    stream = io.BytesIO()
    # No date: the same design gives the same file.
    about = {"Title": title, "Creator": "swirlstack", "CreationDate": None}
    with mpl.rc_context(STYLE):
        file = FILE(stream, metadata=about)
        try:
            for paper in papers:
                _Page(file, paper).draw()
            file.finalize()
        finally:
            file.close()
    return stream.getvalue()


class _Page:
    """A page of the file, on which a sheet is drawn."""

    def __init__(self, file: Any, paper: Paper) -> None:
        width, height = paper.format.page
        file.newPage(width * MM, height * MM)
        left, top = paper.format.corner
        self.file, self.paper = file, paper
        self.writer = WRITER(file, 72, height * MM, width * MM)
        self.place = Affine2D().translate(left, top - height).scale(POINTS, -POINTS)
        self.font = findfont(FontProperties(family=FONT))
        self.pens: dict[tuple[Pen, Box | None], Any] = {}
        self.letters: dict[float, FontProperties] = {}

    def draw(self) -> None:
        """Draw every shape."""
        for shape, window in self.paper.shapes:
            self._shape(shape, window)
        self.writer.finalize()
        self.file.endStream()

    def _shape(self, shape: Shape, window: Box | None) -> None:
        if isinstance(shape, Words):
            self._words(shape, window)
            return
        if isinstance(shape, Ring):
            chain = Chain.circle(shape.centre, shape.radius)
        else:
            chain = chain_of(shape)
        fill = to_rgb(shape.pen.fill) if shape.pen.fill else None
        pen = self._pen(shape.pen, window)
        self.writer.draw_path(pen, chain, self.place, fill)

    def _words(self, words: Words, window: Box | None) -> None:
        if words.size not in self.letters:
            self.letters[words.size] = FontProperties(fname=self.font, size=words.size * POINTS)
        letters = self.letters[words.size]
        x, y = self.place.transform(words.at)
        share = {"start": 0.0, "middle": 0.5, "end": 1.0}[words.anchor]
        if share:
            font = get_font(self.font)
            font.set_size(words.size * POINTS, 72)
            font.set_text(words.text)
            along = share * font.get_width_height()[0] / 64
            x, y = (x, y - along) if words.upright else (x - along, y)
        pen = self._pen(Pen(colour=words.colour), window)
        self.writer.draw_text(pen, x, y, words.text, letters, 90 if words.upright else 0)

    def _pen(self, pen: Pen, window: Box | None) -> Any:
        """Give the state of the writer that draws like a pen; equal ones are made once."""
        if (pen, window) not in self.pens:
            found = self.writer.new_gc()
            found.set_linewidth(POINTS * pen.width)
            found.set_foreground(pen.colour)
            found.set_capstyle("round")
            found.set_joinstyle("miter")
            if pen.dashes:
                found.set_dashes(0.0, [POINTS * dash for dash in pen.dashes])
            if window is not None:
                left, top, width, height = window
                box = Bbox([[left, top], [left + width, top + height]])
                found.set_clip_rectangle(box.transformed(self.place))
            self.pens[pen, window] = found
        return self.pens[pen, window]


def chain_of(path: Path) -> Chain:
    """Write a path as curves of the third order."""
    points, codes = [path.start], [Chain.MOVETO]
    for step in path.steps:
        if isinstance(step, Bend):
            found = _curves(points[-1], step)
            points += found
            codes += [Chain.CURVE4] * len(found)
        else:
            points.append(step)
            codes.append(Chain.LINETO)
    if path.closed:
        points.append(path.start)
        codes.append(Chain.CLOSEPOLY)
    return Chain(points, codes)


def _curves(start: Point, bend: Bend) -> list[Point]:
    """Points of the cubic curves that follow an arc, each over a quarter turn at most."""
    (x1, y1), (x2, y2), radius = start, bend.end, bend.radius
    half = math.dist(start, bend.end) / 2
    off = math.sqrt(max(radius**2 - half**2, 0.0)) / half
    # On paper, the middle of a small arc that turns clockwise lies to the right of its chord.
    side = 1 if bend.large != bend.clockwise else -1
    x, y = (x1 + x2) / 2 - side * off * (y2 - y1) / 2, (y1 + y2) / 2 + side * off * (x2 - x1) / 2
    first, last = math.atan2(y1 - y, x1 - x), math.atan2(y2 - y, x2 - x)
    sweep = (last - first) % math.tau if bend.clockwise else -((first - last) % math.tau)
    n_curves = max(math.ceil(abs(sweep) / (math.pi / 2) - 1e-9), 1)
    each, found = sweep / n_curves, list[Point]()
    pull = 4 / 3 * math.tan(each / 4)
    for place in range(n_curves):
        one, two = first + place * each, first + (place + 1) * each
        (c1, s1), (c2, s2) = ((math.cos(a), math.sin(a)) for a in (one, two))
        found += [
            (x + radius * (c1 - pull * s1), y + radius * (s1 + pull * c1)),
            (x + radius * (c2 + pull * s2), y + radius * (s2 - pull * c2)),
            (x + radius * c2, y + radius * s2),
        ]
    return found
