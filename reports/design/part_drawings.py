"""The drawing of each flat part: dimensions, notes and title block."""

import math
from collections.abc import Sequence

from reports.design import drawing_wording
from reports.design.casing import CONVERGING, Casing
from reports.design.drawing import Callout, Detail, Drawing, scale_of, scale_text
from reports.design.facts import BuildFacts
from reports.design.machine import REAM_ALLOWANCE, Plate
from reports.design.outlines import Circle, Part, Point, axis_of, point_along
from reports.design.sheet_tables import general, millimetres, mm, of, plus_minus
from reports.kit import quantities


def drawing_of(facts: BuildFacts, plate: Plate, *, sheet: str) -> Drawing:
    """Draw a part with everything that its maker must know; `sheet` is its place in the set."""
    part = plate.part
    across = f"⌀{millimetres(part.width)} {general(part.width)}"
    callouts: tuple[Callout, ...] = ()
    notes: Sequence[str] = ()
    axes: tuple[tuple[Point, Point], ...] = ()
    if isinstance(part, Part):
        callouts, notes = _rotor_callouts(facts, part), _rotor_notes(facts, part)
        axes = _spoke_axes(part)
        across += "" if isinstance(part.outside, Circle) else ", across the tips"
    elif facts.casing is not None:
        callouts = _casing_callouts(facts, facts.casing, plate)
        notes = drawing_wording.casing_notes(facts, facts.casing, part.name)
        axes = _jet_axes(facts.casing, plate, round(facts.number("nozzle_count")))
    return Drawing(
        part=part,
        across=across,
        callouts=callouts,
        notes=notes,
        block=_block(facts, plate, sheet),
        description=f"Drawing of the {part.name}, {millimetres(part.width)} across",
        axes=axes,
        detail=_nozzle_detail(facts.casing)
        if facts.casing and part.name == "nozzle plate"
        else None,
    )


def _rotor_notes(facts: BuildFacts, part: Part) -> Sequence[str]:
    if isinstance(part.outside, Circle):
        return drawing_wording.disc_notes(facts)
    return drawing_wording.spacer_notes(facts, part.name)


def _rotor_callouts(facts: BuildFacts, part: Part) -> tuple[Callout, ...]:
    """Dimensions of a part of the rotor, each at an edge of its own."""
    web = facts.web
    hole, edge = 2 * web.shaft_radius, point_along(math.pi, web.shaft_radius)
    small = millimetres(round(hole - REAM_ALLOWANCE, 3))
    reamed = Callout(f"⌀{small}", f"ream ⌀{millimetres(hole)} H7", edge, "left")
    if len(part.inside) == 1 and isinstance(part.outside, Circle):
        return (reamed,)
    last, left = axis_of(web, web.spokes - 1), axis_of(web, round(web.spokes / 3))
    middle, half = (web.hub_radius + web.bore_radius) / 2, web.spoke_width / 2
    hub = 2 * web.hub_radius
    found = [
        Callout(
            f"{millimetres(web.spoke_width)}",
            f"{general(web.spoke_width)}, {web.spokes} spokes",
            point_along(left, middle, -half),
            "left",
            over=point_along(left, middle, half),
        ),
        reamed,
        Callout(f"R{millimetres(web.fillet)}", "every corner", part.corner, "left"),
        Callout(
            f"⌀{millimetres(hub)}",
            f"{general(hub)}, hub",
            point_along((last + axis_of(web, 0) + 2 * math.pi) / 2, web.hub_radius),
            "right",
        ),
    ]
    if isinstance(part.outside, Circle):
        bore = 2 * web.bore_radius
        at = point_along(axis_of(web, 0) - 2 / 3 * math.pi / web.spokes, web.bore_radius)
        found.append(
            Callout(f"⌀{millimetres(bore)}", f"{general(bore)}, exhaust bore", at, "right")
        )
    return tuple(found)


def _spoke_axes(part: Part) -> tuple[tuple[Point, Point], ...]:
    """Lines through the middle of every spoke, to beyond the edge on both sides."""
    reach = 1.06 * part.width / 2
    return tuple(
        (point_along(axis, reach), point_along(axis, -reach))
        for axis in (axis_of(part.web, spoke) for spoke in range(part.web.spokes))
    )


