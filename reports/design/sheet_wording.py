"""What the build sheet says, in rows and sentences. Plain text: nothing here knows HTML."""

import math

from engine.catalogue import processes
from engine.columns import COLUMNS
from reports.design.facts import BuildFacts, Reading, ReadingBand
from reports.design.outlines import SPOKES
from reports.design.sheet_tables import mm, of, plus_minus, trip
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
from reports.run.wording import NO_CERTIFICATE, fall_text, role_label

SPOKED_NOTCH = 2.0
"""Notch factor that a web with fillets wants; common practice, no source."""


def standing(facts: BuildFacts) -> str:
    """Say what this design is on its front."""
    place = f"Number {facts.place} of {facts.front_size} on the front"
    aims = aims_of(facts.study)
    place = f"{place} by {inline_label(aims[0].key)}"
    if not facts.letter:
        return f"{place}; not marked in the report."
    roles = [role_label(role, aims) for role in facts.candidate.roles]
    named = "; ".join(map(within, roles))
    return f"{place}; marked {facts.letter} in the report: {named}."


def cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List what every sheet says first, then what this build adds."""
    found = [*dangers(str(facts.study.supply.fluid))]
    energy = facts.number("stored_energy")
    found.append(
        f"The discs turn with {quantity('stored_energy', energy)}, as much as {fall_text(energy)}."
    )
    found += [note for note in notes(facts.candidate) if note]
    if facts.number("trip_factor") >= facts.number("safety_margin"):
        found.append("The trip acts only after the first failure. Do not build it so.")
    if facts.number("notch_factor") < SPOKED_NOTCH:
        found.append(
            f"The study counts on a notch factor of {of(facts, 'notch_factor')} at the bore; "
            f"three spokes with fillets make about {number(SPOKED_NOTCH, trim=True)}."
        )
    return (*found, NO_CERTIFICATE)


def masses_note(facts: BuildFacts) -> str:
    """Say which masses the speeds and the unbalance were worked out with."""
    extra = (facts.number("disc_count") - 1) * facts.masses.spacer + 2 * facts.masses.clamp
    return (
        f"The model's rotor is discs and shaft, {of(facts, 'rotor_mass')}. Spacers and end clamps "
        f"weigh {quantity('rotor_mass', extra)} more: they lower the shaft's critical speed a "
        "little, and the permissible unbalance below is on the strict side without them."
    )


def supply(facts: BuildFacts) -> str:
    """Describe the supply that the numbers hold for."""
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


def disc_notes(facts: BuildFacts) -> tuple[str, ...]:
    """List what stands on the disc's drawing below the part."""
    shop = facts.tolerances
    closing = " One disc more without openings, for the closed end." if facts.blanks else ""
    return (
        (
            f"Rim within {mm(shop.lean)} of the plane of the hub; axial run-out at the rim at most "
            f"{mm(shop.run_out)}, total reading."
        ),
        (
            f"Rim off the shaft hole by at most {mm(shop.eccentricity)}. Shaft hole cut small and "
            "reamed through the clamped stack."
        ),
        (
            f"Sheet {plus_minus(shop.thickness)}, taper across one disc at most {mm(shop.wedge)}. "
            "No burr at any edge; corners no sharper than drawn."
        ),
        f"Mark the rolling direction beside the shaft hole. Other sizes: ISO 2768-1 f.{closing}",
    )


def spacer_notes(facts: BuildFacts) -> tuple[str, ...]:
    """List what stands on the spacer's drawing below the part."""
    return (
        (
            f"Thickness is the gap: {of(facts, 'gap')} {plus_minus(facts.tolerances.spacer)}. "
            "Measure every one, sort out what is off."
        ),
        "Flat, no burr. Same shaft hole as the disc; the spokes lie on the disc's spokes.",
        "End clamps have the same outline. Other sizes: ISO 2768-1 f.",
    )


def assembly(facts: BuildFacts) -> tuple[str, ...]:
    """List the steps from parts to a stack that may turn."""
    gap, shop, n_discs = facts.gap, facts.tolerances, facts.number("disc_count")
    touch = f"{mm(gap.narrowest)} to {mm(gap.widest)}" if gap.narrowest > 0 else "discs may touch"
    feeler = (
        f"a {mm(gap.narrowest, 2)} feeler must pass all round at the rim of every gap, "
        f"{mm(gap.widest, 2)} must enter none"
        if gap.narrowest > 0
        else f"a {mm(gap.widest, 2)} feeler must enter none, and light must show through every gap"
    )
    return (
        (
            "Deburr and flatten every disc, degrease, measure thickness at three places, and sort "
            "by it. Reject what the table above excludes."
        ),
        (
            "Stack on the shaft: end clamp, disc, spacer, disc, and so on. Turn every disc by "
            f"{360 // SPOKES}{THIN}deg against the one below, so that tapers from rolling cancel "
            f"in threes; all {SPOKES} spokes in line."
        ),
        (
            "Clamp with a locked nut: friction at the hub must carry "
            f"{quantity('shaft_torque', torque_at_start(facts))} several times over."
        ),
        (
            f"Height across the clamps less the clamps: {of(facts, 'stack_height')} for "
            f"{count(n_discs)} discs and {count(n_discs - 1)} spacers."
        ),
        (
            f"Gaps at rest, drawn {of(facts, 'gap')}, each tolerance at its end: {touch} at the "
            f"rim. Check after clamping: {feeler}."
        ),
        (
            f"At speed pressure and heat bend the discs besides: narrowest {mm(gap.running)}, "
            f"{percent(facts.number('gap_hold'))} of the drawn gap. Axial run-out of each rim at "
            f"most {mm(shop.run_out)} by dial gauge."
        ),
        (
            f"In the casing: rim clearance {of(facts, 'rim_clearance')} all round by feeler, side "
            f"gaps {of(facts, 'side_gap')}. Turn by hand through ten turns: no touch, no tight "
            "spot."
        ),
    )


