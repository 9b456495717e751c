"""What the pages of turbines and pumps share: the front for the scripts, and how charts fit."""

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np
from markupsafe import Markup

from engine.columns import COLUMNS, Column, is_share
from reports.kit.svg import Drawing, fitted
from reports.run.charts import along, care, front, power, ruler
from reports.run.choice import Row
from reports.run.facts import Facts
from reports.run.search_facts import row_of

SCRIPTS = ("chart.js", "page.js", "table.js", "pins.js")
"""Scripts of the page, in the order they run."""
FRONT_FITS = {"wide": 760.0, "narrow": 358.0}
"""The front stands beside a table on a wide page, and alone on others."""
BOUNDS_FITS = {"wide": 1240.0, "middle": 700.0, "narrow": 358.0}


def if_drawn(draw: Callable[[float], Drawing | None]) -> Markup | None:
    """Draw a chart for each width; None where there is nothing to draw."""
    drawn = {width: draw(width) for width in BOUNDS_FITS.values()}
    known = {width: made for width, made in drawn.items() if made is not None}
    return fitted(known.__getitem__, BOUNDS_FITS) if known else None


def key_of(mark: str, look: str = "ink", radius: float = 4) -> Markup:
    """Draw one mark, for a list of what the marks mean."""
    drawing = Drawing(16, 16, says="", look="key")
    drawing.mark((8, 8), mark, look, radius)
    return Markup(str(drawing.svg()).replace('role="img" aria-label=""', 'aria-hidden="true"'))  # noqa: S704


def front_data(
    facts: Facts, rows: Sequence[Row], columns: Mapping[str, Column] = COLUMNS
) -> Mapping[str, Any]:
    """Collect the designs listed for the script: numbers, and texts of the table of choice.

    `rows` are those of that table, and `columns` say what the heads mean.
    """
    keys = facts.columns
    values = [row_of(facts.listed, place) for place in range(len(facts.listed["design"]))]
    texts = [[row.text(each) for each in values] for row in rows]
    aims = tuple(aim.key for aim in facts.aims)
    return {
        "names": ["design", *(COLUMNS[key].name for key in keys)],
        "keys": ["design", *keys],
        "heads": [_head(columns[key]) for key in ("design", *keys)],
        "columns": [_packed(_column(facts, key)) for key in ("design", *keys)],
        "choice": [_packed(text) for text in texts],
        "bad": [row.bad for row in rows],
        "aims": [*aims],
        "shown": {str(c.design): c.name for c in facts.candidates},
    }


def _head(column: Column) -> Mapping[str, Any]:
    unit = "" if column.unit.symbol in ("count", "text") else column.unit.symbol
    unit = "°" if unit == "deg" else unit
    kind = "words" if column.is_text else "count" if column.is_count else "number"
    if is_share(column.key):
        kind, unit = "share", ""
    return {"label": column.label, "unit": unit, "kind": kind, "meaning": column.meaning}


def _column(facts: Facts, key: str) -> list[Any]:
    """Take a column of the designs listed, with no more digits than a shop can use."""
    column = COLUMNS[key]
    if column.is_text:
        return list(facts.listed[key].astype(str).tolist())
    drawing = column.to_drawing(np.asarray(facts.listed[key], dtype=float)).tolist()
    digits = 4 if column.kind in {"result", "band"} else 6
    return [_short(value, digits) for value in drawing]


def _packed(column: Sequence[Any]) -> Mapping[str, Any]:
    """Write each value of a column once, where that is shorter, and then which row has which."""
    kinds = list(dict.fromkeys(column))
    if len(kinds) > len(column) / 3:
        return {"all": list(column)}
    place = {value: at for at, value in enumerate(kinds)}
    return {"kinds": kinds, "of": [place[value] for value in column] if len(kinds) > 1 else 0}


def _short(value: float, digits: int) -> float | int | None:
    if not math.isfinite(value):
        return None
    short = float(f"{value:.{digits}g}")
    return int(short) if short.is_integer() else short


def common_charts(facts: Facts) -> dict[str, Any]:
    """Draw the charts that the page of any kind of machine has, by name."""
    builds = facts.candidates
    rows = care.rows_of(builds)
    reach, most = care.reach_of(builds, facts.aims[:2]), care.most_share(builds)
    strips, same = along.room_strips(facts)
    return {
        "ruler": fitted(partial(ruler.ruler_chart, builds)),
        "front": fitted(partial(front.front_chart, facts), FRONT_FITS),
        "modes": [(key_of(mark), words) for mark, words in front.modes_of(facts)],
        "faint": key_of("disc", "faint", 2.5) if front.has_faint(facts) else None,
        "power": fitted(partial(power.power_chart, builds)),
        "steps": {
            c.roles[0]: care.step_chart(c, facts.aims[:2], rows, reach).svg()
            for c in builds
            if c.steps
        },
        "sources": {
            c.roles[0]: care.source_chart(c, rows, most).svg()
            for c in builds
            if any(source.total > 0 for of in c.sources.values() for source in of)
        },
        "strips": [made.svg() for _, made in strips],
        "same": same,
        "bounds": if_drawn(partial(along.bounds_chart, facts)),
        "growth": if_drawn(partial(along.growth_chart, facts)),
    }
