"""Lines and letters on a sheet of paper, in millimetres, y downward; and the sheet as SVG."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any, Literal, TypeAlias
from xml.etree import ElementTree as ET

from reports.design.outlines import Circle, Flat, Line, Outline, Point

INK, SOFT = "#1c2430", "#56616e"
WIDE, NARROW = 0.5, 0.25
"""Widths of lines, ISO 128-2."""
LETTERS, TITLE = 3.5, 5.0
"""Sizes of type; capitals are 0.72 of it, so none is lower than 2.5 mm."""
LETTER_WIDTH = 0.56
"""Of an average letter, over the size of type."""
CENTRE, HIDDEN = (7.0, 1.0, 1.0, 1.0), (2.5, 1.0)
"""Dashes of axes, and of edges that are covered."""

NAMES = "http://www.w3.org/2000/svg"

Box: TypeAlias = tuple[float, float, float, float]
"""Left, top, width, height."""


@dataclass(frozen=True)
class Format:
    """A size of paper, ISO 216, and the frame on it, ISO 5457: 20 mm at the left, 10 elsewhere.

    Letters and lines have the same sizes on both: ISO 3098 and ISO 128-2 have one row for both.
    """

    name: str
    page: Point
    """[mm]"""
    width: float
    """Of the frame [mm]."""
    height: float

    @property
    def corner(self) -> Point:
        """Upper left corner of the frame on the page."""
        return 20.0, (self.page[1] - self.height) / 2


A4 = Format("A4", (210.0, 297.0), 180.0, 252.0)
"""Less high than its page, with room for a heading in the build sheet."""
A3 = Format("A3", (420.0, 297.0), 390.0, 277.0)
FORMATS = {each.name: each for each in (A4, A3)}

Anchor: TypeAlias = Literal["start", "middle", "end"]


@dataclass(frozen=True)
class Pen:
    """How a line is drawn, or a shape filled."""

    width: float = NARROW
    colour: str = INK
    dashes: tuple[float, ...] = ()
    fill: str = ""


EDGE, FINE = Pen(WIDE), Pen()
AXIS, COVERED = Pen(colour=SOFT, dashes=CENTRE), Pen(dashes=HIDDEN)
SOLID = Pen(0.0, fill=INK)


@dataclass(frozen=True)
class Ring:
    """A whole circle."""

    centre: Point
    radius: float
    pen: Pen


@dataclass(frozen=True)
class Bend:
    """An arc of a path, to its end; not half a turn or more than one."""

    radius: float
    large: bool
    clockwise: bool
    """On paper."""
    end: Point


@dataclass(frozen=True)
class Path:
    """A chain of lines and arcs."""

    start: Point
    steps: tuple[Point | Bend, ...]
    closed: bool
    pen: Pen


@dataclass(frozen=True)
class Words:
    """A line of text."""

    text: str
    at: Point
    size: float
    anchor: Anchor
    colour: str
    upright: bool
    """Whether it is read from the right side of the sheet."""


Shape: TypeAlias = Ring | Path | Words


@dataclass
class Paper:
    """A sheet that is drawn on."""

    width: float
    height: float
    title: str
    """What is on it, for those who cannot see it."""
    shapes: list[tuple[Shape, Box | None]] = field(default_factory=list)
    """With the window that each is seen through, if any."""
    window: Box | None = None
    format: Format = A4

    def add(self, shape: Shape) -> None:
        """Put a shape on the paper, seen through the window of the moment."""
        self.shapes.append((shape, self.window))

    def line(self, start: Point, end: Point, pen: Pen = FINE) -> None:
        """Draw a straight line."""
        self.add(Path(start, (end,), closed=False, pen=pen))

    def chain(self, points: Sequence[Point], pen: Pen = FINE, *, closed: bool = False) -> None:
        """Draw lines from point to point."""
        self.add(Path(points[0], tuple(points[1:]), closed=closed, pen=pen))

    def box(self, box: Box, pen: Pen = FINE) -> None:
        """Draw a rectangle."""
        left, top, width, height = box
        right, bottom = left + width, top + height
        self.chain([(left, top), (right, top), (right, bottom), (left, bottom)], pen, closed=True)

    def circle(self, centre: Point, radius: float, pen: Pen = FINE) -> None:
        """Draw a circle."""
        self.add(Ring(centre, radius, pen))

    def text(
        self,
        text: str,
        at: Point,
        *,
        anchor: Anchor = "start",
        size: float = LETTERS,
        colour: str = INK,
        upright: bool = False,
    ) -> None:
        """Write a line; `at` is on its base line."""
        self.add(Words(text, at, size, anchor, colour, upright))

    def arrow(self, tip: Point, way: Point) -> None:
        """Draw the head of an arrow that points along `way`, of length 1."""
        (x, y), (dx, dy) = tip, way
        back, half = (x - 2.8 * dx, y - 2.8 * dy), 0.5
        wings = [
            (back[0] - half * dy, back[1] + half * dx),
            (back[0] + half * dy, back[1] - half * dx),
        ]
        self.chain([tip, *wings], SOLID, closed=True)

    def outline(self, edge: Circle | Outline, frame: "Frame", pen: Pen = EDGE) -> None:
        """Draw an outline of a part."""
        if isinstance(edge, Circle):
            self.circle(frame.at(edge.centre), frame.scale * edge.radius, pen)
            return
        steps = tuple(
            frame.at(each.end)
            if isinstance(each, Line)
            # Upward is negative on paper: what runs counterclockwise in the part does so here too.
            else Bend(
                frame.scale * each.radius,
                abs(each.sweep) > math.pi,
                each.sweep < 0,
                frame.at(each.end),
            )
            for each in edge.edges
        )
        self.add(Path(frame.at(edge.edges[0].start), steps, closed=True, pen=pen))

    def face(self, part: Flat, frame: "Frame", pen: Pen = EDGE) -> None:
        """Draw every outline of a flat part."""
        for edge in (part.outside, *part.inside):
            self.outline(edge, frame, pen)

    def hatch(
        self, polygons: Sequence[Sequence[Point]], *, lean: int = 1, pitch: float = 2.2
    ) -> None:
        """Hatch the inside of polygons under 45 degrees; `lean` -1 leans the other way."""
        for start, end in hatching(polygons, lean=lean, pitch=pitch):
            self.line(start, end, Pen(0.13))


@dataclass(frozen=True)
class Frame:
    """Where a part's own millimetres are on paper."""

    origin: Point
    scale: float

    def at(self, point: Point) -> Point:
        """Place of a point of the part on paper."""
        return self.origin[0] + self.scale * point[0], self.origin[1] - self.scale * point[1]


