"""Drawings of a build whose discs bolts hold: disc and end plate, and a list of their parts.

The rest of the machine is not drawn, and the files say so. The end plate is the end clamp with the
ring of a disc around its web; its spokes stand on the lines of the bolts.
"""

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import replace

from engine.columns import COLUMNS
from engine.model.shaft_layout import CLAMP_THICKNESS
from engine.physics.machine.bolts import bolt_circle
from engine.physics.machine.clamp import FACE_RATIO
from reports.design.drawings.dimensions import Callout
from reports.design.drawings.dxf import DXF_VERSION, dxf_of
from reports.design.drawings.flat import FlatDrawing, flat_sheet
from reports.design.drawings.paper import A4, FORMATS, svg_of
from reports.design.drawings.pdf import pdf_of
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.outlines import Circle, Flat, Part, Point, axis_of, disc, point_along
from reports.design.part_drawings import block_of
from reports.design.plate import as_cut
from reports.design.rotor_drawings import rotor_marks
from reports.design.shop_sizes import general, plain
from reports.kit.quantities import count, number

MIDDLE = (0.0, 0.0)
NOT_DRAWN = (
    "Of a machine whose discs bolts hold, disc and end plate alone are drawn. Casing, shaft, "
    "balance and assembly are not: take them from the sheet of a design on spokes of the same size."
)
LIMITS = (
    "The waves hold for bolts so tight that no washer lifts, between end plates that do not give "
    "way. The stress holds for discs that may stretch freely in their plane."
)


def write_bolted(
    data: BuildData, *, dxf: str = DXF_VERSION, paper: str = A4.name
) -> Mapping[str, str | bytes]:
    """Make every file by name: drawings as PDF, SVG and DXF, a list of parts, and notes.

    `dxf` is the version of the DXF files, `paper` the size of the drawings. Raises NoWebError where
    the web of the end plates cannot be drawn.
    """
    facts = build_facts_of(data)
    ring, plate = ring_on_bolts(facts), end_plate(facts)
    sheets = {}
    for place, (part, thick, pieces) in enumerate(_cut(facts, ring, plate), 1):
        block = block_of(
            facts,
            part.name,
            place,
            2,
            material=facts.word("material"),
            pieces=count(pieces),
        )
        drawing = FlatDrawing(
            part=part,
            thickness=thick,
            thick=plain(round(thick, 3)),
            across=f"⌀{plain(part.width)} {general(part.width)}",
            across_half=part.width / 2,
            marks=_marks(facts, part),
            notes=_notes(facts, part),
            block=block,
            description=f"Drawing of the {part.name}, {plain(part.width)} mm across",
            axes=_axes(facts, part),
        )
        sheets[part.name.replace(" ", "-")] = drawing
    title = f"{facts.study.title}, design {facts.candidate.design}"
    drawn = {name: flat_sheet(_on(drawing, paper)) for name, drawing in sheets.items()}
    files: dict[str, str | bytes] = {"drawings.pdf": pdf_of(list(drawn.values()), title)}
    files |= {f"{name}.svg": svg_of(sheet) for name, sheet in drawn.items()}
    files |= {
        f"{name}.dxf": dxf_of(as_cut(sheet.part), sheet.block.entries, version=dxf)
        for name, sheet in sheets.items()
    }
    return files | {
        "parts.csv": _parts(facts),
        "notes.txt": "\n\n".join((NOT_DRAWN, LIMITS)) + "\n",
    }


def bolts_at(facts: BuildFacts) -> tuple[Circle, ...]:
    """Holes for the bolts, each on the line of a spoke of the end plates [mm]."""
    size = {key: float(facts.candidate.values[key]) for key in _SIZES}
    found = bolt_circle(
        r_inner=size["exhaust_bore"] / 2,
        r_outer=size["disc_diameter"] / 2,
        bolts=size["spokes"],
        circle=size["bolt_circle"],
        bolt=size["bolt_diameter"],
        washer=size["washer_diameter"],
    )
    circle, hole = (1e3 * float(each) for each in (found.circle, found.hole))
    web = facts.web
    return tuple(
        Circle(hole, point_along(axis_of(web, bolt), circle)) for bolt in range(web.spokes)
    )


_SIZES = (
    "exhaust_bore", "disc_diameter", "spokes", "bolt_circle", "bolt_diameter", "washer_diameter",
)  # fmt: skip


def ring_on_bolts(facts: BuildFacts) -> Flat:
    """Disc: a ring with holes for the bolts [mm]."""
    bore = Circle(facts.web.bore_radius)
    return Flat("disc", facts.disc.outside, (bore, *bolts_at(facts)))


