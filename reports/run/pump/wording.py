"""The sentences of a pump's page. Plain text: nothing here knows HTML."""

import math
from collections.abc import Mapping
from functools import partial

import numpy as np

from engine.columns import COLUMNS, Column, band_key, columns_of
from engine.fluids.by_name import GLYCEROL
from engine.model.cautions import BLADED, GENTLE_ONLY, PRIMING, PUMP_CAUTION, SLURRY
from engine.model.parts import nut_note
from engine.model.pump.validity import MOST_DIFFERENCE
from engine.physics.pump.suction import GRAVITY
from engine.run.pick import TOO_NEAR
from engine.study.pump.study import PumpStudy
from reports.kit.quantities import (
    MISSING,
    THIN,
    bare,
    begun,
    chance,
    count,
    inline_label,
    listed,
    number,
    percent,
    power,
    quantity,
    signed_percent,
    whole_percent,
)
from reports.run.choice import Row, why_of
from reports.run.facts import Candidate, Facts
from reports.run.opening import Figure, date_text, failure_words
from reports.run.pump import blower_wording as blower
from reports.run.pump.liquid_wording import DANGERS, NOT_INCLUDED, PAGE
from reports.run.search_facts import Values
from reports.run.wording import NO_CERTIFICATE, as_drawn

FLUID_NUMBERS = (
    "flow",
    "head",
    "resolved_head",
    "shutoff_head",
    "head_droop",
    "npsh_available",
    "npsh_required",
    "npsh_margin",
    "least_flow",
    "temperature_rise",
    "free_passage",
    "residence_time",
    "shear_median",
    "share_above_50_pa",
    "share_above_150_pa",
    "ring_shear",
    "volumetric_efficiency",
    "rotor_efficiency",
    "pump_efficiency",
    "specific_speed",
    "specific_diameter",
)
"""What the table of head, suction and gentle handling shows."""


def study_of(facts: Facts) -> PumpStudy:
    """Study of the page, which is one of a pump."""
    assert isinstance(facts.study, PumpStudy)  # noqa: S101  (page.write_report chose by it)
    return facts.study


def page_words(facts: Facts) -> Mapping[str, str]:
    """Give headings and words of the page."""
    return blower.PAGE if is_blower(facts) else PAGE


def not_included(facts: Facts) -> tuple[str, ...]:
    """List what the numbers do not include."""
    return blower.NOT_INCLUDED if is_blower(facts) else NOT_INCLUDED


def fluid_numbers(facts: Facts) -> list[str]:
    """List the rows of the table of head, suction and gentle handling."""
    gentle = ("residence_time", "shear_median", "share_above_50_pa", "share_above_150_pa",
              "ring_shear")  # fmt: skip
    shown = [key for key in FLUID_NUMBERS if not (is_blower(facts) and key in gentle)]
    return [key for key in shown if key in facts.front]


def is_blower(facts: Facts) -> bool:
    """Whether a gas is pumped."""
    return study_of(facts).supply.is_gas


def is_analogue(facts: Facts) -> bool:
    """Whether the fluid stands for blood."""
    return study_of(facts).supply.fluid == GLYCEROL


def cells(facts: Facts) -> tuple[tuple[str, str], ...]:
    """List the cells of the title block behind the study: duty, search, date."""
    on_front = len(facts.front["design"]) if facts.candidates else 0
    found = f"{count(facts.evaluated)} builds"
    found += f", {count(on_front)} worth a look" if on_front else ""
    found += "; ended early" if "early" in facts.provenance.get("Search", "") else ""
    return (
        ("Blower for" if is_blower(facts) else "Pump for", duty_cell(facts)),
        ("Searched", found),
        ("Run", date_text(facts.provenance.get("Started", ""))),
    )


def duty_cell(facts: Facts) -> str:
    """Describe fluid and duty in few words."""
    study = study_of(facts)
    duty, fluid = study.duty, begun(str(study.supply.fluid))
    if not duty.is_system:
        return f"{fluid}, {quantity('flow', duty.flow)}"
    lift = f"{number(duty.static_head or 0.0, trim=True)}{THIN}m"
    loss = f"{number(duty.head_loss or 0.0, trim=True)}{THIN}m"
    if is_blower(facts):
        weight = study.supply.density * GRAVITY
        against, drop = (
            blower.pascals(weight * (h or 0.0)) for h in (duty.static_head, duty.head_loss)
        )
        up = f"against {against} and " if duty.static_head else ""
        return f"{fluid}, {up}{drop} of loss at {quantity('flow', duty.flow)}"
    return f"{fluid}, {lift} up and {loss} of loss at {quantity('flow', duty.flow)}"


def suction_text(facts: Facts) -> str:
    """Describe what comes in, in one line."""
    supply = study_of(facts).supply
    return (
        f"{begun(str(supply.fluid))} at {quantity('rim_pressure', supply.pressure)} absolute and "
        f"{quantity('disc_temperature', supply.temperature)}, {number(supply.density)}{THIN}kg/m³"
    )


