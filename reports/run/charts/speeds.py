"""What a build does at other speeds: its power, the stress in a disc, the waves in it."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.limits import MATCHED
from reports.kit.quantities import count, number, quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing, Label
from reports.run.candidate_wording import stress_text, wave_text
from reports.run.charts.ruler import Speeds, ruler_end, speeds_of
from reports.run.facts import Candidate
from reports.run.inside import DiscSection

WIDTH, HEIGHT = 400.0, 290.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 392.0, 30.0, 240.0
MOST_WAVES = 6
"""Waves of up to this many nodal diameters are drawn; the governing wave always is."""
FAR = 2.0
"""Where yield strength is this many times the stress, it is named at the edge, not drawn."""

Floats = NDArray[np.float64]


def speed_charts(candidates: Sequence[Candidate]) -> Mapping[str, Drawing]:
    """Draw power against speed for each build that has a curve, all on the same scales."""
    drawn = [each for each in candidates if "speed" in each.curve]
    if not drawn:
        return {}
    end = ruler_end([speeds_of(each.values) for each in drawn])
    x = Scale(0, end, LEFT, RIGHT, "rpm")
    powers = [
        _shown("electric_power", each.curve[key])
        for each in drawn
        for key in ("electric_power", "shaft_power")
        if key in each.curve
    ]
    highest = max((float(np.nanmax(p)) for p in powers if np.isfinite(p).any()), default=1.0)
    y = Scale(0, 1.12 * max(highest, 1e-9), BOTTOM, TOP, "W")
    return {each.roles[0]: _speed_chart(each, x, y) for each in drawn}


def _speed_chart(candidate: Candidate, x: Scale, y: Scale) -> Drawing:
    curve, speeds = candidate.curve, speeds_of(candidate.values)
    power = quantity("electric_power", candidate.values["electric_power"])
    says = (
        f"{candidate.name}: power against speed; {power} at {count(speeds.running)} rpm"
        f"{_marks_said(speeds)}."
    )
    drawing = Drawing(WIDTH, HEIGHT, says=says)
    rpm = _shown("speed", curve["speed"])
    if "status" in curve:
        for start, stop in _spans(np.asarray(curve["status"] != MATCHED)):
            left, right = (x(min(rpm[place], x.high)) for place in (start, stop))
            drawing.box((left, TOP), (max(0.0, right - left), BOTTOM - TOP), "no-flow")
    drawing.axes(x, y, across="rpm", up="Power, W", ticks=(4, 5))
    for key, look in (("shaft_power", "soft dash"), ("electric_power", "runs")):
        if key in curve:
            values = _shown(key, curve[key])
            inside = (rpm <= x.high) & (values >= 0)
            points = [
                (x(s), y(p) if ok else math.nan)
                for s, p, ok in zip(rpm, values, inside, strict=True)
            ]
            drawing.curve(points, look, COLUMNS[key].label)
            drawing.shun(points, 3)
    _mark_speeds(drawing, x, speeds, at_top=TOP)
    at = (x(speeds.running), y(_one("electric_power", candidate.values["electric_power"])))
    drawing.mark(at, "disc", "runs", 5, says=f"runs: {power} at {count(speeds.running)} rpm")
    return drawing


def _mark_speeds(drawing: Drawing, x: Scale, speeds: Speeds, *, at_top: float) -> None:
    """Draw upright lines at first failure and runaway, with their names beside them."""
    labels = []
    for name, speed, look in (
        ("first failure", speeds.failure, "fails"),
        ("runaway", speeds.runaway, ""),
    ):
        if x.holds(speed):
            dash = "" if look else " dash"
            drawing.line((x(speed), at_top), (x(speed), BOTTOM), f"upright {look}{dash}")
            drawing.shun([(x(speed), at_top + 12 * step) for step in range(18)], 3)
            labels.append(Label((x(speed), at_top + 12), name, look))
    drawing.label(labels)


def _marks_said(speeds: Speeds) -> str:
    told = [
        f"{name} {count(speed)} rpm"
        for name, speed in (("first failure", speeds.failure), ("runaway", speeds.runaway))
        if math.isfinite(speed)
    ]
    return "; " + ", ".join(told) if told else ""


def stress_charts(candidates: Sequence[Candidate]) -> Mapping[str, Drawing]:
    """Draw both stresses at running and trip speed, for each build of which they are known."""
    drawn = [each for each in candidates if each.inside.stress is not None]
    if not drawn:
        return {}
    peaks = [_mpa(each.inside.stress.notched) for each in drawn if each.inside.stress]
    yields = [_mpa(each.inside.stress.yield_strength) for each in drawn if each.inside.stress]
    near = [limit for limit in yields if limit <= FAR * max(peaks)]
    hoops = [_all_mpa(e.inside.stress.tripped.hoop) for e in drawn if e.inside.stress]
    y = spanning(
        [*near, *(1.12 * peak for peak in peaks), *np.concatenate(hoops).tolist()],
        BOTTOM, TOP, unit="MPa", zero=True,
    )  # fmt: skip
    return {e.roles[0]: _stress_chart(e, e.inside.stress, y) for e in drawn if e.inside.stress}


def _stress_chart(candidate: Candidate, stress: DiscSection, y: Scale) -> Drawing:
    drawing = Drawing(WIDTH, HEIGHT, says=f"{candidate.name}: {stress_text(candidate)}")
    radius = _mm(stress.radius)
    x = spanning(radius.tolist(), LEFT, RIGHT, unit="mm", room=0.0)
    drawing.axes(x, y, across="radius, mm", up="Stress, MPa", ticks=(5, 5))
    labels = []
    for name, look, speed, values in (
        ("radial", "air", "running", stress.running.radial),
        ("hoop", "metal", "running", stress.running.hoop),
        ("radial", "air", "trip", stress.tripped.radial),
        ("hoop", "metal", "trip", stress.tripped.hoop),
    ):
        at_trip = speed == "trip"
        points = [(x(r), y(s)) for r, s in zip(radius, _all_mpa(values), strict=True)]
        drawing.curve(points, look if at_trip else f"{look} dot", f"{name}, at {speed} speed")
        drawing.shun(points, 3)
        if at_trip:
            labels.append(Label(points[-len(points) // 4], name, look))
    limit, peak = _mpa(stress.yield_strength), _mpa(stress.notched)
    told = f"yields at {quantity('bore_stress', stress.yield_strength)}"
    if y.holds(limit):
        drawing.line((LEFT, y(limit)), (RIGHT, y(limit)), "upright fails dash")
        drawing.text((RIGHT, y(limit) - 5), told, "fails halo", anchor="end")
    else:
        drawing.text((RIGHT, TOP + 4), f"{told} ↑", "fails halo", anchor="end")
    at = (x(radius[0]), y(peak))
    drawing.mark(at, "diamond", "ink", 5, says=f"peak {quantity('bore_stress', stress.notched)}")
    drawing.label([Label(at, "peak"), *labels])
    return drawing


def wave_charts(candidates: Sequence[Candidate]) -> Mapping[str, Drawing]:
    """Draw the waves in a disc as seen from the casing, on the ruler's scale of speed."""
    drawn = {each.roles[0]: _waves(each) for each in candidates}
    known = {role: waves for role, waves in drawn.items() if waves}
    if not known:
        return {}
    end = ruler_end([speeds_of(each.values) for each in candidates])
    tops = [max(float(np.nanmax(b)) for _, b in waves.values()) for waves in known.values()]
    x, y = Scale(0, end, LEFT + 6, RIGHT, "rpm"), Scale(0, 1.05 * max(tops), BOTTOM, TOP, "Hz")
    return {
        each.roles[0]: _wave_chart(each, known[each.roles[0]], x, y)
        for each in candidates
        if each.roles[0] in known
    }


