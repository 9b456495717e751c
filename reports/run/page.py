"""The page of a run: facts and charts filled into one self-contained file."""

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from engine.columns import COLUMNS, FAILING_SPEEDS
from engine.model.ladder import Rung, ladder
from reports.kit import quantities
from reports.kit.rendering import embedded, render, script
from reports.run import (
    band_wording,
    candidate_wording,
    choice,
    doubt_wording,
    energy_wording,
    in_time_wording,
    opening,
    part_load_wording,
    rubbing_wording,
    socket_wording,
    stages,
    trip_wording,
    wording,
)
from reports.run.charts import (
    along,
    gap,
    in_time,
    machine,
    plane,
    socket,
    speeds,
)
from reports.run.facts import Candidate, Facts, RunData, facts_of, study_keys
from reports.run.inside import FlowNumber, is_resolved
from reports.run.page_parts import SCRIPTS, common_charts, front_data

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
        of_stages=stages,
        of_trip=trip_wording,
        of_socket=socket_wording,
        of_time=in_time_wording,
        of_doubt=doubt_wording,
        of_part=part_load_wording,
        of_energy=energy_wording,
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
        front_data=embedded(front_data(facts, choice.rows_of(facts))) if found else "",
    )


def _charts(facts: Facts) -> Mapping[str, Any]:
    """Draw every chart: markup by name, and by name and role for those of one build."""
    builds = facts.candidates
    section, view = machine.section_and_view(facts.pick, str(facts.study.supply.fluid))
    curves = (speeds.speed_charts(builds), speeds.stress_charts(builds), speeds.wave_charts(builds))
    inside, planes = gap.gap_charts(builds), plane.plane_charts(builds)
    return common_charts(facts) | {
        "section": section.svg(),
        "view": view.svg(),
        "curves": [{role: made.svg() for role, made in kind.items()} for kind in curves],
        "socket": [
            {role: made.svg() for role, made in kind.items()}
            for kind in (socket.meeting_charts(builds), socket.part_load_charts(builds))
        ],
        "in_time": {
            role: [each.svg() for each in made]
            for role, made in in_time.time_charts(builds).items()
        },
        "gap": {role: [each.svg() for each in made] for role, made in inside.items()},
        "plane": {role: made.svg() for role, made in planes.items()},
    }


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
