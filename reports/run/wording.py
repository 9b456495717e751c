"""The sentences of a run's page, made from facts. Plain text: nothing here knows HTML."""

import math

from engine.columns import COLUMNS, base_key
from engine.model.limits import STATUS_MEANING
from engine.model.screen import NOT_MARCHED
from engine.model.validity import MOST_DIFFERENCE
from engine.study.study import Study
from reports.kit.fluids import dangers
from reports.kit.quantities import (
    THIN,
    begun,
    count,
    inline_label,
    listed,
    number,
    percent,
    quantity,
    setting,
    signed_percent,
)
from reports.run.candidate_wording import survives
from reports.run.facts import NAMES, Facts
from reports.run.inside import is_resolved
from reports.run.search_facts import FLAGS, NEAR, Aim, CloseDesign, LimitFact, Side
from reports.run.trip_wording import survives_with_trip

HOLDS = 0.25
"""Share of the front from which on a bound is named as holding it."""
MOST_NEAR = 5
"""Most other stacks that the page names."""
MOST_FALLEN = 5
"""Most designs taken off the front that the page names."""

NOT_INCLUDED = (
    (
        "Measurements of your machine. Every loss coefficient is a published value, common "
        "practice or, for the ring around the discs, fitted to a calculation in the plane of the "
        "discs, from which rotor torque differs by up to a fifteenth. Until a bench run replaces "
        "them, use the powers to compare designs."
    ),
    (
        "Vibration beyond the first standing wave of a disc and the first bending of the shaft. "
        "Bearings and frame are taken as stiff, the stack as balanced."
    ),
    "Unequal gaps in the flow. Power is computed with every gap as drawn.",
    (
        "Losses between compressor and nozzles. Pressure and temperature of the supply are those "
        "at the nozzles, steady and dry."
    ),
    "Effects of time: warm-up, ice where moist gas leaves cold, wear and corrosion.",
    "Strength of any part but the discs: bolts, shaft, casing, pipes, containment.",
)


AS_DRAWN = (
    "The standing-wave speed is that of the disc as drawn, a ring on its web, held the worse of "
    "two ways: by its whole web or the hub only. The lowest of all counts, as something forces it."
)
ON_BOLTS = (
    "Of a disc on bolts it is that of a ring on washers that do not lift, between end clamps that "
    "do not give way."
)
NO_CERTIFICATE = (
    "These numbers come from a reduced-order model and are no certificate. Local codes and "
    "licensed practice come before any of them."
)


def role_label(role: str, aims: tuple[Aim, ...]) -> str:
    """Name a build by what it is: the pick, calmer, calmest, or a mark of before."""
    if role in NAMES:
        return NAMES[role]
    first, second = aims[0], aims[1]
    if role == "most":
        return f"{'Most' if first.maximise else 'Least'} {inline_label(first.key)}"
    if role == "knee":
        return "Knee of the front"
    is_margin = base_key(second.key) == "safety_margin" and second.maximise
    safest = f"{'Most' if second.maximise else 'Least'} {inline_label(second.key)}"
    named = "Safest" if is_margin else safest
    return f"{named} that carries the loads" if role == "carrying" else named


def limit_text(key: str, side: Side, bound: float) -> str:
    """Write one side of a limit in words."""
    if key in FLAGS and side == "min":
        return inline_label(key)
    way = "at least" if side == "min" else "at most"
    return f"{inline_label(key)} {way} {setting(key, bound)}"


def limits_note(facts: Facts) -> str:
    """Say what the table of limits holds."""
    text = "Limits of the study, and those of every design, the most missed first"
    near = f"{number(100 * NEAR, trim=True)}{THIN}%"
    return f"{text}; reached means within {near}" if facts.feasible else text


def binding_text(fact: LimitFact, facts: Facts) -> str:
    """Say where along the front a limit is reached."""
    if fact.span is None:
        return "nowhere on the front"
    low, high = (quantity(facts.aims[0].key, end) for end in fact.span)
    n_front = len(facts.front["design"])
    share = percent(fact.binding / n_front)
    return (
        f"{share} of the front, at {low}"
        if low == high
        else f"{share} of the front, {low} to {high}"
    )


