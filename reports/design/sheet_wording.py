"""The sentences of the build sheet, made from its facts. Plain text: nothing here knows HTML."""

import math

from engine.catalogue import processes
from engine.columns import COLUMNS
from engine.physics.machine.clamp import LEAST_FRICTION, USUAL_FRICTION
from reports.design.facts import BuildFacts, Reading, ReadingBand
from reports.design.sheet_tables import mm, of, trip
from reports.kit.fluids import dangers
from reports.kit.quantities import (
    MINUS,
    MISSING,
    THIN,
    bare,
    begun,
    count,
    inline_label,
    number,
    percent,
    quantity,
    signed_percent,
    within,
)
from reports.run.candidate_wording import notes
from reports.run.facts import aims_of
from reports.run.wording import NO_CERTIFICATE, as_drawn, fall_text, role_label

SPOKED_NOTCH = 2.0
"""Least notch factor of spokes with fillets, by finite elements."""


def standing(facts: BuildFacts) -> str:
    """Say where on its front the design is."""
    aims = aims_of(facts.study)
    place = (
        f"Number {facts.place} of {facts.front_size} on the front by {inline_label(aims[0].key)}"
    )
    if not facts.letter:
        return f"{place}; not marked in the report."
    roles = [role_label(role, aims) for role in facts.candidate.roles]
    named = "; ".join(map(within, roles))
    return f"{place}; marked {facts.letter} in the report: {named}."


def cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List the cautions of every sheet, then those of this design."""
    found = [*dangers(str(facts.study.supply.fluid))]
    energy = facts.number("stored_energy")
    held = quantity("stored_energy", energy)
    found.append(f"The turning discs hold {held}, as much as {fall_text(energy)}.")
    found += [note for note in notes(facts.candidate) if note]
    if facts.number("trip_factor") >= facts.number("safety_margin"):
        found.append("The trip acts only above the first failure. Do not build it like this.")
    if facts.number("notch_factor") < SPOKED_NOTCH:
        found.append(
            f"The study assumes a notch factor of {of(facts, 'notch_factor')} at the bore; spokes "
            f"with fillets have {number(SPOKED_NOTCH, trim=True)} to 4."
        )
    return (*found, as_drawn(facts.study), NO_CERTIFICATE)


def masses_note(facts: BuildFacts) -> str:
    """Say which masses speeds and unbalance were computed with."""
    extra = (facts.number("disc_count") - 1) * facts.masses.spacer + 2 * facts.masses.clamp
    return (
        f"The model's rotor is discs and shaft only, {of(facts, 'rotor_mass')}. Spacers and end "
        f"clamps add {quantity('rotor_mass', extra)}. They lower the critical speed of the shaft a "
        "little; without them the permissible unbalance below is on the safe side."
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
        f"Tolerances of discs and spacers: {process.title} ({process.source}). General tolerance: "
        "ISO 2768-1 f, from memory. Fits h6, j5, H7 and H8: common practice, no source."
    )


def not_drawn(facts: BuildFacts) -> str:
    """Say which parts have no drawing here."""
    start = f"No casing is drawn: {facts.no_casing}. " if facts.no_casing else ""
    return (
        f"{start}Not drawn: shaft, collars of the seals, bearings, what carries them, belt or "
        "coupling. machine.step holds every part that is drawn, in its place; order.csv is the "
        "list for a cutting service."
    )


def assembly(facts: BuildFacts) -> tuple[str, ...]:
    """List the steps of assembly."""
    gap, shop, n_discs = facts.gap, facts.tolerances, facts.number("disc_count")
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
        (
            "Stack on the shaft: end clamp, disc, spacer, disc, and so on. Turn every disc by "
            f"{_step(facts)} against the one below, so that the rolling tapers of "
            f"{facts.web.spokes} discs cancel. Keep all {facts.web.spokes} spokes in line: they "
            f"are walls in the exhaust, and the flow between them {_on_the_spokes(facts)}."
        ),
        *clamp_notes(facts),
        (
            f"Height across the clamps less the clamps: {of(facts, 'stack_height')} for "
            f"{count(n_discs)} discs and {count(n_discs - 1)} spacers."
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
        (
            f"In the casing: rim clearance {of(facts, 'rim_clearance')} all round by feeler, side "
            f"gaps {of(facts, 'side_gap')}. Turn it ten times by hand: no rubbing, no tight "
            "spot."
        ),
    )


def clamp_notes(facts: BuildFacts) -> tuple[str, ...]:
    """Say how hard to clamp the stack, and what depends on it."""
    clamp, hub = facts.clamp, 1e-3 * facts.web.hub_radius
    pull = quantity("bearing_preload", clamp.pull)
    low, high = map(_kilonewtons, clamp.force)
    greased, dry = (f"{number(torque, 2)}{THIN}N{THIN}m" for torque in clamp.nut_torque)
    found = [
        (
            f"At trip speed, {quantity('speed', trip(facts))}, each spoke pulls {pull} outward on "
            f"its hub. Friction holds the hubs still if they are clamped with {low} (degreased, "
            f"friction {number(USUAL_FRICTION, trim=True)}) to {high} (a trace of oil, "
            f"{number(LEAST_FRICTION, trim=True)}), the torque of "
            f"{quantity('shaft_torque', clamp.torque)} included. With less, each hub stretches on "
            "its shaft and creeps: the margins count that too, but centring and balance may go."
        ),
        (
            f"Degrease, and clamp with {_kilonewtons(clamp.usual)}. Nut on a thread as wide as the "
            f"shaft: {greased} if greased, {dry} if dry; then lock it. Friction and torque of a "
            "nut: common practice, no source."
        ),
    ]
    if clamp.usual < clamp.force[1]:
        holds = "only degreased hubs" if clamp.usual >= clamp.force[0] else "no hub"
        found.append(
            f"That is the most that the shaft should carry, and holds {holds} still at trip speed. "
            "A thicker or stronger shaft holds more."
        )
    reach = "so the hub is pressed" if clamp.pressed >= hub else "so not even the hub is pressed"
    found.append(
        f"The nut presses to about {mm(clamp.pressed, 1)} from the middle, {reach} (radius "
        f"{mm(hub, 1)}); what holds the spokes beyond is not known. If spacers grip the whole web, "
        f"the lowest wave stands still at {quantity('speed', clamp.wave_of_web)}; if the hub alone "
        f"is held, at {quantity('speed', clamp.wave_of_hub)}. The margin goes by the lower of each "
        "wave."
    )
    return tuple(found)


def _kilonewtons(force: float) -> str:
    return f"{number(force / 1000, 2)}{THIN}kN"


def _warp_note(facts: BuildFacts) -> str:
    """Say what discs that are neither flat nor alike do to the gaps at speed."""
    lean, warp = facts.tolerances.lean, facts.warp
    left = max(facts.gap.running - 2 * lean * max(warp.kept - 1, 0.0), 0.0)
    kept = percent(warp.kept) if warp.kept < 1 else f"{number(warp.kept)} times"
    stands = f"bends a disc {number(warp.grown)} times as far as at rest"
    if not math.isfinite(warp.grown):
        stands = "bends the discs without limit: this runs beyond the wave that nozzles force"
    return (
        "Sheets are neither flat nor alike. A wave of the sheet turns with its disc, and of its "
        f"{mm(lean)} it keeps at most about {kept} at speed, so count on {mm(left)} as the least "
        f"gap. What stands still in space, as the push of nozzles does, {stands}. Both are orders "
        "of magnitude, derived here."
    )


def _on_the_spokes(facts: BuildFacts) -> str:
    """Say what the swirl in the exhaust does to the spokes."""
    power = facts.number("web_power")
    if power < 0:
        return f"brakes them by {quantity('shaft_power', -power)}"
    return f"gives {quantity('shaft_power', power)} of the power"


def balance(facts: BuildFacts) -> tuple[str, ...]:
    """Say how good the balance must be and how to reach it."""
    allowed, raw = facts.number("permissible_unbalance"), facts.number("raw_unbalance")
    grade = bare("balance_grade", facts.number("balance_grade"))
    tip, rim = facts.number("exhaust_bore") / 2, facts.number("disc_diameter") / 2
    return (
        (
            f"ISO 21940-11 grade G{THIN}{grade} at {quantity('speed', facts.number('speed'))} "
            f"allows {quantity('permissible_unbalance', allowed)} for the whole rotor, as much as "
            f"{_milligrams(allowed / rim)} at the rim. Trim in two planes, the end clamps, to half "
            f"of it each: {_milligrams(allowed / 2 / tip)} at the tips of their spokes."
        ),
        (
            f"As assembled expect about {quantity('raw_unbalance', raw)}, "
            f"{number(raw / allowed, 2)} times that, from taper and centring of the discs (root "
            "mean square over many stacks)."
        ),
        (
            f"Coarse: turn single discs by {_step(facts)} against the others and keep what "
            "improves it. Fine: grind the spokes of the end clamps. Never grind or drill the "
            "ring of a disc."
        ),
        (
            "Balance with shaft, nut and coupling half as they will run. Mark the position of "
            "every part, and check again each time it has been taken apart."
        ),
        ("Stop at the permissible value. A balancing bench must show a tenth of it to prove it."),
    )


def band_rule(facts: BuildFacts) -> str:
    """State what the bands of the readings include."""
    place = "hose" if facts.study.supply.dial == "before-hose" else "nozzles"
    return (
        "Expected: with gap flow resolved across the gap where it converged, else averaged. The "
        f"band holds 19 of 20 of {facts.study.uncertainty.samples} samples, the same as for the "
        "bands of the report (coefficients, supply and tolerances varied as the study's "
        "uncertainty says), shifted by the difference of the resolved flow. It does not include "
        "errors of the instruments and of the model itself. The supply is that of the study: "
        f"{quantity('rim_pressure', facts.study.supply.pressure)} absolute and "
        f"{quantity('exhaust_temperature', facts.study.supply.temperature)} before the {place}."
    )


DIGITS = {"rim_pressure": 4, "nozzle_pressure": 4}
"""Digits of readings that three digits would not tell apart."""


def band_text(key: str, band: ReadingBand) -> tuple[str, str]:
    """Write a reading, and the band for the line below it."""
    if not math.isfinite(band.expected):
        return MISSING, "no operating point"
    expected, low, high = (_reading(key, end) for end in (band.expected, band.low, band.high))
    if not (math.isfinite(band.low) and math.isfinite(band.high)):
        return expected, "no band: too many samples without an operating point"
    return expected, f"{low} to {high}"


def _reading(key: str, value: float) -> str:
    """Write a reading with as many digits as are needed to tell the ends of a band apart."""
    drawing = float(COLUMNS[key].to_drawing(value))
    if key == "exhaust_temperature":
        return f"{round(drawing, 1) + 0.0:.1f}".replace("-", MINUS)
    return number(drawing, DIGITS.get(key, 3))


def _reading_note(reading: Reading) -> str:
    """Say what speaks against a reading; '' for nothing."""
    found = [f"outside its valid range: {reading.validity}"] if reading.validity else []
    if reading.overloads:
        found.append("more than the generator's rating")
    return "; ".join(found)


def loaded_rows(facts: BuildFacts) -> tuple[tuple[str, Reading, str], ...]:
    """List speed, reading and note of each step of the bench run."""
    return tuple(
        (bare("yield_speed", reading.speed), reading, _reading_note(reading))
        for reading in facts.readings
    )


def range_text(facts: BuildFacts) -> str:
    """Say which relations are used outside their valid range, and what is not computed."""
    outside = facts.word("validity")
    start = "At operating speed every relation is used inside its published range."
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
            f"Speed reaches {quantity('speed', trip(facts))} and the trip has not acted. Test the "
            "trip first, with the stack at the lowest speed and the trip set below it."
        ),
        (
            "At a steady speed a reading leaves its band and stays outside for a minute. Find out "
            "why before going faster."
        ),
        (
            "Vibration at a bearing housing exceeds 4.5 mm/s RMS (ISO 10816-1, small machines, "
            "from memory), or rises at constant speed."
        ),
        (
            "A bearing is warmer than 80 °C, or warms by more than 2 K in a minute at constant "
            "speed (common practice, no source)."
        ),
        "There is rubbing noise, smell, dust or metal in the exhaust, or a leak.",
        "The load is lost. Shut the supply; do not wait for the trip.",
    )


def run_plan(facts: BuildFacts) -> str:
    """Say how to do the first run."""
    steps = ", ".join(bare("speed", reading.speed) for reading in facts.readings)
    return (
        f"Hold each speed ({steps}{THIN}rpm) by the load, with the supply of the study, until "
        "bearing and exhaust temperatures are steady, at least ten minutes. Write down every "
        "reading, then go on. Use less pressure the first time. Keep everyone out of the plane of "
        "the discs; work the valve and take the readings from elsewhere."
    )


def _milligrams(mass: float) -> str:
    return f"{number(1e6 * mass)}{THIN}mg"


def _step(facts: BuildFacts) -> str:
    """Angle between two spokes."""
    return f"{number(360 / facts.web.spokes, trim=True)}{THIN}deg"