def hatching(
    polygons: Sequence[Sequence[Point]], *, lean: int = 1, pitch: float = 2.2
) -> Iterable[tuple[Point, Point]]:
    """Lines under 45 degrees inside of polygons, an inner one within an outer being empty."""
    # Across the lines and along them, both times the root of 2.
    turned = [[(x + lean * y, x - lean * y) for x, y in polygon] for polygon in polygons]
    across = [u for polygon in turned for u, _ in polygon]
    step = pitch * math.sqrt(2)
    # Level with the sheet's corner, so that the hatching of neighbours is in line.
    for place in range(math.ceil(min(across) / step), math.floor(max(across) / step) + 1):
        level, found = place * step + 1e-6, list[float]()
        for polygon in turned:
            for (u1, v1), (u2, v2) in zip(polygon, (*polygon[1:], polygon[0]), strict=True):
                if (u1 <= level) != (u2 <= level):
                    found.append(v1 + (v2 - v1) * (level - u1) / (u2 - u1))
        found.sort()
        for low, high in zip(found[::2], found[1::2], strict=True):
            yield tuple(  # type: ignore[misc]  # two ends
                ((level + v) / 2, lean * (level - v) / 2) for v in (low, high)
            )


def width_of(text: str, size: float = LETTERS) -> float:
    """Width that a text is taken to have [mm]."""
    return LETTER_WIDTH * size * len(text)


def fitting(text: str, width: float, size: float = LETTERS) -> str:
    """Cut a text short where it is wider than a width."""
    letters = math.floor(width / (LETTER_WIDTH * size))
    return text if len(text) <= letters else f"{text[: max(letters - 1, 1)]}…"


def in_page(svg: str) -> str:
    """Take from a drawing's file what a page needs."""
    return svg.replace(f' xmlns="{NAMES}"', "", 1).rstrip()


def svg_of(paper: Paper) -> str:
    """Write a sheet as the file of an SVG, true to scale when printed at 100 %."""
    svg = ET.Element(
        "svg",
        {
            "xmlns": NAMES,
            "viewBox": f"0 0 {paper.width:g} {paper.height:g}",
            "width": f"{paper.width:g}mm",
            "height": f"{paper.height:g}mm",
            "role": "img",
            "aria-label": paper.title,
            "font-family": "ui-sans-serif, system-ui, Helvetica, Arial, sans-serif",
            "fill": "none",
            "stroke-linecap": "round",
        },
    )
    _element(svg, "title").text = paper.title
    for window, shapes in groupby(paper.shapes, key=lambda entry: entry[1]):
        inside = svg
        if window is not None:
            # A drawing inside the drawing shows nothing beyond its own edge.
            left, top, width, height = window
            box = {"x": left, "y": top, "width": width, "height": height}
            view = f"{left:g} {top:g} {width:g} {height:g}"
            inside = _element(svg, "svg", **box, viewBox=view)
        for shape, _ in shapes:
            _draw(inside, shape)
    return ET.tostring(svg, encoding="unicode") + "\n"


def _draw(parent: ET.Element, shape: Shape) -> None:
    if isinstance(shape, Words):
        x, y = shape.at
        place: dict[str, Any] = {"x": x, "y": y, "font_size": shape.size, "fill": shape.colour}
        if shape.anchor != "start":
            place["text_anchor"] = shape.anchor
        if shape.upright:
            place["transform"] = f"rotate(-90 {x:.4f} {y:.4f})"
        _element(parent, "text", **place).text = shape.text
        return
    pen = shape.pen
    look: dict[str, Any] = {"stroke": pen.colour, "stroke_width": pen.width} if pen.width else {}
    if pen.dashes:
        look["stroke_dasharray"] = " ".join(f"{dash:g}" for dash in pen.dashes)
    if pen.fill:
        look["fill"] = pen.fill
    if isinstance(shape, Ring):
        x, y = shape.centre
        _element(parent, "circle", cx=x, cy=y, r=shape.radius, **look)
        return
    steps = [f"M{_pair(shape.start)}"]
    for step in shape.steps:
        if isinstance(step, Bend):
            flags = f"{int(step.large)} {int(step.clockwise)}"
            steps.append(f"A{step.radius:.4f} {step.radius:.4f} 0 {flags} {_pair(step.end)}")
        else:
            steps.append(f"L{_pair(step)}")
    _element(parent, "path", d=" ".join([*steps, *(["Z"] if shape.closed else [])]), **look)


def _element(parent: ET.Element, tag: str, **attributes: Any) -> ET.Element:
    written = {
        name.replace("_", "-"): f"{value:.6g}" if isinstance(value, float) else str(value)
        for name, value in attributes.items()
    }
    return ET.SubElement(parent, tag, written)


def _pair(point: Point) -> str:
    return f"{point[0]:.3f} {point[1]:.3f}"
