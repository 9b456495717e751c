"""The machine taken apart, part by part in the order of assembly, each on the axis of the shaft.

Every drawn item is in a row: what has no place of its own holds the others, and stands in the last.

A slanting view: what is square to the shaft is drawn narrower and leans a little, lengths along the
shaft stay. Rows: the rotor, the casing around it, the bearings, and what holds them. Small parts
are drawn larger.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeAlias

from reports.design.drawings.frames import INSET, Block, finish, free, sheet
from reports.design.drawings.lathe import outer_edge
from reports.design.drawings.paper import AXIS, SOFT, SOLID, Paper, Pen
from reports.design.facts import BuildFacts
from reports.design.items import Item
from reports.design.outlines import Arc, Circle, Outline, Point
from reports.design.plate import Plate
from reports.design.turned_parts import CHAMFER, TurnedPart

SQUEEZE, LEAN = 0.34, 0.16
"""Of what is square to the shaft: width over height, and rise over height."""
ROUND = 40
"""Points of a circle."""
GAP, WIDEST_GAP = 7.0, 20.0
"""Between parts on paper, least and most [mm]."""
SHORTEST, LONGEST = 1.0, 34.0
"""Length of a part on paper [mm]."""
SMALLEST, SHORTENED = 7.0, 9.0
"""Diameter below which a part is drawn larger than its row, and its most length [mm on paper]."""
CROWDED = 0.9
"""Share of the scale that a row has room for in height, below which its small parts shrink too."""
LARGEST = 1.0
"""Scale of a row at most, so that one of screws does not look like one of plates."""
SLENDER, ROD = 5.0, 0.12
"""Length over diameter from which a part stays thin; its length over the width of the paper, half
of the shaft's."""

Placing = Callable[[float, float, float], Point]

THIN, WHITE = Pen(0.25, fill="#ffffff"), Pen(0.25)

ROTOR = (
    *("shaft", "end clamp", "disc", "spacer", "disc", "closing disc", "end clamp", "clamp nut"),
    "sleeve",
)
ON_BOLTS = (
    *("shaft", "end clamp", "pack tube", "disc", "washer", "disc", "tapped end clamp"),
    *("closed end clamp", "pack bolt", "clamp nut", "sleeve"),
)
CASING = (
    "dowel",
    "supply plate",
    "supply ring",
    "nozzle plate",
    "rotor",
    "side ring",
    "end plate",
    "closed plate",
    "cover plate",
)
PUMP_CASING = (
    "dowel",
    "end plate",
    "side ring",
    "collector plate",
    "rotor",
    "port ring",
    "closed plate",
    "cover plate",
    "port plate",
)
HELD = (
    "free-end carrier",
    "free-end plate",
    "bearing",
    "suction ring",
    "casing",
    "distance tube",
    "drive suction ring",
    "drive distance tube",
    "bearing",
    "spring washer",
    "drive-end plate",
    "drive-end carrier",
    "half coupling",
    "pulley",
    "generator plate",
    "motor plate",
    "generator pulley",
    "motor pulley",
)
"""Names of the parts in each row; all that begins with one of them is meant."""
OF_STAGE = (
    *("partition {1} A", "partition {1} B", "passage tube {0}", "exhaust ring {0}"),
    *("feed plate {0} A", "feed plate {0} B", "feed ring {0}", "nozzle plate {0}"),
    *("side ring {0}", "collar plate {0} A", "collar plate {0} B", "room ring {0}"),
)
"""Names of the plates of a stage, of which the braces are the number and that of the one before."""
MOST_ROWS = 3
"""On a sheet."""
SMALL = "Small parts are drawn larger. Higher numbers of the parts list are not drawn."


@dataclass(frozen=True)
class Step:
    """A part in a row."""

    item: Item
    pieces: str
    turn: float = 0.0
    """About the shaft [rad]."""


Rows: TypeAlias = Sequence[tuple[str, Sequence[Step]]]
"""Name and parts of each row."""


