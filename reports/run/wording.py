"""The sentences of a run's page, made from facts. Plain text: nothing here knows HTML."""

import math

from engine.columns import COLUMNS, base_key
from engine.model.limits import STATUS_MEANING
from engine.model.loads import demand, needed
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
    with_article,
    within,
)
from reports.run.candidate_wording import described, survives
from reports.run.facts import Candidate, Facts, Role
from reports.run.inside import is_resolved
from reports.run.search_facts import NEAR, Aim, CloseDesign, LimitFact, Side
from reports.run.trip_wording import survives_with_trip

MOST_FALLEN = 5
"""Most designs taken off the front that the page names."""

NOT_INCLUDED = (
    (
        "Measurements of your machine. Every loss coefficient is a published value, common "
        "practice or, for the ring around the discs, fitted to a calculation in the plane of the "
        "discs: for jets slower than sound and for liquids, rotor torque comes out up to a fifth "
        "below that. Until a bench run replaces them, use the powers to compare designs."
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
    "The standing-wave speed is that of the disc as drawn, a ring on spokes, held the worse of two "
    "ways: by its whole web or the hub only. The lowest of all counts, as something forces it."
)
NO_CERTIFICATE = (
    "These numbers come from a reduced-order model and are no certificate. Local codes and "
    "licensed practice come before any of them."
)


def role_label(role: Role, aims: tuple[Aim, ...]) -> str:
    """Name a candidate by what it is best at."""
    first, second = aims[0], aims[1]
    if role == "most":
        return f"{_superlative(first)} {inline_label(first.key)}"
    if role == "knee":
        return "Knee"
    if role == "carrying":
        return f"{_safest(second)} that carries the loads"
    share = "half" if first.maximise else "twice"
    return f"{_safest(second)} at {share} A's {inline_label(first.key)}"


def candidate_label(candidate: Candidate, aims: tuple[Aim, ...]) -> str:
    """Name a candidate by all its roles."""
    first, *others = (role_label(role, aims) for role in candidate.roles)
    return ", ".join([first, *map(within, others)])


def _superlative(aim: Aim) -> str:
    return "Most" if aim.maximise else "Least"


def _best(aim: Aim) -> str:
    return _superlative(aim).lower()


def _safest(aim: Aim) -> str:
    if base_key(aim.key) == "safety_margin" and aim.maximise:
        return "Safest"
    return f"{_superlative(aim)} {inline_label(aim.key)}"


def answer(facts: Facts) -> tuple[str, ...]:
    """Answer the study in a few sentences."""
    if not facts.feasible:
        return _nothing_feasible(facts)
    if not facts.candidates:
        return _nothing_reaches(facts)
    (_, best), *others = facts.marks
    first = facts.aims[0]
    opening = (
        f"The {_best(first)} {inline_label(first.key)}{_at_required(facts.aims)} is "
        f"{_value(best, first)} (A): {described(best)}."
    )
    same = [_role_phrase(role, facts.aims) for role in best.roles[1:]]
    also = [f"The same design is also {listed(same)}."] if same else []
    rest = [_other(letter, other, facts) for letter, other in others]
    if not any("knee" in candidate.roles for candidate in facts.candidates):
        rest.append("The front has no knee: it runs straight or bends inward.")
    carried = any("carrying" in candidate.roles for candidate in facts.candidates)
    if facts.study.loads is not None and not carried:
        asked = quantity("electric_power", demand(needed(facts.study.loads)))
        rest.append(f"No design of the front runs all that is needed, which takes {asked}.")
    return (opening, *also, *rest)


def _other(letter: str, candidate: Candidate, facts: Facts) -> str:
    first, second = facts.aims[0], facts.aims[1]
    named = " and ".join(_role_phrase(role, facts.aims) for role in candidate.roles)
    given = (
        f"{begun(named)} ({letter}) gives {_value(candidate, first)} at "
        f"{with_article(inline_label(second.key))} of {_value(candidate, second)}"
    )
    return f"{given}: {_trade(facts.candidates[0], candidate, facts.aims)}."


def _role_phrase(role: Role, aims: tuple[Aim, ...]) -> str:
    if role == "knee":
        return "the knee of the front"
    if role == "carrying":
        return f"the {_safest_build(aims[1])} that still carries the loads"
    share = "half" if aims[0].maximise else "no more than twice"
    return f"the {_safest_build(aims[1])} that still has {share} A's {inline_label(aims[0].key)}"


def _safest_build(aim: Aim) -> str:
    safest = _safest(aim)
    return "safest design" if safest == "Safest" else f"design of {within(safest)}"


def _nothing_feasible(facts: Facts) -> tuple[str, ...]:
    sentences = [f"None of the {count(facts.evaluated)} designs meets every limit."]
    if not facts.matched:
        sentences.append("None of them even has an operating point.")
    elif facts.limits and facts.limits[0].failed:
        worst = facts.limits[0]
        sentences.append(
            f"The limit missed most often is {limit_text(worst.key, worst.side, worst.bound)}: "
            f"{percent(worst.failed / facts.matched)} of the designs with an operating point "
            "miss it."
        )
    sentences.append(
        "The tables below show what each limit excludes and which designs came closest."
    )
    return tuple(sentences)


def _nothing_reaches(facts: Facts) -> tuple[str, ...]:
    return (
        (
            f"{count(facts.feasible)} designs meet every limit of the study, but none of them "
            f"reaches{_at_required(facts.aims).removeprefix(' at')}."
        ),
        "No candidate is marked: each of these designs would fail before its operating speed."
        if any(aim.key == "safety_margin" for aim in facts.aims)
        else "No candidate is marked.",
    )


def _at_required(aims: tuple[Aim, ...]) -> str:
    parts = [
        f"{with_article(inline_label(aim.key))} of {setting(aim.key, aim.required)} or {_more(aim)}"
        for aim in aims[1:]
        if aim.required is not None
    ]
    return f" at {' and '.join(parts)}" if parts else ""


def _more(aim: Aim) -> str:
    return "more" if aim.maximise else "less"


def _value(candidate: Candidate, aim: Aim) -> str:
    return quantity(aim.key, candidate.values[aim.key])


def _trade(best: Candidate, other: Candidate, aims: tuple[Aim, ...]) -> str:
    changes = []
    for aim in aims[:2]:
        before, after = float(best.values[aim.key]), float(other.values[aim.key])
        if before == 0:
            continue
        changes.append(f"{_change(after / before)} {inline_label(aim.key)}")
    return f"against A, {' and '.join(changes)}"


def _change(ratio: float) -> str:
    if ratio >= 2:
        return f"{number(ratio, 2)} times the"
    return f"{number(100 * abs(ratio - 1), 2)}{THIN}% {'more' if ratio > 1 else 'less'}"


def limit_text(key: str, side: Side, bound: float) -> str:
    """Write one side of a limit in words."""
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
    """List the cautions of every page, then those of these candidates."""
    found = [*dangers(str(facts.study.supply.fluid)), *_energies(facts)]
    lost = [letter for letter, candidate in facts.marks if not survives(candidate)]
    if lost:
        found.append(
            f"Without a trip, {listed(lost)} would not survive a lost load (belt off, wire loose)."
        )
    tripped = [letter for letter, each in facts.marks if not survives_with_trip(each.values)]
    if tripped:
        found.append(f"Not even with its trip would {listed(tripped)} survive a lost load.")
    return (*found, as_drawn(facts.study), NO_CERTIFICATE)


def as_drawn(study: Study) -> str:
    """Say which disc the waves are those of, and whether one was tapped."""
    tapped = study.fit is not None and "wave_factor" in study.fit.values
    told = "A tap test of one disc corrects it." if tapped else "No disc was measured."
    return f"{AS_DRAWN} {told}"


def _energies(facts: Facts) -> list[str]:
    energies = {
        letter: float(candidate.values.get("stored_energy", math.nan))
        for letter, candidate in facts.marks
    }
    if not any(map(math.isfinite, energies.values())):
        return []
    each = [
        f"{letter}{THIN}{quantity('stored_energy', energy)}" for letter, energy in energies.items()
    ]
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


def counts_text(facts: Facts) -> str:
    """Say how many designs were tried and how many are left."""
    text = (
        f"{count(facts.evaluated)} designs tried, {count(facts.matched)} with an operating point, "
        f"{count(facts.feasible)} inside every limit"
    )
    on_front = len(facts.front["design"])
    return f"{text}, {count(on_front)} on the front." if on_front else f"{text}."


def chart_note(facts: Facts, step: int) -> str:
    """Say what is drawn and what is not."""
    drawn = (
        "Faint: every feasible design."
        if step == 1
        else f"Faint: one feasible design in {step}, spread over the run; the front is complete."
    )
    text = f"{drawn} Point at a dot to see its design. Click it to pin it here and in the table."
    if len(facts.candidates) == 3:
        text += " At the knee, a little more of either starts to cost a lot of the other."
    for aim in facts.aims[2:]:
        text += f" The dots and the table show {inline_label(aim.key)} too; no axis does."
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
    missing = [letter for letter, candidate in facts.marks if candidate.inside.gap is None]
    return f"Not drawn: {listed(missing)}, whose flow did not converge." if missing else ""


def search_notes(facts: Facts) -> tuple[str, ...]:
    """List what narrowed the search besides its limits."""
    found = [
        f"{count(designs)} of {count(facts.evaluated)} designs have no operating point: "
        f"{STATUS_MEANING.get(status, status)}."
        for status, designs in facts.statuses
    ]
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
        f"{count(designs)} designs of the front use a relation outside its published range: {name}."
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


def front_text(facts: Facts) -> str:
    """Say what the chart of the front shows, for those who cannot see it."""
    first, second = facts.aims[0], facts.aims[1]
    ends = [
        f"{quantity(first.key, float(facts.front[first.key][row]))} at "
        f"{quantity(second.key, float(facts.front[second.key][row]))}"
        for row in (0, -1)
    ]
    return (
        f"Chart of {inline_label(first.key)} against {inline_label(second.key)}: a front of "
        f"{len(facts.front['design'])} designs from {ends[0]} to {ends[1]}."
    )


def axis_title(aim: Aim) -> str:
    """Title a chart axis with label, unit and which way is better."""
    return f"{COLUMNS[aim.key].title}, {_more(aim)} is better"
