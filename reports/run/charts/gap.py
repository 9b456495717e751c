"""Charts of the flow in one gap: path of a particle, velocity profiles, pressure and swirl."""

import itertools
import math

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.physics.gap.profiles import GapProfiles
from reports.kit.charts import (
    AXIS,
    BLUE,
    FAINT,
    GREEN,
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
from reports.kit.quantities import count, quantity
from reports.run.candidate_wording import path_text
from reports.run.facts import Candidate

STATIONS = (0.05, 1 / 3, 2 / 3, 1.0)
"""Radii at which profiles are drawn, as shares of the way from rim to bore."""
LOOKS = ((INK, "solid"), (BLUE, "dash"), (VERMILLION, "dot"), (GREEN, "dashdot"))
"""Colour and dash of those profiles."""
ARC_STEP = np.pi / 36
"""Angle of the pieces of which a path is drawn [rad]."""


def gap_charts(letter: str, candidate: Candidate) -> list[Chart]:
    """Draw every chart of a candidate's gap; none where its flow is unknown."""
    gap = candidate.inside.gap
    if gap is None:
        return []
    spin = float(candidate.values["speed"])
    return [
        _path_chart(letter, candidate, gap),
        _profile_chart(letter, gap, spin),
        _radius_chart(letter, gap, spin),
    ]


def _path_chart(letter: str, candidate: Candidate, gap: GapProfiles) -> Chart:
    """Draw the path from rim to bore, seen along the shaft."""
    figure = blank()
    rim, bore = gap.radius[0], gap.radius[-1]
    whole = float(gap.path_angle[-1])
    angle = np.linspace(0.0, whole, max(8, math.ceil(abs(whole) / ARC_STEP)))
    radius = np.interp(angle, gap.path_angle, gap.radius)
    for edge, fill in ((rim, GRID), (bore, PAPER)):
        (reach,) = _millimetres(np.array([edge]))
        figure.add_shape(
            type="circle",
            x0=-reach,
            x1=reach,
            y0=-reach,
            y1=reach,
            fillcolor=fill,
            line={"color": SOFT, "width": 1},
            layer="below",
        )
    x, y = _around(radius, angle)
    figure.add_scatter(
        x=x,
        y=y,
        mode="lines",
        line={"color": BLUE, "width": 2},
        hovertext=[quantity("gap", r).replace("mm", "mm from the axis") for r in radius.tolist()],
        hovertemplate="%{hovertext}<extra></extra>",
        showlegend=False,
    )
    _arrow(figure, x, y, BLUE)
    figure.add_scatter(
        x=x[:1],
        y=y[:1],
        mode="markers",
        marker={"size": 9, "color": BLUE},
        hoverinfo="skip",
        showlegend=False,
    )
    turning = np.linspace(0.12 * np.pi, 0.3 * np.pi, 20)
    arc_x, arc_y = _around(np.full(20, 1.08 * rim), turning)
    figure.add_scatter(
        x=arc_x, y=arc_y, mode="lines", line={"color": INK}, hoverinfo="skip", showlegend=False
    )
    _arrow(figure, arc_x, arc_y, INK)
    hidden = {"visible": False, "range": _millimetres(1.14 * rim * np.array([-1, 1]))}
    figure.update_layout(
        xaxis=hidden,
        yaxis={**hidden, "scaleanchor": "x"},
        margin={"l": 4, "r": 4, "t": 4, "b": 4},
    )
    figure.update_xaxes(constrain="domain")
    figure.update_yaxes(constrain="domain")
    alt = f"Path of a particle through a gap of candidate {letter}: {path_text(candidate)}"
    return Chart(f"path-{letter}", plain(figure), alt)


def _around(radius: NDArray[np.float64], angle: NDArray[np.float64]) -> list[list[float]]:
    """Coordinates of points, counted from the top, counterclockwise."""
    return [_millimetres(-radius * np.sin(angle)), _millimetres(radius * np.cos(angle))]


def _arrow(figure: Figure, x: list[float], y: list[float], colour: str) -> None:
    """Put an arrowhead on the end of a line."""
    figure.add_annotation(
        x=x[-1],
        y=y[-1],
        ax=x[-4],
        ay=y[-4],
        axref="x",
        ayref="y",
        text="",
        arrowhead=2,
        arrowsize=1.4,
        arrowwidth=1.5,
        arrowcolor=colour,
    )


def _profile_chart(letter: str, gap: GapProfiles, spin: float) -> Chart:
    """Draw inflow and swirl against the discs across the gap, at several radii."""
    figure = blank()
    swirl = gap.swirl - spin * gap.radius[:, None]
    way = (gap.radius[0] - gap.radius) / (gap.radius[0] - gap.radius[-1])
    stations = [int(np.argmin(np.abs(way - share))) for share in STATIONS]
    height = drawing("gap", gap.height)
    for station, (colour, dash) in zip(stations, LOOKS, strict=True):
        name = count(_millimetres(gap.radius[station : station + 1])[0])
        for axis, values in (("x", gap.inflow[station]), ("x2", swirl[station])):
            figure.add_scatter(
                x=[float(f"{value:.4g}") for value in values.tolist()],
                y=height,
                xaxis=axis,
                mode="lines",
                line={"color": colour, "dash": dash, "width": 2, "shape": "spline"},
                name=name,
                legendgroup=str(station),
                showlegend=axis == "x",
                hovertemplate=f"%{{x:.3r}} m/s at %{{y:.2f}} mm<extra>radius {name} mm</extra>",
            )
    _draw_discs(figure, height[-1])
    zero = {"zeroline": True, "zerolinecolor": FAINT, "nticks": 4}
    figure.update_layout(
        xaxis={
            **zero,
            "domain": [0, 0.46],
            "title_text": "Inflow [m/s]",
            "range": _reach(gap.inflow[stations]),
        },
        xaxis2={
            **AXIS,
            **zero,
            "domain": [0.54, 1],
            "title_text": "Swirl past disc [m/s]",
            "range": _reach(swirl[stations]),
        },
        yaxis={
            "title_text": "Across the gap [mm]",
            "range": [-0.1 * height[-1], 1.1 * height[-1]],
            "nticks": 4,
            "showgrid": False,
        },
        legend={
            "title": {"text": "At radius [mm]", "font": {"size": 12}, "side": "top"},
            "orientation": "h",
            "x": 0,
            "y": 1.02,
            "yanchor": "bottom",
            "font": {"size": 12},
        },
        margin={"l": 48, "r": 6, "t": 44, "b": 46},
    )
    fastest = quantity("rim_speed", float(np.abs(swirl).max()))
    alt = (
        f"Velocity across a gap of candidate {letter} at four radii from rim to bore: inflow up "
        f"to {quantity('rim_speed', float(gap.inflow.max()))}, and swirl up to {fastest} past "
        "the discs, both zero at the discs."
    )
    return Chart(f"profiles-{letter}", plain(figure), alt)


def _reach(values: NDArray[np.float64]) -> list[float]:
    """Find the range of an axis that shows these values and zero."""
    low, high = min(0.0, float(values.min())), max(0.0, float(values.max()))
    room = 0.06 * (high - low)
    return [low - room if low < 0 else 0.0, high + room]


def _draw_discs(figure: Figure, width: float) -> None:
    """Draw the two discs as bands below and above the gap."""
    sides = ((-0.1, 0.0), (1.0, 1.1))
    for axis, (low, high) in itertools.product(("x", "x2"), sides):
        figure.add_shape(
            type="rect",
            xref=f"{axis} domain",
            x0=0,
            x1=1,
            y0=low * width,
            y1=high * width,
            fillcolor=FAINT,
            line_width=0,
            layer="below",
        )


def _radius_chart(letter: str, gap: GapProfiles, spin: float) -> Chart:
    """Draw pressure above, and swirl of gas and discs below, along the radius."""
    figure = blank()
    radius = _millimetres(gap.radius)
    disc = spin * gap.radius
    lines = (
        ("pressure", "y", drawing("rim_pressure", gap.pressure), BLUE, "solid"),
        ("gas", "y2", drawing("rim_speed", gap.mean_swirl), BLUE, "solid"),
        ("disc", "y2", drawing("rim_speed", disc), SOFT, "dash"),
    )
    for name, axis, values, colour, dash in lines:
        unit = "bar" if axis == "y" else "m/s"
        figure.add_scatter(
            x=radius,
            y=values,
            yaxis=axis,
            mode="lines",
            line={"color": colour, "dash": dash, "width": 2},
            hovertemplate=f"%{{y:.4r}} {unit} at %{{x:.3r}} mm<extra>{name}</extra>",
            showlegend=False,
        )
    _name_swirls(figure, radius[0], float(gap.mean_swirl[0]), float(disc[0]))
    figure.update_layout(
        xaxis={"title_text": "Radius [mm]", "anchor": "y2", "nticks": 6},
        yaxis={"title_text": COLUMNS["rim_pressure"].unit.symbol, "domain": [0.56, 1], "nticks": 5},
        yaxis2={
            **AXIS,
            "title_text": COLUMNS["rim_speed"].unit.symbol,
            "domain": [0, 0.44],
            "nticks": 4,
            "rangemode": "tozero",
        },
        margin={"l": 54, "r": 36, "t": 6, "b": 46},
    )
    _title_halves(figure)
    ends = [quantity("rim_pressure", float(gap.pressure[end])) for end in (0, -1)]
    turns = [quantity("rim_speed", float(gap.mean_swirl[end])) for end in (0, -1)]
    alt = (
        f"Along the radius of a gap of candidate {letter}, from rim to bore: pressure from "
        f"{ends[0]} to {ends[1]}, swirl from {turns[0]} to {turns[1]}."
    )
    return Chart(f"radius-{letter}", plain(figure), alt)


def _name_swirls(figure: Figure, rim: float, gas: float, disc: float) -> None:
    """Name the lines of gas and disc at the rim, the upper one above its line."""
    for name, swirl, colour, above in (
        ("gas", gas, BLUE, gas > disc),
        ("disc", disc, SOFT, gas <= disc),
    ):
        figure.add_annotation(
            x=rim,
            y=swirl,
            yref="y2",
            text=name,
            showarrow=False,
            xanchor="left",
            xshift=3,
            yshift=5 if above else -5,
            font={"size": 12, "color": colour},
        )


def _title_halves(figure: Figure) -> None:
    for title, top in (("Pressure", 1.0), ("Swirl", 0.44)):
        figure.add_annotation(
            x=0.01,
            xref="paper",
            y=top,
            yref="paper",
            yanchor="top",
            xanchor="left",
            text=f"<b>{title}</b>",
            showarrow=False,
            bgcolor=PAPER,
            font={"size": 12},
        )


def _millimetres(length: NDArray[np.float64]) -> list[float]:
    return drawing("disc_diameter", length)