def exploded_pages(facts: BuildFacts, items: Sequence[Item]) -> tuple[Rows, ...]:
    """Put every item into a row, by the order of assembly, and the rows on sheets."""
    rows = list(rows_of(facts, items))
    shown = {step.item.number for _, steps in rows for step in steps}
    rest = [Step(item, _pieces(item)) for item in items if item.number not in shown]
    if rest:
        rows.append((str(len(rows) + 1), rest))
    each = math.ceil(len(rows) / math.ceil(len(rows) / MOST_ROWS))
    return tuple(tuple(rows[start : start + each]) for start in range(0, len(rows), each))


def exploded_sheet(facts: BuildFacts, rows: Rows, block: Block) -> Paper:
    """Draw a sheet with parts in the order of assembly."""
    title = f"Parts of design {facts.candidate.design} in the order of assembly"
    paper = sheet(title, block.format)
    notes = _notes(facts, rows)
    room = free(paper.format, notes) - 3
    for place, (name, steps) in enumerate(rows):
        top = room * place / len(rows)
        _row(paper, name, steps, top, room / len(rows))
    finish(paper, block, notes)
    return paper


def _notes(facts: BuildFacts, rows: Rows) -> tuple[str, ...]:
    """Say what to do with the parts of these rows."""
    told = [text for name, _ in rows if (text := _told(facts, int(name)))]
    return (" ".join((*dict.fromkeys(told), SMALL)),)


def _told(facts: BuildFacts, row: int) -> str:
    """Say what to do with the parts of a row; stages have a sentence for all of them."""
    stages = len(facts.stacks)
    bearings = stages + 2 if stages > 1 else 3
    if row == 1:
        line = f"Keep the {facts.web.openings} in line"
        if facts.bolts is not None:
            line = "Keep the spokes of all end clamps in line, and put a washer on every bolt"
        if stages > 1:
            line += (
                "; all stacks are alike but for their number of discs, with collars and a tube "
                "between two"
            )
        return (
            f"Row 1: turn each disc by {360 / facts.web.spokes:g}° against the one before; the dot "
            f"marks its rolling direction. {line}."
        )
    if row < bearings and stages > 1:
        return (
            f"Rows 2 to {stages + 1}: plates of each stage; rings and nozzle plates go over the "
            "rotor, plates in halves close around it."
        )
    if row < bearings:
        return f"Row 2: the rotor goes into the casing with a {facts.seal} on each open end."
    if row == bearings:
        return f"Row {row}: bearings, then plates and carriers from both ends."
    return f"Row {row}: what holds plates, tubes and carriers together."


def rows_of(facts: BuildFacts, items: Sequence[Item]) -> Iterable[tuple[str, list[Step]]]:
    """List the rows: the name of each, and its parts from left to right."""
    named = {item.name: item for item in items}
    turn = math.tau / facts.web.spokes
    of_rotor = [*(ROTOR if facts.bolts is None else ON_BOLTS)]
    of_rotor.insert(1, facts.seal)
    if facts.seal in named and named[facts.seal].part.pieces > 1:
        of_rotor.insert(of_rotor.index("clamp nut"), facts.seal)
    rotor = _steps(named[name] for name in of_rotor if name in named)
    discs = [place for place, step in enumerate(rotor) if step.item.name == "disc"]
    for count, place in enumerate(discs):
        rotor[place] = replace(rotor[place], turn=turn * count)
    if len(facts.stacks) > 1:
        yield from _of_stages(facts, items, rotor)
        return
    yield "1", rotor
    for number, names in (("2", PUMP_CASING if facts.is_pump else CASING), ("3", HELD)):
        found = _steps(_called(items, names))
        if found:
            yield number, found