def _casing_callouts(facts: BuildFacts, casing: Casing, plate: Plate) -> tuple[Callout, ...]:
    """Dimensions of a plate of the casing."""
    name, circle = plate.part.name, casing.bolt_circle
    at = math.tau * round(casing.bolts / 8) / casing.bolts
    found = [
        Callout(
            f"{casing.bolts}× ⌀{millimetres(casing.bolt_hole)}",
            f"{casing.bolt}, on ⌀{millimetres(round(2 * circle, 2))}",
            point_along(at, circle, casing.bolt_hole / 2),
            "right",
        )
    ]
    middle = next((e for e in plate.part.inside[:1] if isinstance(e, Circle)), None)
    radius = middle.radius if middle is not None else casing.bore
    within = {
        "nozzle plate": "H8, casing bore",
        "side ring": "H8, casing bore",
        "supply ring": "H8, casing bore",
        "end plate": "H7, collar seal runs in it",
        "supply plate": "H7, collar seal runs in it",
    }.get(name, general(2 * radius))
    found.append(
        Callout(
            f"⌀{millimetres(round(2 * radius, 3))}", within, point_along(math.pi, radius), "left"
        )
    )
    if name == "nozzle plate":
        count = quantities.bare("nozzle_count", facts.number("nozzle_count"))
        axis = (casing.nozzle.offset, casing.nozzle.mouth)
        found.append(Callout(_mm(axis[0]), f"axis of each jet, {count}", axis, "right"))
    elif name.startswith("supply"):
        along, across = casing.nozzle.plenum_at
        radius = casing.nozzle.plenum
        edge = (across + radius, along)
        found.append(Callout(f"⌀{_mm(2 * radius)}", "at every plenum", edge, "right"))
    return tuple(found)


def _nozzle_detail(casing: Casing) -> Detail:
    """Draw one nozzle larger, from its plenum to the casing bore."""
    nozzle = casing.nozzle
    (along, across), inner = nozzle.plenum_at, nozzle.inner
    start, end = along - nozzle.plenum, nozzle.far
    land = (nozzle.land_start + nozzle.throat_end) / 2
    opening = (nozzle.narrowing + nozzle.land_start) / 2
    slope = (inner + (nozzle.inlet + nozzle.throat) / 2, opening)
    found = [
        Callout(f"R{_mm(nozzle.plenum)}", "plenum", (across + nozzle.plenum, along), "right"),
        Callout(f"{math.degrees(CONVERGING):.0f}°", "outer wall", slope, "right"),
        Callout(
            _mm(nozzle.throat),
            "±5 %, throat",
            (inner, land),
            "left",
            over=(inner + nozzle.throat, land),
        ),
        Callout(_mm(across), "plenum, across", (across, along), "left"),
        Callout(_mm(-along), "plenum, along", (across, start), "left"),
    ]
    if nozzle.exit > nozzle.throat:
        at = (nozzle.offset + nozzle.exit / 2, nozzle.mouth)
        found.append(Callout(_mm(nozzle.exit), "±5 %, mouth", at, "right"))
    return Detail((across, (start + end) / 2), 1.15 * (end - start) / 2, tuple(found))


def _jet_axes(casing: Casing, plate: Plate, nozzles: int) -> tuple[tuple[Point, Point], ...]:
    """Both axes of the plate; on the nozzle plate the axis of every jet."""
    reach = 1.03 * casing.outside
    found = [((-reach, 0.0), (reach, 0.0)), ((0.0, -reach), (0.0, reach))]
    if plate.part.name == "nozzle plate":
        back, offset = casing.nozzle.plenum_at[0] - casing.nozzle.plenum, casing.nozzle.offset
        for place in range(nozzles):
            turn = math.tau * place / nozzles
            start = point_along(turn, offset, back)
            found.append((start, point_along(turn, offset, 0.0)))
    return tuple(found)


def _mm(value: float) -> str:
    return millimetres(round(value, 3))


def _block(facts: BuildFacts, plate: Plate, sheet: str) -> tuple[tuple[tuple[str, str], ...], ...]:
    shop = facts.tolerances
    within = {
        "disc": shop.thickness,
        "closing disc": shop.thickness,
        "spacer": shop.spacer,
    }.get(plate.part.name)
    thickness = {
        "disc": of(facts, "disc_thickness"),
        "closing disc": of(facts, "disc_thickness"),
        "spacer": of(facts, "gap"),
    }.get(plate.part.name, mm(plate.thickness / 1e3))
    return (
        (
            ("Part", plate.part.name.capitalize()),
            ("Design", str(facts.candidate.design)),
            ("Pieces", quantities.count(plate.pieces)),
            ("Thickness", f"{thickness} {plus_minus(within)}" if within else thickness),
            ("Scale", scale_text(scale_of(plate.part))),
            ("Unit", "mm"),
            ("Sheet", sheet),
        ),
        (("Material", plate.material), ("State", "trial, not released")),
        tuple(facts.provenance.items()),
        (("Study", facts.study.title),),
    )