def _waves(candidate: Candidate) -> dict[int, tuple[Floats, Floats]]:
    """Frequencies [Hz] of the waves drawn, by nodal diameters: forward and backward."""
    waves = candidate.inside.waves
    if waves is None:
        return {}
    low = range(min(MOST_WAVES + 1, waves.forward.shape[1]))
    known = np.flatnonzero(np.isfinite(waves.forward).all(axis=0)).tolist()
    return {
        n: (waves.forward[:, n] / (2 * math.pi), waves.backward[:, n] / (2 * math.pi))
        for n in sorted({*low, *_standing(candidate)})
        if n in known
    }


def _standing(candidate: Candidate) -> list[int]:
    """Find the nodal diameters of the wave that stands still first; empty where none does."""
    speed = float(candidate.values.get("wave_speed", math.nan))
    nodal = float(candidate.values.get("wave_nodal_diameters", math.nan))
    return [round(nodal)] if math.isfinite(speed) and math.isfinite(nodal) else []


def _wave_chart(
    candidate: Candidate, waves: Mapping[int, tuple[Floats, Floats]], x: Scale, y: Scale
) -> Drawing:
    says = f"{candidate.name}: waves in a disc against speed. {wave_text(candidate)}"
    drawing = Drawing(WIDTH, HEIGHT, says=says, look="clipped")
    rpm = _shown("speed", candidate.inside.waves.speed if candidate.inside.waves else ())
    drawing.axes(x, y, across="rpm", up="Frequency, Hz", ticks=(4, 5))
    stands = _standing(candidate)
    for nodal, both in waves.items():
        for name, frequency in zip(("forward", "backward"), both, strict=True):
            inside = (rpm <= x.high) & (frequency >= 0) & (frequency <= y.high)
            points = [
                (x(s), y(f) if ok else math.nan)
                for s, f, ok in zip(rpm, frequency, inside, strict=True)
            ]
            look = (
                "faint dot" if name == "forward" else "fails" if nodal in stands else "metal fine"
            )
            drawing.curve(points, look, f"{name}, {nodal} nodal diameters")
            if nodal in stands:
                drawing.shun(points, 4)
    speeds = speeds_of(candidate.values)
    labels = []
    for name, speed, look in (("runs", speeds.running, "runs"), ("runaway", speeds.runaway, "")):
        if x.holds(speed):
            drawing.line(
                (x(speed), TOP), (x(speed), BOTTOM), f"upright {look}{'' if look else ' dash'}"
            )
            labels.append(Label((x(speed), TOP + 6), name, look))
    if stands:
        still = _one("wave_speed", candidate.values["wave_speed"])
        if x.holds(still):
            at = (x(still), y(0))
            drawing.mark(at, "ring", "fails", 5, says=f"stands still at {count(still)} rpm")
            labels.append(Label((at[0], at[1] - 6), "stands still", "fails"))
        else:
            drawing.text(
                (RIGHT, BOTTOM - 6),
                f"stands still {number(still, 3)} →",
                "fails halo",
                anchor="end",
            )
    drawing.label(labels)
    return drawing


def _spans(bad: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Find runs of lanes: the lane before each, and the lane behind it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], bad, [False]]).astype(int)))
    last = len(bad) - 1
    return [(max(0, a - 1), min(last, b)) for a, b in edges.reshape(-1, 2).tolist()]


def _shown(key: str, values: object) -> Floats:
    return np.asarray(COLUMNS[key].to_drawing(np.asarray(values, dtype=float)))


def _one(key: str, value: float | str) -> float:
    return float(COLUMNS[key].to_drawing(float(value)))


def _all_mpa(values: object) -> Floats:
    return np.asarray(values, dtype=float) / 1e6


def _mpa(value: float) -> float:
    return value / 1e6


def _mm(values: Floats) -> Floats:
    return np.asarray(values, dtype=float) * 1e3