def torque_at_start(facts: BuildFacts) -> float:
    """Highest torque of the bench readings, held still or turning, at the end of its band [N m]."""
    torques = [reading.bands["shaft_torque"] for reading in facts.readings]
    torques += [reading.bands["shaft_torque"] for reading in facts.locked]
    ends = [end for band in torques for end in (band.expected, band.high) if math.isfinite(end)]
    return max(ends, default=math.nan)


def balance(facts: BuildFacts) -> tuple[str, ...]:
    """Say how good the balance must be and how to get there."""
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
            f"{number(raw / allowed, 2)} times that, from taper and centring of the sheet (root "
            "mean square over stacks)."
        ),
        (
            f"Coarse: turn single discs by {360 // SPOKES}{THIN}deg against the rest and keep what "
            "helps. Fine: grind the spokes of the end clamps. Never grind or drill the ring of a "
            "disc."
        ),
        (
            "Balance with shaft, nut and coupling half as they will run, mark how every part sits, "
            "and check again whenever it was apart."
        ),
        (
            "Stop trimming at the allowed value; a balancing bench that cannot show a tenth of it "
            "cannot prove it."
        ),
    )


def band_rule(facts: BuildFacts) -> str:
    """State how wide the bands of the readings are, and why."""
    return (
        "Expected: gap flow resolved across the gap where it settled, else averaged. The band "
        f"holds 19 of 20 of {facts.study.uncertainty.samples} samples of what this build may turn "
        "out to be, those from which the report's bands come (coefficients, supply and tolerances "
        "off as the study's uncertainty says), moved by what the resolved flow differs. Errors of "
        "the instruments and of the model itself are not in it. The supply meant is the study's: "
        f"{quantity('rim_pressure', facts.study.supply.pressure)} absolute and "
        f"{quantity('exhaust_temperature', facts.study.supply.temperature)} before the nozzles."
    )


def band_text(key: str, band: ReadingBand) -> tuple[str, str]:
    """Write a reading, and the band below it."""
    if not math.isfinite(band.expected):
        return MISSING, "no operating point"
    expected, low, high = (_reading(key, end) for end in (band.expected, band.low, band.high))
    if not (math.isfinite(band.low) and math.isfinite(band.high)):
        return expected, "no band: too many samples without operating point"
    return expected, f"{low} to {high}"


def _reading(key: str, value: float) -> str:
    """Write as many digits as an instrument shows that can tell the ends of a band apart."""
    drawing = float(COLUMNS[key].to_drawing(value))
    if key == "exhaust_temperature":
        return f"{round(drawing, 1) + 0.0:.1f}".replace("-", MINUS)
    return number(drawing, 4 if key == "rim_pressure" else 3)


def _reading_note(reading: Reading) -> str:
    """Say what stands against a reading; '' for nothing."""
    found = [f"outside its range: {reading.validity}"] if reading.validity else []
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
    """Say which relations are used outside their range, and what the sheet leaves out."""
    outside = facts.word("validity")
    start = "At operating speed every relation is used inside its published range."
    if outside:
        start = f"Used outside the range in which it was established: {outside}."
    elif any(entry.outside for entry in facts.candidate.inside.flow):
        start = (
            "The averaged gap flow is outside its range where marked below; the resolved flow, "
            f"{signed_percent(facts.number('resolved_difference'))} in power, stands in for it."
        )
    return (
        f"{start} Not worked out: clamp, nut, shaft strength, casing and containment, vibration "
        "beyond the speeds listed, and spokes more flexible than the disc, which lower the "
        "standing-wave speed."
    )


def stops(facts: BuildFacts) -> tuple[str, ...]:
    """List when the first run ends at once, and how it is led."""
    return (
        (
            f"Speed reaches {quantity('speed', trip(facts))} and the trip has not acted. Test the "
            "trip first, with the stack at the lowest speed and the trip set below it."
        ),
        (
            "Any reading leaves its band at a holding speed and stays out for a minute. Find out "
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
        "Any rubbing noise, any smell, any dust or metal in the exhaust, any leak.",
        "The load is lost. Shut the supply; do not wait for the trip.",
    )


def run_plan(facts: BuildFacts) -> str:
    """Say how the first run is led."""
    steps = ", ".join(bare("speed", reading.speed) for reading in facts.readings)
    return (
        f"Hold each speed ({steps}{THIN}rpm) by the load, with the supply of the study, until "
        "bearings and exhaust are steady, ten minutes at least; write down every reading, then go "
        "on. Turn it up the first time on less pressure. Everyone out of the plane of the discs; "
        "valve and readings worked from elsewhere."
    )


def _milligrams(mass: float) -> str:
    return f"{number(1e6 * mass)}{THIN}mg"
