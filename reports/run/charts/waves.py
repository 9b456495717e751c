"""Chart of the waves that run around a disc, and the speed at which one stands still."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from reports.kit.charts import (
    BLUE,
    FAINT,
    INK,
    PAPER,
    VERMILLION,
    Chart,
    Figure,
    blank,
    drawing,
    name_upright,
    plain,
)
from reports.kit.quantities import number, quantity
from reports.run.candidate_wording import wave_text
from reports.run.facts import Candidate

MOST_DRAWN = 6
"""Waves of up to this many nodal diameters are drawn; the governing wave always is."""


def wave_chart(letter: str, candidate: Candidate) -> Chart | None:
    """Draw wave frequencies seen from the casing against speed; None where they are unknown."""
    waves = candidate.inside.waves
    if waves is None:
        return None
    figure = blank()
    stands = _standing(candidate)
    low = range(min(MOST_DRAWN + 1, waves.forward.shape[1]))
    known = np.flatnonzero(np.isfinite(waves.forward).all(axis=0))
    drawn = [n for n in sorted({*low, *stands}) if n in known]
    if not drawn:
        return None
    rpm = drawing("speed", waves.speed)
    for nodal in drawn:
        name = f"{nodal} nodal diameters"
        looks = {"color": FAINT, "width": 1.3, "dash": "dot"}
        _add_wave(figure, rpm, waves.forward[:, nodal], f"forward, {name}", looks)
        governs = nodal in stands
        looks = {"color": VERMILLION if governs else BLUE, "width": 2.5 if governs else 1.3}
        _add_wave(figure, rpm, waves.backward[:, nodal], f"backward, {name}", looks)
    top = 1.1 * float(waves.backward[:, drawn].max()) / (2 * math.pi)
    _mark_speeds(figure, candidate, rpm[-1])
    if stands:
        _mark_standing(figure, candidate, top)
    figure.update_layout(
        xaxis={
            "title_text": COLUMNS["speed"].title,
            "range": [0, rpm[-1]],
            "nticks": 4,
            "tickformat": ",d",
        },
        yaxis={"title_text": "Frequency [Hz]", "range": [0, top], "nticks": 5},
        showlegend=False,
        margin={"l": 62, "r": 10, "t": 8, "b": 48},
    )
    return Chart(f"waves-{letter}", plain(figure), _alt(letter, candidate))


def _standing(candidate: Candidate) -> list[int]:
    """Find the nodal diameters of the wave that stands still first; empty where none does."""
    speed = float(candidate.values.get("wave_speed", math.nan))
    nodal = float(candidate.values.get("wave_nodal_diameters", math.nan))
    return [round(nodal)] if math.isfinite(speed) and math.isfinite(nodal) else []


def _add_wave(
    figure: Figure,
    rpm: list[float],
    frequency: NDArray[np.float64],
    name: str,
    looks: Mapping[str, Any],
) -> None:
    hertz = np.where(frequency >= 0, frequency, np.nan) / (2 * math.pi)
    figure.add_scatter(
        x=rpm,
        y=[None if math.isnan(value) else float(f"{value:.5g}") for value in hertz.tolist()],
        mode="lines",
        line=looks,
        hovertemplate=f"%{{y:,.0f}} Hz at %{{x:,.0f}} rpm<extra>{name}</extra>",
    )


def _mark_speeds(figure: Figure, candidate: Candidate, widest: float) -> None:
    """Draw lines at operating speed and runaway; one beyond the axis is named at its end."""
    speed = float(candidate.values["speed"])
    ratio = float(candidate.values.get("runaway_ratio", math.nan))
    marks = [("as designed", speed, "solid")]
    if ratio > 0:
        marks.append(("runaway", ratio * speed, "dash"))
    for name, mark, dash in marks:
        (rpm,) = drawing("speed", np.array([mark]))
        beyond = rpm > widest
        if not beyond:
            figure.add_vline(x=rpm, line={"color": INK, "width": 1.3, "dash": dash})
        least = "≥ " if ratio >= HIGHEST_RUNAWAY else ""
        right = beyond or rpm > 0.75 * widest
        name_upright(
            figure,
            f"{name} {least}{number(rpm)} →" if beyond else name,
            x=widest if beyond else rpm,
            y=1.0 if name == "as designed" else 0.9,
            leftward=right,
        )


def _mark_standing(figure: Figure, candidate: Candidate, top: float) -> None:
    """Mark where the governing wave reaches zero."""
    (rpm,) = drawing("speed", np.array([candidate.values["wave_speed"]]))
    figure.add_scatter(
        x=[rpm],
        y=[0.012 * top],
        mode="markers",
        marker={"size": 11, "color": VERMILLION, "symbol": "diamond"},
        hovertemplate="stands still at %{x:,.0f} rpm<extra></extra>",
        cliponaxis=False,
    )
    figure.add_annotation(
        x=rpm,
        y=0.012 * top,
        ax=0.62 * rpm,
        ay=0.05 * top,
        axref="x",
        ayref="y",
        xanchor="right",
        text="stands still",
        arrowcolor=VERMILLION,
        arrowwidth=1.2,
        arrowhead=0,
        standoff=7,
        bgcolor=PAPER,
        borderpad=1,
        font={"size": 12, "color": VERMILLION},
    )


def _alt(letter: str, candidate: Candidate) -> str:
    designed = quantity("speed", candidate.values["speed"])
    return (
        f"Frequencies of the waves in a disc of candidate {letter} against speed; designed for "
        f"{designed}. {wave_text(candidate)}"
    )
