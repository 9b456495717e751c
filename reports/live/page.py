"""The page on which a build is tried, as text."""

from pathlib import Path
from typing import Any

from markupsafe import Markup

from engine.columns import COLUMNS, columns_of
from engine.study.reader import parse_study
from engine.study.study import Study
from engine.study.yaml_text import read_lines
from reports.kit.rendering import embedded, render, script
from reports.kit.svg import fitted
from reports.live.asked import Asked
from reports.live.desk import MOST_KEPT
from reports.live.kinds import kind_of
from reports.live.knobs import Knob, fixed_of, knobs_of, supply_of
from reports.live.telling import table_keys
from reports.run.charts.front import front_chart
from reports.run.facts import facts_of
from reports.run.make import data_of_run
from reports.run.page_parts import FRONT_FITS
from reports.run.wording import NO_CERTIFICATE

SCRIPTS = ("chart.js", "live_address.js", "live_knobs.js", "live_kept.js", "live.js")
"""Scripts of the page, in the order they run."""


def write_page(asked: Asked, run: Path | None) -> str:
    """Make the page of a study; of a run with its front."""
    study = parse_study(asked.text, asked.file)
    knobs, fixed = knobs_of(study), fixed_of(study)
    supply = supply_of(study, read_lines(asked.text, asked.file).texts)
    return render(
        "live.html.j2",
        style="page.css",
        scripts=[script(*SCRIPTS)],
        also="connect-src 'self'",
        title=study.title,
        knobs=knobs,
        folds=(("Machine", "machine", fixed), ("Supply", "supply", supply)),
        aims=[(key, _more(study, key)) for key in study.aims],
        front=_front(run),
        cautions=(*kind_of(study).cautions(study), NO_CERTIFICATE),
        musts=kind_of(study).musts(study, {}),
        most_kept=MOST_KEPT,
        data=embedded(_data(study, knobs, (*fixed, *supply))),
    )


def _front(run: Path | None) -> Markup | None:
    """Draw the front of a run; None where there is none."""
    if run is None:
        return None
    facts = facts_of(data_of_run(run, in_depth=False))
    return fitted(lambda width: front_chart(facts, width), FRONT_FITS)


def _more(study: Study, key: str) -> str:
    way = "More" if study.aims[key] == "maximise" else "Less"
    label = {**COLUMNS, **columns_of(study.works_as)}[key].label
    return f"{way} {label[0].lower()}{label[1:]}"


def _data(study: Study, knobs: tuple[Knob, ...], others: tuple[Knob, ...]) -> dict[str, Any]:
    """Collect what the script needs besides the page."""
    columns = {**COLUMNS, **columns_of(study.works_as)}
    return {
        "knobs": [knob.as_plain() for knob in knobs],
        "fixed": {knob.key: knob.start for knob in others},
        "units": {knob.key: knob.unit for knob in (*knobs, *others)},
        "rows": [[key, columns[key].label] for key in table_keys(study)],
        "short": kind_of(study).short(study),
        "mostKept": MOST_KEPT,
        "file": "".join(c if c.isalnum() else "-" for c in study.title.lower())[:40] or "study",
    }
