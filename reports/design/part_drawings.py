"""The drawing of each flat part: dimensions, tolerances and notes."""

import math
from collections.abc import Sequence

from reports.design import bracket, drawing_wording
from reports.design.carriers import ARM, ARMS, FOOT_SHARE, SCREW, TAP_DRILL, centre_height
from reports.design.casing import CONVERGING, Casing, Housing
from reports.design.collector import Collector
from reports.design.drawings.dimensions import Callout, Control
from reports.design.drawings.flat import DetailDrawing, FlatDrawing, Piece
from reports.design.drawings.frames import Block
from reports.design.facts import BuildFacts
from reports.design.fits import limits
from reports.design.outlines import Circle, Outline, Part, Point, point_along
from reports.design.plate import REAM_ALLOWANCE, Plate
from reports.design.pump import notes as pump_notes
from reports.design.pump.drawings import pump_marks
from reports.design.rotor_drawings import rotor_marks, rotor_notes, spoke_axes
from reports.design.shop_sizes import general, plain
from reports.design.turned_parts import carrier_screws
from reports.kit.quantities import number

MIDDLE = (0.0, 0.0)
GENERAL = "ISO 2768-1 f"


def drawing_of(facts: BuildFacts, plate: Plate, block: Block) -> FlatDrawing:
    """Draw a part with everything that its maker must know."""
    part, half = plate.part, plate.part.width / 2
    marks: Sequence[Callout] = ()
    notes: Sequence[str] = ()
    axes: tuple[tuple[Point, Point], ...] = ()
    wide = f"⌀{plain(part.width)} {general(part.width)}"
    if isinstance(part, Part):
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
    elif facts.housing is not None:
        marks = _casing_marks(facts, facts.housing, plate)
        if facts.collector is not None:
            notes = pump_notes.casing_notes(facts, facts.collector, part.name)
        elif facts.casing is not None:
            notes = drawing_wording.casing_notes(facts, facts.casing, part.name)
        axes = _plate_axes(facts, facts.housing, plate)
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


