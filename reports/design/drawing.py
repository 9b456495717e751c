"""A part as a dimensioned drawing (SVG) and as outlines to cut (DXF). The only home of ezdxf."""

import io
import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal
from xml.etree import ElementTree as ET

from ezdxf import units
from ezdxf.filemanagement import new

from reports.design.outlines import Arc, Circle, Flat, Line, Outline, Point

SHEET_WIDTH = 182.0
"""Width of A4 without margins [mm]."""
WIDEST = 122.0
"""Width between the columns of dimensions [mm on paper]."""
SCALES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05)
DXF_VERSION, DXF_VERSIONS = "R2010", ("R12", "R2010")
"""Version of the DXF that is written, and those that cutting services ask for."""
OUTSIDE, INSIDE = "OUTSIDE", "INSIDE"
"""Layers of the DXF. INSIDE is cut first, while the sheet still holds the part."""

_TEXT, _SMALL = 3.4, 2.7
"""Heights of lettering [mm on paper]."""
_INK, _SOFT = "#1c2430", "#56616e"
_THICK, _THIN = 0.5, 0.18
_BAR = 50.0
_WINDOW = 36.0
"""Radius of a detail [mm on paper]."""
_CELL = 9.0
_LETTERS = 86
"""Letters in a line of notes."""


@dataclass(frozen=True)
class Callout:
    """A dimension beside the part, with a leader to what it measures."""

    text: str
    below: str
    """Second line, '' for none."""
    at: Point
    """What it points to, in the part's millimetres."""
    side: Literal["left", "right"]
    over: Point | None = None
    """Opposite edge, for a dimension from edge to edge."""


@dataclass(frozen=True)
class Detail:
    """A round piece of a part, drawn larger."""

    centre: Point
    radius: float
    """[mm]"""
    callouts: Sequence[Callout]


@dataclass(frozen=True)
class Drawing:
    """A part with all text of its drawing."""

    part: Flat
    across: str
    """Dimension of the overall width."""
    callouts: Sequence[Callout]
    notes: Sequence[str]
    block: Sequence[Sequence[tuple[str, str]]]
    """Title block: name and entry of each cell, row by row."""
    description: str
    axes: Sequence[tuple[Point, Point]] = ()
    """Ends of lines to draw as axes, in the part's millimetres."""
    detail: Detail | None = None


def scale_of(part: Flat) -> float:
    """Largest usual scale at which a part fits the sheet."""
    return next((scale for scale in SCALES if scale * part.width <= WIDEST), SCALES[-1])


def scale_text(scale: float) -> str:
    """Write a scale as a drawing does.

    Examples
    --------
    >>> scale_text(0.5), scale_text(2.0)
    ('1:2', '2:1')
    """
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


def svg_of(drawing: Drawing, *, inline: bool = False) -> str:
    """Write a drawing as SVG, true to scale when printed at 100 %; `inline` for use in a page."""
    scale = scale_of(drawing.part)
    half = scale * drawing.part.width / 2
    middle = (SHEET_WIDTH / 2, half + 4)
    lines = [line for note in drawing.notes for line in textwrap.wrap(note, _LETTERS)]
    below = middle[1] + half + 13
    window = 0.0 if drawing.detail is None else _WINDOW
    notes_top = below + 2 * window + (12 if window else 6)
    bar_top = notes_top + 1.5 * _TEXT * len(lines) + 3
    height = bar_top + 7 + _CELL * len(drawing.block)
    svg = ET.Element(
        "svg",
        {
            **({} if inline else {"xmlns": "http://www.w3.org/2000/svg"}),
            "viewBox": f"0 0 {SHEET_WIDTH:g} {height:.2f}",
            "width": f"{SHEET_WIDTH:g}mm",
            "height": f"{height:.2f}mm",
            "role": "img",
            "aria-label": drawing.description,
            "font-family": "ui-sans-serif, system-ui, Helvetica, Arial, sans-serif",
            "fill": "none",
            "stroke-linecap": "round",
        },
    )
    _add(svg, "title").text = drawing.description
    _draw_part(svg, drawing.part, middle, scale)
    _draw_axes(svg, drawing, middle, scale)
    _draw_across(svg, drawing.across, middle, half)
    for side in ("left", "right"):
        _draw_callouts(svg, [c for c in drawing.callouts if c.side == side], middle, half, scale)
    if drawing.detail is not None:
        _draw_detail(svg, drawing, drawing.detail, middle, below + _WINDOW + 4)
    for place, line in enumerate(lines):
        _text(svg, line, (0.5, notes_top + 1.5 * _TEXT * place))
    _draw_bar(svg, bar_top)
    _draw_block(svg, drawing.block, bar_top + 6)
    return ET.tostring(svg, encoding="unicode") + ("" if inline else "\n")


