"""The drawing of each flat part: dimensions, tolerances and notes."""

import math
from collections.abc import Sequence

from reports.design import bracket, drawing_wording
from reports.design.bolted_drawings import bolt_axes, bolted_marks, bolted_notes
from reports.design.bolted_parts import ROTOR_PLATES
from reports.design.casing import CONVERGING, Casing, Housing
from reports.design.casing_marks import MIDDLE, casing_marks, jet_axes, plate_axes
from reports.design.drawings.dimensions import Callout, Control
from reports.design.drawings.flat import DetailDrawing, FlatDrawing, Piece
from reports.design.drawings.frames import Block
from reports.design.facts import BuildFacts
from reports.design.outlines import Circle, Part, Point, point_along
from reports.design.plate import Plate
from reports.design.pump import notes as pump_notes
from reports.design.rotor_drawings import rotor_marks, rotor_notes, spoke_axes
from reports.design.shop_sizes import general, plain
from reports.design.stage_drawings import stage_drawing

GENERAL = "ISO 2768-1 f"


def drawing_of(facts: BuildFacts, plate: Plate, block: Block) -> FlatDrawing:
    """Draw a part with everything that its maker must know."""
    part, half = plate.part, plate.part.width / 2
    marks: Sequence[Callout] = ()
    notes: Sequence[str] = ()
    axes: tuple[tuple[Point, Point], ...] = ()
    wide = f"⌀{plain(part.width)} {general(part.width)}"
    if (bolts := facts.bolts) is not None and plate.name in ROTOR_PLATES:
        marks, notes = bolted_marks(facts, bolts, part), bolted_notes(facts, bolts, part)
        axes = bolt_axes(facts, part)
    elif isinstance(part, Part):
        marks, notes = rotor_marks(facts, part), rotor_notes(facts, part)
        axes = spoke_axes(part)
        if isinstance(part.outside, Circle):
            wide = f"⌀{plain(part.width)} {general(part.width)}"
        else:
            wide += ", across the tips"
    elif facts.housing is not None and part.name in bracket.NAMES:
        marks, notes = _bracket_marks(facts.housing), drawing_wording.bracket_notes(facts)
        half = bracket.half_width(facts.housing.outside)
        wide = f"{plain(2 * half)} {general(2 * half)}"
        axes = (((-half - 3, 0.0), (half + 3, 0.0)), ((0.0, -half), (0.0, half + 3)))
    elif facts.staged is not None and not isinstance(part, Part):
        return stage_drawing(facts, facts.staged, plate, block)
    elif facts.housing is not None:
        marks = casing_marks(facts, facts.housing, plate)
        if facts.collector is not None:
            notes = pump_notes.casing_notes(facts, facts.collector, part.name)
        elif facts.casing is not None:
            notes = drawing_wording.casing_notes(facts, facts.casing, part.name)
        axes = plate_axes(facts, facts.housing, plate)
        half = facts.housing.outside
        wide = f"⌀{plain(2 * half)} {general(2 * half)}"
    return FlatDrawing(
        part=part,
        thickness=plate.thickness,
        thick=_thick(facts, plate),
        across=wide,
        across_half=half,
        marks=marks,
        notes=notes,
        block=block,
        description=f"Drawing of the {part.name}, {plain(part.width)} mm across",
        axes=axes,
    )


def _thick(facts: BuildFacts, plate: Plate) -> str:
    shop = facts.tolerances
    within = {
        "disc": shop.thickness,
        "closing disc": shop.thickness,
        "spacer": shop.spacer,
    }.get(plate.part.name)
    told = plain(plate.thickness)
    return f"{told} ±{plain(1e3 * within)}" if within else told


