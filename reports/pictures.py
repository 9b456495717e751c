"""The front as a picture for a document: SVG or PNG, drawn without a browser.

The only home of matplotlib. Sizes are those on paper, for a picture pasted at its own width.
"""

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal
from xml.etree import ElementTree as ET

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.ticker import FuncFormatter
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.errors import NothingFeasibleError, Problem, StudyError
from engine.run.pick import on_front
from reports.kit.outfile import write_own
from reports.kit.quantities import THIN, number, quantity, setting
from reports.kit.svg import FAILURES, UNKNOWN
from reports.run.charts.front import front_text
from reports.run.facts import Candidate, Facts, facts_of
from reports.run.make import data_of_run
from reports.run.search_facts import Aim
from reports.run.wording import NO_CERTIFICATE, axis_title

Width = Literal["page", "column"]
Form = Literal["svg", "png"]

MARK = "swirlstack picture"
"""Text near the beginning of every such file, by which the command knows its own."""
MM = 1 / 25.4
SIZES: Mapping[Width, tuple[float, float]] = {
    "page": (170 * MM, 110 * MM),
    "column": (85 * MM, 88 * MM),
}
"""Width and height on paper [in]."""
DOTS = 300
"""Resolution of a PNG [dots per inch]."""
INK, SOFT, GRID, PAPER = "#17212b", "#57636f", "#d5d8d4", "#ffffff"
"""Colours of the pages in daylight, on white paper."""
SHAPES: Mapping[str, str] = {
    "disc": "o",
    "ring": "o",
    "square": "s",
    "triangle": "^",
    "diamond": "D",
    "cross": "x",
}
"""Shapes of the pages' charts, by their names there."""
STYLE: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "svg.fonttype": "path",
    "svg.hashsalt": MARK,
}
"""Letters become outlines, so that an SVG looks the same everywhere; no text is a formula."""
SMALL = 6
"""Letter size of the note below [pt]."""
SVG = "http://www.w3.org/2000/svg"


def write_pictures(folder: Path, output: Path | None, width: Width) -> list[Path]:
    """Draw the front of a run folder into files, and give their paths.

    Raises
    ------
    RunFolderError
        Where it is no run folder, or is damaged.
    NothingFeasibleError
        Where the run has no front.
    StudyError
        Where the file's name has another ending than .svg or .png, or the file is not a picture
        of this command.
    """
    own = output or Path(f"{folder.resolve().name}.svg")
    if own.suffix.lower() not in (".svg", ".png"):
        problem = Problem(
            file=str(own),
            found="has an ending that is not known here",
            expected=".svg or .png",
            remedy="choose one of these",
        )
        raise StudyError([problem])
    facts = facts_of(data_of_run(folder, in_depth=False))
    if not facts.feasible:
        msg = f"{folder}: no design of this run meets every limit, so there is no front to draw"
        raise NothingFeasibleError(msg)
    paths = [output] if output else [own, own.with_suffix(".png")]
    for path in paths:
        form: Form = "svg" if path.suffix.lower() == ".svg" else "png"
        write_own(path, picture(facts, form, width), MARK)
    return paths


def picture(facts: Facts, form: Form, width: Width = "page") -> bytes:
    """Draw the front; the same facts give the same bytes."""
    with mpl.rc_context(STYLE):
        figure = _figure(facts, width)
        buffer = io.BytesIO()
        if form == "png":
            about = {"Title": facts.title, "Description": _described(facts), "Software": MARK}
            figure.savefig(buffer, format="png", dpi=DOTS, metadata=about)
            return buffer.getvalue()
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        figure.savefig(buffer, format="svg", metadata=nothing)
    return _with_words(buffer.getvalue(), facts.title, _described(facts))


def _with_words(svg: bytes, title: str, description: str) -> bytes:
    """Put title and description first, where screen readers look for them."""
    ET.register_namespace("", SVG)
    ET.register_namespace("xlink", "http://www.w3.org/1999/xlink")
    root = ET.fromstring(svg)  # noqa: S314  (drawn here a moment ago)
    for left in root.findall(f"{{{SVG}}}metadata"):
        root.remove(left)
    root.attrib |= {"role": "img", "aria-labelledby": "title description"}
    for tag, text in (("desc", description), ("title", title)):
        element = ET.Element(f"{{{SVG}}}{tag}", id="description" if tag == "desc" else tag)
        element.text = text
        root.insert(0, element)
    root.insert(0, ET.Comment(f" {MARK} "))
    made: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return made


def _described(facts: Facts) -> str:
    first, second = facts.aims[0], facts.aims[1]
    marked = [
        f"{candidate.name}: "
        f"{quantity(first.key, candidate.values[first.key])} at "
        f"{quantity(second.key, candidate.values[second.key])}"
        for candidate in facts.candidates
    ]
    sentences = [front_text(facts), *(f"{each}." for each in marked), f"{_source(facts)}."]
    return " ".join([*sentences, NO_CERTIFICATE])


def _source(facts: Facts) -> str:
    about = {name: facts.provenance.get(name, "") for name in ("Seed", "Model version", "Study")}
    return ", ".join(f"{name.lower()} {text}" for name, text in about.items() if text)


def drawing(key: str, si: NDArray[Any]) -> list[float]:
    """Convert to drawing units, with no more digits than a picture can show."""
    return [float(f"{value:.5g}") for value in COLUMNS[key].to_drawing(si).tolist()]


