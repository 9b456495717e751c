"""The drawing of each plate of a casing with two or three stages: dimensions, axes and notes."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from reports.design.casing_marks import MIDDLE, casing_marks, plate_axes
from reports.design.drawing_wording import stage_notes
from reports.design.drawings.dimensions import Callout, Control
from reports.design.drawings.flat import FlatDrawing
from reports.design.drawings.frames import Block
from reports.design.facts import BuildFacts
from reports.design.fits import limits
from reports.design.outlines import Circle, Outline, Point, point_along
from reports.design.plate import REAM_ALLOWANCE, Plate
from reports.design.shop_sizes import general, plain
from reports.design.staging import DrawnStage, Staged, laid_flat, middle_of

LIKE = {
    "supply plate": "end plate",
    "nozzle plate": "nozzle plate",
    "supply ring": "side ring",
    "feed ring": "side ring",
    "side ring": "side ring",
}
"""Plates that are dimensioned as one of a single stage; any other by its own name."""


def stage_drawing(facts: BuildFacts, staged: Staged, plate: Plate, block: Block) -> FlatDrawing:
    """Draw a plate with everything that its maker must know."""
    stage = stage_of(staged, plate.name)
    name, half = base_name(plate.name), stage.casing.outside
    is_half = isinstance(plate.part.outside, Outline) and plate.name[-2:] in (" A", " B")
    like = replace(plate, part=replace(plate.part, name=LIKE.get(name, name)))
    part = plate.part
    if is_half:
        part = laid_flat(plate.part)
        marks = _half_marks(stage, replace(plate, part=part))
        axes: Sequence[tuple[Point, Point]] = (
            ((-1.03 * half, 0.0), (1.03 * half, 0.0)),
            ((0.0, -0.03 * half), (0.0, 1.03 * half)),
        )
    else:
        marks = casing_marks(facts, stage.casing, like)
        axes = plate_axes(facts, stage.casing, like)
    groups = _groups(staged, stage, name)
    if is_half:
        groups = [
            (tuple(replace(hole, centre=_seen(plate, hole.centre)) for hole in holes), told)
            for holes, told in groups
        ]
    present = {hole for hole in part.inside if isinstance(hole, Circle)}
    return FlatDrawing(
        part=part,
        thickness=plate.thickness,
        thick=plain(plate.thickness),
        across=f"⌀{plain(2 * half)} {general(2 * half)}",
        across_half=half,
        marks=(*marks, *(mark for group in groups for mark in _group(group, present))),
        notes=stage_notes(facts, stage, plate.name),
        block=block,
        description=f"Drawing of the {plate.name}, {plain(2 * half)} mm across",
        axes=axes,
    )


def base_name(name: str) -> str:
    """Name of a plate without the number of its stage and the letter of its half."""
    words = name.split()
    while words[-1].isdigit() or words[-1] in ("A", "B"):
        words.pop()
    return " ".join(words)


def stage_of(staged: Staged, name: str) -> DrawnStage:
    """Stage that a plate belongs to: by its number, else the first, or the last at the drive."""
    number = next((int(word) for word in name.split() if word.isdigit()), 0)
    if number:
        return staged.stages[number - 1]
    return staged.stages[-1 if name in ("end plate", "drive-end plate") else 0]


def _groups(staged: Staged, stage: DrawnStage, name: str) -> list[tuple[tuple[Circle, ...], str]]:
    """Holes of a plate that lead gas, with what they are for."""
    fed = stage if name != "partition" else staged.stages[stage.number]
    onward = (stage.transfers, "across")
    port = tuple(replace(hole, radius=stage.casing.port_drill / 2) for hole in stage.plenums)
    found = {
        "free-end plate": [(port, f"tap {stage.casing.port}")],
        "supply plate": [(port, "supply"), onward],
        "supply ring": [(stage.plenums, "plenum"), onward],
        "feed ring": [(stage.plenums, "plenum"), onward],
        "nozzle plate": [onward],
        "side ring": [onward],
        "collar plate": [onward],
        "partition": [(fed.plenums, f"to stage {fed.number}")],
        "feed plate": [(stage.plenums, f"to stage {stage.number}"), onward],
    }
    return [(holes, told) for holes, told in found.get(name, []) if holes]


def _group(group: tuple[tuple[Circle, ...], str], present: set[Circle]) -> Sequence[Callout]:
    """Dimension equal holes: one mark for those that a plate has, with their places."""
    holes, told = group
    here = [hole for hole in holes if any(_same(hole, other) for other in present)]
    if not here:
        return ()
    first = here[0]
    x, y = first.centre
    off, way = math.hypot(x, y), math.atan2(y, x)
    size = f"{len(here)}× ⌀{plain(2 * first.radius)}, R{plain(round(off, 2))}"
    at = point_along(way, off + first.radius)
    side: Literal["left", "right"] = "right" if x > 0 else "left"
    degrees = plain(round(math.degrees(way) % 360, 2))
    return (Callout(size, f"{degrees}°; {told}", at, side, centre=first.centre),)


def _same(one: Circle, other: Circle) -> bool:
    return math.dist(one.centre, other.centre) < 1e-6 and abs(one.radius - other.radius) < 1e-6


def _seen(plate: Plate, point: Point) -> Point:
    """Where a point of half a plate lies in its drawing."""
    _, way = middle_of(plate.part)
    x, y = point
    cosine, sine = math.cos(way), math.sin(way)
    return x * cosine + y * sine, y * cosine - x * sine


def _half_marks(stage: DrawnStage, plate: Plate) -> tuple[Callout, ...]:
    """Dimensions of half a plate, its joint below."""
    casing = stage.casing
    inner, _ = middle_of(plate.part)
    holes = [hole for hole in plate.part.inside if isinstance(hole, Circle)]
    bolts = [hole for hole in holes if abs(hole.radius - casing.bolt_hole / 2) < 1e-6]
    dowel = next(hole for hole in holes if abs(hole.radius - casing.bolt_size / 2) < 1e-6)
    bolt = max(bolts, key=lambda hole: hole.centre[0])
    size = 2 * dowel.radius
    turn = math.atan2(dowel.centre[1], dowel.centre[0])
    return (
        Callout(
            f"{len(bolts)}× ⌀{plain(casing.bolt_hole)}",
            f"{casing.bolt}, on R{plain(casing.bolt_circle)}",
            (bolt.centre[0] + bolt.radius, bolt.centre[1]),
            "right",
            centre=bolt.centre,
        ),
        Callout(
            f"⌀{plain(size - REAM_ALLOWANCE)} cut",
            f"ream {limits(size, 'H7').text}",
            point_along(turn, casing.bolt_circle + dowel.radius),
            "right" if dowel.centre[0] > 0 else "left",
            centre=dowel.centre,
        ),
        Callout(
            f"⌀{plain(2 * inner)}",
            f"{limits(2 * inner, 'H7').text}, both halves",
            point_along(0.8 * math.pi, inner),
            "left",
            centre=MIDDLE,
            control=Control("squareness", "0.02", "B"),
        ),
        Callout(
            "faces",
            "",
            point_along(0.9 * math.pi, 0.9 * casing.outside),
            "left",
            control=Control("parallelism", "0.02", "B"),
            datum="B",
        ),
        Callout("joint", "flat, Ra 1.6", (-0.5 * (inner + casing.outside), 0.0), "left"),
    )
