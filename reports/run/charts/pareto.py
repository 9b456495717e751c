"""Charts of the front: its first two aims against each other, and one variable along it."""

import html
from collections.abc import Sequence

import numpy as np

from engine.columns import COLUMNS
from reports.kit.charts import (
    BLUE,
    FAINT,
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
    plain,
)
from reports.kit.quantities import bare, quantity, setting
from reports.run.facts import Candidate, Facts
from reports.run.search_facts import Aim, Values
from reports.run.wording import axis_title, front_text, role_label

MODES = (
    (BLUE, "circle"),
    (VERMILLION, "square"),
    (GREEN, "triangle-up"),
    (ORANGE, "diamond"),
    (PURPLE, "pentagon"),
    (SKY, "star"),
    (SOFT, "cross"),
)
"""Colour and shape of the governing modes, in alphabetical order of the modes."""
CLOUD_POINTS = 4000
"""Most feasible designs that are drawn besides the front, evenly spaced over the run."""
DOT = 9
"""Marker size [px] of a front design."""


def front_chart(facts: Facts) -> Chart:
    """Draw the first aim against the second: all feasible designs faint, the front strong."""
    first, second = facts.aims[0], facts.aims[1]
    figure = blank()
    step = cloud_step(len(facts.cloud[first.key]))
    every = step * facts.sampled
    figure.add_scatter(
        x=drawing(second.key, facts.cloud[second.key][::step]),
        y=drawing(first.key, facts.cloud[first.key][::step]),
        mode="markers",
        marker={"size": 4, "color": FAINT, "opacity": 0.45},
        name="every feasible design" if every == 1 else f"one feasible design in {every}",
        hoverinfo="skip",
        legendrank=2000,
    )
    x, y = drawing(second.key, facts.front[second.key]), drawing(first.key, facts.front[first.key])
    if len(facts.aims) == 2:
        figure.add_scatter(
            x=x,
            y=y,
            mode="lines",
            line={"color": SOFT, "width": 1},
            hoverinfo="skip",
            showlegend=False,
        )
    _add_front(figure, facts, x, y)
    _frame(figure, facts, x, y)
    mark_required(figure, second, "x")
    mark_required(figure, first, "y")
    for letter, candidate in facts.marks:
        _mark(figure, letter, candidate, facts)
    figure.update_layout(
        xaxis_title_text=axis_title(second),
        yaxis_title_text=axis_title(first),
        legend={
            "title": {"text": "First to fail:", "font": {"size": 13}},
            "orientation": "h",
            "x": 0,
            "y": 1.02,
            "yanchor": "bottom",
        },
        margin={"l": 64, "r": 24, "t": 40, "b": 52},
        hovermode="closest",
    )
    alt = f"{front_text(facts)} The table of the front holds the same numbers."
    return Chart("front", plain(figure), alt)


def variable_chart(facts: Facts, key: str) -> Chart:
    """Draw one variable along the front, on the axis of its range."""
    first = facts.aims[0]
    figure = blank()
    x, y = drawing(first.key, facts.front[first.key]), drawing(key, facts.front[key])
    for _, colour, shape, here in by_mode(facts):
        figure.add_scatter(
            x=[x[row] for row in here],
            y=[y[row] for row in here],
            mode="markers",
            marker={"size": 6, "color": colour, "symbol": shape},
            hovertemplate="%{x:.4r}, %{y:.4r}<extra></extra>",
            showlegend=False,
        )
    for letter, candidate in facts.marks:
        figure.add_annotation(
            x=drawing(first.key, np.array([candidate.values[first.key]]))[0],
            y=drawing(key, np.array([candidate.values[key]]))[0],
            text=f"<b>{letter}</b>",
            showarrow=False,
            yshift=11,
            font={"size": 12, "color": INK},
        )
    ends = facts.spans.get(key)
    if ends is not None:
        low, high = drawing(key, np.array(ends))
        reach = 0.08 * (high - low)
        figure.update_yaxes(range=[low - reach, high + 2.2 * reach])
        for end in (low, high):
            figure.add_hline(y=end, line={"color": FAINT, "width": 1, "dash": "dot"})
    figure.update_layout(
        xaxis={"title_text": COLUMNS[first.key].title, "nticks": 5},
        yaxis={"nticks": 5},
        margin={"l": 54, "r": 8, "t": 6, "b": 42},
    )
    least, most = (bare(key, float(end)) for end in (min(facts.front[key]), max(facts.front[key])))
    alt = f"{COLUMNS[key].title} along the front, from {least} to {most}."
    return Chart(f"variable-{key}", plain(figure), alt)


