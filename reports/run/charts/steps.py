"""Chart of what one step of each variable changes in the aims of a candidate."""

import numpy as np

from engine.columns import COLUMNS
from reports.kit.charts import AXIS, BLUE, PAPER, SKY, SOFT, Chart, Figure, blank, plain
from reports.kit.quantities import bare, inline_label, quantity, signed_percent
from reports.run.facts import Candidate
from reports.run.search_facts import Aim
from reports.run.steps import Step

FEWEST = 0.02
"""An axis spans at least this change, so that a small one does not look large."""


def step_chart(letter: str, candidate: Candidate, aims: tuple[Aim, ...]) -> Chart | None:
    """Draw the changes of the first two aims, a bar a step, the strongest variable on top."""
    if not candidate.steps:
        return None
    figure = blank()
    keys = _by_strength(candidate.steps)
    rows = [
        (step, keys.index(step.key) + (-0.2 if step.larger else 0.2)) for step in candidate.steps
    ]
    for place, aim in enumerate(aims[:2]):
        for larger in (True, False):
            here = [(step, at) for step, at in rows if step.larger is larger and step.works]
            figure.add_bar(
                orientation="h",
                y=[at for _, at in here],
                x=[_percent(step.changes[place]) for step, _ in here],
                width=0.36,
                xaxis="x" if place == 0 else "x2",
                marker={
                    "color": [BLUE if larger else SKY for _ in here],
                    "line": {"width": 0},
                    "pattern": {
                        "shape": ["/" if step.missed else "" for step, _ in here],
                        "size": 5,
                    },
                },
                hovertext=[_words(step, place, aim) for step, _ in here],
                hovertemplate="%{hovertext}<extra></extra>",
                showlegend=False,
            )
    _say_broken(figure, rows)
    zero = {"zeroline": True, "zerolinecolor": SOFT, "nticks": 4, "showline": False}
    figure.update_layout(
        barmode="overlay",
        xaxis={
            **zero,
            "domain": [0, 0.47],
            "title_text": f"{COLUMNS[aims[0].key].label}<br>[%]",
            "range": _reach(candidate.steps, 0),
        },
        xaxis2={
            **AXIS,
            **zero,
            "domain": [0.53, 1],
            "title_text": f"{COLUMNS[aims[1].key].label}<br>[%]",
            "range": _reach(candidate.steps, 1),
        },
        yaxis={
            "tickvals": list(range(len(keys))),
            "ticktext": [_row_name(key, candidate.steps) for key in keys],
            "range": [len(keys) - 0.4, -0.6],
            "showgrid": False,
            "ticks": "",
        },
        margin={"l": 124, "r": 8, "t": 4, "b": 62},
    )
    return Chart(f"steps-{letter}", plain(figure), _alt(letter, candidate, aims, keys))


def _by_strength(steps: tuple[Step, ...]) -> list[str]:
    strength: dict[str, float] = {}
    for step in steps:
        moved = abs(step.changes[0]) if step.works else np.inf
        strength[step.key] = max(strength.get(step.key, 0.0), moved)
    return sorted(strength, key=lambda key: -strength[key])


def _row_name(key: str, steps: tuple[Step, ...]) -> str:
    """Name the variable, with its values after the steps."""
    *others, last = [step.value for step in steps if step.key == key]
    to = " / ".join([*(bare(key, value) for value in others), quantity(key, last)])
    return f"{COLUMNS[key].label}<br><span style='font-size:11px'>{to}</span>"


def _percent(change: float) -> float:
    return float(f"{100 * change:.4g}")


def _words(step: Step, place: int, aim: Aim) -> str:
    text = f"{COLUMNS[step.key].label} {quantity(step.key, step.value)}: "
    text += f"{inline_label(aim.key)} {signed_percent(step.changes[place])}"
    missed = ", ".join(inline_label(key) for key in step.missed)
    return f"{text}<br>misses the limit of {missed}" if missed else text


def _say_broken(figure: Figure, rows: list[tuple[Step, float]]) -> None:
    for step, at in rows:
        if not step.works:
            figure.add_annotation(
                x=0,
                y=at,
                text="no operating point",
                showarrow=False,
                font={"size": 11, "color": SOFT},
                bgcolor=PAPER,
            )


def _reach(steps: tuple[Step, ...], place: int) -> list[float]:
    widest = max([FEWEST, *(abs(step.changes[place]) for step in steps if step.works)])
    return [-108 * widest, 108 * widest]


def _alt(letter: str, candidate: Candidate, aims: tuple[Aim, ...], keys: list[str]) -> str:
    told = [
        f"{inline_label(step.key)} {quantity(step.key, step.value)}: "
        + (signed_percent(step.changes[0]) if step.works else "no operating point")
        for key in keys
        for step in candidate.steps
        if step.key == key
    ]
    return (
        f"Change of {inline_label(aims[0].key)} and {inline_label(aims[1].key)} of candidate "
        f"{letter} by one step of each variable. {inline_label(aims[0].key).capitalize()}: "
        f"{'; '.join(told)}."
    )
