"""The page of a comparison: chart and facts filled into a template."""

from collections.abc import Mapping, Sequence

import numpy as np

from engine.columns import COLUMNS, columns_of, restated
from reports.compare import cautions, wording
from reports.compare.chart import LINES, fronts_chart
from reports.compare.facts import Comparison
from reports.kit import quantities
from reports.kit.rendering import asset, render

MARK = "swirlstack compare"
"""Text in the head of every such page, by which the command knows its own."""
MOST_RUNS = len(LINES)
GIVES = ("supply_efficiency", "supply_power", "specific_consumption", "free_air_flow", "mass_flow")
OF_PUMP = (
    "flow",
    "head",
    "shutoff_head",
    "electric_power",
    "wire_to_water",
    "npsh_margin",
    "free_passage",
    "motor_load",
)
STRENGTH = (
    "governing_mode",
    "stress_margin",
    "gap_hold",
    "runaway_ratio",
    "peak_ratio",
    "rotor_mass",
)


def write_comparison(comparison: Comparison) -> str:
    """Make the whole page, as text."""
    drawn = any(side.reached for side in comparison.sides)
    return render(
        "compare.html.j2",
        style="page.css",
        scripts=[asset("chart.js")] if drawn else [],
        mark=MARK,
        facts=comparison,
        chart=fronts_chart(comparison) if drawn else "",
        columns={**COLUMNS, **columns_of(comparison.sides[0].run.study.works_as)},
        words=wording,
        warnings=cautions.warnings(comparison),
        say=quantities,
        groups=_groups(comparison),
    )


def _groups(comparison: Comparison) -> list[tuple[str, list[str]]]:
    """Group the keys of the table of the best designs, those that have a value."""
    known = [side.best for side in comparison.sides if side.best is not None]
    aims = [aim.key for aim in comparison.aims]
    is_pump = comparison.sides[0].run.study.kind == "pump"
    searched = [key for side in comparison.sides for key in restated(side.run.study.searched())]
    groups = (
        ("What it gives", (*aims, *(OF_PUMP if is_pump else GIVES))),
        ("What you build", searched),
        ("Strength and balance", STRENGTH),
    )
    return [
        (title, [key for key in dict.fromkeys(keys) if _shown(key, known, title, aims)])
        for title, keys in groups
    ]


def _shown(
    key: str, known: Sequence[Mapping[str, float | str]], title: str, aims: Sequence[str]
) -> bool:
    if title != "What it gives" and key in aims:
        return False
    return any(
        isinstance(value := each.get(key, np.nan), str) or bool(np.isfinite(value))
        for each in known
    )
