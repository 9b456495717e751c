"""Charts of the candidates: where the power goes, and the power at other speeds."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.columns import COLUMNS
from engine.model.limits import MATCHED
from engine.physics.machine.margins import HIGHEST_RUNAWAY
from reports.kit.charts import (
    BLUE,
    FAINT,
    INK,
    ORANGE,
    SOFT,
    VERMILLION,
    Chart,
    Figure,
    blank,
    drawing,
    name_upright,
    plain,
)
from reports.kit.quantities import number, quantity
from reports.run.facts import Candidate, Facts
from reports.run.search_facts import Table


def loss_chart(letter: str, candidate: Candidate) -> Chart:
    """Draw the losses from isentropic power down to the terminals, a bar a loss."""
    figure = blank()
    steps = _loss_steps(candidate)
    figure.add_bar(
        orientation="h",
        y=[step.label for step in steps],
        base=[100 * step.start for step in steps],
        x=[100 * step.length for step in steps],
        text=[step.text for step in steps],
        textposition="none",
        marker={"color": [step.colour for step in steps], "line": {"width": 0}},
        hovertemplate="%{y}: %{text}<extra></extra>",
        showlegend=False,
    )
    for step in steps:
        figure.add_annotation(
            x=100 * (step.start + step.length),
            y=step.label,
            text=step.text,
            showarrow=False,
            xanchor="left",
            xshift=4,
            font={"size": 12, "color": INK if step.colour == INK else SOFT},
        )
    figure.update_layout(
        xaxis={
            "title_text": "Share of isentropic power [%]",
            "range": [0, 132],
            "tickvals": [0, 25, 50, 75, 100],
        },
        yaxis={"autorange": "reversed", "showgrid": False, "ticks": ""},
        bargap=0.28,
        margin={"l": 118, "r": 8, "t": 4, "b": 46},
    )
    alt = f"Bars for candidate {letter}: " + "; ".join(f"{s.label} {s.text}" for s in steps) + "."
    return Chart(f"losses-{letter}", plain(figure), alt)


@dataclass(frozen=True)
class _Step:
    label: str
    start: float
    length: float
    text: str
    colour: str


MILESTONES = {"loss_windage": "rotor_power", "loss_drive": "shaft_power"}
"""Power left, shown before the first loss of the next part of the machine."""
PARTS = {"loss_windage": VERMILLION, "loss_drive": ORANGE}
"""Colour of the losses from this one on; before the first it is `BLUE`."""


def _loss_steps(candidate: Candidate) -> list[_Step]:
    whole = float(candidate.values["isentropic_power"])
    colour = BLUE
    steps = [_whole_step("isentropic_power", candidate, whole)]
    left = 1.0
    for loss in candidate.losses:
        colour = PARTS.get(loss.key, colour)
        if MILESTONES.get(loss.key) in candidate.values:
            steps.append(_whole_step(MILESTONES[loss.key], candidate, whole))
        text = quantity(loss.key, -loss.watts)
        left -= loss.share
        steps.append(_Step(COLUMNS[loss.key].label, left, loss.share, text, colour))
    steps.append(_whole_step("electric_power", candidate, whole))
    return steps


def _whole_step(key: str, candidate: Candidate, whole: float) -> _Step:
    watts = float(candidate.values[key])
    return _Step(COLUMNS[key].label, 0.0, watts / whole, quantity(key, watts), INK)


def speed_charts(facts: Facts) -> list[Chart]:
    """Draw power against speed for each candidate, all on the same axes."""
    drawn = [(letter, candidate) for letter, candidate in facts.marks if "speed" in candidate.curve]
    if not drawn:
        return []
    ends = [_speed_marks(candidate) for _, candidate in drawn]
    widest = max(
        max(_finite(drawing("speed", c.curve["speed"])) + [m[0] for m in marks])
        for (_, c), marks in zip(drawn, ends, strict=True)
    )
    highest = max(
        max(_finite(drawing(key, c.curve[key])), default=0.0)
        for _, c in drawn
        for key in ("electric_power", "shaft_power")
        if key in c.curve
    )
    return [
        _speed_chart(letter, candidate, 1.04 * widest, 1.4 * highest) for letter, candidate in drawn
    ]


def _speed_marks(candidate: Candidate) -> list[tuple[float, str]]:
    """Find runaway and first failure: speed [rpm] and name."""
    speed = float(COLUMNS["speed"].to_drawing(float(candidate.values["speed"])))
    found = []
    for key, name in (("runaway_ratio", "runaway"), ("safety_margin", "first failure")):
        ratio = float(candidate.values.get(key, np.nan))
        if ratio > 0:
            beyond = key == "runaway_ratio" and ratio >= HIGHEST_RUNAWAY
            found.append((ratio * speed, f"{name} beyond" if beyond else name))
    return found


def _speed_chart(letter: str, candidate: Candidate, widest: float, highest: float) -> Chart:
    figure = blank()
    curve = candidate.curve
    speeds = drawing("speed", curve["speed"])
    _shade_unmatched(figure, curve, speeds)
    looks = {"shaft_power": (SOFT, "dash"), "electric_power": (BLUE, "solid")}
    for key, (colour, dash) in looks.items():
        if key in curve:
            figure.add_scatter(
                x=speeds,
                y=drawing(key, curve[key]),
                mode="lines",
                line={"color": colour, "dash": dash, "width": 2},
                name=COLUMNS[key].label,
                hovertemplate=f"%{{x:,.0f}} rpm: %{{y:.3r}} W<extra>{COLUMNS[key].label}</extra>",
            )
    figure.add_scatter(
        x=drawing("speed", np.array([candidate.values["speed"]])),
        y=drawing("electric_power", np.array([candidate.values["electric_power"]])),
        mode="markers",
        marker={"size": 11, "color": INK, "symbol": "circle"},
        name="as designed",
        hovertemplate="%{x:,.0f} rpm: %{y:.3r} W<extra>as designed</extra>",
    )
    _mark_best(figure, curve, speeds)
    for place, (speed, name) in enumerate(sorted(_speed_marks(candidate))):
        _mark_speed(figure, speed, name, left=place == 0, near_end=speed > 0.77 * widest)
    figure.update_layout(
        xaxis={
            "title_text": COLUMNS["speed"].title,
            "range": [0, widest],
            "nticks": 4,
            "tickformat": ",d",
        },
        yaxis={
            "title_text": f"Power [{COLUMNS['electric_power'].unit.symbol}]",
            "range": [0, highest],
        },
        showlegend=False,
        margin={"l": 58, "r": 10, "t": 8, "b": 48},
    )
    marks = "; ".join(f"{name} at {number(rpm)} rpm" for rpm, name in _speed_marks(candidate))
    alt = (
        f"Power of candidate {letter} against speed; designed for "
        f"{quantity('electric_power', candidate.values['electric_power'])} at "
        f"{quantity('speed', candidate.values['speed'])}; {marks}."
    )
    return Chart(f"speed-{letter}", plain(figure), alt)


def _mark_best(figure: Figure, curve: Table, speeds: Sequence[float]) -> None:
    """Ring the point of most electric power."""
    power = np.asarray(curve.get("electric_power", ()), dtype=float)
    if np.isfinite(power).any():
        best = int(np.nanargmax(power))
        figure.add_scatter(
            x=[speeds[best]],
            y=drawing("electric_power", power[best : best + 1]),
            mode="markers",
            marker={"size": 11, "color": INK, "symbol": "circle-open", "line": {"width": 2}},
            hovertemplate="%{x:,.0f} rpm: %{y:.3r} W<extra>most power</extra>",
        )


def _mark_speed(figure: Figure, speed: float, name: str, *, left: bool, near_end: bool) -> None:
    """Draw a line at a speed, with its name above the curves and away from the other line."""
    colour = VERMILLION if name == "first failure" else INK
    outward = left or near_end
    figure.add_vline(x=speed, line={"color": colour, "width": 1.5, "dash": "dot"})
    name_upright(
        figure, name, x=speed, y=0.88 if near_end else 1.0, leftward=outward, colour=colour
    )


def _shade_unmatched(figure: Figure, curve: Table, speeds: Sequence[float]) -> None:
    """Shade the speeds that have no operating point."""
    if "status" not in curve:
        return
    bad = np.asarray(curve["status"] != MATCHED)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], bad, [False]]).astype(int)))
    for start, stop in edges.reshape(-1, 2).tolist():
        figure.add_vrect(
            x0=speeds[max(0, start - 1)],
            x1=speeds[min(len(speeds) - 1, stop)],
            fillcolor=FAINT,
            opacity=0.3,
            line_width=0,
        )


def _finite(values: list[float]) -> list[float]:
    return [value for value in values if np.isfinite(value)]
