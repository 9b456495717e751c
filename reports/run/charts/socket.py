"""A build at the socket: where its torque meets that of the loads, and what part load gives."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.socket import AtSocket
from reports.kit.quantities import count, number
from reports.kit.scales import Scale
from reports.kit.svg import Drawing, Label
from reports.run.facts import Candidate
from reports.run.socket_wording import failing_speed, trip_speed

WIDTH, HEIGHT = 560.0, 330.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 548.0, 32.0, 278.0


def meeting_charts(candidates: Sequence[Candidate]) -> Mapping[str, Drawing]:
    """Draw the torques of turbine and loads over speed, by the first role of each build."""
    return {each.roles[0]: _meeting(each, each.socket) for each in candidates if each.socket}


def part_load_charts(candidates: Sequence[Candidate]) -> Mapping[str, Drawing]:
    """Draw power over speed at several supply pressures, with the line of best speed."""
    return {each.roles[0]: _part_load(each, each.socket) for each in candidates if each.socket}


def _meeting(candidate: Candidate, at: AtSocket) -> Drawing:
    found, rpm = at.settled, _rpm(at.speed)
    torque, asked = 1e3 * at.torque, 1e3 * at.asked
    high = 1.08 * max(float(np.nanmax(torque)), 1e-6)
    x, y = Scale(0, float(rpm[-1]), LEFT, RIGHT, "rpm"), Scale(0, high, BOTTOM, TOP, "mN m")
    points = [
        (place, float(_rpm(found.speed)[0, place]))
        for place in range(len(found.wired.sets))
        if math.isfinite(found.speed[0, place])
    ]
    told = "; ".join(f"with {_set_name(at, p)} at {count(speed)} rpm" for p, speed in points)
    drawing = Drawing(WIDTH, HEIGHT, says=f"{candidate.name} settles {told}.", look="clipped")
    drawing.axes(x, y, across="rpm", up="Torque at the shaft, mN m", ticks=(5, 5))

    def line(values: object) -> list[tuple[float, float]]:
        inside = [v if 0 <= v <= high else math.nan for v in np.asarray(values).tolist()]
        return [(x(s), y(v)) for s, v in zip(rpm.tolist(), inside, strict=True)]

    turbine = line(torque)
    drawing.curve(turbine, "air", "turbine")
    drawing.shun(turbine, 4)
    for place, values in enumerate(asked):
        drawing.curve(line(values), "soft", f"asked with {_set_name(at, place)}")
        drawing.shun(line(values)[::2], 2)
    labels = [Label(turbine[len(turbine) // 6], "turbine gives", "air")]
    labels += _speeds(drawing, x, candidate)
    for place, speed in points:
        spot = (x(speed), y(float(np.interp(speed, rpm, torque))))
        volts = number(max(float(found.voltage[0, place]), 0.0))
        says = f"{_set_name(at, place)}: {count(speed)} rpm, {volts} V"
        drawing.mark(spot, "disc", "runs", 5, says=says)
        if place in (0, len(found.wired.sets) - 1):
            words = "nothing on" if place == 0 else "all on"
            labels.append(Label(spot, words, "runs", bold=True))
    drawing.label(labels)
    return drawing


def _part_load(candidate: Candidate, at: AtSocket) -> Drawing:
    part, rpm = at.part_load, _rpm(at.part_load.speed)
    best_speed, best_power = part.best
    high = 1.1 * float(np.nanmax(np.append(part.power, 1e-6)))
    x, y = Scale(0, float(rpm[-1]), LEFT, RIGHT, "rpm"), Scale(0, high, BOTTOM, TOP, "W")
    told = "; ".join(
        f"{number(p / 1e5)} bar: {number(w)} W at {count(float(_rpm(s)))} rpm"
        for p, s, w in zip(part.pressure.tolist(), best_speed, best_power, strict=True)
        if math.isfinite(w)
    )
    says = f"{candidate.name}: most power at the terminals by supply pressure. {told}."
    drawing = Drawing(WIDTH, HEIGHT, says=says)
    drawing.axes(x, y, across="rpm", up="Power at the terminals, W", ticks=(5, 5))
    for pressure, power in zip(part.pressure.tolist(), part.power, strict=True):
        points = [
            (x(s), y(w) if w >= 0 else math.nan)
            for s, w in zip(rpm.tolist(), power.tolist(), strict=True)
        ]
        bar = number(pressure / 1e5)
        drawing.curve(points, "air", f"{bar} bar absolute")
        drawing.shun(points, 2)
    line = [
        (x(float(_rpm(s))), y(float(w)))
        for s, w in zip(best_speed, best_power, strict=True)
        if math.isfinite(w)
    ]
    drawing.curve(line, "runs dash", "line of best speed")
    labels = _speeds(drawing, x, candidate)
    for pressure, spot in zip(part.pressure[np.isfinite(best_power)].tolist(), line, strict=True):
        flow = _flow_at(at, pressure, spot, x)
        drawing.mark(spot, "disc", "runs", 4, says=f"{number(pressure / 1e5)} bar, {flow}")
        labels.append(Label(spot, f"{number(pressure / 1e5)} bar", "air"))
    drawing.label(labels[::-1])
    return drawing


def _speeds(drawing: Drawing, x: Scale, candidate: Candidate) -> list[Label]:
    """Draw upright lines where the trip acts and where the first thing fails."""
    labels = []
    for words, speed, look in (
        ("trip", trip_speed(candidate.values), ""),
        ("first failure", failing_speed(candidate.values), "fails"),
    ):
        at = x(float(_rpm(speed)))
        if LEFT < at < RIGHT:
            dash = "" if look else " dash"
            drawing.line((at, TOP), (at, BOTTOM), f"upright {look}{dash}")
            labels.append(Label((at, TOP + 10), words, look))
    return labels


def _flow_at(at: AtSocket, pressure: float, spot: tuple[float, float], x: Scale) -> str:
    """Say flow and torque at the best speed of a pressure."""
    part = at.part_load
    row = int(np.argmin(np.abs(part.pressure - pressure)))
    speeds = [x(float(each)) for each in _rpm(part.speed)]
    flow = COLUMNS["mass_flow"].to_drawing(float(np.interp(spot[0], speeds, part.flow[row])))
    torque = 1e3 * float(np.interp(spot[0], speeds, part.torque[row]))
    return f"{number(float(flow))} g/s, {number(torque)} mN m"


def _set_name(at: AtSocket, place: int) -> str:
    loads = at.settled.wired.loads[:place]
    names = [each.name if each.count == 1 else f"{each.count} {each.name}" for each in loads]
    return ", ".join(names) or "nothing on"


def _rpm(speed: object) -> NDArray[np.float64]:
    return np.asarray(COLUMNS["speed"].to_drawing(np.asarray(speed, dtype=float)))
