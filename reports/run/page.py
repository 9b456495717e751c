"""The page of a run: facts and charts filled into one self-contained file."""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from engine.columns import COLUMNS, FAILING_SPEEDS, LOSSES
from engine.model.ladder import Rung, ladder
from reports.kit import quantities
from reports.kit.charts import DARK, Chart, library
from reports.kit.rendering import embedded, render, script
from reports.run import band_wording, candidate_wording, rubbing_wording, trip_wording, wording
from reports.run.charts.band_sources import source_chart
from reports.run.charts.candidates import loss_chart, speed_charts
from reports.run.charts.gap import gap_charts
from reports.run.charts.growth import growth_chart, growth_text
from reports.run.charts.map import map_chart, map_data
from reports.run.charts.pareto import cloud_step, front_chart, variable_chart
from reports.run.charts.plane import plane_chart
from reports.run.charts.steps import step_chart
from reports.run.charts.stress import stress_chart
from reports.run.charts.waves import wave_chart
from reports.run.charts.whole_front import holding_chart, parallel_axes, parallel_chart
from reports.run.facts import Candidate, Facts, RunData, facts_of, study_keys
from reports.run.inside import FlowNumber, is_resolved
from reports.run.search_facts import Values, row_of

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
"""What the table of the candidates shows besides aims and variables."""
WHERE_ANY = ("receiver_time", "axial_thrust")
"""Of these, what it shows only where a design has any."""

SCRIPTS = ("scheme.js", "page.js", "table.js", "pins.js")
"""Scripts of the page, in the order they run."""


@dataclass(frozen=True)
class _Row:
    """One design of the front as the table shows it."""

    design: int
    letter: str
    """Mark of the candidate that it is, '' for none."""
    values: Values


def write_report(data: RunData) -> str:
    """Make the whole page of a run, as text."""
    facts = facts_of(data)
    maps = map_data(facts) if facts.feasible and len(facts.spans) > 1 else {}
    charts = {chart.name: chart for chart in _charts(facts, maps)}
    marks = facts.marks
    return render(
        "report.html.j2",
        style="page.css",
        scripts=[library(), script(*SCRIPTS)] if charts else [],
        facts=facts,
        charts=charts,
        columns=COLUMNS,
        words=wording,
        of_candidate=candidate_wording,
        say=quantities,
        growth=growth_text(facts),
        headings=_headings,
        marks=marks,
        of_trip=trip_wording,
        trip_marks=[mark for mark in marks if trip_wording.moments(mark[1].values)],
        speed_marks=[mark for mark in marks if f"speed-{mark[0]}" in charts],
        wave_marks=[mark for mark in marks if f"waves-{mark[0]}" in charts],
        stress_marks=[mark for mark in marks if f"stress-{mark[0]}" in charts],
        step_marks=[mark for mark in marks if f"steps-{mark[0]}" in charts],
        plane_marks=[mark for mark in marks if f"plane-{mark[0]}" in charts],
        plane_followed=[mark for mark in marks if mark[1].plane],
        gap_marks=[mark for mark in marks if f"path-{mark[0]}" in charts],
        bands=band_wording,
        rubbing=rubbing_wording,
        band_marks=[mark for mark in marks if mark[1].bands],
        band_keys=[band.key for band in facts.candidates[0].bands] if marks else [],
        source_marks=[mark for mark in marks if f"sources-{mark[0]}" in charts],
        load_marks=[mark for mark in marks if mark[1].carries],
        flow_record=_flow_record(facts.candidates),
        comparison=_comparison(facts),
        pin_groups=_pin_groups(facts),
        maps=maps,
        losses=_losses(facts),
        ladders=_ladders(facts),
        fails=[key for key in FAILING_SPEEDS if key in facts.front],
        rows=_rows(facts),
        closest_keys=[k for k in study_keys(data.study) if k in (data.closest or data.designs)],
        step=cloud_step(len(facts.cloud[facts.aims[0].key])) * facts.sampled,
        chart_data=embedded(
            {"figures": {name: charts[name].figure for name in charts}, "dark": DARK, "map": maps}
        ),
        front_data=embedded(_front_data(facts)),
    )


def _headings(sections: str) -> list[tuple[str, Markup]]:
    """Find the place and title of each section of a part of the page."""
    found = re.findall(r'<h2 id="([^"]+)"[^>]*>(.*?)</h2>', sections)
    return [(place, Markup(title)) for place, title in found]  # noqa: S704  # markup already


def _charts(facts: Facts, maps: Mapping[str, Any]) -> Iterable[Chart]:
    if not facts.feasible:
        return
    yield front_chart(facts)
    for letter, candidate in facts.marks:
        if candidate.losses:
            yield loss_chart(letter, candidate)
        found = (
            stress_chart(letter, candidate),
            wave_chart(letter, candidate),
            step_chart(letter, candidate, facts.aims),
            source_chart(letter, candidate),
            plane_chart(letter, candidate),
        )
        yield from filter(None, found)
        yield from gap_charts(letter, candidate)
    yield from speed_charts(facts)
    for key in facts.spans:
        yield variable_chart(facts, key)
    if maps:
        yield map_chart(facts, maps)
    yield from filter(None, (parallel_chart(facts), holding_chart(facts), growth_chart(facts)))


