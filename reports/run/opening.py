"""The first screen, in plain text: which build, what it gives, how near it is to failing."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from engine.bands.results import METAL
from engine.columns import COLUMNS, base_key
from engine.fluids.by_name import LIQUIDS, is_vapour
from engine.model.loads import demand, load_text, needed
from engine.model.worth import Costs, Worth, worth_of
from engine.run.pick import TOO_NEAR
from engine.study.study import Study
from reports.kit.quantities import (
    THIN,
    begun,
    chance,
    count,
    inline_label,
    listed,
    number,
    power,
    quantity,
    whole_percent,
)
from reports.run.candidate_wording import runaway_text, survives
from reports.run.choice import plainly, why_of
from reports.run.facts import Candidate, Facts
from reports.run.search_facts import Values
from reports.run.stages import WORDS, of_each_stage
from reports.run.trip_wording import survives_with_trip
from reports.run.wording import fall_text, limit_text

SMALL_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
PARTS = {
    2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 6: "a sixth", 7: "a seventh",
    8: "an eighth", 9: "a ninth", 10: "a tenth", 11: "an eleventh", 12: "a twelfth",
    13: "a thirteenth", 14: "a fourteenth", 15: "a fifteenth", 16: "a sixteenth",
    17: "a seventeenth", 18: "an eighteenth", 19: "a nineteenth", 20: "a twentieth",
}  # fmt: skip
FIRST_TO_FAIL = {
    "bearing limit": "the bearings",
    "standing wave": "a standing wave in the discs",
    "yield": "the discs yield",
    "burst": "the discs burst",
    "rim rub": "the rim rubs on the casing",
    "seal rub": "the collars rub in their seals",
    "generator limit": "the generator",
    "shaft bending": "the shaft bends",
}
"""What comes first, as it stands in a sentence."""


@dataclass(frozen=True)
class Figure:
    """One of the four large numbers."""

    value: str
    words: str


def heading(facts: Facts) -> str:
    """Say in one sentence what to build."""
    if not facts.candidates:
        return f"None of the {count(facts.evaluated)} builds meets every limit."
    if facts.judged and not facts.holds:
        return f"No build here holds its limits in nine of ten. Nearest: {_build(facts.pick)}."
    return f"Build {_build(facts.pick)}."


def _build(candidate: Candidate) -> str:
    values = candidate.values
    discs = round(float(values["disc_count"]))
    wide, plural = quantity("disc_diameter", values["disc_diameter"]), "s" if discs != 1 else ""
    each = of_each_stage("disc_count", values)
    many = f"{count(discs)} discs of {wide}"
    if len(each) > 1:
        many = f"{listed([count(n) for n in each])} discs of {wide} in {WORDS[len(each)]}"
    elif discs < len(SMALL_NUMBERS):
        many = f"{SMALL_NUMBERS[discs]} {wide} disc{plural}"
    return (
        f"{many}, {quantity('gap', values['gap'])} apart, and run them at "
        f"{quantity('speed', values['speed'])}"
    )


def lead(facts: Facts) -> tuple[str, ...]:
    """Say what the build runs, and why it was picked."""
    if not facts.candidates:
        return _nothing_feasible(facts)
    return tuple(filter(None, (runs_text(facts), why_text(facts))))


def _nothing_feasible(facts: Facts) -> tuple[str, ...]:
    if not facts.matched:
        return ("None of them even has an operating point.",)
    sentences = []
    if facts.limits and facts.limits[0].failed:
        worst = facts.limits[0]
        share = whole_percent(worst.failed / facts.matched)
        sentences.append(
            f"The limit missed most often is {limit_text(worst.key, worst.side, worst.bound)}: "
            f"{share} of the builds with an operating point miss it."
        )
    sentences.append("Below stand the closest builds, and what each limit shuts out.")
    return tuple(sentences)


def runs_text(facts: Facts) -> str:
    """Say what the pick runs; '' where the study lists no loads."""
    carries, loads = facts.pick.carries, facts.study.loads
    if carries is None or loads is None:
        return ""
    must = needed(loads)
    wanted = power(demand(must)) if must else ""
    counted = power(carries.power)
    if carries.spare < 0:
        return (
            f"It does not run all that must run, which takes {wanted}: nine builds in ten reach "
            f"only {counted}."
        )
    names = [plainly(load_text(load)) for load in (carries.sets[0] if carries.sets else ())]
    if not names:
        return f"It runs none of the study's appliances: nine builds in ten reach {counted}."
    takes = f" What must run takes {wanted}." if wanted else ""
    return f"This build runs {listed(names)} together.{takes}"


def why_text(facts: Facts) -> str:
    """Say why this build, and not the best one on paper."""
    return why_of(facts, _miss_text, _remedy)


def _miss_text(facts: Facts, key: str) -> str:
    values = facts.pick.values
    if key == TOO_NEAR:
        low, peak = (float(values.get(k, math.nan)) for k in ("safety_margin_p10", "peak_ratio"))
        return (
            f"one build in ten fails below {number(low)} times its running speed, and a lost load "
            f"takes it to {number(peak)} times before the trip has acted"
        )
    share = float(values.get(f"{key}_chance", math.nan))
    return f"its {inline_label(key)} holds in {chance(share)} of builds"


def _remedy(facts: Facts) -> str:
    if facts.study.search.robust:
        return "Widen a range, choose a finer process, or lower what is asked."
    return (
        "To search for builds that hold every limit despite tolerances, set robust: true in the "
        "study and run it again; else choose a finer process or a lower speed."
    )


def worth_text(facts: Facts) -> str:
    """Say whether it is worth doing; '' where that is not known."""
    if not facts.candidates or "supply_power" not in facts.pick.values:
        return ""
    worth = worth_of(facts.study, facts.pick.values)
    if not worth.power > 0:
        return ""
    ratio = f"{number(worth.taken_for_one, 2, trim=True)}{THIN}kWh"
    sentences = {
        "compressor": _socket_text(worth, "compressor"),
        "pump": _socket_text(worth, "pump"),
        "boiler": f"The boiler burns {ratio} of fuel for each kWh at the terminals.",
        "head": f"It gives {whole_percent(worth.share)} of the power of the flow.",
    }[worth.source]
    if math.isfinite(worth.tank):
        sentences += f" A full receiver alone runs it for {_minutes(worth.tank)}."
    return " ".join([sentences, *_costs_text(worth.costs)])


def _socket_text(worth: Worth, taker: str) -> str:
    share = worth.taken_for_one
    ratio = f"{number(share, 2, trim=True)}{THIN}kWh"
    part = PARTS[round(share)] if round(share) in PARTS else f"1/{round(share)}"
    if share <= 1:
        return f"The {taker} takes {ratio} for each kWh at the terminals."
    return (
        f"To save electricity it makes no sense: the {taker} takes {ratio} for each kWh that comes "
        f"back. Run from the same socket, the appliances need {part} of it."
    )


def _costs_text(costs: Costs | None) -> list[str]:
    if costs is None:
        return []
    money, found = costs.currency, []
    if costs.per_hour > 0 and math.isfinite(costs.per_kwh):
        each, hour = (number(value) for value in (costs.per_kwh, costs.per_hour))
        found.append(f"A kWh from it costs {each}{THIN}{money}, an hour {hour}{THIN}{money}.")
    if math.isinf(costs.payback):
        found.append("It never pays back: it costs more to run than it gives.")
    elif math.isfinite(costs.payback):
        found.append(f"It has paid for itself after {number(costs.payback, 2)}{THIN}h of running.")
    return found


def _minutes(seconds: float) -> str:
    if seconds < 120:
        return f"{number(seconds, 2, trim=True)}{THIN}s"
    return f"{number(seconds / 60, 2, trim=True)}{THIN}min"


def figures(facts: Facts) -> tuple[Figure, ...]:
    """List the four large numbers: power, first failure, power drawn, energy in the discs."""
    return figures_of(facts.study, facts.pick.values) if facts.candidates else ()


def figures_of(study: Study, values: Values) -> tuple[Figure, ...]:
    """List them for one build."""
    return (
        Figure(power(_of(values, "electric_power")), _power_words(values)),
        Figure(f"{number(_of(values, 'safety_margin'))}{THIN}×", failure_words(values)),
        Figure(power(_of(values, "supply_power")), _drawn_words(study, values)),
        Figure(
            quantity("stored_energy", _of(values, "stored_energy")),
            f"in the turning discs: {fall_text(_of(values, 'stored_energy'))}. The casing must "
            "hold the pieces",
        ),
    )


def _power_words(values: Values) -> str:
    low, high = (_of(values, f"electric_power_{end}") for end in ("p10", "p90"))
    if not (math.isfinite(low) and math.isfinite(high)):
        return "at the terminals, as drawn"
    ends = f"{power(low).removesuffix(f'{THIN}W')} and {power(high)}"
    return f"at the terminals; eight builds in ten fall between {ends}"


def failure_words(values: Values) -> str:
    """Say what fails first, and how surely."""
    mode = str(values.get("governing_mode", ""))
    first = f", {FIRST_TO_FAIL[mode]}" if mode in FIRST_TO_FAIL else ""
    low = _of(values, "safety_margin_p10")
    band = f"; nine builds in ten reach {number(low)}{THIN}× or more" if math.isfinite(low) else ""
    return f"its running speed before the first failure{first}{band}"


def _drawn_words(study: Study, values: Values) -> str:
    taker = drawn_by(study)
    if not math.isfinite(_of(values, "supply_power")):
        return f"drawn by {taker}: not known"
    back = _of(values, "supply_efficiency")
    return f"drawn by {taker}, so {whole_percent(back)} comes back"


def drawn_by(study: Study) -> str:
    """Name what draws the supply power."""
    fluid = str(study.supply.fluid)
    if fluid in LIQUIDS:
        return "the flow from its head"
    return "fuel and feed pump" if is_vapour(fluid) else "the compressor"


def musts(facts: Facts) -> str:
    """Say what it must never run without, and whether a trip may be left out."""
    return musts_of(facts.pick.values if facts.candidates else {})


def musts_of(values: Values) -> str:
    """Say it for one build."""
    speed = _of(values, "speed") * _of(values, "trip_factor")
    trip = "an overspeed trip"
    if math.isfinite(speed):
        trip += f" set to {_rpm(speed)}"
    return f"containment, {trip}, a relief valve and a remote start."


def trip_text(facts: Facts) -> str:
    """Say whether the pick survives a lost load with and without its trip; '' if not known."""
    if not facts.candidates:
        return ""
    values = facts.pick.values
    runaway, margin = _of(values, "runaway_ratio"), _of(values, "safety_margin")
    if not (math.isfinite(runaway) and math.isfinite(margin)):
        return ""
    races = f"If the load drops off, it races to {runaway_text(values)} running speed"
    if survives(facts.pick):
        return f"{races}; the first failure comes at {number(margin)} times. Fit the trip anyway."
    saved = "Only the trip saves it."
    if not survives_with_trip(values):
        saved = "Not even the trip saves it: do not build it like this."
    return f"{races}, and the first failure comes at {number(margin)} times. {saved}"


def ruler_text(facts: Facts) -> str:
    """Say what happens to the builds shown when the load is lost and nothing trips."""
    lost = [each for each in facts.candidates if not survives(each)]
    if not lost:
        some = "it stays" if len(facts.candidates) == 1 else "all stay"
        return f"Load lost and no trip: {some} below the first failure, as far as was computed."
    if len(lost) == len(facts.candidates):
        all_ = {1: "it runs", 2: "both run"}.get(len(lost), "all three run")
        its = "its" if len(lost) == 1 else "their"
        return f"Load lost and no trip: {all_} past {its} first failure. The trip must act."
    named = listed([each.told for each in lost])
    verb = "runs past its" if len(lost) == 1 else "run past their"
    return f"Load lost and no trip: {named} {verb} first failure. The trip must act."


def cells(facts: Facts) -> tuple[tuple[str, str], ...]:
    """List the cells of the title block behind the study: supply, search, date."""
    on_front = len(facts.front["design"]) if facts.candidates else 0
    found = f"{count(facts.evaluated)} builds"
    if on_front:
        found += f", {count(on_front)} worth a look"
    if "early" in facts.provenance.get("Search", ""):
        found += "; ended early"
    return (
        ("Supply", supply_cell(facts)),
        ("Searched", found),
        ("Run", date_text(facts.provenance.get("Started", ""))),
    )


def supply_cell(facts: Facts) -> str:
    """Describe the supply in few words."""
    supply = facts.study.supply
    gauge = supply.pressure - supply.back_pressure
    bar = number(gauge / 1e5, 3, trim=True)
    text = f"{begun(str(supply.fluid))}, {bar}{THIN}bar over the outlet"
    if supply.available_flow is not None:
        text += f", {flow_text(facts, supply.available_flow)}"
    return text


def flow_text(facts: Facts, mass_flow: float) -> str:
    """Write a mass flow [kg/s], as free air in l/min where the builds say it so."""
    free, mass = (
        np.asarray(facts.front.get(key, ()), dtype=float) for key in ("free_air_flow", "mass_flow")
    )
    if free.size and mass.size and free[0] > 0 and str(facts.study.supply.fluid) not in LIQUIDS:
        litres = float(COLUMNS["free_air_flow"].to_drawing(mass_flow * free[0] / mass[0]))
        return f"{number(litres, 3, trim=True)}{THIN}l/min"
    return quantity("mass_flow", mass_flow)


def date_text(started: str) -> str:
    """Write a date as 28 Nov 2026, 19:06; unchanged where it is none."""
    try:
        moment = datetime.fromisoformat(started)
    except ValueError:
        return started or "not noted"
    return f"{moment.day}{THIN}{moment:%b %Y, %H:%M}"


def air_text(facts: Facts) -> str:
    """Tell limits apart that the supply, not the metal, decides; '' where all hold well."""
    if not facts.candidates or not facts.judged:
        return ""
    poor = [
        band
        for band in facts.pick.bands
        if band.chance is not None and band.chance < 0.9 and base_key(band.key) not in METAL
    ]
    if not poor:
        return ""
    told = listed([f"{inline_label(b.key)} in {chance(float(b.chance or 0))}" for b in poor])
    return (
        f"Limits that break nothing hold less often: {told} of builds. A throttle or a smaller "
        "load cures these."
    )


def three_text(candidates: Sequence[Candidate]) -> Iterable[str]:
    """Say which of the builds shown are one stack at another speed, or one build."""
    for each in candidates[1:]:
        if each.same_parts:
            yield f"{each.name} is the stack of the pick at another speed: the same parts."
    for each in candidates:
        if len(each.roles) > 1:
            also = listed([f"the {role}" for role in each.roles[1:]])
            yield f"{each.name} is also {also} build: nothing better was found."


def _of(values: Values, key: str) -> float:
    return float(values.get(key, math.nan))


def _rpm(speed: float) -> str:
    return f"{count(float(COLUMNS['speed'].to_drawing(speed)))}{THIN}rpm"
