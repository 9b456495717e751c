"""The sentences of a pump's build sheet, made from its facts. Plain text."""

from engine.fluids.by_name import GLYCEROL
from engine.model.cautions import BLADED, GENTLE_ONLY, PRIMING, PUMP_CAUTION, SLURRY
from engine.model.parts import nut_note
from engine.model.pump.validity import WIDE
from engine.physics.pump.suction import GRAVITY
from engine.study.pump.study import PumpStudy
from reports.design.facts import BuildFacts
from reports.design.sheet_quantities import of, rpm, trip
from reports.kit.quantities import THIN, begun, count, number, percent, quantity
from reports.run.pump import blower_wording as blower
from reports.run.pump.liquid_wording import DANGERS
from reports.run.trip_wording import fatigue_text, wear_notes
from reports.run.wording import NO_CERTIFICATE, as_drawn

BOILS = (
    "It crackles as if gravel went through: the suction boils. Open the suction, lower the pump or "
    "cool the fluid."
)
STOPS = "First run: switch the motor off at once when"
SIGNED = (
    "Decided",
    "Parts and gaps checked",
    "Balance checked",
    "Guard and breaker checked",
    "Cleared for the first run",
)
"""Who signs."""


def study_of(facts: BuildFacts) -> PumpStudy:
    """Study of the sheet, which is one of a pump."""
    assert isinstance(facts.study, PumpStudy)  # noqa: S101  (its kind chose these words)
    return facts.study


def described(facts: BuildFacts) -> str:
    """Describe a build by its main dimensions, its speed and what it delivers."""
    return (
        f"{count(facts.number('disc_count'))} discs of {of(facts, 'disc_diameter')} with "
        f"{of(facts, 'gap')} gaps, {of(facts, 'eye_diameter')} eye, {of(facts, 'throat_area')} "
        f"throat, turning at {of(facts, 'speed')}: {of(facts, 'flow')} at {_rise(facts)}"
    )


def is_blower(facts: BuildFacts) -> bool:
    """Whether a gas is pumped."""
    return study_of(facts).supply.is_gas


def _rise(facts: BuildFacts) -> str:
    if is_blower(facts):
        return blower.rise_text(facts.candidate.values, str(facts.study.supply.fluid))
    return f"{of(facts, 'head')} of head"


def supply(facts: BuildFacts) -> str:
    """Describe what the numbers are for: fluid, suction and duty."""
    study = study_of(facts)
    given, duty = study.supply, study.duty
    lift = f" Asked for: {quantity('flow', duty.flow)}."
    if duty.is_system:
        heads = (duty.static_head or 0.0, duty.head_loss or 0.0)
        weight = given.density * GRAVITY
        up, loss = (
            blower.pascals(weight * each) if given.is_gas else f"{number(each, trim=True)}{THIN}m"
            for each in heads
        )
        against = f"{up} {'of back pressure' if given.is_gas else 'up'} and "
        against = "" if given.is_gas and not heads[0] else against
        lift = f" The pipes ask for {against}{loss} of loss at {quantity('flow', duty.flow)}."
    boils = (
        ""
        if given.is_gas
        else f": {of(facts, 'npsh_available')} of NPSH, of which {of(facts, 'npsh_required')} are "
        "needed"
    )
    return (
        f"{begun(str(given.fluid))} at {quantity('rim_pressure', given.pressure)} absolute and "
        f"{quantity('disc_temperature', given.temperature)} at the suction flange{boils}.{lift}"
    )


def cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List the cautions of every sheet of a pump, then those of this design."""
    values = facts.candidate.values
    found = [GENTLE_ONLY] if study_of(facts).supply.fluid == GLYCEROL else []
    if is_blower(facts):
        found += [*blower.CAUTIONS, blower.COMPARISON]
    else:
        found += [PUMP_CAUTION, *DANGERS, PRIMING, SLURRY, BLADED]
    if facts.number("overspeed_factor") >= facts.number("safety_margin"):
        found.append(
            "The highest speed of its drive lies above the first failure. Do not build it like "
            "this."
        )
    if facts.number("motor_load") > 1:
        found.append("It overloads the motor: its rating at this speed is less.")
    found += [note for note in (nut_note(values), *wear_notes(values)) if note]
    if facts.word("validity"):
        found.append(f"Outside its valid range: {facts.word('validity')}.")
    return (*found, as_drawn(facts.study), NO_CERTIFICATE)


def lasts_text(facts: BuildFacts) -> str:
    """Say after how many runs a crack may start."""
    said = fatigue_text(facts.candidate.values)
    return said.replace("trip speed", "the highest speed of its drive")


def flow_rows(facts: BuildFacts) -> tuple[tuple[str, str, str, bool], ...]:
    """List the numbers of the gap flow: label, text, range, and whether it is outside."""
    ekman, back = facts.number("ekman_number"), facts.number("backflow_share")
    wide = f"up to {number(WIDE, trim=True)}: in wider gaps the fast gap flow may be 3 % off"
    return (
        ("Ekman parameter", number(ekman), wide, ekman > WIDE),
        ("Share of the radius with backflow", percent(back), "none", back > 0),
        ("Reynolds number in the gaps", of(facts, "gap_reynolds"), "any", False),
        ("Turbulent share", of(facts, "turbulent_share"), "any", False),
    )


def not_drawn(facts: BuildFacts) -> str:
    """Say which parts have no drawing here."""
    start = f"No casing is drawn: {facts.no_casing}. " if facts.no_casing else ""
    also = "screen" if is_blower(facts) else "vent, drain"
    return (
        f"{start}Not drawn: fittings, hoses, shaft seals, {also}, guard, motor and the base "
        "under all feet. drawings.pdf holds every sheet. machine.step holds every part in its "
        "place, and each turned part has a STEP file of its own. order.csv is the list for a "
        "cutting service, turned.csv for a turning shop, bought.csv for a dealer, parts.csv for "
        "all."
    )


def range_text(facts: BuildFacts) -> str:
    """Say which relations are used outside their valid range, and what is not computed."""
    outside = facts.word("validity")
    start = f"Used outside its valid range: {outside}." if outside else ""
    return (
        f"{start} Every loss is a published value or common practice: no measured curve of such a "
        "machine could be read. Not computed: shaft strength; vibration other than at the speeds "
        "listed; the turn from the chamber into the port. Casing: estimates only."
    ).strip()


def stops(facts: BuildFacts) -> tuple[str, ...]:
    """List when to switch the motor off at once in the first run."""
    wet = not is_blower(facts)
    leaks = "the fluid, or a leak at a seal" if wet else "what comes out"
    return (
        *(("It runs and nothing comes: it is not flooded, or the suction draws air.",) * wet),
        f"Speed exceeds {rpm(trip(facts))}: the drive is set wrong.",
        (
            f"The motor draws more than {_drawn(facts)} for longer than it takes to start, or is "
            "too hot to touch."
        ),
        *((BOILS,) * wet),
        (
            f"Vibration at a bearing housing exceeds 4.5{THIN}mm/s RMS (ISO 10816-1, small "
            "machines, from memory), or rises at constant speed."
        ),
        (
            f"A bearing is warmer than 80{THIN}°C, or warms by more than 2{THIN}K in a minute at "
            "constant speed (common practice, no source)."
        ),
        f"There is rubbing noise, smell, metal in {leaks}.",
        (
            f"The discharge stays shut: below {of(facts, 'least_flow')} it warms what it moves by "
            f"more than 10{THIN}K."
        ),
    )


def _drawn(facts: BuildFacts) -> str:
    """Power that nine builds in ten draw at most, or that of the drawn one."""
    key = "electric_power_p90"
    known = key in facts.candidate.values
    return quantity("electric_power", facts.number(key if known else "electric_power"))