def cautions(facts: Facts) -> tuple[str, ...]:
    """List the cautions of every page, then those of the builds shown."""
    found = [*dangers(str(facts.study.supply.fluid)), *_energies(facts)]
    lost = [each.told for each in facts.candidates if not survives(each)]
    if lost:
        found.append(
            f"Without a trip, {listed(lost)} would not survive a lost load (belt off, wire loose)."
        )
    tripped = [each.told for each in facts.candidates if not survives_with_trip(each.values)]
    if tripped:
        found.append(f"Not even with its trip would {listed(tripped)} survive a lost load.")
    return (*found, as_drawn(facts.study), NO_CERTIFICATE)


def as_drawn(study: Study) -> str:
    """Say which disc the waves are those of, and whether one was tapped."""
    tapped = study.fit is not None and "wave_factor" in study.fit.values
    told = "A tap test of one disc corrects it." if tapped else "No disc was measured."
    held = study.searched().get("hold")
    holds = (study.machine.hold,) if held is None else held.values or ()
    return f"{AS_DRAWN} {ON_BOLTS} {told}" if "bolts" in holds else f"{AS_DRAWN} {told}"


def _energies(facts: Facts) -> list[str]:
    energies = {
        each.name: float(each.values.get("stored_energy", math.nan)) for each in facts.candidates
    }
    if not any(map(math.isfinite, energies.values())):
        return []
    each = [f"{name} {quantity('stored_energy', energy)}" for name, energy in energies.items()]
    most = fall_text(max(energies.values()))
    return [f"Energy in the turning discs: {', '.join(each)}; the largest equals {most}."]


def fall_text(energy: float) -> str:
    """Say from what height 100 kg would have to fall to release this energy [J]."""
    return f"100{THIN}kg dropped from {number(energy / (100 * 9.81), 2)}{THIN}m"


def supply_text(facts: Facts) -> str:
    """Describe the supply in one line."""
    supply = facts.study.supply
    text = (
        f"{begun(str(supply.fluid))} at {quantity('rim_pressure', supply.pressure)} absolute "
        f"and {quantity('exhaust_temperature', supply.temperature)}, leaving to "
        f"{quantity('rim_pressure', supply.back_pressure)} absolute"
    )
    if supply.available_flow is not None:
        text += f"; up to {quantity('mass_flow', supply.available_flow)} available"
    return text


def recheck_text(facts: Facts) -> str:
    """Compare the power of the search with that of resolved gap flow; '' if unknown."""
    found = facts.recheck
    if facts.study.search.flow == "resolved":
        return "Power comes from gap flow resolved across the gap, in the search itself too."
    if is_resolved(facts.study, facts.front):
        return "The front was refined with gap flow resolved across the gap; power comes from that."
    if found is None:
        return ""
    start = (
        "The search used gap flow averaged across the gap; the front was rechecked with it resolved"
    )
    if found.unconverged == found.designs:
        return f"{start}, which converged for none of its designs."
    low, high = signed_percent(found.lowest), signed_percent(found.highest)
    spread = low if low == high else f"{low.removesuffix(f'{THIN}%')} to {high}"
    most = f"{number(100 * MOST_DIFFERENCE, trim=True)}{THIN}%"
    differ = f"{found.differ or 'none'} of {count(found.designs)} by more than {most}"
    missing = f"{count(found.unconverged)} did not converge"
    converged = missing if found.unconverged else "all converged"
    return f"{start}. Power then differs by {spread}, {differ}; {converged}."


def not_drawn(facts: Facts) -> str:
    """Name the candidates whose gap flow cannot be drawn; '' where there is none."""
    missing = [each.told for each in facts.candidates if each.inside.gap is None]
    return f"Not drawn: {listed(missing)}, whose flow did not converge." if missing else ""


