"""The fronts of several runs in one chart: a stair a run, a mark a design."""

import math
from itertools import pairwise

import numpy as np
from markupsafe import Markup

from engine.columns import COLUMNS, band_key, is_share
from reports.compare.facts import Comparison, RunSide
from reports.kit.quantities import inline_label, quantity, setting
from reports.kit.scales import Scale, spanning
from reports.kit.svg import FAILURES, Drawing, Label, Point, failure, fitted
from reports.run.facts import study_keys
from reports.run.search_facts import Aim
from reports.run.wording import axis_title

LINES = (
    "ink",
    "ink dash",
    "soft",
    "ink dot",
    "soft dash",
    "faint",
    "soft dot",
    "faint dash",
)
"""How the stair of each run is drawn; neighbours differ in stroke or in shade."""
MARKS_DRAWN = 40
"""Most designs of a run that have a mark, evenly spaced along its line."""
BANDS_DRAWN = 12
"""Most designs of a run whose band is drawn."""
LONGEST_LABEL = 22
CLEAR, NEAR = 14.0, 6.0
"""Distance between lines by which a place is clearer; most between points along a line."""
NARROW = 500.0
"""Below this width a line carries the number of its run alone."""


def fronts_chart(comparison: Comparison) -> Markup:
    """Draw what each run reached, once for each width of the page."""
    return fitted(lambda width: _drawn(comparison, width))


def _drawn(comparison: Comparison, width: float) -> Drawing:
    first, second = comparison.aims
    narrow = width < NARROW
    chart = Drawing(width, 460 if not narrow else 400, says=alt(comparison))
    used = _legend(chart, comparison)
    x, y = _scales(comparison, chart, top=used + 34)
    across = _fitting(_title(second), chart, width)
    chart.axes(x, y, across=across, up="", ticks=(4 if narrow else 8, 5))
    chart.text((0, used + 18), _fitting(_title(first), chart, width), "soft")
    _level(chart, second, x, y)
    drawn = [place for place, side in enumerate(comparison.sides) if side.reached]
    lines = [_add_run(chart, comparison, place, (x, y)) for place in drawn]
    dense = [_along(_stair(points)) for points in lines]
    for points in dense:
        chart.shun(points, 6)
    labels = []
    for turn, place in enumerate(drawn):
        others = [point for other, line in enumerate(dense) if other != turn for point in line]
        at = _clearest(lines[turn], others, (turn + 0.5) / len(drawn))
        words = f"{place + 1}" if narrow else label(place, comparison.sides[place])
        labels.append(Label(at, words, bold=True, others=others))
    chart.label(labels)
    return chart


def _clearest(points: list[Point], others: list[Point], share: float) -> Point:
    """Where a line is clear of the others; of several such places, or none, near this share of it.

    Beside lines that run together a label would stand nearer to another than to its own.
    """
    some = [points[row] for row in _spaced(len(points), MARKS_DRAWN)]
    wanted, clear = int(share * (len(some) - 1)), np.zeros(len(some))
    if others:
        apart = np.array(some)[:, None, :] - np.array(others)[None, :, :]
        off = np.hypot(apart[..., 0], apart[..., 1]).min(axis=1)
        clear = np.minimum(np.floor(off / CLEAR), 2.0)
    return some[min(range(len(some)), key=lambda row: (-clear[row], abs(row - wanted)))]


def _fitting(title: str, chart: Drawing, width: float) -> str:
    """Leave out of a title which way is better, where it would not fit."""
    return title if chart.measure(title) < width else title.partition(" (")[0]


def _legend(chart: Drawing, comparison: Comparison) -> float:
    """Write which way of failing each mark stands for; give the height that this takes."""
    found = {
        str(mode)
        for side in comparison.sides
        for mode in np.asarray(side.reached.get("governing_mode", ())).tolist()
    }
    left, top, line = 6.0, chart.size, 1.5 * chart.size
    for mode in [mode for mode in (*FAILURES, *sorted(found - {*FAILURES})) if mode in found]:
        shape, words = failure(mode)
        wide = 16 + chart.measure(words) + 22
        if left > 6 and left + wide > chart.width:
            left, top = 6.0, top + line
        chart.mark((left, top - 0.35 * chart.size), shape)
        chart.text((left + 12, top), words, "soft")
        left += wide
    return top if found else 0.0


def _scales(comparison: Comparison, chart: Drawing, *, top: float) -> tuple[Scale, Scale]:
    """Scales that hold every front, its bands and the required level."""
    first, second = comparison.aims
    sides = [side for side in comparison.sides if side.reached]
    x = [value for side in sides for value in _numbers(side, second.key)]
    y = [value for side in sides for value in _numbers(side, first.key)]
    y += [value for side in sides for end in _ends(side, first) for value in end]
    if second.required is not None:
        x.append(_drawing(second.key, second.required))
    bottom = chart.height - 10 - 3 * chart.size
    unit = _unit(first.key)
    right = chart.width - 14
    return (
        spanning(x, 58, right, unit=_unit(second.key)),
        spanning(y, bottom, top, unit=unit, zero=min(y) >= 0),
    )


