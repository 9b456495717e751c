"""Inside one gap: the path of a particle, velocity across the gap, pressure and swirl along it."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.physics.gap.profiles import GapProfiles
from reports.kit.quantities import count, quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing, Label
from reports.run.candidate_wording import path_of
from reports.run.facts import Candidate

STATIONS = (0.05, 1 / 3, 2 / 3, 1.0)
"""Radii at which profiles are drawn, as shares of the way from rim to bore."""
LOOKS = ("ink", "air dash", "metal", "soft dot")
"""Look of those profiles."""
ARC_STEP = np.pi / 36
"""Angle of the pieces of which a path is drawn [rad]."""
WIDTH, HEIGHT = 400.0, 320.0
LEFT, RIGHT = 46.0, 392.0

Floats = NDArray[np.float64]
Known = Sequence[tuple[Candidate, GapProfiles]]


def gap_charts(candidates: Sequence[Candidate]) -> Mapping[str, tuple[Drawing, ...]]:
    """Draw path, profiles and radius of each build whose gap flow is known, on equal scales.

    Three drawings for each of its stages.
    """
    known = [(each, gap) for each in candidates for _, gap in each.inside.gaps]
    widest = max((float(gap.radius[0]) for _, gap in known), default=0.0)
    return {
        each.roles[0]: tuple(
            drawn
            for _, gap in each.inside.gaps
            for drawn in (
                _path_chart(each, gap, widest),
                _profile_chart(each, gap, known),
                _radius_chart(each, gap, known),
            )
        )
        for each in candidates
        if each.inside.gaps
    }


def _path_chart(candidate: Candidate, gap: GapProfiles, widest: float) -> Drawing:
    says = f"{candidate.name}: path of a particle through a gap. {path_of(gap)}"
    drawing = Drawing(WIDTH, HEIGHT, says=says)
    middle, scale = (WIDTH / 2, HEIGHT / 2), 0.44 * HEIGHT / widest
    rim, bore = float(gap.radius[0]), float(gap.radius[-1])
    drawing.circle(middle, rim * scale, "disc")
    drawing.circle(middle, bore * scale, "paper")
    whole = float(gap.path_angle[-1])
    angle = np.linspace(0.0, whole, max(8, math.ceil(abs(whole) / ARC_STEP)))
    radius = np.interp(angle, gap.path_angle, gap.radius)

    def at(r: float, turn: float) -> tuple[float, float]:
        return middle[0] - r * scale * math.sin(turn), middle[1] - r * scale * math.cos(turn)

    points = [at(r, a) for r, a in zip(radius.tolist(), angle.tolist(), strict=True)]
    drawing.curve(points, "air")
    _head(drawing, points, "air")
    drawing.mark(points[0], "disc", "air", 4, says="enters at the rim")
    turning = [at(1.08 * rim, turn) for turn in np.linspace(0.12, 0.3, 20) * math.pi]
    drawing.curve(turning, "ink fine")
    _head(drawing, turning, "ink")
    return drawing


def _head(drawing: Drawing, points: Sequence[tuple[float, float]], look: str) -> None:
    (x0, y0), (x1, y1) = points[-2:]
    way = math.atan2(y0 - y1, x0 - x1)
    sides = [(x1 + 10 * math.cos(way + s), y1 + 10 * math.sin(way + s)) for s in (-0.33, 0.33)]
    drawing.area([(x1, y1), *sides], f"full {look}")


def _profiles(candidate: Candidate, gap: GapProfiles) -> tuple[list[int], Floats, Floats]:
    """Stations, and inflow and swirl past the disc there."""
    swirl = gap.swirl - float(candidate.values["speed"]) * gap.radius[:, None]
    way = (gap.radius[0] - gap.radius) / (gap.radius[0] - gap.radius[-1])
    stations = [int(np.argmin(np.abs(way - share))) for share in STATIONS]
    return stations, gap.inflow[stations], swirl[stations]


def _profile_chart(candidate: Candidate, gap: GapProfiles, known: Known) -> Drawing:
    """Draw inflow and swirl against the discs across the gap, at several radii."""
    every = [_profiles(each, of) for each, of in known]
    stations, inflow, swirl = _profiles(candidate, gap)
    height = gap.height * 1e3
    fastest = quantity("rim_speed", float(np.abs(swirl).max()))
    says = (
        f"{candidate.name}: velocity across a gap at four radii from rim to bore: inflow up to "
        f"{quantity('rim_speed', float(inflow.max()))}, swirl up to {fastest} past the discs; both "
        "are zero at the discs."
    )
    drawing = Drawing(WIDTH, HEIGHT, says=says)
    top, bottom = 46.0, HEIGHT - 56
    widest = max(float(of.height[-1]) for _, of in known) * 1e3
    y = Scale(-0.09 * widest, 1.09 * widest, bottom, top, "mm")
    inflows = [value for _, values, _ in every for value in values.ravel().tolist()]
    swirls = [value for *_, values in every for value in values.ravel().tolist()]
    panels = (
        ("in, m/s", spanning(inflows, LEFT, 205, unit="m/s", zero=True), inflow),
        ("swirl past disc, m/s", spanning(swirls, 229, RIGHT, unit="m/s", zero=True), swirl),
    )
    for place, (title, x, values) in enumerate(panels):
        for low, high in ((-0.09 * widest, 0.0), (height[-1], height[-1] + 0.09 * widest)):
            drawing.box((x.start, y(high)), (x.end - x.start, y(low) - y(high)), "metal")
        drawing.axes(x, y, across=title, up=None if place else "Across the gap, mm", ticks=(3, 4))
        for station, look, line in zip(stations, LOOKS, values, strict=True):
            name = f"at radius {count(float(gap.radius[station]) * 1e3)} mm"
            points = [(x(v), y(h)) for v, h in zip(line.tolist(), height.tolist(), strict=True)]
            drawing.curve(points, look, name)
    drawing.data.pop("x"), drawing.data.pop("y")
    for place, (station, look) in enumerate(zip(stations, LOOKS, strict=True)):
        x0 = 130 + 68 * place
        drawing.line((x0, 24), (x0 + 18, 24), f"curve {look}")
        words = f"{count(float(gap.radius[station]) * 1e3)}{' mm' if place == 3 else ''}"
        drawing.text((x0 + 23, 28), words, "soft", size=12)
    drawing.text((LEFT, 28), "at radius", "soft", size=12)
    return drawing


def _radius_chart(candidate: Candidate, gap: GapProfiles, known: Known) -> Drawing:
    """Draw pressure above, and swirl of fluid and disc below, along the radius."""
    ends = [quantity("rim_pressure", float(gap.pressure[end])) for end in (0, -1)]
    turns = [quantity("rim_speed", float(gap.mean_swirl[end])) for end in (0, -1)]
    says = (
        f"{candidate.name}: along the radius of a gap, from rim to bore: pressure from {ends[0]} "
        f"to {ends[1]}, swirl from {turns[0]} to {turns[1]}."
    )
    drawing = Drawing(WIDTH, HEIGHT, says=says)
    x = spanning(
        [float(end) * 1e3 for _, of in known for end in of.radius[[0, -1]]], LEFT, RIGHT - 30,
        unit="mm", room=0.0,
    )  # fmt: skip
    bars = [of.pressure / 1e5 for _, of in known]
    discs = [float(each.values["speed"]) * of.radius for each, of in known]
    upper = spanning(np.concatenate(bars).tolist(), 138, 30, unit="bar")
    swirls = [*discs, *(of.mean_swirl for _, of in known)]
    lower = spanning(np.concatenate(swirls).tolist(), 264, 176, unit="m/s", zero=True)
    radius = gap.radius * 1e3
    disc = float(candidate.values["speed"]) * gap.radius
    for y, title, lines in (
        (upper, "Pressure, bar", (("pressure", gap.pressure / 1e5, "air"),)),
        (lower, "", (("fluid", gap.mean_swirl, "air"), ("disc", disc, "metal dash"))),
    ):
        drawing.axes(x, y, across="radius, mm" if y is lower else None, up=title, ticks=(5, 3))
        for name, values, look in lines:
            points = [(x(r), y(v)) for r, v in zip(radius.tolist(), values.tolist(), strict=True)]
            drawing.curve(points, look, "" if y is upper else name)
            if y is lower:
                drawing.label([Label(points[0], name, look.split()[0])])
    drawing.text((0, 166), "Swirl, m/s", "soft")
    return drawing
