"""What is said of one candidate: in sentences, in a cell of a table, under a chart. Plain text."""

import math
from dataclasses import dataclass

import numpy as np

from engine.columns import COLUMNS
from engine.model.parts import nut_note
from engine.model.plane import plane_powers
from engine.model.strength import forcing_counts
from engine.model.validity import MOST_DIFFERENCE, OFF_WITH_BACKFLOW, RUNAWAY_BOUND
from engine.physics.gap.profiles import GapProfiles
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from engine.stage_columns import STAGES, of_stage
from reports.kit.quantities import (
    MISSING,
    THIN,
    bare,
    duration,
    listed,
    number,
    percent,
    quantity,
    signed_percent,
    whole_percent,
)
from reports.run.doubt_wording import built_remark
from reports.run.facts import Candidate
from reports.run.inside import FlowNumber
from reports.run.search_facts import Values
from reports.run.trip_wording import peak_text, wear_notes

FREEZING = 273.15
"""[K]"""
UNCONVERGED = "did not converge"
TOLD_UNEVEN = 0.03
"""Difference between the flows of two gaps, over the mean, from which it is told."""


@dataclass(frozen=True)
class Cell:
    """A value as a table shows it."""

    text: str
    remark: str = ""
    """Second line, below the value."""
    bad: bool = False
    """Whether it tells of a failure."""
    outside: bool = False
    """Whether a relation is used beyond its range, or gives nothing."""


def load_loss(candidate: Candidate) -> str:
    """Say what happens when the load is lost; '' where it was not computed."""
    runaway, margin = _runaway_and_margin(candidate)
    if not (runaway > 0 and margin > 0):
        return ""
    beyond = runaway >= HIGHEST_RUNAWAY
    start = f"If the load drops off, it races to {runaway_text(candidate.values)} running speed"
    failing = f"the first failure comes at {number(margin)} times"
    if margin >= runaway:
        return f"{start}, beyond what is computed; {failing}." if beyond else f"{start}; {failing}."
    return f"{start}, and {failing}. Only a trip that acts in time saves it."


def runaway_text(values: Values) -> str:
    """Say how many times running speed runaway is, and which side of the truth that is."""
    runaway = float(values["runaway_ratio"])
    is_bound = RUNAWAY_BOUND in str(values.get("validity", ""))
    if runaway >= HIGHEST_RUNAWAY:
        return f"{'perhaps' if is_bound else 'at least'} {number(runaway, trim=True)} times"
    return f"{'at most ' if is_bound else ''}{number(runaway)} times"


def survives(candidate: Candidate) -> bool:
    """Whether nothing fails when the load is lost, as far as was computed."""
    runaway, margin = _runaway_and_margin(candidate)
    return not runaway > margin > 0


def _runaway_and_margin(candidate: Candidate) -> tuple[float, float]:
    values = candidate.values
    return float(values.get("runaway_ratio", math.nan)), float(
        values.get("safety_margin", math.nan)
    )


def notes(candidate: Candidate) -> tuple[str, ...]:
    """List what the maker of this candidate must know besides its numbers."""
    values = candidate.values
    found = [nut_note(values), load_loss(candidate), peak_text(values), *wear_notes(values)]
    found.append(_ice(values))
    if float(values.get("generator_load", 0.0)) > 1:
        found.append("It overloads the generator: its rating at this speed is less.")
    found.append(_unevenness(values))
    if str(values.get("validity", "")):
        found.append(f"Relations used outside their published range: {values['validity']}.")
    return tuple(note for note in found if note)


def _ice(values: Values) -> str:
    """Say after which stage the fluid leaves colder than ice; '' where nowhere."""
    keys = {stage: of_stage("exhaust_temperature", stage) for stage in (1, *STAGES)}
    cold = {
        stage: quantity(key, values[key])
        for stage, key in keys.items()
        if float(values.get(key, 300.0)) < FREEZING
    }
    if not cold:
        return ""
    count = float(values.get("stage_count", 1))
    if count == 1:
        return f"The exhaust leaves at {cold[1]}; moisture in it will ice it up."
    told = " and ".join(f"stage {stage} at {warm}" for stage, warm in cold.items())
    nozzles = ", the narrow nozzles of the next stage first" if min(cold) < count else ""
    return f"The fluid leaves {told}; moisture in it will ice up what follows{nozzles}."