def bounds_summary(facts: Facts) -> str:
    """Name what holds most of the front, for the fold's head."""
    n_front = len(facts.front["design"])
    if not n_front:
        return "what each limit shuts out"
    held = [(fact.binding / n_front, inline_label(fact.key)) for fact in facts.limits]
    held += [(end.share, f"the {end.end} {inline_label(end.key)}") for end in facts.range_ends]
    named = [name for share, name in sorted(held, reverse=True) if share >= HOLDS][:2]
    if not named:
        return "no limit and no end of a range holds much of the front"
    return f"{listed(named)}, along much of the front"


def near_text(facts: Facts) -> tuple[str, ...]:
    """Name nearly equal builds with other discs and gaps, the best of each kind."""
    near, pick = facts.near, facts.pick.values
    first = facts.aims[0]
    if not {"disc_count", "gap"} <= near.keys() or not near["disc_count"].size:
        return ()
    best: dict[tuple[float, float], float] = {}
    pairs = zip(near["disc_count"], near["gap"], near[first.key], strict=True)
    for discs, gap, value in pairs:
        pair = (float(discs), float(gap))
        better = max if first.maximise else min
        best[pair] = better(best.get(pair, float(value)), float(value))
    best.pop((float(pick["disc_count"]), float(pick["gap"])), None)
    order = sorted(best, key=lambda pair: best[pair], reverse=first.maximise)[:MOST_NEAR]
    told = [
        f"{count(discs)} discs {quantity('gap', gap)} apart "
        f"({quantity(first.key, best[discs, gap])})"
        for discs, gap in order
    ]
    return (f"Other stacks that come as near: {listed(told)}.",) if told else ()


def search_notes(facts: Facts) -> tuple[str, ...]:
    """List what narrowed the search besides its limits."""
    found = [
        f"{count(designs)} of {count(facts.evaluated)} designs have no operating point: "
        f"{STATUS_MEANING.get(status, status)}."
        for status, designs in facts.statuses
        if status != NOT_MARCHED
    ]
    found += [
        f"{count(designs)} of {count(facts.evaluated)} designs miss a limit whatever flows through "
        "them, so their flow was not looked for."
        for status, designs in facts.statuses
        if status == NOT_MARCHED
    ]
    if facts.unsampled:
        found.append(
            f"{count(facts.unsampled)} of {count(facts.evaluated)} designs were evaluated as drawn "
            "only: by their limits or aims as drawn, samples could not have brought them on the "
            "front. The table counts the limits that they miss as drawn; none counts as inside all."
        )
    found += [
        f"Design {number} was taken off the front after the recheck: {reason}."
        for number, reason in facts.fallen[:MOST_FALLEN]
    ]
    if len(facts.fallen) > MOST_FALLEN:
        more = count(len(facts.fallen) - MOST_FALLEN)
        found.append(f"{more} more designs were taken off it; run.log names them.")
    found += [
        f"{COLUMNS[end.key].label}: {percent(end.share)} of the front sits at the {end.end} value "
        f"allowed, {quantity(end.key, end.value)}."
        for end in facts.range_ends
    ]
    if facts.range_ends:
        found.append(
            "Where many designs sit at an end of a range, there may be better ones beyond it."
        )
    found += [
        f"{count(designs)} builds of the front use a relation outside its published range: {name}."
        for name, designs in facts.outside
    ]
    if facts.feasible and not facts.outside:
        found.append("Along the front every relation was used inside its published range.")
    if any(entry.outside for each in facts.candidates for entry in each.inside.flow):
        found.append("Averaged gap flow is not counted here where its recheck agrees.")
    return tuple(found)


def missed_text(design: CloseDesign) -> str:
    """Name the limits that a close design misses, with what it has instead."""
    return "; ".join(
        f"{limit_text(key, side, bound)}, here {quantity(key, design.values[key])}"
        for key, side, bound in design.missed
    )


def is_margin(aim: Aim) -> bool:
    """Whether an aim is the first failure over running speed."""
    return base_key(aim.key) == "safety_margin"


def axis_title(aim: Aim) -> str:
    """Name an axis, with its unit and which way is better."""
    if is_margin(aim):
        return "first failure over running speed"
    column = COLUMNS[aim.key]
    unit = column.unit.symbol
    named = column.label if unit in ("", "count", "text") else f"{column.label}, {unit}"
    return named if aim.maximise else f"{named} (less is better)"
