"""The page of a pump's run: facts and charts filled into one self-contained file."""

from collections.abc import Mapping
from functools import partial
from typing import Any

from engine import pump_columns
from engine.columns import COLUMNS, columns_of
from engine.physics.pump.suction import GRAVITY
from reports.kit import quantities
from reports.kit.rendering import embedded, render, script
from reports.kit.svg import fitted
from reports.run import band_wording, candidate_wording, doubt_wording, opening
from reports.run import wording as of_all
from reports.run.charts import along, speeds
from reports.run.facts import Facts, RunData, facts_of, study_keys
from reports.run.page_parts import SCRIPTS, common_charts, front_data
from reports.run.pump import curves, sketch, wording

CURVE_FITS = {"wide": 1240.0, "middle": 700.0, "narrow": 358.0}
GROUPS = (
    ("What it delivers", ("flow", "head", "shutoff_head", "electric_power", "wire_to_water",
                          "pump_efficiency", "chance_all", "governing_mode")),
    ("What it needs", ("npsh_required", "npsh_margin", "least_flow", "temperature_rise",
                       "motor_load", "free_passage", "rim_speed")),
    ("Strength and balance", ("stress_margin", "gap_hold", "smallest_gap", "fatigue_cycles",
                              "axial_thrust", "radial_thrust", "bearing_life", "raw_unbalance",
                              "permissible_unbalance", "rotor_mass", "stored_energy")),
)  # fmt: skip
"""What the table of every number shows besides aims and variables."""


def write_report(data: RunData) -> str:
    """Make the whole page of a run, as text."""
    facts = facts_of(data)
    found = bool(facts.candidates)
    columns = {**COLUMNS, **columns_of(facts.study.works_as)}
    rows = wording.choice_rows(facts) if found else ()
    return render(
        "pump.html.j2",
        style="page.css",
        scripts=[script(*SCRIPTS)] if found else [],
        facts=facts,
        charts=_charts(facts) if found else {"bounds": None, "growth": None},
        columns=columns,
        words=of_all,
        of_pump=wording,
        of_doubt=doubt_wording,
        opening=opening,
        of_build=candidate_wording,
        say=quantities,
        growth=along.growth_text(facts),
        bands=band_wording,
        judged=[c for c in facts.candidates if c.bands],
        choice_rows=rows,
        comparison=_comparison(facts),
        losses=_losses(facts),
        fails=[key for key in pump_columns.FAILING_SPEEDS if key in facts.front],
        fluid_keys=wording.fluid_numbers(facts),
        page_words=wording.page_words(facts),
        closest_keys=[k for k in study_keys(data.study) if k in (data.closest or data.designs)],
        front_data=embedded(front_data(facts, rows, columns)) if found else "",
    )


def _charts(facts: Facts) -> Mapping[str, Any]:
    """Draw every chart: markup by name, and by name and role for those of one build."""
    builds, duty = facts.candidates, wording.study_of(facts).duty
    supply = wording.study_of(facts).supply
    weight = supply.density * GRAVITY if supply.is_gas else None
    return common_charts(facts) | {
        "section": sketch.section(facts.pick).svg(),
        "view": sketch.view(facts.pick).svg(),
        "curve": fitted(partial(curves.head_chart, builds, duty, weight), CURVE_FITS),
        "waves": {role: made.svg() for role, made in speeds.wave_charts(builds).items()},
    }


def _comparison(facts: Facts) -> list[tuple[str, list[str]]]:
    """Group the keys that the table of every number shows."""
    aims = [aim.key for aim in facts.aims]
    (first, gives), *others = GROUPS
    groups = [(first, [*aims, *(key for key in gives if key not in aims)])]
    groups += [("What you build", [k for k in study_keys(facts.study) if k not in aims])]
    groups += [(title, [key for key in keys if key not in aims]) for title, keys in others]
    return [(title, [key for key in keys if key in facts.front]) for title, keys in groups]


def _losses(facts: Facts) -> list[tuple[str, list[tuple[float, float]]]]:
    """Pair each loss with its watts and its share of what the motor draws, in every build."""
    return [
        (
            key,
            [
                (float(c.values[key]), float(c.values[key]) / float(c.values["electric_power"]))
                for c in facts.candidates
            ],
        )
        for key in pump_columns.LOSSES
        if facts.candidates and key in facts.front
    ]
