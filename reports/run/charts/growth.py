"""Chart of how the front of a run grew, and what a longer run would still add."""

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from reports.kit.charts import BLUE, GREEN, INK, PAPER, SOFT, VERMILLION, Chart, blank, plain
from reports.kit.quantities import count, inline_label, percent, quantity
from reports.run.facts import Facts

DRAWN = 500
"""Most rows that are drawn."""
LINES = ((VERMILLION, "dash"), (GREEN, "dot"), (SOFT, "dashdot"))
"""Colour and dash of each aim's line."""


def growth_chart(facts: Facts) -> Chart | None:
    """Draw hypervolume and the best of each aim, as shares of their last values."""
    shares = _shares(facts)
    if facts.growth is None or not shares:
        return None
    noted = facts.growth.rows
    designs, stages = noted["designs"], noted["stage"]
    # The first and last row of each stage are always drawn.
    turns = np.flatnonzero(stages[1:] != stages[:-1]) + 1
    step = max(1, -(-len(designs) // DRAWN))
    rows = np.unique(np.r_[np.arange(0, len(designs), step), turns, len(designs) - 1])
    minutes = (noted["seconds"][rows] / 60).tolist()
    figure = blank()
    for name, (colour, dash) in zip(shares, ((BLUE, "solid"), *LINES), strict=False):
        figure.add_scatter(
            x=designs[rows].tolist(),
            y=np.round(100 * shares[name][rows], 2).tolist(),
            customdata=[f"{each:.3g}" for each in minutes],
            mode="lines",
            line={"color": colour, "dash": dash, "width": 2, "shape": "hv"},
            name=name,
            hovertemplate="%{y:.1f} % after %{x:,} designs, %{customdata} min"
            f"<extra>{name}</extra>",
        )
    for row in (0, *turns.tolist()):
        if row:
            figure.add_vline(
                x=float(designs[row - 1]), line={"color": SOFT, "width": 1, "dash": "dot"}
            )
    for row in _labelled(designs, turns):
        figure.add_annotation(
            x=float(designs[row - 1]) if row else 0.0,
            y=1.0,
            yref="paper",
            text=str(stages[row]),
            xanchor="left",
            yanchor="bottom",
            showarrow=False,
            font={"size": 12, "color": INK},
            bgcolor=PAPER,
        )
    figure.update_layout(
        xaxis={"title_text": "Designs evaluated", "range": [0, float(designs[-1])]},
        yaxis={"title_text": "Share of the end [%]", "rangemode": "tozero"},
        legend={"orientation": "h", "x": 1, "xanchor": "right", "y": 0.05, "yanchor": "bottom"},
        margin={"l": 64, "r": 24, "t": 28, "b": 52},
    )
    return Chart("growth", plain(figure), growth_text(facts))


def growth_text(facts: Facts) -> str:
    """Say when the front was nearly complete."""
    shares = _shares(facts)
    if facts.growth is None or not shares:
        return ""
    designs = facts.growth.rows["designs"]
    volume = next(iter(shares.values()))
    reached = [int(designs[np.argmax(volume >= share)]) for share in (0.9, 0.99)]
    late = np.flatnonzero(designs <= 0.9 * designs[-1])
    gain = 1.0 - float(volume[late[-1]]) if late.size else 1.0
    added = "nothing" if gain <= 0 else "less than 0.1 %" if gain < 1e-3 else percent(gain)
    worst = ", ".join(
        f"{inline_label(key)} {quantity(key, value)}"
        for key, value in facts.growth.reference.items()
    )
    nearly, almost = (count(each) for each in reached)
    return (
        f"The front had 90 % of its hypervolume after {nearly} designs and 99 % after {almost}; "
        f"the last tenth of all designs added {added}. Hypervolume measures how far the front lies "
        f"beyond a fixed point, the worst of the first feasible designs: {worst}."
    )


def _shares(facts: Facts) -> dict[str, NDArray[np.float64]]:
    """Hypervolume, then the aims, as shares of their last values; only those above zero."""
    if facts.growth is None or not len(facts.growth.rows["designs"]):
        return {}
    rows = facts.growth.rows
    if not rows["hypervolume"][-1] > 0:
        return {}
    shares = {"hypervolume of the front": rows["hypervolume"] / rows["hypervolume"][-1]}
    for aim in facts.aims:
        best = rows[aim.key]
        if np.nanmin(best) > 0:
            over = best / best[-1] if aim.maximise else best[-1] / best
            shares[f"best {COLUMNS[aim.key].label.lower()}"] = np.nan_to_num(over)
    return shares


def _labelled(designs: NDArray[np.generic], turns: NDArray[np.int64]) -> list[int]:
    """Rows at which a stage begins, without those too close to the one before for a name."""
    named = [0]
    for row in turns.tolist():
        if designs[row] - designs[named[-1]] >= 0.08 * designs[-1]:
            named.append(row)
    return named
