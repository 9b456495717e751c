"""Whether another stage is worth its parts: the best build of each number of stages, in words."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.search.front import merits
from engine.stage_columns import OF_LATER_STAGES, of_stage
from engine.study.study import Study
from engine.study.supply import source_of
from reports.kit.quantities import (
    count,
    inline_label,
    listed,
    number,
    percent,
    quantity,
    signed_percent,
)
from reports.run.search_facts import Table, Values

KEY = "stage_count"
WORTH = 0.1
"""Gain from which a second stage may be worth its parts; common practice, no source."""
HELD = 0.95
"""Share of the generator's rating from which it holds more stages back."""
WORDS = {1: "one stage", 2: "two stages", 3: "three stages"}
PARTS = (
    "Each further stage asks for a stack and a plate with its own nozzles, a partition with the "
    "shaft's seal and two plates for collars, all three in halves, rings around the rooms between, "
    "collars, clamps, tubes, and a longer, thicker shaft. The whole rotor is balanced as one."
)


@dataclass(frozen=True)
class BestOfStages:
    """The best build in the first aim of one number of stages, of those that keep every limit."""

    stages: int
    value: float
    """Of the first aim [SI]."""
    discs: int
    """Of all stages."""
    found: int
    """Stored builds of so many stages that keep every limit."""
    mass_flow: float
    """[kg/s]; NaN where it is not stored."""
    generator_load: float = math.nan
    """Over its rating at that speed; NaN where it is not stored."""


def of_each_stage(key: str, values: Values) -> list[float]:
    """Values of every stage of a build, such as its numbers of discs [SI]."""
    first = float(values[key])
    stages = range(2, round(float(values.get(KEY, 1))) + 1)
    own = [float(values.get(of_stage(key, stage), math.nan)) for stage in stages]
    return [first, *(first if math.isnan(value) else value for value in own)]


def without_idle(table: Table) -> Table:
    """Blank the numbers of stages that a build does not have."""
    if KEY not in table:
        return table
    blank = {
        key: np.where(np.asarray(table[KEY]) < stage, np.nan, table[key])
        for key, stage in OF_LATER_STAGES.items()
        if key in table
    }
    return {**table, **blank}


def best_of_stages(study: Study, designs: Table) -> tuple[BestOfStages, ...]:
    """Find the best build of each number of stages; none where their number is not searched."""
    searched = study.searched().get(KEY)
    if searched is None or searched.lowest == searched.highest or KEY not in designs:
        return ()
    feasible = np.asarray(designs["feasible"], dtype=float) == 1
    first = np.where(feasible, merits(designs, study.aims)[:, 0], -np.inf)
    found = []
    for stages in (1, 2, 3):
        value = np.where(np.asarray(designs[KEY]) == stages, first, -np.inf)
        if not value.size or not np.isfinite(value.max()):
            continue
        row = int(value.argmax())
        best = {key: values[row] for key, values in designs.items()}
        found.append(_best(study, best, stages, int(np.isfinite(value).sum())))
    return tuple(found)


def _best(study: Study, row: Mapping[str, Any], stages: int, found: int) -> BestOfStages:
    values = {**study.fixed(), **row}
    return BestOfStages(
        stages=stages,
        value=float(row[next(iter(study.aims))]),
        discs=round(sum(of_each_stage("disc_count", values))),
        found=found,
        mass_flow=float(row.get("mass_flow", np.nan)),
        generator_load=float(row.get("generator_load", np.nan)),
    )


def summary(best: tuple[BestOfStages, ...]) -> str:
    """Say in a few words what more stages bring."""
    if len(best) < 2:
        return "only one number of stages keeps every limit"
    gains = [
        f"{WORDS[each.stages]} {signed_percent(each.value / best[0].value - 1)}"
        for each in best[1:]
    ]
    return f"against {WORDS[best[0].stages]}: {listed(gains)}"


def sentences(study: Study, best: tuple[BestOfStages, ...]) -> tuple[str, ...]:
    """Say when a second stage is worth its parts, and when not."""
    key = next(iter(study.aims))
    told = [
        f"{WORDS[each.stages]} {quantity(key, each.value)} with {count(each.discs)} discs, of "
        f"{count(each.found)} such build{'s' if each.found != 1 else ''}"
        for each in best
    ]
    first = (
        f"The best builds as drawn that keep every limit, by {inline_label(key)}: "
        f"{'; '.join(told)}. Where few were found, a search of that number alone may find better."
    )
    found = [first]
    if len(best) < 2 or study.aims[key] != "maximise":
        return tuple(found)
    found.append(PARTS)
    one, two = best[0], max(best[1:], key=lambda each: each.value)
    gain = two.value / one.value - 1
    if HELD <= two.generator_load <= 1:
        found.append(
            f"The generator holds that gain back: it carries {percent(two.generator_load)} of its "
            f"rating with {WORDS[two.stages]}, {percent(one.generator_load)} with "
            f"{WORDS[one.stages]}. Search again with a larger one."
        )
    if gain < WORTH:
        found.append(
            f"Here more stages are hardly worth them: {signed_percent(gain)} is less than what "
            "passage, seal and shaft may take, which nobody has measured. One stage is the "
            "machine to make first: search again with stage_count: 1."
        )
        return tuple(found)
    more = f"as much from {WORDS[one.stages]} takes about {number(100 * gain, 2)} % more flow"
    if np.isfinite(one.mass_flow):
        more += f", {quantity('mass_flow', gain * one.mass_flow)}"
        source = source_of(study.supply)
        if source.is_compressed and study.supply.specific_power is not None:
            drawn = study.supply.specific_power * gain * one.mass_flow / source.free_density
            more += f", and {quantity('supply_power', drawn)} more from the plug"
    found.append(
        f"They are worth their parts where the supply gives no more: {more}. Where there is flow "
        "to spare, more discs in one stage cost less. Nobody has measured two such stages in "
        "series: build the first alone, measure it, then decide."
    )
    last = best[-1]
    if last.stages == 3 and best[-2].stages == 2:
        third = last.value / best[-2].value - 1
        if third < WORTH:
            found.append(
                f"A third stage changes that by {signed_percent(third)} only, and bends the shaft "
                "sooner: leave it out."
            )
    return tuple(found)