def lead(facts: Facts) -> tuple[str, ...]:
    """Say what the pick delivers, and why it was picked."""
    if not facts.candidates:
        return ("None of them even has an operating point.",) if not facts.matched else ()
    return (gives_text(facts), why_text(facts))


def gives_text(facts: Facts) -> str:
    """Say where the pick runs."""
    values = facts.pick.values
    rise = "pressure" if is_blower(facts) else "head"
    by_system = study_of(facts).duty.is_system
    met = f"where its {rise} meets that of the pipes" if by_system else "as asked"
    text = (
        f"It delivers {quantity('flow', values['flow'])} at {quantity('head', values['head'])} of "
        f"head, {met}; shut, it would reach {quantity('shutoff_head', values['shutoff_head'])}."
    )
    if is_blower(facts):
        text = blower.gives_text(values, str(facts.study.supply.fluid), met=met)
    droop = _of(values, "head_droop")
    if droop > 0.01:
        text += (
            f" Its curve droops by {percent(droop)} towards small flows: two flows have one head, "
            "and it may hunt between them."
        )
    if _of(values, "backflow_share") > 0:
        text += " Some of the flow turns back inside the gaps, so these numbers are indicative."
    return text


def why_text(facts: Facts) -> str:
    """Say why this build, and not the best one on paper."""
    remedy = "Choose a finer process, thicker discs or a lower speed."
    return why_of(facts, _miss_text, lambda _: remedy)


def _miss_text(facts: Facts, key: str) -> str:
    values = facts.pick.values
    if key == TOO_NEAR:
        low = number(_of(values, "safety_margin_p10"))
        return f"one build in ten fails already at {low} times its running speed"
    share = _of(values, band_key(key, "chance"))
    return f"its {inline_label(key)} holds in {chance(share)} of builds"


def figures(facts: Facts) -> tuple[Figure, ...]:
    """List the four large numbers: delivery, first failure, power drawn, suction."""
    return figures_of(study_of(facts), facts.pick.values) if facts.candidates else ()


def figures_of(study: PumpStudy, values: Values) -> tuple[Figure, ...]:
    """List them for one build."""
    supply, by_system = study.supply, study.duty.is_system
    if supply.is_gas:
        return blower.figures(
            values, str(supply.fluid), by_system=by_system, suction=supply.pressure
        )
    drawn = _of(values, "electric_power")
    key, other = ("flow", "head") if by_system else ("head", "flow")
    return (
        Figure(
            quantity(key, values[key]),
            f"{_noun(key)} at {quantity(other, values[other])}{_band(values, key)}",
        ),
        Figure(f"{number(_of(values, 'safety_margin'))}{THIN}×", failure_words(values)),
        Figure(
            power(drawn),
            f"drawn by the motor, of which {whole_percent(_of(values, 'wire_to_water'))} lifts the "
            f"fluid{_band(values, 'electric_power')}",
        ),
        Figure(
            quantity("npsh_margin", _of(values, "npsh_margin")),
            f"of head above boiling left at the eye; it needs "
            f"{quantity('npsh_required', _of(values, 'npsh_required'))} of "
            f"{quantity('npsh_available', _of(values, 'npsh_available'))}",
        ),
    )


def _noun(key: str) -> str:
    return "delivered" if key == "flow" else "of head"


def _band(values: Values, key: str) -> str:
    low, high = (_of(values, band_key(key, part)) for part in ("p10", "p90"))
    if not (math.isfinite(low) and math.isfinite(high)):
        return ""
    return f"; eight builds in ten fall between {bare(key, low)} and {bare(key, high)}"


def musts(facts: Facts) -> str:
    """Say what it must never run without."""
    return musts_of(study_of(facts))


def musts_of(study: PumpStudy) -> str:
    """Say it for a study."""
    if study.supply.is_gas:
        return blower.MUSTS
    return f"a guard, a breaker for earth faults and its fluid. {PRIMING}"


def banner(facts: Facts) -> str:
    """Give the caution that stands above everything of a loop with a blood analogue; '' else."""
    return GENTLE_ONLY if is_analogue(facts) else ""


def ruler_text(facts: Facts) -> str:
    """Say how far the builds shown are from failing."""
    factor = _of(facts.pick.values, "overspeed_factor")
    near = [
        each.told for each in facts.candidates if not _of(each.values, "safety_margin") > factor
    ]
    first = f"Switched off, it stops. By mistake its drive may turn {number(factor)} times as fast"
    if not near:
        return f"{first}: all stay below the first failure."
    return f"{first}, and then {listed(near)} would fail."


def passes_text(facts: Facts) -> str:
    """Say what size of particle goes through the pick."""
    if is_blower(facts):
        return blower.passes_text(facts.pick.values, str(facts.study.supply.fluid))
    passage = _of(facts.pick.values, "free_passage")
    third = quantity("free_passage", passage / 3)
    return (
        f"A single sphere below {quantity('free_passage', passage)} goes through the pick; of many "
        f"particles take a third, {third}, as they bridge."
    )


