"""The sentences of the build sheet, made from its facts. Plain text: nothing here knows HTML."""

import math

from engine.catalogue import processes
from engine.model.parts import nut_note
from engine.physics.machine.clamp import LEAST_FRICTION, USUAL_FRICTION
from reports.design import bolted_wording
from reports.design.balance_wording import spoke_step
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import mm, of, rpm, trip
from reports.design.stage_wording import counted, stacked, stage_cautions
from reports.kit.fluids import dangers
from reports.kit.quantities import (
    THIN,
    begun,
    count,
    inline_label,
    number,
    percent,
    quantity,
    signed_percent,
    within,
)
from reports.run.candidate_wording import flow_cell, flow_label, flow_range, notes
from reports.run.facts import aims_of
from reports.run.trip_wording import allowed_text, fatigue_text
from reports.run.wording import NO_CERTIFICATE, as_drawn, fall_text, role_label

SPOKED_NOTCH = 2.0
"""Least notch factor of spokes with fillets, by finite elements."""


LONG_LIFE = 1e5 * 3600
"""Rated life of a bearing beyond which its number says nothing [s]."""


def headline(facts: BuildFacts) -> str:
    """Say in one sentence what to build."""
    return (
        f"Build {counted(facts)} discs of {of(facts, 'disc_diameter')}, {of(facts, 'gap')} apart, "
        f"and run them at {of(facts, 'speed')}."
    )


def described(facts: BuildFacts) -> str:
    """Describe a build by its main dimensions and its speed."""
    return (
        f"{counted(facts)} discs of {of(facts, 'disc_diameter')} with "
        f"{of(facts, 'gap')} gaps, jets at {of(facts, 'inlet_angle')} from the rim's tangent "
        f"({of(facts, 'casing_angle')} at the casing), {of(facts, 'exhaust_bore')} exhaust bore, "
        f"turning at {of(facts, 'speed')}"
    )


def standing(facts: BuildFacts) -> str:
    """Say where on its front the design is."""
    aims = aims_of(facts.study)
    place = (
        f"Number {facts.place} of {facts.front_size} on the front by {inline_label(aims[0].key)}"
    )
    if not facts.candidate.roles:
        return f"{place}; not marked in the report."
    roles = [role_label(role, aims) for role in facts.candidate.roles]
    named = "; ".join(map(within, roles))
    return f"{place}; in the report: {named}."


STOPS = "First run: shut the supply at once when"
SIGNED = (
    "Decided",
    "Parts and gaps checked",
    "Balance checked",
    "Trip and containment checked",
    "Cleared for the first run",
)
"""Who signs."""


def lasts_text(facts: BuildFacts) -> str:
    """Say what valve and hose are allowed, and after how many runs a crack may start."""
    values = facts.candidate.values
    return f"{allowed_text(values)} {fatigue_text(values)}"


def flow_rows(facts: BuildFacts) -> tuple[tuple[str, str, str, bool], ...]:
    """List the numbers of the gap flow: label, text, range, and whether it is outside."""
    found = []
    for entry in facts.candidate.inside.flow:
        cell = flow_cell(entry)
        valid = f"{flow_range(entry)}{f': {cell.remark}' if cell.remark else ''}"
        found.append((flow_label(entry.key), cell.text, valid, cell.outside))
    return tuple(found)


def cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List the cautions of every sheet, then those of this design."""
    found = [*dangers(str(facts.study.supply.fluid))]
    energy = facts.number("stored_energy")
    held = quantity("stored_energy", energy)
    found.append(f"The turning discs hold {held}, as much as {fall_text(energy)}.")
    found += [note for note in notes(facts.candidate) if note]
    found += stage_cautions(facts)
    if facts.number("trip_factor") >= facts.number("safety_margin"):
        found.append("The trip acts only above the first failure. Do not build it like this.")
    if facts.number("notch_factor") < SPOKED_NOTCH and facts.word("hold") == "spokes":
        found.append(
            f"The study assumes a notch factor of {of(facts, 'notch_factor')} at the bore; spokes "
            f"with fillets have {number(SPOKED_NOTCH, trim=True)} to 4."
        )
    return (*found, as_drawn(facts.study), NO_CERTIFICATE)


def masses_note(facts: BuildFacts) -> str:
    """Say what critical speed and unbalance were computed with."""
    driven = "a pulley" if facts.number("drive_ratio") != 1 else "half a coupling"
    return (
        f"Critical speed and permissible unbalance count with all that turns, "
        f"{of(facts, 'rotor_mass')}: shaft with its steps, discs, "
        f"{facts.between}s, clamps, {facts.seal}s, nut and {driven}. Each bearing is taken to hold "
        "the shaft with "
        f"{of(facts, 'bearing_stiffness')}, its seat included. A heavier hub on the drive's end "
        "lowers the critical speed."
    )


def bearings_note(facts: BuildFacts) -> str:
    """Say what the bearings bear, how warm they run and how long they last."""
    life = min(facts.number("bearing_life"), LONG_LIFE)
    lasts = f"{'more than ' if life == LONG_LIFE else ''}{quantity('bearing_life', life)}"
    return (
        f"The more loaded bearing bears {of(facts, 'bearing_load')} (equivalent load of ISO 281, "
        f"with the permissible unbalance), and nine of ten outlast {lasts} "
        f"by its rating; grease, dirt and currents of the {facts.drive} usually end them sooner. "
        f"The "
        f"warmer one is estimated at {of(facts, 'bearing_temperature')} in a workshop of "
        f"20{THIN}°C: measure it in the first run."
    )


def supply(facts: BuildFacts) -> str:
    """Describe the supply that the numbers are for."""
    found = facts.study.supply
    return (
        f"{begun(str(found.fluid))} at {quantity('rim_pressure', found.pressure)} absolute "
        f"and {quantity('exhaust_temperature', found.temperature)} before the nozzles."
    )


def sizes_note(facts: BuildFacts) -> str:
    """Say where the tolerances come from."""
    process = processes()[facts.word("process")]
    return (
        f"Tolerances of discs and {facts.between}s: {process.title} ({process.source}). "
        "General tolerance: ISO 2768-1 f, from memory. Fits h6, j5, H7 and H8: common practice, no "
        "source."
    )


def not_drawn(facts: BuildFacts) -> str:
    """Say which parts have no drawing here."""
    start = f"No casing is drawn: {facts.no_casing}. " if facts.no_casing else ""
    return (
        f"{start}Not drawn: fittings, hose, guard, generator and the base under all feet. "
        "drawings.pdf holds every sheet. machine.step holds every part in its place, and each "
        "turned part has a STEP file of its own. order.csv is the list for a cutting service, "
        "turned.csv for a turning shop, bought.csv for a dealer, parts.csv for all."
    )


def assembly(facts: BuildFacts) -> tuple[str, ...]:
    """List the steps of assembly."""
    gap, shop = facts.gap, facts.tolerances
    touch = f"{mm(gap.narrowest)} to {mm(gap.widest)}" if gap.narrowest > 0 else "discs may touch"
    feeler = (
        f"a {mm(gap.narrowest, 2)} feeler must pass all round at the rim of every gap, "
        f"and a {mm(gap.widest, 2)} feeler must enter none"
        if gap.narrowest > 0
        else f"a {mm(gap.widest, 2)} feeler must enter none, and light must show through every gap"
    )
    return (
        (
            "Deburr, flatten and degrease every disc. Measure its thickness at three places, and "
            "sort the discs by it. Reject any disc outside the tolerances above."
        ),
        *_stacking(facts),
        *(
            f"Height across the clamps less the clamps: {mm(height, 3)} for "
            f"{count(discs)} discs and {count(discs - 1)} {facts.between}s{of_stack}."
            for discs, height, of_stack in stacked(facts)
        ),
        (
            f"Gaps at rest, drawn {of(facts, 'gap')}, with every tolerance at its limit: {touch} "
            f"at the rim. Check after clamping: {feeler}."
        ),
        (
            f"At speed, pressure and heat also bend the discs: narrowest {mm(gap.running)}, "
            f"{percent(facts.number('gap_hold'))} of the drawn gap. Axial run-out of each rim at "
            f"most {mm(shop.run_out)} by dial gauge."
        ),
        _warp_note(facts),
        *_around_the_rotor(facts),
        (
            f"In the casing: rim clearance {of(facts, 'rim_clearance')} all round by feeler, side "
            f"gaps {of(facts, 'side_gap')}. Turn it ten times by hand: no rubbing, no tight "
            "spot."
        ),
    )


def _around_the_rotor(facts: BuildFacts) -> tuple[str, ...]:
    """Say in which order casing and bearings go on, where there is a casing."""
    if facts.housing is None:
        return ()
    coupled = "pulley" if facts.layout.belt[0] else "half coupling"
    return (
        (
            "Put the sleeve behind the nut. Then, as in the exploded view: the plates of the "
            "casing on their dowels around the rotor, with sealant in the joints; both bearings "
            "from outside onto their seats; what holds the next plates off; these with their "
            "carriers, screwed on with locking compound, and the spring washer in that at the "
            "drive; tie rods through all plates and tubes with a washer and a nut at both ends, "
            f"tightened crosswise; {coupled}. A bearing can be changed later without undoing the "
            "clamp nut."
        ),
        (
            f"Screw the feet to the base, and shim those of the {facts.drive} plate until both "
            "shafts are in line. Every piece stands in the parts list."
        ),
    )


def _stacking(facts: BuildFacts) -> tuple[str, ...]:
    """Say how discs and what lies between them are stacked and clamped."""
    if facts.bolts is not None:
        return (*bolted_wording.stacking(facts, facts.bolts), *_nut(facts))
    return (
        (
            f"Put each {facts.seal} on its end clamp. Stack from the drive's end of the shaft, "
            "against its flange: end clamp, disc, spacer, disc, and so on. Turn every disc by "
            f"{spoke_step(facts)} against the one below, so that the rolling tapers of "
            f"{facts.web.spokes} discs cancel. Keep all {facts.web.spokes} {facts.web.openings} in "
            f"line: they are walls in the {_place_of_spokes(facts)}."
        ),
        *clamp_notes(facts),
    )


def clamp_notes(facts: BuildFacts) -> tuple[str, ...]:
    """Say how hard to clamp the stack, and what depends on it."""
    clamp, hub = facts.clamp, 1e-3 * facts.web.hub_radius
    pull = quantity("bearing_preload", clamp.pull)
    low, high = map(_kilonewtons, clamp.force)
    greased, dry = (f"{number(torque, 2)}{THIN}N{THIN}m" for torque in clamp.nut_torque)
    found = [
        (
            f"At {_top(facts)}, {rpm(trip(facts))}, each {facts.web.arm_name} pulls {pull} "
            f"outward on its hub. Friction holds the hubs still if they are clamped with {low} "
            f"(degreased, friction {number(USUAL_FRICTION, trim=True)}) to {high} (a trace of oil, "
            f"{number(LEAST_FRICTION, trim=True)}), the torque of "
            f"{quantity('shaft_torque', clamp.torque)} included. With less, each hub stretches on "
            "its shaft and creeps: the margins count that too, but centring and balance may go."
        ),
        (
            f"Degrease, and clamp with {_kilonewtons(clamp.usual)}. Nut on a thread as wide as the "
            f"shaft: {greased} if greased, {dry} if dry; then lock it. Friction and torque of a "
            "nut: common practice, no source."
        ),
        *_nut(facts),
    ]
    if clamp.usual < clamp.force[1]:
        holds = "only degreased hubs" if clamp.usual >= clamp.force[0] else "no hub"
        found.append(
            f"That is the most that the shaft should carry, and holds {holds} still at "
            f"{_top(facts)}. "
            "A thicker or stronger shaft holds more."
        )
    reach = "so the hub is pressed" if clamp.pressed >= hub else "so not even the hub is pressed"
    found.append(
        f"The nut presses to about {mm(clamp.pressed, 1)} from the middle, {reach} (radius "
        f"{mm(hub, 1)}); what holds the {facts.web.arm_name}s beyond is not known. If spacers grip "
        f"the whole web, the lowest wave stands still at {quantity('speed', clamp.wave_of_web)}; "
        f"if the hub alone is held, at {quantity('speed', clamp.wave_of_hub)}. The margin "
        "goes by the lower of each wave."
    )
    return tuple(found)


def _nut(facts: BuildFacts) -> tuple[str, ...]:
    """Say so where the nut cannot be put on."""
    return (note,) if (note := nut_note(facts.candidate.values)) else ()


def _top(facts: BuildFacts) -> str:
    """Name the highest speed that the rotor is meant to stand."""
    return "the highest speed of its drive" if facts.is_pump else "trip speed"


def _kilonewtons(force: float) -> str:
    return f"{number(force / 1000, 2)}{THIN}kN"


def _warp_note(facts: BuildFacts) -> str:
    """Say what discs that are neither flat nor alike do to the gaps at speed."""
    lean, warp = facts.tolerances.lean, facts.warp
    left = max(facts.gap.running - 2 * lean * max(warp.kept - 1, 0.0), 0.0)
    kept = percent(warp.kept) if warp.kept < 1 else f"{number(warp.kept)} times"
    stands = f"bends a disc {number(warp.grown)} times as far as at rest"
    if not math.isfinite(warp.grown):
        forcing = "the tongue forces" if facts.is_pump else "nozzles force"
        stands = f"bends the discs without limit: this runs beyond the wave that {forcing}"
    return (
        "Sheets are neither flat nor alike. A wave of the sheet turns with its disc, and of its "
        f"{mm(lean)} it keeps at most about {kept} at speed, so count on {mm(left)} as the least "
        f"gap. What stands still in space, as the push of {_pushes(facts)} does, {stands}. Both "
        "are orders of magnitude, derived here."
    )


def _pushes(facts: BuildFacts) -> str:
    return "the tongue" if facts.is_pump else "nozzles"


def _place_of_spokes(facts: BuildFacts) -> str:
    """Say where the spokes stand, and what the swirl in an exhaust does to them."""
    if facts.is_pump:
        return "eye, and the fluid enters between them"
    return f"exhaust, and the flow between them {_on_the_spokes(facts)}"


def _on_the_spokes(facts: BuildFacts) -> str:
    """Say what the swirl in the exhaust does to the spokes."""
    power = facts.number("web_power")
    if power < 0:
        return f"brakes them by {quantity('shaft_power', -power)}"
    return f"gives {quantity('shaft_power', power)} of the power"


def range_text(facts: BuildFacts) -> str:
    """Say which relations are used outside their valid range, and what is not computed."""
    outside = facts.word("validity")
    start = "At running speed every relation is used inside its published range."
    if outside:
        start = f"Used outside its published range: {outside}."
    elif any(entry.outside for entry in facts.candidate.inside.flow):
        start = (
            "Averaged gap flow is outside its valid range where marked below. Resolved flow, "
            f"{signed_percent(facts.number('resolved_difference'))} in power, takes its place."
        )
    return (
        f"{start} Not computed: shaft strength; vibration other than at the speeds listed. Casing "
        "and burst: estimates only."
    )


def stops(facts: BuildFacts) -> tuple[str, ...]:
    """List when to shut the supply at once in the first run."""
    return (
        (
            f"Speed reaches {rpm(trip(facts))} and the trip has not acted. Test the "
            "trip first, with the stack at the lowest speed and the trip set below it."
        ),
        (
            "At a steady speed a reading leaves its band and stays outside for a minute. Find out "
            "why before going faster."
        ),
        (
            f"Vibration at a bearing housing exceeds 4.5{THIN}mm/s RMS (ISO 10816-1, small "
            "machines, from memory), or rises at constant speed."
        ),
        (
            f"A bearing is warmer than 80{THIN}°C, or warms by more than 2{THIN}K in a minute at "
            "constant speed (common practice, no source)."
        ),
        "There is rubbing noise, smell, dust or metal in the exhaust, or a leak.",
        "The load is lost. Shut the supply; do not wait for the trip.",
    )
