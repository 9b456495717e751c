"""Charts of the whole front: every design over all axes, and which limits it reaches."""

import html
from typing import TypeAlias

import numpy as np

from engine.columns import COLUMNS
from reports.kit.charts import (
    BLUE,
    FAINT,
    GRID,
    INK,
    PAPER,
    SOFT,
    VERMILLION,
    Chart,
    Figure,
    blank,
    drawing,
    plain,
)
from reports.kit.quantities import bare, inline_label, percent
from reports.run.charts.pareto import by_mode
from reports.run.facts import Facts
from reports.run.wording import limit_text

ROW = 54
"""Height of one axis of the parallel view [px]."""
DASHES = ("solid", "dash", "dot")
"""Dashes of candidates A, B and C."""
Axes: TypeAlias = dict[str, tuple[float, float]]
"""Ends of the axes by key, SI."""


def parallel_axes(facts: Facts) -> Axes:
    """Find the ends of the axes: of an aim on the front, of a variable in the study."""
    aims = {
        aim.key: (float(np.min(facts.front[aim.key])), float(np.max(facts.front[aim.key])))
        for aim in facts.aims
    }
    return {key: ends for key, ends in (aims | dict(facts.spans)).items() if ends[1] > ends[0]}


def parallel_chart(facts: Facts) -> Chart | None:
    """Draw each design as a line through the axes of aims and variables; None without axes."""
    figure = blank()
    axes = parallel_axes(facts)
    if not axes:
        return None
    shares = np.stack(
        [(np.asarray(facts.front[key]) - low) / (high - low) for key, (low, high) in axes.items()]
    )
    rows = list(range(len(axes)))
    for mode, colour, _, here in by_mode(facts):
        figure.add_scatter(
            x=[x for row in here for x in (*np.round(shares[:, row], 4).tolist(), None)],
            y=[y for _ in here for y in (*rows, None)],
            mode="lines",
            line={"color": colour, "width": 1},
            opacity=0.55,
            name=html.escape(mode),
            hoverinfo="skip",
            showlegend=False,
        )
    _add_candidates(figure, facts, axes)
    _write_ends(figure, axes)
    figure.update_layout(
        xaxis={"visible": False, "range": [-0.01, 1.01]},
        yaxis={
            "tickvals": rows,
            "ticktext": [COLUMNS[key].title for key in axes],
            "range": [len(rows) - 0.6, -0.55],
            "gridcolor": SOFT,
            "ticks": "",
            "showline": False,
        },
        height=ROW * len(rows),
        margin={"l": 132, "r": 22, "t": 4, "b": 26},
    )
    alt = (
        f"Each design of the front as a line through {len(axes)} axes: "
        f"{', '.join(inline_label(key) for key in axes)}. The table of the front holds the same."
    )
    return Chart("parallel", plain(figure), alt)


def _add_candidates(figure: Figure, facts: Facts, axes: Axes) -> None:
    for (letter, candidate), dash in zip(facts.marks, DASHES, strict=False):
        places = [
            (float(candidate.values[key]) - low) / (high - low) for key, (low, high) in axes.items()
        ]
        figure.add_scatter(
            x=places,
            y=list(range(len(axes))),
            mode="lines+markers",
            line={"color": INK, "width": 2.5, "dash": dash},
            marker={"size": 6, "color": INK},
            hovertext=[f"{letter}: {bare(key, candidate.values[key])}" for key in axes],
            hovertemplate="%{hovertext}<extra></extra>",
            showlegend=False,
        )
        figure.add_annotation(
            x=places[0],
            y=0,
            text=f"<b>{letter}</b>",
            showarrow=False,
            yshift=13,
            font={"color": INK},
        )


def _write_ends(figure: Figure, axes: Axes) -> None:
    for row, (key, ends) in enumerate(axes.items()):
        for x, value, side in zip((0, 1), ends, ("left", "right"), strict=True):
            figure.add_annotation(
                x=x,
                y=row,
                text=bare(key, value),
                showarrow=False,
                xanchor=side,
                yshift=-10,
                font={"size": 11, "color": SOFT},
                bgcolor=PAPER,
                borderpad=0,
            )


def holding_chart(facts: Facts) -> Chart | None:
    """Draw where along the front each limit or end of a range is reached; None where none is."""
    first = facts.aims[0]
    held = [
        (limit_text(fact.key, fact.side, fact.bound), fact.reached, VERMILLION, "square")
        for fact in facts.limits
        if fact.reached
    ]
    held += [
        (
            f"{end.end} {inline_label(end.key)}, {bare(end.key, end.value)}",
            end.reached,
            BLUE,
            "diamond",
        )
        for end in facts.range_ends
    ]
    if not held:
        return None
    figure = blank()
    x = drawing(first.key, facts.front[first.key])
    for row, (name, reached, colour, symbol) in enumerate(held):
        figure.add_scatter(
            x=x,
            y=[row] * len(x),
            mode="markers",
            marker={"size": 4, "color": FAINT},
            hoverinfo="skip",
            showlegend=False,
        )
        figure.add_scatter(
            x=drawing(first.key, np.array(reached)),
            y=[row] * len(reached),
            mode="markers",
            marker={"size": 8, "color": colour, "symbol": symbol},
            hovertemplate=f"{html.escape(name)}<br>%{{x:.4r}}<extra></extra>",
            showlegend=False,
        )
        figure.add_annotation(
            x=0,
            xref="paper",
            y=row,
            text=html.escape(name),
            showarrow=False,
            xanchor="left",
            yshift=14,
            font={"size": 12, "color": INK},
        )
    figure.update_layout(
        xaxis={"title_text": COLUMNS[first.key].title, "gridcolor": GRID},
        yaxis={"visible": False, "range": [len(held) - 0.6, -0.75]},
        height=46 * len(held) + 54,
        margin={"l": 12, "r": 12, "t": 4, "b": 46},
    )
    n_front = len(x)
    told = "; ".join(f"{name}: {percent(len(reached) / n_front)}" for name, reached, _, _ in held)
    alt = f"Where along the front each limit is reached, as a share of its designs: {told}."
    return Chart("holding", plain(figure), alt)
