"""What one step of each variable changes, and which inputs the bands come from: dots in rows.

Both charts have the same rows in the same order, that of the study, so that they can be read
across, and from one build to another.
"""

import math
from collections.abc import Sequence

from engine.columns import COLUMNS
from reports.kit.quantities import bare, inline_label, percent, quantity, signed_percent
from reports.kit.scales import Scale, round_step
from reports.kit.svg import Drawing
from reports.run.band_wording import TELLING
from reports.run.facts import Candidate
from reports.run.search_facts import Aim
from reports.run.steps import Step

ROW, TOP = 34.0, 44.0
WIDTH = 460.0
FEWEST = 0.02
"""A panel spans at least this change, so that a small one does not look large."""


def rows_of(candidates: Sequence[Candidate]) -> list[str]:
    """List the rows: every variable with a step, then every input that causes some of a band."""
    steps = dict.fromkeys(step.key for each in candidates for step in each.steps)
    causes = dict.fromkeys(
        source.key
        for each in candidates
        for of in each.sources.values()
        for source in of
        if source.total >= TELLING
    )
    return list({**steps, **causes})


def step_chart(
    candidate: Candidate, aims: Sequence[Aim], rows: Sequence[str], reach: Sequence[float]
) -> Drawing:
    """Draw the changes of the first two aims, a row a variable."""
    drawing, panels = _rows(rows, says=_steps_said(candidate, aims))
    scales = [
        Scale(-100 * far, 100 * far, *panel) for panel, far in zip(panels, reach, strict=True)
    ]
    for aim, x in zip(aims, scales, strict=False):
        _head(drawing, x, f"{_short(aim)}, %", len(rows), ticks=4)
        drawing.line((x(0), TOP), (x(0), TOP + ROW * len(rows)), "rule")
    for row, key in enumerate(rows):
        moved = [step for step in candidate.steps if step.key == key]
        y = TOP + ROW * (row + 0.5)
        drawing.text((0, y - 1 if moved else y + 4), COLUMNS[key].label, size=13)
        if moved:
            drawing.text((0, y + 12), _moves(candidate, moved), "soft", size=11.5)
        for step in moved:
            if not step.works:
                drawing.text((scales[0](0) + 6, y + 4), "does not run", "fails halo", size=11.5)
                continue
            for place, (aim, x) in enumerate(zip(aims, scales, strict=False)):
                at = (x(100 * step.changes[place]), y)
                drawing.line((x(0), y), at, "curve fails" if step.missed else "curve air")
                shape = ("" if step.larger else "open-") + "triangle"
                look = "fails" if step.missed else "air"
                drawing.mark(at, shape, look, 4.5, says=_said(step, place, aim))
    return drawing


def reach_of(candidates: Sequence[Candidate], aims: Sequence[Aim]) -> list[float]:
    """Find how far each panel must reach, the same for every build."""
    found = []
    for place in range(len(aims)):
        changes = [
            abs(step.changes[place]) for each in candidates for step in each.steps if step.works
        ]
        found.append(1.1 * max([FEWEST, *changes]))
    return found


def most_share(candidates: Sequence[Candidate]) -> float:
    """Find how far the scales of `source_chart` must reach [%], the same for every build."""
    shares = [s.total for each in candidates for of in each.sources.values() for s in of]
    return min(100.0, 10 * math.ceil(10.5 * max([0.2, *shares])))


def source_chart(candidate: Candidate, rows: Sequence[str], most: float) -> Drawing:
    """Draw the share of each input in the band of each result."""
    told = "; ".join(
        f"{inline_label(result)}: "
        + ", ".join(f"{inline_label(s.key)} {percent(s.total)}" for s in of[:4])
        for result, of in candidate.sources.items()
    )
    says = f"{candidate.name}: share of each input in the spread. {told}."
    drawing, panels = _rows(rows, says=says)
    for row, key in enumerate(rows):
        drawing.text((0, TOP + ROW * (row + 0.5) + 4), COLUMNS[key].label, size=13)
    for (result, of), panel in zip(candidate.sources.items(), panels, strict=False):
        x = Scale(0, most, *panel)
        _head(drawing, x, f"{COLUMNS[result].label}, %", len(rows), ticks=2)
        by_key = {source.key: source for source in of}
        for row, key in enumerate(rows):
            source = by_key.get(key)
            if source is None:
                continue
            y = TOP + ROW * (row + 0.5)
            drawing.line((x(0), y), (x(100 * source.total), y), "curve faint")
            says = (
                f"{COLUMNS[key].label}: {percent(source.first)} of the spread of "
                f"{inline_label(result)} by itself, {percent(source.total)} with others"
            )
            drawing.mark((x(100 * source.total), y), "ring", "ink", 4)
            drawing.mark((x(100 * source.first), y), "disc", "air", 4.5, says=says)
    return drawing


def _rows(rows: Sequence[str], *, says: str) -> tuple[Drawing, list[tuple[float, float]]]:
    drawing = Drawing(WIDTH, TOP + ROW * len(rows) + 28, says=says, look="rows")
    for row in range(len(rows) + 1):
        y = TOP + ROW * row
        drawing.line((0, y), (WIDTH, y), "grid")
    left = 160.0
    half = (WIDTH - left - 26) / 2
    return drawing, [(left, left + half), (left + half + 20, WIDTH - 6)]


def _head(drawing: Drawing, x: Scale, title: str, n_rows: int, *, ticks: int) -> None:
    drawing.text((x.start, TOP - 22), title, bold=True)
    step = round_step((x.high - x.low) / ticks)
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    for value in x.ticks(ticks):
        drawing.line((x(value), TOP), (x(value), TOP + ROW * n_rows), "grid")
        signed = f"{value:+.{digits}f}".replace("-", "−") if value and x.low < 0 else f"{value:.0f}"
        drawing.text((x(value), TOP - 6), signed, "soft", anchor="middle", size=11.5)


def _short(aim: Aim) -> str:
    return COLUMNS[aim.key].label


def _moves(candidate: Candidate, moved: Sequence[Step]) -> str:
    key = moved[0].key
    values = sorted({float(candidate.values[key]), *(step.value for step in moved)})
    texts = [bare(key, value) for value in values[:-1]] + [quantity(key, values[-1])]
    return " · ".join(texts)


def _said(step: Step, place: int, aim: Aim) -> str:
    text = f"{COLUMNS[step.key].label} {quantity(step.key, step.value)}: "
    text += f"{inline_label(aim.key)} {signed_percent(step.changes[place])}"
    missed = ", ".join(inline_label(key) for key in step.missed)
    return f"{text}\nmisses the limit of {missed}" if missed else text


def _steps_said(candidate: Candidate, aims: Sequence[Aim]) -> str:
    told = [
        f"{inline_label(step.key)} {quantity(step.key, step.value)}: "
        + (signed_percent(step.changes[0]) if step.works else "no operating point")
        for step in candidate.steps
    ]
    named = inline_label(aims[0].key)
    return f"{candidate.name}: change of {named} by one step of each variable. {'; '.join(told)}."