def _of_stages(
    facts: BuildFacts, items: Sequence[Item], first: list[Step]
) -> Iterable[tuple[str, list[Step]]]:
    """List the rows of a machine with several stages: rotor, each stage's plates, bearings."""
    named = {item.name: item for item in items}
    *stack, nut, sleeve = first

    def steps(names: Iterable[str]) -> list[Step]:
        return _steps(named[name] for name in names if name in named)

    yield "1", [*stack, *steps(("inner collar", "stack tube")), nut, sleeve]
    count = len(facts.stacks)
    for stage in range(1, count + 1):
        names = [name.format(stage, stage - 1) for name in OF_STAGE]
        if stage == 1:
            names = ["dowel", "supply plate", "supply ring", *names]
        yield str(stage + 1), steps([*names, "end plate"] if stage == count else names)
    held = ("cap", *HELD[:2], "free exhaust ring", "supply tube", *HELD[2:])
    yield str(count + 2), _steps(_called(items, held))


def _called(items: Sequence[Item], names: Iterable[str]) -> Iterable[Item]:
    """Take the first item whose name begins with each of these, where there is one."""
    for name in names:
        yield from [item for item in items if item.name.startswith(name)][:1]


def _steps(items: Iterable[Item]) -> list[Step]:
    """Put items in a row; what stands there twice is counted from its first piece to its last."""
    row = list(items)
    found = []
    for place, item in enumerate(row):
        told = _pieces(item)
        if row.count(item) > 1:
            last = item not in row[place + 1 :]
            told = f"to {item.part.pieces}" if last else "1st"
        found.append(Step(item, told))
    return found


def _pieces(item: Item) -> str:
    return f"{item.part.pieces}×" if item.part.pieces > 1 else ""


def _row(paper: Paper, name: str, steps: Sequence[Step], top: float, height: float) -> None:
    """Draw one row from left to right, the parts at its right in front."""
    widest = max(_diameter(step.item) for step in steps)
    room = paper.width - 16
    tall = min((height - 29) / (widest * (1 + 2 * LEAN * SQUEEZE)), LARGEST)

    def sizes(scale: float, item: Item) -> tuple[float, float]:
        """Scale of a part, and its length on paper."""
        least = SMALLEST * min(scale / (CROWDED * tall), 1.0)
        own = max(scale, least / _diameter(item))
        most = LONGEST if own == scale else SHORTENED
        if item.name == "shaft":
            most = min(LONGEST, 2 * ROD * paper.width)
        if item.name != "shaft" and _length(item) > SLENDER * _diameter(item):
            own, most = min(own, ROD * paper.width / _length(item)), LONGEST
        return own, min(max(own * _length(item), SHORTEST), most)

    def taken(scale: float) -> float:
        found = [(*sizes(scale, step.item), _diameter(step.item)) for step in steps]
        return sum(long + SQUEEZE * own * diameter for own, long, diameter in found)

    scale = tall
    while taken(scale) + GAP * (len(steps) - 1) > room and scale > 1e-3 * tall:
        scale *= 0.97
    gap = min((room - taken(scale)) / max(len(steps) - 1, 1), WIDEST_GAP)
    level = top + 6 + (height - 19) / 2
    paper.text(name, (INSET, top + 7), size=5.0)
    paper.line((5, level), (paper.width - 3, level), AXIS)
    left = 8.0 + (room - taken(scale) - gap * (len(steps) - 1)) / 2
    for step in steps:
        own, long = sizes(scale, step.item)
        half = SQUEEZE * own * _diameter(step.item) / 2
        left += half
        _part(paper, step, (left, level), own, long / (own * _length(step.item)))
        mark = left + long / 2, top + height - 8
        paper.circle((mark[0], mark[1] - 1.2), 3.6, Pen(0.25))
        paper.text(str(step.item.number), mark, anchor="middle")
        if step.pieces:
            paper.text(step.pieces, (mark[0], mark[1] + 6), anchor="middle", colour=SOFT)
        left += long + half + gap


def _diameter(item: Item) -> float:
    part = item.part
    return part.part.diameter if isinstance(part, TurnedPart) else part.part.width


def _length(item: Item) -> float:
    part = item.part
    return part.part.length if isinstance(part, TurnedPart) else part.thickness


