"""Dimensions that only the plates of a pump have, and the collector drawn larger."""

import math

from reports.design.collector import OPENING, TONGUE, Collector
from reports.design.drawings.dimensions import Callout
from reports.design.drawings.flat import DetailDrawing, Piece
from reports.design.drawings.frames import Block
from reports.design.facts import BuildFacts
from reports.design.outlines import Circle, point_along
from reports.design.plate import Plate
from reports.design.pump import notes
from reports.kit.quantities import number


def pump_marks(casing: Collector, plate: Plate) -> list[Callout]:
    """Dimensions that only one kind of a pump's plates has."""
    name, spiral = plate.part.name, casing.spiral
    at, found = spiral.chamber_at, list[Callout]()
    sizes = {"collector plate": spiral.chamber, "port ring": spiral.chamber}
    if casing.outlet in plate.part.inside:
        sizes[name] = casing.port_drill / 2
    if name in sizes:
        radius = sizes[name]
        taps = {
            "closed plate": f"tap {casing.port}",
            "cover plate": f"tap {casing.port}",
            "drive-end plate": f"tap {casing.port}, port",
        }
        edge = point_along(math.pi / 4, radius)
        found.append(
            Callout(
                f"⌀{_mm(2 * radius)}",
                taps.get(name, "port" if radius < spiral.chamber else "chamber"),
                (at[0] + edge[0], at[1] + edge[1]),
                "right",
                centre=at,
            )
        )
    suctions = [
        edge
        for edge in plate.part.inside
        if isinstance(edge, Circle) and edge.radius == casing.suction_drill / 2
    ]
    if suctions and name.endswith("-end plate"):
        hole = suctions[0]
        edge = point_along(math.pi * 3 / 4, hole.radius)
        found.append(
            Callout(
                f"{len(suctions)}× ⌀{_mm(casing.suction_drill)}",
                f"tap {casing.suction}",
                (hole.centre[0] + edge[0], hole.centre[1] + edge[1]),
                "left",
                centre=hole.centre,
            )
        )
    return found


def collector_drawing(facts: BuildFacts, casing: Collector, block: Block) -> DetailDrawing:
    """Draw the passage larger: the spiral with its quarters, then tongue, throat and cone."""
    spiral = casing.spiral
    quarters = [
        Callout(
            f"R{_mm(radius)}",
            f"about {_mm(centre[0])}, {_mm(centre[1])}",
            _beyond(centre, radius, turn),
            "right" if turn in (0, 3) else "left",
            centre=centre,
        )
        for turn, (centre, radius) in enumerate(zip(spiral.centres, spiral.radii, strict=True))
    ]
    level, end = spiral.level, spiral.level + spiral.length
    middle = spiral.inner + spiral.throat / 2
    close = [
        Callout(
            f"{_mm(spiral.throat)} ±0.05",
            "throat",
            (spiral.inner, level + 0.2 * spiral.throat),
            "left",
            (spiral.outer, level + 0.2 * spiral.throat),
        ),
        Callout(
            f"R{_mm(TONGUE / 2)}", "tongue", (spiral.bore + TONGUE / 2, level - TONGUE / 2), "left"
        ),
        Callout(
            f"{_mm(spiral.inner)}",
            "straight wall from the axis",
            (spiral.inner, level + spiral.throat),
            "left",
        ),
    ]
    if spiral.length > 0:
        slope = spiral.length / 2
        wide = spiral.outer + (spiral.mouth - spiral.throat) / 2
        quarters += [
            Callout(
                f"{_mm(spiral.mouth)}",
                "where the cone ends",
                (spiral.inner + spiral.mouth, end),
                "right",
            ),
            Callout(
                f"{number(math.degrees(_opens(casing)), 3, trim=True)}°",
                "cone's outer wall",
                (wide, level + slope),
                "right",
            ),
        ]
    reach = max(spiral.radii) + spiral.step
    top = spiral.chamber_at[1] + spiral.chamber
    low = -reach
    half = max((top - low) / 2, reach)
    close_half = max(1.6 * spiral.throat, 3 * TONGUE)
    return DetailDrawing(
        part=casing.plate,
        pieces=(
            Piece("A", (0.0, (top + low) / 2), 1.04 * half, 44.0, quarters),
            Piece("B", (middle, level + 0.5 * spiral.throat), close_half, 25.0, close),
        ),
        notes=notes.collector_notes(facts, casing),
        block=block,
        description=f"Drawing of the collector, throat {_mm(spiral.throat)} mm",
        axes=(((-1.1 * reach, 0.0), (1.1 * reach, 0.0)), ((0.0, -1.1 * reach), (0.0, top))),
    )


def _opens(casing: Collector) -> float:
    spiral = casing.spiral
    return min(math.atan2(spiral.mouth - spiral.throat, spiral.length), OPENING)


def _beyond(centre: tuple[float, float], radius: float, turn: int) -> tuple[float, float]:
    x, y = point_along((turn + 0.5) * math.pi / 2, radius)
    return centre[0] + x, centre[1] + y


def _mm(value: float) -> str:
    return f"{round(value, 3):g}"