def _pin_groups(facts: Facts) -> list[tuple[str, list[str]]]:
    """Group the keys that the table of pinned designs shows."""
    searched = [key for key in study_keys(facts.study) if key in facts.front]
    searched = [key for key in searched if key not in facts.study.aims]
    gives = [key for key in facts.columns if key not in searched]
    if facts.study.search.flow == "resolved":
        gives = [key for key in gives if key != "resolved_power"]
    groups = (
        ("What it gives", gives),
        ("What you build", searched),
        ("Where its power goes", [key for key in LOSSES if key in facts.front]),
    )
    return [(title, keys) for title, keys in groups if keys]


def _comparison(facts: Facts) -> list[tuple[str, list[str]]]:
    """Group the keys that the table of the candidates shows."""
    aims = [aim.key for aim in facts.aims]
    gives = [key for key in GIVES if key not in aims]
    if is_resolved(facts.study, facts.front):
        gives.remove("resolved_power")
    groups = (
        ("What it gives", _after("electric_power", aims, gives)),
        ("What you build", study_keys(facts.study)),
        ("What it needs", NEEDS),
        ("Strength and balance", STRENGTH),
    )
    return [
        (title, [key for key in keys if _shown(facts, key) and (place == 0 or key not in aims)])
        for place, (title, keys) in enumerate(groups)
    ]


def _shown(facts: Facts, key: str) -> bool:
    """Whether the table of the candidates shows a key; some only where there is any of it."""
    if key not in facts.front or key not in WHERE_ANY:
        return key in facts.front
    return bool((np.nan_to_num(facts.front[key]) > 0).any())


def _after(key: str, aims: list[str], others: list[str]) -> list[str]:
    """Put resolved power, the first of the others, right below the aim it belongs to, if any."""
    if key not in aims or others[:1] != ["resolved_power"]:
        return [*aims, *others]
    place = aims.index(key) + 1
    return [*aims[:place], others[0], *aims[place:], *others[1:]]


def _flow_record(candidates: Iterable[Candidate]) -> list[tuple[FlowNumber, ...]]:
    """List the rows of the table of gap flow numbers, with an entry for each candidate."""
    return list(zip(*(candidate.inside.flow for candidate in candidates), strict=True))


def _losses(facts: Facts) -> list[tuple[str, list[tuple[float, float]]]]:
    """Pair each loss with its watts and share in every candidate."""
    by_key: dict[str, list[tuple[float, float]]] = {}
    for candidate in facts.candidates:
        for loss in candidate.losses:
            by_key.setdefault(loss.key, []).append((loss.watts, loss.share))
    return list(by_key.items())


def _ladders(facts: Facts) -> list[tuple[Rung, ...]]:
    """List each place of the ladder of angular momentum, in every candidate; [] if one has none."""
    ladders = [ladder(candidate.values) for candidate in facts.candidates]
    return list(zip(*ladders, strict=True)) if all(ladders) else []


def _rows(facts: Facts) -> list[_Row]:
    letters = {candidate.design: letter for letter, candidate in facts.marks}
    numbers = facts.front["design"].astype(int).tolist()
    return [
        _Row(design, letters.get(design, ""), row_of(facts.front, place))
        for place, design in enumerate(numbers)
    ]


def _front_data(facts: Facts) -> Mapping[str, Any]:
    """Collect the front in drawing units, for sorting, filtering, pins and the download."""
    names = ["design", *(COLUMNS[key].name for key in facts.columns)]
    columns = [facts.front["design"].astype(int).tolist()]
    for key in facts.columns:
        column = COLUMNS[key]
        if column.is_text:
            columns.append(facts.front[key].astype(str).tolist())
        else:
            drawing = column.to_drawing(facts.front[key]).tolist()
            columns.append([_short(value) for value in drawing])
    known = [key for key in LOSSES if {key, "isentropic_power"} <= facts.front.keys()]
    return {
        "names": names,
        "keys": ["design", *facts.columns],
        "rows": [list(row) for row in zip(*columns, strict=True)],
        "aims": [aim.key for aim in facts.aims],
        "parallel": {
            key: COLUMNS[key].to_drawing(np.array(ends)).tolist()
            for key, ends in (parallel_axes(facts) if facts.feasible else {}).items()
        },
        "losses": {key: _loss_texts(facts, key) for key in known},
    }


def _loss_texts(facts: Facts, key: str) -> list[tuple[str, str, float]]:
    """Write a loss of every front design in watts and as a share, with the share as a number."""
    with np.errstate(invalid="ignore", divide="ignore"):
        shares = facts.front[key] / facts.front["isentropic_power"]
    return [
        (quantities.bare(key, watts), quantities.percent(share), _short(share) or 0.0)
        for watts, share in zip(facts.front[key].tolist(), shares.tolist(), strict=True)
    ]


def _short(value: float) -> float | None:
    return float(f"{value:.6g}") if math.isfinite(value) else None