def _part(paper: Paper, step: Step, at: Point, scale: float, stretch: float) -> None:
    """Draw a part from its left face at a point; its right face is seen."""
    part = step.item.part

    def place(x: float, y: float, z: float) -> Point:
        return (
            at[0] + scale * (stretch * z + SQUEEZE * x),
            at[1] - scale * (y + LEAN * x),
        )

    if isinstance(part, TurnedPart):
        low, _ = part.part.ends
        outside = _blunt(outer_edge(part.part))
        for (r1, z1), (r2, z2) in pairwise(outside):
            if z1 != z2:
                _tube(paper, place, (r1, z1 - low), (r2, z2 - low))
            else:
                _ring(paper, place, max(r1, r2), z1 - low)
        end = outside[-1]
        _ring(paper, place, end[0], end[1] - low)
        inner = part.part.bore / 2
        if 0 < inner < end[0]:
            _ring(paper, place, inner, end[1] - low)
        return
    thick = part.thickness
    turn = step.turn
    outline = _points(part.part.outside, turn)
    back = [place(x, y, 0.0) for x, y in outline]
    front = [place(x, y, thick) for x, y in outline]
    bulges = isinstance(part.part.outside, Circle) or not any(
        isinstance(edge, Arc) for edge in part.part.outside.edges
    )
    paper.chain(_hull([*back, *front]) if bulges else back, THIN, closed=True)
    paper.chain(front, THIN, closed=True)
    for inside in part.part.inside:
        paper.chain([place(x, y, thick) for x, y in _points(inside, turn)], WHITE, closed=True)
    if isinstance(part, Plate) and part.name.startswith("disc"):
        mark = 0.86 * part.part.width / 2
        direction = math.pi / 2 + turn
        dot = place(mark * math.cos(direction), mark * math.sin(direction), thick)
        paper.circle(dot, 0.9, SOLID)


def _blunt(edge: Sequence[Point]) -> list[Point]:
    """Leave out the chamfer at the right end: a rod would look like a tube."""
    *start, (before, _), (radius, end) = edge
    return [*start, (before, end)] if 0 < before - radius <= CHAMFER else list(edge)


def _tube(paper: Paper, place: Placing, one: Point, two: Point) -> None:
    """Draw the outside of a cylinder or cone, and what it hides."""
    rings = [[place(r * math.cos(a), r * math.sin(a), z) for a in _turns()] for r, z in (one, two)]
    hull = _hull([*rings[0], *rings[1]])
    paper.chain(hull, THIN, closed=True)
    paper.chain(rings[1], THIN, closed=True)


def _ring(paper: Paper, place: Placing, radius: float, along: float) -> None:
    points = [place(radius * math.cos(a), radius * math.sin(a), along) for a in _turns()]
    paper.chain(points, THIN, closed=True)


def _turns() -> list[float]:
    return [math.tau * step / ROUND for step in range(ROUND)]


def _points(outline: Circle | Outline, turn: float) -> list[Point]:
    """Points around an outline, turned about the shaft."""
    found: list[Point] = []
    for edge in outline.edges:
        if isinstance(edge, Arc):
            pieces = max(math.ceil(abs(edge.sweep) / math.tau * ROUND), 1)
            found += [
                Arc(edge.centre, edge.radius, edge.start_angle, edge.sweep * step / pieces).end
                for step in range(pieces)
            ]
        else:
            found.append(edge.start)
    cosine, sine = math.cos(turn), math.sin(turn)
    return [(x * cosine - y * sine, x * sine + y * cosine) for x, y in found]


def _hull(points: Sequence[Point]) -> list[Point]:
    """Convex hull, by monotone chains (Andrew, 1979)."""
    ordered = sorted(set(points))

    def half(row: Sequence[Point]) -> list[Point]:
        chain: list[Point] = []
        for point in row:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0:
                chain.pop()
            chain.append(point)
        return chain[:-1]

    return [*half(ordered), *half(ordered[::-1])]


def _turn(one: Point, two: Point, three: Point) -> float:
    return (two[0] - one[0]) * (three[1] - one[1]) - (two[1] - one[1]) * (three[0] - one[0])
