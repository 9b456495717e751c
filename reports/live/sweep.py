"""What one variable does to the first two aims, drawn small: a curve of each."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.bands.results import evaluate_judged
from engine.columns import COLUMNS, Builds, Results
from engine.model.limits import violations, with_standing
from engine.study.study import Study
from engine.study.values import Range
from reports.kit.quantities import inline_label, quantity
from reports.kit.scales import Scale, spanning
from reports.kit.svg import Drawing

MOST_POINTS = 41
"""Builds that one curve evaluates at most."""
WIDTH, HEIGHT = 380.0, 236.0
LEFT, RIGHT = 44.0, 10.0
PANELS = ((92.0, 22.0), (196.0, 126.0))
"""Bottom and top of each panel."""


def points_of(given: Range[Any]) -> NDArray[np.float64]:
    """Take the values of a range, or as many of them as a curve has, both ends among them."""
    if given.values is None:
        return np.linspace(given.lowest, given.highest, MOST_POINTS)
    values = np.array(given.values, dtype=float)
    rows = np.unique(np.linspace(0, len(values) - 1, MOST_POINTS).round().astype(int))
    taken: NDArray[np.float64] = values[rows]
    return taken


def sweep_of(study: Study, build: Builds, key: str) -> dict[str, Any]:
    """Evaluate a build over the range of one of its variables, and draw what comes of it."""
    points = points_of(study.searched()[key])
    builds = {name: np.repeat(value, len(points)) for name, value in build.items()}
    builds[key] = points
    results = evaluate_judged(study, builds)
    met = violations(results, with_standing(study.all_limits, study.works_as)).sum(axis=1) == 0
    aims = list(study.aims)[:2]
    if not any(np.isfinite(results[aim]).any() for aim in aims):
        return {"svg": "", "text": "None of these builds runs."}
    best = _best_text(study, results, key, met)
    return {"svg": str(_drawing(results, key, aims, met, best).svg()), "text": best}


def _best_text(study: Study, results: Results, key: str, met: NDArray[np.bool_]) -> str:
    """Say where the first aim is best within the limits."""
    aim, way = next(iter(study.aims.items()))
    values = np.where(met, results[aim], np.nan) * (1 if way == "maximise" else -1)
    if not np.isfinite(values).any():
        return "None of these builds meets every limit."
    row = int(np.nanargmax(values))
    return (
        f"Within every limit, best at {quantity(key, results[key][row].item())}: "
        f"{quantity(aim, results[aim][row].item())}."
    )


def _drawing(
    results: Results, key: str, aims: list[str], met: NDArray[np.bool_], best: str
) -> Drawing:
    column = COLUMNS[key]
    says = f"{' and '.join(map(inline_label, aims))} over {inline_label(key)}. {best}"
    drawing = Drawing(WIDTH, HEIGHT, says=says[0].upper() + says[1:], size=12)
    places = np.asarray(column.to_drawing(results[key]))
    unit = "" if column.unit.symbol == "count" else column.unit.symbol
    x = Scale(float(places[0]), float(places[-1]), LEFT, WIDTH - RIGHT, unit)
    middles = (places[1:] + places[:-1]) / 2
    ends = np.concatenate([places[:1], middles, places[-1:]])
    for (bottom, top), aim, look in zip(PANELS, aims, ("runs", ""), strict=False):
        for row in np.flatnonzero(~met).tolist():
            start, stop = x(float(ends[row])), x(float(ends[row + 1]))
            drawing.box((start, top), (stop - start, bottom - top), "no-flow")
        values = np.asarray(COLUMNS[aim].to_drawing(results[aim]))
        if not np.isfinite(values).any():
            continue
        y = spanning(values.tolist(), bottom, top, room=0.08)
        last = aim == aims[-1]
        for value in y.ticks(3):
            drawing.line((LEFT, y(value)), (WIDTH - RIGHT, y(value)), "grid")
        drawing.axes(x, y, across=column.title if last else None, up=None, ticks=(4, 3))
        for value in y.ticks(3):
            drawing.text((LEFT - 6, y(value) + 4), f"{value:g}", "soft", anchor="end")
        drawing.text((LEFT, top - 7), COLUMNS[aim].title, "soft")
        drawing.curve([(x(p), y(v)) for p, v in zip(places.tolist(), values.tolist(), strict=True)],
                      look)  # fmt: skip
        for row, (place, value) in enumerate(zip(places.tolist(), values.tolist(), strict=True)):
            if np.isfinite(value):
                told = ", ".join(
                    f"{inline_label(each)} {quantity(each, results[each][row].item())}"
                    for each in aims
                )
                where = quantity(key, results[key][row].item())
                misses = "" if met[row] else "; misses a limit"
                drawing.mark((x(place), y(value)), "disc", look or "ink", 2.6,
                             says=f"{where}: {told}{misses}")  # fmt: skip
    return drawing
