"""Head against flow of the builds shown, with the curve of the system and where each one runs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.study.pump.supply import Duty
from reports.kit.quantities import quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing, Label
from reports.run.facts import Candidate
from reports.run.pump.blower_wording import pascals

Floats = NDArray[np.float64]
LOOKS = ("runs", "metal", "air")
"""Looks of the builds shown, in their order."""


@dataclass(frozen=True)
class Upright:
    """What stands upright in the chart: head, or the pressure of a gas."""

    title: str
    unit: str
    factor: float
    """Shown over metres of head."""

    @classmethod
    def of(cls, weight: float | None) -> "Upright":
        """Show metres of a liquid, pascals of a gas of this weight [N/m3]."""
        if weight is None:
            return cls("Head", "m", 1.0)
        return cls("Pressure", "Pa", weight)

    def text(self, head: float) -> str:
        """Write a head [m]."""
        return quantity("head", head) if self.unit == "m" else pascals(head * self.factor)


def head_chart(
    candidates: Sequence[Candidate], duty: Duty, weight: float | None, width: float
) -> Drawing:
    """Draw head, or pressure of a gas of this weight [N/m3], against flow of every build shown."""
    up = Upright.of(weight)
    slim = width < 600
    height = 340.0 if slim else 400.0
    drawing = Drawing(width, height, says=_said(candidates, duty, up), size=12 if slim else 13.5)
    drawn = [each for each in candidates if "flow" in each.curve]
    flows = [_shown("flow", each.curve["flow"]) for each in drawn]
    heads = [up.factor * _shown("head", each.curve["head"]) for each in drawn]
    most = max((float(np.nanmax(flow)) for flow in flows), default=1.0)
    top = max((float(np.nanmax(head)) for head in heads if np.isfinite(head).any()), default=1.0)
    left, bottom = (44.0, height - 46) if slim else (52.0, height - 50)
    x = Scale(0, most, left, width - 16, "l/min")
    low = up.factor * min(0.0, duty.static_head or 0.0)
    y = spanning([low, 1.15 * top], bottom, 24, unit=up.unit, zero=low == 0)
    drawing.axes(
        x, y, across="Flow, l/min", up=f"{up.title}, {up.unit}", ticks=(4 if slim else 8, 5)
    )
    labels = []
    if duty.is_system:
        labels.append(_system(drawing, duty, up, x, y))
    else:
        asked = float(COLUMNS["flow"].to_drawing(duty.flow))
        if x.holds(asked):
            drawing.line((x(asked), 24), (x(asked), bottom), "upright dash")
            labels.append(Label((x(asked), 36), "flow asked for"))
    for place, (each, flow, head) in enumerate(zip(drawn, flows, heads, strict=True)):
        look = (LOOKS[place % len(LOOKS)], up)
        labels += _build(drawing, each, (flow, head), (x, y), look)
    drawing.label(labels)
    return drawing


def _system(drawing: Drawing, duty: Duty, up: Upright, x: Scale, y: Scale) -> Label:
    """Draw what the pipes ask for."""
    flow = np.linspace(x.low, x.high, 60)
    head = up.factor * np.asarray(duty.system_head(COLUMNS["flow"].to_si(flow)), dtype=float)
    points = [(x(q), y(h) if y.holds(h) else math.nan) for q, h in zip(flow, head, strict=True)]
    drawing.curve(points, "soft dash", "what the pipes ask for")
    drawing.shun(points, 3)
    known = [point for point in points if math.isfinite(point[1])]
    return Label(known[len(known) // 3], "pipes")


def _build(
    drawing: Drawing,
    candidate: Candidate,
    curve: tuple[Floats, Floats],
    scales: tuple[Scale, Scale],
    looks: tuple[str, Upright],
) -> list[Label]:
    """Draw the curve of one build and where it runs; give their labels."""
    x, y = scales
    flow, head = curve
    look, up = looks
    points = [
        (x(q), y(h) if math.isfinite(h) and y.holds(h) else math.nan)
        for q, h in zip(flow, head, strict=True)
    ]
    back = np.asarray(candidate.curve.get("backflow_share", np.zeros(len(flow))), dtype=float) > 0
    sure = [(a, math.nan) if bad else (a, b) for (a, b), bad in zip(points, back, strict=True)]
    with drawing.within("build", of=candidate.design):
        drawing.curve(points, f"{look} dot", f"{candidate.name}, some flow turns back")
        drawing.curve(sure, look, candidate.name)
    drawing.shun(points, 3)
    values = candidate.values
    at = (x(float(_shown("flow", values["flow"]))), y(up.factor * float(values["head"])))
    runs, high = quantity("flow", values["flow"]), up.text(float(values["head"]))
    drawing.mark(at, "disc", look, 5.5, says=f"{candidate.name} runs at {runs} and {high}")
    words = f"{candidate.name} {runs}, {high}"
    return [Label(at, words, look, bold=True)]


def _shown(key: str, values: object) -> Floats:
    return np.asarray(COLUMNS[key].to_drawing(np.asarray(values, dtype=float)))


def _said(candidates: Sequence[Candidate], duty: Duty, up: Upright) -> str:
    told = []
    for each in candidates:
        high, shut = (up.text(float(each.values[key])) for key in ("head", "shutoff_head"))
        flow = quantity("flow", each.values["flow"])
        told.append(f"{each.name} runs at {flow} and {high}; shut it reaches {shut}")
    pipes = " A dashed curve shows what the pipes ask for." if duty.is_system else ""
    return f"Chart of {up.title.lower()} against flow. {'. '.join(told)}.{pipes}"
