"""The page of a run: facts and charts filled into one self-contained file."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np
from markupsafe import Markup

from engine.columns import COLUMNS, FAILING_SPEEDS, is_share
from engine.model.ladder import Rung, ladder
from reports.kit import quantities
from reports.kit.rendering import embedded, render, script
from reports.kit.svg import Drawing, fitted
from reports.run import (
    band_wording,
    candidate_wording,
    choice,
    opening,
    rubbing_wording,
    socket_wording,
    trip_wording,
    wording,
)
from reports.run.charts import (
    along,
    care,
    front,
    gap,
    machine,
    plane,
    power,
    ruler,
    socket,
    speeds,
)
from reports.run.facts import Candidate, Facts, RunData, facts_of, study_keys
from reports.run.inside import FlowNumber, is_resolved
from reports.run.search_facts import row_of

GIVES = (
    "electric_power",
    "resolved_power",
    "electric_power_p10",
    "electric_power_p90",
    "chance_all",
    "governing_mode",
    "runaway_ratio",
    "survives_load_loss",
    "peak_ratio",
    "survives_trip",
    "turbine_efficiency",
    "supply_efficiency",
)
NEEDS = (
    "mass_flow",
    "free_air_flow",
    "receiver_time",
    "start_time",
    "generator_load",
    "exhaust_temperature",
    "rim_speed",
)
STRENGTH = (
    "stress_margin",
    "gap_hold",
    "smallest_gap",
    "fatigue_cycles",
    "axial_thrust",
    "raw_unbalance",
    "permissible_unbalance",
    "rotor_mass",
    "stored_energy",
)
"""What the table of every number shows besides aims and variables."""
WHERE_ANY = ("receiver_time", "axial_thrust")
"""Of these, what it shows only where a design has any."""
SCRIPTS = ("chart.js", "page.js", "table.js", "pins.js")
"""Scripts of the page, in the order they run."""
FRONT_FITS = {"wide": 760.0, "narrow": 358.0}
"""The front stands beside a table on a wide page, and alone on others."""
BOUNDS_FITS = {"wide": 1240.0, "middle": 700.0, "narrow": 358.0}


def write_report(data: RunData) -> str:
    """Make the whole page of a run, as text."""
    facts = facts_of(data)
    found = bool(facts.candidates)
    return render(
        "report.html.j2",
        style="page.css",
        scripts=[script(*SCRIPTS)] if found else [],
        facts=facts,
        charts=_charts(facts) if found else {"bounds": None, "growth": None},
        columns=COLUMNS,
        words=wording,
        opening=opening,
        of_build=candidate_wording,
        say=quantities,
        growth=along.growth_text(facts),
        of_trip=trip_wording,
        of_socket=socket_wording,
        wired=[c for c in facts.candidates if socket_wording.rows_of(c.values, c.socket)],
        bands=band_wording,
        rubbing=rubbing_wording,
        tripped=[c for c in facts.candidates if trip_wording.moments(c.values)],
        judged=[c for c in facts.candidates if c.bands],
        carrying=[c for c in facts.candidates if c.carries],
        flow_record=_flow_record(facts.candidates),
        choice_rows=choice.rows_of(facts) if found else (),
        comparison=_comparison(facts),
        losses=_losses(facts),
        ladders=_ladders(facts),
        fails=[key for key in FAILING_SPEEDS if key in facts.front],
        closest_keys=[k for k in study_keys(data.study) if k in (data.closest or data.designs)],
        front_data=embedded(_front_data(facts)) if found else "",
    )


def _charts(facts: Facts) -> Mapping[str, Any]:
    """Draw every chart: markup by name, and by name and role for those of one build."""
    builds = facts.candidates
    section, view = machine.section_and_view(facts.pick, str(facts.study.supply.fluid))
    rows = care.rows_of(builds)
    reach, most = care.reach_of(builds, facts.aims[:2]), care.most_share(builds)
    strips, same = along.room_strips(facts)
    curves = (speeds.speed_charts(builds), speeds.stress_charts(builds), speeds.wave_charts(builds))
    inside, planes = gap.gap_charts(builds), plane.plane_charts(builds)
    return {
        "section": section.svg(),
        "view": view.svg(),
        "ruler": fitted(partial(ruler.ruler_chart, builds)),
        "front": fitted(partial(front.front_chart, facts), FRONT_FITS),
        "modes": [(_key_of(mark), words) for mark, words in front.modes_of(facts)],
        "faint": _key_of("disc", "faint", 2.5) if front.has_faint(facts) else None,
        "power": fitted(partial(power.power_chart, builds)),
        "steps": {
            c.roles[0]: care.step_chart(c, facts.aims[:2], rows, reach).svg()
            for c in builds
            if c.steps
        },
        "sources": {
            c.roles[0]: care.source_chart(c, rows, most).svg()
            for c in builds
            if any(source.total > 0 for of in c.sources.values() for source in of)
        },
        "curves": [{role: made.svg() for role, made in kind.items()} for kind in curves],
        "socket": [
            {role: made.svg() for role, made in kind.items()}
            for kind in (socket.meeting_charts(builds), socket.part_load_charts(builds))
        ],
        "gap": {role: [each.svg() for each in made] for role, made in inside.items()},
        "plane": {role: made.svg() for role, made in planes.items()},
        "strips": [made.svg() for _, made in strips],
        "same": same,
        "bounds": _if_drawn(partial(along.bounds_chart, facts)),
        "growth": _if_drawn(partial(along.growth_chart, facts)),
    }


def _if_drawn(draw: Callable[[float], Drawing | None]) -> Markup | None:
    """Draw a chart for each width; None where there is nothing to draw."""
    drawn = {width: draw(width) for width in BOUNDS_FITS.values()}
    known = {width: made for width, made in drawn.items() if made is not None}
    return fitted(known.__getitem__, BOUNDS_FITS) if known else None


def _key_of(mark: str, look: str = "ink", radius: float = 4) -> Markup:
    """Draw one mark, for a list of what the marks mean."""
    drawing = Drawing(16, 16, says="", look="key")
    drawing.mark((8, 8), mark, look, radius)
    return Markup(str(drawing.svg()).replace('role="img" aria-label=""', 'aria-hidden="true"'))  # noqa: S704


def _comparison(facts: Facts) -> list[tuple[str, list[str]]]:
    """Group the keys that the table of every number shows."""
    aims = [aim.key for aim in facts.aims]
    gives = [key for key in GIVES if key not in aims]
    if is_resolved(facts.study, facts.front):
        gives.remove("resolved_power")
    groups = (
        ("What it gives", [*aims, *gives]),
        ("What you build", study_keys(facts.study)),
        ("What it needs", NEEDS),
        ("Strength and balance", STRENGTH),
    )
    return [
        (title, [key for key in keys if _shown(facts, key) and (place == 0 or key not in aims)])
        for place, (title, keys) in enumerate(groups)
    ]


def _shown(facts: Facts, key: str) -> bool:
    """Whether the table shows a key; some only where there is any of it."""
    if key not in facts.front or key not in WHERE_ANY:
        return key in facts.front
    return bool((np.nan_to_num(facts.front[key]) > 0).any())


def _flow_record(candidates: Iterable[Candidate]) -> list[tuple[FlowNumber, ...]]:
    """List the rows of the table of gap flow numbers, with an entry for each build."""
    return list(zip(*(candidate.inside.flow for candidate in candidates), strict=True))


def _losses(facts: Facts) -> list[tuple[str, list[tuple[float, float]]]]:
    """Pair each loss with its watts and share in every build."""
    by_key: dict[str, list[tuple[float, float]]] = {}
    for candidate in facts.candidates:
        for loss in candidate.losses:
            by_key.setdefault(loss.key, []).append((loss.watts, loss.share))
    return [(key, parts) for key, parts in by_key.items() if len(parts) == len(facts.candidates)]


def _ladders(facts: Facts) -> list[tuple[Rung, ...]]:
    """List each place of the ladder of angular momentum, in every build; [] if one has none."""
    ladders = [ladder(candidate.values) for candidate in facts.candidates]
    return list(zip(*ladders, strict=True)) if ladders and all(ladders) else []


def _front_data(facts: Facts) -> Mapping[str, Any]:
    """Collect the front for the script: numbers in drawing units, texts of the table of choice."""
    keys = facts.columns
    values = [row_of(facts.front, place) for place in range(len(facts.front["design"]))]
    rows = choice.rows_of(facts)
    texts = [[row.text(each) for each in values] for row in rows]
    aims = tuple(aim.key for aim in facts.aims)
    return {
        "names": ["design", *(COLUMNS[key].name for key in keys)],
        "keys": ["design", *keys],
        "heads": [_head("design"), *map(_head, keys)],
        "columns": [_packed(_column(facts, key)) for key in ("design", *keys)],
        "choice": [_packed(text) for text in texts],
        "bad": [row.bad for row in rows],
        "aims": [*aims],
        "shown": {str(c.design): c.name for c in facts.candidates},
    }


def _head(key: str) -> Mapping[str, Any]:
    column = COLUMNS[key]
    unit = "" if column.unit.symbol in ("count", "text") else column.unit.symbol
    unit = "°" if unit == "deg" else unit
    kind = "words" if column.is_text else "count" if column.is_count else "number"
    if is_share(key):
        kind, unit = "share", ""
    return {"label": column.label, "unit": unit, "kind": kind, "meaning": column.meaning}


def _column(facts: Facts, key: str) -> list[Any]:
    """Take a column of the front in drawing units, with no more digits than a shop can use."""
    column = COLUMNS[key]
    if column.is_text:
        return list(facts.front[key].astype(str).tolist())
    drawing = column.to_drawing(np.asarray(facts.front[key], dtype=float)).tolist()
    digits = 4 if column.kind in {"result", "band"} else 6
    return [_short(value, digits) for value in drawing]


def _packed(column: Sequence[Any]) -> Mapping[str, Any]:
    """Write each value of a column once, where that is shorter, and then which row has which."""
    kinds = list(dict.fromkeys(column))
    if len(kinds) > len(column) / 3:
        return {"all": list(column)}
    place = {value: at for at, value in enumerate(kinds)}
    return {"kinds": kinds, "of": [place[value] for value in column] if len(kinds) > 1 else 0}


def _short(value: float, digits: int) -> float | int | None:
    if not math.isfinite(value):
        return None
    short = float(f"{value:.{digits}g}")
    return int(short) if short.is_integer() else short
