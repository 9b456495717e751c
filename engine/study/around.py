"""A study whose ranges lie around some builds, made from the study in which they were tried."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NoReturn

import numpy as np

from engine.errors import Problem, StudyError
from engine.study.machine import SETTLED
from engine.study.reader import OF_DUTY, OF_SUPPLY, parse_overrides, parse_study
from engine.study.study import LONGEST_TITLE, Study
from engine.study.values import Range
from engine.study.written import value_text
from engine.study.yaml_text import Texts, read_lines, written

BESIDE = (*OF_SUPPLY, *OF_DUTY)
"""Keys of a build that are none of the machine."""
STEPS = 2
"""Values of a range that are taken on either side of the builds."""
REACH = 0.1
"""Share of a range without steps that is taken on either side."""
MOST_CHOICES = 200
"""Values of a range are listed one by one where one is off its steps, and up to so many."""


def split(texts: Mapping[str, str]) -> tuple[dict[str, str], list[str]]:
    """Part the values of a build into those of supply and duty, and KEY=VALUE of all others."""
    supply = {key: text for key, text in texts.items() if key in BESIDE}
    return supply, [f"{key}={text}" for key, text in texts.items() if key not in supply]


def study_around(text: str, file: str, builds: Sequence[Mapping[str, str]]) -> str:
    """Text of a study that searches around these builds; `text` is the study that they belong to.

    A build has a text for each range of the study, and for each number of machine or supply that it
    changes. Its comments are left out. Raises StudyError for a build that cannot be read, and
    for builds that no single study holds.
    """
    supply = split(builds[0])[0]
    for build in builds[1:]:
        other = split(build)[0]
        unlike = [key for key in {**supply, **other} if supply.get(key) != other.get(key)]
        if unlike:
            _refuse(unlike[0], "differs between these builds", "take builds of one supply")
    study = parse_study(text, file, supply)
    made = [parse_overrides(split(build)[1], study) for build in builds]
    texts = dict(read_lines(text, file).texts)
    ranges, machine = _section(texts, "ranges"), _section(texts, "machine")
    for key, given in study.searched().items():
        ranges[key] = _around(key, given, [build[key] for build in made])
    changed = dict.fromkeys(key for build in made for key in build if key not in study.searched())
    for key in changed:
        _change(study, key, [build.get(key, getattr(study.machine, key)) for build in made],
                ranges, machine)  # fmt: skip
    many = "1 build" if len(builds) == 1 else f"{len(builds)} builds"
    title = f"Around {many}: {study.title}"
    texts |= {"title": title[:LONGEST_TITLE], "ranges": ranges}
    for key, value in supply.items():
        home = "duty" if key in OF_DUTY and "duty" in texts else "supply"
        texts[home] = {**_section(texts, home), key: value}
    if machine:
        texts["machine"] = machine
    heading = f"Ranges around {many} tried in the browser. All else is as in the study\n{file},"
    found = written(texts, f"{heading} whose comments say why.")
    parse_study(found, file)
    return found


def _refuse(key: str, found: str, remedy: str) -> NoReturn:
    raise StudyError([Problem(file="command line", key=key, found=found, remedy=remedy)])


def _section(texts: Mapping[str, Texts], name: str) -> dict[str, Texts]:
    given = texts.get(name)
    return dict(given) if isinstance(given, dict) else {}


def _change(
    study: Study,
    key: str,
    values: Sequence[Any],
    ranges: dict[str, Texts],
    machine: dict[str, Texts],
) -> None:
    """Put a machine number of the builds into the study: one value, or the few that they have."""
    if study.fit is not None and key in study.fit.values:
        _refuse(key, "is fitted, and the fit is part of the study", "take builds that leave it")
    if any(value is None for value in values):
        _refuse(key, "is given in one build and computed in another", "give it in all or in none")
    listed = _listed(key, values)
    if len(listed) == 1:
        machine[key] = listed[0]
        return
    machine.pop(key, None)
    ranges[key] = {"choices": [*listed]}


def _listed(key: str, values: Iterable[Any]) -> list[str]:
    """Write each of some values once: numbers in rising order."""
    known = list(dict.fromkeys(values))
    order = known if any(isinstance(value, str) for value in known) else sorted(known)
    return list(dict.fromkeys(value_text(key, value) for value in order))


def _around(key: str, given: Range[Any], values: Sequence[Any]) -> Texts:
    """Narrow a range to what lies around these values."""
    if any(isinstance(value, str) for value in values):
        order = [value for value in given.values or () if value in values]
        listed = _listed(key, [*order, *values])
        return {"choices": [*listed]} if len(listed) > 1 else listed[0]
    if isinstance(given.lowest, float) and math.isnan(given.lowest):
        stated = [value for value in values if not math.isnan(value)]
        if len(stated) < len(values):
            return SETTLED
        listed = _listed(key, stated)
        return {"choices": [*listed]} if len(listed) > 1 else listed[0]
    low, high = min(values), max(values)
    grid = given.values
    if grid is None:
        reach = REACH * (given.highest - given.lowest)
        ends = (
            min(low, max(given.lowest, low - reach)),
            max(high, min(given.highest, high + reach)),
        )
        return {"min": value_text(key, ends[0]), "max": value_text(key, ends[1])}
    room = 1e-9 * max(abs(low), abs(high))
    first = max(bisect_left(grid, low - room) - STEPS, 0)
    near = grid[first : bisect_right(grid, high + room) + STEPS]
    beside = [value for value in values if not np.isclose(grid, value, rtol=1e-9, atol=0).any()]
    if given.step is None or (beside and len(near) <= MOST_CHOICES) or len(near) < 2:
        listed = _listed(key, [*near, *beside])
        return {"choices": [*listed]} if len(listed) > 1 else listed[0]
    step = value_text(key, given.step)
    return {"min": value_text(key, near[0]), "max": value_text(key, near[-1]), "step": step}