def _casing_marks(facts: BuildFacts, casing: Housing, plate: Plate) -> tuple[Callout, ...]:
    """Dimensions of a plate of the casing, or of one that holds a bearing."""
    name, circle = plate.part.name, casing.bolt_circle
    place = max(casing.bolts // 8, 1)
    bolt, dowel = casing.holes[place].centre, casing.holes[casing.bolts]
    size, turn = 2 * dowel.radius, math.tau / casing.bolts
    found = [
        Callout(
            f"{casing.bolts}× ⌀{plain(casing.bolt_hole)}",
            f"{casing.bolts}× {number(360 / casing.bolts, 4, trim=True)}°, {casing.bolt}",
            point_along(place * turn, circle + casing.bolt_hole / 2),
            "right",
            centre=bolt,
        ),
        Callout(
            f"2× ⌀{plain(size - REAM_ALLOWANCE)} cut",
            f"ream {limits(size, 'H7').text}",
            point_along(turn / 2, circle + dowel.radius),
            "right",
            centre=dowel.centre,
            control=Control("position", "⌀0.02", "B"),
        ),
        Callout(
            f"⌀{plain(2 * circle)} ±0.1",
            f"dowels at {_degrees(casing, 0)}, {_degrees(casing, 1)}",
            point_along(-turn / 2, circle),
            "right",
            centre=MIDDLE,
        ),
    ]
    middle = next((e for e in plate.part.inside[:1] if isinstance(e, Circle)), None)
    round_hole = middle is not None or facts.casing is not None
    radius = middle.radius if middle is not None else casing.bore
    fit = {
        "nozzle plate": ("H8", "casing bore"),
        "side ring": ("H8", "casing bore"),
        "supply ring": ("H8", "casing bore"),
        "port ring": ("H8", "casing bore"),
        "end plate": ("H7", f"{facts.seal} runs in it"),
        "port plate": ("H7", f"{facts.seal} runs in it"),
        "supply plate": ("H7", "collar runs in it"),
        "free-end plate": ("H7", "carrier"),
        "drive-end plate": ("H7", "carrier"),
    }.get(name)
    within = limits(2 * radius, fit[0]).text if fit else general(2 * radius)
    square = Control("squareness", "0.02", "B") if fit and fit[0] == "H7" else None
    if round_hole:
        found.append(
            Callout(
                f"⌀{plain(2 * radius)}",
                within,
                point_along(math.pi * 0.9, radius),
                "left",
                centre=MIDDLE,
                control=square,
                datum="A" if square is None else "",
            )
        )
    found.append(
        Callout(
            "faces" if not fit else f"faces; {fit[1]}",
            "",
            point_along(math.pi * 1.1, casing.outside - 0.3 * (casing.outside - circle)),
            "left",
            control=Control("parallelism", "0.02", "B"),
            datum="B",
        )
    )
    return (*found, *_special_marks(facts, casing, plate))


def _degrees(casing: Housing, dowel: int) -> str:
    x, y = casing.holes[casing.bolts + dowel].centre
    return f"{number(math.degrees(math.atan2(y, x)) % 360, 4, trim=True)}°"


def _special_marks(facts: BuildFacts, casing: Housing, plate: Plate) -> list[Callout]:
    """Dimensions that only one kind of plate has."""
    name, found = plate.part.name, list[Callout]()
    nozzles = round(facts.number("nozzle_count"))
    if isinstance(casing, Collector):
        found += pump_marks(casing, plate)
    if not isinstance(casing, Casing):
        pass
    elif name == "nozzle plate":
        axis = (casing.nozzle.offset, casing.nozzle.mouth)
        found.append(Callout(plain(casing.nozzle.offset), f"{nozzles}×, jet's axis", axis, "right"))
    elif name.startswith("supply"):
        along, across = casing.nozzle.plenum_at
        threaded = name == "supply plate"
        size = casing.port_drill if threaded else 2 * casing.nozzle.plenum
        ports = f"tap {casing.port} through" if threaded else "at every plenum"
        port = (across + size / 2, along)
        text = f"{nozzles}× ⌀{plain(size)}"
        found.append(Callout(text, ports, port, "right", centre=(across, along)))
    if name in ("free-end plate", "drive-end plate"):
        screws, turn = carrier_screws(facts) / 2, math.tau / ARMS
        tap = point_along(-turn, screws)
        outer = casing.bolt_circle - casing.bolt_hole / 2 - 4
        foot, level = FOOT_SHARE * casing.outside, 6 - centre_height(casing.outside)
        found += [
            Callout(
                f"{ARMS}× ⌀{plain(TAP_DRILL)}",
                f"tap {SCREW}, on ⌀{plain(2 * screws)}",
                point_along(-turn, screws + TAP_DRILL / 2),
                "left",
                centre=tap,
            ),
            Callout(
                f"{plain(2 * foot)} {general(2 * foot)}",
                "foot",
                (-foot, level),
                "left",
                over=(foot, level),
            ),
            Callout(
                plain(centre_height(casing.outside)),
                "±0.05, centre height",
                (0.6 * casing.outside, -centre_height(casing.outside)),
                "right",
            ),
        ]
        if any(isinstance(edge, Outline) for edge in plate.part.inside):
            arms = f"{ARMS} arms {plain(ARM)} wide"
            found.append(Callout(f"R{plain(outer)}", arms, (0.0, -outer), "left"))
    return found


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
        axes=_jet_axes(casing, 1),
    )


def _plate_axes(
    facts: BuildFacts, casing: Housing, plate: Plate
) -> tuple[tuple[Point, Point], ...]:
    """Both axes of the plate; on the nozzle plate the axis of every jet."""
    reach = 1.03 * casing.outside
    found = (((-reach, 0.0), (reach, 0.0)), ((0.0, -reach), (0.0, reach)))
    if isinstance(casing, Casing) and plate.part.name == "nozzle plate":
        return (*found, *_jet_axes(casing, round(facts.number("nozzle_count"))))
    return found


def _jet_axes(casing: Casing, nozzles: int) -> tuple[tuple[Point, Point], ...]:
    back, offset = casing.nozzle.plenum_at[0] - casing.nozzle.plenum, casing.nozzle.offset
    turns = [math.tau * place / nozzles for place in range(nozzles)]
    return tuple(
        (point_along(turn, offset, back), point_along(turn, offset, 0.0)) for turn in turns
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
