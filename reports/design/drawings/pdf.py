"""Sheets of paper as the pages of one PDF, by matplotlib, which the pictures need anyway.

Its own writer embeds the letters that it needs, so that the file prints anywhere as it was drawn. A
browser would make the same of the SVG, but no browser is needed to run this program.
"""

import io
import math
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Circle as Round
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Chain
from matplotlib.text import Text
from matplotlib.transforms import Affine2D, Bbox, TransformedBbox

from reports.design.drawings.paper import Bend, Box, Paper, Path, Pen, Ring, Words
from reports.design.outlines import Point

A4 = (210.0, 297.0)
"""[mm]"""
MM, POINTS = 1 / 25.4, 72 / 25.4
"""Millimetre in inches, and in points."""
STYLE: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "pdf.fonttype": 42,
    "text.usetex": False,
    "text.parse_math": False,
    "path.simplify": False,
    "lines.scale_dashes": False,
}
DOTS = 72
"""Of the writer, per inch: its points."""


def pdf_of(papers: Sequence[Paper], title: str) -> bytes:
    """Write every sheet on a page of A4 of its own, at its own size."""
    stream = io.BytesIO()
    # No date: the same design gives the same file.
    about = {"Title": title, "Creator": "swirlstack", "CreationDate": None}
    with mpl.rc_context(STYLE), PdfPages(stream, metadata=about) as pages:
        for paper in papers:
            pages.savefig(_page(paper))
    return stream.getvalue()


def _page(paper: Paper) -> Figure:
    width, height = A4
    figure = Figure(figsize=(width * MM, height * MM), dpi=DOTS)
    left, top = (width - paper.width) / 2, (height - paper.height) / 2
    dots = DOTS * MM
    place = Affine2D().translate(left, top).scale(dots, -dots).translate(0, height * dots)
    for shape, window in paper.shapes:
        artist = _artist(shape)
        figure.add_artist(artist)
        artist.set_transform(place)
        if window is not None:
            artist.set_clip_box(TransformedBbox(_box(window), place))
            artist.set_clip_on(True)
    return figure


def _artist(shape: Path | Ring | Words) -> Any:
    if isinstance(shape, Words):
        return Text(
            *shape.at,
            shape.text,
            fontsize=shape.size * POINTS,
            color=shape.colour,
            ha={"start": "left", "middle": "center", "end": "right"}[shape.anchor],
            va="baseline",
            rotation=90 if shape.upright else 0,
        )
    look = _look(shape.pen)
    if isinstance(shape, Ring):
        return Round(shape.centre, shape.radius, **look)
    return PathPatch(chain_of(shape), **look)


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


def _look(pen: Pen) -> dict[str, Any]:
    dashes = (0.0, tuple(POINTS * dash for dash in pen.dashes)) if pen.dashes else "solid"
    return {
        "linewidth": POINTS * pen.width,
        "edgecolor": pen.colour if pen.width else "none",
        "facecolor": pen.fill or "none",
        "linestyle": dashes,
        "capstyle": "round",
    }


def _box(window: Box) -> Bbox:
    left, top, width, height = window
    return Bbox([[left, top], [left + width, top + height]])


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
