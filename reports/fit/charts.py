"""Charts of a fit: readings, the model before and after, and reading minus model."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.bench.coast_down import CoastDown
from engine.bench.fit import BenchFit
from engine.bench.tap_test import TapTest
from engine.bench.trip_test import TripTest
from engine.columns import COLUMNS
from reports.kit.charts import BLUE, FAINT, INK, SOFT, VERMILLION, Figure, blank, drawing, plain

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class FitChart:
    """A figure with its title and a text for those who cannot see it."""

    title: str
    figure: Figure
    alt: str


def reading_charts(found: BenchFit) -> Iterator[FitChart]:
    """Draw each reading against speed, or supply pressure where the rotor was always locked.

    After each comes the chart of reading minus fitted model.
    """
    turns = found.conditions["speed"].any()
    across = "speed" if turns else "supply_pressure"
    place, column = found.conditions[across], COLUMNS[across]
    # With several loads at one speed a line through all points would mean nothing.
    mode = "lines" if np.unique(place.round(1)).size == place.size else "markers"
    for key, readings in found.measured.items():
        told = np.isfinite(readings)
        at, measured, spread = place[told], readings[told], found.uncertainty[key][told]
        order = np.argsort(at)
        figure = blank()
        for values, name, colour, dash, shape in (
            (found.before[key], "model as the study has it", FAINT, "dot", "circle-open"),
            (found.after[key], "model, fitted", BLUE, "solid", "diamond-open"),
        ):
            figure.add_scatter(
                x=drawing(across, at[order]),
                y=drawing(key, values[told][order]),
                mode=mode,
                name=name,
                line={"color": colour, "dash": dash, "width": 2},
                marker={"color": colour, "symbol": shape, "size": 11, "line": {"width": 2}},
            )
        factor = COLUMNS[key].unit.si_factor
        figure.add_scatter(
            x=drawing(across, at),
            y=drawing(key, measured),
            error_y={
                "type": "data",
                "array": [float(f"{v:.4g}") for v in (1.96 * spread / factor)],
                "color": SOFT,
                "thickness": 1,
            },
            mode="markers",
            name="read on the bench",
            marker={"color": INK, "size": 6},
        )
        _label(figure, column.title, COLUMNS[key].title)
        against = f"{COLUMNS[key].label} against {column.label.lower()}"
        yield FitChart(COLUMNS[key].label, plain(figure), against)
        yield _residuals(
            f"{COLUMNS[key].label}: reading minus model",
            drawing(across, at),
            (measured - found.after[key][told]) / spread,
            found.weights[key][told] < 0.99,
            column.title,
        )


def coast_charts(found: CoastDown) -> Iterator[FitChart]:
    """Draw speed against time, and reading minus fitted model."""
    lines = (
        (found.as_drawn, "model as the study has it", FAINT, "dot"),
        (found.modelled, "model, fitted", BLUE, "solid"),
        (found.fitted, "constant torque and a power of speed", VERMILLION, "dash"),
    )
    yield from _over_time(found, lines, found.modelled, "Speed against time while coasting down")


def trip_charts(found: TripTest) -> Iterator[FitChart]:
    """Draw speed against time past the trip, and reading minus fitted model."""
    lines = (
        (found.as_drawn, "delay and closing of the study", FAINT, "dot"),
        (found.fitted, "fitted", BLUE, "solid"),
    )
    yield from _over_time(found, lines, found.fitted, "Speed against time past the trip")


def _over_time(
    found: CoastDown | TripTest,
    lines: Sequence[tuple[Numbers, str, str, str]],
    best: Numbers,
    alt: str,
) -> Iterator[FitChart]:
    figure = blank()
    time = [float(f"{value:.6g}") for value in found.time]
    figure.add_scatter(
        x=time,
        y=drawing("speed", found.speed),
        mode="markers",
        name="read on the bench",
        marker={"color": INK, "size": 5},
    )
    for values, name, colour, dash in lines:
        figure.add_scatter(
            x=time,
            y=drawing("speed", values),
            mode="lines",
            name=name,
            line={"color": colour, "dash": dash, "width": 2},
        )
    _label(figure, "Time [s]", COLUMNS["speed"].title)
    yield FitChart("Speed against time", plain(figure), alt)
    spread = found.log.uncertainty["speed"][: len(found.speed)]
    left = (found.speed - best) / spread
    off = np.abs(left) > 3
    yield _residuals("Speed: reading minus model", time, left, off, "Time [s]")


def tap_charts(found: TapTest) -> Iterator[FitChart]:
    """Draw what was heard beside the modes held at hub and web, and heard minus fitted."""
    figure = blank()
    modes = np.arange(1, found.disc.frequency.shape[1] + 1).tolist()
    for values, name, colour, shape in (
        (
            found.disc.frequency[0],
            "held at the hub alone, as the study has it",
            FAINT,
            "triangle-up",
        ),
        (found.disc.frequency[-1], "web held whole, as the study has it", FAINT, "triangle-down"),
    ):
        figure.add_scatter(
            x=modes,
            y=_rounded(values),
            mode="markers",
            name=name,
            marker={"color": colour, "symbol": shape, "size": 9},
        )
    for values, name, colour, shape, size in (
        (found.fitted, "model, fitted", BLUE, "diamond-open", 11),
        (found.heard, "heard", INK, "circle", 6),
    ):
        figure.add_scatter(
            x=found.mode.tolist(),
            y=_rounded(values),
            mode="markers",
            name=name,
            marker={"color": colour, "symbol": shape, "size": size, "line": {"width": 2}},
        )
    _label(figure, "Mode", "Frequency [Hz]")
    figure.update_yaxes(type="log")
    yield FitChart("Frequency of each mode", plain(figure), "Frequencies heard, by mode")
    left = (found.heard - found.fitted) / found.uncertainty
    off = np.zeros(left.shape, dtype=bool)
    yield _residuals("Heard minus model", found.mode.tolist(), left, off, "Mode")


def _rounded(values: Numbers) -> list[float]:
    return [float(f"{value:.4g}") for value in values]


def _residuals(
    title: str, x: Sequence[float], left: Numbers, off: NDArray[np.bool_], across: str
) -> FitChart:
    figure = blank()
    for here, name, shape, colour in (
        (~off, "reading minus model", "circle", BLUE),
        (off, "given less weight", "x", VERMILLION),
    ):
        figure.add_scatter(
            x=[value for value, shown in zip(x, here, strict=True) if shown],
            y=[float(f"{value:.3g}") for value in left[here]],
            mode="markers",
            name=name,
            marker={"color": colour, "symbol": shape, "size": 7},
        )
    for level in (-1.96, 0.0, 1.96):
        figure.add_hline(
            y=level, line={"color": SOFT, "width": 1, "dash": "dot" if level else "solid"}
        )
    _label(figure, across, "standard uncertainties")
    largest = f"{np.abs(left).max():.1f}"
    return FitChart(title, plain(figure), f"{title}, at most {largest} standard uncertainties")


def _label(figure: Figure, across: str, up: str) -> None:
    figure.update_layout(
        xaxis={"title_text": across},
        yaxis={"title_text": up},
        legend={"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        margin={"l": 78, "r": 10, "t": 34, "b": 48},
    )
