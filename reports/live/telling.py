"""What the page shows of one build, as plain data: texts, sentences and drawings."""

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from engine.columns import CHANCE_ALL, COLUMNS, Builds, Results, base_key, columns_of
from engine.errors import WrongValueError
from engine.model.limits import MATCHED, STATUS_MEANING, Limits, violations, with_standing
from engine.model.parts import why_not
from engine.run.nudge import Climb, Step
from engine.run.point import Point
from engine.study.plausible import odd
from engine.study.study import Study
from engine.study.values import Limit
from engine.study.written import value_text
from reports.kit.quantities import MISSING, begun, count, inline_label, quantity
from reports.live.kinds import kind_of
from reports.run.charts.power import power_chart
from reports.run.charts.ruler import ruler_chart, speeds_of
from reports.run.facts import Candidate, losses_of, study_keys
from reports.run.inside import inside_of
from reports.run.page_parts import FRONT_FITS
from reports.run.search_facts import Values, row_of
from reports.run.wording import limit_text

RULER_ROOM = 1.3
"""Length of the ruler over the highest of running, trip and first failure."""
NO_MACHINE = "bad geometry"
"""Status of a build that no drawing can show."""


class Build(Candidate):
    """The build that the page shows."""

    @property
    def name(self) -> str:
        """What the charts call it."""
        return "Build"

    @property
    def told(self) -> str:
        """What a sentence calls it."""
        return "this build"


def table_keys(study: Study) -> tuple[str, ...]:
    """List the rows of the table of kept builds."""
    known = {*columns_of(study.works_as), CHANCE_ALL}
    keys = (*study_keys(study), *kind_of(study).rows)
    return tuple(dict.fromkeys(key for key in keys if base_key(key) in known))


def quick_told(study: Study, results: Results, build: Builds) -> dict[str, Any]:
    """Tell what one evaluation gives; what takes longer is marked as coming."""
    limits = with_standing(study.all_limits, study.works_as)
    known = {key for key in limits if key in results and np.isfinite(results[key][0])}
    kept = {key: limit for key, limit in limits.items() if key in known}
    past = violations(results | {"status": np.array([MATCHED])}, kept)[0] if kept else ()
    missed = {key for key, by in zip(kept, past, strict=True) if by > 0}
    values = row_of(results, 0)
    works = values["status"] == MATCHED
    rest = "soon" if works else "unknown"
    states = {key: _state(key, known, missed, rest) for key in limits}
    return _told(study, values, build, _limits_told(limits, values, states))


def rest_told(study: Study, point: Point, build: Builds) -> dict[str, Any]:
    """Tell all that is known of a build."""
    values = row_of(point.results, 0)
    known = {key for key in point.limits if np.isfinite(float(values.get(key, math.nan)))}
    states = {key: _state(key, known, {*point.missed}, "unknown") for key in point.limits}
    found = _told(study, values, build, _limits_told(point.limits, values, states))
    return {**found, "plain": point.as_plain()}


def climb_told(climb: Climb, aim: str) -> dict[str, Any]:
    """Tell the steps of a climb, and the build at its end."""
    steps = climb.steps
    said = [
        {"change": _change_text(before, after), "aim": _aim_text(aim, after)}
        for before, after in pairwise(steps)
    ]
    last = steps[-1]
    if climb.ended:
        why = "Nothing a step beside it is better."
    else:
        why = "There may be more: press again."
    text = f"{count(len(said))} steps in {count(climb.evaluated)} builds. {why}"
    if not said:
        text = f"{count(climb.evaluated)} builds tried beside this one; none is better."
    return {
        "from": _aim_text(aim, steps[0]),
        "steps": said,
        "text": text,
        "texts": {key: value_text(key, value) for key, value in last.values.items()},
    }


def _change_text(before: Step, after: Step) -> str:
    return ", ".join(
        f"{inline_label(key)} {_setting(key, before)} → {_setting(key, after)}"
        for key in after.changed
    )


