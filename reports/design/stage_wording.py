"""What sheet and drawings say of two and three stages: tables, passages, thrust. Plain text."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from engine.model.shaft_layout import COVER_PLATE
from engine.physics.machine.clamp import FACE_RATIO
from engine.stage_columns import of_stage
from reports.design.facts import BuildFacts
from reports.kit.quantities import THIN, count, listed, number, quantity
from reports.run.stages import of_each_stage

SPRING = 1.5
"""Preload over what pushes against it; common practice, no source."""
SHOWN = (
    "nozzle_pressure", "rim_pressure", "gap_exit_pressure", "jet_mach", "rim_swirl_ratio",
    "exhaust_temperature", "rotor_power", "rotor_flow", "leakage_flow", "passing_flow",
)  # fmt: skip
"""Results of each stage."""


@dataclass(frozen=True)
class StageRow:
    """One line of the table of stages: a name, and a text for each stage."""

    name: str
    cells: tuple[str, ...]


def counted(facts: BuildFacts) -> str:
    """Write the number of discs of every stage, as in 4 + 7."""
    return " + ".join(count(stack.discs) for stack in facts.stacks)


def stacked(facts: BuildFacts) -> tuple[tuple[int, float, str], ...]:
    """Discs, height [m] and name of each stack, '' where there is one."""
    if len(facts.stacks) == 1:
        return ((round(facts.number("disc_count")), facts.number("stack_height"), ""),)
    return tuple(
        (stack.discs, 1e-3 * (stack.end - stack.start), f" in stage {place}")
        for place, stack in enumerate(facts.stacks, 1)
    )


def stage_rows(facts: BuildFacts) -> tuple[StageRow, ...]:
    """List what each stage has of its own; empty of one stage."""
    return tuple(_rows(facts)) if len(facts.stacks) > 1 else ()


def _rows(facts: BuildFacts) -> Iterable[StageRow]:
    values, stacks = facts.candidate.values, facts.stacks
    yield StageRow("Discs", tuple(count(stack.discs) for stack in stacks))
    yield StageRow("Gaps", tuple(count(stack.discs - 1) for stack in stacks))
    heights = (quantity("gap", 1e-3 * (stack.end - stack.start)) for stack in stacks)
    yield StageRow("Stack and nozzle height", tuple(heights))
    widths = of_each_stage("nozzle_width", values)
    yield StageRow("Nozzle width", tuple(quantity("nozzle_width", width) for width in widths))
    for key in SHOWN:
        found = [_of(values, key, stage) for stage in range(1, len(stacks) + 1)]
        if any(map(math.isfinite, found)):
            label = LABELS.get(key, key.replace("_", " ").capitalize())
            yield StageRow(label, tuple(_text(key, value) for value in found))


def _text(key: str, value: float) -> str:
    # Not every result of a later stage has a name without its number.
    return quantity(of_stage(key, 2), value) if math.isfinite(value) else "–"


LABELS = {
    "passing_flow": "Past the seal on the shaft, around it",
    "leakage_flow": "Past its end discs",
    "nozzle_pressure": "Pressure before the nozzles, absolute",
    "jet_mach": "Jet Mach number",
}


def _of(values: Mapping[str, object], key: str, stage: int) -> float:
    return float(str(values.get(of_stage(key, stage), math.nan)))


def stage_notes(facts: BuildFacts) -> tuple[str, ...]:
    """Say what passages take, what pushes the rotor, and what is left to the maker."""
    if len(facts.stacks) == 1:
        return ()
    found = list[str]()
    if facts.staged is not None:
        for passage in facts.staged.passages:
            loss = _millibar(passage.loss)
            found.append(
                f"The holes to stage {passage.into} as drawn, {number(passage.area)}{THIN}mm² "
                f"together, take about {loss}; the study counts "
                f"{_millibar(passage.counted)}, and passage_loss for the rest of the way. Loss "
                "coefficients: from memory."
            )
    push, spring = thrust(facts), facts.number("bearing_preload")
    start = (
        "The pressure in the closed rooms acts on the tube in the partition and pushes the whole "
        f"rotor towards the drive with {_newtons(push)}, against the spring's "
        f"{_newtons(spring)}."
    )
    if push > spring:
        found.append(
            f"{start} That lifts the rotor off the bearing that locates it: fit a spring of at "
            f"least {_newtons(SPRING * push)} and write it as bearing_preload "
            "in the study, which counts its drag. The model does not count this force."
        )
    else:
        found.append(f"{start} The spring holds it.")
    found.append(
        "Discs of all stages are cut alike; one drawing serves them. Balance the whole rotor as "
        "one, then close the casing around it from the free end: rings and nozzle plates go over "
        f"the stacks, plates of {quantity('gap', COVER_PLATE)} come in halves. Left to the maker: "
        "finish of the joints, sealant, fittings of the supply, and a pressure test of every room "
        "before the first run."
    )
    return tuple(found)


def stage_cautions(facts: BuildFacts) -> tuple[str, ...]:
    """List what only a machine with several stages asks to be careful of."""
    if len(facts.stacks) == 1:
        return ()
    values = facts.candidate.values
    between = [_of(values, "nozzle_pressure", stage) for stage in range(2, len(facts.stacks) + 1)]
    told = listed([quantity("nozzle_pressure", each) for each in between])
    return (
        (
            f"The rooms between the stages stand at {told} absolute, and at the full supply if a "
            "later stage is blocked: every plate must stand that. Their gas goes on driving the "
            "later stages after the valve has shut; the trip's numbers leave that out."
        ),
    )


def thrust(facts: BuildFacts) -> float:
    """Force of the pressures between stages on the rotor, towards the drive [N].

    Each partition has its pressures on both sides over the tube's section, and the first room
    closes the free end, so that only the first room and the surroundings count.
    """
    area = math.pi / 4 * (FACE_RATIO * facts.number("shaft_diameter")) ** 2
    first = _of(facts.candidate.values, "nozzle_pressure", 2)
    return max(first - facts.study.supply.back_pressure, 0.0) * area


def _newtons(force: float) -> str:
    return f"{number(force, 2)}{THIN}N"


def _millibar(pressure: float) -> str:
    return f"{number(pressure / 100, 2)}{THIN}mbar"