def _unevenness(values: Values) -> str:
    """Say how unevenly the gaps of each stage share the flow; '' where the difference is small."""
    stages = range(1, round(float(values.get("stage_count", 1))) + 1)
    told = []
    for stage in stages:
        low, high = (
            float(values.get(of_stage(f"uneven_flow_{end}", stage), 0.0)) for end in ("low", "high")
        )
        if high >= TOLD_UNEVEN:
            where = f" in stage {stage}" if len(stages) > 1 else ""
            told.append(f"{number(100 * low, 2)} to {number(100 * high, 2)}{THIN}%{where}")
    if not told:
        return ""
    most = listed(told)
    farthest = "farthest from it" if float(values["exhaust_ends"]) == 1 else "in the middle"
    return (
        f"The exhaust takes {most} more from the gaps at an outlet than from those {farthest}; the "
        "power takes all gaps as alike."
    )


def cell(key: str, values: Values) -> Cell:
    """Write one value of a candidate, with its remark."""
    text = bare(key, values[key])
    if key == "resolved_power":
        return _resolved(text, float(values.get("resolved_difference", math.nan)))
    if key == "raw_unbalance":
        times = float(values[key]) / float(values.get("permissible_unbalance", math.nan))
        remark = f"{number(times, 2)} times permissible" if math.isfinite(times) else ""
        return Cell(text, remark)
    if key == "turbine_efficiency":
        return Cell(text, built_remark(values))
    return Cell(text, bad=key in ("survives_load_loss", "survives_trip") and text == "no")


def _resolved(text: str, difference: float) -> Cell:
    if math.isnan(difference):
        return Cell(MISSING, UNCONVERGED, outside=True)
    remark = signed_percent(difference)
    if abs(difference) <= MOST_DIFFERENCE:
        return Cell(text, remark)
    most = f"{number(100 * MOST_DIFFERENCE, trim=True)}{THIN}%"
    return Cell(text, f"{remark}: more than {most} off", outside=True)


FLOW_WORDS = {
    "faster_ekman_number": (
        "Ekman parameter by the faster",
        "Ekman parameter with the angular speed of disc or fluid at the rim, whichever is faster",
    ),
    "laminar_ekman_number": (
        "The same times laminar share",
        "The number above times the share of the radius on which the gap flow is laminar",
    ),
}
"""Label and meaning of the numbers of the gap flow that are no columns."""


def flow_label(key: str) -> str:
    """Name a number of the gap flow."""
    return FLOW_WORDS[key][0] if key in FLOW_WORDS else COLUMNS[key].label


def flow_meaning(key: str) -> str:
    """Explain a number of the gap flow."""
    return FLOW_WORDS[key][1] if key in FLOW_WORDS else COLUMNS[key].meaning


def flow_range(entry: FlowNumber) -> str:
    """Say where the relations are valid."""
    if entry.bounds is None:
        return "any"
    low, high = entry.bounds
    if high == 0:
        return "none"
    most = number(high, trim=True)
    return f"up to {most}" if low == 0 else f"{number(low, trim=True)} to {most}"


def flow_cell(entry: FlowNumber) -> Cell:
    """Write a number of the gap flow, with a remark where it is outside its valid range."""
    if not math.isfinite(entry.value):
        return Cell(MISSING, UNCONVERGED, outside=True)
    share = entry.key.endswith("_share")
    text = percent(entry.value) if share else number(entry.value)
    remark = "outside" if entry.outside else ""
    if entry.key == "backflow_share" and entry.outside:
        off = whole_percent(OFF_WITH_BACKFLOW)
        remark = f"{remark}; resolved, the pressure drop may be {off} off"
    return Cell(text, remark, outside=entry.outside)


