"""The page of a comparison: chart and facts filled into a template."""

import html
from collections.abc import Mapping, Sequence

import numpy as np

from engine.columns import COLUMNS, restated
from reports.compare import wording
from reports.compare.facts import Comparison, RunSide
from reports.kit import quantities
from reports.kit.charts import (
    BLUE,
    DARK,
    GREEN,
    INK,
    ORANGE,
    PAPER,
    PURPLE,
    SKY,
    SOFT,
    VERMILLION,
    Chart,
    Figure,
    blank,
    drawing,
    library,
    plain,
)
from reports.kit.quantities import inline_label, quantity
from reports.kit.rendering import embedded, render, script
from reports.run.charts.pareto import mark_required
from reports.run.facts import study_keys
from reports.run.wording import axis_title

MARK = "swirlstack compare"
"""Text in the head of every such page, by which the command knows its own."""
LOOKS = (
    (BLUE, "circle", "solid"),
    (VERMILLION, "square", "dash"),
    (GREEN, "triangle-up", "dot"),
    (ORANGE, "diamond", "dashdot"),
    (PURPLE, "pentagon", "longdash"),
    (SKY, "star", "longdashdot"),
    (SOFT, "cross", "solid"),
    (INK, "triangle-down", "dash"),
)
"""Colour, shape and dash of each run; each of the three differs from its neighbours'."""
MARKS_DRAWN = 40
"""Most designs of a run that have a mark, evenly spaced along its line."""
LONGEST_LABEL = 22
GIVES = ("supply_efficiency", "supply_power", "specific_consumption", "free_air_flow", "mass_flow")
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
    chart = fronts_chart(comparison) if drawn else None
    figures = {chart.name: chart.figure} if chart else {}
    return render(
        "compare.html.j2",
        style="page.css",
        scripts=[library(), script("scheme.js", "compare.js")] if chart else [],
        mark=MARK,
        facts=comparison,
        chart=chart,
        columns=COLUMNS,
        words=wording,
        say=quantities,
        groups=_groups(comparison),
        chart_data=embedded({"figures": figures, "dark": DARK}),
    )


def fronts_chart(comparison: Comparison) -> Chart:
    """Draw what each run reached, as a stepped line with marks for its designs."""
    figure = blank()
    first, second = comparison.aims
    drawn = [place for place, side in enumerate(comparison.sides) if side.reached]
    for turn, place in enumerate(drawn):
        _add_run(figure, comparison, place, (turn + 0.5) / len(drawn))
    mark_required(figure, second, "x")
    figure.update_layout(
        xaxis_title_text=axis_title(second),
        yaxis_title_text=axis_title(first),
        legend={"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom"},
        margin={"l": 64, "r": 24, "t": 40, "b": 52},
        hovermode="closest",
    )
    return Chart("fronts", plain(figure), _alt(comparison))


def _add_run(figure: Figure, comparison: Comparison, place: int, share: float) -> None:
    """Add a line with marks and, at this share of its length, the name of the run."""
    first, second = comparison.aims
    side, (colour, shape, dash) = comparison.sides[place], LOOKS[place]
    x, y = (
        drawing(second.key, side.reached[second.key]),
        drawing(first.key, side.reached[first.key]),
    )
    # From the best first aim to the best second: between two designs the later one counts.
    line = {"color": colour, "width": 2, "dash": dash, "shape": "vh"}
    label = html.escape(_label(place, side))
    figure.add_scatter(x=x, y=y, mode="lines", line=line, hoverinfo="skip", showlegend=False)
    step = max(1, -(-len(x) // MARKS_DRAWN))
    rows = sorted({*range(0, len(x), step), len(x) - 1})
    figure.add_scatter(
        x=[x[row] for row in rows],
        y=[y[row] for row in rows],
        mode="markers",
        marker={"size": 9, "color": colour, "symbol": shape, "line": {"color": PAPER, "width": 1}},
        name=label,
        customdata=[_hover(side, row) for row in rows],
        hovertemplate=f"<b>{label}</b><br>%{{customdata}}<extra></extra>",
    )
    at = int(share * (len(x) - 1))
    up = -26 if first.maximise else 26
    figure.add_annotation(
        x=x[at],
        y=y[at],
        text=f"<b>{label}</b>",
        ax=18 if second.maximise else -18,
        ay=up,
        xanchor="left" if second.maximise else "right",
        arrowcolor=colour,
        arrowwidth=1.2,
        arrowhead=0,
        standoff=6,
        bgcolor=PAPER,
        borderpad=1,
        font={"color": INK, "size": 13},
    )


def _label(place: int, side: RunSide) -> str:
    name = side.run.name
    return f"{place + 1} {name if len(name) <= LONGEST_LABEL else f'{name[: LONGEST_LABEL - 1]}…'}"


def _hover(side: RunSide, row: int) -> str:
    lines = [f"Design {int(side.reached['design'][row])}"]
    lines += [
        f"{COLUMNS[key].label}: {html.escape(quantity(key, side.reached[key][row]))}"
        for key in (*study_keys(side.run.study), "supply_efficiency", "governing_mode")
        if key in side.reached
    ]
    return "<br>".join(dict.fromkeys(lines))


def _alt(comparison: Comparison) -> str:
    first, second = comparison.aims
    parts = []
    for place, side in enumerate(comparison.sides):
        if side.reached:
            ends = [
                f"{quantity(first.key, side.reached[first.key][row])} at "
                f"{quantity(second.key, side.reached[second.key][row])}"
                for row in (0, -1)
            ]
            parts.append(f"run {place + 1}, {side.run.name}, from {ends[0]} to {ends[1]}")
    return (
        f"Chart of {inline_label(first.key)} against {inline_label(second.key)}, a line a run: "
        f"{'; '.join(parts)}. The table below holds the same levels."
    )


def _groups(comparison: Comparison) -> list[tuple[str, list[str]]]:
    """Group the keys of the table of the best designs, those that have a value."""
    known = [side.best for side in comparison.sides if side.best is not None]
    aims = [aim.key for aim in comparison.aims]
    searched = [key for side in comparison.sides for key in restated(side.run.study.searched())]
    groups = (
        ("What it gives", (*aims, *GIVES)),
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
