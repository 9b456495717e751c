"""The notes below each part on its drawing. Plain text: nothing here knows SVG."""

import math

from engine.catalogue import material_state, state_as_cut
from reports.design.casing import CONVERGING, DIVERGING, Casing
from reports.design.facts import BuildFacts
from reports.design.sheet_tables import mm, of, plus_minus
from reports.kit.quantities import THIN, number, quantity


def disc_notes(facts: BuildFacts) -> tuple[str, ...]:
    """List the notes below the disc on its drawing."""
    shop = facts.tolerances
    closing = " Make one more disc without openings, for the closed end." if facts.blanks else ""
    return (
        (
            f"Rim within {mm(shop.lean)} of the plane of the hub; axial run-out at the rim at most "
            f"{mm(shop.run_out)}, total reading."
        ),
        (
            f"Rim off the shaft hole by at most {mm(shop.eccentricity)}. Cut the shaft hole "
            "undersize and ream it through the clamped stack."
        ),
        (
            f"Sheet {plus_minus(shop.thickness)}, taper of one disc at most {mm(shop.wedge)}. "
            "No burrs; no corner sharper than drawn."
        ),
        *_edge_notes(facts),
        f"Mark the rolling direction beside the shaft hole. Other sizes: ISO 2768-1 f.{closing}",
    )


def _edge_notes(facts: BuildFacts) -> tuple[str, ...]:
    """Say what the cut takes from the strength of the sheet; nothing where it takes nothing."""
    sheet, process = facts.word("material"), facts.word("process")
    heat = facts.number("disc_temperature")
    cut, bought = (
        float(state.yield_strength)
        for state in (state_as_cut(sheet, process, heat), material_state(sheet, heat))
    )
    if not cut < bought:
        return ()
    return (
        (
            f"The cut anneals a thin skin: the margins count {quantity('bore_stress', cut)} at the "
            f"edge, where the sheet has {quantity('bore_stress', bought)}. A process without heat "
            "keeps all of it, such as waterjet; ask the question again with it."
        ),
    )


def spacer_notes(facts: BuildFacts, name: str) -> tuple[str, ...]:
    """List the notes below spacer or end clamp on its drawing."""
    same = "Same shaft hole as the disc; the spokes lie on the spokes of the disc."
    if name == "end clamp":
        return (
            "The outline of the spacer, thick. One at each end of the stack.",
            f"Flat, no burrs. {same} Other sizes: ISO 2768-1 f.",
        )
    return (
        (
            f"Its thickness is the gap: {of(facts, 'gap')} {plus_minus(facts.tolerances.spacer)}. "
            "Measure every spacer; reject those outside."
        ),
        f"Flat, no burrs. {same} Other sizes: ISO 2768-1 f.",
    )


def casing_notes(facts: BuildFacts, casing: Casing, name: str) -> tuple[str, ...]:
    """List the notes below a plate of the casing on its drawing."""
    nozzle = casing.nozzle
    at_bore = math.degrees(math.acos(nozzle.offset / casing.bore))
    form = (
        f"From the throat on the outer wall opens by {math.degrees(DIVERGING):.0f}° to "
        f"{number(nozzle.exit)}{THIN}mm."
        if nozzle.exit > nozzle.throat
        else "Behind the throat both walls are parallel."
    )
    entry = (
        "Round the corners at the throat's entry by half its width or more."
        if facts.word("nozzle_entry") == "rounded"
        else "Leave the throat's entry sharp."
    )
    notes = {
        "nozzle plate": (
            (
                f"The axis of each jet passes the shaft's axis at {_offset(nozzle.offset)}: make "
                f"that dimension. The jet then meets the rim at {of(facts, 'inlet_angle')} from "
                f"its tangent and the casing bore at {at_bore:.1f}°."
            ),
            (
                "Discs turn counterclockwise as drawn. Inner wall of a nozzle straight; outer wall "
                f"{math.degrees(CONVERGING):.0f}° to the throat, which is parallel for "
                f"{number(nozzle.land * nozzle.throat)}{THIN}mm. {form} {entry}"
            ),
            (
                "As thick as the clamped stack: measure that first. Throat by wire erosion or "
                "slitting saw. Other sizes: ISO 2768-1 f."
            ),
        ),
        "supply ring": ("As thick as the side gap. Between nozzle plate and supply plate.",),
        "side ring": ("As thick as the side gap. Between nozzle plate and the plate behind.",),
        "supply plate": ("The supply enters by the plenums' holes. Thread them for its fittings.",),
    }.get(name, ())
    return (
        *notes,
        "Bore round and true to the bearings; plates located by two dowels, bolts do not locate.",
        (
            "Drawn for the flow only. Strength under pressure, and what holds the pieces of a "
            "burst disc, are not computed here: have them checked."
        ),
    )


def _offset(value: float) -> str:
    return f"{number(value, 5)}{THIN}mm"
