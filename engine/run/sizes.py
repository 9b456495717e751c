"""A ladder of sizes: the same question asked for more or less flow, all else scaled by rules."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine import units
from engine.catalogue import bearings
from engine.columns import COLUMNS, Results
from engine.errors import Problem, StudyError, WrongValueError
from engine.fluids.by_name import GASES
from engine.model.evaluation import evaluate, with_recheck
from engine.model.lanes import rows_of
from engine.model.limits import with_standing
from engine.run.summary import Summary
from engine.search.space import Space
from engine.search.staged import CHEAP, StagedSearch
from engine.study.kinds import refuse_pump
from engine.study.parts import nut_passes
from engine.study.study import Study
from engine.study.values import Range

DESIGNS, GENERATION = 10_000, 400
"""Builds of the search of one rung, at most; those evaluated together."""
MOST_RUNGS = 12
THIRD = 1 / 3
RULES: Mapping[str, float] = {
    **dict.fromkeys(
        (
            "disc_diameter", "exhaust_bore", "shaft_diameter", "nozzle_width", "nozzle_width_2",
            "nozzle_width_3", "disc_thickness", "rim_clearance", "side_gap", "seal_clearance",
            "bearing_allowance", "disc_count", "disc_count_2", "disc_count_3",
        ),
        THIRD,
    ),
    "gap": 1 / 5,
    "speed": -THIRD,
    "generator_speed": -THIRD,
    "generator_power": 1.0,
    "no_load_loss": 1.0,
    "shaft_seal_torque": 2 * THIRD,
    "bearing_preload": 2 * THIRD,
    "hose_bore": 0.5,
    "hose_volume": 1.0,
}  # fmt: skip
"""Exponent of the flow by which each number grows, with its whole range where it is searched.

Lengths go with the cube root of the flow and speeds against it, so that rims stay as fast; gaps
less, as friction fills them less. Derived here from a set of searches at six sizes."""


@dataclass(frozen=True)
class Rung:
    """One size."""

    flow: float
    """Most that the supply gives [kg/s]."""
    study: Study
    best: Results
    """The best build in the first aim, a table of one row; empty where none keeps every limit."""
    closest: str = ""
    """The limit most missed, where none does."""


def refuse_unscalable(study: Study, file: str) -> None:
    """Raise StudyError where a ladder can not be made of a study."""
    refuse_pump(study, file, "sizes makes no ladder of pumps yet", "run one study for each size")
    problem = None
    if study.supply.available_flow is None:
        problem = Problem(
            file=file,
            key="supply.available_flow",
            found="is not given, so there is nothing to scale from",
            remedy="add available_flow: 600 l/min or the like under supply",
        )
    elif study.by_data_sheet:
        problem = Problem(
            file=file,
            key="generator_kv",
            found="is a data sheet of one size",
            expected="a rating: generator_power and generator_speed",
            remedy="leave generator and generator_kv out for a ladder of sizes",
        )
    elif study.search.robust or study.search.method != "search":
        problem = Problem(
            file=file,
            key="search",
            found="is robust, or maps the space",
            expected="a plain search",
            remedy="leave robust and method out for a ladder of sizes",
        )
    if problem is not None:
        raise StudyError([problem])


def ladder_of(text: str, rungs: int, dimension: str) -> list[float]:
    """Read '300..10000l/min' as that many steps, each larger by the same factor [SI].

    Examples
    --------
    >>> [round(1e3 * value) for value in ladder_of("80..320mm", 3, "length")]
    [80, 160, 320]
    """
    low, dots, high = text.partition("..")
    try:
        # The first end may leave its unit to the second.
        unit = re.sub(r"^[\s\d.,eE+-]+", "", high)
        last = units.parse(high, dimension)
        first = units.parse(low if re.search(r"[A-Za-z]", low) else f"{low} {unit}", dimension)
    except WrongValueError as error:
        expected = error.expected if dots else "two ends"
        raise _bad_ladder(text, expected or "two ends") from error
    if not 0 < first < last:
        raise _bad_ladder(text, "two ends above 0, the smaller first")
    return [float(value) for value in np.geomspace(first, last, rungs)]


def _bad_ladder(text: str, expected: str) -> StudyError:
    remedy = "write 300..10000l/min, for example"
    return StudyError(
        [Problem(file="command line", found=repr(text), expected=expected, remedy=remedy)]
    )


def flow_dimension(study: Study) -> str:
    """Dimension in which the flow of a study may be written."""
    return "air_flow" if study.supply.fluid in GASES else "mass_flow"


def middle_diameter(study: Study) -> float:
    """Diameter of the discs that stands for the study's own size [m]."""
    searched = study.ranges.disc_diameter
    return math.sqrt(searched.lowest * searched.highest)


