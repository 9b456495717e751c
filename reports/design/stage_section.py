"""Metal of the plates of several stages in the section through the shaft, upper and lower half."""

import math
from collections.abc import Iterable

from reports.design.carriers import centre_height
from reports.design.outlines import Circle, Point
from reports.design.plate import Plate
from reports.design.stage_drawings import base_name, stage_of
from reports.design.staging import Staged, middle_of


def stage_pieces(staged: Staged, plate: Plate) -> Iterable[Point]:
    """Metal from the axis outward, above it and below it [mm].

    The upper half goes through a hole that crosses the stage, the lower one through one that feeds
    it. Of a plate in halves A lies above and B below.
    """
    name, stage = base_name(plate.name), stage_of(staged, plate.name)
    outside, half = stage.casing.outside, plate.name[-2:]
    base = centre_height(outside) if name.endswith("-end plate") else outside
    if half in (" A", " B"):
        inner, _ = middle_of(plate.part)
    elif name == "nozzle plate":
        inner = stage.casing.bore
    else:
        first = plate.part.inside[0]
        inner = first.radius if isinstance(first, Circle) else 0.0
    across, feeding = _holes(staged, plate, name)
    if half != " B":
        yield from _apart(inner, outside, across)
    if half != " A":
        for low, high in _apart(inner, base, feeding):
            yield -high, -low


def _holes(staged: Staged, plate: Plate, name: str) -> tuple[list[Circle], list[Circle]]:
    """Give the first hole across a stage, and the first that feeds one."""
    stage = stage_of(staged, plate.name)
    plenums, across = stage.plenums, list(stage.transfers[:1])
    fed = list(plenums[:1])
    drilled = [Circle(stage.casing.port_drill / 2, hole.centre) for hole in fed]
    if name == "partition":
        return [], list(staged.stages[stage.number].plenums[:1])
    found: dict[str, tuple[list[Circle], list[Circle]]] = {
        "free-end plate": ([], drilled),
        "supply plate": (across, drilled),
        "supply ring": (across, fed),
        "feed ring": (across, fed),
        "feed plate": (across, fed),
        "nozzle plate": (across, fed),
        "side ring": (across, []),
        "collar plate": (across, []),
    }
    return found.get(name, ([], []))


def _apart(inner: float, outer: float, holes: list[Circle]) -> Iterable[Point]:
    """Metal between two radii, less a hole."""
    for hole in holes:
        off = math.hypot(*hole.centre)
        if off - hole.radius > inner:
            yield inner, off - hole.radius
        yield off + hole.radius, outer
        return
    yield inner, outer