def _level(chart: Drawing, aim: Aim, x: Scale, y: Scale) -> None:
    if aim.required is None:
        return
    place = x(_drawing(aim.key, aim.required))
    chart.line((place, y.start), (place, y.end), "thin dash")
    words = f"required: {setting(aim.key, aim.required)}"
    chart.text((place + 5, y.start - 6), words, "soft halo")
    chart.taken.append((place, y.start - 20, place + 5 + chart.measure(words), y.start))


def _add_run(
    chart: Drawing, comparison: Comparison, place: int, scales: tuple[Scale, Scale]
) -> list[Point]:
    """Draw the stair, bands and marks of a run; give the places of its designs."""
    first, second = comparison.aims
    side, (x, y) = comparison.sides[place], scales
    across, up = _numbers(side, second.key), _numbers(side, first.key)
    points = [(x(one), y(other)) for one, other in zip(across, up, strict=True)]
    chart.curve(_stair(points), LINES[place])
    for row, (low, high) in enumerate(_ends(side, first)):
        if row in _spaced(len(points), BANDS_DRAWN) and math.isfinite(low + high):
            chart.line((points[row][0], y(low)), (points[row][0], y(high)), "leader")
    modes = side.reached.get("governing_mode", np.full(len(points), ""))
    for row in _spaced(len(points), MARKS_DRAWN):
        shape, _ = failure(str(modes[row]))
        chart.mark(points[row], shape, says=hover(place, side, row))
    return points


def _stair(points: list[Point]) -> list[Point]:
    """Corners of the stair: between two designs the one that reaches further counts."""
    corners = points[:1]
    for before, after in pairwise(points):
        corners += [(before[0], after[1]), after]
    return corners


def _along(corners: list[Point]) -> list[Point]:
    """Points along a line through these corners, at most `NEAR` apart."""
    found = corners[:1]
    for before, after in pairwise(corners):
        pieces = max(1, math.ceil(math.dist(before, after) / NEAR))
        found += [
            (
                before[0] + (after[0] - before[0]) * piece / pieces,
                before[1] + (after[1] - before[1]) * piece / pieces,
            )
            for piece in range(1, pieces + 1)
        ]
    return found


def _spaced(n_rows: int, most: int) -> list[int]:
    step = max(1, -(-n_rows // most))
    return sorted({*range(0, n_rows, step), n_rows - 1})


def _numbers(side: RunSide, key: str) -> list[float]:
    return [_drawing(key, value) for value in side.reached[key].tolist()]


def _ends(side: RunSide, first: Aim) -> list[tuple[float, float]]:
    """List the ends of the band of each design, in drawing units; none without bands."""
    ends = [band_key(first.key, part) for part in ("p10", "p90")]
    if not all(key in side.reached for key in ends):
        return []
    low, high = (_numbers(side, key) for key in ends)
    return list(zip(low, high, strict=True))


def _drawing(key: str, value: float) -> float:
    return (100 if is_share(key) else 1) * float(COLUMNS[key].to_drawing(value))


def _unit(key: str) -> str:
    return "%" if is_share(key) else COLUMNS[key].unit.symbol


def _title(aim: Aim) -> str:
    return f"{axis_title(aim)}, %" if is_share(aim.key) else axis_title(aim)


def label(place: int, side: RunSide) -> str:
    """Name a run beside its line."""
    name = side.run.name
    return f"{place + 1} {name if len(name) <= LONGEST_LABEL else f'{name[: LONGEST_LABEL - 1]}…'}"


def hover(place: int, side: RunSide, row: int) -> str:
    """Write what the pointer shows of a design."""
    lines = [f"{label(place, side)}, design {int(side.reached['design'][row])}"]
    lines += [
        f"{COLUMNS[key].label}: {quantity(key, side.reached[key][row])}"
        for key in (*study_keys(side.run.study), "supply_efficiency", "governing_mode")
        if key in side.reached
    ]
    return "\n".join(dict.fromkeys(lines))


def alt(comparison: Comparison) -> str:
    """Say what the chart shows."""
    first, second = comparison.aims
    parts = []
    for place, side in enumerate(comparison.sides):
        if side.reached:
            ends = [
                f"{quantity(first.key, side.reached[first.key][row])} at "
                f"{quantity(second.key, side.reached[second.key][row])}"
                for row in (0, -1)
            ]
            parts.append(f"run {place + 1}, {side.run.name}, from {ends[0]} to {ends[1]}")
    return (
        f"Chart of {inline_label(first.key)} against {inline_label(second.key)}, a line a run: "
        f"{'; '.join(parts)}. The table below holds the same levels."
    )
