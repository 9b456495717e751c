"""The notes below each part on its drawing. Plain text: nothing here knows SVG."""

import math

from engine.catalogue import material_state, state_as_cut
from engine.model.shaft_layout import END_PLATE
from reports.design.carriers import FEET
from reports.design.casing import CONVERGING, DIVERGING, Casing
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import mm, of, plus_minus
from reports.design.staging import DrawnStage
from reports.kit.quantities import THIN, number, quantity

JOINTS = (
    "Faces Ra 1.6. Joints: a film of sealant and no gasket, whose thickness would add to the side "
    "gap."
)
AS_CUT = "Edges without a dimension: as in the DXF file."


def disc_notes(facts: BuildFacts) -> tuple[str, ...]:
    """List the notes below the disc on its drawing: what no symbol says."""
    closing = " Make one more disc without openings, for the closed end." if facts.blanks else ""
    return (
        "Cut the shaft hole undersize and ream it through the clamped stack: A is the reamed hole.",
        (
            f"Taper of one disc at most {mm(facts.tolerances.wedge)}. No burrs; no corner sharper "
            "than drawn."
        ),
        *_edge_notes(facts),
        f"Mark the rolling direction beside the shaft hole.{closing}",
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
    lies = "arms lie between the holes" if facts.web.holes else "spokes lie on those"
    same = f"A is the shaft hole, reamed with the discs; the {lies} of the disc."
    if name == "end clamp":
        return (
            (
                f"The outline of the spacer, thick. One at each end of the stack. Where a "
                f"{facts.seal} sits on it, turn the tips on the shaft to p6 for the "
                f"{facts.seal}'s bore."
            ),
            f"Flat, no burrs. {same}",
        )
    return (
        (
            f"Its thickness is the gap: {of(facts, 'gap')} {plus_minus(facts.tolerances.spacer)}. "
            "Measure every spacer; reject those outside."
        ),
        f"Flat, no burrs. {same}",
    )


def nozzle_notes(facts: BuildFacts, casing: Casing) -> tuple[str, ...]:
    """List the notes below the enlarged nozzle."""
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
    rim = facts.number("disc_diameter") * 500
    outside = (
        (
            (
                f"A part of each jet passes outside the rim: its outer edge is "
                f"{_offset(nozzle.offset + nozzle.exit / 2)} from the shaft's axis, the rim at "
                f"{_offset(rim)}."
            ),
        )
        if nozzle.offset + nozzle.exit / 2 > rim
        else ()
    )
    return (
        (
            f"The axis of each jet passes the shaft's axis at {_offset(nozzle.offset)}: make "
            f"that dimension. The jet then meets the rim at {of(facts, 'inlet_angle')} from "
            f"its tangent and the casing bore at {at_bore:.1f}°."
        ),
        *outside,
        (
            "Inner wall straight; outer wall "
            f"{math.degrees(CONVERGING):.0f}° to the throat, which is parallel for "
            f"{number(nozzle.land * nozzle.throat)}{THIN}mm. {form} {entry}"
        ),
        "Throat by wire erosion or slitting saw. Both dimensions of the plenum from the axes.",
    )


def casing_notes(facts: BuildFacts, casing: Casing, name: str) -> tuple[str, ...]:
    """List the notes below a plate of the casing on its drawing."""
    nozzles = round(facts.number("nozzle_count"))
    many = f" The {nozzles} nozzles stand evenly around." if nozzles > 1 else ""
    jet = casing.nozzle.offset
    rods = "Bolts do not locate: ream the dowels' holes through all plates together."
    feet = (
        f"{FEET}, {0.5 * casing.outside:.0f}{THIN}mm either side. {rods} "
        f"Bore the middle hole after reaming, true to the casing bore. {AS_CUT}"
    )
    notes = {
        "nozzle plate": (
            (
                f"Discs turn counterclockwise as drawn.{many} The nozzle is drawn on the next "
                f"sheet: its axis passes the shaft's at {_offset(jet)}. As thick as the clamped "
                f"stack: measure that first. {rods}"
            ),
        ),
        "supply ring": (
            f"As thick as the side gap. Between nozzle plate and supply plate. {rods}",
        ),
        "side ring": (f"As thick as the side gap. Behind the nozzle plate. {rods}",),
        "supply plate": (_port_note(casing), rods),
        "free-end plate": (feet,),
        "drive-end plate": (feet,),
    }.get(name, (rods,))
    return (
        *notes,
        *((JOINTS,) if not name.endswith("-end plate") else ()),
        (
            "Drawn for the flow only. Strength under pressure, and what holds the pieces of a "
            "burst disc, are not computed here: have them checked."
        ),
    )


def stage_notes(facts: BuildFacts, stage: DrawnStage, name: str) -> tuple[str, ...]:
    """List the notes below a plate of a casing with several stages on its drawing."""
    rods = "Bolts do not locate: ream the dowels' holes through all plates together."
    nozzles = round(facts.number("nozzle_count"))
    many = f" The {nozzles} nozzles and holes stand evenly around." if nozzles > 1 else ""
    number = stage.number
    thick = f"As thick as the clamped stack {number}: measure that first."
    jet = _offset(stage.casing.nozzle.offset)
    half = (
        "Half of a plate, drawn with its joint below; the other half has the other letter. Ask for "
        "0.5 more on the joint than the DXF has, mill or file it flat until no light shows, then "
        "bolt and dowel both halves together and finish the middle hole on a lathe. Sealant on "
        f"the joint. {rods}"
    )
    feet = (
        f"{FEET}, {0.5 * stage.casing.outside:.0f}{THIN}mm either side. "
        f"{rods} Bore the middle hole after reaming, true to the casing bore. {AS_CUT}"
    )
    if name[-2:] in (" A", " B"):
        notes: tuple[str, ...] = (half,)
    elif name.startswith("nozzle plate"):
        notes = (
            (
                f"Discs turn counterclockwise as drawn.{many} The nozzle is drawn on the next "
                f"sheet: its axis passes the shaft's at {jet}. {thick} {rods}"
            ),
        )
    elif name.endswith("-end plate"):
        shut = " It closes the room of the first exhaust: no arms." if name[0] == "f" else ""
        notes = (f"{feet}{shut}",)
    elif "ring" in name and plain_ring(name):
        notes = (f"It closes a room and sets its length. {rods}",)
    elif "ring" in name:
        notes = (f"As thick as the side gap.{many} {rods}",)
    else:
        notes = (f"{many.strip()} {rods}".strip(),)
    joints = () if name.endswith("-end plate") else (JOINTS,)
    return (
        *notes,
        *joints,
        (
            "Drawn for the flow only. Strength under pressure, and what holds the pieces of a "
            "burst disc, are not computed here: have them checked."
        ),
    )


def plain_ring(name: str) -> bool:
    """Whether a ring closes a room between two plates."""
    return name.startswith(("room ring", "exhaust ring", "free exhaust ring"))


def _port_note(casing: Casing) -> str:
    """Say how deep the ports are and how a fitting seals in them."""
    depth = 1e3 * END_PLATE
    return (
        f"Ports {casing.port}, ISO 228-1: {depth:g} deep, through, "
        f"{depth / casing.port_pitch:.0f} turns; spot face square to the thread. A fitting seals "
        f"on its collar with a washer, and its thread is at most {depth - 1:g} long: what is "
        "longer reaches into the plenum."
    )


def bracket_notes(facts: BuildFacts) -> tuple[str, ...]:
    """List the notes below the generator's plate on its drawing."""
    belt = bool(facts.layout.belt[0])
    stands = (
        "The foot slides on the base to tighten the belt: slot the base, not the plate."
        if belt
        else "It stands as far off as both halves of the coupling and the motor's shaft need."
    )
    return (
        (
            "Motors differ: measure yours before you order. Spigot ⌀ ____, circle of screws "
            "⌀ ____, their number ____ and thread ____, shaft ⌀ ____ and length ____. With three "
            "screws, drill for them in place of the slots."
        ),
        (
            "Bore the middle hole to the spigot, or centre the motor on its shaft by the coupling. "
            "Shim the feet until both shafts are in line; what the coupling's maker allows "
            f"decides. {FEET}. {stands} {AS_CUT}"
        ),
        (
            "Drawn for size and place: whether it is stiff enough for your motor is not computed "
            "here."
        ),
    )


def _offset(value: float) -> str:
    return f"{number(value, 5)}{THIN}mm"