def end_plate(facts: BuildFacts) -> Part:
    """End plate: the ring on its web, with the same holes [mm]."""
    whole = disc(diameter=facts.disc.width, web=facts.web)
    return Part("end plate", whole.outside, (*whole.inside, *bolts_at(facts)), facts.web)


def _cut(facts: BuildFacts, ring: Flat, plate: Part) -> tuple[tuple[Flat, float, int], ...]:
    """List what is cut of sheet: part, thickness [mm], pieces."""
    discs, sheet = round(facts.number("disc_count")), _millimetres(facts, "disc_thickness")
    return (ring, sheet, discs), (plate, 1e3 * CLAMP_THICKNESS, 2)


def _millimetres(facts: BuildFacts, key: str) -> float:
    return float(COLUMNS[key].to_drawing(facts.number(key)))


def _marks(facts: BuildFacts, part: Flat) -> tuple[Callout, ...]:
    """Dimensions of a disc or an end plate."""
    bolts, web = bolts_at(facts), facts.web
    # Where the other dimensions leave room.
    on_right = isinstance(part, Part)
    bolt, way = (bolts[0], 0.0) if on_right else (bolts[1], math.pi)
    x, y = point_along(way, bolt.radius)
    apart = f"{web.spokes}× {number(360 / web.spokes, 3, trim=True)}°"
    holes = Callout(
        f"{web.spokes}× ⌀{plain(2 * bolt.radius)} H11",
        f"on ⌀{plain(round(2 * math.hypot(*bolt.centre), 2))}, {apart}",
        (bolt.centre[0] + x, bolt.centre[1] + y),
        "right" if on_right else "left",
        centre=bolt.centre,
    )
    if isinstance(part, Part):
        return (*rotor_marks(facts, part), holes)
    bore = web.bore_radius
    at = point_along(axis_of(web, 0) - math.pi / web.spokes, bore)
    return (
        Callout(
            f"⌀{plain(2 * bore)} {general(2 * bore)}", "exhaust bore", at, "right", centre=MIDDLE
        ),
        holes,
    )


def _notes(facts: BuildFacts, part: Flat) -> tuple[str, ...]:
    washer = f"⌀{plain(_millimetres(facts, 'washer_diameter'))}"
    gap = plain(round(_millimetres(facts, "gap"), 3))
    if isinstance(part, Part):
        return (
            (
                "One at each end, on the outermost disc; a tube on the shaft keeps them apart. "
                "Ream A and the bolts' holes of both with the discs between them."
            ),
            NOT_DRAWN,
        )
    return (
        (
            f"Between two discs a washer {washer}, {gap} thick, on every bolt: the gap. Measure "
            "every washer. No burrs."
        ),
        LIMITS,
    )


def _axes(facts: BuildFacts, part: Flat) -> tuple[tuple[Point, Point], ...]:
    """Lines through the middle of every bolt."""
    reach = 1.04 * part.width / 2
    turns = [axis_of(facts.web, bolt) for bolt in range(facts.web.spokes)]
    return tuple((point_along(turn, reach), point_along(turn, -reach)) for turn in turns)


def _on(drawing: FlatDrawing, paper: str) -> FlatDrawing:
    return replace(drawing, block=replace(drawing.block, format=FORMATS[paper]))


def _parts(facts: BuildFacts) -> str:
    """Write the list of parts, a line a part."""
    bolts, discs = facts.web.spokes, round(facts.number("disc_count"))
    sheet, gap, bolt, washer, shaft = (
        _millimetres(facts, key)
        for key in ("disc_thickness", "gap", "bolt_diameter", "washer_diameter", "shaft_diameter")
    )
    high = discs * sheet + (discs - 1) * gap
    grip = high + 2e3 * CLAMP_THICKNESS
    rows = [
        ("part", "pieces", "file", "material", "remark"),
        ("disc", discs, "disc.dxf", facts.word("material"), f"{plain(round(sheet, 3))} mm"),
        ("end plate", 2, "end-plate.dxf", facts.word("material"), f"{1e3 * CLAMP_THICKNESS:g} mm"),
        (
            "washer", bolts * (discs - 1), "", "steel",
            f"{plain(washer)} x {plain(bolt)} x {plain(round(gap, 3))} mm, hard, sorted",
        ),
        ("bolt with nut", bolts, "", "steel 8.8", f"M{plain(bolt)}, grip {grip:.1f} mm"),
        (
            "tube", 1, "", "steel",
            f"{plain(shaft)} x {plain(FACE_RATIO * shaft)}, {high:.2f} mm long, as the pack",
        ),
    ]  # fmt: skip
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerows(rows)
    return written.getvalue()
