"""Map of the best first aim over any two variables, from every feasible design."""

from collections.abc import Mapping
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from reports.kit.charts import INK, PAPER, SOFT, Chart, blank, drawing, plain
from reports.kit.quantities import inline_label, quantity
from reports.run.facts import Facts

MOST_CELLS = 30
"""Most cells along an axis; a range of more values has several in a cell."""
PREFERRED = ("speed", "disc_diameter")
"""Axes that the map shows first, across and up, where both vary."""


def map_data(facts: Facts) -> Mapping[str, Any]:
    """Axes with the middles of their cells, and the best first aim in every cell of every pair.

    A grid of axes i and j, i before j, has a row for each cell of j; None where none is feasible.
    """
    axes = {key: _cells(facts, key) for key in facts.spans}
    places = {
        key: np.argmin(np.abs(facts.cloud[key][:, None] - cells), axis=1)
        for key, cells in axes.items()
    }
    keys = list(axes)
    return {
        "start": _start(keys),
        "axes": [
            {
                "key": key,
                "title": COLUMNS[key].title,
                "cells": drawing(key, axes[key]),
                "marks": [drawing(key, np.array([c.values[key]]))[0] for c in facts.candidates],
            }
            for key in keys
        ],
        "letters": [letter for letter, _ in facts.marks],
        "grids": {
            f"{keys.index(across)},{keys.index(up)}": _grid(
                facts, places[across], places[up], (len(axes[up]), len(axes[across]))
            )
            for across, up in combinations(keys, 2)
        },
        "alt": f"Best {inline_label(facts.aims[0].key)} found over",
    }


def map_chart(facts: Facts, data: Mapping[str, Any]) -> Chart:
    """Draw the map that the page shows first."""
    first = facts.aims[0]
    across, up = data["start"]
    figure = blank()
    low, high = sorted((across, up))
    grid = data["grids"][f"{low},{high}"]
    figure.add_heatmap(
        x=data["axes"][across]["cells"],
        y=data["axes"][up]["cells"],
        z=grid if across < up else [list(row) for row in zip(*grid, strict=True)],
        colorscale="Cividis",
        reversescale=not first.maximise,
        hoverongaps=False,
        xgap=1,
        ygap=1,
        hovertemplate="%{z:.4r} at %{x:.4r}, %{y:.4r}<extra></extra>",
        colorbar={
            "title": {"text": COLUMNS[first.key].title, "side": "right", "font": {"size": 13}},
            "thickness": 12,
            "outlinewidth": 0,
            "tickcolor": SOFT,
            "separatethousands": True,
        },
    )
    for place, letter in enumerate(data["letters"]):
        figure.add_annotation(
            x=data["axes"][across]["marks"][place],
            y=data["axes"][up]["marks"][place],
            text=f"<b>{letter}</b>",
            showarrow=False,
            bgcolor=PAPER,
            borderpad=2,
            bordercolor=INK,
            font={"size": 12, "color": INK},
        )
    figure.update_layout(
        xaxis={"title_text": data["axes"][across]["title"], "showgrid": False},
        yaxis={"title_text": data["axes"][up]["title"], "showgrid": False},
        margin={"l": 60, "r": 8, "t": 8, "b": 48},
    )
    names = " and ".join(inline_label(data["axes"][axis]["key"]) for axis in (across, up))
    best = quantity(first.key, float(_best_of(facts.cloud[first.key], maximise=first.maximise)))
    alt = f"{data['alt']} {names}; the best of all is {best}."
    return Chart("map", plain(figure), alt)


def _start(keys: list[str]) -> list[int]:
    wanted = [key for key in PREFERRED if key in keys] + [k for k in keys if k not in PREFERRED]
    return [keys.index(key) for key in wanted[:2]]


def _cells(facts: Facts, key: str) -> NDArray[np.float64]:
    """Middles of the cells of an axis [SI]."""
    listed = facts.study.searched()[key].values
    low, high = facts.spans[key]
    if listed is None:
        edges = np.linspace(low, high, MOST_CELLS + 1)
        return (edges[1:] + edges[:-1]) / 2
    # The same number of values in every cell, or the grid would look uneven.
    values = np.array(listed, dtype=float)
    together = -(-len(values) // MOST_CELLS)
    starts = np.arange(0, len(values), together)
    return np.array([values[start : start + together].mean() for start in starts])


def _grid(
    facts: Facts, across: NDArray[np.int64], up: NDArray[np.int64], shape: tuple[int, int]
) -> list[list[float | None]]:
    first = facts.aims[0]
    sign = 1.0 if first.maximise else -1.0
    best = np.full(shape, -np.inf)
    np.maximum.at(best, (up, across), sign * facts.cloud[first.key])
    shown = COLUMNS[first.key].to_drawing(sign * best)
    return [
        [float(f"{value:.4g}") if np.isfinite(value) else None for value in row]
        for row in shown.tolist()
    ]


def _best_of(values: NDArray[np.float64], *, maximise: bool) -> np.float64:
    return np.float64(values.max() if maximise else values.min())
