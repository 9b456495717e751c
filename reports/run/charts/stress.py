"""Chart of hoop and radial stress in a disc against radius, with yield and peak."""

import numpy as np

from engine.columns import COLUMNS
from reports.kit.charts import (
    BLUE,
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
from reports.kit.quantities import quantity
from reports.run.candidate_wording import stress_text
from reports.run.facts import Candidate
from reports.run.inside import DiscSection

FAR = 2.0
"""Where yield strength is this many times the stress, it is named at the edge, not drawn."""


def stress_chart(letter: str, candidate: Candidate) -> Chart | None:
    """Draw both stresses at operating and trip speed; None where they are unknown."""
    stress = candidate.inside.stress
    if stress is None:
        return None
    figure = blank()
    _add_lines(figure, stress)
    (notched,) = drawing("bore_stress", np.array([stress.notched]))
    (limit,) = drawing("bore_stress", np.array([stress.yield_strength]))
    far = limit > FAR * notched
    top = 1.35 * notched if far else 1.15 * max(limit, notched)
    figure.add_scatter(
        x=drawing("disc_diameter", stress.radius[:1]),
        y=[notched],
        mode="markers",
        marker={"size": 11, "color": INK, "symbol": "diamond"},
        hovertemplate="%{y:.3r} MPa where it peaks<extra>trip speed</extra>",
        showlegend=False,
        cliponaxis=False,
    )
    if not far:
        figure.add_hline(y=limit, line={"color": INK, "width": 1.3, "dash": "dash"})
    _write_names(figure, stress, notched, yields_at=top if far else limit, far=far)
    lowest = min(0.0, *drawing("bore_stress", np.asarray(stress.tripped.hoop)))
    figure.update_layout(
        xaxis={"title_text": "Radius [mm]", "nticks": 5},
        yaxis={
            "title_text": f"Stress [{COLUMNS['bore_stress'].unit.symbol}]",
            "range": [1.1 * lowest, top],
            "nticks": 5,
            "zeroline": lowest < 0,
            "zerolinecolor": SOFT,
        },
        margin={"l": 54, "r": 10, "t": 8, "b": 46},
    )
    return Chart(f"stress-{letter}", plain(figure), f"Candidate {letter}: {stress_text(candidate)}")


def _add_lines(figure: Figure, stress: DiscSection) -> None:
    radius = drawing("disc_diameter", stress.radius)
    for name, colour, speed, values, dash, width in (
        ("radial", BLUE, "operating", stress.running.radial, "dot", 1.5),
        ("hoop", VERMILLION, "operating", stress.running.hoop, "dot", 1.5),
        ("radial", BLUE, "trip", stress.tripped.radial, "solid", 2.2),
        ("hoop", VERMILLION, "trip", stress.tripped.hoop, "solid", 2.2),
    ):
        figure.add_scatter(
            x=radius,
            y=drawing("bore_stress", np.asarray(values)),
            mode="lines",
            line={"color": colour, "width": width, "dash": dash},
            hovertemplate=f"%{{y:.3r}} MPa at radius %{{x:.3r}} mm<extra>{name}, {speed} speed"
            "</extra>",
            showlegend=False,
        )


def _write_names(
    figure: Figure, stress: DiscSection, notched: float, *, yields_at: float, far: bool
) -> None:
    """Name the yield strength, the peak stress, and both stresses at trip speed."""
    radius = drawing("disc_diameter", stress.radius)
    note = {"showarrow": False, "bgcolor": PAPER, "borderpad": 1}
    figure.add_annotation(
        x=radius[-1],
        y=yields_at,
        text=f"yields at {quantity('bore_stress', stress.yield_strength)}{' ↑' if far else ''}",
        xanchor="right",
        yanchor="top" if far else "bottom",
        font={"size": 12, "color": INK},
        **note,
    )
    figure.add_annotation(
        x=radius[0],
        y=notched,
        text="peak",
        xanchor="left",
        xshift=9,
        font={"size": 12, "color": INK},
        **note,
    )
    for name, colour, values in (
        ("hoop", VERMILLION, stress.tripped.hoop),
        ("radial", BLUE, stress.tripped.radial),
    ):
        figure.add_annotation(
            x=radius[-9],
            y=drawing("bore_stress", np.asarray(values))[-9],
            text=name,
            yanchor="bottom",
            font={"size": 12, "color": colour},
            **note,
        )
