"""A build in time: speed, voltage, light and supply pressure, with the events of the study."""

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.model.in_time import InTime
from reports.kit.scales import spanning
from reports.kit.svg import Drawing
from reports.run.facts import Candidate
from reports.run.in_time_wording import event_text, lamp_of, light_of
from reports.run.socket_wording import trip_speed

Numbers = NDArray[np.float64]

WIDTH, HEIGHT = 560.0, 230.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 548.0, 40.0, 182.0
BINS = 300
"""Parts of the time of which a curve keeps the lowest and the highest point."""


def time_charts(candidates: Sequence[Candidate]) -> Mapping[str, list[Drawing]]:
    """Draw what changes in time, by the first role of each build."""
    return {
        each.roles[0]: list(_charts(each, each.socket.in_time))
        for each in candidates
        if each.socket and each.socket.in_time
    }


def _charts(candidate: Candidate, at: InTime) -> Iterator[Drawing]:
    motion, name = at.motion, candidate.name
    speed = np.asarray(COLUMNS["speed"].to_drawing(motion.speed))
    trip = float(COLUMNS["speed"].to_drawing(trip_speed(candidate.values)))
    top = trip if trip < 1.3 * float(speed.max()) else math.nan
    yield _chart(at, speed, f"{name}: speed in time", up="Speed, rpm", unit="rpm", line=top)
    yield _chart(at, motion.voltage, f"{name}: voltage of the bus in time", up="Bus, V", unit="V")
    lamp = lamp_of(at)
    if lamp is not None:
        light = 100 * light_of(at, lamp)
        words = f"Light of {at.wired.loads[lamp].name}, %"
        yield _chart(at, light, f"{name}: light in time", up=words, unit="%")
    else:
        watts = motion.watts[:, : len(at.wired.loads)].sum(axis=1)
        yield _chart(
            at, watts, f"{name}: power to the loads in time", up="To the loads, W", unit="W"
        )
    bar = (at.back + motion.share * (at.full - at.back)) / 1e5
    words = "Supply before the nozzles, bar absolute"
    yield _chart(at, bar, f"{name}: supply pressure in time", up=words, unit="bar")


def _chart(
    at: InTime, values: Numbers, says: str, *, up: str, unit: str, line: float = math.nan
) -> Drawing:
    time = at.motion.time
    known = values[np.isfinite(values)]
    ends = f", from {known.min():.4g} to {known.max():.4g} {unit}" if known.size else ""
    drawing = Drawing(WIDTH, HEIGHT, says=f"{says}{ends}.")
    x = spanning([0.0, float(time[-1])], LEFT, RIGHT, unit="s", room=0.0)
    y = spanning([*known.tolist(), line], BOTTOM, TOP, unit=unit, room=0.08)
    drawing.axes(x, y, across="s", up=up, ticks=(6, 4))
    last = -math.inf
    for place, event in enumerate(at.events.script, start=1):
        across = x(event.at)
        drawing.line((across, TOP), (across, BOTTOM), "upright dash")
        if across - last > 9:
            drawing.text((across, TOP - 5), str(place), "soft", anchor="middle")
            last = across
    if math.isfinite(line):
        drawing.line((LEFT, y(line)), (RIGHT, y(line)), "upright fails dash")
        drawing.text((RIGHT, y(line) - 4), "trip", "fails", anchor="end")
    points = [(x(s), y(v)) for s, v in _thinned(time, values)]
    drawing.curve(points, "air", f"{up}, events: {'; '.join(_said(at))}")
    return drawing


def _said(at: InTime) -> list[str]:
    return [f"{n} {event_text(each, at)}" for n, each in enumerate(at.events.script, start=1)]


def _thinned(time: Numbers, values: Numbers) -> list[tuple[float, float]]:
    """Keep the first, lowest, highest and last point of each part of the time, in order."""
    parts = np.minimum((time / time[-1] * BINS).astype(np.int64), BINS - 1)
    starts = np.flatnonzero(np.diff(parts, prepend=-1))
    kept: list[int] = []
    for start, end in zip(starts.tolist(), [*starts[1:].tolist(), len(time)], strict=True):
        part = values[start:end]
        if np.isfinite(part).all():
            inner = {start, start + int(part.argmin()), start + int(part.argmax()), end - 1}
        else:
            inner = set(range(start, end, max((end - start) // 4, 1)))
        kept += sorted(inner)
    return [(float(time[n]), float(values[n])) for n in kept]
