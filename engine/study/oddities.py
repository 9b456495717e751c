"""What is odd in a study that is taken all the same; `swirlstack check` says it."""

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from engine.catalogue import bearings
from engine.columns import COLUMNS
from engine.errors import Problem, WrongValueError
from engine.fluids.by_name import LIQUIDS
from engine.study.fit_file import read_study_text
from engine.study.parts import SLACK, nut_passes, passed_bearings, stuck_nut
from engine.study.plausible import odd
from engine.study.pump.study import PumpStudy
from engine.study.study import Study
from engine.study.values import Range
from engine.study.yaml_text import Keys, dotted, read_lines
from engine.units import shown

SLOW = 1.0
"""Closing of a valve in a liquid [s] below which a surge is to be feared; common practice."""


def oddities(path: Path, study: Study) -> list[Problem]:
    """Find what is odd in the file of a study that was read from it, by line."""
    lines = read_lines(read_study_text(path), str(path)).lines
    problems = []
    unused = [("machine", key) for key in (study.fit.values if study.fit is not None else ())]
    replaced = [
        (keys, WrongValueError(f"is not used: the fit gives {_said(study, keys[1])}"))
        for keys in unused
        if keys in lines
    ]
    for keys, found in (*_odd_values(study), *_odd_parts(study), *_odd_closing(study), *replaced):
        stands = next(keys[:n] for n in range(len(keys), -1, -1) if keys[:n] in lines)
        problems.append(
            Problem(
                file=str(path),
                line=lines[stands],
                key=dotted(keys),
                found=found.found,
                expected=found.expected,
                remedy=found.remedy,
            )
        )
    return sorted(problems, key=lambda problem: problem.line or 0)


def _odd_values(study: Study) -> Iterator[tuple[Keys, WrongValueError]]:
    given = [("supply", study.supply), ("machine", study.machine), ("ranges", study.ranges)]
    given += [("uncertainty", study.uncertainty)]
    given += [("duty", study.duty)] if isinstance(study, PumpStudy) else []
    given += [("loads", study.loads)] if study.loads is not None else []
    for section, part in given:
        for key in part.model_fields_set:
            for error in odd(section, key, _values(getattr(part, key))):
                yield (section, key), error
    for name, entry in study.loads.appliances.items() if study.loads is not None else ():
        for key in entry.model_fields_set:
            for error in odd("loads", key, [getattr(entry, key)]):
                yield ("loads", "appliances", name, key), error


def _odd_parts(study: Study) -> Iterator[tuple[Keys, WrongValueError]]:
    """Find a clamp nut that does not come to its thread, or a bearing narrower than it need be."""
    machine = study.machine
    if {"bearing", "shaft_diameter"} & study.searched().keys() or machine.bearing not in bearings():
        return
    bearing, shaft = machine.bearing, machine.shaft_diameter
    if not nut_passes(bearing, shaft):
        found, _, remedy = stuck_nut(bearing, shaft).partition("; ")
        key = "bearing" if "shaft_diameter" not in machine.model_fields_set else "shaft_diameter"
        yield ("machine", key), WrongValueError(found, remedy=remedy)
        return
    row, (wider, *_) = bearings()[bearing], passed_bearings(bearing, shaft)
    if row.bore < bearings()[wider].bore - SLACK:
        sizes = (shaft, row.bore, bearings()[wider].bore)
        thick, bore, most = (shown(size, "length") for size in sizes)
        found = f"the shaft of {thick} is turned down to {bore} for the bearing"
        remedy = (
            f"the clamp nut passes seats up to {most}: take the bearing {wider} if you can, as a "
            "shaft bends most at its seats"
        )
        yield ("machine", "bearing"), WrongValueError(found, remedy=remedy)


def _odd_closing(study: Study) -> Iterator[tuple[Keys, WrongValueError]]:
    """Find a liquid that is shut so fast that its surge may burst the pipe."""
    if "valve_closing" not in study.numbers:
        return
    closing = study.machine.valve_closing
    if study.supply.fluid in LIQUIDS and closing < SLOW and "valve_closing" not in study.searched():
        found = f"{study.supply.fluid} is shut within {closing:.3g} s"
        remedy = "its surge (Joukowsky) may burst the pipe: shut it slowly, in 5 s for example"
        yield ("machine", "valve_closing"), WrongValueError(found, remedy=remedy)


def _said(study: Study, key: str) -> str:
    return shown(getattr(study.machine, key), COLUMNS[key].unit.dimension)


def _values(given: Any) -> tuple[Any, ...]:
    if not isinstance(given, Range):
        return (given,)
    values = given.choices or (given.min, given.max)
    # A speed that settles has no value of its own.
    return tuple(each for each in values if not (isinstance(each, float) and math.isnan(each)))