def dxf_of(part: Flat, about: Mapping[str, str], *, version: str = DXF_VERSION) -> str:
    """Write outlines as DXF in millimetres: circles, and closed polylines with arcs.

    `version` is one of `DXF_VERSIONS`; the oldest has the older kind of polyline.
    """
    document = new(version, units=units.MM)
    for layer, colour in ((OUTSIDE, 7), (INSIDE, 1)):
        document.layers.add(layer, color=colour)
    for name, text in about.items():
        document.header.custom_vars.append(name, " ".join(text.split()))
    space = document.modelspace()
    add_chain = space.add_polyline2d if version == "R12" else space.add_lwpolyline
    for layer, edges in ((OUTSIDE, (part.outside,)), (INSIDE, part.inside)):
        for edge in edges:
            if isinstance(edge, Circle):
                space.add_circle(edge.centre, edge.radius, dxfattribs={"layer": layer})
            else:
                add_chain(
                    [(*each.start, _bulge(each)) for each in edge.edges],
                    format="xyb",
                    close=True,
                    dxfattribs={"layer": layer},
                )
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _bulge(edge: Line | Arc) -> float:
    return math.tan(edge.sweep / 4) if isinstance(edge, Arc) else 0.0


def _draw_part(parent: ET.Element, part: Flat, middle: Point, scale: float) -> None:
    for edge in (part.outside, *part.inside):
        if isinstance(edge, Circle):
            x, y = _place(edge.centre, middle, scale)
            size = {"cx": x, "cy": y, "r": scale * edge.radius}
            _add(parent, "circle", **size, stroke=_INK, stroke_width=_THICK)
        else:
            path = _path(edge, middle, scale)
            _add(parent, "path", d=path, stroke=_INK, stroke_width=_THICK)
    if isinstance(part.outside, Outline):
        around = {"cx": middle[0], "cy": middle[1], "r": scale * part.width / 2}
        _add(parent, "circle", **around, stroke=_SOFT, stroke_width=_THIN, stroke_dasharray="3 1.5")


def _draw_axes(parent: ET.Element, drawing: Drawing, middle: Point, scale: float) -> None:
    for axis in drawing.axes:
        start, end = (_place(point, middle, scale) for point in axis)
        _line(parent, start, end, dashes="6 1 1 1", colour=_SOFT)


def _draw_detail(
    parent: ET.Element, drawing: Drawing, detail: Detail, middle: Point, level: float
) -> None:
    """Draw a piece of the part larger, below the part, and mark it there."""
    scale = scale_of(drawing.part)
    larger = next(s for s in (*SCALES, 0.0) if s * detail.radius <= _WINDOW)
    around, (x, y) = (SHEET_WIDTH / 2, level), detail.centre
    mark_x, mark_y = _place(detail.centre, middle, scale)
    size = 2 * scale * detail.radius
    corner = {"x": mark_x - size / 2, "y": mark_y - size / 2}
    _add(parent, "rect", **corner, width=size, height=size, stroke=_SOFT, stroke_width=_THIN)
    _text(parent, "A", (mark_x + size / 2 + 1, mark_y + size / 2 + 1), colour=_SOFT)
    # A drawing inside the drawing shows nothing beyond its own edge.
    left, top, width = around[0] - _WINDOW, level - _WINDOW, 2 * _WINDOW
    frame = {"x": left, "y": top, "width": width, "height": width}
    inside = _add(parent, "svg", **frame, viewBox=f"{left:g} {top:g} {width:g} {width:g}")
    origin = (around[0] - larger * x, around[1] + larger * y)
    _draw_part(inside, drawing.part, origin, larger)
    _draw_axes(inside, drawing, origin, larger)
    _add(parent, "rect", **frame, stroke=_SOFT, stroke_width=_THIN)
    _text(parent, f"A ({scale_text(larger)})", (left + 1.5, top + 4.5), colour=_SOFT)
    moved = [replace(c, at=(c.at[0] - x, c.at[1] - y)) for c in detail.callouts]
    for side in ("left", "right"):
        _draw_callouts(parent, [c for c in moved if c.side == side], around, _WINDOW, larger)


def _path(outline: Outline, middle: Point, scale: float) -> str:
    steps = [f"M{_pair(_place(outline.edges[0].start, middle, scale))}"]
    for edge in outline.edges:
        end = _pair(_place(edge.end, middle, scale))
        if isinstance(edge, Line):
            steps.append(f"L{end}")
        else:
            radius, large = scale * edge.radius, int(abs(edge.sweep) > math.pi)
            # Upward is negative on the sheet, so a counterclockwise sweep has flag 0.
            steps.append(f"A{radius:.4f} {radius:.4f} 0 {large} {int(edge.sweep < 0)} {end}")
    return " ".join([*steps, "Z"])


def _draw_across(parent: ET.Element, text: str, middle: Point, half: float) -> None:
    level = middle[1] + half + 11
    for sign in (-1, 1):
        edge = middle[0] + sign * half
        _line(parent, (edge, middle[1] + 1.5), (edge, level + 2))
        _arrow(parent, (edge, level), (sign, 0.0))
    _line(parent, (middle[0] - half, level), (middle[0] + half, level))
    _text(parent, text, (middle[0], level - 1.2), anchor="middle")


