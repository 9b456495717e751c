"""Build sheet of a design: a page to print, and files of every flat part to cut from."""

from collections.abc import Mapping

from markupsafe import Markup

from engine.columns import COLUMNS
from reports.design import casing_wording, sheet_tables, sheet_wording
from reports.design.drawing import DXF_VERSION, dxf_of, svg_of
from reports.design.facts import BuildData, build_facts_of
from reports.design.machine import as_cut, plates_of
from reports.design.order import order_of
from reports.design.part_drawings import drawing_of
from reports.design.step import step_of
from reports.kit import quantities
from reports.kit.rendering import render
from reports.kit.svg import Drawing, failure
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


def _sign(mode: str) -> Markup:
    """Draw the mark that a way of failing has in every chart."""
    shape, words = failure(mode)
    drawing = Drawing(14, 14, says=words)
    drawing.mark((7, 7), shape, "ink", 5)
    return drawing.svg()


def write_sheet(data: BuildData, *, dxf: str = DXF_VERSION) -> Mapping[str, str]:
    """Make every file of a build sheet, as text by name.

    `dxf` is the version of the DXF files. Raises NoWebError where hub and spokes cannot be drawn.
    """
    facts = build_facts_of(data)
    plates = plates_of(facts)
    drawings = {
        plate.file: drawing_of(facts, plate, sheet=f"{place} of {len(plates)}")
        for place, plate in enumerate(plates, 1)
    }
    page = render(
        "sheet.html.j2",
        style="page.css",
        facts=facts,
        columns=COLUMNS,
        of_candidate=candidate_wording,
        of_trip=trip_wording,
        of_casing=casing_wording,
        words=sheet_wording,
        tables=sheet_tables,
        say=quantities,
        sign=_sign,
        heads=[key for key in (*GIVES, *STRENGTH) if key in facts.candidate.values],
        drawings={
            # Made here; the drawing's text was escaped as it was written.
            name: Markup(svg_of(drawing, inline=True))  # noqa: S704
            for name, drawing in drawings.items()
        },
    )
    files = {"sheet.html": page}
    for name, drawing in drawings.items():
        files[f"{name}.svg"] = svg_of(drawing)
        # What a DXF's properties say, so that the file alone can be traced.
        about = {name: entry for row in drawing.block for name, entry in row}
        files[f"{name}.dxf"] = dxf_of(as_cut(drawing.part), about, version=dxf)
    files["order.csv"] = order_of(plates)
    files["machine.step"] = step_of(plates, f"{facts.study.title}, design {facts.candidate.design}")
    return files
