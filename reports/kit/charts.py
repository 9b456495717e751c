"""What every chart is made with: colours, an empty figure, plain data. The only home of plotly.

Colours are written once, for light paper; `DARK` says what each becomes on a dark screen, and the
page swaps them there. No chart needs colour alone: shapes and letters say the same.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

import plotly
import plotly.graph_objects as go
from numpy.typing import NDArray

from engine.columns import COLUMNS
from reports.kit.quantities import THIN

INK, SOFT, FAINT, GRID, PAPER = "#1c2430", "#56616e", "#aab2bb", "#e3e6ea", "#ffffff"
BLUE, VERMILLION, GREEN, ORANGE, PURPLE, SKY = (
    "#0072b2",
    "#d55e00",
    "#009e73",
    "#e69f00",
    "#cc79a7",
    "#56b4e9",
)
"""Okabe and Ito 2008, "Color universal design": readers with any colour vision tell them apart."""
DARK = {
    INK: "#e8eaed",
    SOFT: "#a9b2bd",
    FAINT: "#5d6874",
    GRID: "#2c343e",
    PAPER: "#14191f",
    BLUE: "#3a95d6",
    VERMILLION: "#f08040",
    GREEN: "#2cc79a",
    PURPLE: "#c869a0",
    SKY: "#a9dcf7",
}
"""What each colour becomes on a dark screen; others stay."""
AXIS: Mapping[str, Any] = {
    "gridcolor": GRID,
    "zeroline": False,
    "linecolor": SOFT,
    "showline": True,
    "ticks": "outside",
    "ticklen": 4,
    "tickcolor": SOFT,
    "title_standoff": 8,
    "title_font_size": 13,
    "separatethousands": True,
    "exponentformat": "none",
}
"""Style of every axis."""
FONT = "ui-sans-serif, system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

Figure: TypeAlias = go.Figure
"""A chart in the making; named here so that no other module imports plotly."""


@dataclass(frozen=True)
class Chart:
    """A figure with a text for those who cannot see it."""

    name: str
    figure: Mapping[str, Any]
    """Data and layout, ready for JSON."""
    alt: str


def blank() -> Figure:
    """Start a figure in the style of the page."""
    return Figure(
        layout={
            "template": go.layout.Template(),
            "font": {"family": FONT, "size": 13, "color": INK},
            "paper_bgcolor": PAPER,
            "plot_bgcolor": PAPER,
            "xaxis": AXIS,
            "yaxis": AXIS,
            "separators": f".{THIN}",
            "hoverlabel": {
                "bgcolor": PAPER,
                "bordercolor": SOFT,
                "align": "left",
                "font": {"family": FONT, "size": 13, "color": INK},
            },
        }
    )


def drawing(key: str, si: NDArray[Any]) -> list[float]:
    """Convert to drawing units, with no more digits than a chart can show."""
    return [float(f"{value:.5g}") for value in COLUMNS[key].to_drawing(si).tolist()]


def name_upright(
    figure: Any, text: str, *, x: float, y: float, leftward: bool, colour: str = INK
) -> None:
    """Write the name of an upright line beside it; `y` is the share of the chart's height."""
    figure.add_annotation(
        x=x,
        y=y,
        yref="paper",
        yanchor="top",
        text=text,
        showarrow=False,
        xanchor="right" if leftward else "left",
        xshift=-4 if leftward else 4,
        bgcolor=PAPER,
        borderpad=1,
        font={"size": 12, "color": colour},
    )


def plain(figure: Figure) -> Mapping[str, Any]:
    """Turn a figure into numbers, words, lists and None."""
    simple: Mapping[str, Any] = json.loads(figure.to_json(engine="json"))
    return simple


def library() -> str:
    """Read the JavaScript that draws the figures, with its licence notes.

    The addresses of map tiles and cloud services are cut out of it: a page asks no network.
    """
    script = Path(plotly.__file__).parent / "package_data" / "plotly.min.js"
    outside = r"""(?<=["'`])https?://(?!www\.w3\.org/)"""
    return re.sub(outside, "about:blank#", script.read_text("utf-8"))