def scaled(study: Study, ratio: float) -> Study:
    """Scale a study to so many times its flow, by `RULES` and with other bearings."""
    fixed, searched = study.fixed(), study.searched()
    ranges = {key: _scaled_range(key, searched[key], ratio) for key in searched if key in RULES}
    machine = {
        key: _scaled_number(key, value, ratio)
        for key, value in fixed.items()
        if key in RULES and not math.isnan(float(value))
    }
    shafts = ranges.get("shaft_diameter")
    widest = machine["shaft_diameter"] if shafts is None else shafts.highest
    if "bearing" in searched:
        names = dict.fromkeys(
            _bearing(str(n), ratio, widest) for n in searched["bearing"].values or ()
        )
        ranges["bearing"] = Range[str].model_construct(
            choices=tuple(names), min=None, max=None, step=None
        )
    else:
        machine["bearing"] = _bearing(str(fixed["bearing"]), ratio, widest)
    flow = study.supply.available_flow
    return study.model_copy(
        update={
            "supply": study.supply.model_copy(
                update={"available_flow": None if flow is None else flow * ratio}
            ),
            "machine": study.machine.model_copy(update=machine),
            "ranges": study.ranges.model_copy(update=ranges),
        }
    )


def of_diameter(study: Study, diameter: float) -> Study:
    """Scale a study so that its discs have one diameter [m]."""
    found = scaled(study, (diameter / middle_diameter(study)) ** 3)
    one = Range[float].model_construct(choices=(diameter,), min=None, max=None, step=None)
    return found.model_copy(
        update={"ranges": found.ranges.model_copy(update={"disc_diameter": one})}
    )


def climb(studies: list[Study], tell: Callable[[Rung], None] = lambda _: None) -> list[Rung]:
    """Search each study of a ladder; `tell` is called after each."""
    found = []
    for study in studies:
        rung = _searched(study)
        tell(rung)
        found.append(rung)
    return found


def _searched(study: Study) -> Rung:
    """Search one study for a few seconds, and follow its best build with resolved gap flow too."""
    space = Space.of(study)
    search = StagedSearch(
        space,
        aims=len(study.aims),
        designs=min(study.search.designs, DESIGNS),
        generation=min(study.search.generation, GENERATION),
        seed=study.search.seed,
        stages=CHEAP,
        patience=study.search.patience,
    )
    limits = with_standing(study.all_limits, study.works_as)
    summary = Summary(study.aims, limits)
    while len(index := search.ask()):
        _, *judgement = summary.add(evaluate(study, space.builds(index)))
        search.tell(index, *judgement)
    front = summary.ranked_front()
    flow = float(study.supply.available_flow or math.nan)
    if not front:
        met = summary.limits_met
        return Rung(flow, study, {}, min(limits, key=lambda key: met.get(key, 0)))
    return Rung(flow, study, with_recheck(study, rows_of(front, np.arange(1))))


def _scaled_range(key: str, given: Range[Any], ratio: float) -> Range[Any]:
    if given.choices is not None:
        values = dict.fromkeys(_scaled_number(key, value, ratio) for value in given.choices)
        changed: dict[str, Any] = {"choices": tuple(sorted(values))}
    elif COLUMNS[key].is_count:
        changed = {end: _scaled_number(key, getattr(given, end), ratio) for end in ("min", "max")}
    else:
        changed = {
            end: None if value is None else _scaled_number(key, value, ratio)
            for end in ("min", "max", "step")
            for value in (getattr(given, end),)
        }
    return given.model_copy(update=changed)


def _scaled_number(key: str, value: Any, ratio: float) -> Any:
    """Scale one number; counts stay whole, and no stack has fewer than two discs."""
    number = float(value) * ratio ** RULES[key]
    return max(2, round(number)) if COLUMNS[key].is_count else number


def _bearing(name: str, ratio: float, shaft: float) -> str:
    """Find the bearing of the table nearest to one scaled, on a shaft whose nut passes its seat.

    The study's own size keeps its bearing, whatever nut it means to take.
    """
    table, known = bearings(), bearings()[name]
    scale = ratio**THIRD
    if abs(ratio - 1) < 1e-9:
        return name
    fit = [key for key in table if nut_passes(key, shaft)]

    def off(key: str) -> float:
        row = table[key]
        return abs(math.log(row.bore / (scale * known.bore))) + 0.3 * abs(
            math.log(row.outside_diameter / (scale * known.outside_diameter))
        )

    return min(fit, key=off) if fit else name