def cloud_step(n_feasible: int) -> int:
    """Step between the feasible designs that are drawn."""
    return max(1, -(-n_feasible // CLOUD_POINTS))


def by_mode(facts: Facts) -> list[tuple[str, str, str, list[int]]]:
    """List the governing modes with colour, shape and front rows, in alphabetical order."""
    unnamed = np.full(len(facts.front["design"]), "")
    modes = np.asarray(facts.front.get("governing_mode", unnamed)).astype(str)
    return [
        (mode, *MODES[place % len(MODES)], np.flatnonzero(modes == mode).tolist())
        for place, mode in enumerate(sorted(set(modes.tolist())))
    ]


def mark_required(figure: Figure, aim: Aim, axis: str) -> None:
    """Draw a line, with its name, at the level that a candidate must reach on the axis x or y."""
    if aim.required is None:
        return
    level = float(COLUMNS[aim.key].to_drawing(aim.required))
    line = {"color": INK, "width": 1.2, "dash": "dot"}
    text = f"required: {setting(aim.key, aim.required)}"
    note = {"text": text, "showarrow": False, "bgcolor": PAPER, "font": {"color": SOFT, "size": 12}}
    if axis == "x":
        figure.add_vline(x=level, line=line)
        side = "left" if aim.maximise else "right"
        place = {"x": level, "y": 0, "yref": "paper", "yanchor": "bottom", "xanchor": side}
        figure.add_annotation(**place, **note, xshift=4 if aim.maximise else -4)
    else:
        figure.add_hline(y=level, line=line)
        side = "top" if aim.maximise else "bottom"
        place = {"x": 1, "xref": "paper", "y": level, "yanchor": side, "xanchor": "right"}
        figure.add_annotation(**place, **note)


def _add_front(figure: Figure, facts: Facts, x: Sequence[float], y: Sequence[float]) -> None:
    """Add a trace for each governing mode, so that the legend names it."""
    rows = _hover_rows(facts)
    for mode, colour, shape, here in by_mode(facts):
        figure.add_scatter(
            x=[x[row] for row in here],
            y=[y[row] for row in here],
            mode="markers",
            marker={
                "size": DOT,
                "color": colour,
                "symbol": shape,
                "line": {"color": PAPER, "width": 1},
            },
            name=html.escape(mode) if mode else "front",
            customdata=[rows[row] for row in here],
            hovertemplate=_hover_template(facts),
        )


def _hover_rows(facts: Facts) -> list[list[str]]:
    columns = [
        [html.escape(quantity(key, value)) for value in facts.front[key].tolist()]
        for key in facts.hover
    ]
    designs = [str(int(design)) for design in facts.front["design"].tolist()]
    return [list(row) for row in zip(designs, *columns, strict=True)]


def _hover_template(facts: Facts) -> str:
    lines = [
        f"{COLUMNS[key].label}: %{{customdata[{place}]}}"
        for place, key in enumerate(facts.hover, start=1)
    ]
    return "<br>".join(["<b>Design %{customdata[0]}</b>", *lines]) + "<extra></extra>"


def _frame(figure: Figure, facts: Facts, x: Sequence[float], y: Sequence[float]) -> None:
    """Set axes that hold the front and the required levels, with room for names."""
    first, second = facts.aims[0], facts.aims[1]
    required = [
        [] if aim.required is None else drawing(aim.key, np.array([aim.required]))
        for aim in (first, second)
    ]
    from_nothing = [0.0] if 0 < min(y) < 0.6 * max(y) else []
    heights = [*y, *required[0], *from_nothing]
    widths = [*x, *required[1]]
    tall, wide = max(heights) - min(heights) or 1.0, max(widths) - min(widths) or 1.0
    room = (0.04, 0.18) if second.maximise else (0.18, 0.04)
    figure.update_xaxes(range=[min(widths) - room[0] * wide, max(widths) + room[1] * wide])
    head = (0.03, 0.2) if first.maximise else (0.2, 0.03)
    figure.update_yaxes(range=[min(heights) - head[0] * tall, max(heights) + head[1] * tall])


def _mark(figure: Figure, letter: str, candidate: Candidate, facts: Facts) -> None:
    """Ring one candidate and write its letter and name where there is room."""
    first, second = facts.aims[0], facts.aims[1]
    x, y = _place(candidate.values, first, second)
    spans = [_span(facts, aim) for aim in (second, first)]
    earlier = [each for other, each in facts.marks if other < letter]
    near = [
        other
        for other in (_place(each.values, first, second) for each in earlier)
        if abs(other[0] - x) < 0.2 * spans[0] and abs(other[1] - y) < 0.1 * spans[1]
    ]
    figure.add_scatter(
        x=[x],
        y=[y],
        mode="markers",
        marker={"size": 17, "color": "rgba(0,0,0,0)", "line": {"color": INK, "width": 2}},
        hoverinfo="skip",
        showlegend=False,
    )
    best = drawing(second.key, facts.front[second.key])
    crowded = abs((max(best) if second.maximise else min(best)) - x) < 0.12 * spans[0]
    side = 1 if second.maximise else -1
    up = -40 if first.maximise else 40
    if near:  # away from the name that already stands there
        side, up = -side, -up
    name = role_label(candidate.roles[0], facts.aims).partition(" at ")[0]
    figure.add_annotation(
        x=x,
        y=y,
        text=f"<b>{letter}</b> {name}<br>{quantity(first.key, candidate.values[first.key])}",
        align="left" if side > 0 else "right",
        xanchor="center" if crowded else "left" if side > 0 else "right",
        ax=side * (8 if crowded else 26),
        ay=up,
        standoff=9,
        arrowcolor=INK,
        arrowwidth=1.2,
        arrowhead=0,
        bgcolor=PAPER,
        borderpad=1,
        font={"color": INK, "size": 13},
    )


def _place(values: Values, first: Aim, second: Aim) -> tuple[float, float]:
    x, y = (drawing(aim.key, np.array([values[aim.key]]))[0] for aim in (second, first))
    return x, y


def _span(facts: Facts, aim: Aim) -> float:
    values = drawing(aim.key, facts.front[aim.key])
    return max(values) - min(values)
