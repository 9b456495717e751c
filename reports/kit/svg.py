"""Charts as drawings: inline SVG, made with the page and coloured by its style sheet.

A mark or line names a look, a class of page.css, and never a colour. So paper, night, print and
forced colours need nothing here. Widths follow the page by `viewBox`; charts whose words would get
too small on a phone are drawn once for each width with `fitted`. chart.js reads the `data-`
attributes to say what the pointer is at.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from markupsafe import Markup, escape

from engine.physics.arrays import Lanes
from reports.kit.scales import Scale, round_step, tick_text

Point = tuple[float, float]
PLAINLY = 6.0
"""By how much a label must be nearer to what it names than to anything else."""
ROOMY = 30.0
"""Area by which a label may lie over something and still be read."""
Span = tuple[float, float, float]
"""A place, and the ends of a band there."""
CLOSE = 3.0
"""Widths that count as one place of a band."""
SEEN = 0.2
"""Distance from a line that the eye can tell, in the units of a drawing."""
BOLD, PLAIN = 0.57, 0.52
"""Mean width of a letter over the size of the type."""
FAILURES: Mapping[str, tuple[str, str]] = {
    "bearing limit": ("disc", "bearings reach their limit"),
    "standing wave": ("ring", "a wave stands still and the disc warps"),
    "yield": ("diamond", "disc yields"),
    "burst": ("open-diamond", "disc bursts"),
    "rim rub": ("triangle", "rim rubs on the casing"),
    "seal rub": ("open-triangle", "collars rub in their seals"),
    "generator limit": ("square", "generator turns as fast as it may"),
    "shaft bending": ("open-square", "shaft bends"),
}
"""Mark and words of each way of failing, the same in every chart of every page."""
FAILURES_OF_PUMPS: Mapping[str, tuple[str, str]] = {
    "wear ring rub": ("open-triangle", "wear ring rubs"),
    "motor limit": ("square", "motor turns as fast as it may"),
}
"""Those that a pump calls by another name."""
UNKNOWN = ("cross", "fails in another way")
SHAPES = {
    "diamond": ((0, -1.25), (1.25, 0), (0, 1.25), (-1.25, 0)),
    "triangle": ((0, -1.25), (1.2, 0.85), (-1.2, 0.85)),
    "square": ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
    "cross": ((-1, -1), (1, 1), (0, 0), (1, -1), (-1, 1), (0, 0)),
}
"""Corners around the middle, for a mark of radius 1; sizes chosen for equal weight."""


def filled(shape: str, look: str) -> str:
    """Name the look of a mark of this shape, full or hollow."""
    return f"{'open' if shape == 'ring' or shape.startswith('open-') else 'full'} {look}"


def failure(mode: str) -> tuple[str, str]:
    """Find the mark and the words of a way of failing."""
    return {**FAILURES, **FAILURES_OF_PUMPS}.get(mode, UNKNOWN)


@dataclass(frozen=True)
class Label:
    """Words beside a point; where there is no room they move, with a line that leads back."""

    at: Point
    words: str
    look: str = ""
    bold: bool = False
    others: Sequence[Point] = ()
    """Points of what the words could be taken for: where one is nearer, a line leads back too."""


@dataclass
class Drawing:
    """A chart in the making. Places count from the upper left corner."""

    width: float
    height: float
    says: str
    """What it shows, for those who cannot see it."""
    look: str = ""
    size: float = 13
    """Size of its type."""
    pointed: bool = False
    """Whether it holds marks that the keyboard reaches; then it is no mere picture."""
    parts: list[str] = field(default_factory=list)
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)
    """Boxes in which no label may lie: left, top, right, bottom."""
    data: dict[str, str] = field(default_factory=dict)

    def line(self, start: Point, end: Point, look: str = "rule") -> None:
        """Draw a straight line."""
        (x1, y1), (x2, y2) = start, end
        way = f"H{_n(x2)}" if y1 == y2 else f"V{_n(y2)}" if x1 == x2 else f"L{_at(x2, y2)}"
        self.parts.append(f'<path class="{escape(look)}" d="M{_at(x1, y1)}{way}"/>')

    def curve(self, points: Iterable[Point], look: str, name: str = "") -> None:
        """Draw a line through points, broken where one is not finite; the pointer shows `name`."""
        pieces = map(_thinned, _pieces(points))
        lines = "".join("M" + "L".join(_at(*point) for point in piece) for piece in pieces)
        known = f' data-name="{escape(name)}"' if name else ""
        if lines:
            self.parts.append(f'<path class="curve {escape(look)}"{known} d="{lines}"/>')

    def area(self, points: Iterable[Point], look: str) -> None:
        """Fill the area that these points go around."""
        for piece in _pieces(points):
            outline = "L".join(_at(*point) for point in piece)
            self.parts.append(f'<path class="{escape(look)}" d="M{outline}z"/>')

    def band(self, x: Sequence[float], low: Sequence[float], high: Sequence[float]) -> None:
        """Fill between two lines; of many points close together the widest span."""
        spans: dict[int, Span] = {}
        for row in zip(x, low, high, strict=True):
            if all(map(math.isfinite, row)):
                at, bottom, top = spans.get(round(row[0] / CLOSE), row)
                spans[round(row[0] / CLOSE)] = (at, max(bottom, row[1]), min(top, row[2]))
        up = [(at, top) for at, _, top in spans.values()]
        self.area([*up, *((at, low) for at, low, _ in reversed(spans.values()))], "band")

    def box(self, corner: Point, size: Point, look: str, says: str = "") -> None:
        """Draw a rectangle from its upper left corner; the pointer shows `says`."""
        (x, y), (width, height) = corner, size
        told = f' data-says="{escape(says)}"' if says else ""
        self.parts.append(
            f'<rect class="{escape(look)}" x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" '
            f'height="{_n(height)}"{told}/>'
        )

    def boxes(self, boxes: Iterable[tuple[Point, Point]], look: str) -> None:
        """Draw many rectangles of one look, each from its upper left corner and size."""
        drawn = "".join(
            f"M{_at(*corner)}h{_n(wide)}v{_n(high)}h{_n(-wide)}z" for corner, (wide, high) in boxes
        )
        self.parts.append(f'<path class="boxes {escape(look)}" d="{drawn}"/>')

    def circle(self, at: Point, radius: float, look: str) -> None:
        """Draw a circle."""
        x, y = at
        self.parts.append(
            f'<circle class="{escape(look)}" cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"/>'
        )

    def mark(
        self,
        at: Point,
        shape: str = "disc",
        look: str = "ink",
        radius: float = 4,
        **data: str | int,
    ) -> None:
        """Draw a mark: disc, ring, diamond, triangle, square, cross; 'open-' before it is hollow.

        `data` become `data-` attributes: `says` is what the pointer shows, `design` which design
        a click pins. Without a look it takes that of `within`.
        """
        x, y = at
        held = "".join(f' data-{key}="{escape(str(value))}"' for key, value in data.items())
        if look:
            held = f' class="{escape(filled(shape, look))}"{held}'
        corners = SHAPES.get(shape.removeprefix("open-"))
        if corners is None:
            self.parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{held}/>')
            return
        outline = "L".join(_at(x + radius * right, y + radius * down) for right, down in corners)
        self.parts.append(f'<path d="M{outline}z"{held}/>')

    def ticks(self, places: Iterable[float], y: float, tall: float, look: str) -> None:
        """Draw upright strokes at these places, as one line."""
        ends = [round(x, 1) for x in places]
        if ends:
            # From one to the next in steps: half as long as by their places.
            steps = "".join(f"m{_n(b - a)} {_n(-tall)}v{_n(tall)}" for a, b in pairwise(ends))
            strokes = f"M{_at(ends[0], y - tall / 2)}v{_n(tall)}{steps}"
            self.parts.append(f'<path class="{escape(look)}" d="{strokes}"/>')

    @contextmanager
    def within(self, look: str, **data: str | int) -> Iterator[None]:
        """Give what is drawn meanwhile a look, and `data-` attributes, in common."""
        held = "".join(f' data-{key}="{escape(str(value))}"' for key, value in data.items())
        self.parts.append(f'<g class="{escape(look)}"{held}>')
        yield
        self.parts.append("</g>")

    def text(
        self,
        at: Point,
        words: str,
        look: str = "",
        *,
        anchor: str = "start",
        bold: bool = False,
        turn: float = 0,
        size: float | None = None,
    ) -> None:
        """Write words; `anchor` is start, middle or end."""
        if not words:
            return
        x, y = at
        looks = " ".join(filter(None, (look, "b" if bold else "")))
        styled = f' class="{escape(looks)}"' if looks else ""
        held = "" if anchor == "start" else f' text-anchor="{anchor}"'
        held += f' transform="rotate({_n(turn)} {_n(x)} {_n(y)})"' if turn else ""
        held += "" if size is None else f' font-size="{_n(size)}"'
        self.parts.append(f'<text{styled} x="{_n(x)}" y="{_n(y)}"{held}>{escape(words)}</text>')

    def axes(
        self,
        x: Scale,
        y: Scale,
        *,
        across: str | None,
        up: str | None,
        ticks: tuple[int, int] = (5, 5),
    ) -> None:
        """Draw grid, ticks and titles: `up` above the upright axis, `across` below the flat one.

        An axis without a title shares the numbers of its neighbour.
        """
        top, bottom = min(y.start, y.end), max(y.start, y.end)
        left, right = min(x.start, x.end), max(x.start, x.end)
        for value in y.ticks(ticks[1]):
            self.line((left, y(value)), (right, y(value)), "grid")
            words = tick_text(value, _step(y, ticks[1])) if up is not None else ""
            self.text((left - 7, y(value) + 0.35 * self.size), words, "soft", anchor="end")
        for value in x.ticks(ticks[0]):
            self.line((x(value), bottom), (x(value), bottom + 4), "rule")
            words = tick_text(value, _step(x, ticks[0])) if across is not None else ""
            self.text((x(value), bottom + 6 + self.size), words, "soft", anchor="middle")
        self.line((left, bottom), (right, bottom), "rule")
        self.text((0, self.size), up or "", "soft")
        self.text((right, bottom + 10 + 2.2 * self.size), across or "", "soft", anchor="end")
        for name, scale in (("x", x), ("y", y)):
            ends = (scale.low, scale.high, scale.start, scale.end)
            self.data[name] = " ".join([*(f"{end:.6g}" for end in ends), scale.unit])
        self.taken.append((0, 0, self.measure(up or ""), 1.3 * self.size))
        self.taken.append((0, top, left, self.height))

    def measure(self, words: str, *, bold: bool = False) -> float:
        """Guess how wide words are."""
        return len(words) * self.size * (BOLD if bold else PLAIN)

    def shun(self, points: Iterable[Point], reach: float = 5) -> None:
        """Keep labels off these points."""
        self.taken += [
            (x - reach, y - reach, x + reach, y + reach)
            for x, y in points
            if math.isfinite(x) and math.isfinite(y)
        ]

    def label(self, labels: Iterable[Label]) -> None:
        """Write each label at the nearest free place around its point, with a line back to it."""
        for each in labels:
            width, height = self.measure(each.words, bold=each.bold), 1.25 * self.size
            distances, spots = zip(*_around(each.at, width, height), strict=True)
            crowded = np.round(self._overlaps(np.array(spots)) / ROOMY).tolist()
            own = _nearest(np.array(spots), [each.at])
            astray = (_nearest(np.array(spots), each.others) < own + PLAINLY).tolist()
            _, lost, distance, spot = min(zip(crowded, astray, distances, spots, strict=True))
            left, top, right, bottom = spot
            if distance > 2 or lost:
                near = (min(max(each.at[0], left), right), min(max(each.at[1], top), bottom))
                self.line(_toward(each.at, near, 2 if lost else 8), near, "leader")
            look = " ".join(filter(None, (each.look, "halo")))
            self.text((left, top + 0.95 * self.size), each.words, look, bold=each.bold)
            self.taken.append((left, top, right, bottom))

    def _overlaps(self, spots: Lanes) -> Lanes:
        """Area of what is taken under each spot; beyond the edges of the drawing it counts more."""
        left, top, right, bottom = spots.T[:, :, None]
        x, y, r, b = np.array(self.taken).reshape(-1, 4).T
        wide = np.minimum(right, r) - np.maximum(left, x)
        high = np.minimum(bottom, b) - np.maximum(top, y)
        shared = np.sum(np.maximum(0.0, wide) * np.maximum(0.0, high), axis=1)
        beyond = np.maximum(0.0, np.hstack((-left, right - self.width)))
        below = np.maximum(0.0, np.hstack((-top, bottom - self.height)))
        counted: Lanes = 40 * (np.sum(beyond, axis=1) + np.sum(below, axis=1)) + shared
        return counted

    def svg(self) -> Markup:
        """Write the whole drawing."""
        role = "group" if self.pointed else "img"
        held = "".join(f' data-{key}="{escape(value)}"' for key, value in self.data.items())
        looks = " ".join(filter(None, ("drawn", self.look)))
        return Markup(  # noqa: S704  # every text in it is escaped
            f'<svg class="{escape(looks)}" role="{role}" aria-label="{escape(self.says)}" '
            f'viewBox="0 0 {_n(self.width)} {_n(self.height)}" font-size="{_n(self.size)}"{held}>'
            f"{''.join(self.parts)}</svg>"
        )


FITS = {"wide": 1240.0, "middle": 700.0, "narrow": 358.0}
"""Widths for which a chart is drawn that spans the page, by the class that shows it there."""


def fitted(draw: Callable[[float], Drawing], widths: Mapping[str, float] | None = None) -> Markup:
    """Draw a chart once for each width; the style sheet shows the one that fits."""
    return Markup("").join(
        Markup('<div class="at-{}">{}</div>').format(name, draw(width).svg())
        for name, width in (widths or FITS).items()
    )


def _around(
    at: Point, width: float, height: float
) -> Iterable[tuple[float, tuple[float, float, float, float]]]:
    """List places for a label around a point, each with what speaks against it: right is best."""
    x, y = at
    for distance in range(7):
        out, up = 13 + 17 * distance, 0.35 * height + 14 * distance
        for extra, left, top in (
            (0.0, x + out, y - height / 2 - up + 0.35 * height),
            (0.4, x - width / 2, y - height - 8 - up + 0.35 * height),
            (0.6, x + out, y - height / 2 + up - 0.35 * height),
            (1.6, x - width - out, y - height / 2 - up + 0.35 * height),
            (1.8, x - width - out, y - height / 2 + up - 0.35 * height),
            (1.2, x - width / 2, y + 8 + up - 0.35 * height),
        ):
            yield distance + extra, (left, top, left + width, top + height)


def _nearest(spots: Lanes, points: Sequence[Point]) -> Lanes:
    """Distance from each box to the nearest of these points; infinite where there is none."""
    if not points:
        return np.full(len(spots), np.inf)
    left, top, right, bottom = spots.T[:, :, None]
    x, y = np.array(points).T
    across = np.maximum(np.maximum(left - x, x - right), 0.0)
    down = np.maximum(np.maximum(top - y, y - bottom), 0.0)
    return np.asarray(np.hypot(across, down).min(axis=1))


def _toward(start: Point, end: Point, way: float) -> Point:
    length = math.dist(start, end) or 1.0
    share = min(1.0, way / length)
    return (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))


def _step(scale: Scale, about: int) -> float:
    return round_step((scale.high - scale.low) / about)


def _pieces(points: Iterable[Point]) -> list[list[Point]]:
    """Break a line at points that are not finite."""
    pieces: list[list[Point]] = [[]]
    for x, y in points:
        if math.isfinite(x) and math.isfinite(y):
            pieces[-1].append((x, y))
        elif pieces[-1]:
            pieces.append([])
    return [piece for piece in pieces if len(piece) > 1]


def _thinned(piece: list[Point]) -> list[Point]:
    """Leave out points that lie on the line between others, as far as the eye can tell.

    Douglas and Peucker 1973, "Algorithms for the reduction of the number of points required to
    represent a digitized line or its caricature" (from memory).
    """
    (x0, y0), (x1, y1) = piece[0], piece[-1]
    length = math.dist(piece[0], piece[-1])
    away = [
        abs((x1 - x0) * (y0 - y) - (x0 - x) * (y1 - y0)) / length
        if length
        else math.dist((x, y), piece[0])
        for x, y in piece[1:-1]
    ]
    if not away or max(away) <= SEEN:
        return [piece[0], piece[-1]]
    turn = away.index(max(away)) + 1
    return [*_thinned(piece[: turn + 1])[:-1], *_thinned(piece[turn:])]


def _n(value: float) -> str:
    """Write a length with one decimal at most."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _at(x: float, y: float) -> str:
    return f"{_n(x)} {_n(y)}"