def _setting(key: str, step: Step) -> str:
    return quantity(key, step.values[key])


def _aim_text(aim: str, step: Step) -> str:
    misses = {0: "", 1: ", misses a limit"}.get(step.missed, f", misses {step.missed} limits")
    return quantity(aim, step.aim) + misses


def _state(key: str, known: set[str], missed: set[str], rest: str) -> str:
    if key not in known:
        return rest
    return "missed" if key in missed else "met"


def _limits_told(limits: Limits, values: Values, states: Mapping[str, str]) -> list[dict[str, str]]:
    """List each limit: its bounds, the number here, and whether it is met."""
    return [
        {
            "limit": begun(_bounds_text(key, limit)),
            "here": quantity(key, values[key]) if key in values else MISSING,
            "state": states[key],
        }
        for key, limit in limits.items()
    ]


def _bounds_text(key: str, limit: Limit[float]) -> str:
    least = "" if limit.min is None else limit_text(key, "min", limit.min)
    most = "" if limit.max is None else limit_text(key, "max", limit.max)
    if least and most:
        most = most.removeprefix(f"{inline_label(key)} ")
    return " and ".join(filter(None, (least, most)))


def _told(
    study: Study, values: Values, build: Builds, limits: list[dict[str, str]]
) -> dict[str, Any]:
    """Tell everything but what only one of the two stages has."""
    works, kind = values["status"] == MATCHED, kind_of(study)
    made = Build(
        roles=("pick",),
        design=0,
        values=values,
        losses=losses_of(values),
        curve={},
        inside=inside_of(values, None, None),
    )
    return {
        "works": works,
        "status": _status_text(values),
        "figures": [[each.value, each.words] for each in kind.figures(study, values)]
        if works
        else [],
        "musts": kind.musts(study, values),
        "limits": limits,
        "notes": [*_odd(study, build), *(kind.notes(made) if works else ())],
        "draws": kind.draws(study, values) if works else [],
        "values": {key: quantity(key, values[key]) for key in table_keys(study) if key in values},
        "at": [_drawn(key, values) for key in list(study.aims)[:2]],
        "drawings": _drawings(study, made, works=works),
    }


def _status_text(values: Values) -> str:
    """Say why a build gives nothing or cannot be made; '' where it runs."""
    reasons = tuple(why_not(values))
    if reasons:
        return f"This build cannot be made: {'; '.join(reasons)}."
    status = str(values["status"])
    return "" if status == MATCHED else f"It does not run: {STATUS_MEANING.get(status, status)}."


def _odd(study: Study, build: Builds) -> list[str]:
    """Say which values of a build are plausible but odd."""
    found = []
    for key, value in build.items():
        section = "ranges" if key in study.searched() else "machine"
        oddities: list[WrongValueError] = list(odd(section, key, [value[0].item()]))
        found += [f"{COLUMNS[key].label}: {each}." for each in oddities]
    return found


def _drawn(key: str, values: Values) -> float | None:
    value = float(COLUMNS[key].to_drawing(float(values.get(key, math.nan))))
    return value if math.isfinite(value) else None


def _drawings(study: Study, made: Build, *, works: bool) -> dict[str, str]:
    """Draw the machine, the ruler of speeds and the power bar, the last two for two widths."""
    if made.values["status"] == NO_MACHINE:
        return {}
    section, view = kind_of(study).pictures(study, made)
    found = {"section": str(section.svg()), "view": str(view.svg())}
    speeds = speeds_of(made.values)
    ends = [each for each in (speeds.running, speeds.trip, speeds.failure) if math.isfinite(each)]
    for name, width in FRONT_FITS.items():
        if math.isfinite(speeds.failure):
            end = RULER_ROOM * max(ends)
            found[f"ruler-{name}"] = str(ruler_chart([made], width, end).svg())
        if works:
            found[f"power-{name}"] = str(power_chart([made], width).svg())
    return found