def gentle_text(facts: Facts) -> str:
    """Say what the numbers of gentle handling are and are not; '' of a gas."""
    if is_blower(facts):
        return ""
    return (
        "Shear is that in the gaps, on the way of the fluid; a peak is not given, as it has none "
        "that a finer calculation would not raise. The wear ring may be harsher than the gaps. "
        "They rank builds of one fluid and say nothing of any cell. No haemolysis index is given: "
        "the constants of its published laws could not be vouched for."
    )


def recheck_text(facts: Facts) -> str:
    """Compare the head of the search with that of resolved gap flow, along the front."""
    found = np.asarray(facts.front.get("head_difference", ()), dtype=float)
    if not found.size:
        return ""
    known = found[np.isfinite(found)]
    start = "The search used gap flow averaged across the gap; the front was rechecked with it"
    turned = len(found) - len(known)
    rest = (
        ""
        if not turned
        else (
            f" In {count(turned)} of {count(len(found))} builds some flow turns back or the "
            "resolved flow does not settle: there no head is confirmed."
        )
    )
    if not known.size:
        return f"{start} resolved.{rest}"
    low, high = (signed_percent(float(end)) for end in (known.min(), known.max()))
    past = int((np.abs(known) > MOST_DIFFERENCE).sum())
    most = percent(MOST_DIFFERENCE)
    return (
        f"{start} resolved. Head then differs by {low} to {high}, "
        f"{count(past) if past else 'none'} by more than {most}.{rest}"
    )


def tolerance_note(study: PumpStudy) -> str:
    """Say what the samples vary and what they leave out."""
    samples = number(vars(study.uncertainty)["samples"])
    return (
        f"From {samples} samples of a Latin hypercube, each computed "
        "with the whole model. A sample varies every loss coefficient, leakage, motor, temperature "
        "and the shop's tolerances at once. Other errors of the model are not included. A sample "
        "without an operating point delivers nothing and misses every limit."
    )


def cautions_of(study: PumpStudy) -> list[str]:
    """List the cautions of every page of a pump."""
    found = [GENTLE_ONLY] if study.supply.fluid == GLYCEROL else []
    if study.supply.is_gas:
        return [*found, *blower.CAUTIONS]
    return [*found, PUMP_CAUTION, *DANGERS, PRIMING, SLURRY]


def cautions(facts: Facts) -> tuple[str, ...]:
    """List the cautions of every page of a pump, then those of the builds shown."""
    loaded = [each.told for each in facts.candidates if _of(each.values, "motor_load") > 1]
    found = cautions_of(study_of(facts))
    if loaded:
        found.append(f"The motor of {listed(loaded)} is overloaded and burns: take a larger one.")
    return (*found, as_drawn(facts.study), NO_CERTIFICATE)


def comparison(facts: Facts) -> str:
    """Say when a bladed machine is the better choice, and when this one is."""
    return blower.COMPARISON if is_blower(facts) else BLADED


def choice_rows(facts: Facts) -> tuple[Row, ...]:
    """List the rows of the table that sets builds side by side."""
    aims = [aim.key for aim in facts.aims]
    rise = ("pressure_rise",) if is_blower(facts) else ()
    shown = [*aims, *(key for key in ("flow", "head", *rise, "electric_power", "wire_to_water",
                                      "safety_margin") if key not in aims)]  # fmt: skip
    _row = partial(_row_of, columns_of(facts.study.works_as))
    rows = [_row(key) for key in shown if key in facts.front]
    rows += [Row("Discs × diameter, gap", "mm", _discs)]
    rows += [_row(key) for key in ("eye_diameter", "throat_area", "speed")]
    rows += [_row(key) for key in ("free_passage", "npsh_margin", "motor_load") if key not in shown]
    keep = (row for row in rows if any(row.text(c.values) != MISSING for c in facts.candidates))
    return tuple(keep)


def _discs(values: Values) -> str:
    diameter, gap = (bare(key, values[key]) for key in ("disc_diameter", "gap"))
    return f"{bare('disc_count', values['disc_count'])} × {diameter}, {gap}"


def _row_of(columns: Mapping[str, Column], key: str) -> Row:
    column = columns.get(key, COLUMNS[key])
    unit = "" if column.unit.symbol in ("count", "text") else column.unit.symbol
    return Row(
        column.label, unit, lambda values: bare(key, values[key]) if key in values else MISSING,
        column.meaning,
    )  # fmt: skip


def notes(candidate: Candidate) -> tuple[str, ...]:
    """List what the maker of this build must know besides its numbers."""
    values = candidate.values
    found = [note] if (note := nut_note(values)) else []
    if _of(values, "motor_load") > 1:
        found.append("It overloads the motor: its rating at this speed is less.")
    if _of(values, "backflow_share") > 0:
        share = percent(_of(values, "backflow_share"))
        found.append(f"Over {share} of the radius the middle of the gap flows back.")
    if str(values.get("validity", "")):
        found.append(f"Outside its valid range: {values['validity']}.")
    return tuple(found)


def _of(values: Values, key: str) -> float:
    return float(values.get(key, math.nan))
