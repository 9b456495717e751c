"""Build sheet of a design: a page to print, and files to make every part from."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import ModuleType

from markupsafe import Markup

from engine.columns import COLUMNS, columns_of
from engine.model.socket import AtSocket
from reports.design import (
    casing_wording,
    rounding_wording,
    sheet_tables,
    sheet_wording,
    stage_wording,
)
from reports.design.balance_wording import balance
from reports.design.drawing_set import drawing_set
from reports.design.drawings.dxf import DXF_VERSION, dxf_of
from reports.design.drawings.paper import A4, FORMATS, in_page, svg_of
from reports.design.drawings.pdf import pdf_of
from reports.design.facts import BuildData, BuildFacts, build_facts_of
from reports.design.items import bought_list, items_of, parts_list, turned_list, whole_list
from reports.design.order import order_of
from reports.design.part_rows import part_rows
from reports.design.plate import Plate, as_cut
from reports.design.pump import casing_wording as pump_casing
from reports.design.pump import tables as pump_tables
from reports.design.pump import wording as pump_wording
from reports.design.sheet_quantities import turns
from reports.design.step import step_of
from reports.design.turned_parts import TurnedPart
from reports.kit import quantities
from reports.kit.rendering import render
from reports.kit.svg import Drawing, failure
from reports.run import in_time_wording, socket_wording
from reports.run.charts.in_time import charts_of

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
OF_PUMP = (
    "flow",
    "head",
    "resolved_head",
    "shutoff_head",
    "electric_power",
    "electric_power_p90",
    "wire_to_water",
    "npsh_required",
    "npsh_margin",
    "motor_load",
    "free_passage",
    "chance_all",
)
STRENGTH = ("safety_margin", "stress_margin", "gap_hold", "stored_energy")
"""Results at the head of the sheet."""


@dataclass(frozen=True)
class _Kind:
    """What a kind of machine says of itself."""

    words: ModuleType
    tables: ModuleType
    of_casing: ModuleType
    gives: tuple[str, ...]


OF_KIND: Mapping[str, _Kind] = {
    "turbine": _Kind(sheet_wording, sheet_tables, casing_wording, GIVES),
    "pump": _Kind(pump_wording, pump_tables, pump_casing, OF_PUMP),
}
TO_PRINT = ("general-arrangement", "exploded-view", "exploded-view-2")
"""Drawings that are printed with the page, the last where there is one; all are in the PDF."""


def _sign(mode: str) -> Markup:
    """Draw the mark that a way of failing has in every chart."""
    shape, words = failure(mode)
    drawing = Drawing(14, 14, says=words)
    drawing.mark((7, 7), shape, "ink", 5)
    return drawing.svg()


def _in_time(facts: BuildFacts, socket: AtSocket | None) -> list[Markup]:
    """Draw the build in time, where its study has events."""
    if socket is None or socket.in_time is None:
        return []
    name = f"Design {facts.candidate.design}"
    return [each.svg() for each in charts_of(name, facts.candidate.values, socket.in_time)]


def write_sheet(
    data: BuildData, *, dxf: str = DXF_VERSION, paper: str = A4.name
) -> Mapping[str, str | bytes]:
    """Make every file of a build sheet by name: text, and a PDF of all drawings.

    `dxf` is the version of the DXF files, `paper` the size of the drawings' files; the page itself
    is for A4. Raises NoWebError where hub and spokes cannot be drawn.
    """
    facts = build_facts_of(data)
    kind = OF_KIND[facts.study.kind]
    gives = (*kind.gives, "pressure_rise") if facts.study.works_as == "blower" else kind.gives
    items = items_of(facts)
    listed = whole_list(facts, items)
    on_page = drawing_set(facts, items)
    sheets = on_page if paper == A4.name else drawing_set(facts, items, FORMATS[paper])
    title = f"{facts.study.title}, design {facts.candidate.design}"
    drawings = {sheet.file: svg_of(sheet.paper) for sheet in on_page}
    page = render(
        "sheet.html.j2",
        style="page.css",
        facts=facts,
        columns={**COLUMNS, **columns_of(facts.study.works_as)},
        of_socket=socket_wording,
        wired=socket_wording.rows_of(facts.candidate.values, data.socket),
        socket=data.socket,
        of_time=in_time_wording,
        in_time=_in_time(facts, data.socket),
        same=sheet_wording,
        of_casing=kind.of_casing,
        of_stages=stage_wording,
        words=kind.words,
        rounded=rounding_wording.rounding_text(facts.rounding),
        tables=kind.tables,
        say=quantities,
        turns=turns,
        balance=balance,
        sign=_sign,
        heads=[key for key in (*gives, *STRENGTH) if key in facts.candidate.values],
        drawings={
            # Made here; the drawing's text was escaped as it was written.
            name: Markup(in_page(drawing))  # noqa: S704
            for name, drawing in drawings.items()
        },
        to_print=TO_PRINT,
        listed_parts=part_rows(listed),
        made_from={item.part.name.replace(" ", "-"): item.file for item in items if item.file},
    )
    plates = [item.part for item in items if isinstance(item.part, Plate)]
    turned = [item.part for item in items if isinstance(item.part, TurnedPart)]
    files: dict[str, str | bytes] = {
        "sheet.html": page,
        "drawings.pdf": pdf_of([sheet.paper for sheet in sheets], title),
        "machine.step": step_of([item.part for item in items], title),
        "order.csv": order_of(plates, facts.housing),
        "turned.csv": turned_list(turned),
        "bought.csv": bought_list(listed),
        "parts.csv": parts_list(listed),
    }
    if sheets is not on_page:
        drawings = {sheet.file: svg_of(sheet.paper) for sheet in sheets}
    files |= {f"{name}.svg": drawing for name, drawing in drawings.items()}
    # What a DXF's properties say, so that the file alone can be traced.
    about = {sheet.file: sheet.block.entries for sheet in sheets}
    for plate in plates:
        cut = as_cut(plate.part, facts.housing)
        files[f"{plate.file}.dxf"] = dxf_of(cut, about[plate.file], version=dxf)
    for made in turned:
        if not made.bought:
            files[f"{made.file}.step"] = step_of([made.alone], f"{title}, {made.name}")
    return files