def _bracket_marks(casing: Housing) -> tuple[Callout, ...]:
    """Dimensions of the generator's plate, with room for those of the maker's motor."""
    outer, high = bracket.outermost(casing.outside), bracket.height(casing.outside)
    corner = math.pi / 4
    return (
        Callout(
            f"⌀{bracket.PILOT:g}, then ⌀____ H7",
            "spigot of your motor",
            point_along(0.9 * math.pi, bracket.PILOT / 2),
            "left",
            centre=MIDDLE,
            control=Control("squareness", "0.05", "A"),
        ),
        Callout(
            "foot",
            "",
            (-0.6 * bracket.half_width(casing.outside), -high),
            "left",
            datum="A",
        ),
        Callout(
            f"{bracket.SLOTS}× {bracket.SLOT:g} wide",
            f"{bracket.SLOTS}× 90°; screws on ⌀____",
            point_along(corner, outer, -bracket.SLOT / 2),
            "right",
        ),
        Callout(
            f"⌀{plain(2 * bracket.INNERMOST)} to ⌀{plain(2 * outer)}",
            "middles of the slots' ends",
            point_along(-corner, outer),
            "right",
        ),
        Callout(
            f"{plain(high)} 0/−0.1",
            f"shim by {bracket.SHIM:g} to the shaft",
            (0.6 * bracket.half_width(casing.outside), -high),
            "right",
        ),
    )


def nozzle_drawing(facts: BuildFacts, casing: Casing, block: Block) -> DetailDrawing:
    """Draw one nozzle larger, from its plenum to the casing bore."""
    nozzle = casing.nozzle
    (along, across), inner = nozzle.plenum_at, nozzle.inner
    start, end = along - nozzle.plenum, nozzle.far
    land = (nozzle.land_start + nozzle.throat_end) / 2
    opening = (nozzle.narrowing + nozzle.land_start) / 2
    slope = (inner + (nozzle.inlet + nozzle.throat) / 2, opening)
    whole = [
        Callout(f"R{plain(nozzle.plenum)}", "plenum", (across + nozzle.plenum, along), "right"),
        Callout(f"{math.degrees(CONVERGING):.0f}°", "outer wall", slope, "right"),
        Callout(plain(across), "plenum, across", (across, along), "left"),
        Callout(plain(-along), "plenum, along", (across, along), "left"),
    ]
    throat = inner + nozzle.throat
    close = [
        Callout(f"{plain(nozzle.throat)} ±5 %", "throat", (inner, land), "left", (throat, land)),
        Callout(
            plain(nozzle.land * nozzle.throat),
            "parallel",
            (throat, nozzle.throat_end),
            "right",
            (throat, nozzle.land_start),
        ),
        Callout("Ra 0.8", "both walls", (inner, nozzle.land_start), "left"),
    ]
    if nozzle.exit > nozzle.throat:
        at = (nozzle.offset + nozzle.exit / 2, nozzle.mouth)
        whole.append(Callout(f"{plain(nozzle.exit)} ±5 %", "mouth", at, "right"))
    wide = 0.75 * nozzle.land * nozzle.throat + nozzle.throat
    return DetailDrawing(
        part=casing.nozzle_plate,
        pieces=(
            Piece("A", (across, (start + end) / 2), 1.15 * (end - start) / 2, 44.0, whole),
            Piece("B", (inner + nozzle.throat / 2, land), wide, 25.0, close),
        ),
        notes=drawing_wording.nozzle_notes(facts, casing),
        block=block,
        description=f"Drawing of a nozzle, throat {plain(nozzle.throat)} mm",
        axes=jet_axes(casing, 1),
    )


def block_of(facts: BuildFacts, title: str, sheet: int, sheets: int, **entries: str) -> Block:
    """Fill the title block of one sheet."""
    design = facts.candidate.design
    return Block(
        title=title[:1].upper() + title[1:],
        number=f"{design}-{sheet:02d}",
        sheet=f"{sheet} of {sheets}",
        scale=entries.get("scale", ""),
        pieces=entries.get("pieces", ""),
        material=entries.get("material", ""),
        tolerances=entries.get("tolerances", GENERAL),
        study=facts.study.title,
        provenance=facts.provenance,
    )
