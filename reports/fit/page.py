"""Page of a fit: what the log shows, what it cannot tell, and reading minus model."""

import math
from collections.abc import Iterator
from pathlib import Path
from typing import TypeAlias

from engine.bench.coast_down import EXPONENT, NORMAL_REACH, CoastDown
from engine.bench.fit import BenchFit
from engine.bench.generator_test import GeneratorTest
from engine.bench.tap_test import TapTest
from engine.bench.trip_test import TripTest
from engine.columns import COLUMNS, columns_of, is_share
from engine.study.fit import Fit
from engine.study.study import Study
from reports.fit.charts import (
    FitChart,
    coast_charts,
    generator_charts,
    reading_charts,
    tap_charts,
    trip_charts,
)
from reports.kit.quantities import THIN, count, inline_label, listed, number, quantity
from reports.kit.rendering import asset, render
from reports.run.wording import NO_CERTIFICATE

Found: TypeAlias = BenchFit | CoastDown | GeneratorTest | TapTest | TripTest
"""What the fit of one test gives."""
DRAG_TITLE = "Drag, independent of the model"
TRIP_TITLE = "The trip, as it was seen"
TAP_TITLE = "Modes of the disc"
HEADED = 2
"""Coefficients that the heading names."""


def write_fit_page(study: Study, found: Found, fit_name: str) -> str:
    """Make the page of a fit, as text."""
    charts, fit, columns = list(_charts(found)), found.fit, columns_of(study.works_as)
    start = (
        {key: study.fixed().get(key, 1.0) for key in fit.values}
        if isinstance(found, CoastDown | TripTest)
        else found.start
    )
    rows = [
        (
            columns[key].label,
            columns[key].meaning,
            quantity(key, float(start[key])),
            quantity(key, value),
            _half(key, found.reach[key]),
        )
        for key, value in fit.values.items()
    ]
    excluded = found.excluded if isinstance(found, BenchFit) else found.log.excluded
    return render(
        "fit.html.j2",
        style="page.css",
        scripts=[asset("chart.js")],
        title=study.title,
        heading=_heading(fit),
        caution=NO_CERTIFICATE,
        log=found.log,
        log_name=Path(found.log.file).name,
        fit_name=fit_name,
        rows=rows,
        names=[COLUMNS[key].label for key in fit.values],
        correlation=[[number(value, 2) for value in row] for row in fit.correlation.tolist()],
        held=[(COLUMNS[each.key].label, each.reason, each.test) for each in found.held]
        if isinstance(found, BenchFit | GeneratorTest)
        else [],
        findings=_findings(found),
        findings_title=_findings_title(found),
        charts=charts,
        over_time=isinstance(found, CoastDown | TripTest),
        excluded=excluded,
        used=count(len(found.lines) if isinstance(found, BenchFit) else len(found.log.lines)),
    )


def _heading(fit: Fit) -> str:
    """Say what the log shows, the first few coefficients by name."""
    told = [f"{inline_label(key)} {quantity(key, value)}" for key, value in fit.values.items()]
    more = len(told) - HEADED
    parts = told if more <= 1 else [*told[:HEADED], f"{count(more)} more numbers"]
    return f"The bench shows {listed(parts)}."


def held_lines(found: Found) -> list[str]:
    """List lines for the fit file on what the log tells besides, or cannot tell."""
    if not isinstance(found, BenchFit | GeneratorTest):
        return [f"{name}: {value}" for name, value in _findings(found)]
    return [f"not told: {each.key}: {each.reason}; {each.test}" for each in found.held]


def fitted_lines(found: Found) -> list[str]:
    """List lines for the terminal: each coefficient with its interval, then what is not told."""
    lines = [
        f"{key}: {quantity(key, value)} ± {_half(key, found.reach[key])} (95 %)"
        for key, value in found.fit.values.items()
    ]
    return [*lines, *held_lines(found)]