def _figure(facts: Facts, width: Width) -> Figure:
    note = _note(facts, width)
    below = (note.count("\n") + 2) * 1.25 * SMALL / 72 / SIZES[width][1]
    layout = ConstrainedLayoutEngine(rect=(0, below, 1, 1 - below))
    figure = Figure(figsize=SIZES[width], layout=layout, facecolor=PAPER)
    axes = figure.add_subplot()
    first, second = facts.aims[0], facts.aims[1]
    axes.set_xlabel(axis_title(second))
    axes.set_ylabel(axis_title(first))
    _draw_front(axes, facts)
    axes.margins(y=0.1)
    for aim, draw in ((second, axes.axvline), (first, axes.axhline)):
        if aim.required is not None:
            level = float(COLUMNS[aim.key].to_drawing(aim.required))
            draw(level, color=INK, linewidth=0.8, linestyle=":", zorder=2)
    if second.required is not None:
        _name_level(axes, second)
    for candidate in facts.candidates:
        _mark(axes, candidate, facts)
    spaced = FuncFormatter(lambda value, _: number(value, 4, trim=True))
    axes.xaxis.set_major_formatter(spaced)
    axes.yaxis.set_major_formatter(spaced)
    names = axes.get_legend_handles_labels()
    figure.legend(
        *names,
        loc="outside upper left",
        ncols=4 if width == "page" else 2,
        frameon=False,
        fontsize=7,
        title="First to fail:",
        title_fontsize=7,
        alignment="left",
        handletextpad=0.1,
        columnspacing=1.0,
    )
    figure.text(0.012, 0.015, note, fontsize=SMALL, color=SOFT, va="bottom")
    return figure


def _note(facts: Facts, width: Width) -> str:
    """Write title, origin and caution in lines that fit."""
    caution = NO_CERTIFICATE if width == "page" else NO_CERTIFICATE.partition(". ")[0] + "."
    length = 140 if width == "page" else 64
    lines = [*_wrapped(facts.title, length), *_wrapped(_source(facts), length)]
    return "\n".join([*lines, *_wrapped(caution, length)])


def _wrapped(text: str, length: int) -> Sequence[str]:
    lines = [""]
    for word in text.split(" "):
        if len(lines[-1]) + len(word) >= length and lines[-1]:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()[:length]
    return lines


def _draw_front(axes: Any, facts: Facts) -> None:
    first, second = facts.aims[0], facts.aims[1]
    x, y = drawing(second.key, facts.front[second.key]), drawing(first.key, facts.front[first.key])
    nominal, firm = (on_front(facts.front, kind) for kind in ("nominal", "firm"))
    if len(facts.aims) == 2:
        lines = {"solid": nominal} | ({} if (firm == nominal).all() else {"dotted": firm})
        for style, line in lines.items():
            along = np.flatnonzero(line).tolist()
            axes.plot(
                [x[row] for row in along],
                [y[row] for row in along],
                color=SOFT,
                linewidth=0.6,
                linestyle=style,
                zorder=3,
            )
    modes = np.asarray(facts.front.get("governing_mode", np.full(len(x), ""))).astype(str)
    for mode in sorted(set(modes.tolist())):
        mark, words = FAILURES.get(mode, UNKNOWN)
        hollow = mark == "ring" or mark.startswith("open-")
        here = np.flatnonzero(modes == mode).tolist()
        axes.scatter(
            [x[row] for row in here],
            [y[row] for row in here],
            s=20,
            facecolors=PAPER if hollow else INK,
            edgecolors=None if mark == "cross" else INK,
            marker=SHAPES[mark.removeprefix("open-")],
            linewidths=0.9,
            zorder=4,
            label=words if mode else "front",
        )


def _name_level(axes: Any, aim: Aim) -> None:
    level = float(COLUMNS[aim.key].to_drawing(float(aim.required or 0)))
    axes.annotate(
        f"required: {setting(aim.key, float(aim.required or 0))}",
        (level, 0.03),
        xycoords=("data", "axes fraction"),
        xytext=(2 if aim.maximise else -2, 0),
        textcoords="offset points",
        ha="left" if aim.maximise else "right",
        fontsize=7,
        color=SOFT,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
    )


def _mark(axes: Any, candidate: Candidate, facts: Facts) -> None:
    """Ring one build, and write its name and first aim on the better side."""
    first, second = facts.aims[0], facts.aims[1]
    x, y = (drawing(aim.key, np.array([candidate.values[aim.key]]))[0] for aim in (second, first))
    earlier = facts.candidates[: facts.candidates.index(candidate)]
    wide, tall = (np.ptp(drawing(aim.key, facts.front[aim.key])) for aim in (second, first))
    near = any(
        abs(float(COLUMNS[second.key].to_drawing(float(each.values[second.key]))) - x) < wide / 4
        and abs(float(COLUMNS[first.key].to_drawing(float(each.values[first.key]))) - y) < tall / 8
        for each in earlier
    )
    axes.scatter([x], [y], s=70, facecolors="none", edgecolors=INK, linewidths=1.0, zorder=5)
    right, up = second.maximise, first.maximise
    axes.annotate(
        f"{candidate.name} {quantity(first.key, candidate.values[first.key])}".replace(THIN, " "),
        (x, y),
        xytext=(9 if right else -9, 0 if near else 7 if up else -7),
        textcoords="offset points",
        ha="left" if right else "right",
        va="center" if near else "bottom" if up else "top",
        fontweight="bold",
        zorder=6,
    )