def plane_text(candidate: Candidate) -> str:
    """Set the power of the flow in the plane of the discs against the model's; '' without it."""
    flow = candidate.plane
    if flow is None:
        return ""
    if not flow.settled:
        return "The flow in the plane of the discs did not come to rest."
    power = plane_powers(candidate.values, flow)
    seen = float(candidate.values["electric_power"])
    ratio = power["electric_power"] / seen - 1 if seen > 0 else math.nan
    against = f" ({signed_percent(ratio)})" if math.isfinite(ratio) else ""
    return (
        f"{quantity('electric_power', power['electric_power'])} at the terminals{against}, where "
        f"the model gives {quantity('electric_power', seen)}; the casing takes "
        f"{quantity('loss_casing', flow.casing_heat)} as friction, the balances close within "
        f"{percent(flow.worst_residual)}."
    )


def path_text(candidate: Candidate) -> str:
    """Describe the path of the gas through a gap; '' where it is unknown."""
    told = [(stage, path_of(gap)) for stage, gap in candidate.inside.gaps]
    if len(told) == 1:
        return told[0][1]
    return " ".join(f"Stage {stage}: {text}" for stage, text in told)


def path_of(gap: GapProfiles) -> str:
    """Describe the path of the gas through a gap."""
    turns, time = float(gap.turns), duration(float(gap.residence_time))
    on_disc = abs(float(gap.path_angle_on_disc[-1])) / (2 * math.pi)
    return (
        f"{number(turns)} turns from rim to bore in {time}; "
        f"seen from the disc {number(on_disc, 2)} turns."
    )


def wave_text(candidate: Candidate) -> str:
    """Say which wave of a disc stands still first, where, and how many nozzles force it."""
    values = candidate.values
    speed = float(values.get("wave_speed", math.nan))
    forced = float(values.get("forced_wave_speed", math.nan))
    if not math.isfinite(speed):
        return "No wave stands still."
    times = number(speed / float(values["speed"]))
    nodal = round(float(values["wave_nodal_diameters"]))
    stands = (
        f"The wave of {_nodal(nodal)} stands still at {quantity('wave_speed', speed)}, {times} "
        "times running speed."
    )
    if "hydraulic_power" in values:  # of a pump
        return f"{stands} The collector's tongue forces it, and anything else that is uneven."
    found = [
        (
            f"{stands} {_forcing(nodal)} it; so does anything uneven: nozzles that are not alike, "
            "a leak, a casing out of round."
        )
    ]
    if forced > speed and math.isfinite(forced):
        nodal = round(float(values["forced_wave_nodal_diameters"]))
        found.append(
            f"Equal nozzles of this number force that of {_nodal(nodal)}, which stands still at "
            f"{quantity('forced_wave_speed', forced)}."
        )
    return " ".join(found)


def _nodal(nodal: int) -> str:
    return f"{nodal} nodal diameter{'s' if nodal > 1 else ''}"


def _forcing(nodal: int) -> str:
    """Say what forces a wave."""
    if nodal == 1:
        return "Any uneven casing forces"
    counts = _counts(nodal)
    return f"{counts[0].upper()}{counts[1:]} force"


def _counts(nodal: int) -> str:
    """Name the numbers of nozzles that force a wave: those that divide its nodal diameters."""
    counts = [str(count) for count in forcing_counts(nodal)]
    return f"{', '.join(counts[:-1])} or {counts[-1]} nozzles" if nodal > 1 else "1 nozzle"


def stress_text(candidate: Candidate) -> str:
    """Say in a sentence how near the disc comes to yielding; '' where it is unknown."""
    stress = candidate.inside.stress
    if stress is None:
        return ""
    bore = quantity("bore_stress", float(np.asarray(stress.tripped.hoop)[0]))
    material = candidate.values.get("material", "the disc")
    return (
        f"At trip speed the hoop stress at the bore is {bore}, "
        f"{quantity('bore_stress', stress.notched)} where it peaks; {material} yields at "
        f"{quantity('bore_stress', stress.yield_strength)}."
    )