def known_lines(before: Fit | None, after: Fit) -> list[str]:
    """Say what all logs together tell, where there were logs before; half of 95 % each."""
    if before is None:
        return []
    lines = [
        f"{key}: {quantity(key, value)} ± {_half(key, NORMAL_REACH * after.standard[key])} (95 %)"
        for key, value in after.values.items()
    ]
    return ["With the logs before:", *lines]


def _half(key: str, reach: float) -> str:
    """Write half of an interval with its unit; it is a difference, so without the unit's offset."""
    column = COLUMNS[key]
    if is_share(key):
        return f"{number(100 * reach, 2)}{THIN}%"
    return f"{number(reach / column.unit.si_factor, 2)}{THIN}{column.unit.symbol}".strip(THIN)


def _charts(found: Found) -> Iterator[FitChart]:
    if isinstance(found, BenchFit):
        return reading_charts(found)
    if isinstance(found, TapTest):
        return tap_charts(found)
    if isinstance(found, GeneratorTest):
        return generator_charts(found)
    return trip_charts(found) if isinstance(found, TripTest) else coast_charts(found)


def _findings_title(found: Found) -> str:
    if isinstance(found, TapTest):
        return TAP_TITLE
    return TRIP_TITLE if isinstance(found, TripTest) else DRAG_TITLE


def _findings(found: Found) -> list[tuple[str, str]]:
    """List what a log shows besides coefficients, name and text."""
    if isinstance(found, CoastDown):
        return _torques(found)
    if isinstance(found, TripTest):
        return _trip(found)
    return _modes(found) if isinstance(found, TapTest) else []


def _modes(found: TapTest) -> list[tuple[str, str]]:
    """List which mode each frequency is, and how far out the disc is held."""
    held, hub, bore = (
        f"{number(1000 * float(radius))}{THIN}mm"
        for radius in (found.held_to, found.disc.radius[0], found.disc.radius[-1])
    )
    rows = zip(found.mode, found.heard, found.fitted, strict=True)
    return [("Held to a radius of", f"{held}; hub {hub}, bore {bore}")] + [
        (f"Mode {mode}", f"{number(heard)}{THIN}Hz heard, {number(fitted)}{THIN}Hz fitted")
        for mode, heard, fitted in rows
    ]


def _trip(found: TripTest) -> list[tuple[str, str]]:
    """List what a trip test shows besides its coefficients, name and text."""
    delay = found.fit.values["trip_delay"]
    held = math.isfinite(found.held_closing)
    closing = found.held_closing if held else found.fit.values["valve_closing"]
    times = found.peak / found.trip_speed
    lines = [
        ("Speed of the trip", quantity("speed", found.trip_speed)),
        (
            "Highest speed",
            f"{quantity('speed', found.peak)}, {number(times, 4)} times that",
        ),
        ("Delay and half of the closing", quantity("trip_delay", delay + closing / 2)),
        ("Torque over inertia, over the model's", number(found.torque_ratio)),
    ]
    if held:
        text = f"{quantity('valve_closing', closing)}, as the study has it"
        lines.append(("Closing of the valve, which this log does not tell", text))
    return lines


def _torques(found: CoastDown) -> list[tuple[str, str]]:
    """List what a coast-down shows independent of the model's laws, name and text."""
    law, reach = found.law, found.torque_reach
    told = "fitted" if found.exponent_told else "fixed, as this log cannot tell it"
    power = number(found.exponent) if found.exponent_told else number(EXPONENT, 2)
    return [
        (
            "Drag that is the same at every speed",
            (
                f"{quantity('shaft_torque', float(law.values[1]))} ± "
                f"{_half('shaft_torque', reach['steady_torque'])} (95 %)"
            ),
        ),
        (
            f"Drag that grows with speed, at {quantity('speed', found.top_speed)}",
            (
                f"{quantity('shaft_torque', float(law.values[2]))} ± "
                f"{_half('shaft_torque', reach['windage_torque'])} (95 %)"
            ),
        ),
        (f"Power of speed with which that grows, {told}", power),
        (
            "Inertia of the rotor as drawn, taken as right within 3 %",
            f"{number(1e6 * found.inertia)}{THIN}kg{THIN}mm²",
        ),
    ]
