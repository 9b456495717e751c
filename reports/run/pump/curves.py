"""Head against flow of the builds shown, with the curve of the system and where each one runs."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.study.pump.supply import Duty
from reports.kit.quantities import quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing, Label
from reports.run.facts import Candidate

Floats = NDArray[np.float64]
LOOKS = ("runs", "metal", "air")
"""Looks of the builds shown, in their order."""


def head_chart(candidates: Sequence[Candidate], duty: Duty, width: float) -> Drawing:
    """Draw head against flow of every build shown."""
    slim = width < 600
    height = 340.0 if slim else 400.0
    drawing = Drawing(width, height, says=_said(candidates, duty), size=12 if slim else 13.5)
    drawn = [each for each in candidates if "flow" in each.curve]
    flows = [_shown("flow", each.curve["flow"]) for each in drawn]
    heads = [_shown("head", each.curve["head"]) for each in drawn]
    most = max((float(np.nanmax(flow)) for flow in flows), default=1.0)
    top = max((float(np.nanmax(head)) for head in heads if np.isfinite(head).any()), default=1.0)
    left, bottom = (44.0, height - 46) if slim else (52.0, height - 50)
    x = Scale(0, most, left, width - 16, "l/min")
    low = min(0.0, duty.static_head or 0.0)
    y = spanning([low, 1.15 * top], bottom, 24, unit="m", zero=low == 0)
    drawing.axes(x, y, across="Flow, l/min", up="Head, m", ticks=(4 if slim else 8, 5))
    labels = []
    if duty.is_system:
        labels.append(_system(drawing, duty, x, y))
    else:
        asked = float(COLUMNS["flow"].to_drawing(duty.flow))
        if x.holds(asked):
            drawing.line((x(asked), 24), (x(asked), bottom), "upright dash")
            labels.append(Label((x(asked), 36), "flow asked for"))
    for place, (each, flow, head) in enumerate(zip(drawn, flows, heads, strict=True)):
        labels += _build(drawing, each, (flow, head), (x, y), LOOKS[place % len(LOOKS)])
    drawing.label(labels)
    return drawing


def _system(drawing: Drawing, duty: Duty, x: Scale, y: Scale) -> Label:
    """Draw what the pipes ask for."""
    flow = np.linspace(x.low, x.high, 60)
    head = np.asarray(duty.system_head(COLUMNS["flow"].to_si(flow)), dtype=float)
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
    look: str,
) -> list[Label]:
    """Draw the curve of one build and where it runs; give their labels."""
    x, y = scales
    flow, head = curve
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
    here = tuple(
        float(COLUMNS[key].to_drawing(float(candidate.values[key]))) for key in ("flow", "head")
    )
    at = (x(here[0]), y(here[1]))
    says = (
        f"{candidate.name} runs at {quantity('flow', candidate.values['flow'])} and "
        f"{quantity('head', candidate.values['head'])}"
    )
    drawing.mark(at, "disc", look, 5.5, says=says)
    words = (
        f"{candidate.name} {quantity('flow', candidate.values['flow'])}, "
        f"{quantity('head', candidate.values['head'])}"
    )
    return [Label(at, words, look, bold=True)]


def _shown(key: str, values: object) -> Floats:
    return np.asarray(COLUMNS[key].to_drawing(np.asarray(values, dtype=float)))


def _said(candidates: Sequence[Candidate], duty: Duty) -> str:
    told = []
    for each in candidates:
        flow, head = (quantity(key, each.values[key]) for key in ("flow", "head"))
        shut = quantity("shutoff_head", each.values["shutoff_head"])
        told.append(f"{each.name} runs at {flow} and {head}; shut it reaches {shut}")
    pipes = " A dashed curve shows what the pipes ask for." if duty.is_system else ""
    return f"Chart of head against flow. {'. '.join(told)}.{pipes}"
