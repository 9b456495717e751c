"""Build sheet of a design: a page to print, and drawings of disc and spacer to cut from."""

import math
from collections.abc import Mapping

from markupsafe import Markup

from engine.bench.readings import READ
from engine.catalogue import materials
from engine.columns import COLUMNS
from reports.design import casing_wording, sheet_tables, sheet_wording
from reports.design.drawing import Callout, Drawing, dxf_of, scale_of, scale_text, svg_of
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.outlines import Part, axis_of, point_along
from reports.design.sheet_tables import general, millimetres, of, plus_minus, reamed_text
from reports.kit import quantities
from reports.kit.rendering import render
from reports.run import candidate_wording, trip_wording

GIVES = (
    "electric_power",
    "resolved_power",
    "electric_power_p10",
    "chance_all",
    "mass_flow",
    "free_air_flow",
    "supply_efficiency",
    "turbine_efficiency",
)
STRENGTH = ("safety_margin", "stress_margin", "gap_hold", "stored_energy")
"""Results at the head of the sheet."""


def write_sheet(data: BuildData) -> Mapping[str, str]:
    """Make every file of a build sheet, as text by name.

    Raises NoWebError where hub and spokes cannot be drawn.
    """
    facts = build_facts_of(data)
    drawings = {"disc": _disc(facts), "spacer": _spacer(facts)}
    page = render(
        "sheet.html.j2",
        style="sheet.css",
        facts=facts,
        columns=COLUMNS,
        of_candidate=candidate_wording,
        of_trip=trip_wording,
        of_casing=casing_wording,
        words=sheet_wording,
        tables=sheet_tables,
        say=quantities,
        heads=[key for key in (*GIVES, *STRENGTH) if key in facts.candidate.values],
        read=READ,
        loaded=sheet_wording.loaded_rows(facts),
        band_text=sheet_wording.band_text,
        drawings={
            # Made here; the drawing's text was escaped as it was written.
            name: Markup(svg_of(drawing, inline=True))  # noqa: S704
            for name, drawing in drawings.items()
        },
    )
    files = {"sheet.html": page}
    for name, drawing in drawings.items():
        files[f"{name}.svg"] = svg_of(drawing)
        files[f"{name}.dxf"] = dxf_of(drawing.part, _about(drawing))
    return files


def _about(drawing: Drawing) -> dict[str, str]:
    """List what a DXF's properties say, so that the file alone can be traced."""
    return {name: entry for row in drawing.block for name, entry in row}


def _disc(facts: BuildFacts) -> Drawing:
    web, part = facts.web, facts.disc
    callouts = (
        *_web_callouts(facts, part),
        Callout(
            f"⌀{millimetres(2 * web.bore_radius)}",
            f"{general(2 * web.bore_radius)}, exhaust bore",
            point_along(axis_of(web, 0) - 2 / 3 * math.pi / web.spokes, web.bore_radius),
            "right",
        ),
    )
    shop = facts.tolerances
    return Drawing(
        part=part,
        across=f"⌀{millimetres(part.width)} {general(part.width)}",
        callouts=callouts,
        notes=sheet_wording.disc_notes(facts),
        block=_block(
            facts,
            part,
            pieces=facts.number("disc_count") - facts.blanks,
            thickness=f"{of(facts, 'disc_thickness')} {plus_minus(shop.thickness)}",
        ),
        description=f"Drawing of the disc, {millimetres(part.width)} across, {web.spokes} openings",
    )


def _spacer(facts: BuildFacts) -> Drawing:
    part = facts.spacer
    return Drawing(
        part=part,
        across=f"⌀{millimetres(part.width)} {general(part.width)}, across the tips",
        callouts=_web_callouts(facts, part),
        notes=sheet_wording.spacer_notes(facts),
        block=_block(
            facts,
            part,
            pieces=facts.number("disc_count") - 1,
            thickness=f"{of(facts, 'gap')} {plus_minus(facts.tolerances.spacer)}",
        ),
        description=(
            f"Drawing of the spacer, {millimetres(part.width)} across, {part.web.spokes} spokes"
        ),
    )


def _web_callouts(facts: BuildFacts, part: Part) -> tuple[Callout, ...]:
    """Dimensions that disc and spacer share, each at an edge of its own."""
    web = facts.web
    last, left = axis_of(web, web.spokes - 1), axis_of(web, round(web.spokes / 3))
    middle = (web.hub_radius + web.bore_radius) / 2
    half = web.spoke_width / 2
    hole, hub = 2 * web.shaft_radius, 2 * web.hub_radius
    edge = point_along(math.pi, web.shaft_radius)
    return (
        Callout(
            f"{millimetres(web.spoke_width)}",
            f"{general(web.spoke_width)}, {web.spokes} spokes",
            point_along(left, middle, -half),
            "left",
            over=point_along(left, middle, half),
        ),
        Callout(f"⌀{millimetres(hole)}", reamed_text(hole), edge, "left"),
        Callout(f"R{millimetres(web.fillet)}", "every corner", part.corner, "left"),
        Callout(
            f"⌀{millimetres(hub)}",
            f"{general(hub)}, hub",
            point_along((last + axis_of(web, 0) + 2 * math.pi) / 2, web.hub_radius),
            "right",
        ),
    )


def _block(
    facts: BuildFacts, part: Part, *, pieces: float, thickness: str
) -> tuple[tuple[tuple[str, str], ...], ...]:
    return (
        (
            ("Part", part.name.capitalize()),
            ("Design", str(facts.candidate.design)),
            ("Pieces", quantities.count(pieces)),
            ("Thickness", thickness),
            ("Scale", scale_text(scale_of(part))),
            ("Unit", "mm"),
        ),
        (("Material", materials()[facts.word("material")].title), *facts.provenance.items()),
        (("Study", facts.study.title),),
    )