def _draw_callouts(
    parent: ET.Element,
    callouts: Sequence[Callout],
    middle: Point,
    half: float,
    scale: float,
) -> None:
    """Stack dimensions beside the part, in the order of what they point to."""
    ordered = sorted(callouts, key=lambda callout: -callout.at[1])
    pitch = min(2 * half / max(len(ordered), 1), 22.0)
    first = middle[1] - pitch * (len(ordered) - 1) / 2
    for place, callout in enumerate(ordered):
        target = _place(callout.at, middle, scale)
        left = callout.side == "left"
        level = first + pitch * place
        edge = 0.5 if left else SHEET_WIDTH - 0.5
        column = (29.0, level) if left else (SHEET_WIDTH - 29.0, level)
        anchor = "start" if left else "end"
        _text(parent, callout.text, (edge, level - 1.0), anchor=anchor)
        if callout.below:
            _text(parent, callout.below, (edge, level + 3.4), anchor=anchor, size=_SMALL)
        _line(parent, (edge, level), column)
        if callout.over is not None:
            target = _draw_over(parent, target, _place(callout.over, middle, scale))
        _line(parent, column, target)
        if callout.over is None:
            _arrow(parent, target, _way(column, target))


def _draw_over(parent: ET.Element, near: Point, far: Point) -> Point:
    """Draw arrows from outside onto two edges; give the end where the leader joins."""
    ends = []
    for edge, other in ((near, far), (far, near)):
        x, y = _way(other, edge)
        ends.append((edge[0] + 5 * x, edge[1] + 5 * y))
        _line(parent, ends[-1], edge)
        _arrow(parent, edge, (-x, -y))
    return ends[0]


def _way(start: Point, end: Point) -> Point:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def _draw_bar(parent: ET.Element, top: float) -> None:
    _line(parent, (0.5, top), (0.5 + _BAR, top), width=_THICK)
    for end in (0.5, 0.5 + _BAR):
        _line(parent, (end, top - 1.2), (end, top + 1.2), width=_THICK)
    told = f"{_BAR:g} mm on paper if printed at 100 %. Do not scale this drawing."
    _text(parent, told, (_BAR + 4, top + 1), size=_SMALL, colour=_SOFT)


def _draw_block(parent: ET.Element, rows: Sequence[Sequence[tuple[str, str]]], top: float) -> None:
    for row, cells in enumerate(rows):
        longest = [max(len(entry), len(name), 6) + 2 for name, entry in cells]
        left, upper = 0.5, top + _CELL * row
        for (name, entry), letters in zip(cells, longest, strict=True):
            width = (SHEET_WIDTH - 1) * letters / sum(longest)
            box = {"x": left, "y": upper, "width": width, "height": _CELL}
            _add(parent, "rect", **box, stroke=_INK, stroke_width=0.25)
            _text(parent, name, (left + 1.2, upper + 3.2), size=2.3, colour=_SOFT)
            _text(parent, entry, (left + 1.2, upper + 7.3), size=_fitting(entry, width - 2.4))
            left += width


def _fitting(text: str, width: float) -> float:
    """Height of lettering at which a text fits; a letter is at most 0.62 as wide as high."""
    return max(min(3.0, width / (0.62 * max(len(text), 1))), 1.6)


def _arrow(parent: ET.Element, tip: Point, way: Point) -> None:
    (x, y), (dx, dy) = tip, way
    back = (x - 2.4 * dx, y - 2.4 * dy)
    wings = [(back[0] - 0.45 * dy, back[1] + 0.45 * dx), (back[0] + 0.45 * dy, back[1] - 0.45 * dx)]
    points = " ".join(_pair(point) for point in (tip, *wings))
    _add(parent, "polygon", points=points, fill=_INK)


def _line(
    parent: ET.Element,
    start: Point,
    end: Point,
    *,
    width: float = _THIN,
    dashes: str = "",
    colour: str = _INK,
) -> None:
    ends = {"x1": start[0], "y1": start[1], "x2": end[0], "y2": end[1]}
    dashed = {"stroke_dasharray": dashes} if dashes else {}
    _add(parent, "line", **ends, **dashed, stroke=colour, stroke_width=width)


def _text(
    parent: ET.Element,
    text: str,
    at: Point,
    *,
    anchor: str = "start",
    size: float = _TEXT,
    colour: str = _INK,
) -> None:
    place = {"x": at[0], "y": at[1]}
    _add(parent, "text", **place, font_size=size, fill=colour, text_anchor=anchor).text = text


def _add(parent: ET.Element, tag: str, **attributes: Any) -> ET.Element:
    written = {
        name.replace("_", "-"): f"{value:.6g}" if isinstance(value, float) else str(value)
        for name, value in attributes.items()
    }
    return ET.SubElement(parent, tag, written)


def _place(point: Point, middle: Point, scale: float) -> Point:
    return middle[0] + scale * point[0], middle[1] - scale * point[1]


def _pair(point: Iterable[float]) -> str:
    return " ".join(f"{value:.4f}" for value in point)
