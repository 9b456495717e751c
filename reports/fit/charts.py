"""Charts of a fit: reading against model on the diagonal, and reading minus model."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from engine.bench.coast_down import NORMAL_REACH, CoastDown
from engine.bench.fit import BenchFit
from engine.bench.generator_test import GeneratorTest
from engine.bench.tap_test import TapTest
from engine.bench.trip_test import TripTest
from engine.columns import COLUMNS
from reports.kit.quantities import THIN, begun, inline_label, number, quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing, fitted

Numbers = NDArray[np.float64]
FULL_WEIGHT = 0.99
"""A reading below this weight counts as given less weight."""
OFF = 3.0
"""A reading of speed against time counts as off beyond this many standard uncertainties."""
WIDTH, HEIGHT = 300.0, 270.0
"""Of one of several charts side by side."""
LEFT, RIGHT = 50.0, 10.0
"""Room for the numbers beside an axis, and beyond its end."""


@dataclass(frozen=True)
class FitChart:
    """A chart with its title."""

    title: str
    drawn: Markup


def reading_charts(found: BenchFit) -> Iterator[FitChart]:
    """Draw each reading against the fitted model, then reading minus model against speed.

    On the diagonal readings at any speed, load and supply stand side by side. Where the rotor was
    always locked, supply pressure takes the place of speed.
    """
    across = "speed" if found.conditions["speed"].any() else "supply_pressure"
    across = "flow" if "flow" in found.conditions else across
    for key, readings in found.measured.items():
        told = np.isfinite(readings)
        label = COLUMNS[key].label
        light = found.weights[key][told] < FULL_WEIGHT
        says = [
            f"{quantity(key, float(readings[row]))} read, {quantity(key, float(model))} by the "
            f"fitted model\n{_conditions(found, row)}, line {found.lines[row]}"
            for row, model in zip(
                np.flatnonzero(told).tolist(), found.after[key][told], strict=True
            )
        ]
        yield FitChart(f"{label}: reading against model", _diagonal(found, key, told, light, says))
        left = (readings - found.after[key])[told] / found.uncertainty[key][told]
        place = found.conditions[across][told]
        name = "speed" if across == "speed" else inline_label(across)
        axis = (_axis(across, begun(name)), COLUMNS[across].to_drawing(place).tolist())
        alt = f"{label}: reading minus model against {name}"
        drawing = Drawing(WIDTH, HEIGHT, says=_within(alt, left), size=12)
        yield FitChart(f"{label}: reading minus model", _left(drawing, axis, left, light, says))


def _conditions(found: BenchFit, row: int) -> str:
    told = [
        quantity(key, float(found.conditions[key][row]))
        for key in ("speed", "flow", "supply_pressure")
        if key in found.conditions
    ]
    return " at ".join(told)


def _diagonal(
    found: BenchFit, key: str, told: NDArray[np.bool_], light: NDArray[np.bool_], says: list[str]
) -> Markup:
    """Draw readings against both models; on the diagonal they are the same."""
    column = COLUMNS[key]
    read, before, after = (
        column.to_drawing(values[told]).tolist()
        for values in (found.measured[key], found.before[key], found.after[key])
    )
    half = (NORMAL_REACH * found.uncertainty[key][told] / column.unit.si_factor).tolist()
    off = np.abs(found.measured[key] - found.after[key])[told] / found.uncertainty[key][told]
    alt = f"{column.label}: readings against the fitted model"
    chart = Drawing(WIDTH, HEIGHT, says=_within(alt, off), size=12)
    ends = [
        value + sign * width for value, width in zip(read, half, strict=True) for sign in (-1, 1)
    ]
    unit = column.unit.symbol
    both = [*ends, *after, *(value for value in before if math.isfinite(value))]
    y = spanning(both, HEIGHT - 44, 30, unit=unit)
    x = spanning(both, LEFT, WIDTH - RIGHT, unit=unit)
    chart.axes(x, y, across="model", up=_axis(key, f"{column.label} read"), ticks=(4, 5))
    chart.line((x(x.low), y(x.low)), (x(x.high), y(x.high)), "thin")
    for place, value in zip(before, read, strict=True):
        if math.isfinite(place):
            chart.mark((x(place), y(value)), "ring", "faint", 3.5)
    rows = zip(after, read, half, light.tolist(), says, strict=True)
    for place, value, width, is_light, words in rows:
        chart.line((x(place), y(value - width)), (x(place), y(value + width)), "leader")
        shape = "open-diamond" if is_light else "disc"
        chart.mark((x(place), y(value)), shape, "ink", 3.5, says=words)
    return chart.svg()


def _left(
    chart: Drawing,
    across: tuple[str, list[float]],
    left: Numbers,
    light: NDArray[np.bool_],
    says: Sequence[str] = (),
) -> Markup:
    """Draw reading minus model over its standard uncertainty, and between which lines it lies."""
    title, places = across
    y = spanning([*left.tolist(), -2.5, 2.5], chart.height - 44, 30)
    x = spanning(places, LEFT, chart.width - RIGHT)
    chart.axes(x, y, across=title, up="in standard uncertainties", ticks=(4, 5))
    for level in (-NORMAL_REACH, 0.0, NORMAL_REACH):
        look = "thin dot" if level else "thin"
        chart.line((x(x.low), y(level)), (x(x.high), y(level)), look)
    for row, (place, value) in enumerate(zip(places, left.tolist(), strict=True)):
        told = {"says": says[row]} if says else {}
        shape = "open-diamond" if light[row] else "disc"
        chart.mark((x(place), y(value)), shape, "ink", 3.5 if says else 2.5, **told)
    return chart.svg()


def _within(alt: str, left: Numbers) -> str:
    return f"{alt}; they differ by at most {np.abs(left).max():.1f} standard uncertainties."


def coast_charts(found: CoastDown) -> Iterator[FitChart]:
    """Draw speed against time, and reading minus fitted model."""
    lines = (
        (found.as_drawn, "model as the study has it", "faint dash"),
        (found.fitted, "constant torque and a power of speed", "soft dot"),
        (found.modelled, "model, fitted", "ink fine"),
    )
    yield from _over_time(found, lines, found.modelled, "Speed against time while coasting down")


def trip_charts(found: TripTest) -> Iterator[FitChart]:
    """Draw speed against time past the trip, and reading minus fitted model."""
    lines = (
        (found.as_drawn, "delay and closing of the study", "faint dash"),
        (found.fitted, "fitted", "ink fine"),
    )
    yield from _over_time(found, lines, found.fitted, "Speed against time past the trip")


def _over_time(
    found: CoastDown | TripTest,
    lines: Sequence[tuple[Numbers, str, str]],
    best: Numbers,
    alt: str,
) -> Iterator[FitChart]:
    """Draw readings of speed as dots with a line for each model, and what is left of them."""
    time, speed = found.time.tolist(), COLUMNS["speed"].to_drawing(found.speed).tolist()
    drawn = [COLUMNS["speed"].to_drawing(values).tolist() for values, _, _ in lines]

    def against_time(width: float) -> Drawing:
        chart = Drawing(width, 340, says=f"{alt}: readings and models", size=13)
        top = _key(chart, lines)
        x = spanning(time, LEFT, width - RIGHT, unit="s")
        every = [*speed, *(value for each in drawn for value in each)]
        y = spanning(every, 288, top + 30, unit="rpm", zero=min(every) < max(every) / 3)
        chart.axes(x, y, across="Time, s", up="", ticks=(5, 5))
        chart.text((0, top + 18), _axis("speed", "Speed"), "soft")
        for place, value in zip(time, speed, strict=True):
            chart.mark((x(place), y(value)), "disc", "faint", 2.2)
        for values, (_, name, look) in zip(drawn, lines, strict=True):
            points = [(x(at), y(value)) for at, value in zip(time, values, strict=True)]
            chart.curve(points, look, name)
        return chart

    yield FitChart("Speed against time: readings and models", fitted(against_time))
    spread = found.log.uncertainty["speed"][: len(found.speed)]
    left = (found.speed - best) / spread
    alt = _within("Speed: reading minus model against time", left)

    def left_over_time(width: float) -> Drawing:
        chart = Drawing(width, 220, says=alt, size=13)
        _left(chart, ("Time, s", time), left, np.abs(left) > OFF)
        return chart

    yield FitChart("Speed: reading minus model", fitted(left_over_time))


def _key(chart: Drawing, lines: Sequence[tuple[Numbers, str, str]]) -> float:
    """Write above a chart what each line is; give the height that this takes."""
    left, top = 0.0, chart.size
    for _, name, look in lines:
        wide = 34 + chart.measure(name) + 20
        if left and left + wide > chart.width:
            left, top = 0.0, top + 1.5 * chart.size
        chart.curve([(left, top - 4), (left + 28, top - 4)], look)
        chart.text((left + 34, top), name, "soft")
        left += wide
    return top


def _axis(key: str, name: str) -> str:
    """Name an axis, with its unit where it has one."""
    unit = COLUMNS[key].unit.symbol
    return f"{name}, {unit}" if unit else name


def tap_charts(found: TapTest) -> Iterator[FitChart]:
    """Draw what was heard over what the fitted disc rings with, and heard minus fitted."""
    rows = found.mode - 1
    hub, web = (found.disc.frequency[place][rows] / found.fitted for place in (0, -1))
    heard = found.heard / found.fitted
    alt = "Frequencies heard over those of the fitted disc, by mode"
    chart = Drawing(
        WIDTH, HEIGHT, says=f"{alt}; between hub and web as the study has them", size=12
    )
    ends = [*hub.tolist(), *web.tolist(), *heard.tolist()]
    y = spanning([100 * value for value in ends], HEIGHT - 44, 30, unit="%")
    x = Scale(0.5, float(found.disc.frequency.shape[1]) + 0.5, LEFT, WIDTH - RIGHT)
    chart.axes(x, y, across="mode", up="Frequency, % of the fitted disc's", ticks=(6, 5))
    chart.line((x(x.low), y(100)), (x(x.high), y(100)), "thin")
    for mode, low, high, value, fit, ear in zip(
        found.mode.tolist(),
        hub.tolist(),
        web.tolist(),
        heard.tolist(),
        found.fitted.tolist(),
        found.heard.tolist(),
        strict=True,
    ):
        chart.line((x(mode), y(100 * low)), (x(mode), y(100 * high)), "leader")
        chart.line((x(mode) - 5, y(100 * low)), (x(mode) + 5, y(100 * low)), "thin")
        chart.line((x(mode) - 5, y(100 * high)), (x(mode) + 5, y(100 * high)), "thin")
        words = f"Mode {mode}: {number(ear)}{THIN}Hz heard, {number(fit)}{THIN}Hz fitted"
        chart.mark((x(mode), y(100 * value)), "disc", "ink", 3.5, says=words)
    yield FitChart("Each mode: heard against fitted", chart.svg())
    left = (found.heard - found.fitted) / found.uncertainty
    plain = np.zeros(left.shape, dtype=bool)
    drawing = Drawing(WIDTH, HEIGHT, says=_within("Heard minus model, by mode", left), size=12)
    across = ("mode", [float(mode) for mode in found.mode.tolist()])
    yield FitChart("Heard minus model", _left(drawing, across, left, plain))


def generator_charts(found: GeneratorTest) -> Iterator[FitChart]:
    """Draw volts read less those of the fitted data sheet, and the same of the no-load loss."""
    speed = COLUMNS["speed"].to_drawing(found.log.columns["speed"])
    amps = found.log.columns["current"]
    rows = (
        ("Voltage", "current", found.log.columns["voltage"], found.voltage, "V"),
        ("No-load loss", "speed", found.taken, found.loss, "W"),
    )
    for (name, across, read, fit, unit), spread in zip(rows, found.spread, strict=True):
        told = np.isfinite(read)
        if not told.any():
            continue
        place = amps if across == "current" else speed
        left = ((read - fit) / spread)[told]
        says = [
            f"{number(one)}{THIN}{unit} read, {number(two)}{THIN}{unit} by the fitted data sheet\n"
            f"{number(turns, 4)}{THIN}rpm, {number(current)}{THIN}A"
            for one, two, turns, current in zip(
                read[told], fit[told], speed[told], amps[told], strict=True
            )
        ]
        title = f"{name}: reading minus fit against {across}"
        drawing = Drawing(WIDTH, HEIGHT, says=_within(title, left), size=12)
        axis = ("Current, A" if across == "current" else "Speed, rpm", place[told].tolist())
        yield FitChart(title, _left(drawing, axis, left, np.abs(left) > OFF, says))
